"""A butt-weld elbow, whole or trimmed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap import stock
from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Bending, Tube
from rootgap.layout.pieces.base import Array, Site, Skin
from rootgap.spec import ElbowSpec
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Elbow:
    """A butt-weld elbow trimmed to `angle` degrees. radius: of the centre line, mm; stock_angle:
    of the fitting it is cut from, degrees; clock: where it bends to, degrees."""

    kind: ClassVar[str] = "elbow"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    series: str
    stock_angle: float
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
        return self.arc(0.0)

    def arc(self, out: float) -> float:
        """Return the arc length, mm, at `out` mm outward of the centre line, in the plane of the bend."""
        return float((self.radius + out) * np.radians(self.angle))

    @property
    def tube(self) -> Tube:
        """The elbow as a side of a joint."""
        bending = Bending(self.radius, self.clock)
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length, bending)

    @property
    def volume(self) -> float:
        """Metal volume, mm3. Source: Pappus-Guldin, section times the path of its centroid."""
        return self.stock.area * self.length

    @property
    def made_from(self) -> str:
        """What to take and where the saw goes: arc lengths from the factory end."""
        factory = f"{self.series} {self.stock_angle:g} elbow"
        if self.angle == self.stock_angle:
            return f"{factory}, whole"
        back, side, throat = (self.arc(out) for out in (self.stock.r_out, 0.0, -self.stock.r_out))
        return (
            f"{factory}, trim to {self.angle:g} deg: from the factory end {back:.1f} on the back, "
            f"{side:.1f} on both sides, {throat:.1f} in the throat; {self.stock_angle - self.angle:g} deg left over"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{self.series} {self.angle:g}"

    def skin(self, reach: float | None = None) -> Skin:
        """Return a map over the outside."""
        start, r_out, radius, sweep = self.start, self.stock.r_out, self.radius, np.radians(self.angle)
        towards = start.radial(np.radians(self.clock))
        normal, center = np.cross(start.axis, towards), start.origin + radius * towards

        def points(u: Array, v: Array) -> Array:
            turn, theta = sweep * v, 2.0 * np.pi * u
            spoke = np.sin(turn)[:, None] * start.axis - np.cos(turn)[:, None] * towards
            return (
                center
                + (radius + r_out * np.cos(theta))[:, None] * spoke
                + (r_out * np.sin(theta))[:, None] * normal
            )

        return points

    def record(self) -> dict[str, Any]:
        """Return the bend's figures."""
        return {"series": self.series, "radius": self.radius, "angle": self.angle, "clock": self.clock}


def place_elbow(spec: ElbowSpec, site: Site) -> Elbow:
    """Return the elbow of `spec`. Raises GeometryError where its stock has no such fitting."""
    if site.stock.nps is None:
        raise GeometryError(
            site.mark, f"{site.stock.label} has no butt-weld elbow", "use pipe of a nominal size for this run"
        )
    radius = stock.elbow(site.stock.nps, spec.elbow, 90).radius
    return Elbow(
        site.mark, site.run, site.stock, site.start, spec.elbow, 90.0, radius, spec.angle, spec.clock
    )
