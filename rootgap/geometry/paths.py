"""Plane paths of straight segments and circular arcs.

Terminology: a *bulge* is tan(sweep / 4) of the arc that leaves a vertex, positive
anticlockwise, 0 for a straight segment (the DXF convention).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Point = tuple[float, float]


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
        out: list[Point] = []
        for start, end, bulge in self.segments():
            out.append(start)
            if bulge:
                out.extend(_arc_points(start, end, bulge, tolerance))
        if not self.closed:
            out.append(self.vertices[-1][:2])
        return np.array(out)

    def bounds(self) -> tuple[float, float, float, float]:
        """Return (least x, least y, largest x, largest y), mm, arcs included to 1e-3."""
        xy = self.points(1e-3)
        (x0, y0), (x1, y1) = xy.min(axis=0), xy.max(axis=0)
        return float(x0), float(y0), float(x1), float(y1)

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


def _chord_angle(radius: float, tolerance: float) -> float:
    """Return the angle, radians, whose chord lies `tolerance` mm inside a circle of `radius` mm."""
    return float(2.0 * np.arccos(max(0.0, 1.0 - tolerance / radius)))


def _arc_points(start: Point, end: Point, bulge: float, tolerance: float) -> list[Point]:
    """Return the points strictly between the ends of an arc."""
    cx, cy = arc_center(start, end, bulge)
    radius, sweep = _arc_radius(start, end, bulge), 4.0 * np.arctan(bulge)
    steps = max(2, int(np.ceil(abs(sweep) / _chord_angle(radius, tolerance))))
    t = np.arctan2(start[1] - cy, start[0] - cx) + sweep * np.arange(1, steps) / steps
    return [(float(cx + radius * np.cos(a)), float(cy + radius * np.sin(a))) for a in t]
