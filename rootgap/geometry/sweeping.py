"""How far a thing can be moved straight on before it meets a body.

Each cell of its skin is taken as a ball that holds it, and goes on by no more than its distance from the body, which
is never steeper than 1: so nothing is passed over. Where a ball comes too near it is parted into smaller ones, down to
`FINE`; so what is told clear is clear, and what just slips by may be told to touch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body
from rootgap.geometry.skins import Skin

Array = NDArray[np.float64]

#: Smallest ball that is parted no more, and the shortest step, mm.
FINE, LEAST_STEP = 0.8, 0.2
#: Cells each way over a skin to begin with; balls at once, above which a thing counts as stopped.
CELLS, MOST_BALLS = 17, 100_000
_CORNERS = 0.5 * np.array([(x, y) for x in (-1.0, 0.0, 1.0) for y in (-1.0, 0.0, 1.0) if x or y])
_QUARTERS = 0.25 * np.array([(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)])


@dataclass(frozen=True, eq=False)
class Cells:
    """Cells of skins. skins: all; which: (n,), the skin that each is of; at: (n, 2), its middle on the unit square, and
    size: (n,), of it there; middles: (n, 3), mm; spread: (n,), how far its edge lies from its middle, mm."""

    skins: tuple[Skin, ...]
    which: NDArray[np.intp]
    at: Array
    size: Array
    middles: Array
    spread: Array

    @classmethod
    def over(cls, skins: Sequence[Skin]) -> Cells:
        """Return all of `skins` in even cells."""
        even = (np.arange(CELLS) + 0.5) / CELLS
        at = np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)
        count = len(skins)
        which = np.repeat(np.arange(count), len(at))
        return _placed(tuple(skins), which, np.tile(at, (count, 1)), np.full(len(which), 1.0 / CELLS))

    def kept(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Cells:
        """Return some of the cells."""
        return Cells(
            self.skins,
            self.which[chosen],
            self.at[chosen],
            self.size[chosen],
            self.middles[chosen],
            self.spread[chosen],
        )

    def moved(self, by: Array) -> Cells:
        """Return the cells as the skins are after a move by `by`, (3,), mm."""
        return replace(
            self, skins=tuple(_moved(skin, by) for skin in self.skins), middles=self.middles + by
        )

    def quartered(self) -> Cells:
        """Return the quarters of all cells, those of one cell together."""
        at = (self.at[:, None, :] + self.size[:, None, None] * _QUARTERS).reshape(-1, 2)
        return _placed(self.skins, np.repeat(self.which, 4), at, np.repeat(0.5 * self.size, 4))


def _moved(skin: Skin, by: Array) -> Skin:
    return lambda u, v: skin(u, v) + by


def _placed(skins: tuple[Skin, ...], which: NDArray[np.intp], at: Array, size: Array) -> Cells:
    middles, spread = np.empty((len(at), 3)), np.zeros(len(at))
    for index in np.unique(which):
        mine = which == index
        skin, here = skins[index], at[mine]
        middles[mine] = skin(here[:, 0], here[:, 1])
        edge = np.clip(here[:, None, :] + size[mine][:, None, None] * _CORNERS, 0.0, 1.0).reshape(-1, 2)
        lag = skin(edge[:, 0], edge[:, 1]).reshape(-1, len(_CORNERS), 3) - middles[mine][:, None]
        spread[mine] = np.linalg.norm(lag, axis=2).max(axis=1)
    return Cells(skins, which, at, size, middles, spread)


def swept(
    cells: Cells,
    direction: Array,
    travel: float,
    body: Body,
    room: float,
    *,
    whole: bool = False,
    fine: float = FINE,
) -> float:
    """Return how far, mm, up to `travel` mm, `cells` can go in `direction`, (3,), unit, and stay `room` mm and more
    from `body`; `travel` where nothing stops them. Never more than they can. whole: only whether they can go all the
    way is asked, and any figure below `travel` may come where they cannot; fine: of the smallest ball that is parted
    no more, mm."""
    gone = np.zeros(len(cells.which))
    stop = travel
    while len(gone):
        off = body.distance(cells.middles + gone[:, None] * direction) - room
        hit = off < 0.0
        step = off - cells.spread
        tight = ~hit & (step < LEAST_STEP)
        ended = hit | (tight & (cells.spread <= fine))
        stop = min(stop, float(np.min(gone[ended], initial=stop)))
        if whole and stop < travel:
            return stop
        going = np.flatnonzero(~hit & ~tight)
        parting = np.flatnonzero(tight & ~ended & (gone < stop))
        if len(going) + 4 * len(parting) > MOST_BALLS:
            return min(stop, float(gone[parting].min()))
        further, back = gone[going] + step[going], np.repeat(gone[parting], 4)
        going, further = going[further < stop], further[further < stop]
        parts = cells.kept(parting).quartered() if len(parting) else cells.kept(parting)
        cells, gone = _joined(cells.kept(going), parts), np.append(further, back)
    return stop


def _joined(one: Cells, other: Cells) -> Cells:
    return Cells(
        one.skins,
        np.append(one.which, other.which),
        np.vstack([one.at, other.at]),
        np.append(one.size, other.size),
        np.vstack([one.middles, other.middles]),
        np.append(one.spread, other.spread),
    )
