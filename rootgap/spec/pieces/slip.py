"""A slip joint in a run."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field, model_validator

from rootgap.spec.fields import Misfit, Model, PositiveLength, ZeroOrLength

#: Between sleeve and pipe, mm on the radius, unless the file says otherwise: snug, and not to be hammered on
#: (common practice, no source).
SLIP_CLEARANCE = 0.25
#: Of the downstream pipe in the sleeve, mm: less has no hold while its fillet is tacked (common practice, no source).
LEAST_SEAT = 5.0


class SlipSpec(Model):
    """A sleeve over two pipe ends: it slides on the upstream pipe and is welded to the downstream one."""

    slip: PositiveLength = Field(description="length of the sleeve", examples=[60])
    overlap: PositiveLength = Field(description="of the sleeve on the upstream pipe, cold", examples=[50])
    clearance: ZeroOrLength = Field(
        default=SLIP_CLEARANCE, description="between pipe and sleeve, on the radius", examples=[0.25]
    )
    gap: PositiveLength = Field(description="between the two pipes' ends, cold", examples=[3])
    wall: PositiveLength | None = Field(
        default=None, description="of the sleeve; the pipe's where it is left out", examples=[2]
    )
    #: A sleeve is made to the pipe that it slides on.
    measured: ClassVar[None] = None

    @property
    def seat(self) -> float:
        """Length of the downstream pipe inside the sleeve, mm."""
        return self.slip - self.overlap - self.gap

    @model_validator(mode="after")
    def _reaches_both(self) -> SlipSpec:
        least = self.overlap + self.gap + LEAST_SEAT
        if self.slip < least:
            raise Misfit(("slip",), f"allowed: at least {least:g} mm: overlap, gap and {LEAST_SEAT:g} mm beyond")
        return self
