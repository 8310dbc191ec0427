"""A half pipe in a parameter file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from rootgap.spec.fields import Angle, Model, PositiveLength
from rootgap.spec.measured import Measured


class HalfSpec(Model):
    """Pipe split lengthwise through its axis, one half kept. Its long edges stand on a plate, and a half disc
    stands on each of its ends."""

    half: PositiveLength = Field(description="length, between the half discs", examples=[300])
    close: Literal["plate", "flange"] = Field(
        default="plate", description="what its edges stand on: a plate of its own, or the flange that the run starts on"
    )
    thickness: PositiveLength | None = Field(default=None, description="of its own plate", examples=[6])
    discs: PositiveLength = Field(description="thickness of the half discs on its ends", examples=[6])
    clock: Angle = Field(default=0.0, description="the middle of the kept half")
    measured: Measured | None = Field(default=None, examples=[{"od": 73.4}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each key that does not go with what closes the half."""
        if values.get("close") == "flange":
            for word, why in (
                ("thickness", "the flange has its own"),
                ("clock", "the kept half faces away from the flange"),
            ):
                if word in values:
                    yield word, f"leave it out: {why}"
        elif values.get("close", "plate") == "plate" and "thickness" not in values:
            yield "", "the thickness of the plate that closes it is missing; for example: thickness = 6"
