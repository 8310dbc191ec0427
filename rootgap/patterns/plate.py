"""Plates for the cutting table: outer edge, openings, bolt holes, and where pipes stand."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rootgap.geometry.paths import Circle, Path
from rootgap.joints import DividerEnd, EdgeWeld, FlangeWeld
from rootgap.layout import Disc, Plate
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock

#: How far below the upper edge the word that tells it stands, mm.
TOP = 8.0


def plate_pattern(
    plate: Plate,
    welds: Sequence[FlangeWeld],
    dividers: Sequence[DividerEnd] = (),
    halves: Sequence[EdgeWeld] = (),
    *,
    starts: bool,
) -> Pattern:
    """Return the flat pattern of a flange. welds: the pipes that stand on it; halves: the half pipes that lie on
    it; dividers: the plates that end on
    it; starts: whether the gas comes in here (then the drawing shows the pipe side)."""
    part = plate.part
    holes = plate.bolt_holes
    drawn = [Drawn("cut.outer", plate.edge)]
    drawn += [Drawn("cut.inner", shape) for shape in plate.openings]
    drawn += [Drawn("cut.inner", hole) for hole in holes]
    labels = []
    for weld in welds:
        x, y = np.mean([part.port[number - 1].at for number in weld.ports], axis=0)
        at = (float(x), float(y))
        drawn.append(Drawn("mark", Circle(at, weld.r_out)))
        labels.append(Label("text", (at[0], at[1] - 2.0), weld.pipe.rpartition("-")[0], 5.0, anchor="middle"))
    pockets = [(end, end.pocket) for end in dividers if end.pocket]
    drawn += [Drawn("mark.slot", pocket) for _, pocket in pockets]
    for half in halves:
        drawn += [Drawn("mark", _drawn_on(plate, half, path)) for path in (half.footprint, half.bore)]
        low, _, high, _ = half.bore.bounds()
        middle = _drawn_on(plate, half, Path.through([(0.5 * (low + high), 0.0)])).vertices[0]
        labels.append(Label("text", (middle[0], middle[1] - 2.0), half.half.rpartition("-")[0], 5.0, anchor="middle"))
    side = "pipe side" if starts else "joint face, gas coming towards you"
    least_x, least_y, most_x, most_y = drawn[0].shape.bounds()
    labels.append(Label("text", (0.5 * (least_x + most_x), most_y - TOP), "TOP", 4.0, anchor="middle"))
    diameters = sorted({2.0 * hole.radius for hole in holes})
    return Pattern(
        plate.id,
        "plate",
        part.title or f"Flange {part.name}",
        tuple(drawn),
        tuple(labels),
        (),
        (
            ("Part", f"{plate.id} ({part.name}), make 1"),
            ("Material", f"{part.material}, {part.thickness:g} mm"),
            ("Seen from", side),
            ("Size", f"{most_x - least_x:.1f} x {most_y - least_y:.1f} mm"),
            ("Openings", f"{len(part.port)}"),
            ("Bolt holes", f"{len(holes)} of " + ", ".join(f"{d:g}" for d in diameters) + " mm" if holes else "none"),
        ),
        (
            *((part.note,) if part.note else ()),
            *(
                f"Mill a slot {end.depth:g} mm deep for {end.divider} into the pipe side, as marked, not through."
                for end, _ in pockets
            ),
        ),
        PlateStock(part.material, part.thickness),
    )


def disc_pattern(disc: Disc) -> Pattern:
    """Return the flat pattern of a disc."""
    size = f"{2.0 * disc.r_out:.1f} mm across"
    return Pattern(
        disc.id,
        "plate",
        f"Disc that closes {disc.run}",
        (Drawn("cut.outer", Circle((0.0, 0.0), disc.r_out)),),
        (Label("text", (0.0, -2.5), disc.id, 5.0, anchor="middle"),),
        (),
        (
            ("Part", f"{disc.id}, make 1"),
            ("Material", f"{disc.metal.grade}, {disc.length:g} mm"),
            ("Size", size),
            ("Openings", "none"),
        ),
        ("It stands on the pipe's square end, edge to edge: grind a bevel round the disc, or weld the corner.",),
        PlateStock(disc.metal.grade, disc.length),
    )


def _drawn_on(plate: Plate, half: EdgeWeld, path: Path) -> Path:
    """Return a path of straights, x along a half pipe and y aside, in the drawing of the flange that it lies on."""
    xy = np.array(path.vertices)[:, :2]
    points = half.frame.origin + xy[:, :1] * half.frame.axis + xy[:, 1:] * half.frame.side
    up, aside, _ = plate.end.to_local(points).T
    return Path.through(np.column_stack([-aside, up]), closed=path.closed)
