"""The edges of a round hole through one side of a pipe's wall, as splines in the hole's own clock. Pipe and branch may
be straight or bent.

Terminology
    rim      the closed curve in which a hole meets the outside or the bore of a pipe
    trace    a rim on the pipe unrolled: clock of the pipe and station
    height   station along the hole's own centre line

A rim, its trace and its height are cubic splines over the same nodes, so that one parameter serves the curve in space
and its image on either surface.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.contact import Contact
from rootgap.geometry.frames import Frame
from rootgap.geometry.polygons import inside, to_outline
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.splines import clamped_slopes, evaluated, poles
from rootgap.geometry.wall import StraightWall, Wall

Array = NDArray[np.float64]

#: Nodes in half a turn that are tried, the fewest first.
NODES = (48, 96, 180)
#: Largest distance, mm, between a spline and the curve that it stands for.
ERROR = 5e-6
#: Holes nearer to each other than this, mm, are left to the kernel's booleans.
APART = 0.01


@dataclass(frozen=True, eq=False)
class Hole:
    """The hole that a branch makes. branch: its wall, along the gas towards the pipe; radius: of the hole, mm;
    meets: gives where its generators meet the pipe's surface of a radius, mm."""

    branch: Wall
    radius: float
    meets: Callable[[float], Contact]

    @classmethod
    def straight(cls, branch: Frame, pipe: Frame, radius: float) -> Hole:
        """Return the hole of a straight branch in a straight pipe; `meets` raises ValueError where it runs along the
        pipe."""
        return cls(StraightWall(branch), radius, partial(Saddle, branch, pipe))


#: Columns of a rim's values: place in space, mm; trace on the pipe, radians and mm; own clock, radians, and height, mm.
SPACE, TRACE, OWN = slice(0, 3), slice(3, 5), slice(5, 7)


@dataclass(frozen=True, eq=False)
class Rim:
    """A hole's edge on one side of a wall. theta: nodes, (2 n + 1,), radians, clocks of the hole over one turn, the end
    as the start; values, slopes: (2 n + 1, 7), by the columns above, and in a radian; radius: of that side of the
    wall, mm."""

    theta: Array
    values: Array
    slopes: Array
    radius: float

    @cached_property
    def outline(self) -> Array:
        """The trace unrolled, (2 n, 2), mm."""
        return self.values[:-1, TRACE] * (self.radius, 1.0)

    @cached_property
    def halves(self) -> tuple[Half, Half]:
        """The rim from its clock 0 to 180, and on to 360."""
        n = len(self.theta) // 2
        parts = [slice(h * n, (h + 1) * n + 1) for h in (0, 1)]
        first, second = (
            Half(self.theta[k], self.values[k], clamped_slopes(self.theta[k], self.values[k], self.slopes[k][[0, -1]]))
            for k in parts
        )
        return first, second


@dataclass(frozen=True, eq=False)
class Half:
    """Half of a rim. theta: (n + 1,), radians; values, slopes: (n + 1, 7), of the spline through its nodes."""

    theta: Array
    values: Array
    slopes: Array

    @cached_property
    def poles(self) -> Array:
        """The spline's poles, (n + 3, 7)."""
        return poles(self.theta, self.values, self.slopes)

    @property
    def height(self) -> float:
        """At its start, mm."""
        return float(self.values[0, -1])


@dataclass(frozen=True, eq=False)
class Pierced:
    """A hole with its edges on the bore and on the outside."""

    hole: Hole
    rims: tuple[Rim, Rim]

    @cached_property
    def clocks(self) -> tuple[float, float]:
        """The clocks of the pipe, radians, between which it lies."""
        angles = np.concatenate([rim.values[:, TRACE][:, 0] for rim in self.rims])
        return float(angles.min()), float(angles.max())

    @cached_property
    def stations(self) -> tuple[float, float]:
        """The stations of the pipe, mm, between which it lies."""
        stations = np.concatenate([rim.values[:, TRACE][:, 1] for rim in self.rims])
        return float(stations.min()), float(stations.max())


def pierced(pipe: Wall, radii: tuple[float, float], hole: Hole) -> Pierced | None:
    """Return a hole through the wall of a pipe that it comes to first. radii: of bore and outside, mm.

    None where it does not go through with all of its edge, or only in a curve too sharp for splines of so many nodes.
    Raises ValueError as `hole.meets` does.
    """
    contacts = [hole.meets(radius) for radius in radii]
    for count in NODES:
        rims = [_rim(pipe, radius, hole, contact, count) for radius, contact in zip(radii, contacts, strict=True)]
        if not all(np.isfinite(rim.slopes).all() for rim in rims):
            return None
        errors = [_error(pipe, hole, contact, rim) for contact, rim in zip(contacts, rims, strict=True)]
        if max(errors) < ERROR:
            return Pierced(hole, (rims[0], rims[1]))
    return None


def all_apart(holes: Sequence[Pierced]) -> bool:
    """Tell whether no two holes of a pipe meet, on its outside or in its bore."""
    return all(
        _apart(a.outline, b.outline, 2.0 * np.pi * a.radius)
        for one, other in combinations(holes, 2)
        for a, b in zip(one.rims, other.rims, strict=True)
    )


def _apart(one: Array, other: Array, turn: float) -> bool:
    """Tell whether two outlines, (n, 2) and (m, 2), mm, lie apart on a cylinder of girth `turn`, mm."""
    shift = turn * np.round((one[:, 0].mean() - other[:, 0].mean()) / turn)
    other = other + (shift, 0.0)
    if (one.min(axis=0) > other.max(axis=0) + APART).any() or (other.min(axis=0) > one.max(axis=0) + APART).any():
        return True
    return bool(
        to_outline(one, other).min() > APART
        and to_outline(other, one).min() > APART
        and not inside(one[:1], other)[0]
        and not inside(other[:1], one)[0]
    )


def _rim(pipe: Wall, radius: float, hole: Hole, contact: Contact, count: int) -> Rim:
    """Return a rim of `count` nodes in half a turn; nan where the hole passes the pipe."""
    theta = np.linspace(0.0, 2.0 * np.pi, 2 * count + 1)
    rho = np.full(theta.shape, hole.radius)
    points, height = _points(hole, contact, theta)
    clock, station = pipe.unrolled(points).T
    outward = pipe.radials(clock, station)
    turning = rho[:, None] * hole.branch.radials(theta + 0.5 * np.pi, height)
    onward = hole.branch.pace(theta, rho)[:, None] * hole.branch.directions(theta, height)
    # The distance from the pipe's centre line stays as it is: what turning adds to it, going on takes off.
    pace = _dot(outward, onward)
    rise = -_dot(outward, turning) / np.where(pace == 0.0, np.nan, pace)
    slope = turning + rise[:, None] * onward
    turn = _dot(slope, pipe.radials(clock + 0.5 * np.pi, station)) / radius
    along = _dot(slope, pipe.directions(clock, station)) / pipe.pace(clock, np.full(clock.shape, radius))
    return Rim(
        theta,
        np.column_stack([points, np.unwrap(clock), station, theta, height]),
        np.column_stack([slope, turn, along, np.ones_like(theta), rise]),
        radius,
    )


def _points(hole: Hole, contact: Contact, theta: Array) -> tuple[Array, Array]:
    """Return the points, (n, 3), mm, in which a hole's generators meet a surface, and their heights, (n,), mm."""
    rho = np.full(theta.shape, hole.radius)
    height = contact.height(theta, rho)
    return hole.branch.points(theta, rho, height), height


def _error(pipe: Wall, hole: Hole, contact: Contact, rim: Rim) -> float:
    """Return how far, mm, a rim, its trace and its height lie from the true curve half way between its nodes."""
    off = []
    for half in rim.halves:
        middles = 0.5 * (half.theta[1:] + half.theta[:-1])
        points, height = _points(hole, contact, middles)
        found = evaluated(half.theta, half.values, half.slopes, middles)
        (clock, station), (_, rise) = found[:, TRACE].T, found[:, OWN].T
        traced = pipe.points(clock, np.full(clock.shape, rim.radius), station)
        off += [
            np.linalg.norm(found[:, SPACE] - points, axis=1).max(),
            np.linalg.norm(traced - points, axis=1).max(),
            abs(rise - height).max(),
        ]
    return float(max(off))


def _dot(one: Array, other: Array) -> Array:
    """Return the scalar products, (n,), of the rows of two arrays, (n, 3)."""
    return np.asarray(np.einsum("ij,ij->i", one, other))
