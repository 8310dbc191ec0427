"""First hits of curves on bodies, with the certainty that nothing earlier was stepped over.

Terminology: a *generator* is a curve travelled at unit speed. The distance to a body changes no
faster than the travel, so that a step as long as the distance cannot pass the body (sphere tracing).

Source: J. C. Hart, "Sphere tracing: a geometric method for the antialiased ray tracing of implicit
surfaces", The Visual Computer 12 (1996) 527-545, for steps bounded by a distance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
#: Maps which generators, (m,), and their travels, (m,), mm, to points, (m, 3), mm.
Curve = Callable[[Indices, Array], Array]

#: Nearer than this, mm, a generator is taken to touch.
TOUCH = 1e-9
#: Within this, mm, steps are short, and the hit is closed in on from both sides.
NEAR = 1e-2
#: Nearer than this, mm, at its nearest, a generator that does not enter is a tangent.
TANGENT = 1e-7
#: Width of the look ahead, mm, at a gap of 1 mm: it grows with the root of the gap, as a dip does.
WIDE = 6.0
#: A hit is closed in on to this, mm.
FINEST = 1e-10
#: Steps beside a skin that a generator runs along for a decimetre a few hundredths of a millimetre off it.
_MARCHES = 10_000
_STEPS, _SECTIONS, _PARTS = 60, 40, 16


def first_hits(curve: Curve, body: Body, starts: Array, reach: Array) -> Array:
    """Return where each of n generators first meets `body`: travel from its start, (n,), mm; nan
    where it does not within its `reach`, (n,), mm.

    curve: maps which generators, (m,) integers, and travels, (m,), mm, to points, (m, 3), mm, at unit
    speed; starts: (n,), mm, where the search begins. A generator that starts inside hits at its start.
    """
    count = len(starts)
    travel = np.array(starts, dtype=np.float64)
    found = np.full(count, np.nan)
    low = np.full(count, np.nan)
    live = np.arange(count)
    for _ in range(_MARCHES):
        gap = body.distance(curve(live, travel[live]))
        touching = gap <= TOUCH
        found[live[touching]] = low[live[touching]] = travel[live[touching]]
        live, gap = live[~touching], gap[~touching]
        near = gap < NEAR
        closing = live[near]
        if closing.size:
            hit, before, at = _closed_in(curve, body, closing, travel[closing], gap[near])
            found[closing[hit]], low[closing[hit]] = at[hit], before[hit]
            travel[closing] = at
            live = np.concatenate([live[~near], closing[~hit]])
            gap = np.concatenate([gap[~near], np.zeros(int((~hit).sum()))])
        travel[live] += gap
        live = live[travel[live] <= reach[live]]
        if not live.size:
            break
    # What still creeps along the skin after so many steps grazes it: it hits where it has come to.
    found[live] = low[live] = travel[live]
    open_ = np.flatnonzero(found - low > FINEST)
    if open_.size:
        found[open_] = _entered(curve, body, open_, low[open_], found[open_])
    return np.where(found <= reach, found, np.nan)


def _closed_in(
    curve: Curve, body: Body, which: Indices, travel: Array, gap: Array
) -> tuple[NDArray[np.bool_], Array, Array]:
    """Return whether each generator near the skin enters within a short step, and travels before and
    after it does; the last is the end of the step where it was found clear.

    The step is a few times the gap, and wide enough to look past a dip whose sides are curved like a
    pipe's. A generator that comes within `TANGENT` at the bottom of a dip touches there.
    """
    step = 4.0 * gap + np.sqrt(gap) * WIDE
    shares = np.arange(1, _PARTS + 1) / _PARTS
    ahead = travel[:, None] + step[:, None] * shares
    gaps = body.distance(curve(np.repeat(which, _PARTS), ahead.ravel())).reshape(ahead.shape)
    inside = gaps <= 0.0
    hit = np.asarray(inside.any(axis=1))
    rows = np.arange(len(which))
    first = np.where(hit, np.argmax(inside, axis=1), np.argmin(gaps, axis=1))
    high = ahead[rows, first]
    low = np.where(first > 0, ahead[rows, first - 1], travel)
    dip = np.flatnonzero(~hit & (first < _PARTS - 1) & (gaps[rows, first] < NEAR))
    if dip.size:
        at = _deepest(curve, body, which[dip], low[dip], ahead[dip, first[dip] + 1])
        touches = body.distance(curve(which[dip], at)) < TANGENT
        hit[dip[touches]] = True
        low[dip[touches]] = high[dip[touches]] = at[touches]
    return hit, low, np.where(hit, high, travel + step)


def _entered(curve: Curve, body: Body, which: Indices, low: Array, high: Array) -> Array:
    """Return the travels between `low` (clear) and `high` (inside) at which the generators enter.

    Source: the Illinois form of false position, G. Dahlquist and A. Bjorck, Numerical Methods (1974).
    """
    above, below = body.distance(curve(which, low)), body.distance(curve(which, high))
    side = np.zeros(len(which), dtype=np.intp)
    for _ in range(_STEPS):
        middle = low + (high - low) * np.clip(above / np.maximum(above - below, 1e-300), 0.0, 1.0)
        gap = body.distance(curve(which, middle))
        inside = gap <= 0.0
        # A side that stays twice running counts half, so that both close in.
        above = np.where(inside & (side == 1), 0.5 * above, above)
        below = np.where(~inside & (side == -1), 0.5 * below, below)
        low, above = np.where(inside, low, middle), np.where(inside, above, gap)
        high, below = np.where(inside, middle, high), np.where(inside, gap, below)
        side = np.where(inside, 1, -1)
        if float(np.max(np.minimum(np.abs(gap), high - low))) < FINEST:
            break
    return middle


def _deepest(
    curve: Curve, body: Body, which: Indices, low: Array, high: Array
) -> Array:
    """Return the travels between `low` and `high` at which the generators come nearest to the body,
    by golden sections."""
    ratio = 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(_SECTIONS):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        left = body.distance(curve(which, a)) < body.distance(curve(which, b))
        low, high = np.where(left, low, a), np.where(left, b, high)
    return 0.5 * (low + high)
