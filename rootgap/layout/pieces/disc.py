"""A flat disc of plate that closes a pipe's end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Circle
from rootgap.layout.pieces.flat import Flat
from rootgap.spec import DiscEnd
from rootgap.stock import Material, PipeStock, material


@dataclass(frozen=True, eq=False)
class Disc(Flat):
    """A disc of the pipe's outside diameter that stands on its end. start: on that end, the axis out of the
    pipe; r_out: its radius, mm; thickness: mm; metal: of the plate."""

    kind: ClassVar[str] = "disc"
    id: str
    run: str
    start: Frame
    r_out: float
    thickness: float
    metal: Material

    @property
    def outline(self) -> Circle:
        """Its edge."""
        return Circle((0.0, 0.0), self.r_out)

    @property
    def filled(self) -> Body:
        """The body that it fills."""
        return Rod(self.start.origin, self.end.origin, self.r_out)

    @property
    def made_from(self) -> str:
        """What to take."""
        return f"disc of plate, {2.0 * self.r_out:.1f} mm across, on the pipe's end"

    def record(self) -> dict[str, Any]:
        """Return the disc's figures."""
        return {
            "run": self.run,
            "diameter": 2.0 * self.r_out,
            "thickness": self.thickness,
            "material": self.metal.grade,
        }


def place_disc(spec: DiscEnd, mark: str, run: str, pipe: PipeStock, frame: Frame) -> Disc:
    """Return the disc of `spec` on the end of `pipe` at `frame`, whose axis points out of it."""
    metal = pipe.material if spec.material is None else material(spec.material)
    return Disc(mark, run, frame, pipe.r_out, spec.disc, metal)
