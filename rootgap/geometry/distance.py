"""Signed distances from points to simple bodies: above nought outside, below it inside."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.frames import Frame, cross, lengths, unit, vector
from rootgap.geometry.polygons import inside, to_outline

Array = NDArray[np.float64]


class Body(Protocol):
    """Something that fills space."""

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        ...


@dataclass(frozen=True, eq=False)
class Rod:
    """A solid cylinder with flat ends. start, end: (3,), mm, the middles of its ends; radius: mm."""

    start: Array
    end: Array
    radius: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        middle, half = 0.5 * (self.start + self.end), 0.5 * float(np.linalg.norm(self.end - self.start))
        axis = unit(self.end - self.start)
        lag = points - middle
        along = lag @ axis
        across = lengths(lag - along[:, None] * axis)
        return _outside(np.column_stack([across - self.radius, np.abs(along) - half]))


@dataclass(frozen=True, eq=False)
class HalfRod:
    """Half of a solid cylinder, split through its axis, with flat ends. frame: at its start, its ref in the
    middle of the half that is filled; length, radius: mm."""

    frame: Frame
    length: float
    radius: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm.

        Source: distance in the plane across the axis to half a disc: above its flat the round counts, below
        it the flat; elementary.
        """
        up, aside, along = self.frame.to_local(points).T
        around = np.hypot(up, aside) - self.radius
        under = np.hypot(np.maximum(np.abs(aside) - self.radius, 0.0), up)
        across = np.where(up < 0.0, under, np.maximum(around, -up))
        half = 0.5 * self.length
        return _outside(np.column_stack([across, np.abs(along - half) - half]))


@dataclass(frozen=True, eq=False)
class Ball:
    """A sphere. center: (3,), mm; radius: mm."""

    center: Array
    radius: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return lengths(points - self.center) - self.radius


@dataclass(frozen=True, eq=False)
class Block:
    """A box. frame: at its middle; size: (3,), mm, along the frame's ref, side and axis."""

    frame: Frame
    size: Array

    @classmethod
    def upright(cls, center: ArrayLike, size: ArrayLike) -> Block:
        """Return the box of `size`, (3,), mm along x, y and z, round `center`, (3,), mm."""
        return cls(Frame(vector(center), vector((0, 0, 1)), vector((1, 0, 0))), vector(size))

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return _outside(np.abs(self.frame.to_local(points)) - 0.5 * self.size)


def _outside(past: Array) -> Array:
    """Return the signed distance, (n,), where `past`, (n, k), is how far a point lies beyond each of k
    pairs of square faces.

    Source: elementary; outside, the faces passed are square to each other; inside, the nearest counts.
    """
    deepest = reduce(np.maximum, past.T)
    return np.asarray(lengths(np.maximum(past, 0.0)) + np.minimum(deepest, 0.0))


@dataclass(frozen=True, eq=False)
class HalfSpace:
    """Everything behind a plane. point: (3,), mm, on it; normal: (3,), unit, out of the filled side."""

    point: Array
    normal: Array

    @property
    def turned(self) -> HalfSpace:
        """Everything before the plane."""
        return HalfSpace(self.point, -self.normal)

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return (points - self.point) @ self.normal


@dataclass(frozen=True, eq=False)
class Bend:
    """A solid bend with flat ends, as a stopped-up elbow fills space. frame: at its start; radius: of
    the centre line, mm; angle, clock: degrees, as in Frame.bent, the angle up to 180; r_out: mm."""

    frame: Frame
    radius: float
    angle: float
    clock: float
    r_out: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm.

        Within the bend's angle the distance to its circle counts, beyond it that to the nearer end's
        disc; inside the bend the figure is that to its skin, not to its ends.
        """
        towards = self.frame.radial(np.radians(self.clock))
        normal = cross(self.frame.axis, towards)
        lag = points - (self.frame.origin + self.radius * towards)
        # In the plane of the bend: x from the centre to the start, y along the gas there.
        x, y, z = -(lag @ towards), lag @ self.frame.axis, lag @ normal
        turn = np.arctan2(y, x)
        ring = np.hypot(np.hypot(x, y) - self.radius, z) - self.r_out
        end = np.radians(self.angle)
        within = (turn >= 0.0) & (turn <= end)
        cos, sin = np.cos(end), np.sin(end)
        discs = np.minimum(
            self._to_disc(x - self.radius, -y, z),
            self._to_disc(x * cos + y * sin - self.radius, y * cos - x * sin, z),
        )
        return np.where(within, ring, discs)

    def at(self, share: float) -> Array:
        """Return the point, (3,), mm, of its centre line at `share` of its angle, no unit, 0 to 1."""
        return self.frame.bent(self.radius, share * self.angle, self.clock).origin

    def _to_disc(self, across: Array, ahead: Array, z: Array) -> Array:
        """Return the distances to an end's disc of points given along its radius, off it, and along z."""
        return np.hypot(np.maximum(np.hypot(across, z) - self.r_out, 0.0), ahead)


@dataclass(frozen=True, eq=False)
class Frustum:
    """A solid cone frustum with flat ends. start, end: (3,), mm, the middles of its ends; r_start,
    r_end: mm."""

    start: Array
    end: Array
    r_start: float
    r_end: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm.

        Source: distance in the half plane through the axis to a trapezium's three edges, elementary.
        """
        length = float(np.linalg.norm(self.end - self.start))
        axis = unit(self.end - self.start)
        lag = points - self.start
        along = lag @ axis
        across = np.linalg.norm(lag - along[:, None] * axis, axis=1)
        slant = np.hypot(length, self.r_end - self.r_start)
        # Along and square off the slant edge, from the start's rim.
        lean, rise = (self.r_end - self.r_start) / slant, length / slant
        down = np.clip((across - self.r_start) * lean + along * rise, 0.0, slant)
        to_side = np.hypot(across - self.r_start - down * lean, along - down * rise)
        to_start = np.hypot(np.maximum(across - self.r_start, 0.0), along)
        to_end = np.hypot(np.maximum(across - self.r_end, 0.0), along - length)
        nearest = np.minimum(to_side, np.minimum(to_start, to_end))
        skin = (across - self.r_start) * rise - along * lean
        inside = (skin < 0.0) & (along > 0.0) & (along < length)
        return np.where(inside, -nearest, nearest)


@dataclass(frozen=True, eq=False)
class Dome:
    """A solid cap: a rod that half an ellipsoid closes. frame: in the middle of its flat end, axis to the crown;
    radius: of the rod, mm; skirt, rise: of the rod and of the half ellipsoid, mm, the rise no more than the radius."""

    frame: Frame
    radius: float
    skirt: float
    rise: float

    def distance(self, points: Array) -> Array:
        """Return distances, (n,), mm, of `points`, (n, 3), mm, that are never too large and whose sign is exact.

        Source: the ellipsoid's implicit form, less one, is never steeper than 1 / rise.
        """
        up, aside, along = self.frame.to_local(points).T
        across = np.hypot(up, aside)
        round_ = (np.hypot(across / self.radius, np.maximum(along - self.skirt, 0.0) / self.rise) - 1.0) * self.rise
        return np.asarray(np.maximum(round_, -along))


@dataclass(frozen=True, eq=False)
class Union:
    """Bodies taken as one."""

    bodies: tuple[Body, ...]

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm; exact outside."""
        return np.min([body.distance(points) for body in self.bodies], axis=0)


@dataclass(frozen=True, eq=False)
class Shifted:
    """A body somewhere else. by: (3,), mm."""

    body: Body
    by: Array

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return self.body.distance(points - self.by)


@dataclass(frozen=True, eq=False)
class Shrunk:
    """A body as what grows by `share`, no unit, about a point, (3,), mm, sees it: the distance of a grown thing is
    1 + share times that of the thing itself from here."""

    body: Body
    about: Array
    share: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return self.body.distance(self.about + (1.0 + self.share) * (points - self.about)) / (1.0 + self.share)


@dataclass(frozen=True, eq=False)
class Prism:
    """A plate. frame: at its drawing's origin, axis through it and ref the drawing's +y; outline, holes: closed
    polylines, (m, 2), mm, of the drawing; thickness: mm."""

    frame: Frame
    outline: Array
    holes: tuple[Array, ...]
    thickness: float

    def near(self, points: Array, reach: float) -> NDArray[np.bool_]:
        """Return which of `points`, (n, 3), mm, lie in a box `reach` mm larger than the plate every way."""
        up, side, through = self.frame.to_local(points).T
        low, high = self.outline.min(axis=0) - reach, self.outline.max(axis=0) + reach
        flat = (-side > low[0]) & (-side < high[0]) & (up > low[1]) & (up < high[1])
        return flat & (through > -reach) & (through < self.thickness + reach)

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        up, side, through = self.frame.to_local(points).T
        flat = np.column_stack([-side, up])
        to_edge = np.min([to_outline(flat, loop) for loop in (self.outline, *self.holes)], axis=0)
        metal = inside(flat, self.outline)
        for hole in self.holes:
            metal &= ~inside(flat, hole)
        half = 0.5 * self.thickness
        return _outside(np.column_stack([np.where(metal, -to_edge, to_edge), np.abs(through - half) - half]))
