"""A butt-weld elbow, whole or trimmed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

from rootgap import stock
from rootgap.errors import GeometryError, StockError
from rootgap.layout.pieces.arc import Arc
from rootgap.layout.pieces.base import Site
from rootgap.spec import ElbowSpec
from rootgap.stock import PipeStock

#: What is left of an elbow serves elsewhere where its throat is at least so long, mm, kerf and all: less does not
#: stand between two welds (common practice, no source).
LEAST_THROAT = 8.0


@dataclass(frozen=True, eq=False)
class Elbow(Arc):
    """A butt-weld elbow trimmed to `angle` degrees. stock_angle: of the fitting it is cut from, degrees;
    trim: which end is cut, along the gas; the other is the *factory end*."""

    kind: ClassVar[str] = "elbow"
    series: str
    stock_angle: float
    trim: Literal["end", "start", "both"] = "end"

    @property
    def trimmed(self) -> bool:
        """Whether any of it is cut off."""
        return self.angle < self.stock_angle

    @property
    def cuts(self) -> tuple[float, ...]:
        """Where the saw goes, degrees from a factory end."""
        if not self.trimmed:
            return ()
        if self.trim == "both":
            return 0.5 * (self.stock_angle - self.angle), 0.5 * (self.stock_angle + self.angle)
        return (self.angle,)

    @property
    def left_over(self) -> str:
        """What is cut off, and whether it serves elsewhere."""
        both = self.trim == "both"
        angle = (self.stock_angle - self.angle) / (2.0 if both else 1.0)
        what = f"{'two pieces' if both else 'a piece'} of {angle:.4g} deg less the kerf, "
        throat = self.arc(-self.stock.r_out, angle)
        return what + ("usable elsewhere" if throat >= LEAST_THROAT else "too little to use")

    @property
    def made_from(self) -> str:
        """What to take and where the saw goes: arc lengths from the factory end."""
        factory = f"{self.series} {self.stock_angle:g} elbow"
        if not self.trimmed:
            return f"{factory}, whole"
        where = "; then ".join(self._at(angle) for angle in self.cuts)
        ends = {"end": "the gas end", "start": "the start", "both": "both ends"}[self.trim]
        return f"{factory}, trim {ends} to {self.angle:.4g} deg: from the factory end {where}; {self.left_over}"

    def _at(self, angle: float) -> str:
        back, side, throat = (self.arc(out, angle) for out in (self.stock.r_out, 0.0, -self.stock.r_out))
        return f"{back:.1f} on the back, {side:.1f} on both sides, {throat:.1f} in the throat"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{self.series} {self.angle:.4g}"

    def record(self) -> dict[str, Any]:
        """Return the bend's figures."""
        return {
            "series": self.series,
            "from": self.stock_angle,
            "trim": self.trim if self.trimmed else "none",
            "radius": self.radius,
            "angle": self.angle,
            "clock": self.clock,
        }


def elbow_radius(spec: ElbowSpec, mark: str, pipe: PipeStock) -> float:
    """Return the centre-line radius, mm, of an elbow. Raises GeometryError where there is no such fitting."""
    if pipe.nps is None:
        raise GeometryError(mark, f"{pipe.label} has no butt-weld elbow", "use pipe of a nominal size for this run")
    try:
        return stock.elbow(pipe.nps, spec.elbow, spec.from_).radius
    except StockError as fault:
        raise GeometryError(mark, str(fault), "use one that exists") from None


def place_elbow(spec: ElbowSpec, site: Site) -> Elbow:
    """Return the elbow of `spec`. Raises GeometryError where its stock has no such fitting."""
    radius = elbow_radius(spec, site.mark, site.stock)
    return Elbow(
        site.mark,
        site.run,
        site.stock,
        site.start,
        radius,
        spec.swept,
        spec.clock,
        spec.elbow,
        float(spec.from_),
        spec.trim,
    )
