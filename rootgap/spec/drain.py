"""How the vehicle stands, and the oil's way from a turbo to the pan, in a parameter file."""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from rootgap import units
from rootgap.geometry.frames import unit
from rootgap.spec.ends import LEAST_TURN
from rootgap.spec.fields import ANGLE_SCHEMA, Angle, Direction, Misfit, Model, Point3, PositiveLength

#: How far from vertical an oil drain may point, and from level a shaft may lie, degrees. Source: a turbocharger maker's
#: page on oil drainage.
TILT = 15.0
#: No drain works past this, degrees, whatever a file asks for (common practice, no source).
MOST_TILT = 60.0
#: A vehicle that stands steeper than this, degrees, has other worries.
STEEPEST = 60.0
MOST_POINTS = 50


def _tilt(degrees: float) -> float:
    if not 0.0 < degrees <= MOST_TILT:
        raise ValueError(f"allowed: above 0 to {MOST_TILT:g} degrees")
    return degrees


def _stands(degrees: float) -> float:
    if abs(degrees) > STEEPEST:
        raise ValueError(f"allowed: {-STEEPEST:g} to {STEEPEST:g} degrees")
    return degrees


Tilt = Annotated[float, BeforeValidator(units.angle), AfterValidator(_tilt), WithJsonSchema(ANGLE_SCHEMA)]
Standing = Annotated[Angle, AfterValidator(_stands)]


class VehicleSpec(Model):
    """How the engine frame lies in the vehicle, and the vehicle on the ground."""

    up: Direction = Field(default=(0.0, 1.0, 0.0), description="in the engine frame, the vehicle level")
    forward: Direction = Field(default=(1.0, 0.0, 0.0), description="the way that it drives, in the engine frame")
    pitch: Standing = Field(default=0.0, description="nose up; below 0 nose down, as with a rake", examples=[-2])
    roll: Standing = Field(default=0.0, description="to its right; below 0 to its left", examples=[0])

    @model_validator(mode="after")
    def _turns(self) -> VehicleSpec:
        if np.linalg.norm(np.cross(unit(self.up), unit(self.forward))) < LEAST_TURN:
            raise Misfit(("forward",), "allowed: a direction that is not parallel to up")
        return self


class DrainSpec(Model):
    """The line from a turbo's oil drain to the pan. path: its corners after the drain; the last is at the pan."""

    turbo: str = Field(description="the turbo that it drains", examples=["main"])
    path: Annotated[tuple[Point3, ...], Field(min_length=1, max_length=MOST_POINTS)] = Field(
        examples=[[[460, -260, 150], [420, -300, 60]]]
    )
    bore: PositiveLength = Field(description="of the line, at its narrowest", examples=[16])
    oil: Point3 = Field(description="any point on the oil in the pan, the engine stopped", examples=[[200, -330, 0]])
    tilt: Tilt = Field(
        default=TILT, description="how far the drain may be from vertical and the shaft from level", examples=[15]
    )
