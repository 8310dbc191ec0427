"""What a cutting table asks of a plate's drawing: what is drilled, what its edge will be, and in which order it is cut.

Terminology
    outside    the contour that parts a part from its sheet; an inside is any other
    inside corner   a corner that points into the metal: a torch leaves it rounded by half its kerf
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.patterns.pattern import Drawn, Pattern, purpose
from rootgap.spec import HoleSpec, TablePart
from rootgap.stock import expected

#: A turn of less, degrees, is no corner.
LEAST_CORNER = 5.0
#: mm. Chords of an opening stay this near to it; widths that differ by less are the same.
CHORD, ROUNDOFF = 0.005, 1e-6
#: What is done first on a table: scribe, then drill marks, then the insides, the outside last.
ORDER = ("etch", "mark", "drill", "cut.inner", "cut")


def outside(layer: str) -> bool:
    """Tell whether a layer holds the contour that parts a plate from its sheet."""
    return layer in ("cut", "cut.outer")


def for_table(pattern: Pattern, table: TablePart | None) -> Pattern:
    """Return the pattern of a part that is cut from plate with its small holes drilled, its contours in the order in
    which they are cut, and what is to be known of the table; any other pattern as it is."""
    plate = pattern.plate
    if plate is None:
        return pattern
    hole = table.hole if table else HoleSpec()
    limit = hole.limit(plate.thickness)
    drawn = tuple(sorted((_drilled(item, limit) for item in pattern.drawn), key=_rank))
    drills = [item.shape for item in drawn if item.layer == "drill"]
    facts = (*pattern.facts, *_drill_facts(drills), *(_table_facts(table, plate.thickness) if table else ()))
    notes = (
        _kerf_note(table),
        *_drill_notes(len(drills), hole, limit),
        *_narrow_notes(drawn, limit),
        *(_corner_notes(drawn, table.kerf) if table else ()),
        *pattern.notes,
    )
    return replace(pattern, drawn=drawn, facts=facts, notes=notes)


def inside_corners(shape: Shape, kerf: float, *, hole: bool) -> int:
    """Return at how many places a torch of `kerf` mm rounds the metal off: corners that point into it, and arcs of less
    than half the kerf. hole: whether the metal lies outside the closed `shape`.

    >>> square = Path.through([(0, 0), (9, 0), (9, 9), (0, 9)], closed=True)
    >>> inside_corners(square, 1.6, hole=True), inside_corners(square, 1.6, hole=False)
    (4, 0)
    """
    into = -1.0 if hole else 1.0
    if isinstance(shape, Circle):
        return int(hole and shape.radius < 0.5 * kerf)
    into *= np.sign(shape.area)
    segments = [(complex(*start), complex(*end), bulge) for start, end, bulge in shape.segments()]
    count = 0
    for (a, b, bulge), (c, d, after) in zip(segments, segments[1:] + segments[:1], strict=True):
        # A chord's direction is its arc's, turned by half of its sweep at either end.
        turn = np.angle((d - c) / (b - a)) - 2.0 * (np.arctan(bulge) + np.arctan(after))
        turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
        count += int(into * np.degrees(turn) < -LEAST_CORNER)
        if bulge * into < 0.0:
            radius = abs(b - a) * (1.0 + bulge**2) / (4.0 * abs(bulge))
            count += int(radius < 0.5 * kerf)
    return count


def width(shape: Path) -> float:
    """Return how wide a closed shape is, mm, across whichever way it is narrowest.

    Source: the narrowest strip round a polygon lies along a side of its hull, elementary; sides of the hull that are
    none of the shape's are looked for degree by degree.

    >>> slot = Path.through([(0, 0), (9, 9), (7, 11), (-2, 2)], closed=True)
    >>> round(width(slot), 6)
    2.828427
    """
    points = shape.points(CHORD)
    sides = np.array([np.subtract(end, start) for start, end, bulge in shape.segments() if not bulge]).reshape(-1, 2)
    turns = np.concatenate([np.arctan2(sides[:, 1], sides[:, 0]), np.radians(np.arange(180.0))])
    return float(np.ptp(points @ np.array([-np.sin(turns), np.cos(turns)]), axis=0).min())


def _drilled(item: Drawn, limit: float) -> Drawn:
    small = item.layer == "cut.inner" and isinstance(item.shape, Circle) and 2.0 * item.shape.radius < limit - 1e-9
    return Drawn("drill", item.shape) if small else item


def _rank(item: Drawn) -> int:
    return ORDER.index(item.layer if item.layer == "cut.inner" else purpose(item.layer)) if _ranked(item) else 0


def _ranked(item: Drawn) -> bool:
    return purpose(item.layer) in ORDER


def _drill_facts(drills: Iterable[Shape]) -> tuple[tuple[str, str], ...]:
    counts = Counter(round(2.0 * shape.radius, 3) for shape in drills if isinstance(shape, Circle))
    text = ", ".join(f"{count} of {diameter:g} mm" for diameter, count in sorted(counts.items()))
    return (("Drill", text),) if text else ()


def _table_facts(table: TablePart, thickness: float) -> tuple[tuple[str, str], ...]:
    cut = expected(table.process)
    least, most = cut.squareness(thickness)
    ranges = f"range {cut.ranges[0]} to {cut.ranges[1]}"
    return (
        ("Table", f"{table.title or table.name}, kerf {table.kerf:g} mm"),
        ("Expect", f"edges {least:.2f} to {most:.2f} mm out of square (ISO 9013 {ranges}), size class {cut.size}"),
    )


def _kerf_note(table: TablePart | None) -> str:
    if table is None or table.offset == "table":
        return "Net size: leave the kerf to the table's software."
    return f"Net size here; in the DXF each cut is {0.5 * table.kerf:g} mm off, in the waste: switch its kerf off."


def _drill_notes(count: int, hole: HoleSpec, limit: float) -> tuple[str, ...]:
    if not count:
        return ()
    rule = f"{hole.ratio:g} x thickness ({limit:g} mm)" if hole.least < limit else f"{limit:g} mm, the table's least"
    which = f"{count} holes are" if count > 1 else "1 hole is"
    return (f"{which} under {rule}: mark the centres only, and drill (common practice).",)


def _narrow_notes(drawn: Iterable[Drawn], limit: float) -> tuple[str, ...]:
    """Return a note where an opening that is no circle is narrower than the smallest hole."""
    count = 0
    for item in drawn:
        if item.layer == "cut.inner" and isinstance(item.shape, Path):
            count += int(width(item.shape) < limit - ROUNDOFF)
    what = f"{count} openings are" if count > 1 else "1 opening is"
    return (f"{what} narrower than {limit:g} mm, the smallest hole that is burnt: drill and file.",) if count else ()


def _corner_notes(drawn: Iterable[Drawn], kerf: float) -> tuple[str, ...]:
    cuts = [item for item in drawn if purpose(item.layer) == "cut"]
    count = sum(inside_corners(item.shape, kerf, hole=not outside(item.layer)) for item in cuts)
    if not count:
        return ()
    which = f"{count} inside corners are" if count > 1 else "1 inside corner is"
    return (f"{which} sharper than the kerf: {0.5 * kerf:g} mm of radius is left; file where it matters.",)
