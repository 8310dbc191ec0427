"""The wall of a straight or bent pipe as curves along its gas.

Terminology
    clock     angle about the centre line, radians from the frame's ref; it is carried along a bend, so that the throat
              lies at the bend's own clock at every station
    station   length along the centre line from the frame, mm
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import Frame, cross, rotated

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StraightWall:
    """The wall of a straight pipe. frame: at its start."""

    frame: Frame

    def points(self, theta: Array, rho: Array, station: Array) -> Array:
        """Return points, (n, 3), mm, at clocks and radii, mm, and stations, (n,) each."""
        return self.frame.origin + rho[:, None] * self.radials(theta, station) + station[:, None] * self.frame.axis

    def radials(self, theta: Array, station: Array) -> Array:
        """Return the outward directions, (n, 3), at clocks and stations, (n,)."""
        return self.frame.radial(theta)

    def directions(self, theta: Array, station: Array) -> Array:
        """Return unit tangents of the generators, (n, 3)."""
        return np.broadcast_to(self.frame.axis, (len(theta), 3))

    def pace(self, theta: Array, rho: Array) -> Array:
        """Return mm travelled per mm of station: 1."""
        return np.ones(np.broadcast_shapes(np.shape(theta), np.shape(rho)))

    def unrolled(self, points: Array) -> Array:
        """Return points, (..., 3), mm, as (..., 2): clock, radians, -pi to pi, and station, mm."""
        local = self.frame.to_local(points)
        return np.stack([np.arctan2(local[..., 1], local[..., 0]), local[..., 2]], axis=-1)

    def at(self, station: float) -> Frame:
        """Return the frame at a station, mm."""
        return self.frame.advanced(station)


@dataclass(frozen=True, eq=False)
class BentWall:
    """The wall of an elbow or a bent tube. frame: at its start; radius: of the centre line, mm; clock: where it
    bends to, degrees. Its generators are arcs about the axis of the bend."""

    frame: Frame
    radius: float
    clock: float

    def points(self, theta: Array, rho: Array, station: Array) -> Array:
        """Return points, (n, 3), mm, at clocks and radii, mm, and stations, (n,) each."""
        spoke = rho[:, None] * self.frame.radial(theta) - self.radius * self.towards
        return self.center + rotated(spoke, self.normal, station[:, None] / self.radius)

    def radials(self, theta: Array, station: Array) -> Array:
        """Return the outward directions, (n, 3), at clocks and stations, (n,)."""
        return rotated(self.frame.radial(theta), self.normal, station[:, None] / self.radius)

    def directions(self, theta: Array, station: Array) -> Array:
        """Return unit tangents of the generators, (n, 3)."""
        return rotated(np.broadcast_to(self.frame.axis, (len(theta), 3)), self.normal, station[:, None] / self.radius)

    def pace(self, theta: Array, rho: Array) -> Array:
        """Return mm travelled per mm of station: less in the throat, more on the back."""
        return 1.0 - rho * np.cos(theta - np.radians(self.clock)) / self.radius

    def unrolled(self, points: Array) -> Array:
        """Return points, (..., 3), mm, as (..., 2): clock, radians, -pi to pi, and station, mm."""
        lag = points - self.center
        inwards, ahead, side = -(lag @ self.towards), lag @ self.frame.axis, lag @ self.normal
        round_it = np.arctan2(side, self.radius - np.hypot(inwards, ahead))
        turned = (np.radians(self.clock) + round_it + np.pi) % (2.0 * np.pi) - np.pi
        return np.stack([turned, self.radius * np.arctan2(ahead, inwards)], axis=-1)

    def at(self, station: float) -> Frame:
        """Return the frame at a station, mm."""
        return self.frame.bent(self.radius, float(np.degrees(station / self.radius)), self.clock)

    @cached_property
    def towards(self) -> Array:
        """The direction from the start of the centre line to the axis of the bend, (3,)."""
        return self.frame.radial(np.radians(self.clock))

    @cached_property
    def normal(self) -> Array:
        """The direction of the axis of the bend, (3,): the bend turns about it by the right hand."""
        return cross(self.frame.axis, self.towards)

    @cached_property
    def center(self) -> Array:
        """The centre of the bend, (3,), mm."""
        return np.asarray(self.frame.origin + self.radius * self.towards)


Wall = StraightWall | BentWall
