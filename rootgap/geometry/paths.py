"""Plane paths of straight segments and circular arcs.

Terminology: a *bulge* is tan(sweep / 4) of the arc that leaves a vertex, positive
anticlockwise, 0 for a straight segment (the DXF convention).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]
Real = TypeVar("Real", float, Array)


@dataclass(frozen=True)
class Circle:
    """A full circle. center, radius: mm."""

    center: Point
    radius: float

    @property
    def length(self) -> float:
        """Circumference, mm."""
        return float(2.0 * np.pi * self.radius)

    @property
    def area(self) -> float:
        """Enclosed area, mm2."""
        return float(np.pi * self.radius**2)

    def bounds(self) -> tuple[float, float, float, float]:
        """Return (least x, least y, largest x, largest y), mm."""
        (x, y), r = self.center, self.radius
        return x - r, y - r, x + r, y + r

    def points(self, tolerance: float) -> Array:
        """Return (n, 2) points on the circle whose chords stay within `tolerance` mm of it."""
        count = max(8, int(np.ceil(2.0 * np.pi / _chord_angle(self.radius, tolerance))))
        t = 2.0 * np.pi * np.arange(count) / count
        return np.array(self.center) + self.radius * np.column_stack([np.cos(t), np.sin(t)])

    def moved(self, dx: float, dy: float) -> Circle:
        """Return the circle shifted by (dx, dy) mm."""
        return Circle((self.center[0] + dx, self.center[1] + dy), self.radius)


@dataclass(frozen=True)
class Path:
    """A chain of segments and arcs. vertices: (x, y, bulge), mm and no unit."""

    vertices: tuple[tuple[float, float, float], ...]
    closed: bool = False

    @classmethod
    def through(cls, points: ArrayLike, *, closed: bool = False) -> Path:
        """Return the path of straight segments through `points`, (n, 2), mm."""
        xy = np.asarray(points, dtype=np.float64)
        return cls(tuple((float(x), float(y), 0.0) for x, y in xy), closed)

    def segments(self) -> Iterable[tuple[Point, Point, float]]:
        """Yield (start, end, bulge) of every segment, the closing one included."""
        ring = self.vertices + self.vertices[:1] if self.closed else self.vertices
        for (x0, y0, bulge), (x1, y1, _) in pairwise(ring):
            yield (x0, y0), (x1, y1), bulge

    @property
    def length(self) -> float:
        """Length along the path, mm."""
        return float(sum(_segment_length(*segment) for segment in self.segments()))

    @property
    def area(self) -> float:
        """Signed enclosed area of a closed path, mm2, positive anticlockwise."""
        total = 0.0
        for (x0, y0), (x1, y1), bulge in self.segments():
            total += 0.5 * (x0 * y1 - x1 * y0)
            if bulge:
                sweep = 4.0 * np.arctan(bulge)
                radius = _arc_radius((x0, y0), (x1, y1), bulge)
                total += 0.5 * radius**2 * (sweep - np.sin(sweep))
        return float(total)

    def points(self, tolerance: float) -> Array:
        """Return (n, 2) points along the path, mm, whose chords stay within `tolerance` mm of
        it. A closed path does not repeat its first point."""
        vertices = np.array(self.vertices, dtype=np.float64)[:, :2]
        arcs = self._arcs
        if arcs is None:
            return vertices
        each = np.maximum(2, np.ceil(abs(arcs.sweep) / _chord_angle(arcs.radius, tolerance))).astype(np.intp)
        steps = np.ones(len(vertices), dtype=np.intp)
        steps[arcs.index] = each
        points = np.repeat(vertices, steps, axis=0)
        arc = np.repeat(np.arange(len(each)), each)
        step = np.arange(len(arc)) - np.repeat(np.cumsum(each) - each, each)
        rows = (np.cumsum(steps) - steps)[arcs.index][arc] + step
        within = step > 0
        points[rows[within]] = arcs.at(arc, step / each[arc])[within]
        return points

    def bounds(self) -> tuple[float, float, float, float]:
        """Return (least x, least y, largest x, largest y), mm."""
        return self._bounds

    @cached_property
    def _bounds(self) -> tuple[float, float, float, float]:
        xy = np.array(self.vertices, dtype=np.float64)[:, :2]
        if self._arcs is not None:
            xy = np.vstack([xy, self._arcs.summits()])
        (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

    @cached_property
    def _arcs(self) -> _Arcs | None:
        vertices = np.array(self.vertices, dtype=np.float64)
        # No arc leaves the last vertex of an open path.
        index = np.flatnonzero(vertices[: len(vertices) if self.closed else -1, 2])
        return _Arcs.of(vertices, index) if index.size else None

    def moved(self, dx: float, dy: float) -> Path:
        """Return the path shifted by (dx, dy) mm."""
        return Path(tuple((x + dx, y + dy, b) for x, y, b in self.vertices), self.closed)


Shape = Path | Circle


def arc_center(start: Point, end: Point, bulge: float) -> Point:
    """Return the centre, mm, of the arc from `start` to `end` with `bulge` (not 0)."""
    (x0, y0), (x1, y1) = start, end
    lift = (1.0 - bulge**2) / (4.0 * bulge)
    return 0.5 * (x0 + x1) - lift * (y1 - y0), 0.5 * (y0 + y1) + lift * (x1 - x0)


def _arc_radius(start: Point, end: Point, bulge: float) -> float:
    chord = np.hypot(end[0] - start[0], end[1] - start[1])
    return float(chord * (1.0 + bulge**2) / (4.0 * abs(bulge)))


def _segment_length(start: Point, end: Point, bulge: float) -> float:
    if bulge:
        return float(_arc_radius(start, end, bulge) * 4.0 * abs(np.arctan(bulge)))
    return float(np.hypot(end[0] - start[0], end[1] - start[1]))


def _chord_angle(radius: Real, tolerance: float) -> Real:
    """Return the angle, radians, whose chord lies `tolerance` mm inside a circle of `radius` mm."""
    angle: Real = 2.0 * np.arccos(np.maximum(0.0, 1.0 - tolerance / radius))
    return angle


@dataclass(frozen=True, eq=False)
class _Arcs:
    """The arcs of a path. index, (n,): of the vertices that they leave; center, (n, 2), and radius, (n,): mm; first,
    sweep: where they begin about the centre and how far they go, radians, positive anticlockwise."""

    index: NDArray[np.intp]
    center: Array
    radius: Array
    first: Array
    sweep: Array

    @classmethod
    def of(cls, vertices: Array, index: NDArray[np.intp]) -> _Arcs:
        """Return the arcs that leave some of a path's vertices, (k, 3)."""
        start, bulge = vertices[index, :2], vertices[index, 2]
        step = vertices[(index + 1) % len(vertices), :2] - start
        left = np.column_stack([-step[:, 1], step[:, 0]])
        center = start + 0.5 * step + ((1.0 - bulge**2) / (4.0 * bulge))[:, None] * left
        off = start - center
        return cls(index, center, np.hypot(*off.T), np.arctan2(off[:, 1], off[:, 0]), 4.0 * np.arctan(bulge))

    def at(self, arc: NDArray[np.intp], share: Array) -> Array:
        """Return the points, (m, 2), mm, at these shares of the way along these arcs, both (m,)."""
        angle = self.first[arc] + self.sweep[arc] * share
        return self.center[arc] + self.radius[arc, None] * np.column_stack([np.cos(angle), np.sin(angle)])

    def summits(self) -> Array:
        """Return the points, (m, 2), mm, at which arcs run level or upright."""
        quarters = 0.5 * np.pi * np.arange(4)
        ahead = np.sign(self.sweep)[:, None] * (quarters - self.first[:, None]) % (2.0 * np.pi)
        arc, quarter = np.nonzero(ahead < abs(self.sweep)[:, None])
        turned = np.column_stack([np.cos(quarters), np.sin(quarters)])[quarter]
        return self.center[arc] + self.radius[arc, None] * turned
