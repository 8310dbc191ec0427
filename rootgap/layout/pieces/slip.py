"""The sleeve of a slip joint.

The axis goes on by the gap between the two pipes' ends, and the sleeve stands round both. Its bore is the
pipe's outside with the clearance all round on both sides: on the upstream pipe that is left to slide, on
the downstream one the fillet closes it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.spec.pieces import SlipSpec
from rootgap.stock import PipeStock
from rootgap.units import mm_text

CAUTION = (
    "leaks some exhaust, more while cold: not where people breathe it, nor before an oxygen sensor or a turbine "
    "that needs the gas"
)


@dataclass(frozen=True, eq=False)
class Sleeve:
    """A sleeve over two pipe ends. stock: the sleeve's own; start: on the upstream pipe's end; leaves: the
    pipe; whole_length: of the sleeve, mm; overlap: on the upstream pipe, mm; gap: between the pipes' ends, mm."""

    kind: ClassVar[str] = "slip sleeve"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    leaves: PipeStock
    whole_length: float
    overlap: float
    gap: float

    @property
    def length(self) -> float:
        """What it adds to the run's axis, mm: the gap."""
        return self.gap

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves: on the downstream pipe's end."""
        return self.start.advanced(self.gap)

    @property
    def rim(self) -> Frame:
        """The frame on the sleeve's own upstream end."""
        return self.start.advanced(-self.overlap)

    @property
    def seat(self) -> float:
        """Length of the downstream pipe inside it, mm."""
        return self.whole_length - self.overlap - self.gap

    @property
    def tube(self) -> Tube:
        """The sleeve between the pipes' ends."""
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length)

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all."""
        return Rod(self.rim.origin, self.rim.advanced(self.whole_length).origin, self.stock.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return self.stock.area * self.whole_length

    @property
    def made_from(self) -> str:
        """What to make, how it goes on, and what to beware of."""
        return (
            f"slip sleeve, bore {mm_text(self.stock.bore)}, {self.overlap:g} mm over the upstream pipe and free to "
            f"slide, {self.seat:g} mm over the downstream one and fillet welded there, {self.gap:g} mm left between "
            f"the pipes cold; {CAUTION}"
        )

    @property
    def told_ends(self) -> tuple[str, str]:
        """What its two ends are, along the gas."""
        return "square, deburred inside", "square, fillet weld"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"slip {self.whole_length:g}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        rim, r_out, length = self.rim, self.stock.r_out, self.whole_length

        def points(u: Array, v: Array) -> Array:
            return rim.origin + (length * v)[:, None] * rim.axis + r_out * rim.radial(2.0 * np.pi * u)

        return points

    def record(self) -> dict[str, Any]:
        """Return the sleeve's figures."""
        return {
            "sleeve_length": self.whole_length,
            "overlap": self.overlap,
            "gap": self.gap,
            "seat": self.seat,
            "note": CAUTION,
        }


def place_slip(spec: SlipSpec, site: Site) -> Sleeve:
    """Return the sleeve of `spec`."""
    pipe = site.stock
    wall = pipe.wall if spec.wall is None else spec.wall
    od = pipe.od + 2.0 * (spec.clearance + wall)
    sleeve = replace(
        pipe,
        label=f"sleeve {mm_text(od)} x {mm_text(wall)}",
        kind="custom",
        od=od,
        wall=wall,
        nps=None,
        schedule=None,
        od_tolerance=0.0,
        measured=False,
    )
    return Sleeve(site.mark, site.run, sleeve, site.start, pipe, spec.slip, spec.overlap, spec.gap)
