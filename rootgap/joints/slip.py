"""Slip joints: a sleeve that is welded to one pipe and slides on the other."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.joints.joint import CutAt, End
from rootgap.layout import Member, Sleeve
from rootgap.layout.aim import at_least


@dataclass(frozen=True, eq=False)
class Slip:
    """A sleeve over two pipe ends. frame: on the upstream pipe's end, its axis along the gas; r_out: outsides of
    the upstream and the downstream pipe, bore: radius of the sleeve's; gap, overlap, seat: between the pipes,
    and of the sleeve on the upstream and on the downstream one, cold; all mm."""

    kind: ClassVar[str] = "slip"
    id: str
    before: str
    sleeve: str
    after: str
    frame: Frame
    r_out: tuple[float, float]
    bore: float
    gap: float
    overlap: float
    seat: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of the upstream pipe, the sleeve and the downstream pipe."""
        return self.before, self.sleeve, self.after

    @property
    def square(self) -> tuple[End, ...]:
        """The two pipes' ends."""
        return (self.before, "end"), (self.after, "start")

    @property
    def clearance(self) -> float:
        """Between the sleeve and the pipe that it slides on, mm on the radius."""
        return self.bore - self.r_out[0]

    @property
    def weld_gap(self) -> float:
        """Between the sleeve and the pipe that it is welded to, mm on the radius: the fillet closes it."""
        return self.bore - self.r_out[1]

    @property
    def weld_length(self) -> float:
        """Circumference of the downstream pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out[1])


def slip(before: Member, sleeve: Sleeve, after: Member) -> Slip:
    """Return the slip joint of two pipes. Raises GeometryError where one is too short for its part of the sleeve."""
    for pipe, needed in ((before, sleeve.overlap), (after, sleeve.seat)):
        if pipe.length < needed:
            raise GeometryError(
                pipe.id,
                f"is {pipe.length:.1f} mm long; {sleeve.id} reaches {needed:.1f} mm over it",
                f"make it at least {at_least(needed - pipe.length)} mm longer, or the sleeve shorter",
            )
    return Slip(
        f"{before.id}+{after.id}",
        before.id,
        sleeve.id,
        after.id,
        sleeve.start,
        (before.leaves.r_out, after.stock.r_out),
        sleeve.stock.r_in,
        sleeve.gap,
        sleeve.overlap,
        sleeve.seat,
    )
