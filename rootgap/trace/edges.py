"""Edges to a fraction of a pixel: where the cover changes most along the normal of a ring."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Image = NDArray[np.float32]

WIDE = 12.0  # pixels to either side of a ring in which its edge is looked for
REACH = 4.0  # pixels to either side of the edge that its gradient is weighed over
STEP = 0.5  # pixels
WEAK = 0.25  # of the whole change from ground to part: an edge that changes less is none
MOST_POINTS = 4000


def fine_edge(cover: Image, ring: Array) -> Array:
    """Return points (n, 2), pixels, on the edge that `ring` (m, 2), pixels, follows roughly.

    The steepest place within WIDE pixels is taken first: a ring that follows a shadow comes to the edge beside it.
    Each point is then the centroid of the gradient across the edge, which a symmetric blur does not move. Points
    where no clear edge is near are left out.
    """
    every = max(1, len(ring) // MOST_POINTS)
    smooth = _smoothed(ring, 3.0)
    along = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    normal = np.column_stack([along[:, 1], -along[:, 0]])[::every]
    at = smooth[::every]
    near, rise = _rise(cover, at, normal, REACH, 0.0)
    sign = np.sign(np.median(rise.sum(axis=1)))
    # Not across to another edge, in a small hole.
    wide, rise = _rise(cover, at, normal, min(WIDE, 0.2 * float(np.ptp(ring, axis=0).min())), sign)
    if len(wide) > 2:
        even = rise[:, :-2] + 2.0 * rise[:, 1:-1] + rise[:, 2:]
        # Of places as steep the nearest.
        at = at + wide[1 + np.argmax(even * (1.0 - 0.3 * np.abs(wide[1:-1]) / WIDE), axis=1)][:, None] * normal
    ok = np.ones(len(at), bool)
    for _ in range(2):
        near, rise = _rise(cover, at, normal, REACH, sign)
        # Away from the steepest place the change is texture and noise.
        rise = np.where(rise > 0.2 * rise.max(axis=1, keepdims=True), rise, 0.0)
        total = rise.sum(axis=1)
        ok &= total > WEAK
        at = at + np.where(ok, (rise @ near) / np.maximum(total, 1e-9), 0.0)[:, None] * normal
    return at[ok]


def _rise(cover: Image, at: Array, normal: Array, reach: float, sign: float) -> tuple[Array, Array]:
    """Return places along the normals, (k,), pixels, and how much the cover rises there, (n, k), the falls left out.

    sign: of what counts as a rise; 0 for both, each with its own sign.
    """
    import cv2

    off = np.arange(-reach, reach + 0.5 * STEP, STEP)
    places = (at[:, None, :] + off[None, :, None] * normal[:, None, :]).astype(np.float32)
    levels = cv2.remap(
        cover, places[..., 0].copy(), places[..., 1].copy(), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    change = np.diff(np.asarray(levels, np.float64), axis=1)
    return off[:-1] + 0.5 * STEP, np.clip(sign * change, 0.0, None) if sign else change


def _smoothed(ring: Array, spread: float) -> Array:
    """Return a closed ring with its steps from pixel to pixel evened out over `spread` points."""
    if len(ring) < 16:
        return ring
    t = np.arange(-int(3 * spread), int(3 * spread) + 1)
    kernel = np.exp(-0.5 * np.square(t / spread))
    kernel /= kernel.sum()
    around = np.vstack([ring[-len(t) :], ring, ring[: len(t)]])
    smooth = np.column_stack([np.convolve(around[:, k], kernel, mode="same") for k in (0, 1)])
    return smooth[len(t) : -len(t)]
