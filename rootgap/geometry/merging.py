"""Where the legs of a merge stand: equal round legs that lean on one axis and meet at its *apex*.

The *opening* is what a plane across the axis leaves of the legs: as many lobes as there are legs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.frames import Frame, unit, vector
from rootgap.geometry.quadrature import gauss

Array = NDArray[np.float64]


def leg_frame(apex: Frame, count: int, half_angle: float, number: int, length: float) -> Frame:
    """Return the frame, mm, on the axis of leg `number`, from 0, `length` mm before the apex; clock 0 looks
    away from the collector's axis. half_angle: degrees; the first leg lies towards the apex's ref.
    """
    outward = apex.radial(2.0 * np.pi * number / count)
    sin, cos = np.sin(np.radians(half_angle)), np.cos(np.radians(half_angle))
    axis = unit(cos * apex.axis - sin * outward)
    return Frame(vector(apex.origin - length * axis), axis, unit(cos * outward + sin * apex.axis))


def farthest_back(count: int, half_angle: float) -> float:
    """Return the clock of a leg, radians, up to pi, at which its seams lie farthest back; the other is its mirror.
    half_angle: degrees."""
    wedge = np.pi / count
    return float(np.pi - np.arctan2(np.cos(wedge), np.sin(wedge) * np.cos(np.radians(half_angle))))


def seams_back(count: int, half_angle: float, phi: ArrayLike, radius: float) -> Array:
    """Return how far back from the apex, mm, along a leg's axis, its seams lie at clocks `phi`, (...), radians, and
    `radius`, mm. half_angle: degrees.

    Source: the generator r (cos phi cos a, sin phi, cos phi sin a) - t (-sin a, 0, cos a) on the planes
    y = -+ x tan(pi/n).
    """
    phi = np.asarray(phi, dtype=np.float64)
    cot = 0.0 if count == 2 else 1.0 / np.tan(np.pi / count)
    sin, cos = np.sin(np.radians(half_angle)), np.cos(np.radians(half_angle))
    return np.asarray(radius * (np.abs(np.sin(phi)) * cot - np.cos(phi) * cos) / sin, dtype=np.float64)


def outlet_station(diameter: float, r_out: float, half_angle: float) -> float:
    """Return the station, mm, on the collector's axis, below nought before the apex, at which legs of `r_out`
    mm just lie within `diameter`, mm. half_angle: degrees.

    Source: plane geometry: there a leg's section is an ellipse r / cos a long, its middle as far out as it is back.
    """
    sin, cos = float(np.sin(np.radians(half_angle))), float(np.cos(np.radians(half_angle)))
    return -(0.5 * diameter - r_out / cos) * cos / sin


@dataclass(frozen=True)
class LobedOpening:
    """What the plane at `station`, mm, on the axis, from the apex along the gas, leaves of `count` legs of one
    radius. half_angle: degrees. The legs must have met there: the axis lies inside."""

    count: int
    half_angle: float
    station: float

    @property
    def wedge(self) -> float:
        """Half the angle between neighbours' planes, radians."""
        return float(np.pi / self.count)

    @property
    def corners(self) -> Array:
        """Angles, (count,), radians from the apex's ref, of the corners between its lobes."""
        return np.asarray(self.wedge * (2.0 * np.arange(self.count) + 1.0), dtype=np.float64)

    def outline(self, radius: float, psi: ArrayLike) -> Array:
        """Return its distance from the axis, mm, (...), at angles `psi`, (...), radians from the apex's ref, for
        the legs' `radius`, mm."""
        sin, cos = np.sin(np.radians(self.half_angle)), np.cos(np.radians(self.half_angle))
        turn = 2.0 * self.wedge
        lag = (np.asarray(psi, dtype=np.float64) + self.wedge) % turn - self.wedge
        # Shrunk along the leg by cos a, the ellipse is a circle of the leg's radius.
        x, y, d = np.cos(lag) * cos, np.sin(lag), -self.station * sin
        square = x * x + y * y
        rho = (d * x + np.sqrt((d * x) ** 2 + square * (radius**2 - d * d))) / square
        return np.asarray(rho, dtype=np.float64)

    def girth(self, radius: float) -> float:
        """Return its girth, mm, for the legs' `radius`, mm: what a pipe formed to it must measure round on
        that surface."""
        nodes, weights = gauss(64)
        psi = 0.5 * self.wedge * (nodes + 1.0)
        step = 1e-6
        rho = self.outline(radius, psi)
        slope = (self.outline(radius, psi + step) - self.outline(radius, psi - step)) / (2.0 * step)
        return float(2.0 * self.count * 0.5 * self.wedge * (weights @ np.hypot(rho, slope)))
