"""The edges of a round hole through one side of a pipe's wall, as splines in the hole's own clock.

Terminology
    rim      the closed curve in which a hole meets the outside or the bore of a pipe
    trace    a rim on the pipe unrolled: clock of the pipe and station
    height   station along the hole's own axis

A rim, its trace and its height are cubic splines over the same nodes, so that one parameter serves the curve in space
and its image on either cylinder.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import Frame
from rootgap.geometry.polygons import inside, to_outline
from rootgap.geometry.saddle import PARALLEL, Saddle
from rootgap.geometry.splines import clamped_slopes, evaluated, poles

Array = NDArray[np.float64]

#: Nodes in half a turn that are tried, the fewest first.
NODES = (48, 96, 180)
#: Largest distance, mm, between a spline and the curve that it stands for.
ERROR = 5e-6
#: Holes nearer to each other than this, mm, are left to the kernel's booleans.
APART = 0.01


@dataclass(frozen=True, eq=False)
class Hole:
    """The hole that a branch makes. branch: its frame, axis along the gas towards the pipe;
    radius: of the hole, mm."""

    branch: Frame
    radius: float


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


def pierced(frame: Frame, radii: tuple[float, float], hole: Hole) -> Pierced | None:
    """Return a hole through the wall of a pipe along `frame` that it comes to first. radii: of bore and outside, mm.

    None where it does not go through with all of its edge, or only in a curve too sharp for splines of so many nodes.
    """
    if np.linalg.norm(np.cross(hole.branch.axis, frame.axis)) < np.sin(np.radians(PARALLEL)):
        return None
    for count in NODES:
        rims = [_rim(frame, radius, hole, count) for radius in radii]
        if not all(np.isfinite(rim.slopes).all() for rim in rims):
            return None
        if max(_error(frame, hole, rim) for rim in rims) < ERROR:
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


def _rim(frame: Frame, radius: float, hole: Hole, count: int) -> Rim:
    """Return a rim of `count` nodes in half a turn; nan where the hole passes the pipe."""
    theta = np.linspace(0.0, 2.0 * np.pi, 2 * count + 1)
    points, height = _points(frame, radius, hole, theta)
    axis, own = frame.axis, hole.branch.axis
    lag = points - frame.origin
    off = lag - (lag @ axis)[:, None] * axis
    turning = hole.radius * hole.branch.radial(theta + 0.5 * np.pi)
    # The distance from the pipe's axis stays as it is: what turning adds to it, rising takes off.
    pace = off @ own
    rise = -np.einsum("ij,ij->i", off, turning) / np.where(pace == 0.0, np.nan, pace)
    slope = turning + rise[:, None] * own
    x, y, station = frame.to_local(points).T
    dx, dy, along = (slope @ np.array([frame.ref, frame.side, axis]).T).T
    turn = (x * dy - y * dx) / radius**2
    return Rim(
        theta,
        np.column_stack([points, np.unwrap(np.arctan2(y, x)), station, theta, height]),
        np.column_stack([slope, turn, along, np.ones_like(theta), rise]),
        radius,
    )


def _points(frame: Frame, radius: float, hole: Hole, theta: Array) -> tuple[Array, Array]:
    """Return the points, (n, 3), mm, in which a hole's generators meet a cylinder, and their heights, (n,), mm."""
    height = Saddle(hole.branch, frame, radius).height(theta, hole.radius)
    off = hole.radius * hole.branch.radial(theta) + height[:, None] * hole.branch.axis
    return hole.branch.origin + off, height


def _error(frame: Frame, hole: Hole, rim: Rim) -> float:
    """Return how far, mm, a rim, its trace and its height lie from the true curve half way between its nodes."""
    off = []
    for half in rim.halves:
        middles = 0.5 * (half.theta[1:] + half.theta[:-1])
        points, height = _points(frame, rim.radius, hole, middles)
        found = evaluated(half.theta, half.values, half.slopes, middles)
        (clock, station), (_, rise) = found[:, TRACE].T, found[:, OWN].T
        traced = frame.origin + rim.radius * frame.radial(clock) + station[:, None] * frame.axis
        off += [
            np.linalg.norm(found[:, SPACE] - points, axis=1).max(),
            np.linalg.norm(traced - points, axis=1).max(),
            abs(rise - height).max(),
        ]
    return float(max(off))
