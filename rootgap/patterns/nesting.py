"""Laying parts of any shape on sheets: each where it takes the least length, turned by quarters.

A part and its half of the spacing are cells of a grid; a column of cells is one integer, a bit a cell, so whether
a part fits at a place of the sheet is told for a whole column of places at once. No chance and no clock: the same parts
give the same sheets.

Terminology
    mould    a part's cells in one of its turns, with half of the spacing round it
    run      cells of a mould's column one above the other without a break
    length   the sheet's first size, x; parts are laid from its start on, so that one offcut is left at its end
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from rootgap.geometry.paths import Array, Circle, Path, Shape
from rootgap.geometry.raster import filled, grown, touched
from rootgap.patterns.pattern import Pattern, purpose
from rootgap.spec import SheetSpec

#: The grid has about so many cells across a square sheet, and none smaller than this, mm.
ACROSS, SMALLEST = 600, 0.5
#: Turns that are tried, quarters.
TURNS = (0, 1, 2, 3)
#: Orders beside those by a size, and how far they stray from it: factors of e to this, in steps that never repeat.
SHUFFLES, SPREAD, GOLDEN = 12, 0.5, 0.6180339887498949
#: Swaps of two parts that are tried in the best order, and the steps, shares of a list, that choose the two: each pair
#: of places comes near to its turn. Source: plastic number's powers, as in low-discrepancy sequences (from memory).
SWAPS, STEPS = 100, (0.7548776662466927, 0.5698402909980532)
#: mm. Chords of a part's outline stay this near to it.
CHORD = 0.05


@dataclass(frozen=True)
class Spot:
    """Where a part lies. part: its number; sheet: from 0; turn: quarters anticlockwise about its drawing's origin, then
    moved by x, y, mm."""

    part: int
    sheet: int
    turn: int
    x: float
    y: float


def placed(shape: Shape, turn: int, x: float, y: float) -> Shape:
    """Return `shape` turned by `turn` quarters anticlockwise about the origin and then moved by x, y, mm.

    >>> placed(Circle((2.0, 1.0), 1.0), 1, 10.0, 0.0)
    Circle(center=(9.0, 2.0), radius=1.0)
    """
    a, b, c, d = ((1, 0, 0, 1), (0, -1, 1, 0), (-1, 0, 0, -1), (0, 1, -1, 0))[turn % 4]
    if isinstance(shape, Circle):
        (u, v) = shape.center
        return Circle((a * u + b * v + x, c * u + d * v + y), shape.radius)
    return Path(tuple((a * u + b * v + x, c * u + d * v + y, bulge) for u, v, bulge in shape.vertices), shape.closed)


def nested(patterns: Sequence[Pattern], sheet: SheetSpec) -> tuple[Spot, ...]:
    """Return where each of `patterns` lies, in the order in which they were laid, on as many sheets as it takes.

    Openings are used: a part may lie in the drop of another. Parts are laid in several orders, the largest first by
    one measure or another, then in the best of these with two parts swapped, and with two more where that took no more
    length; the shortest result is taken. Raises ValueError for a part that no sheet holds.
    """
    cell = max(SMALLEST, float(np.sqrt(sheet.size[0] * sheet.size[1])) / ACROSS)
    parts = [_Part(pattern, sheet, cell) for pattern in patterns]
    for part in parts:
        if not part.moulds:
            width, height = part.extent
            raise ValueError(f"{part.name}: {width:.1f} x {height:.1f} mm is more than the sheet holds")
    spots: tuple[Spot, ...] = ()
    took: tuple[int, int] | None = None
    best: list[int] = []
    for order in _orders(parts):
        if found := _laid(parts, order, sheet, cell, took):
            (spots, took), best = found, order
    for one, other in _swaps(len(parts)):
        if took is None or parts[best[one]].extent == parts[best[other]].extent:
            continue
        order = list(best)
        order[one], order[other] = order[other], order[one]
        # One that takes as much is gone on from, too: it may be a step on the way to a shorter one.
        if found := _laid(parts, order, sheet, cell, (took[0], took[1] + 1)):
            (spots, took), best = found, order
    return spots


def _swaps(count: int) -> list[tuple[int, int]]:
    """Return pairs of places in a list of `count`, each once, in an order that never repeats and favours none.

    >>> _swaps(3)
    [(1, 2), (0, 1), (0, 2)]
    """
    found: dict[tuple[int, int], None] = {}
    for step in range(1, 20 * SWAPS):
        one, other = sorted(int(count * (step * each % 1.0)) for each in STEPS)
        if one < other:
            found[one, other] = None
        if len(found) == min(SWAPS, count * (count - 1) // 2):
            break
    return list(found)


def _orders(parts: Sequence[_Part]) -> list[list[int]]:
    """Return the orders in which parts are laid: by box, by the short side, by the long side, and by box with some
    taken out of their turn."""
    numbers = range(len(parts))
    sizes = np.array([part.extent for part in parts])
    box, short, long = sizes.prod(axis=1), sizes.min(axis=1), sizes.max(axis=1)
    count = 1.0 + np.arange(len(parts))
    waves = [np.sin(2.0 * np.pi * GOLDEN * shuffle * count) for shuffle in range(1, SHUFFLES + 1)]
    strayed = [box * np.exp(SPREAD * wave) for wave in waves]
    keys = [np.round(key, 6).tolist() for key in (box, short, long, *strayed)]
    orders = [[number for _, number in sorted((-key[number], number) for number in numbers)] for key in keys]
    return [order for at, order in enumerate(orders) if order not in orders[:at]]


def _laid(
    parts: Sequence[_Part], order: Sequence[int], sheet: SheetSpec, cell: float, beat: tuple[int, int] | None
) -> tuple[tuple[Spot, ...], tuple[int, int]] | None:
    """Return the spots of parts laid in that order, and how many sheets and columns of the last they take; None as
    soon as that is not less than `beat`. cell: mm."""
    sheets: list[_Sheet] = []
    spots = []
    for number in order:
        part = parts[number]
        for index in range(len(sheets) + 1):
            if index == len(sheets):
                sheets.append(_Sheet(sheet, cell))
            found = sheets[index].lay(part)
            if found is not None:
                mould, column, row = found
                x, y = sheet.margin + column * cell - mould.low[0], sheet.margin + row * cell - mould.low[1]
                spots.append(Spot(number, index, mould.turn, x, y))
                break
        if beat and (len(sheets), sheets[-1].used) >= beat:
            return None
    return tuple(spots), (len(sheets), sheets[-1].used if sheets else 0)


@dataclass(frozen=True, eq=False)
class _Mould:
    """A part's cells in one turn. columns: runs of each, (first row, past the last); rows: how many there are; inset:
    how many columns and rows of it lie before the part's own least x and y, which are low, mm, in the turned drawing;
    most: the last column and row, from the margin, at which these may lie."""

    turn: int
    columns: tuple[tuple[tuple[int, int], ...], ...]
    rows: int
    inset: tuple[int, int]
    low: tuple[float, float]
    most: tuple[int, int]

    @cached_property
    def runs(self) -> tuple[tuple[int, int, int], ...]:
        """Every run as its column, its first row and how many cells it has: the long ones first, which fit at the
        fewest places, and of these no neighbours one after the other, which fit at the same."""
        runs = [(column, first, past - first) for column, each in enumerate(self.columns) for first, past in each]
        return tuple(sorted(runs, key=lambda run: (-run[2].bit_length(), run[0] * GOLDEN % 1.0)))

    @cached_property
    def bits(self) -> tuple[int, ...]:
        """Each column as an integer."""
        return tuple(sum(((1 << past - first) - 1) << first for first, past in runs) for runs in self.columns)


class _Part:
    """A part with its moulds in all turns that the sheet holds."""

    def __init__(self, pattern: Pattern, sheet: SheetSpec, cell: float) -> None:
        """Look at what the table cuts and scribes of `pattern`."""
        self.name = pattern.name
        shapes = [item.shape for item in pattern.drawn if purpose(item.layer) in ("cut", "lead")]
        rings = [item.shape.points(CHORD) for item in pattern.drawn if purpose(item.layer) == "cut"]
        chains = [_chain(shape) for shape in shapes]
        boxes = np.array([shape.bounds() for shape in shapes])
        low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
        self.extent = (float(high[0] - low[0]), float(high[1] - low[1]))
        self.moulds: list[_Mould] = []
        for turn in TURNS:
            wide, tall = self.extent if turn % 2 == 0 else self.extent[::-1]
            if wide <= sheet.room[0] + 1e-9 and tall <= sheet.room[1] + 1e-9:
                inner = [_turned(points, turn) for points in rings]
                outer = [_turned(points, turn) for points in chains]
                self.moulds.append(_mould(inner, outer, _turned([low, high], turn), cell, turn, sheet))


def _mould(
    rings: Sequence[Array], chains: Sequence[Array], box: Array, cell: float, turn: int, sheet: SheetSpec
) -> _Mould:
    """Return the mould of a turned part. rings: of its contours; chains: of all that is cut, (n, 2), mm; box: two
    corners of its box, (2, 2), mm."""
    low, high = box.min(axis=0), box.max(axis=0)
    # Half a cell's diagonal more makes sure that nothing of the true shape is missed.
    radius = 0.5 * sheet.spacing / cell + np.sqrt(0.5)
    rim = int(np.ceil(radius)) + 1
    origin = (float(low[0] - rim * cell), float(low[1] - rim * cell))
    shape = int(np.ceil((high[0] - low[0]) / cell)) + 2 * rim + 1, int(np.ceil((high[1] - low[1]) / cell)) + 2 * rim + 1
    cells = filled(rings, origin, cell, shape) | grown(touched(chains, origin, cell, shape), radius)
    inside = np.argwhere(cells)
    (left, bottom), (right, top) = inside.min(axis=0), inside.max(axis=0) + 1
    columns = []
    for column in cells[left:right, bottom:top]:
        step = np.diff(np.concatenate([[0], column.astype(np.int8), [0]]))
        columns.append(tuple(zip(np.flatnonzero(step > 0).tolist(), np.flatnonzero(step < 0).tolist(), strict=True)))
    return _Mould(
        turn,
        tuple(columns),
        int(top - bottom),
        (rim - int(left), rim - int(bottom)),
        (float(low[0]), float(low[1])),
        (_whole((sheet.room[0] - high[0] + low[0]) / cell), _whole((sheet.room[1] - high[1] + low[1]) / cell)),
    )


def _turned(points: ArrayLike, turn: int) -> Array:
    x, y = np.asarray(points, dtype=np.float64).T
    return np.column_stack(((x, y), (-y, x), (-x, -y), (y, -x))[turn])


def _whole(cells: float) -> int:
    return int(np.floor(cells + 1e-9))


class _Sheet:
    """A sheet as it fills. Its grid reaches into the margins, where a part's own half of the spacing may lie."""

    def __init__(self, sheet: SheetSpec, cell: float) -> None:
        """Begin with an empty sheet."""
        self._rim = int(np.ceil(0.5 * sheet.spacing / cell + np.sqrt(0.5))) + 1
        columns = _whole(sheet.room[0] / cell) + 2 * self._rim + 2
        self._columns = [0] * columns
        self._spread: list[dict[int, int]] = [{} for _ in self._columns]
        self.used = 0

    def lay(self, part: _Part) -> tuple[_Mould, int, int] | None:
        """Lay a part where it ends soonest along the sheet, then lowest, and return its mould with the column and row
        of its least x and y, from the margin; None where it fits nowhere."""
        best: tuple[int, int, _Mould] | None = None
        for mould in part.moulds:
            end = best[0] - len(mould.columns) if best else len(self._columns)
            found = self._first(mould, end)
            if found is not None and (best is None or (found[0] + len(mould.columns), found[1]) < best[:2]):
                best = (found[0] + len(mould.columns), found[1], mould)
        if best is None:
            return None
        end, row, mould = best
        column = end - len(mould.columns)
        for offset, bits in enumerate(mould.bits):
            self._columns[column + offset] |= bits << row
            self._spread[column + offset] = {}
        self.used = max(self.used, end)
        return mould, column + mould.inset[0] - self._rim, row + mould.inset[1] - self._rim

    def _first(self, mould: _Mould, last: int) -> tuple[int, int] | None:
        """Return the first column of the grid, up to `last`, and the lowest row in it, at which a mould fits."""
        begin, lowest = (self._rim - inset for inset in mould.inset)
        every = ((1 << mould.most[1] + 1) - 1) << lowest
        for column in range(begin, min(last, begin + mould.most[0]) + 1):
            taken = 0
            for offset, first, count in mould.runs:
                if self._columns[column + offset]:
                    made = self._spread[column + offset].get(count)
                    taken |= (self._any(column + offset, count) if made is None else made) >> first
                    if taken & every == every:
                        break
            else:
                free = ~taken & every
                return column, (free & -free).bit_length() - 1
        return None

    def _any(self, column: int, count: int) -> int:
        """Return a bit for each row from which one of `count` cells of a column upwards is taken."""
        spread = self._spread[column]
        if count not in spread:
            # Of the largest power of two below it, which other counts are made of too.
            part = 1 << (count - 1).bit_length() - 1 if count > 1 else 0
            made = self._any(column, part) if part else self._columns[column]
            spread[count] = made | made >> (count - part) if part else made
        return spread[count]


def _chain(shape: Shape) -> Array:
    points = shape.points(CHORD)
    closed = isinstance(shape, Circle) or shape.closed
    return np.vstack([points, points[:1]]) if closed else points
