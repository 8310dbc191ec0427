"""Edges to a fraction of a pixel: where the cover changes most along the normal of a ring."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Image = NDArray[np.float32]

REACH = 4.0  # pixels to either side of a ring in which its edge is looked for
STEP = 0.5  # pixels
WEAK = 0.25  # of the whole change from ground to part: an edge that changes less is none
MOST_POINTS = 4000


def fine_edge(cover: Image, ring: Array) -> Array:
    """Return points (n, 2), pixels, on the edge that `ring` (m, 2), pixels, follows to within a few pixels.

    Each is the centroid of the gradient across the ring, which a symmetric blur does not move. Points where
    no clear edge is near are left out.
    """
    import cv2

    every = max(1, len(ring) // MOST_POINTS)
    smooth = _smoothed(ring, 3.0)
    along = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    normal = np.column_stack([along[:, 1], -along[:, 0]])[::every]
    at = smooth[::every]
    off = np.arange(-REACH, REACH + 0.5 * STEP, STEP)
    ok = np.ones(len(at), bool)
    for _ in range(2):
        places = (at[:, None, :] + off[None, :, None] * normal[:, None, :]).astype(np.float32)
        levels = np.vstack(
            [cv2.remap(
                    cover, part[..., 0].copy(), part[..., 1].copy(), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
                )
             for part in np.array_split(places, max(1, len(places) // 8000 + 1)) if len(part)]
        ).astype(np.float64)  # fmt: skip
        change = np.diff(levels, axis=1)
        sign = np.sign(np.median(levels[:, -1] - levels[:, 0]))
        rise = np.clip(sign * change, 0.0, None)
        # Away from the steepest place the change is texture and noise.
        peak = rise.max(axis=1, keepdims=True)
        rise = np.where(rise > 0.2 * peak, rise, 0.0)
        total = rise.sum(axis=1)
        ok &= total > WEAK
        shift = (rise @ (off[:-1] + 0.5 * STEP)) / np.maximum(total, 1e-9)
        at = at + np.where(ok, shift, 0.0)[:, None] * normal
    return at[ok]


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
