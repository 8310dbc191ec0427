"""All plate of a manifold on sheets: one drawing a sheet, of one material and thickness, in the order of cutting."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import compress

import numpy as np

from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.geometry.raster import Cells, filled, grown, touched
from rootgap.layout import hold_on_sheet
from rootgap.patterns.cutting import outside
from rootgap.patterns.nesting import Spot, nested, placed
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock, purpose
from rootgap.spec import SheetSpec, TablePart
from rootgap.stock import material

#: Height of the numbers that tell the order, mm, and the radius of the room that each takes, in heights; the side of
#: the cells in which it is looked for, mm.
NUMBER, BADGE, CELL = 9.0, 1.0, 2.0


@dataclass(frozen=True)
class Laid:
    """A part on a sheet. pattern: as it is cut, on the sheet; turn: quarters anticlockwise, x, y: where its drawing's
    origin is, mm; in_drop: whether it lies in another's opening."""

    pattern: Pattern
    turn: int
    x: float
    y: float
    in_drop: bool = False

    @property
    def outline(self) -> Shape:
        """The contour that parts it from the sheet, on the sheet."""
        return next(item.shape for item in self.pattern.drawn if outside(item.layer))

    @property
    def area(self) -> float:
        """Area of its metal, mm2."""
        cuts = [item for item in self.pattern.drawn if purpose(item.layer) == "cut"]
        return sum(abs(item.shape.area) * (1.0 if outside(item.layer) else -1.0) for item in cuts)


@dataclass(frozen=True)
class CutSheet:
    """A sheet with its parts, in the order in which they are cut. plate: its material, by the family's name."""

    name: str
    plate: PlateStock
    spec: SheetSpec
    parts: tuple[Laid, ...]
    pattern: Pattern

    @property
    def length(self) -> float:
        """How much of the sheet's length is taken, from its start to the last part and the margin, mm."""
        ends = [part.pattern.bounds()[2] for part in self.parts]
        return min(max(ends) + self.spec.margin, self.spec.size[0])

    @property
    def use(self) -> float:
        """Metal of the parts as a share of the length taken, over the sheet's whole width."""
        return sum(part.area for part in self.parts) / (self.length * self.spec.size[1])

    @property
    def outline_use(self) -> float:
        """The same share with the drops of all openings counted as part of the parts."""
        return sum(abs(part.outline.area) for part in self.parts) / (self.length * self.spec.size[1])


def cut_sheets(patterns: Sequence[Pattern], table: TablePart) -> tuple[CutSheet, ...]:
    """Return all parts among `patterns` that are cut from plate, nested; none where the table names no sheet.

    patterns: as their own files have them. Raises GeometryError for a part that is larger than the sheet.
    """
    if table.sheet is None:
        return ()
    groups: dict[tuple[str, float], list[Pattern]] = {}
    for pattern in patterns:
        if pattern.plate:
            low_x, low_y, high_x, high_y = _extent(pattern)
            hold_on_sheet(pattern.name, high_x - low_x, high_y - low_y, table)
            key = material(pattern.plate.material).name, round(pattern.plate.thickness, 6)
            groups.setdefault(key, []).append(pattern)
    made = []
    for (metal, thickness), parts in groups.items():
        spots = nested(parts, table.sheet)
        count = 1 + max(spot.sheet for spot in spots)
        for number in range(count):
            laid = _in_order([_laid(parts[spot.part], spot) for spot in spots if spot.sheet == number])
            stem = f"{re.sub('[^A-Za-z0-9]+', '-', metal)}-{thickness:g}mm-{number + 1}"
            made.append(_sheet(stem, PlateStock(metal, thickness), table, laid, f"{number + 1} of {count}"))
    return tuple(made)


def _extent(pattern: Pattern) -> tuple[float, float, float, float]:
    drawn = tuple(item for item in pattern.drawn if purpose(item.layer) in ("cut", "lead"))
    return replace(pattern, drawn=drawn).bounds()


def _laid(pattern: Pattern, spot: Spot) -> Laid:
    drawn = tuple(replace(item, shape=placed(item.shape, spot.turn, spot.x, spot.y)) for item in pattern.drawn)
    return Laid(replace(pattern, drawn=drawn, labels=()), spot.turn, spot.x, spot.y)


def _in_order(parts: Sequence[Laid]) -> tuple[Laid, ...]:
    """Return parts as they are cut: along the sheet, but what lies in another's opening before that one."""
    boxes = [part.outline.bounds() for part in parts]
    rims = [part.outline.points(0.05) for part in parts]
    round_it = [
        [other for other in range(len(parts)) if other != number and _within(boxes[number], rims[number], rims[other])]
        for number in range(len(parts))
    ]

    def rank(number: int) -> tuple[float, float, int, int]:
        # The outermost part round it has none round itself.
        outer = next((other for other in round_it[number] if not round_it[other]), number)
        return round(boxes[outer][0], 3), round(boxes[outer][1], 3), -len(round_it[number]), number

    ranked = sorted(range(len(parts)), key=rank)
    return tuple(replace(parts[number], in_drop=bool(round_it[number])) for number in ranked)


def _within(box: tuple[float, float, float, float], rim: np.ndarray, other: np.ndarray) -> bool:
    """Tell whether a part with that box and rim, (n, 2), mm, lies inside the rim of another."""
    low, high = other.min(axis=0), other.max(axis=0)
    if not (box[0] > low[0] and box[1] > low[1] and box[2] < high[0] and box[3] < high[1]):
        return False
    x, y = rim[0]
    (x0, y0), (x1, y1) = other.T, np.roll(other, -1, axis=0).T
    crossing = (y0 > y) != (y1 > y)
    at = x0[crossing] + (y - y0[crossing]) * (x1[crossing] - x0[crossing]) / (y1[crossing] - y0[crossing])
    return bool((at > x).sum() % 2)


def _sheet(stem: str, plate: PlateStock, table: TablePart, parts: tuple[Laid, ...], which: str) -> CutSheet:
    spec = table.sheet
    if spec is None:
        raise ValueError(f"table {table.name} names no sheet")
    (wide, high) = spec.size
    insides, outsides = zip(*(_parted(part.pattern.drawn) for part in parts), strict=True)
    whole = [(*first, *last) for first, last in zip(insides, outsides, strict=True)]
    if table.order == "sheet":
        # What lies in a drop must be done before that drop falls.
        loose = [not part.in_drop for part in parts]
        early = [group for group, last in zip(whole, loose, strict=True) if not last]
        whole = [*early, *compress(insides, loose), *compress(outsides, loose)]
    ordered = [item for group in whole for item in group]
    edge = Path.through([(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)], closed=True)
    labels = _numbers(parts, spec)
    bare = CutSheet(stem, plate, spec, parts, Pattern(stem, "sheet", "", (Drawn("edge", edge),)))
    grades = sorted({part.pattern.plate.material for part in parts if part.pattern.plate})
    facts = (
        ("Material", f"{plate.material}, {plate.thickness:g} mm" + (f" (asked for: {', '.join(grades)})")),
        ("Sheet", f"{wide:g} x {high:g} mm, margin {spec.margin:g} mm, {spec.spacing:g} mm between parts"),
        ("Use", f"{100 * bare.use:.0f} % of the {bare.length:.0f} mm taken, {100 * _whole(bare):.0f} % of the sheet"),
        ("Offcut", f"{wide - bare.length:.0f} x {high:g} mm"),
        ("Order", "each part's insides, then its outside" if table.order == "part" else "all insides, then outsides"),
        *((f"{number}", f"{part.pattern.name}{_turn(part)}") for number, part in enumerate(parts, 1)),
    )
    title = f"{plate.material} {plate.thickness:g} mm, sheet {which}"
    pattern = Pattern(stem, "sheet", title, (Drawn("edge", edge), *ordered), labels, (), facts, (), plate)
    return replace(bare, pattern=pattern)


def _whole(sheet: CutSheet) -> float:
    return sheet.use * sheet.length / sheet.spec.size[0]


def _turn(part: Laid) -> str:
    return f", turned {90 * part.turn} deg" if part.turn else ""


def _parted(drawn: Sequence[Drawn]) -> tuple[tuple[Drawn, ...], tuple[Drawn, ...]]:
    """Return what is done before the outside, and the outside with its leads."""
    at = next(number for number, item in enumerate(drawn) if outside(item.layer))
    start = at - 1 if at and drawn[at - 1].layer == "lead.in" else at
    return tuple(drawn[:start]), tuple(drawn[start:])


def _numbers(parts: Sequence[Laid], spec: SheetSpec) -> tuple[Label, ...]:
    """Return the number of each part in the order: within its outline clear of every line, as near to the lower left
    corner of its box as may be, else across its edge, and at that corner where its own lines leave no such place."""
    grid = int(spec.size[0] / CELL) + 1, int(spec.size[1] / CELL) + 1
    radius = BADGE * NUMBER / CELL + 0.5
    drawn = [item for part in parts for item in part.pattern.drawn]
    edges = grown(_traced((item.shape for item in drawn if outside(item.layer)), grid), radius)
    others = grown(_traced((item.shape for item in drawn if not outside(item.layer)), grid), radius)
    labels = []
    for number, part in enumerate(parts, 1):
        x, y, _, _ = part.outline.bounds()
        metal = filled([part.outline.points(CELL)], (0.0, 0.0), CELL, grid)
        for room in (metal & ~edges & ~others, metal & ~others):
            places = CELL * (np.argwhere(room) + 0.5)
            if len(places):
                x, y = places[np.argmin(np.round(np.linalg.norm(places - (x, y), axis=1), 6))].tolist()
                break
        labels.append(Label("text", (x, y - 0.5 * NUMBER), f"{number}", NUMBER, anchor="middle"))
        taken = Circle((x, y), BADGE * NUMBER)
        others |= grown(_traced([taken], grid) | filled([taken.points(CELL)], (0.0, 0.0), CELL, grid), radius)
    return tuple(labels)


def _traced(shapes: Iterable[Shape], grid: tuple[int, int]) -> Cells:
    """Return the cells of a sheet that lines go through."""
    chains = []
    for shape in shapes:
        points = shape.points(0.25 * CELL)
        chains.append(np.vstack([points, points[:1]]) if isinstance(shape, Circle) or shape.closed else points)
    return touched(chains, (0.0, 0.0), CELL, grid)
