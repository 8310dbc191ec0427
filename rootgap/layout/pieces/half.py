"""A half pipe: pipe split lengthwise through its axis, one half kept, with the plates that close it.

Terminology: the *split* is the plane through the axis that the pipe is cut in; the two *edges* of the wall that
lie in it stand on a plate; the *middle* of the kept half is the clock that faces away from the split.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.distance import HalfRod
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.paths import Path
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.layout.pieces.panel import Panel, half_disc, under
from rootgap.spec import HalfSpec
from rootgap.stock import Material, PipeStock, material


@dataclass(frozen=True, eq=False)
class Half:
    """Half a pipe. length: between its half discs, mm; clock: of its middle, degrees; discs: their thickness, mm;
    thickness: of its own closing plate, mm, None where it stands on a flange."""

    kind: ClassVar[str] = "half"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float
    clock: float
    discs: float
    thickness: float | None

    @property
    def end(self) -> Frame:
        """The frame at its far end."""
        return self.start.advanced(self.length)

    @property
    def leaves(self) -> PipeStock:
        """Its own stock: nothing follows it."""
        return self.stock

    @property
    def facing(self) -> Frame:
        """The frame at its start with the ref in the middle of the kept half."""
        return self.start.clocked(self.clock)

    @property
    def tube(self) -> Tube:
        """The pipe that it is half of, as a side of a joint."""
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length)

    @property
    def filled(self) -> HalfRod:
        """The body that it fills, bore and all."""
        return HalfRod(self.facing, self.length, self.stock.r_out)

    @cached_property
    def section(self) -> Path:
        """The wall's section, its flat along x = 0 to either side and y in the middle of the half."""
        r_in, r_out = self.stock.r_in, self.stock.r_out
        return Path(((r_out, 0.0, 1.0), (-r_out, 0.0, 0.0), (-r_in, 0.0, -1.0), (r_in, 0.0, 0.0)), closed=True)

    @property
    def bore_area(self) -> float:
        """Area that the gas has, mm2: half of the round pipe's, nothing less for the flat side."""
        return float(0.5 * np.pi * self.stock.r_in**2)

    @property
    def bore_told(self) -> str:
        """The bore area for people."""
        return f"{self.bore_area:.0f} mm2, half of the round pipe's {2.0 * self.bore_area:.0f}"

    @property
    def volume(self) -> float:
        """Metal volume, mm3, before any hole."""
        return 0.5 * self.stock.area * self.length

    @property
    def made_from(self) -> str:
        """How to split it and from how much pipe."""
        return (
            f"half pipe: {self.length:.1f} mm of pipe split lengthwise through its axis, two cuts on the lines of its "
            f"wrap; bore area {self.bore_told}"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"half {self.length:.1f}"

    @property
    def _plate_metal(self) -> Material:
        """What its plates are of: the pipe's family, for its grade is one of pipe."""
        return material(self.stock.material.name)

    @cached_property
    def ends(self) -> tuple[Panel, Panel]:
        """The half discs on its ends."""
        facing, metal, radii = self.facing, self._plate_metal, (self.stock.r_in, self.stock.r_out)
        near = Frame(facing.origin, vector(-facing.axis), facing.ref)
        return (
            half_disc(f"{self.id}-start", self.run, metal, near, radii, self.discs),
            half_disc(f"{self.id}-end", self.run, metal, facing.advanced(self.length), radii, self.discs),
        )

    @cached_property
    def closing(self) -> Panel | None:
        """Its own plate, which runs on under the half discs; None where it stands on a flange."""
        if self.thickness is None:
            return None
        facing, radii = self.facing, (self.stock.r_in, self.stock.r_out)
        below = Frame(facing.origin, vector(-facing.ref), vector(facing.side))
        spans = (-self.discs, self.length + self.discs), (0.0, self.length)
        return under(f"{self.id}-plate", self.run, self._plate_metal, below, spans, radii, self.thickness)

    @property
    def panels(self) -> tuple[Panel, ...]:
        """All plates that close it."""
        return self.ends if self.closing is None else (*self.ends, self.closing)

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside and the split, from end to end. span (mm) is of no use here."""
        facing, r_out, length = self.facing, self.stock.r_out, self.length

        def points(u: Array, v: Array) -> Array:
            # The first half of u runs round the outside, the second back across the split.
            turn = np.pi * (2.0 * np.minimum(u, 0.5) - 0.5)
            across = r_out * np.where(u < 0.5, 1.0, 3.0 - 4.0 * u)[:, None] * facing.radial(turn)
            return facing.origin + (length * v)[:, None] * facing.axis + across

        return points

    def record(self) -> dict[str, Any]:
        """Return its figures."""
        return {
            "clock": self.clock,
            "close": "flange" if self.thickness is None else "plate",
            "discs": self.discs,
            "bore_area": self.bore_area,
            "round_bore_area": 2.0 * self.bore_area,
        }


def place_half(spec: HalfSpec, site: Site) -> Half:
    """Return the half pipe of `spec`."""
    return Half(
        site.mark, site.run, site.stock, site.start, spec.half, spec.clock, spec.discs, spec.thickness
    )
