"""A traced edge that is of no kind, as a closed path of few lines and arcs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path
from rootgap.trace.fitting import signed_distance

Array = NDArray[np.float64]

#: How far, mm, the path may lie from the traced edge; twice that, and so on, where it would have too many corners.
NEAR = 0.12
MOST = 90
SPACING = 0.4  # mm between the points that a path is laid through
STRAIGHT = 2e-3  # a flatter bulge is a line


def freehand(points: Array) -> Path:
    """Return a closed path, mm, anticlockwise, along an edge given by its points (n, 2), mm, in order.

    Each line or arc goes as far as it stays within NEAR of the edge.

    >>> t = np.linspace(0.0, 2.0 * np.pi, 400, endpoint=False)
    >>> round(freehand(10.0 * np.column_stack([np.cos(t), np.sin(t)])).area, 0)
    314.0
    """
    even = _evenly(points)
    near = NEAR
    while True:
        path = _laid(even, near)
        if len(path.vertices) <= MOST:
            return path
        near *= 2.0


def _evenly(points: Array) -> Array:
    """Return points SPACING apart along the edge, anticlockwise, from its sharpest corner, evened out a little."""
    step = np.hypot(*np.diff(np.vstack([points, points[:1]]), axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    count = max(24, int(along[-1] / SPACING))
    ring = np.vstack([points, points[:1]])
    even = np.column_stack([np.interp(np.arange(count) * along[-1] / count, along, ring[:, k]) for k in (0, 1)])
    even = 0.25 * np.roll(even, 1, axis=0) + 0.5 * even + 0.25 * np.roll(even, -1, axis=0)
    x, y = even[:, 0], even[:, 1]
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0.0:
        even = even[::-1]
    back, ahead = even - np.roll(even, 4, axis=0), np.roll(even, -4, axis=0) - even
    turn = np.abs(np.arctan2(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0], np.sum(back * ahead, axis=1)))
    return np.roll(even, -int(np.argmax(turn)), axis=0)


def _laid(points: Array, near: float) -> Path:
    """Return the path through some of the points, (n, 2), mm, that keeps within `near` mm of the others."""
    ring = np.vstack([points, points[:1]])
    vertices, first, last = [], 0, len(ring) - 1
    while first < last:
        # Further by doubled steps while one line or arc will do, then the furthest by halving. No piece is more
        # than a third of the ring, so that none comes back to where it began.
        most = min(last - first, max(2, last // 3))
        good, bad = 1, 2
        while bad <= most and _bulge(ring[first : first + bad + 1], near) is not None:
            good, bad = bad, 2 * bad
        bad = min(bad, most + 1)
        while bad - good > 1:
            middle = (good + bad) // 2
            good, bad = (middle, bad) if _bulge(ring[first : first + middle + 1], near) is not None else (good, middle)
        bulge = _bulge(ring[first : first + good + 1], near) or 0.0
        vertices.append((float(ring[first, 0]), float(ring[first, 1]), bulge))
        first += good
    return Path(tuple(vertices), closed=True)


def _bulge(points: Array, near: float) -> float | None:
    """Return the bulge of the line or arc from the first of the points, (n, 2), mm, to the last, None where one of
    the others lies further than `near` mm from it.

    Source: the angle at a point of an arc over its chord is 180 degrees less half the sweep (Euclid III.20).
    """
    start, end, inner = points[0], points[-1], points[1:-1]
    if len(inner) == 0:
        return 0.0
    a, b = start - inner, end - inner
    angle = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], np.sum(a * b, axis=1))
    # From an arc that runs anticlockwise its end is seen to the right of its start.
    sweep = -2.0 * (np.pi - np.abs(angle)) * np.sign(angle)
    middle = slice(len(inner) // 4, len(inner) - len(inner) // 4)
    bulge = float(np.tan(0.25 * np.median(sweep[middle])))
    if abs(bulge) < STRAIGHT:
        bulge = 0.0
    if abs(bulge) > 1.0:
        return None
    (x0, y0), (x1, y1) = start.tolist(), end.tolist()
    piece = Path(((x0, y0, bulge), (x1, y1, 0.0)))
    return bulge if np.abs(signed_distance(piece, inner)).max() <= near else None
