"""The skin of anything cut from plate."""

from __future__ import annotations

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Path
from rootgap.layout.pieces.base import Array, Skin


def slab_skin(frame: Frame, edge: Path, thickness: float) -> Skin:
    """Return a map over both faces and the edge of a plate, its openings taken as filled. frame: at its drawing's
    origin, the axis through it and the ref its +y; thickness: mm."""
    right = -frame.side
    rim = edge.points(0.01)
    rim = np.vstack([rim, rim[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(rim, axis=0), axis=1))])
    middle = rim.mean(axis=0)

    def points(u: Array, v: Array) -> Array:
        at = np.column_stack([np.interp(u * along[-1], along, rim[:, axis]) for axis in (0, 1)])
        # v runs out over one face, down the edge, and back over the other.
        out = np.clip(np.minimum(v, 1.0 - v) * 4.0, 0.0, 1.0)
        depth = np.clip(2.0 * v - 0.5, 0.0, 1.0) * thickness
        x, y = (middle + out[:, None] * (at - middle)).T
        return frame.origin + x[:, None] * right + y[:, None] * frame.ref + depth[:, None] * frame.axis

    return points
