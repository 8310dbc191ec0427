"""Flat developments: the sector of a right cone in closed form, any ruled strip by triangles.

Terminology:

    ruling      a straight line of the surface from the lower to the upper curve; the sheet bends about it
    spoke       a ruling or a diagonal: every edge of a triangle that joins the two curves
    seam        the ruling at which the surface is slit; the flat runs from seam to seam
    fold        how much the sheet turns about a ruling between the panels beside it
    outside     the face that is seen: with curves anticlockwise about the way up, it is the outer one
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.arcs import smoothed
from rootgap.geometry.paths import Path, Point

Array = NDArray[np.float64]
Points = NDArray[np.complex128]

#: mm. What is shorter has no length.
_LEAST = 1e-9
#: mm. Diagonals that differ by less are equal, so that rounding does not choose between them.
_EVEN = 1e-9


@dataclass(frozen=True)
class Sector:
    """The development of a right cone, its apex at the origin, its middle on the y axis, its start below its end.

    r_inner, r_outer: mm, r_inner is 0 for a cone to a point; angle: degrees; wide_start: whether
    the outer arc is the cone's start; the sheet then lies below the origin, else above it.
    """

    r_inner: float
    r_outer: float
    angle: float
    wide_start: bool

    @property
    def slant(self) -> float:
        """Length of every ruling and so of the seam, mm."""
        return self.r_outer - self.r_inner

    @property
    def area(self) -> float:
        """Area of the sheet, mm2."""
        return float(np.radians(self.angle) / 2 * (self.r_outer**2 - self.r_inner**2))

    @property
    def outline(self) -> Path:
        """The closed outline, anticlockwise, mm: two true arcs, each in halves, and two seam edges."""
        half = self.angle / 2
        bulge = float(np.tan(np.radians(self.angle) / 8))
        outer = [(*self.at(turn, 1.0), bulge) for turn in (half, 0.0)] + [(*self.at(-half, 1.0), 0.0)]
        if self.r_inner <= _LEAST:
            return Path((*outer, (0.0, 0.0, 0.0)), closed=True)
        inner = [(*self.at(turn, 0.0), -bulge) for turn in (-half, 0.0)] + [(*self.at(half, 0.0), 0.0)]
        return Path((*outer, *inner), closed=True)

    def at(self, turn: float, share: float) -> Point:
        """Return the point, mm, at `turn` degrees clockwise from the middle and `share` (0 to 1) of the slant out."""
        reach, angle = self.r_inner + share * self.slant, np.radians(turn)
        reach = -reach if self.wide_start else reach
        return float(reach * np.sin(angle)), float(reach * np.cos(angle))

    def ruling(self, turn: float) -> Path:
        """Return the ruling `turn` degrees clockwise from the middle, from the inner arc out, mm."""
        return Path.through([self.at(turn, 0.0), self.at(turn, 1.0)])


def right_cone(r_start: float, r_end: float, height: float) -> Sector:
    """Return the development of the frustum of radii `r_start` and `r_end` and `height`, mm.

    Raises ValueError where a size is not positive (one radius may be 0), or the radii are equal.

    Source: similar triangles: slant s = sqrt(H^2 + (R1 - R2)^2), outer radius s R1 / (R1 - R2),
    sector 360 R1 / outer radius degrees.

    >>> cone = right_cone(60.3 / 2, 48.3 / 2, 76)
    >>> round(cone.slant, 6), round(cone.r_outer, 6), round(cone.angle, 6)
    (76.236474, 383.088283, 28.332895)
    """
    wide, narrow = max(r_start, r_end), min(r_start, r_end)
    if not (height > 0 and narrow >= 0):
        raise ValueError(f"cone: radii {r_start:g} and {r_end:g} mm, height {height:g} mm; allowed: more than 0")
    if not wide > narrow:
        raise ValueError(f"cone: both radii are {wide:g} mm; a cone has two, take a straight piece")
    slant = float(np.hypot(height, wide - narrow))
    outer = slant * wide / (wide - narrow)
    return Sector(slant * narrow / (wide - narrow), outer, 360.0 * (wide - narrow) / slant, r_start > r_end)


@dataclass(frozen=True, eq=False)
class Development:
    """A ruled strip laid flat, outside up, its first lower point at the origin and its last on +x.

    lower, upper: (n + 1, 2), mm, from seam to seam; shares_lower: (2 n,), whether the triangle
    between two neighbouring spokes has its two spokes' common corner on the lower curve; folds:
    (n + 1,), degrees, how much the sheet turns at each ruling, at the seam in half at either end.
    """

    lower: Array
    upper: Array
    shares_lower: NDArray[np.bool_]
    folds: Array

    @cached_property
    def triangles(self) -> Array:
        """The triangles, (2 n, 3, 2), mm, anticlockwise, in order from seam to seam."""
        at_lower, at_upper = _walk(self.shares_lower)
        low, high = self.lower[at_lower], self.upper[at_upper]
        third = np.where(self.shares_lower[:, None], high[1:], low[1:])
        return np.stack([low[:-1], third, high[:-1]], axis=1)

    @property
    def area(self) -> float:
        """Area of the sheet, mm2."""
        return float(_areas(self.triangles).sum())

    @property
    def seams(self) -> tuple[Path, Path]:
        """The first and the last ruling, which meet, mm."""
        return self.ruling(0), self.ruling(len(self.lower) - 1)

    @property
    def seam_length(self) -> float:
        """Length of the seam, mm."""
        return float(np.linalg.norm(self.upper[0] - self.lower[0]))

    def ruling(self, number: int) -> Path:
        """Return ruling `number`, from lower to upper, mm."""
        return Path.through([self.lower[number], self.upper[number]])

    def outline(self, tolerance: float) -> Path:
        """Return the closed outline, anticlockwise, its curves smoothed to arcs within `tolerance` mm."""
        along, back = smoothed(self.lower, tolerance), smoothed(self.upper[::-1], tolerance)
        return Path(along.vertices + back.vertices, closed=True)


def developed(lower: ArrayLike, upper: ArrayLike) -> Development:
    """Return the ruled strip between two closed curves, cut at their first points and laid flat.

    lower, upper: (n, 3), mm; point i of one is joined to point i of the other, and the last to
    the first again. Of each four-sided panel the shorter diagonal is the bend. Every edge keeps
    its length in space. A corner may be repeated: the triangle without area is no fault.
    Where rulings join points with a common tangent plane the surface is developable, and the
    flat converges to it with the square of the spacing; otherwise the sheet has to stretch.

    Raises ValueError for curves that do not match or touch each other.
    """
    low, high = np.asarray(lower, dtype=np.float64), np.asarray(upper, dtype=np.float64)
    if low.ndim != 2 or low.shape != high.shape or low.shape[1] != 3 or len(low) < 3:
        raise ValueError(f"curves are {low.shape} and {high.shape}; allowed: both (n, 3), n 3 or more")
    low, high = np.vstack([low, low[:1]]), np.vstack([high, high[:1]])
    if np.linalg.norm(high - low, axis=1).min() <= _LEAST:
        raise ValueError("the curves touch: a ruling has no length")
    down = np.linalg.norm(high[1:] - low[:-1], axis=1)  # from lower i to upper i + 1
    up = np.linalg.norm(high[:-1] - low[1:], axis=1)
    first = down <= up + _EVEN
    shares_lower = np.column_stack([first, ~first]).ravel()
    at_lower, at_upper = _walk(shares_lower)
    spokes = high[at_upper] - low[at_lower]
    turn = np.arctan2(
        np.linalg.norm(np.cross(spokes[:-1], spokes[1:]), axis=1), np.einsum("ij,ij->i", spokes[:-1], spokes[1:])
    )
    # About a lower corner the next spoke lies clockwise, about an upper corner anticlockwise.
    heading = np.concatenate([[0.0], np.cumsum(np.where(shares_lower, -turn, turn))])
    flat = np.linalg.norm(spokes, axis=1) * np.exp(1j * heading)
    step = np.diff(flat)
    lows = np.concatenate([[0.0], np.cumsum(np.where(shares_lower, 0.0, -step))])[::2]
    highs = flat[0] + np.concatenate([[0.0], np.cumsum(np.where(shares_lower, step, 0.0))])[::2]
    level = np.exp(-1j * np.angle(lows[-1:]))
    return Development(_plane(lows * level), _plane(highs * level), shares_lower, _folds(low, high))


def _walk(shares_lower: NDArray[np.bool_]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the numbers of each spoke's lower and upper end, (2 n + 1,)."""
    upper = np.concatenate([[0], np.cumsum(shares_lower)])
    return np.arange(len(upper)) - upper, upper


def _folds(low: Array, high: Array) -> Array:
    """Return the angle between the panels beside each ruling, (n + 1,), degrees."""
    normals = np.cross(high[1:] - low[:-1], high[:-1] - low[1:])
    size = np.linalg.norm(normals, axis=1, keepdims=True)
    normals = np.divide(normals, size, out=np.zeros_like(normals), where=size > _LEAST**2)
    # A panel of a repeated corner on both curves has no face: it takes that of the one before.
    faced = np.flatnonzero(size[:, 0] > _LEAST**2)
    last = faced[np.searchsorted(faced, np.arange(len(normals)), side="right") - 1]
    normals = normals[last]
    before = np.roll(normals, 1, axis=0)
    fold = np.degrees(
        np.arctan2(np.linalg.norm(np.cross(before, normals), axis=1), np.einsum("ij,ij->i", before, normals))
    )
    return np.concatenate([[fold[0] / 2], fold[1:], [fold[0] / 2]])


def _areas(corners: Array) -> Array:
    """Return the areas, (n,), mm2, of triangles (n, 3, 2)."""
    first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    dot = np.einsum("ij,ij->i", first, second)
    square = np.einsum("ij,ij->i", first, first) * np.einsum("ij,ij->i", second, second)
    return np.sqrt(np.maximum(square - dot**2, 0.0)) / 2


def _plane(z: Points) -> Array:
    return np.column_stack([z.real, z.imag])
