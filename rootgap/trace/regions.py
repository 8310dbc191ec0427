"""What of a plan is metal (or gasket): its outer edge and the holes in it.

Terminology:

    ground     what the part lies on: paper, or a scanner's lid; uneven light makes its level change slowly
    cover      how much of a pixel the part covers, 0 for the ground, 1 for the part
    speck      a patch of cover off the part, or a hole in it, too small to be one of its features
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import PictureError
from rootgap.trace.picture import Pixels
from rootgap.trace.plan import Plan

Array = NDArray[np.float64]
Image = NDArray[np.float32]

#: Dirt and print thinner than this, mm, is taken off or filled.
THIN = 0.9
#: Nothing smaller than this, mm2, is taken for a part.
LEAST_PART = 150.0
#: Level of the part over the ground's, share, below which it cannot be told from noise.
LEAST_CONTRAST = 0.035
#: A ground darker than this, of 255, is a dark one: levels are compared by difference there.
DARK = 60.0
STRIP = 64  # rows
_SMALL = 300  # pixels; the longer side of the picture in which the ground is found


@dataclass(frozen=True, eq=False)
class Regions:
    """The part in a plan. Rings are (n, 2), pixels (column, row), closed without a repeated point.

    cover: (rows, columns); rim: the outer edge; holes: the holes in it; others: rings of what else lies there,
    largest first.
    """

    cover: Image
    rim: Array
    holes: tuple[Array, ...]
    others: tuple[Array, ...]


def regions(plan: Plan, name: str) -> Regions:
    """Return the largest part in the plan. name: of the file, for messages.

    Raises PictureError where nothing stands out, nothing is large enough, or the part is not whole.
    """
    import cv2

    cover = _cover(plan, name)
    mask = np.asarray(cv2.GaussianBlur(cover, (0, 0), 1.0) > 0.5, np.uint8)
    size = max(3, round(THIN / max(plan.pitch)) | 1)
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    # A frame of ground, so that what touches the border is not worn off there.
    framed = cv2.copyMakeBorder(mask, size, size, size, size, cv2.BORDER_REPLICATE)
    framed = cv2.morphologyEx(cv2.morphologyEx(framed, cv2.MORPH_CLOSE, round_), cv2.MORPH_OPEN, round_)
    mask = np.asarray(framed[size:-size, size:-size], np.uint8).copy()
    found, tree = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    rings = [np.asarray(ring, dtype=np.float64).reshape(-1, 2) for ring in found]
    parents = [] if tree is None else [int(row[3]) for row in np.asarray(tree).reshape(-1, 4)]
    outer = [k for k, parent in enumerate(parents) if parent < 0]
    areas = {k: float(cv2.contourArea(found[k])) * plan.pitch[0] * plan.pitch[1] for k in outer}
    outer.sort(key=lambda k: -areas[k])
    holed = set(parents)
    whole = [k for k in outer if not _at_border(rings[k], mask.shape)]
    cut = [k for k in outer if k not in whole and areas[k] >= LEAST_PART and k in holed]
    best = whole[0] if whole else None
    if cut and (best is None or areas[cut[0]] > areas[best]):
        what = "the part runs off the picture"
        raise PictureError(name, what, "lay it whole on the glass or sheet, a finger's width of ground all round")
    if best is None or areas[best] < LEAST_PART:
        raise _nothing(name)
    holes = tuple(rings[k] for k, parent in enumerate(parents) if parent == best)
    return Regions(cover, rings[best], holes, tuple(rings[k] for k in outer if k != best))


def _nothing(name: str) -> PictureError:
    what = "no part is found: nothing of size stands out from its ground"
    remedy = "lay a dark part on white paper or a light one on black, and scan it in colour or grey"
    return PictureError(name, what, remedy)


def _at_border(ring: Array, shape: tuple[int, ...]) -> bool:
    low, high = ring.min(axis=0), ring.max(axis=0)
    return bool((low <= 0).any() or high[0] >= shape[1] - 1 or high[1] >= shape[0] - 1)


def _cover(plan: Plan, name: str) -> Image:
    """Return how much of each pixel the part covers. Raises PictureError where nothing stands out.

    Levels are divided by the ground's, a surface of the second degree fitted to what is ground, and weighed
    along the colour that parts the part from it most.
    """
    import cv2

    pixels = plan.pixels
    high, wide = pixels.shape[:2]
    factor = max(1.0, max(high, wide) / _SMALL)
    size = max(8, round(wide / factor)), max(8, round(high / factor))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA).astype(np.float64)
    usable = _usable(plan, size)
    ground, terms = _ground(small, usable)
    dark = float(np.median(ground[usable])) < DARK
    levels = (small - ground) / 255.0 if dark else small / np.maximum(ground, 1.0) - 1.0
    off = np.where(usable, np.abs(levels).max(axis=2), 0.0)
    part = off > max(_parted(off[usable]), 0.5 * LEAST_CONTRAST)
    if part.sum() < 20:
        raise _nothing(name)
    colour = np.median(levels[part], axis=0)
    if np.abs(colour).max() < LEAST_CONTRAST:
        raise _nothing(name)
    weights = colour / float(colour @ colour)
    cover = np.empty((high, wide), np.float32)
    # In strips, whose arrays stay small and near.
    for top in range(0, high, STRIP):
        rows = slice(top, min(top + STRIP, high))
        cover[rows] = _covered(pixels[rows], rows, (high, wide), terms, weights, dark=dark)
    for box in plan.painted:
        cv2.fillConvexPoly(cover, np.round(plan.to_pixels(box)).astype(np.int32), 0.0)
    if plan.seen is not None:
        cover[~plan.seen] = 0.0
    return cover


def _usable(plan: Plan, size: tuple[int, int]) -> NDArray[np.bool_]:
    import cv2

    usable = np.ones(plan.pixels.shape[:2], np.uint8) if plan.seen is None else plan.seen.astype(np.uint8)
    for box in (*plan.painted, *plan.hidden):
        cv2.fillConvexPoly(usable, np.round(plan.to_pixels(box)).astype(np.int32), 0)
    return cv2.resize(usable, size, interpolation=cv2.INTER_AREA) > 0


def _ground(small: Array, usable: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Return the ground of a small picture, (rows, columns, 3), and its terms, (6, 3).

    It starts from the pixels nearest to the border, and takes in what is of its level.
    """
    import cv2

    high, wide = usable.shape
    terms = _terms(wide, high).reshape(-1, 6)
    levels = small.reshape(-1, 3)
    padded = cv2.copyMakeBorder(usable.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    inward = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    frame = (usable & (inward <= 0.06 * min(high, wide))).ravel()
    # Of the frame, what is of its own middle level: hair, lid edges and shadows go.
    middle = np.median(levels[frame], axis=0)
    near = np.abs(levels[frame] - middle).max(axis=1)
    chosen = np.flatnonzero(frame)[near <= max(25.0, 2.0 * float(np.median(near)))]
    fit = np.zeros((6, 3))
    for turn in range(8):
        columns = 3 if turn < 2 else 6
        fit = np.zeros((6, 3))
        some = terms[chosen, :columns]
        fit[:columns] = np.linalg.solve(some.T @ some + 1e-9 * np.eye(columns), some.T @ levels[chosen])
        miss = np.abs(levels - terms @ fit).max(axis=1)
        spread = 1.4826 * float(np.median(miss[chosen]))
        chosen = np.flatnonzero(usable.ravel() & (miss <= max(4.0, 3.0 * spread)))
        if len(chosen) < 50:
            break
    return (terms @ fit).reshape(small.shape), fit


def _terms(wide: int, high: int) -> Array:
    y, x = np.meshgrid(np.linspace(-1, 1, high), np.linspace(-1, 1, wide), indexing="ij")
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _covered(pixels: Pixels, rows: slice, size: tuple[int, int], fit: Array, weights: Array, *, dark: bool) -> Image:
    """Return the cover of some rows of a plan of `size` (rows, columns), from the terms of its ground, (6, 3)."""
    high, wide = size
    x = np.linspace(-1, 1, wide, dtype=np.float32)
    y = np.linspace(-1, 1, high, dtype=np.float32)[rows, None]
    cover = np.zeros(pixels.shape[:2], np.float32)
    one = np.float32(1.0)
    for channel in range(3):
        a, b, c, d, e, f = (np.float32(value) for value in fit[:, channel])
        below = (a + b * x + d * x * x) + y * (c + e * x) + f * y * y
        seen = pixels[:, :, channel]
        level = (seen - below) / np.float32(255.0) if dark else seen / np.maximum(below, one) - one
        cover += np.float32(weights[channel]) * level
    return cover


def _parted(values: Array) -> float:
    """Return the level that parts `values`, no unit, best into two classes.

    Source: N. Otsu, "A threshold selection method from gray-level histograms", IEEE Trans. SMC 9 (1979) 62-66.
    """
    counts, edges = np.histogram(values, bins=256)
    middles = 0.5 * (edges[:-1] + edges[1:])
    below = np.cumsum(counts).astype(np.float64)
    moment = np.cumsum(counts * middles)
    above = below[-1] - below
    between = np.square(moment[-1] * below / below[-1] - moment) / np.maximum(below * above, 1)
    return float(edges[1 + int(np.argmax(between))])
