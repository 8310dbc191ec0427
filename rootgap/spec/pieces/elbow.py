"""A butt-weld elbow in a parameter file."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from rootgap.spec.fields import Angle, Bend, Model
from rootgap.spec.measured import Measured


class ElbowSpec(Model):
    """A butt-weld elbow, long (LR) or short (SR) radius, trimmed to an angle."""

    elbow: Literal["LR", "SR"] = Field(examples=["LR"])
    angle: Bend = 90.0
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])
