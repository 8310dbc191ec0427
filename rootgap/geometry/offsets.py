"""Closed contours moved aside, lines to lines and arcs to arcs.

Where every join runs on smoothly or opens, the offset is exact: a line moves, an arc changes its radius, and a corner
that opens gets an arc about itself. Anything else (corners that close, arcs that vanish, necks) is cut out of a region
by another library and its arcs are found again.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from rootgap.geometry.arcs import smoothed_ring
from rootgap.geometry.paths import Circle, Path, Point, Shape, arc_center

#: mm. Chords of a region stay this near to its curves, and found arcs this near to those chords.
CHORD, FIT = 0.001, 0.004
#: mm. Ends nearer than this are one point.
SAME = 1e-6

Segment = tuple[Point, Point, float]


def offset(shape: Shape, distance: float) -> Shape:
    """Return the closed `shape` moved out by `distance` mm, or in where it is negative, going round the same way.

    Raises ValueError where nothing is left of it, or where it falls apart.

    >>> square = Path.through([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    >>> round(offset(square, 1.0).area, 6), round(100 + 4 * 10 + np.pi, 6)
    (143.141593, 143.141593)
    >>> round(offset(square, -1.0).area, 6)
    64.0
    """
    if isinstance(shape, Circle):
        if shape.radius + distance <= SAME:
            raise ValueError(f"a circle of {2.0 * shape.radius:g} mm has no room {-distance:g} mm inside it")
        return Circle(shape.center, shape.radius + distance)
    exact = _exact(shape, distance)
    return exact if exact is not None else _by_region(shape, distance)


def _exact(path: Path, distance: float) -> Path | None:
    """Return the offset by lines and arcs, None where a join closes, an arc vanishes or the result is not simple."""
    # To the right of the way round, which is out where it goes anticlockwise.
    right = math.copysign(distance, distance * path.area)
    moved = []
    for start, end, bulge in path.segments():
        segment = _aside(start, end, bulge, right)
        if segment is None:
            return None
        moved.append((segment, (start, end)))
    vertices: list[tuple[float, float, float]] = []
    for ((first, last, bulge), (_, corner)), ((after, _, _), _) in pairwise([*moved, moved[0]]):
        vertices.append((*first, bulge))
        if math.dist(last, after) > SAME:
            turn = _turn(last, after, corner)
            if turn * right <= 0.0:
                return None
            vertices.append((*last, math.tan(0.25 * turn)))
    made = Path(tuple(vertices), closed=True)
    return made if _agrees(path, made, distance) else None


def _aside(start: Point, end: Point, bulge: float, right: float) -> Segment | None:
    """Return a segment moved `right` mm to its right, None where nothing of it is left."""
    if not bulge:
        chord = math.dist(start, end)
        dx, dy = right * (end[1] - start[1]) / chord, -right * (end[0] - start[0]) / chord
        return (start[0] + dx, start[1] + dy), (end[0] + dx, end[1] + dy), 0.0
    center = arc_center(start, end, bulge)
    radius = math.dist(center, start)
    scale = (radius + math.copysign(right, bulge * right)) / radius
    if scale * radius <= SAME:
        return None
    a, b = (
        (center[0] + scale * (x - center[0]), center[1] + scale * (y - center[1])) for x, y in (start, end)
    )
    return a, b, bulge


def _turn(last: Point, after: Point, corner: Point) -> float:
    """Return the turn about `corner` from `last` to `after`, radians, anticlockwise."""
    a = math.atan2(last[1] - corner[1], last[0] - corner[0])
    b = math.atan2(after[1] - corner[1], after[0] - corner[0])
    return (b - a + math.pi) % (2.0 * math.pi) - math.pi


def _agrees(path: Path, made: Path, distance: float) -> bool:
    """Tell whether `made` is simple and has the area of `path`'s region grown by `distance` mm."""
    from shapely import Polygon

    region = Polygon(made.points(CHORD))
    if not region.is_valid:
        return False
    wanted = Polygon(path.points(CHORD)).buffer(distance, quad_segs=64).area
    return bool(abs(region.area - wanted) <= 0.02 * path.length)


def _by_region(path: Path, distance: float) -> Path:
    from shapely import Polygon

    # A buffer's round corners are chords of a quarter turn's share: as fine as the rest.
    quarters = max(16, math.ceil(0.25 * math.pi / math.acos(max(0.0, 1.0 - CHORD / abs(distance)))))
    left = Polygon(path.points(CHORD)).buffer(distance, quad_segs=quarters, join_style="round")
    if left.is_empty or left.geom_type != "Polygon":
        raise ValueError(f"a contour has no room {abs(distance):g} mm {'inside' if distance < 0 else 'outside'} it")
    ring = np.asarray(left.exterior.coords)[:-1]
    made = smoothed_ring(ring, FIT)
    return made if made.area * path.area > 0.0 else turned_back(made)


def turned_back(path: Path) -> Path:
    """Return a closed path, mm, gone round the other way from the same start."""
    starts = path.vertices
    return Path(
        tuple(
            (starts[-number][0], starts[-number][1], -starts[-number - 1][2]) for number in range(len(starts))
        ),
        closed=True,
    )
