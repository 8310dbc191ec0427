"""Which layouts are worth a look: the order of a file's goal, the front of the trade-off, and a few spread over it.

Terminology
    cost     a figure as a number of which less is better: margin counts up to what is enough, and below nought; what is
             beyond that counts last
    front    the layouts that no other one is as good as in every figure and better in one
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from rootgap.search.judge import Figures
from rootgap.spec import GoalSpec

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

#: Figures nearer to each other than this count as equal: mm of margin, welds, mm of pipe, degrees.
STEPS: Mapping[str, float] = {"margin": 0.1, "welds": 1.0, "pipe": 1.0, "turn": 0.5}
#: The same of margin beyond enough, mm.
BEYOND = 1.0
#: The front is looked for among so many by each figure.
_MOST = 20_000


def costs_of(figures: Figures, welds: Array, goal: GoalSpec) -> Array:
    """Return costs, (n, 5), in steps of each figure, the one that counts first in front, and last what margin there is
    beyond enough. welds: (n,), no unit."""
    margin = np.minimum(figures.margin, goal.margin.enough)
    beyond = np.where(np.isfinite(figures.margin), figures.margin - margin, 0.0)
    found = {"margin": -margin, "welds": welds, "pipe": figures.pipe, "turn": figures.turn}
    ranked = [np.round(found[word] / STEPS[word]) for word in goal.order]
    return np.column_stack([*ranked, np.round(-beyond / BEYOND)])


def limits_of(figures: Figures, welds: Array, goal: GoalSpec) -> Mapping[str, Array]:
    """Return by how much, (n,), in its unit (mm, welds, degrees), each figure keeps the goal's limit: below nought it
    does not. welds: (n,)."""
    found = {"welds": welds, "pipe": figures.pipe, "turn": figures.turn}
    return {word: limit.most - found[word] for word in found if (limit := getattr(goal, word)) is not None}


def in_order(costs: Array) -> Rows:
    """Return the rows of `costs`, (n, 5), no unit, the best first; of equals the first in the grid."""
    return np.lexsort(costs.T[::-1])


def front(costs: Array) -> Rows:
    """Return the rows, best first, of `costs`, (n, 5), no unit, that are on the front, one of equals."""
    order = in_order(costs)
    if len(order) > _MOST:
        best = {row for column in range(costs.shape[1]) for row in np.argsort(costs[:, column], kind="stable")[:_MOST]}
        order = np.array([row for row in order if row in best], dtype=np.intp)
    found: list[int] = []
    while order.size:
        first = order[0]
        found.append(int(first))
        order = order[(costs[order] < costs[first]).any(axis=1)]
    return np.array(found, dtype=np.intp)


def spread(costs: Array, rows: Rows, count: int) -> Rows:
    """Return up to `count` of `rows`, best first, far from each other: the best, the best by each figure, and then time
    and again the one that is farthest from all taken. costs: (n, 5), no unit."""
    if len(rows) <= count:
        return rows
    here = costs[rows]
    size = np.maximum(np.ptp(here, axis=0), 1.0)
    at = here / size
    taken = list(dict.fromkeys([0, *(int(np.argmin(here[:, column])) for column in range(here.shape[1]))]))[:count]
    while len(taken) < count:
        away = np.min([np.linalg.norm(at - at[one], axis=1) for one in taken], axis=0)
        taken.append(int(np.argmax(away)))
    return rows[np.sort(taken)]
