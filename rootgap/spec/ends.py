"""How a run begins and how it ends."""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, Tag, model_validator

from rootgap.geometry.frames import unit
from rootgap.spec.fields import Angle, Direction, Misfit, Model, Point3, TableName, ZeroOrLength
from rootgap.spec.words import one_of

MOST_RUNS = 100

#: Radial clearance of a set-in branch in its hole unless the file says otherwise, mm
#: (common practice, no source).
SET_IN_CLEARANCE = 0.5

#: Sine of the least angle between a ref and its axis, no unit: one degree.
LEAST_TURN = 0.0175


class Pose(Model):
    """A place and a direction in the engine frame, or in a bank's."""

    at: Point3 = Field(examples=[[-55, 95, 120]])
    along: Direction = Field(examples=[[1, 0, 0]])
    ref: Direction | None = Field(default=None, description="clock 0; up where it is left out", examples=[[0, 1, 0]])
    bank: TableName | None = Field(
        default=None, description="whose frame it is given in; the engine's where left out", examples=["left"]
    )

    @model_validator(mode="after")
    def _turns(self) -> Pose:
        if self.ref is not None and np.linalg.norm(np.cross(unit(self.along), unit(self.ref))) < LEAST_TURN:
            raise Misfit(("ref",), "allowed: a direction that is not parallel to along")
        return self


class _Coped(Model):
    """How a branch sits on another run's side."""

    set_: Literal["on", "in"] = Field(default="on", alias="set", examples=["on"])
    prep: Literal["square", "bevel"] = Field(default="bevel", examples=["bevel"])
    clearance: ZeroOrLength = Field(default=SET_IN_CLEARANCE, description="of a set-in branch in its hole, all round")
    order: int | None = Field(
        default=None,
        ge=1,
        le=MOST_RUNS,
        description="when it is fitted: a later branch copes onto the earlier ones too; equal ones share a plane",
    )

    @property
    def turn(self) -> float:
        """When it is fitted: as the file says, else after those."""
        return float("inf") if self.order is None else self.order


class CopeEnd(_Coped):
    """The run ends on another run's side."""

    cope: str = Field(examples=["log"])

    @property
    def target(self) -> str:
        """The run that it sits on."""
        return self.cope


def _leaning(degrees: float) -> float:
    if not 0.0 < degrees < 180.0:
        raise ValueError("allowed: above 0 and below 180 degrees")
    return degrees


class SideStart(_Coped):
    """The run leaves another run's side. station: along that run's axis; lean: between its axis and the gas there."""

    off: str = Field(examples=["log"])
    station: ZeroOrLength = Field(description="along the axis of the run that it leaves", examples=[220])
    clock: Angle = Field(default=0.0, description="round the run that it leaves", examples=[90])
    lean: Annotated[Angle, AfterValidator(_leaning)] = Field(
        default=90.0, description="between its axis and the gas that goes on", examples=[60]
    )

    @property
    def target(self) -> str:
        """The run that it sits on."""
        return self.off


class FlangeEnd(Model):
    """The run ends on a flange."""

    flange: str = Field(examples=["turbine"])
    clock: Angle = Field(default=0.0, description="the clock that the flange's +y points to")
    port: Annotated[int, Field(ge=1)] | Annotated[tuple[Annotated[int, Field(ge=1)], ...], Field(min_length=1)] = Field(
        default=1, description="the opening that it feeds, or several that it covers", examples=[2, [1, 2]]
    )

    @property
    def ports(self) -> tuple[int, ...]:
        """The numbers of the openings that it feeds."""
        return (self.port,) if isinstance(self.port, int) else self.port


class MergeEnd(Model):
    """The run is a leg of a merge collector."""

    merge: str = Field(examples=["four"])


EndSpec = Annotated[
    Annotated[Literal["cap", "open"], Tag("<text>")]
    | Annotated[CopeEnd, Tag("<cope>")]
    | Annotated[FlangeEnd, Tag("<flange>")]
    | Annotated[MergeEnd, Tag("<merge>")],
    one_of("cope", "flange", "merge", strings=("cap", "open")),
]

StartSpec = Annotated[
    Annotated[str, Tag("<text>")] | Annotated[Pose, Tag("<at>")] | Annotated[SideStart, Tag("<off>")],
    one_of("at", "off", text='"RUN.end", "FLANGE.port.NUMBER", "COLLECTOR.out" or "SALVAGE.cut"'),
]
