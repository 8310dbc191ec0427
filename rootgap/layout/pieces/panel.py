"""A flat plate that closes a half pipe: under its long edges, or on an end of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.distance import Block, Body, HalfRod
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.paths import Path
from rootgap.layout.pieces.base import Span
from rootgap.layout.pieces.flat import Flat
from rootgap.stock.materials import Material


@dataclass(frozen=True, eq=False)
class Panel(Flat):
    """A flat plate. start: its drawing's origin on the face that the half stands on; axis: through the plate,
    away from the half; ref: the drawing's +y; thickness: mm; name: what it is; bore: where the half's
    bore ends on it; filled: the body that it fills."""

    kind: ClassVar[str] = "panel"
    id: str
    run: str
    name: str
    start: Frame
    outline: Path
    thickness: float
    metal: Material
    bore: Path
    filled: Body

    @property
    def made_from(self) -> str:
        """What to take."""
        return f"{self.name}, plate {self.thickness:g} mm"

    def record(self) -> dict[str, Any]:
        """Return what it is, its material and its thickness."""
        return {"name": self.name, "run": self.run, "material": self.metal.grade, "thickness": self.thickness}


def half_disc(mark: str, run: str, metal: Material, on: Frame, radii: tuple[float, float], thickness: float) -> Panel:
    """Return the half disc on an end of a half pipe. on: at the end, its axis out of the half, its ref in the
    middle of the half; radii: bore and outside, mm; thickness: mm."""
    r_in, r_out = radii
    filled = HalfRod(on, thickness, r_out)
    return Panel(mark, run, "half disc", on, half_round(r_out), thickness, metal, half_round(r_in), filled)


def under(
    mark: str,
    run: str,
    metal: Material,
    below: Frame,
    spans: tuple[Span, Span],
    radii: tuple[float, float],
    thickness: float,
) -> Panel:
    """Return the plate that the long edges of a half pipe stand on, as wide as the half. below: on the half's axis
    at its start, its axis out of the split; spans: of its length along the half and of the half's bore, mm; radii:
    bore and outside, mm; thickness: mm."""
    (low, high), (start, end) = spans
    r_in, r_out = radii
    along, across = np.cross(below.ref, below.axis), below.ref
    middle = below.origin + 0.5 * (low + high) * along + 0.5 * thickness * below.axis
    body = Block(Frame(vector(middle), below.axis, across), vector((2.0 * r_out, high - low, thickness)))
    outline, bore = rectangle(low, high, r_out), rectangle(start, end, r_in)
    return Panel(mark, run, "closing plate", below, outline, thickness, metal, bore, body)


def rectangle(low: float, high: float, half: float) -> Path:
    """Return the rectangle from x = `low` to `high` and `half` mm either side of y = 0, all in mm."""
    return Path.through([(low, -half), (high, -half), (high, half), (low, half)], closed=True)


def half_round(radius: float) -> Path:
    """Return the upper half of the disc of `radius` mm round the origin."""
    return Path(((radius, 0.0, 1.0), (-radius, 0.0, 0.0)), closed=True)
