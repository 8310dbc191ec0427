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

#: Nearer than this, mm, a generator is taken to touch.
TOUCH = 1e-9
#: Within this, mm, steps are short, and the hit is closed in on from both sides.
NEAR = 1e-2
_MARCHES, _HALVINGS = 400, 60


def first_hits(curve: Callable[[Array, Array], Array], body: Body, starts: Array, reach: Array) -> Array:
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
    curve: Callable[[Array, Array], Array], body: Body, which: Array, travel: Array, gap: Array
) -> tuple[Array, Array]:
    """Return whether each generator near the skin enters within a short step, and its travel there:
    the hit, or the end of the step that was found clear.

    The step is cut into so many parts that the distance cannot dip below nought between two clear ends
    unseen by more than the parts' own length, which is far below what any file promises.
    """
    parts = 16
    step = 4.0 * np.maximum(gap, 1e-6)
    low, high = travel.copy(), travel + step
    hit = np.zeros(len(which), dtype=bool)
    before = travel.copy()
    for part in range(1, parts + 1):
        at = travel + step * part / parts
        inside = body.distance(curve(which, at)) <= 0.0
        new = inside & ~hit
        low[new], high[new] = before[new], at[new]
        hit |= inside
        before = at
    if hit.any():
        a, b, of = low[hit], high[hit], which[hit]
        for _ in range(_HALVINGS):
            middle = 0.5 * (a + b)
            inside = body.distance(curve(of, middle)) <= 0.0
            a, b = np.where(inside, a, middle), np.where(inside, middle, b)
            if float(np.max(b - a)) < 1e-10:
                break
        high[hit] = b
    return hit, high
