"""Sampling of closed curves to a stated chord tolerance, and where a function of the clock is nought or leaps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: No curve of a hot side needs more; a curve that does has a fault.
MOST_POINTS = 20_000
#: Clocks between which a function may change its sign.
_CLOCKS = 2.0 * np.pi * np.arange(720) / 720
#: A slope (no unit), an angle (degrees) or a difference of heights (mm) below this has no sure sign.
_NOUGHT = 1e-9
#: Halvings that bring half a degree down to far below a millionth of a millimetre round a pipe.
_HALVINGS = 24
#: The same that bring two degrees down to a few hundredths of a millimetre round a pipe: what still leaps there does so
#: for any saw or torch.
_LEAP_HALVINGS = 5
_PROBES = np.array([0.25, 0.5, 0.75])


def sampled(curve: Callable[[Array], Array], start: float, tolerance: float, *, first: int = 48) -> Array:
    """Return parameters, (n,), radians, from `start` to `start` + 2 pi, both ends included.

    curve: maps parameters (m,) to points (m, d), mm. Every chord between neighbouring
    parameters stays within `tolerance` mm of the curve at its quarter points, halving
    where it does not. Raises ValueError where the curve has no finite points.
    """
    t = start + np.linspace(0.0, 2.0 * np.pi, first + 1)
    while True:
        points = curve(t)
        if not np.isfinite(points).all():
            raise ValueError("the curve has points that do not exist")
        step = np.diff(t)
        probes = t[:-1, None] + step[:, None] * _PROBES
        true = curve(probes.ravel()).reshape(len(step), len(_PROBES), -1)
        chord = points[1:] - points[:-1]
        length = np.maximum(np.linalg.norm(chord, axis=1), 1e-12)
        along = chord / length[:, None]
        lag = true - points[:-1, None, :]
        foot = np.clip(np.einsum("ijk,ik->ij", lag, along), 0.0, length[:, None])
        miss = np.linalg.norm(lag - foot[..., None] * along[:, None, :], axis=2).max(axis=1)
        coarse = miss > tolerance
        if not coarse.any() or len(t) > MOST_POINTS or step[coarse].min() < 1e-9:
            return t
        t = np.sort(np.concatenate([t, t[:-1][coarse] + 0.5 * step[coarse]]))


def sign_changes(values: Callable[[Array], Array]) -> Array:
    """Return the clocks, (k,), radians, 0 to 2 pi, rising, at which `values`, a smooth function
    of clocks, (n,), passes through nought. Where it only touches nought it does not."""
    sampled_values = values(_CLOCKS)
    clear = np.flatnonzero(np.abs(sampled_values) > _NOUGHT)
    positive = sampled_values[clear] > 0.0
    turns = np.flatnonzero(positive != np.roll(positive, -1))
    low = _CLOCKS[clear[turns]]
    width = (_CLOCKS[np.roll(clear, -1)[turns]] - low) % (2.0 * np.pi)
    for _ in range(_HALVINGS):
        width = 0.5 * width
        low = np.where((values(low + width) > 0.0) == positive[turns], low + width, low)
    return np.sort((low + 0.5 * width) % (2.0 * np.pi))


def leap(values: Callable[[Array], Array], least: float) -> tuple[float, float] | None:
    """Return the clock, radians, at which `values` of clocks, (n,), leaps farthest, and how far, in its own unit; None
    where it leaps nowhere by `least` or more. Beside where it is nan it leaps without end. What it does within two
    degrees and takes back is not seen.

    >>> np.round(leap(lambda t: np.where(t < 1.0, 0.0, 5.0), 1.0), 9).tolist()
    [1.0, 5.0]
    >>> leap(lambda t: 50.0 * np.cos(t), 1.0)
    """

    def ends(theta: Array) -> Array:
        found = values(theta)
        return np.where(np.isnan(found), np.inf, found)

    low, width = _CLOCKS[::4], float(_CLOCKS[4])
    first = ends(low)
    last = np.roll(first, -1)
    for _ in range(_LEAP_HALVINGS):
        steep = ~(np.abs(last - first) < least)
        if not steep.any():
            return None
        low, first, last, width = low[steep], first[steep], last[steep], 0.5 * width
        middle = ends(low + width)
        left = ~(np.abs(middle - first) < np.abs(last - middle))
        low = np.where(left, low, low + width)
        first, last = np.where(left, first, middle), np.where(left, middle, last)
    sizes = np.abs(last - first)
    worst = int(np.argmax(sizes))
    return (float(low[worst]), float(sizes[worst])) if sizes[worst] >= least else None
