"""Closed paths that somebody drew: whether they cross themselves, which way they run, whether two overlap.

Terminology: a *loop* is a closed path of lines and arcs. It is *simple* where it neither crosses nor
touches itself.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path, Point, arc_center
from rootgap.geometry.polygons import inside

Array = NDArray[np.float64]

#: mm. Vertices nearer than this are one point.
SAME_POINT = 1e-6
#: mm. How far the chords that are held against each other may lie from their arcs.
CHORD = 0.005
#: radians. Two segments that leave a corner nearer to each other than this lie on each other.
_FOLD = 1e-6


def reversed_loop(loop: Path) -> Path:
    """Return the loop run the other way round.

    >>> reversed_loop(Path(((0, 0, 0.5), (2, 0, 0), (2, 2, 0)), closed=True)).vertices
    ((0, 0, 0), (2, 2, 0), (2, 0, -0.5))
    """
    points = [vertex[:2] for vertex in loop.vertices]
    bulges = [vertex[2] for vertex in loop.vertices]
    order = [0, *range(len(points) - 1, 0, -1)]
    return Path(tuple((*points[k], -bulges[k - 1]) for k in order), closed=True)


def anticlockwise(loop: Path) -> Path:
    """Return the loop run anticlockwise."""
    return loop if loop.area >= 0.0 else reversed_loop(loop)


def fault_of(loop: Path) -> str:
    """Return what keeps a closed path from being the rim of a region, with the place, mm, or "" where nothing does.

    >>> fault_of(Path.through([(0, 0), (10, 10), (10, 0), (0, 10)], closed=True))
    'crosses itself near (5, 5)'
    """
    segments = list(loop.segments())
    if len(segments) < 2 or (len(segments) == 2 and not any(bulge for *_, bulge in segments)):
        return "encloses nothing: give three corners or more, or arcs between two"
    for number, (start, end, _) in enumerate(segments):
        if np.hypot(end[0] - start[0], end[1] - start[1]) <= SAME_POINT:
            following = 1 if number == len(segments) - 1 else number + 2
            return f"vertices {number + 1} and {following} are the same point; leave one out"
    rims = [_rim(*segment) for segment in segments]
    for k, (before, after) in enumerate(zip(segments, segments[1:] + segments[:1], strict=True)):
        if len(segments) > 2 and _folds(before, after):
            x, y = segments[k][1]
            return f"turns back on itself at ({x:g}, {y:g})"
    place = _crossing(rims)
    if place:
        return f"crosses itself near ({round(place[0], 2) + 0.0:g}, {round(place[1], 2) + 0.0:g})"
    return "" if abs(loop.area) > SAME_POINT else "encloses no area"


def overlap(rim: Array, other: Array) -> bool:
    """Tell whether two simple polygons, (n, 2) and (m, 2), mm, have area in common.

    >>> square = np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]])
    >>> overlap(square, square + 1.0), overlap(square, 0.2 * square + 0.5), overlap(square, square + 3.0)
    (True, True, False)
    """
    if _crossings(_closed(rim), _closed(other)).size:
        return True
    return bool(inside(rim[:1], other).any() or inside(other[:1], rim).any())


def farthest(loop: Path) -> float:
    """Return how far the loop gets from the origin, mm."""
    reach = 0.0
    for start, end, bulge in loop.segments():
        reach = max(reach, float(np.hypot(*start)))
        if bulge:
            center = np.array(arc_center(start, end, bulge))
            off = float(np.hypot(*center))
            radius = float(np.hypot(*(np.array(start) - center)))
            out = center + radius * (center / off if off > SAME_POINT else np.array([1.0, 0.0]))
            reach = max(reach, off + radius) if _on_arc(out, start, end, bulge) else reach
    return reach


def tangent_corner(start: Point, end: Point, bulge: float) -> Point | None:
    """Return where the tangents at the ends of an arc meet, mm; None where it sweeps half a turn or more.

    The arc lies within the triangle of its two ends and that corner.
    """
    if abs(bulge) >= 1.0 - SAME_POINT:
        return None
    rise = bulge / (1.0 - bulge**2)  # tan of half the sweep, by half
    dx, dy = end[0] - start[0], end[1] - start[1]
    return 0.5 * (start[0] + end[0]) + rise * dy, 0.5 * (start[1] + end[1]) - rise * dx


def _on_arc(point: Array, start: Point, end: Point, bulge: float) -> bool:
    """Tell whether a point of an arc's circle lies on it: right of its chord where it runs anticlockwise."""
    chord, lag = np.subtract(end, start), point - start
    return bool(np.sign(bulge) * (chord[0] * lag[1] - chord[1] * lag[0]) <= 0.0)


def _rim(start: Point, end: Point, bulge: float) -> Array:
    """Return points along one segment, ends included, (n, 2), mm."""
    return Path(((*start, bulge), (*end, 0.0))).points(CHORD)


def _heading(start: Point, end: Point, bulge: float, *, at_end: bool) -> float:
    half = 2.0 * np.arctan(bulge)
    return float(np.arctan2(end[1] - start[1], end[0] - start[0]) + (half if at_end else -half))


def _folds(before: tuple[Point, Point, float], after: tuple[Point, Point, float]) -> bool:
    """Tell whether `after` goes back the way that `before` came, on the same curve."""
    turn = (_heading(*after, at_end=False) - _heading(*before, at_end=True)) % (2.0 * np.pi)
    if abs(turn - np.pi) > _FOLD:
        return False
    return abs(_curvature(*before) + _curvature(*after)) < _FOLD


def _curvature(start: Point, end: Point, bulge: float) -> float:
    """Return the curvature of a segment, 1/mm, positive anticlockwise."""
    chord = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    return 4.0 * bulge / (chord * (1.0 + bulge**2))


def _crossing(rims: list[Array]) -> Point | None:
    """Return a point where two of the segments, as polylines, (n, 2) each, meet other than at their joint."""
    low = np.array([rim.min(axis=0) for rim in rims]) - SAME_POINT
    high = np.array([rim.max(axis=0) for rim in rims]) + SAME_POINT
    near = np.all((low[:, None] <= high[None, :]) & (low[None, :] <= high[:, None]), axis=2)
    for a, b in combinations(range(len(rims)), 2):
        if near[a, b]:
            met = _crossings(rims[a], rims[b])
            joints = [rims[a][-1]] if b == a + 1 else []
            joints += [rims[a][0]] if a == 0 and b == len(rims) - 1 else []
            for joint in joints:
                met = met[np.linalg.norm(met - joint, axis=1) > 10.0 * SAME_POINT]
            if len(met):
                return float(met[0, 0]), float(met[0, 1])
    return None


def _closed(rim: Array) -> Array:
    return np.vstack([rim, rim[:1]])


def _crossings(line: Array, other: Array) -> Array:
    """Return the points, (k, 2), mm, at which two open polylines, (n, 2) and (m, 2), meet; lines that lie along each
    other meet nowhere."""
    a, b = line[:-1, None], other[None, :-1]
    r, s = np.diff(line, axis=0)[:, None], np.diff(other, axis=0)[None, :]
    lag = b - a
    turn = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    level = np.abs(turn) <= 1e-12
    turn = np.where(level, 1.0, turn)
    t = (lag[..., 0] * s[..., 1] - lag[..., 1] * s[..., 0]) / turn
    u = (lag[..., 0] * r[..., 1] - lag[..., 1] * r[..., 0]) / turn
    met = ~level & (t >= 0.0) & (t <= 1.0) & (u >= 0.0) & (u <= 1.0)
    i, _ = np.nonzero(met)
    return line[i] + t[met][:, None] * np.diff(line, axis=0)[i]
