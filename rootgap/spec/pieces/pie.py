"""A pie-cut bend in a parameter file."""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, model_validator

from rootgap.spec.fields import Angle, Misfit, Model, PositiveLength, Sweep
from rootgap.spec.measured import Measured

#: More cuts than this make no better bend, and a pie of rings (common practice, no source).
MOST_CUTS = 24
#: A saw is set no further off square, degrees: beyond, a cut is longer than the pipe is thick (common practice).
MOST_SAW = 45.0


def _count(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= MOST_CUTS:
        raise ValueError(f"allowed: a whole number from 1 to {MOST_CUTS}")
    return value


class PieSpec(Model):
    """A bend of mitred segments of straight pipe, a half segment at each end."""

    pie: PositiveLength = Field(description="centre-line radius of the arc that the segments touch", examples=[95])
    angle: Sweep = Field(examples=[90])
    cuts: Annotated[int, BeforeValidator(_count), Field(ge=1, le=MOST_CUTS)] = Field(
        description="mitre joints", examples=[3]
    )
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])

    @model_validator(mode="after")
    def _saws(self) -> PieSpec:
        least = math.ceil(self.angle / (2.0 * MOST_SAW))
        if self.cuts < least:
            raise Misfit(("cuts",), f"allowed: at least {least}, so that the saw stands at most {MOST_SAW:g} degrees")
        return self
