"""Fitting arcs and lines to the points of a free-form curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.paths import Path

Array = NDArray[np.float64]
Points = NDArray[np.complex128]

#: mm. Neighbouring points nearer than this are one corner of the outline.
LEAST = 1e-9
#: mm. An arc of a larger radius is drawn as a line.
_MOST_RADIUS = 1e5


def smoothed(points: ArrayLike, tolerance: float) -> Path:
    """Return the open path from the first to the last of `points`, (n, 2), mm, as few arcs and
    lines as stay within `tolerance` mm of the chords between them; each begins and ends at a point.

    Points whose own chords are coarser than the tolerance are left as lines.

    Arcs are found by doubling and halving the reach of each, so that none can be lengthened by one
    point. A corner ends an arc by itself, for no arc through it keeps to the tolerance.

    >>> t = np.linspace(0.0, np.pi, 400)
    >>> len(smoothed(np.column_stack([np.cos(t), np.sin(t)]) * 40, 0.001).vertices)
    2
    """
    rows = np.asarray(points, dtype=np.float64)
    kept = np.concatenate([[True], np.linalg.norm(np.diff(rows, axis=0), axis=1) > LEAST])
    z: Points = rows[kept] @ np.array([1.0, 1j])
    vertices: list[tuple[float, float, float]] = []
    at = 0
    while at < len(z) - 1:
        reach, bulge, size = 1, 0.0, 2
        while size >= 1:
            found = _arc(z[at : at + reach + size + 1], tolerance) if at + reach + size < len(z) else None
            if found is None:
                size //= 2
            else:
                reach, bulge, size = reach + size, found, 2 * size
        vertices.append((float(z[at].real), float(z[at].imag), bulge))
        at += reach
    return Path((*vertices, (float(z[-1].real), float(z[-1].imag), 0.0)))


def smoothed_ring(points: ArrayLike, tolerance: float) -> Path:
    """Return the closed path through `points`, (n, 2), mm, the first of them not again at the end, as few arcs and
    lines as stay within `tolerance` mm of its chords.

    It begins at its sharpest corner, so that no arc ends where the curve runs smoothly on for want of a better place.

    >>> t = 2.0 * np.pi * np.arange(720) / 720
    >>> ring = smoothed_ring(np.column_stack([np.cos(t), np.sin(t)]) * 40, 0.005)
    >>> len(ring.vertices), round(ring.area / (np.pi * 40**2), 4)
    (2, 1.0)
    """
    rows = np.asarray(points, dtype=np.float64)
    rows = rows[np.linalg.norm(rows - np.roll(rows, 1, axis=0), axis=1) > LEAST]
    z: Points = rows @ np.array([1.0, 1j])
    turn = np.abs(np.angle((np.roll(z, -1) - z) / (z - np.roll(z, 1))))
    rows = np.roll(rows, -int(np.argmax(np.round(turn, 9))), axis=0)
    return Path(smoothed(np.vstack([rows, rows[:1]]), tolerance).vertices[:-1], closed=True)


def _arc(z: Points, tolerance: float) -> float | None:
    """Return the bulge of the arc, at most half a turn, through the ends and the middle of `z`, or
    None where one of its points or of its chords' middles lies further off than `tolerance` mm."""
    chord = z[-1] - z[0]
    if abs(chord) <= LEAST:
        return None
    local = (z - z[0]) / chord  # the ends at 0 and 1
    if (np.diff(local.real) <= 0.0).any():
        return None  # it turns back: beyond half a turn, or round a corner
    middle = local[len(local) // 2]
    # The circle through 0, 1 and the middle has its centre at 1/2 + i k.
    lift = middle.imag
    k = (abs(middle) ** 2 - middle.real) / (2.0 * lift) if abs(lift) > 1e-15 else np.inf
    radius = np.hypot(0.5, k)
    if radius * abs(chord) > _MOST_RADIUS:
        return 0.0 if np.abs(local.imag).max() * abs(chord) <= tolerance else None
    probes = np.concatenate([local, (local[1:] + local[:-1]) / 2])
    off = np.abs(np.abs(probes - (0.5 + 1j * k)) - radius)
    if off.max() * abs(chord) > tolerance:
        return None
    # An arc that bulges to the right of its chord turns anticlockwise.
    rise = radius - abs(k) if lift * k <= 0.0 else radius + abs(k)
    return float(-np.sign(lift) * 2.0 * rise)
