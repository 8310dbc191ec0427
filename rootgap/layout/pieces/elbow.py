"""A butt-weld elbow, whole or trimmed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from rootgap import stock
from rootgap.errors import GeometryError
from rootgap.layout.pieces.arc import Arc
from rootgap.layout.pieces.base import Site
from rootgap.spec import ElbowSpec


@dataclass(frozen=True, eq=False)
class Elbow(Arc):
    """A butt-weld elbow trimmed to `angle` degrees. stock_angle: of the fitting it is cut from, degrees."""

    kind: ClassVar[str] = "elbow"
    series: str
    stock_angle: float

    @property
    def made_from(self) -> str:
        """What to take and where the saw goes: arc lengths from the factory end."""
        factory = f"{self.series} {self.stock_angle:g} elbow"
        if self.angle == self.stock_angle:
            return f"{factory}, whole"
        back, side, throat = (self.arc(out, self.angle) for out in (self.stock.r_out, 0.0, -self.stock.r_out))
        return (
            f"{factory}, trim to {self.angle:g} deg: from the factory end {back:.1f} on the back, "
            f"{side:.1f} on both sides, {throat:.1f} in the throat; {self.stock_angle - self.angle:g} deg left over"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{self.series} {self.angle:g}"

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
        site.mark, site.run, site.stock, site.start, radius, spec.angle, spec.clock, spec.elbow, 90.0
    )
