"""Parameter files of whole manifolds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    Tag,
    WithJsonSchema,
    model_validator,
)

from rootgap import stock, units
from rootgap.errors import UnitError
from rootgap.geometry.distance import Ball, Block, Body, Rod
from rootgap.geometry.frames import unit, vector
from rootgap.spec.fields import (
    ANGLE_SCHEMA,
    Angle,
    Direction,
    Misfit,
    Model,
    Name,
    Point3,
    PositiveLength,
    TableName,
    Text,
    ZeroOrLength,
    both,
    neither,
)
from rootgap.spec.measured import Measured
from rootgap.spec.part import FlangePart, MaterialWord
from rootgap.spec.pieces import PieceSpec
from rootgap.spec.words import one_of
from rootgap.stock import PipeStock

MOST_PIECES = 200
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

#: Any metal does to look a size up.
_ANY_METAL = "carbon steel"


class PipeSize(Model):
    """Round pipe of no table."""

    od: PositiveLength = Field(examples=[48.3])
    wall: PositiveLength = Field(examples=[2.8])

    @model_validator(mode="after")
    def _has_a_bore(self) -> PipeSize:
        stock.custom(self.od, self.wall, _ANY_METAL)
        return self


def _pipe_word(text: str) -> str:
    """Return the text of a pipe that the tables know. Raises UnitError, StockError."""
    stock.pipe(text, _ANY_METAL)
    return text


def _tube_word(text: str) -> str:
    """Return the text of a tube that can be. Raises UnitError, StockError."""
    stock.tube(text, _ANY_METAL)
    return text


class StockSpec(Model):
    """What a run is made of: pipe by size and schedule, or tube."""

    pipe: (
        Annotated[
            Annotated[str, AfterValidator(_pipe_word), Tag("<text>")] | Annotated[PipeSize, Tag("<od>")],
            one_of("od", text='a size such as "1-1/2 sch 10"'),
        ]
        | None
    ) = Field(default=None, examples=["1-1/2 sch 10"])
    tube: Annotated[str, AfterValidator(_tube_word)] | None = Field(default=None, examples=["1-3/4 x 16 ga"])
    material: MaterialWord = Field(examples=["304L"])
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4, "wall": 2.8}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault unless there is a pipe or a tube."""
        if both(values, "pipe", "tube"):
            yield "tube", "allowed: pipe or tube, not both"
        elif neither(values, "pipe", "tube"):
            yield "", 'a pipe or a tube is missing; for example: pipe = "1-1/2 sch 10"'

    @model_validator(mode="after")
    def _exists(self) -> StockSpec:
        if self.pipe is not None or self.tube is not None:
            try:
                self.bought  # noqa: B018  the measured figures must leave a wall: the look-up raises where they do not
            except UnitError as fault:
                raise Misfit(("measured",), fault.said) from None
        return self

    @cached_property
    def bought(self) -> PipeStock:
        """The stock with the table's figures, or the measured ones where given."""
        if isinstance(self.pipe, PipeSize):
            found = stock.custom(self.pipe.od, self.pipe.wall, self.material)
        elif self.pipe is not None:
            found = stock.pipe(self.pipe, self.material)
        else:
            found = stock.tube(str(self.tube), self.material)
        return as_measured(found, self.measured)


def as_measured(bought: PipeStock, measured: Measured | None) -> PipeStock:
    """Return `bought` with the figures that `measured` gives, mm. Raises UnitError where they leave no wall."""
    return bought.as_measured(measured.od, measured.wall) if measured else bought


Pieces = Annotated[tuple[PieceSpec, ...], Field(min_length=1, max_length=MOST_PIECES)]
_PIECES = [[{"straight": 28}, {"elbow": "LR", "angle": 60}]]


class Pose(Model):
    """A place and a direction in the engine frame."""

    at: Point3 = Field(examples=[[-55, 95, 120]])
    along: Direction = Field(examples=[[1, 0, 0]])
    ref: Direction | None = Field(default=None, description="clock 0; up where it is left out", examples=[[0, 1, 0]])

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


class CopeEnd(Model):
    """The run ends on another run's side."""

    cope: str = Field(examples=["log"])
    set_: Literal["on", "in"] = Field(default="on", alias="set", examples=["on"])
    prep: Literal["square", "bevel"] = Field(default="bevel", examples=["bevel"])
    bevel: BevelSpec | None = Field(
        default=None,
        description="wanted of a set-on bevelled end; ground just to clear where left out",
        examples=[{"land": 1.6, "angle": 45}],
    )
    clearance: ZeroOrLength = Field(default=SET_IN_CLEARANCE, description="of a set-in branch in its hole, all round")
    order: int | None = Field(
        default=None,
        ge=1,
        le=MOST_RUNS,
        description="when it is fitted: a later branch copes onto the earlier ones too",
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where a bevel is wanted of an end that has none."""
        if "bevel" in values and (values.get("set", "on"), values.get("prep", "bevel")) != ("on", "bevel"):
            yield "bevel", 'allowed: only with set = "on" and prep = "bevel"'


class FlangeEnd(Model):
    """The run ends on a flange."""

    flange: str = Field(examples=["turbine"])
    clock: Angle = Field(default=0.0, description="the clock that the flange's +y points to")


EndSpec = Annotated[
    Annotated[Literal["cap", "open"], Tag("<text>")]
    | Annotated[CopeEnd, Tag("<cope>")]
    | Annotated[FlangeEnd, Tag("<flange>")],
    one_of("cope", "flange", strings=("cap", "open")),
]
_END = [{"cope": "log"}, "cap"]


class RunOverride(Model):
    """What one member of a run with `each` does differently."""

    stock: str | None = Field(default=None, examples=["primary"])
    pieces: Pieces | None = Field(default=None, examples=_PIECES)
    end: EndSpec | None = Field(default=None, examples=_END)
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])


class RunSpec(Model):
    """A chain of pieces along the gas, or one such chain for each port of a flange."""

    stock: str = Field(examples=["primary"])
    each: str | None = Field(default=None, description='"FLANGE.port": one run a port', examples=["head.port"])
    start: (
        Annotated[
            Annotated[str, Tag("<text>")] | Annotated[Pose, Tag("<at>")],
            one_of("at", text='"RUN.end" or "FLANGE.port.NUMBER"'),
        ]
        | None
    ) = Field(default=None, examples=["log.end", {"at": [-55, 95, 120], "along": [1, 0, 0]}])
    pieces: Pieces = Field(examples=_PIECES)
    end: EndSpec | None = Field(
        default=None, description='how the gas end is made; "open" where left out', examples=_END
    )
    ends: tuple[Literal["cap", "open"], EndSpec] | None = Field(
        default=None, description="both ends, the first where the gas comes in", examples=[["cap", "open"]]
    )
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])
    override: dict[int, RunOverride] = Field(
        default_factory=dict, description="by port number: what one run of `each` does differently"
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each pair of keys that do not go together."""
        if both(values, "each", "start"):
            yield "start", "allowed: each or start, not both"
        elif neither(values, "each", "start"):
            yield "", 'where it begins is missing; for example: start = "log.end" or each = "head.port"'
        if both(values, "end", "ends"):
            yield "ends", "allowed: end or ends, not both"
        if "override" in values and "each" not in values:
            yield "override", "allowed: only in a run with each"
        ends = values.get("ends")
        joined = "each" in values or isinstance(values.get("start"), str)
        if isinstance(ends, list) and ends[:1] == ["cap"] and joined:
            yield "ends", "a run that starts at another run or a port has no first end to cap; use end"

    @property
    def first(self) -> Literal["cap", "open"]:
        """How the end is made where the gas comes in."""
        return self.ends[0] if self.ends else "open"

    @property
    def last(self) -> Literal["cap", "open"] | CopeEnd | FlangeEnd:
        """How the end is made where the gas leaves."""
        if self.ends:
            return self.ends[1]
        return self.end or "open"

    def member(self, number: int) -> RunSpec:
        """Return the run for port `number`, its overrides applied."""
        other = self.override.get(number)
        if other is None:
            return self
        changed = {name: getattr(other, name) for name in other.model_fields_set}
        if "end" in changed:
            changed["ends"] = None
        return self.model_copy(update=changed)


class CylinderShape(Model):
    """A cylinder between the middles of its two ends."""

    from_: Point3 = Field(alias="from", examples=[[430, -60, 60]])
    to: Point3 = Field(examples=[[520, -60, 60]])
    diameter: PositiveLength = Field(examples=[135])

    @model_validator(mode="after")
    def _has_length(self) -> CylinderShape:
        if self.from_ == self.to:
            raise Misfit(("to",), "allowed: another point than from")
        return self


class SphereShape(Model):
    """A sphere round a point."""

    at: Point3 = Field(examples=[[430, -60, 60]])
    diameter: PositiveLength = Field(examples=[135])


class BoxShape(Model):
    """A box round its middle, its edges along x, y and z."""

    at: Point3 = Field(examples=[[430, -60, 60]])
    size: tuple[PositiveLength, PositiveLength, PositiveLength] = Field(examples=[[90, 60, 120]])


class CylinderKeepout(Model):
    """A cylindrical keep-out."""

    cylinder: CylinderShape
    clearance: ZeroOrLength = Field(examples=[25])

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return Rod(vector(self.cylinder.from_), vector(self.cylinder.to), 0.5 * self.cylinder.diameter)


class SphereKeepout(Model):
    """A spherical keep-out."""

    sphere: SphereShape
    clearance: ZeroOrLength = Field(examples=[25])

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return Ball(vector(self.sphere.at), 0.5 * self.sphere.diameter)


class BoxKeepout(Model):
    """A keep-out in the form of a box."""

    box: BoxShape
    clearance: ZeroOrLength = Field(examples=[25])

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return Block.upright(self.box.at, self.box.size)


KeepoutSpec = Annotated[
    Annotated[CylinderKeepout, Tag("<cylinder>")]
    | Annotated[SphereKeepout, Tag("<sphere>")]
    | Annotated[BoxKeepout, Tag("<box>")],
    one_of("cylinder", "sphere", "box"),
]


class FlangeUse(Model):
    """A flange kept in a file of its own."""

    use: str = Field(examples=["../parts/head-sand-rail-four.toml"])


class _Manifold(Model):
    """What an assembly and its file have in common."""

    name: Name = Field(examples=["sand-rail-four"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    stock: Annotated[dict[TableName, StockSpec], Field(min_length=1, max_length=MOST_RUNS)] = Field(
        examples=[{"log": {"pipe": "2-1/2 sch 40", "material": "A53 B"}}]
    )
    run: Annotated[dict[TableName, RunSpec], Field(min_length=1, max_length=MOST_RUNS)] = Field(
        examples=[{"log": {"stock": "log", "start": {"at": [-55, 95, 120], "along": [1, 0, 0]}}}]
    )
    keepout: Annotated[dict[TableName, KeepoutSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="bodies that metal must stay clear of"
    )


class Assembly(_Manifold):
    """A whole manifold, every flange at hand."""

    flange: Annotated[dict[TableName, FlangePart], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)


class AssemblyFile(_Manifold):
    """The same as it stands in the file: a flange may be kept in another file."""

    flange: Annotated[
        dict[
            TableName,
            Annotated[
                Annotated[FlangeUse, Tag("<use>")] | Annotated[FlangePart, Tag("<kind>")],
                one_of("use", "kind"),
            ],
        ],
        Field(max_length=MOST_RUNS),
    ] = Field(default_factory=dict)
