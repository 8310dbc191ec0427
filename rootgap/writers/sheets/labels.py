"""Where lettering goes on a drawing: clear of its lines, of other lettering, whole on one tile.

Terminology:

    cell       a small square of the drawing; it is taken if a line runs through it
    box        the upright rectangle round a label: least x, least y, largest x, largest y, mm
    core       the part of a drawing that one tile alone shows
    air        the clear distance round a label, mm
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from rootgap.patterns.pattern import Label
from rootgap.writers.sheets.paper import Box, TilePlan
from rootgap.writers.sheets.pen import INK, Colour, Style

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

CELL = 0.5  # mm
MOST_CELLS = 2000  # along a side; a larger drawing gets larger cells
LINE_AIR = 1.0  # mm
LABEL_AIR = 2.0  # mm
# A label that names a place is moved by at most this many of its heights.
REACH = 4.0
LEAST_HEIGHT = 2.5  # mm; a label may shrink to this to find room
STEP = 1.0  # mm between the places that are tried for a word
OUTWARD = np.array([-1.0, -1.0, 1.0, 1.0])  # the way that a box's sides move when it grows


def label_style(label: Label, colour: Colour = INK) -> Style:
    """Return the lettering whose capitals are as high as the label says."""
    size = label.height * Style(size=1.0).size / Style(size=1.0).caps
    return Style("Helvetica" if colour == INK else "Helvetica-Bold", size, colour)


def label_box(label: Label) -> Box:
    """Return the box round a label."""
    style = label_style(label)
    length = style.width(label.text)
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[label.anchor] * length
    c, s = cos(radians(label.angle)), sin(radians(label.angle))
    corners = [(u, v) for u in (start, start + length) for v in (-style.drop, label.height)]
    x = [label.at[0] + u * c - v * s for u, v in corners]
    y = [label.at[1] + u * s + v * c for u, v in corners]
    return min(x), min(y), max(x), max(y)


def grown(box: Box, by: float) -> Box:
    """Return `box` with its sides moved out by `by` mm."""
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def meets(a: Box, b: Box) -> bool:
    """Return whether the boxes touch."""
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def inside(a: Box, b: Box) -> bool:
    """Return whether `a` lies in `b`."""
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


@dataclass(frozen=True, eq=False)
class Cells:
    """A drawing's cells. low: its lower left corner, mm; cell: mm; sums: how many cells are taken
    below and left of each corner, (rows + 1, columns + 1), so that any box is counted at once."""

    low: Array
    cell: float
    sums: NDArray[np.int32]

    @classmethod
    def over(cls, bounds: Box, chains: Iterable[Array], boxes: Iterable[Box] = (), ring: Array | None = None) -> Cells:
        """Return the cells over `bounds`, taken by lines through the points of each chain, by the
        boxes with their air, and by all that lies outside of `ring`."""
        low, high = np.array(bounds[:2]), np.array(bounds[2:])
        cell = max(CELL, float(np.max(high - low)) / MOST_CELLS)
        columns, rows = (int(n) for n in np.ceil((high - low) / cell) + 1)
        taken = np.zeros((rows, columns), dtype=bool)
        at = np.floor((_sampled(chains, 0.7 * cell) - low) / cell).astype(int)
        at = at[((at >= 0) & (at < (columns, rows))).all(axis=1)]
        taken[at[:, 1], at[:, 0]] = True
        for box in boxes:
            i0, j0, i1, j1 = np.floor((np.array(grown(box, LABEL_AIR)) - np.tile(low, 2)) / cell).astype(int)
            taken[max(j0, 0) : max(j1 + 1, 0), max(i0, 0) : max(i1 + 1, 0)] = True
        if ring is not None:
            taken |= ~_filled(ring, low + 0.5 * cell, cell, rows, columns)
        sums = np.zeros((rows + 1, columns + 1), dtype=np.int32)
        sums[1:, 1:] = taken.cumsum(axis=0, dtype=np.int32).cumsum(axis=1, dtype=np.int32)
        return cls(low, cell, sums)

    def clear(self, boxes: Array) -> Mask:
        """Return whether no cell that each box, (n, 4), touches is taken."""
        most = np.array(self.sums.shape)[::-1] - 1
        i0, j0 = np.clip(np.floor((boxes[:, :2] - self.low) / self.cell).astype(int), 0, most).T
        i1, j1 = np.clip(np.ceil((boxes[:, 2:] - self.low) / self.cell).astype(int), 0, most).T
        sums = self.sums
        return np.asarray(sums[j1, i1] - sums[j0, i1] - sums[j1, i0] + sums[j0, i0] == 0)


def _sampled(chains: Iterable[Array], step: float) -> Array:
    """Return points, (n, 2), along all chains, no further than `step` mm apart."""
    chains = [chain for chain in chains if len(chain) > 1]
    if not chains:
        return np.empty((0, 2))
    start = np.vstack([chain[:-1] for chain in chains])
    along = np.vstack([chain[1:] for chain in chains]) - start
    count = np.ceil(np.hypot(along[:, 0], along[:, 1]) / step).astype(int) + 1
    which = np.repeat(np.arange(len(count)), count)
    t = (np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)) / np.repeat(count, count)
    points: Array = start[which] + t[:, None] * along[which]
    return points


def _filled(ring: Array, middle: Array, cell: float, rows: int, columns: int) -> Mask:
    """Return which cells have their middle inside a ring: those with an odd number of its sides to
    their left. middle: of the first cell, mm."""
    y = middle[1] + cell * np.arange(rows)
    (x0, y0), (x1, y1) = ring.T, np.roll(ring, -1, axis=0).T
    side, row = np.nonzero((y0[:, None] > y) != (y1[:, None] > y))
    x = x0[side] + (y[row] - y0[side]) / (y1[side] - y0[side]) * (x1[side] - x0[side])
    column = np.clip(np.ceil((x - middle[0]) / cell), 0, columns).astype(int)
    crossings = np.zeros((rows, columns + 1), dtype=int)
    np.add.at(crossings, (row, column), 1)
    return np.asarray(crossings.cumsum(axis=1)[:, :columns] % 2 == 1)


def placed_labels(labels: Sequence[Label], cells: Cells, plan: TilePlan) -> tuple[Label, ...]:
    """Return the labels clear of lines and of each other, each whole on one tile, moved as little
    as that takes. One with no such place near by keeps its own, unless no tile shows it whole."""
    cores = np.array([plan.core(tile) for tile in plan.tiles])
    windows = np.array([tile.window for tile in plan.tiles])
    at_rest = _fits(np.array([label_box(label) for label in labels]).reshape(-1, 4), cells, cores)
    done: list[Label] = []
    boxes = np.empty((0, 4))
    # What can stay is settled first, so that what has to move keeps clear of it.
    for i in np.argsort(~at_rest, kind="stable"):
        stays = at_rest[i] and _apart(np.array([label_box(labels[i])]), boxes)[0]
        done.append(labels[i] if stays else _placed(labels[i], cells, cores, windows, boxes))
        boxes = np.vstack([boxes, label_box(done[-1])])
    return tuple(done)


def _placed(label: Label, cells: Cells, cores: Array, windows: Array, boxes: Array) -> Label:
    """Return `label` at the nearest place that is clear of lines and `boxes`, smaller if it must be."""
    near = _offsets(REACH * label.height, CELL)
    for height in (label.height, max(0.7 * label.height, min(LEAST_HEIGHT, label.height))):
        smaller = replace(label, height=height)
        for by in near[_free(np.array(label_box(smaller)) + np.tile(near, 2), cells, cores, boxes)[:1]]:
            return _moved(smaller, by)
    box = np.array(label_box(label))
    if _within(box[None], windows)[0]:
        return label
    room = float(np.min((windows[0, 2:] - windows[0, :2]) / np.maximum(box[2:] - box[:2], 1e-9)))
    if room < 1.0:
        label = replace(label, height=0.98 * room * label.height)
        box = np.array(label_box(label))
    reach = float(np.max(windows[:, 2:].max(axis=0) - windows[:, :2].min(axis=0)))
    far = _offsets(reach, max(2.0 * CELL, reach / 120.0))
    places = box + np.tile(far, 2)
    clear, whole = _free(places, cells, cores, boxes)[:1], np.flatnonzero(_within(places, windows))
    # Farther than its own length it would leave what it names, to stand across no line of it.
    near = np.hypot(*far[clear].T) <= max(box[2:] - box[:2])
    found = [*clear[near], *whole[_apart(places[whole], boxes)][:1], *clear, *whole[:1]]
    return _moved(label, far[found[0]]) if found else label


def _moved(label: Label, by: Array) -> Label:
    return replace(label, at=(label.at[0] + float(by[0]), label.at[1] + float(by[1])))


def _free(places: Array, cells: Cells, cores: Array, boxes: Array) -> NDArray[np.intp]:
    """Return which places, (n, 4), are clear of lines and boxes and whole in a core, by number."""
    fits = np.flatnonzero(_fits(places, cells, cores))
    return fits[_apart(places[fits], boxes)]


def _fits(places: Array, cells: Cells, cores: Array) -> Mask:
    """Return which places, (n, 4), are clear of lines, with air, and whole in a core."""
    return _within(places, cores) & cells.clear(places + LINE_AIR * OUTWARD)


def _apart(places: Array, boxes: Array) -> Mask:
    """Return which places, (n, 4), keep their air from all boxes, (m, 4)."""
    wide = (places + LABEL_AIR * OUTWARD)[:, None]
    overlap = np.all((wide[..., :2] < boxes[:, 2:]) & (wide[..., 2:] > boxes[:, :2]), axis=-1)
    return np.asarray(~np.any(overlap, axis=1))


def _within(places: Array, areas: Array) -> Mask:
    """Return which places, (n, 4), lie in any one of the areas, (m, 4)."""
    inside_each = (places[:, None, :2] >= areas[:, :2]) & (places[:, None, 2:] <= areas[:, 2:])
    return np.asarray(np.any(np.all(inside_each, axis=-1), axis=1))


@lru_cache(maxsize=64)
def _offsets(reach: float, step: float) -> Array:
    """Return offsets, (n, 2), mm, at most `reach` long, on a grid of `step`, the shortest first."""
    count = int(reach / step)
    line = step * np.arange(-count, count + 1)
    grid = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    length = np.round(np.hypot(grid[:, 0], grid[:, 1]), 6)
    order = np.argsort(length, kind="stable")
    shortest: Array = grid[order[length[order] <= reach]]
    return shortest


def roomiest(word: Label, cells: Cells, area: Box, air: float = 0.8) -> Label | None:
    """Return `word` where it has most air in `area`, near its middle, or None if it fits nowhere
    with `air` mm."""
    box = np.array(label_box(replace(word, at=(0.0, 0.0))))
    extent = cells.cell * (np.array(cells.sums.shape)[::-1] - 1)
    low = np.maximum(np.array(area[:2]), cells.low) - box[:2]
    high = np.minimum(np.array(area[2:]), cells.low + extent) - box[2:]
    if (low > high).any():
        return None
    x, y = (np.arange(low[i], high[i] + 1e-9, STEP) for i in (0, 1))
    places = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    middle = 0.5 * (low + high)
    places = places[np.argsort(np.round(np.hypot(*(places - middle).T), 3), kind="stable")]
    boxes = box + np.tile(places, 2)
    for factor in (3.0, 2.0, 1.5, 1.0):
        clear = cells.clear(boxes + factor * air * OUTWARD)
        if clear.any():
            best = places[np.argmax(clear)]
            return replace(word, at=(float(best[0]), float(best[1])))
    return None
