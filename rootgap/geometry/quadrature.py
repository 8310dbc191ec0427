"""Nodes and weights of Gauss and Legendre's quadrature, worked out once."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray


@lru_cache(maxsize=32)
def gauss(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the nodes, (count,), from -1 to 1, and their weights, (count,), both of no unit and not to be written to.

    Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 25.4.29.

    >>> nodes, weights = gauss(3)
    >>> round(float(weights @ nodes**4), 12)
    0.4
    """
    nodes, weights = np.polynomial.legendre.leggauss(count)
    nodes.flags.writeable = weights.flags.writeable = False
    return nodes, weights
