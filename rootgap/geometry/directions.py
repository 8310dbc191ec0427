"""Directions spread over the sphere."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def evenly(count: int) -> Array:
    """Return `count` directions, (n, 3), unit, evenly over the sphere. Source: Fibonacci's spiral, elementary.

    >>> float(np.abs(evenly(500).mean(axis=0)).max()) < 0.01
    True
    """
    index = np.arange(count) + 0.5
    up = 1.0 - 2.0 * index / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * index
    flat = np.sqrt(1.0 - up * up)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), up])
