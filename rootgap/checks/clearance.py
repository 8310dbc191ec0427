"""Does every piece stay clear of every keep-out, cold?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_least
from rootgap.geometry.distance import Body
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout, Piece

#: Samples each way over a piece's skin, and how often the best place is looked at more closely.
_GRID, _ROUNDS = 33, 12


def clearances(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the nearest piece to each keep-out, mm."""
    reach = {joint.branch.piece: joint.cut_range[1] for joint in joints if isinstance(joint, Cope)}
    for name, keepout in layout.keepouts.items():
        gaps = {piece.id: _gap(piece, keepout.body, reach.get(piece.id)) for piece in layout.pieces()}
        nearest = min(gaps, key=lambda piece: gaps[piece])
        yield at_least(
            "clearance",
            f"keepout.{name} to {nearest}",
            gaps[nearest],
            keepout.clearance,
            "mm",
            "the parameter file",
            f"{keepout.clearance - gaps[nearest]:.1f} mm short: move the run away, or turn an elbow's clock",
        )


def _gap(piece: Piece, body: Body, reach: float | None) -> float:
    """Return the least distance, mm, from the outside of `piece` to `body`; below nought they meet.

    A grid over the skin, then finer ones round its best place: the distance to a body is never
    steeper than 1, so that the last grid's step bounds what is missed.
    """
    skin = piece.skin(reach)
    low, high = np.zeros(2), np.ones(2)
    best = np.inf
    for _ in range(_ROUNDS):
        u, v = (grid.ravel() for grid in np.meshgrid(*np.linspace(low, high, _GRID).T))
        gaps = body.distance(skin(u, v))
        at = int(np.argmin(gaps))
        best = min(best, float(gaps[at]))
        middle, step = np.array([u[at], v[at]]), (high - low) / (_GRID - 1)
        low, high = np.maximum(middle - 2.0 * step, 0.0), np.minimum(middle + 2.0 * step, 1.0)
    return best
