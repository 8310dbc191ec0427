"""Bent pipe or tube in a parameter file."""

from __future__ import annotations

from pydantic import Field

from rootgap.spec.fields import Angle, Model, PositiveLength, Sweep
from rootgap.spec.measured import Measured


class BendSpec(Model):
    """Pipe or tube bent to a centre-line radius."""

    bend: PositiveLength = Field(description="centre-line radius", examples=[95])
    angle: Sweep = Field(examples=[60])
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])
