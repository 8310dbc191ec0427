"""One side of a joint: a straight or bent length of pipe, inside and out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Bend, Body, Frustum, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.wall import BentWall, StraightWall, Wall

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bending:
    """How a tube bends. radius: of the centre line, mm; clock: where to, degrees."""

    radius: float
    clock: float


@dataclass(frozen=True)
class Taper:
    """How a straight tube widens. out, bore: by how much its outside's and its bore's radius grow over its whole
    length, mm; below nought it narrows."""

    out: float
    bore: float


@dataclass(frozen=True, eq=False)
class Tube:
    """A straight, bent or tapered length of pipe. frame: at the piece's start, axis along its gas; radii, mm, at
    its start; length: of the centre line, mm; bending: None where it is straight; taper: None where it is as
    wide all along."""

    run: str
    piece: str
    frame: Frame
    r_out: float
    r_in: float
    length: float
    bending: Bending | None = None
    taper: Taper | None = None

    @property
    def kind(self) -> Literal["cylinder", "torus", "cone"]:
        """The kind of its surfaces."""
        return "torus" if self.bending else "cone" if self.taper else "cylinder"

    @property
    def round(self) -> bool:
        """Whether its surfaces are cylinders, which have closed forms and unroll."""
        return self.bending is None and self.taper is None

    def radii(self, station: float) -> tuple[float, float]:
        """Return the radii of outside and bore, mm, at a station, mm."""
        if self.taper is None:
            return self.r_out, self.r_in
        share = station / self.length
        return self.r_out + share * self.taper.out, self.r_in + share * self.taper.bore

    def meridian_arcs(self, theta: Array, station: Array) -> Array:
        """Return arc lengths, (n,), mm, along the outside at clocks, (n,), radians, to stations, (n,), mm."""
        if self.taper:
            return station * np.hypot(self.length, self.taper.out) / self.length
        return station * self.wall.pace(theta, np.full(theta.shape, self.r_out))

    @cached_property
    def wall(self) -> Wall:
        """Its generators."""
        if self.bending:
            return BentWall(self.frame, self.bending.radius, self.bending.clock)
        return StraightWall(self.frame)

    def filled(self, radius: float) -> Body:
        """Return the body that a rod of `radius` mm along the centre line fills; in a tapered tube `radius` is
        that of its outside or its bore at its start, and the body widens as that does."""
        if self.bending:
            angle = float(np.degrees(self.length / self.bending.radius))
            return Bend(self.frame, self.bending.radius, angle, self.bending.clock, radius)
        end = self.frame.advanced(self.length).origin
        if self.taper and radius > 0.0:
            grown = radius + (self.taper.bore if radius == self.r_in else self.taper.out)
            return Frustum(self.frame.origin, end, radius, grown)
        return Rod(self.frame.origin, end, radius)

    def at(self, station: float) -> Frame:
        """Return the frame at a station, mm, of the centre line."""
        return self.wall.at(station)

    def unrolled(self, points: Array) -> Array:
        """Return points, (..., 3), mm, as (..., 2): clock, radians, -pi to pi, and station of the centre
        line, mm."""
        return self.wall.unrolled(points)

    def rolled(self, clock: Array, station: Array) -> Array:
        """Return the points, (n, 3), mm, of the outside at clocks, (n,), radians, and stations, (n,), mm."""
        grown = self.taper.out * station / self.length if self.taper else np.zeros(clock.shape)
        return self.wall.points(clock, self.r_out + grown, station)
