"""Passages of sheet in a parameter file: cones and transitions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import Field

from rootgap.spec.fields import Angle, Model, PositiveLength, ZeroOrLength
from rootgap.spec.part import MaterialWord


class SheetSpec(Model):
    """What every passage of sheet has."""

    length: PositiveLength = Field(description="between the planes of its ends", examples=[60])
    thickness: PositiveLength | None = Field(
        default=None, description="of the sheet; the stock's wall where left out", examples=[2]
    )
    material: MaterialWord | None = Field(
        default=None, description="of the sheet; the stock's where left out", examples=["304L"]
    )
    offset: ZeroOrLength = Field(default=0.0, description="of its end's middle from its start's axis", examples=[8])
    clock: Angle = Field(default=0.0, description="where its end is set off to", examples=[90])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for a clock that means nothing."""
        if "clock" in values and "offset" not in values:
            yield "clock", "leave it out, or say how far its end is set off: offset"


class ConeSpec(SheetSpec):
    """A cone rolled from sheet, from the stock it stands on, or from a collector's opening, to another stock."""

    cone: str = Field(description="the stock that follows", examples=["outlet"])


class TransitionSpec(SheetSpec):
    """A passage of sheet from a port's opening to round."""

    transition: str = Field(description="the stock that follows", examples=["primary"])
