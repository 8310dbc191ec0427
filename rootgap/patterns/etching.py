"""Lettering that a table scribes: every label of a plate as strokes, where there is metal for it.

A label that has no metal under it where it stands, such as a pipe's name in its port, goes to the nearest place that
has, and stays as a drawing's text where none is near.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Array, Circle, Path, Point
from rootgap.geometry.raster import Cells, filled, grown, touched
from rootgap.patterns.cutting import outside
from rootgap.patterns.pattern import TEMPLATES, UPPER, Drawn, Label, Pattern, purpose
from rootgap.patterns.strokes import lettered, strokes, width

#: Side of the cells in which room is looked for, mm, and how many there may be along a side.
CELL, MOST_CELLS = 1.0, 1500
#: Lettering keeps so far off edges, lines and other lettering, mm.
CLEAR = 1.5
#: And off other lettering at least this share of that one's height, so that two words are not read as one.
APART = 0.8
#: A label goes no further than this from its place, mm.
FAR = 60.0
#: The part's own name is tried at these heights, mm.
NAME_HEIGHTS = (6.0, 5.0, 4.0, 3.0, 2.5)
#: A label that moves ends at most this share as far from its own place as from any other label's.
OWN = 0.8
#: A label is tried at these shares of its height, but not below the least, mm.
SHARES = (1.0, 0.8, 0.6)
LEAST_HEIGHT = 2.0
#: Half a centre mark, mm, and its share of the hole's radius.
ARM, ARM_SHARE = 2.0, 0.6


def etched(pattern: Pattern) -> Pattern:
    """Return a plate's pattern as a table has it: lettering as strokes on layer `etch`, the part's name among it, a
    cross in every hole that is drilled, and nothing drawn that is not for the table."""
    room = _Room(pattern)
    # The seam's line is the cut's own.
    drawn = [item for item in pattern.drawn if purpose(item.layer) not in ("edge", "tab", "inside")]
    crosses = [Drawn("mark.centre", arm) for item in drawn if item.layer == "drill" for arm in _cross(item.shape)]
    left: list[Label] = []
    lines: list[Path] = []
    name, named = _part(pattern), False
    for label in pattern.labels:
        # The upper edge's word is no pipe's name, and is not taken for one.
        others = [other.at for other in pattern.labels if other is not label and UPPER not in (label.text, other.text)]
        wanted = replace(label, text=name) if label.text == pattern.name else label
        heights = [height for share in SHARES if (height := share * label.height) >= LEAST_HEIGHT]
        found = room.place(wanted, heights or [label.height], others)
        if found is None:
            left.append(label)
        else:
            named = named or found.text == name
            lines += strokes(found.text, found.at, found.height, found.angle, found.anchor)
    if not named:
        x0, y0, x1, y1 = pattern.bounds()
        wanted = Label("text", (0.5 * (x0 + x1), 0.5 * (y0 + y1)), name, NAME_HEIGHTS[0], anchor="middle")
        # A small plate has room for what its file calls it at least: "drain" of flange.drain.
        words = dict.fromkeys((name, name.removeprefix("flange.")))
        tries = (room.place(replace(wanted, text=word), NAME_HEIGHTS, reach=np.inf) for word in words)
        found = next((place for place in tries if place is not None), None)
        if found is not None:
            lines += strokes(found.text, found.at, found.height, found.angle, found.anchor)
    lettering = [Drawn("etch", line) for line in lines]
    return replace(pattern, drawn=(*lettering, *crosses, *drawn), labels=tuple(left))


def _part(pattern: Pattern) -> str:
    """Return the mark of the part, as it is etched: a template bears its kind after it, and a fixture's plate is known
    among its own by the mark's end."""
    if pattern.kind == "fixture":
        return next((label.text for label in pattern.labels if pattern.name.endswith(f".{label.text}")), pattern.name)
    return pattern.name.rpartition(".")[0] if pattern.kind in TEMPLATES else pattern.name


def _cross(hole: Circle | Path) -> tuple[Path, ...]:
    if not isinstance(hole, Circle):
        return ()
    (x, y), arm = hole.center, min(ARM, ARM_SHARE * hole.radius)
    return Path.through([(x - arm, y), (x + arm, y)]), Path.through([(x, y - arm), (x, y + arm)])


@dataclass(frozen=True, eq=False)
class _Ground:
    """Cells, (n, m), that lettering may lie on."""

    cells: Cells

    @cached_property
    def taken(self) -> NDArray[np.int32]:
        """How many others there are before and below each corner, (n + 1, m + 1)."""
        counts = np.zeros((self.cells.shape[0] + 1, self.cells.shape[1] + 1), dtype=np.int32)
        counts[1:, 1:] = np.cumsum(np.cumsum(~self.cells, axis=0), axis=1)
        return counts

    def less(self, over: Cells) -> _Ground:
        """Return what is left of it without these cells."""
        return _Ground(self.cells & ~over)


class _Room:
    """Where a plate has metal with nothing on it yet."""

    def __init__(self, pattern: Pattern) -> None:
        """Look at everything that is cut, drilled or marked."""
        x0, y0, x1, y1 = pattern.bounds()
        self.cell = max(CELL, max(x1 - x0, y1 - y0) / MOST_CELLS)
        self.origin = (x0 - self.cell, y0 - self.cell)
        self.shape = int((x1 - x0) / self.cell) + 3, int((y1 - y0) / self.cell) + 3
        rings, lines = [], []
        for item in pattern.drawn:
            points = item.shape.points(0.2)
            closed = isinstance(item.shape, Circle) or item.shape.closed
            if outside(item.layer) or item.layer in ("cut.inner", "drill"):
                rings.append(points)
            if purpose(item.layer) != "edge":
                lines.append(np.vstack([points, points[:1]]) if closed else points)
        metal = filled(rings, self.origin, self.cell, self.shape)
        self.free = _Ground(metal).less(self._near(lines))
        # Text may lie across marks where it was put, but never over an edge.
        self.metal = _Ground(metal).less(self._near([np.vstack([ring, ring[:1]]) for ring in rings]))

    def _near(self, lines: Sequence[Array]) -> Cells:
        return grown(touched(lines, self.origin, self.cell, self.shape), CLEAR / self.cell + 0.5)

    def place(
        self, label: Label, heights: Sequence[float], others: Sequence[Point] = (), reach: float = FAR
    ) -> Label | None:
        """Return the label where there is room for it, which is then taken; None where there is none.
        heights: to try, mm; others: where other labels are meant to be, mm; reach: how far it may go, mm."""
        if not lettered(label.text):
            return None
        # Best clear of every line, then across marks, which does no harm; best level, then upright.
        tries = (
            place
            for on in (self.free, self.metal)
            for place in (
                self._there(replace(label, height=heights[0]), on),
                *(
                    self._nearest(replace(label, height=height, angle=angle), others, reach, on)
                    for angle in (0.0, 90.0)
                    for height in heights
                ),
            )
        )
        found = next((place for place in tries if place is not None), None)
        if found is not None:
            self._take(found)
        return found

    def _chains(self, label: Label) -> tuple[Array, ...]:
        lines = strokes(label.text, label.at, label.height, label.angle, label.anchor)
        return tuple(np.array(line.vertices)[:, :2] for line in lines)

    def _cells(self, label: Label) -> Cells:
        return touched(self._chains(label), self.origin, self.cell, self.shape)

    def _there(self, label: Label, on: _Ground) -> Label | None:
        """Return the label as it is where all its cells are `on`."""
        low = np.array(self.origin)
        high = low + np.array(self.shape) * self.cell
        points = np.vstack(self._chains(label))
        fits = ((points > low) & (points < high)).all() and on.cells[self._cells(label)].all()
        return label if fits else None

    def _nearest(self, label: Label, others: Sequence[Point], reach: float, on: _Ground) -> Label | None:
        """Return the label, at its angle of 0 or 90 degrees, in the place nearest to its own whose cells are all `on`,
        and which is not as near to that of another, for it would be taken for that one's."""
        wide = int(np.ceil(width(label.text, label.height) / self.cell)) + 1
        high = int(np.ceil(label.height / self.cell)) + 1
        if label.angle:
            wide, high = high, wide
        if wide >= self.shape[0] or high >= self.shape[1]:
            return None
        shift = {"left": 0.5, "middle": 0.0, "right": -0.5}[label.anchor] * width(label.text, label.height)
        aim = np.array(label.at) + (shift, 0.5 * label.height)
        half = 0.5 * np.array([wide, high])
        # Of the cells at which it may begin, those within its reach.
        around = np.add.outer((-reach, reach), aim - self.origin) / self.cell - half
        first, last = np.clip(around, 0, np.array(self.shape) - (wide, high)).astype(np.intp)
        taken = on.taken[first[0] : last[0] + wide + 1, first[1] : last[1] + high + 1]
        full = taken[wide:, high:] - taken[:-wide, high:] - taken[wide:, :-high] + taken[:-wide, :-high]
        middles = self.origin + (first + np.argwhere(full == 0) + half) * self.cell
        off = np.hypot(*(middles - aim).T)
        for other in others:
            # Few are left after the first, and none is looked at again.
            own = off <= np.minimum(reach, OWN * np.hypot(*(middles - other).T))
            middles, off = middles[own], off[own]
        if not len(off) or off.min() > reach:
            return None
        x, y = middles[int(np.argmin(np.round(off, 6)))]
        down = 0.5 * label.height
        at = (float(x) + down, float(y)) if label.angle else (float(x), float(y) - down)
        return replace(label, at=at, anchor="middle")

    def _take(self, label: Label) -> None:
        over = grown(self._cells(label), max(CLEAR, APART * label.height) / self.cell + 0.5)
        self.free, self.metal = self.free.less(over), self.metal.less(over)
