"""Merge collectors and banks in a parameter file."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, model_validator

from rootgap.geometry.frames import unit
from rootgap.spec.ends import LEAST_TURN, Pose
from rootgap.spec.fields import Angle, Direction, Misfit, Model, Point3, PositiveLength

#: Half-angles, degrees, that can be cut and welded (common practice, no source).
HALF_ANGLES = (2.0, 60.0)


def _half_angle(degrees: float) -> float:
    if not HALF_ANGLES[0] <= degrees <= HALF_ANGLES[1]:
        raise ValueError(f"allowed: {HALF_ANGLES[0]:g} to {HALF_ANGLES[1]:g} degrees")
    return degrees


class CollectorSpec(Pose):
    """Equal runs that merge into one outlet. at: the middle of the plane that cuts them off; along: its gas;
    ref: towards the first leg."""

    half_angle: Annotated[Angle, AfterValidator(_half_angle)] = Field(
        description="between each leg's axis and the collector's", examples=[15]
    )
    legs: Annotated[tuple[str, ...], Field(min_length=2, max_length=4)] = Field(
        description="the runs that end on it, clockwise looking along the gas",
        examples=[["primary.1", "primary.2", "primary.3", "primary.4"]],
    )
    across: PositiveLength | None = Field(
        default=None,
        description="diameter round the legs' outsides where they are cut off; at their axes' crossing where left out",
        examples=[89],
    )
    prep: Literal["square", "bevel", "flat"] = Field(default="flat", description="how the legs' ends are cut")
    spike: PositiveLength | None = Field(
        default=None,
        description="a pointed filler of sheet on the crotch: how far its tip lies past where the bores meet, inside",
        examples=[30],
    )
    spike_thickness: PositiveLength | None = Field(
        default=None, description="of the spike's sheet; the legs' wall where left out", examples=[2]
    )

    @model_validator(mode="after")
    def _different(self) -> CollectorSpec:
        for index, leg in enumerate(self.legs):
            if leg in self.legs[:index]:
                raise Misfit(("legs", index), "allowed: a run of its own for each leg")
        if self.spike is not None and len(self.legs) == 2:
            raise Misfit(("spike",), "leave it out: two legs meet in an edge, on which no spike stands")
        if self.spike is None and self.spike_thickness is not None:
            raise Misfit(("spike_thickness",), "allowed: only with spike")
        return self


class BankSpec(Model):
    """A cylinder bank's frame: you look at its exhaust face; x right, y up, z towards you."""

    at: Point3 = Field(description="of the head flange's datum, in the engine frame", examples=[[0, 120, 90]])
    out: Direction = Field(description="square off its exhaust face, away from the head", examples=[[0, -0.5, 0.87]])
    up: Direction = Field(description="its face's own y", examples=[[0, 0.87, 0.5]])
    flange: str = Field(description="the flange that bolts to it", examples=["head"])

    @model_validator(mode="after")
    def _turns(self) -> BankSpec:
        if np.linalg.norm(np.cross(unit(self.out), unit(self.up))) < LEAST_TURN:
            raise Misfit(("up",), "allowed: a direction that is not parallel to out")
        return self
