"""The least distance from a piece's outside to a body."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body
from rootgap.joints import Cuts, reach
from rootgap.layout.pieces import Piece, Skin

Array = NDArray[np.float64]

#: Cells each way over a skin to begin with, how often they are quartered, how many are kept at most, and
#: how close to the least the answer must be, mm.
CELLS, ROUNDS, MOST, CLOSE = 33, 12, 6000, 0.02
_CORNERS = 0.5 * np.array([(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)])


def finished_skin(piece: Piece, cuts: Cuts) -> Skin:
    """Return the skin of a piece as far as its cut ends reach."""
    return piece.skin(reach(cuts, piece.id, piece.length) if piece.id in cuts else None)


def gap(skin: Skin, body: Body, enough: float = np.inf) -> float:
    """Return the least distance, mm, from a skin to `body`; below nought they meet. Once it is known to be
    above `enough`, mm, any figure above that may come.

    Branch and bound: a cell of the skin goes on only while its middle's distance, less how far its
    corners lie from its middle, is below the best yet; the distance to a body is never steeper than 1.
    """
    even = (np.arange(CELLS) + 0.5) / CELLS
    at = np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)
    size, best = 1.0 / CELLS, np.inf
    for _ in range(ROUNDS):
        middles = skin(at[:, 0], at[:, 1])
        gaps = body.distance(middles)
        best = min(best, float(gaps.min()))
        corners = [np.clip(at + size * corner, 0.0, 1.0) for corner in _CORNERS]
        spread = np.max([np.linalg.norm(skin(uv[:, 0], uv[:, 1]) - middles, axis=1) for uv in corners], axis=0)
        bound = gaps - spread
        open_ = np.flatnonzero((bound < best - CLOSE) & (bound < enough))
        if not open_.size:
            break
        open_ = open_[np.argsort(bound[open_])[:MOST]]
        at = (at[open_, None, :] + 0.5 * size * _CORNERS).reshape(-1, 2)
        size *= 0.5
    return best
