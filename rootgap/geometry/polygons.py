"""Points beside closed polylines: within them or not, and how far off."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def to_outline(points: Array, outline: Array) -> Array:
    """Return the distances, (n,), mm, of `points`, (n, d), from a closed polyline, (m, d), mm."""
    along = np.roll(outline, -1, axis=0) - outline
    lag = points[:, None] - outline
    share = np.clip(np.einsum("nmd,md->nm", lag, along) / np.einsum("md,md->m", along, along), 0.0, 1.0)
    return np.linalg.norm(lag - share[..., None] * along, axis=-1).min(axis=1)


def inside(points: Array, outline: Array) -> NDArray[np.bool_]:
    """Return which of `points`, (n, 2), lie within a closed polyline, (m, 2), both in one unit each way.

    Source: even-odd rule, elementary.
    """
    ends = np.roll(outline, -1, axis=0)
    height = points[:, 1, None]
    spans = (outline[:, 1] > height) != (ends[:, 1] > height)
    rise = np.where(ends[:, 1] == outline[:, 1], 1.0, ends[:, 1] - outline[:, 1])
    crossing = outline[:, 0] + (height - outline[:, 1]) * (ends[:, 0] - outline[:, 0]) / rise
    return (spans & (points[:, 0, None] < crossing)).sum(axis=1) % 2 == 1
