"""One side of a joint: a straight or bent length of pipe, inside and out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.contact import BentWall, StraightWall
from rootgap.geometry.distance import Bend, Body, Rod
from rootgap.geometry.frames import Frame

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bending:
    """How a tube bends. radius: of the centre line, mm; clock: where to, degrees."""

    radius: float
    clock: float


@dataclass(frozen=True, eq=False)
class Tube:
    """A straight or bent length of pipe. frame: at the piece's start, axis along its gas; radii, mm;
    length: of the centre line, mm; bending: None where it is straight."""

    run: str
    piece: str
    frame: Frame
    r_out: float
    r_in: float
    length: float
    bending: Bending | None = None

    @property
    def kind(self) -> Literal["cylinder", "torus"]:
        """The kind of its surfaces."""
        return "torus" if self.bending else "cylinder"

    @property
    def wall(self) -> StraightWall | BentWall:
        """Its generators, as a branch."""
        if self.bending:
            return BentWall(self.frame, self.bending.radius, self.bending.clock)
        return StraightWall(self.frame)

    def filled(self, radius: float) -> Body:
        """Return the body that a rod of `radius` mm along the centre line fills."""
        if self.bending:
            angle = float(np.degrees(self.length / self.bending.radius))
            return Bend(self.frame, self.bending.radius, angle, self.bending.clock, radius)
        return Rod(self.frame.origin, self.frame.advanced(self.length).origin, radius)

    def at(self, station: float) -> Frame:
        """Return the frame at a station, mm, of the centre line."""
        if self.bending:
            angle = float(np.degrees(station / self.bending.radius))
            return self.frame.bent(self.bending.radius, angle, self.bending.clock)
        return self.frame.advanced(station)

    def unrolled(self, points: Array) -> Array:
        """Return points, (..., 3), mm, as (..., 2): clock, radians, -pi to pi, and station of the centre
        line, mm."""
        if self.bending is None:
            local = self.frame.to_local(points)
            return np.stack([np.arctan2(local[..., 1], local[..., 0]), local[..., 2]], axis=-1)
        radius, clock = self.bending.radius, np.radians(self.bending.clock)
        towards = self.frame.radial(clock)
        normal = np.cross(self.frame.axis, towards)
        lag = points - (self.frame.origin + radius * towards)
        inwards, ahead, side = -(lag @ towards), lag @ self.frame.axis, lag @ normal
        # Clocks are carried along the bend: at every station the throat stays at the bend's own clock.
        round_it = np.arctan2(side, radius - np.hypot(inwards, ahead))
        turned = (clock + round_it + np.pi) % (2.0 * np.pi) - np.pi
        return np.stack([turned, radius * np.arctan2(ahead, inwards)], axis=-1)

    def rolled(self, clock: Array, station: Array) -> Array:
        """Return the points, (n, 3), mm, of the outside at clocks, (n,), radians, and stations, (n,), mm."""
        return self.wall.points(clock, np.full(clock.shape, self.r_out), station)
