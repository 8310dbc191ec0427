"""Frames that a run carries along its axis.

Terminology: the *axis* points along the gas, the *reference direction* `ref` is clock 0,
and `side` = axis x ref is clock 90: clocks count clockwise looking along the gas.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def vector(values: ArrayLike) -> Array:
    """Return `values` as a read-only (3,) array in the same unit."""
    array = np.array(values, dtype=np.float64).reshape(3)
    array.flags.writeable = False
    return array


def unit(values: ArrayLike) -> Array:
    """Return `values`, (3,), as a direction of length 1, no unit. Raises ValueError for a zero vector."""
    array = np.asarray(values, dtype=np.float64)
    length = float(np.linalg.norm(array))
    if length < 1e-12:
        raise ValueError("a direction may not have zero length")
    return vector(array / length)


def lengths(vectors: Array) -> Array:
    """Return the lengths, (...), of vectors, (..., 3) or (..., 2), in their unit."""
    # A third of the time that numpy's own norm takes along a short axis.
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", vectors, vectors)))


def cross(one: Array, other: Array) -> Array:
    """Return the vector products, (..., 3), of vectors, (..., 3): the unit is the product of theirs."""
    # A third of the time that numpy's own takes on short arrays.
    a, b, c = one[..., 0], one[..., 1], one[..., 2]
    x, y, z = other[..., 0], other[..., 1], other[..., 2]
    found = np.empty(np.broadcast_shapes(one.shape, other.shape))
    found[..., 0], found[..., 1], found[..., 2] = b * z - c * y, c * x - a * z, a * y - b * x
    return found


@dataclass(frozen=True, eq=False)
class Frame:
    """A point with an axis and a reference direction square to it, both of length 1.

    origin: (3,), mm; axis, ref: (3,), no unit.
    """

    origin: Array
    axis: Array
    ref: Array

    @classmethod
    def looking(cls, origin: ArrayLike, axis: ArrayLike, ref: ArrayLike | None = None) -> Frame:
        """Return the frame at `origin` along `axis`, (3,), with `ref` made square to it.

        Without `ref`, clock 0 is as near to +y (up) as the axis allows, or +z for an axis
        that is itself within 1 degree of vertical. Raises ValueError where `ref` is parallel to `axis`.
        """
        along = unit(axis)
        if ref is None:
            ref = (0.0, 0.0, 1.0) if abs(along[1]) > np.cos(np.radians(1.0)) else (0.0, 1.0, 0.0)
        wanted = unit(ref)
        return cls(vector(origin), along, unit(wanted - (wanted @ along) * along))

    @cached_property
    def side(self) -> Array:
        """The direction of clock 90, (3,)."""
        return cross(self.axis, self.ref)

    def radial(self, theta: ArrayLike) -> Array:
        """Return the outward directions at the angles `theta`, (...), radians: (..., 3)."""
        angle = np.asarray(theta, dtype=np.float64)
        parts = np.empty((*angle.shape, 2))
        parts[..., 0], parts[..., 1] = np.cos(angle), np.sin(angle)
        return parts @ np.array([self.ref, self.side])

    def to_local(self, world: ArrayLike) -> Array:
        """Return points (..., 3), mm, as their coordinates along ref, side and axis."""
        return (np.asarray(world, dtype=np.float64) - self.origin) @ np.array([self.ref, self.side, self.axis]).T

    def advanced(self, length: float) -> Frame:
        """Return the frame `length` mm further along the axis."""
        return replace(self, origin=vector(self.origin + length * self.axis))

    def clocked(self, clock: float) -> Frame:
        """Return the frame with its reference direction turned to `clock` degrees."""
        return replace(self, ref=vector(self.radial(np.radians(clock))))

    def bent(self, radius: float, angle: float, clock: float) -> Frame:
        """Return the frame at the end of a bend of centre-line `radius` mm through `angle`
        degrees towards `clock` degrees.

        The reference direction is parallel-transported: on a circular arc that is the
        rigid turn about the bend's normal.
        """
        towards = self.radial(np.radians(clock))
        normal = cross(self.axis, towards)
        turn = np.radians(angle)
        origin = self.origin + radius * ((1.0 - np.cos(turn)) * towards + np.sin(turn) * self.axis)
        return Frame(
            vector(origin),
            unit(rotated(self.axis, normal, turn)),
            unit(rotated(self.ref, normal, turn)),
        )


def rotated(values: Array, about: Array, angle: float | Array) -> Array:
    """Return vectors, (..., 3), turned by `angle` radians about the unit axis `about`; or each by its own, (..., 1).

    Source: Rodrigues' rotation formula.
    """
    cos, sin = np.cos(angle), np.sin(angle)
    along = (values @ about)[..., None] * about
    return cos * values + sin * cross(about, values) + (1.0 - cos) * along


def turned(degrees: ArrayLike) -> Array:
    """Return the directions that x, y and z have, the rows of (3, 3), no unit, after turns of `degrees`, (3,), about
    the fixed x, then y, then z."""
    about_x, about_y, about_z = np.radians(np.asarray(degrees, dtype=np.float64))
    axes = np.eye(3)
    for axis, angle in ((0, about_x), (1, about_y), (2, about_z)):
        axes = rotated(axes, np.eye(3)[axis], angle)
    return axes
