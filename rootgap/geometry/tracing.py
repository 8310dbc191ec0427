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
Generators = Callable[[Indices, Array], Array]

#: Nearer than this, mm, a generator is taken to touch.
TOUCH = 1e-9
#: Within this, mm, steps are short, and the hit is closed in on from both sides.
NEAR = 1e-2
#: Nearer than this, mm, at its nearest, a generator that does not enter is a tangent.
TANGENT = 1e-7
#: Width of the look ahead, mm, at a gap of 1 mm: it grows with the root of the gap, as a dip does.
WIDE = 6.0
_MARCHES, _HALVINGS, _SECTIONS, _PARTS = 400, 60, 40, 16


def first_hits(curve: Generators, body: Body, starts: Array, reach: Array) -> Array:
    """Return where each of n generators first meets `body`: travel from its start, (n,), mm; nan
    where it does not within its `reach`, (n,), mm.

    curve: maps which generators, (m,) integers, and travels, (m,), mm, to points, (m, 3), mm, at unit
    speed; starts: (n,), mm, where the search begins. A generator that starts inside hits at its start.
    """
    count = len(starts)
    travel = np.array(starts, dtype=np.float64)
    found = np.full(count, np.nan)
    live = np.arange(count)
    for _ in range(_MARCHES):
        gap = body.distance(curve(live, travel[live]))
        touching = gap <= TOUCH
        found[live[touching]] = travel[live[touching]]
        live, gap = live[~touching], gap[~touching]
        if not live.size:
            return found
        near = gap < NEAR
        closing = live[near]
        if closing.size:
            hit, at = _closed_in(curve, body, closing, travel[closing], gap[near])
            found[closing[hit]] = at[hit]
            travel[closing] = at
            live = np.concatenate([live[~near], closing[~hit]])
            gap = np.concatenate([gap[~near], np.zeros(int((~hit).sum()))])
        travel[live] += gap
        live = live[travel[live] <= reach[live]]
    # What still creeps along the skin after so many steps grazes it: it hits where it has come to.
    found[live] = travel[live]
    return found


def _closed_in(
    curve: Generators, body: Body, which: Indices, travel: Array, gap: Array
) -> tuple[NDArray[np.bool_], Array]:
    """Return whether each generator near the skin enters within a short step, and its travel there:
    the hit, or the end of the step that was found clear.

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
    if hit.any():
        high[hit] = _bisected(curve, body, which[hit], low[hit], high[hit])
    dip = ~hit & (first < _PARTS - 1) & (gaps[rows, first] < NEAR)
    if dip.any():
        at = _deepest(curve, body, which[dip], low[dip], ahead[rows, np.minimum(first + 1, _PARTS - 1)][dip])
        touches = body.distance(curve(which[dip], at)) < TANGENT
        hit[np.flatnonzero(dip)[touches]] = True
        high[np.flatnonzero(dip)[touches]] = at[touches]
    return hit, np.where(hit, high, travel + step)


def _bisected(
    curve: Generators, body: Body, which: Indices, low: Array, high: Array
) -> Array:
    """Return the travels between `low` (clear) and `high` (inside) at which the generators enter."""
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        inside = body.distance(curve(which, middle)) <= 0.0
        low, high = np.where(inside, low, middle), np.where(inside, middle, high)
        if float(np.max(high - low)) < 1e-11:
            break
    return high


def _deepest(
    curve: Generators, body: Body, which: Indices, low: Array, high: Array
) -> Array:
    """Return the travels between `low` and `high` at which the generators come nearest to the body,
    by golden sections."""
    ratio = 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(_SECTIONS):
        a, b = high - ratio * (high - low), low + ratio * (high - low)
        left = body.distance(curve(which, a)) < body.distance(curve(which, b))
        low, high = np.where(left, low, a), np.where(left, b, high)
    return 0.5 * (low + high)
