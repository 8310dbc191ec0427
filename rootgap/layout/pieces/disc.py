"""A flat disc of plate that closes a pipe's end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Circle
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.spec import DiscEnd
from rootgap.stock import Material, PipeStock, material


@dataclass(frozen=True, eq=False)
class Disc:
    """A disc of the pipe's outside diameter that stands on its end. start: on that end, the axis out of the
    pipe; r_out, length: its radius and thickness, mm; metal: of the plate."""

    kind: ClassVar[str] = "disc"
    id: str
    run: str
    start: Frame
    r_out: float
    length: float
    metal: Material

    @property
    def end(self) -> Frame:
        """The frame on its outer face."""
        return self.start.advanced(self.length)

    @property
    def filled(self) -> Body:
        """The body that it fills."""
        return Rod(self.start.origin, self.end.origin, self.r_out)

    @property
    def outline(self) -> Circle:
        """The outer edge."""
        return Circle((0.0, 0.0), self.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return float(np.pi * self.r_out**2 * self.length)

    @property
    def made_from(self) -> str:
        """What to take."""
        return f"disc of plate, {2.0 * self.r_out:.1f} mm across, on the pipe's end"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over both faces and the edge. span (mm) is of no use here."""
        start, r_out, thickness = self.start, self.r_out, self.length

        def points(u: Array, v: Array) -> Array:
            # v runs out over one face, along the edge, and back over the other.
            out = r_out * np.clip(np.minimum(v, 1.0 - v) * 4.0, 0.0, 1.0)
            depth = np.clip(2.0 * v - 0.5, 0.0, 1.0) * thickness
            across = out[:, None] * start.radial(2.0 * np.pi * u)
            return start.origin + depth[:, None] * start.axis + across

        return points

    def record(self) -> dict[str, Any]:
        """Return the disc's figures."""
        return {
            "run": self.run,
            "diameter": 2.0 * self.r_out,
            "thickness": self.length,
            "material": self.metal.grade,
        }


def place_disc(spec: DiscEnd, mark: str, run: str, pipe: PipeStock, frame: Frame) -> Disc:
    """Return the disc of `spec` on the end of `pipe` at `frame`, whose axis points out of it."""
    metal = pipe.material if spec.material is None else material(spec.material)
    return Disc(mark, run, frame, pipe.r_out, spec.disc, metal)
