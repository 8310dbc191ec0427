"""Bent pipe or tube in a parameter file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import Field

from rootgap.spec.fields import AimedSweep, Angle, Model, PositiveLength
from rootgap.spec.measured import Measured


class BendSpec(Model):
    """Pipe or tube bent to a centre-line radius."""

    bend: PositiveLength = Field(description="centre-line radius", examples=[95])
    angle: AimedSweep = Field(description='or "aim"', examples=[60])
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for an aimed bend with a clock of its own."""
        if values.get("angle") == "aim" and "clock" in values:
            yield "clock", "leave it out: an aimed bend finds its own"
