"""Round pipe along an arc: what elbows and bent pipe have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame, cross
from rootgap.geometry.tube import Bending, Tube
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Arc:
    """Round pipe bent through `angle` degrees. radius: of the centre line, mm; clock: where it bends
    to, degrees: there is its *throat*, opposite is its *back*, and a quarter turn away are its *sides*."""

    id: str
    run: str
    stock: PipeStock
    start: Frame
    radius: float
    angle: float
    clock: float

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.bent(self.radius, self.angle, self.clock)

    @property
    def length(self) -> float:
        """Length of the centre line, mm."""
        return self.arc(0.0, self.angle)

    def arc(self, out: float, angle: float) -> float:
        """Return the arc length, mm, over `angle` degrees at `out` mm outward of the centre line, in
        the plane of the bend."""
        return float((self.radius + out) * np.radians(angle))

    @property
    def leaves(self) -> PipeStock:
        """The stock of what follows: its own."""
        return self.stock

    @property
    def tube(self) -> Tube:
        """The bend as a side of a joint."""
        bending = Bending(self.radius, self.clock)
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length, bending)

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all."""
        return self.tube.filled(self.stock.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3. Source: Pappus-Guldin, section times the path of its centroid."""
        return self.stock.area * self.length

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        start, r_out, radius, sweep = self.start, self.stock.r_out, self.radius, np.radians(self.angle)
        towards = start.radial(np.radians(self.clock))
        normal, center = cross(start.axis, towards), start.origin + radius * towards

        def points(u: Array, v: Array) -> Array:
            turn, theta = sweep * v, 2.0 * np.pi * u
            spoke = np.sin(turn)[:, None] * start.axis - np.cos(turn)[:, None] * towards
            return (
                center
                + (radius + r_out * np.cos(theta))[:, None] * spoke
                + (r_out * np.sin(theta))[:, None] * normal
            )

        return points
