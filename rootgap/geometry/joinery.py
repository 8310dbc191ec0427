"""Outlines of plates that stand in each other: relieved corners, tabs, slots, and seats for pipes.

Terminology
    tab       a tongue on a plate's edge that goes through another plate
    slot      the hole that a tab goes through: wider by the *fit* on every side
    relief    a half circle through a corner, cut into the metal, so that a round cutter leaves no
              fillet where a square corner must seat
    seat      the notch that a pipe lies in, open upwards
    metric    the 2 x 2 matrix of an ellipse p'Ap = 1, mm^-2
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path, Point

Array = NDArray[np.float64]
Vertex = tuple[float, float, float]

#: A sweep smaller than this, mm, is none.
_STILL = 1e-9
#: A span of normals narrower than this, radians, is none: the arc over it would have no length.
_NARROW = 1e-6


def relieved(points: Sequence[Point], corners: Collection[int], radius: float) -> list[Vertex]:
    """Return the vertices of the polygon through `points`, mm, with a relief of `radius` mm at its `corners`.

    The polygon has its metal on its left. The relief's half circle begins and ends on the corner's two edges and
    goes through the corner, for its angle over a diameter is a right one (Thales): corners must be square.

    >>> square = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    >>> hole = Path(tuple(relieved(square, range(4), 1.0)), closed=True)
    >>> round(hole.area - 100.0, 6) == round(4 * (0.5 * np.pi - 1.0), 6)
    True
    """
    out: list[Vertex] = []
    reach = np.sqrt(2.0) * radius
    for index, (x, y) in enumerate(points):
        if index not in corners or radius == 0.0:
            out.append((x, y, 0.0))
            continue
        at = np.array((x, y))
        back = np.array(points[index - 1]) - at
        ahead = np.array(points[(index + 1) % len(points)]) - at
        first = at + reach * back / np.linalg.norm(back)
        last = at + reach * ahead / np.linalg.norm(ahead)
        left = -back[0] * ahead[1] + back[1] * ahead[0] > 0.0
        out += [(float(first[0]), float(first[1]), 1.0 if left else -1.0), (float(last[0]), float(last[1]), 0.0)]
    return out


def relief_radius(width: float) -> float:
    """Return the radius, mm, of the reliefs of a slot `width` mm wide: 1.5 mm, less where two would meet
    (common practice, no source)."""
    return min(1.5, 0.25 * width)


def slot(center: Point, along: Point, length: float, width: float) -> Path:
    """Return a slot with relieved corners. center: its middle, mm; along: its unit direction; length, width: mm."""
    u = np.array(along)
    v = np.array((-u[1], u[0]))
    half = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)]
    corners = [np.array(center) + a * length * u + b * width * v for a, b in half]
    points = [(float(x), float(y)) for x, y in corners]
    return Path(tuple(relieved(points, range(4), relief_radius(width))), closed=True)


def rounded(low: Point, high: Point, radius: float) -> Path:
    """Return the rectangle from its corner `low` to `high`, mm, with corners of `radius` mm."""
    (x0, y0), (x1, y1) = low, high
    turn = float(np.tan(np.pi / 8.0))
    r = radius
    return Path(
        (
            (x0 + r, y0, 0.0),
            (x1 - r, y0, turn),
            (x1, y0 + r, 0.0),
            (x1, y1 - r, turn),
            (x1 - r, y1, 0.0),
            (x0 + r, y1, turn),
            (x0, y1 - r, 0.0),
            (x0, y0 + r, turn),
        ),
        closed=True,
    )


def section_metric(lean: Array, radius: float) -> Array:
    """Return the metric, (2, 2), mm^-2, of the ellipse that a plane cuts out of a cylinder of `radius` mm.

    lean: (2,), no unit, what the cylinder's unit axis has along the plane's x and y. Its half axes are the radius,
    square to the lean, and the radius over the sine of the angle between axis and plane, along it.
    Source: |p|^2 - (p.a)^2 = r^2 for a point p on a cylinder of unit axis a.

    >>> np.sqrt(1.0 / np.linalg.eigvalsh(section_metric(np.array([0.0, 0.5]), 30.0))).round(4).tolist()
    [34.641, 30.0]
    """
    return (np.eye(2) - np.outer(lean, lean)) / radius**2


def seat_edge(metric: Array, drift: Array, tolerance: float) -> list[Vertex]:
    """Return the lower edge, vertices in mm, of an ellipse of `metric` that drifts from -`drift` to +`drift`, (2,), mm,
    from its rightmost point over its lowest to its leftmost, as arcs within `tolerance` mm.

    The drift is that of a leaning pipe's section from one face of its plate to the other: a square cut must clear
    them all, and all lie in what the ellipse sweeps over.
    Source: the point of p'Ap = 1 with outward normal n is B n / sqrt(n'Bn), B the inverse of A; a sweep's is that of
    the end of the drift that lies further along n.
    """
    inverse = np.linalg.inv(metric)

    def at(angle: Array, side: float) -> Array:
        normal = np.column_stack([np.cos(angle), np.sin(angle)])
        reach = normal @ inverse
        return reach / np.sqrt(np.sum(reach * normal, axis=1))[:, None] + side * drift

    spans: list[tuple[float, float, float]] = []
    if np.linalg.norm(drift) < _STILL:
        spans.append((0.0, -np.pi, 0.0))
    else:
        # Normals square to the drift, at which the end that lies further along them changes.
        turn = (float(np.arctan2(drift[1], drift[0])) + 0.5 * np.pi) % np.pi - np.pi
        middles = [(0.0, turn), (turn, -np.pi)] if _NARROW < -turn < np.pi - _NARROW else [(0.0, -np.pi)]
        for first, last in middles:
            middle = 0.5 * (first + last)
            ahead = drift @ np.array((np.cos(middle), np.sin(middle)))
            spans.append((first, last, float(np.sign(ahead))))
    out: list[Vertex] = []
    for first, last, side in spans:
        count = 2
        while True:
            angles = np.linspace(first, last, 4 * count + 1)
            points = at(angles, side)
            ends, bulges, error = _arcs(points)
            if error <= tolerance or count >= 256:
                break
            count *= 2
        out += [(float(x), float(y), bulge) for (x, y), bulge in zip(ends[:-1], bulges, strict=True)]
        out.append((float(ends[-1, 0]), float(ends[-1, 1]), 0.0))
    return out


def _arcs(points: Array) -> tuple[Array, list[float], float]:
    """Return ends (n + 1, 2), bulges and the largest error, mm, of arcs through each first, third and fifth of the
    points (4n + 1, 2), mm, of a curve that turns clockwise; the error is that of the second and the fourth."""
    ends, bulges, error = points[::4], [], 0.0
    quarters = (points[place::4] for place in (1, 2, 3))
    for start, one, middle, three, end in zip(ends[:-1], *quarters, ends[1:], strict=True):
        a, b = start - middle, end - middle
        angle = np.arccos(np.clip(a @ b / (np.linalg.norm(a) * np.linalg.norm(b)), -1.0, 1.0))
        sweep = 2.0 * (np.pi - angle)
        bulges.append(-float(np.tan(0.25 * sweep)))
        chord = end - start
        length = float(np.linalg.norm(chord))
        radius = 0.5 * length / np.sin(0.5 * sweep)
        # To the right of the chord bulges a clockwise arc to the left of it: its centre lies to the right.
        right = np.array((chord[1], -chord[0])) / length
        center = 0.5 * (start + end) + radius * np.cos(0.5 * sweep) * right
        error = max(error, *(abs(float(np.linalg.norm(p - center)) - radius) for p in (one, three)))
    return ends, bulges, error
