"""Plates for the cutting table: outer edge, openings, bolt holes, and where pipes stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Circle, Path
from rootgap.joints import DividerEnd, EdgeWeld, FlangeWeld
from rootgap.layout import Disc, Plate
from rootgap.patterns.pattern import UPPER, Drawn, Label, Pattern, PlateStock
from rootgap.spec import FlangePart
from rootgap.spec.part import BoltHole

SLOTS = "Slots point away from bolt {}, which locates the flange: drill both ends, file or mill between."
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
    holes = part.holes()
    drawn = [Drawn("cut.outer", edge) for edge in plate.outlines]
    drawn += [Drawn("cut.inner", shape) for shape in plate.openings]
    drawn += [Drawn("cut.inner", hole.shape) for hole in holes]
    labels = []
    for weld in welds:
        x, y = np.mean([part.port[number - 1].at for number in weld.ports], axis=0)
        at = (float(x), float(y))
        # Where it is let in, the mark is the socket's own edge; a pipe that goes through is the opening's.
        if weld.outline is not None:
            drawn.append(Drawn("mark", placed(weld.outline, at)))
        elif weld.girth is None and not weld.through:
            drawn.append(Drawn("mark.socket" if weld.pocket else "mark", Circle(at, weld.pocket or weld.r_out)))
        labels.append(Label("text", (at[0], at[1] - 2.0), weld.pipe.rpartition("-")[0], 5.0, anchor="middle"))
    pockets = [(end, end.pocket) for end in dividers if end.pocket]
    drawn += [Drawn("mark.slot", pocket) for _, pocket in pockets]
    for half in halves:
        drawn += [Drawn("mark", _drawn_on(plate, half, path)) for path in (half.footprint, half.bore)]
        low, _, high, _ = half.bore.bounds()
        middle = _drawn_on(plate, half, Path.through([(0.5 * (low + high), 0.0)])).vertices[0]
        labels.append(Label("text", (middle[0], middle[1] - 2.0), half.half.rpartition("-")[0], 5.0, anchor="middle"))
    side = "pipe side" if starts else "joint face, gas coming towards you"
    boxes = np.array([edge.bounds() for edge in plate.outlines])
    (least_x, least_y), (most_x, most_y) = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    top = (0.5 * float(least_x + most_x), float(most_y) - TOP)
    labels.insert(0, Label("text", top, UPPER, 4.0, anchor="middle"))
    sizes = sorted({_size(hole) for hole in holes})
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
            ("Bolt holes", f"{len(holes)} of " + ", ".join(sizes) + " mm" if holes else "none"),
            *((("Plates", f"{len(plate.outlines)}, cut apart between the ports"),) if len(plate.outlines) > 1 else ()),
        ),
        (
            *((part.note,) if part.note else ()),
            *(
                f"Mill a slot {end.depth:g} mm deep for {end.divider} into the pipe side, as marked, not through."
                for end, _ in pockets
            ),
            *_let_in(part, welds),
            *(SLOTS.format(part.fixed) for _ in range(any(hole.slot for hole in holes))),
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
        (Drawn("cut.outer", disc.outline),),
        (Label("text", (0.0, -2.5), disc.id, 5.0, anchor="middle"),),
        (),
        (
            ("Part", f"{disc.id}, make 1"),
            ("Material", f"{disc.metal.grade}, {disc.thickness:g} mm"),
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


def _size(hole: BoltHole) -> str:
    return f"{hole.diameter:g}" + (f" x {hole.diameter + hole.slot:g}" if hole.slot else "")


def _let_in(part: FlangePart, welds: Sequence[FlangeWeld]) -> Iterator[str]:
    """Yield what is to be done where pipes go into the plate."""
    sockets = {(weld.sunk, weld.pocket) for weld in welds if weld.pocket}
    for depth, radius in sorted(sockets):
        yield f"Counterbore {2.0 * radius:.2f} mm, {depth:g} mm deep, into the pipe side, where marked, not through."
    for back in sorted({part.thickness - weld.sunk for weld in welds if weld.through}):
        yield f"The pipe goes through, to {back:g} mm short of the joint face: weld it there, and outside."
