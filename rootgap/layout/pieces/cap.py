"""A butt-weld cap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Cap:
    """A butt-weld cap: a 2:1 ellipsoidal head with a straight skirt. start: at its open end, the axis
    towards the crown; length: over all, mm.

    Source: ASME B16.9, whose caps are ellipsoidal to the vessel code's 2:1 form.
    """

    kind: ClassVar[str] = "cap"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float

    @property
    def leaves(self) -> PipeStock:
        """The stock of what it is welded to: its own."""
        return self.stock

    @property
    def filled(self) -> None:
        """Nothing: whether others run into it is asked of their bodies."""

    @property
    def rise(self) -> float:
        """Height of the outside's half ellipse over the skirt, mm: the inside is r_in / 2 deep."""
        return 0.5 * self.stock.r_in + self.stock.wall

    @property
    def skirt(self) -> float:
        """Length of the straight skirt, mm."""
        return self.length - self.rise

    @property
    def volume(self) -> float:
        """Metal volume, mm3. Source: volume of a half ellipsoid, 2/3 pi a^2 b."""
        r_out, r_in = self.stock.r_out, self.stock.r_in
        outside = r_out**2 * (self.skirt + 2.0 / 3.0 * self.rise)
        inside = r_in**2 * (self.skirt + 1.0 / 3.0 * r_in)
        return float(np.pi * (outside - inside))

    @property
    def made_from(self) -> str:
        """What to take."""
        return "butt-weld cap, whole"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside, skirt and crown."""
        start, r_out, skirt, rise = self.start, self.stock.r_out, self.skirt, self.rise

        def points(u: Array, v: Array) -> Array:
            up = np.radians(90.0) * np.clip(2.0 * v - 1.0, 0.0, 1.0)
            station = skirt * np.minimum(2.0 * v, 1.0) + rise * np.sin(up)
            across = (r_out * np.cos(up))[:, None] * start.radial(2.0 * np.pi * u)
            return start.origin + station[:, None] * start.axis + across

        return points

    def record(self) -> dict[str, Any]:
        """Return nothing further."""
        return {}
