"""How a run begins and how it ends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import AfterValidator, BeforeValidator, Field, Tag, WithJsonSchema, model_validator

from rootgap import units
from rootgap.geometry.frames import unit
from rootgap.spec.fields import (
    ANGLE_SCHEMA,
    Angle,
    Direction,
    Direction2,
    Misfit,
    Model,
    PlateLength,
    Point2,
    Point3,
    TableName,
    ZeroOrLength,
)
from rootgap.spec.part import MaterialWord
from rootgap.spec.words import one_of

MOST_RUNS = 100

#: Radial clearance of a set-in branch in its hole unless the file says otherwise, mm
#: (common practice, no source).
SET_IN_CLEARANCE = 0.5

#: Angles that a bevelled end's groove may have, degrees.
LEAST_GROOVE, MOST_GROOVE = 10.0, 90.0

#: A land narrower than this, mm, is an edge and not a face.
LEAST_LAND = 0.01

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


def _groove(degrees: float) -> float:
    if not LEAST_GROOVE <= degrees <= MOST_GROOVE:
        raise ValueError(f"allowed: {LEAST_GROOVE:g} to {MOST_GROOVE:g} degrees, between the other pipe and the face")
    return degrees


def _land(mm: float) -> float:
    if 0.0 < mm < LEAST_LAND:
        raise ValueError(f"allowed: 0, or at least {LEAST_LAND:g} mm")
    return mm


Groove = Annotated[float, BeforeValidator(units.angle), AfterValidator(_groove), WithJsonSchema(ANGLE_SCHEMA)]


class BevelSpec(Model):
    """How wide a bevelled end opens, and what is left of it at the root."""

    land: Annotated[ZeroOrLength, AfterValidator(_land)] = Field(
        description="of the root face that stays, across the wall", examples=[1.6]
    )
    angle: Groove = Field(
        description="between the other pipe's surface and the bevelled face, at least, all round", examples=[45]
    )


def _turn(number: int) -> int:
    if not 1 <= number <= MOST_RUNS:
        raise ValueError(f"allowed: a whole number, 1 to {MOST_RUNS}")
    return number


class _Coped(Model):
    """How a branch sits on another run's side."""

    set_: Literal["on", "in"] = Field(default="on", alias="set", examples=["on"])
    prep: Literal["square", "bevel"] = Field(default="bevel", examples=["bevel"])
    bevel: BevelSpec | None = Field(
        default=None,
        description="wanted of a set-on bevelled end; ground just to clear where left out",
        examples=[{"land": 1.6, "angle": 45}],
    )
    clearance: ZeroOrLength = Field(default=SET_IN_CLEARANCE, description="of a set-in branch in its hole, all round")
    meridians: Literal[12, 16, 24] = Field(
        default=24, description="marks round an elbow's or bend's own coped end", examples=[16]
    )
    order: Annotated[int, AfterValidator(_turn)] | None = Field(
        default=None,
        description="when it is fitted: a later branch copes onto the earlier ones too; equal ones share a plane",
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where a bevel is wanted of an end that has none."""
        if "bevel" in values and (values.get("set", "on"), values.get("prep", "bevel")) != ("on", "bevel"):
            yield "bevel", 'allowed: only with set = "on" and prep = "bevel"'

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


class FacePose(Model):
    """A place and a direction on a flange's face, in the flange's own drawing."""

    on: TableName = Field(description="the flange", examples=["head"])
    from_: Point2 = Field(alias="from", description="where the axis begins", examples=[[-35, 0]])
    along: Direction2 = Field(examples=[[1, 0]])


def leaning(degrees: float) -> float:
    """Return an angle between two axes, degrees, that is neither 0 nor 180. Raises ValueError."""
    if not 0.0 < degrees < 180.0:
        raise ValueError("allowed: above 0 and below 180 degrees")
    return degrees


class SideStart(_Coped):
    """The run leaves another run's side. station: along that run's axis; lean: between its axis and the gas there."""

    off: str = Field(examples=["log"])
    station: ZeroOrLength = Field(description="along the axis of the run that it leaves", examples=[220])
    clock: Angle = Field(default=0.0, description="round the run that it leaves", examples=[90])
    lean: Annotated[Angle, AfterValidator(leaning)] = Field(
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


class DiscEnd(Model):
    """The run is closed by a flat disc of plate that stands on the pipe's end."""

    disc: PlateLength = Field(description="thickness of the plate", examples=[6])
    material: MaterialWord | None = Field(
        default=None, description="the pipe's where it is left out", examples=["carbon steel"]
    )


#: How a run is made where nothing follows or comes before it.
FirstSpec = Annotated[
    Annotated[Literal["cap", "open"], Tag("<text>")] | Annotated[DiscEnd, Tag("<disc>")],
    one_of("disc", strings=("cap", "open")),
]

EndSpec = Annotated[
    Annotated[Literal["cap", "open"], Tag("<text>")]
    | Annotated[CopeEnd, Tag("<cope>")]
    | Annotated[FlangeEnd, Tag("<flange>")]
    | Annotated[MergeEnd, Tag("<merge>")]
    | Annotated[DiscEnd, Tag("<disc>")],
    one_of("cope", "flange", "merge", "disc", strings=("cap", "open")),
]

StartSpec = Annotated[
    Annotated[str, Tag("<text>")]
    | Annotated[Pose, Tag("<at>")]
    | Annotated[SideStart, Tag("<off>")]
    | Annotated[FacePose, Tag("<on>")],
    one_of("at", "off", "on", text='"RUN.end", "FLANGE.port.NUMBER", "COLLECTOR.out" or "SALVAGE.cut"'),
]
