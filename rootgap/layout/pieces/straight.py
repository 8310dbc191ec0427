"""A straight pipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.spec import StraightSpec
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Straight:
    """A straight pipe. length: along the axis, mm; to where the axis meets the target on a coped end;
    fills: whether that length came from the target."""

    kind: ClassVar[str] = "straight"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float
    fills: bool

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.advanced(self.length)

    @property
    def leaves(self) -> PipeStock:
        """The stock of what follows: its own."""
        return self.stock

    @property
    def tube(self) -> Tube:
        """The pipe as a side of a joint."""
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length)

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all."""
        return self.tube.filled(self.stock.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3, with both ends square."""
        return self.stock.area * self.length

    @property
    def made_from(self) -> str:
        """What to take and what to do to it."""
        return "straight"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{self.length:.1f}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside, between the stations of `span`, mm, where that is given."""
        start, r_out, (low, high) = self.start, self.stock.r_out, span or (0.0, self.length)

        def points(u: Array, v: Array) -> Array:
            return start.origin + (low + (high - low) * v)[:, None] * start.axis + r_out * start.radial(2.0 * np.pi * u)

        return points

    def record(self) -> dict[str, Any]:
        """Return nothing further."""
        return {}


def place_straight(spec: StraightSpec, site: Site) -> Straight:
    """Return the straight of `spec`. Raises GeometryError where a fill has nothing to reach."""
    if spec.straight != "fill":
        return Straight(site.mark, site.run, site.stock, site.start, float(spec.straight), fills=False)
    if site.reach is None:
        raise GeometryError(site.mark, "fill has nothing to reach", "use it last in a run whose end is a cope")
    return Straight(site.mark, site.run, site.stock, site.start, site.reach(), fills=True)
