"""Does every piece stay clear of every keep-out, cold?"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least
from rootgap.geometry.distance import Body
from rootgap.joints import Cope, Joint
from rootgap.layout import Cap, Elbow, Layout, Piece, Plate

Array = NDArray[np.float64]

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
    skin = _skin(piece, reach)
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


def _skin(piece: Piece, reach: float | None) -> Callable[[Array, Array], Array]:
    """Return the map from the unit square to points, (n, 3), mm, on the outside of `piece`."""
    if isinstance(piece, Plate):
        rim = piece.part.edge().points(0.1)
        frame = piece.start

        def plate(u: Array, v: Array) -> Array:
            at = rim[np.minimum((u * len(rim)).astype(int), len(rim) - 1)]
            # Two faces and the edge between them: v runs in from the middle, down the edge, and back.
            inward = np.clip(np.minimum(v, 1.0 - v) * 4.0, 0.0, 1.0)
            depth = np.clip(2.0 * v - 0.5, 0.0, 1.0) * piece.part.thickness
            x, y = (rim.mean(axis=0) + inward[:, None] * (at - rim.mean(axis=0))).T
            right = np.cross(frame.ref, frame.axis)
            return frame.origin + x[:, None] * right + y[:, None] * frame.ref + depth[:, None] * frame.axis

        return plate
    r_out, start = piece.stock.r_out, piece.start
    if isinstance(piece, Elbow):

        def elbow(u: Array, v: Array) -> Array:
            turn, theta = np.radians(piece.angle) * v, 2.0 * np.pi * u
            towards = start.radial(np.radians(piece.clock))
            normal = np.cross(start.axis, towards)
            out = np.cos(theta)[:, None]
            at = start.origin + piece.radius * towards
            spoke = np.sin(turn)[:, None] * start.axis - np.cos(turn)[:, None] * towards
            return at + (piece.radius + r_out * out) * spoke + (r_out * np.sin(theta))[:, None] * normal

        return elbow
    if isinstance(piece, Cap):
        skirt, rise = piece.skirt, piece.rise

        def cap(u: Array, v: Array) -> Array:
            up = np.radians(90.0) * np.clip(2.0 * v - 1.0, 0.0, 1.0)
            station = skirt * np.minimum(2.0 * v, 1.0) + rise * np.sin(up)
            return start.origin + station[:, None] * start.axis + (r_out * np.cos(up))[:, None] * start.radial(
                2.0 * np.pi * u
            )

        return cap
    length = piece.length if reach is None else reach

    def straight(u: Array, v: Array) -> Array:
        return start.origin + (length * v)[:, None] * start.axis + r_out * start.radial(2.0 * np.pi * u)

    return straight
