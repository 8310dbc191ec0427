"""Parameter files of whole manifolds."""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, Tag, ValidationInfo, WithJsonSchema, model_validator

from rootgap import stock
from rootgap.spec.fields import (
    LENGTH_SCHEMA,
    Angle,
    Direction,
    Model,
    Name,
    Point3,
    PositiveLength,
    ZeroOrLength,
    length,
)
from rootgap.spec.part import FlangePart, MaterialWord
from rootgap.spec.words import one_of
from rootgap.stock import PipeStock

MOST_PIECES = 200
MOST_RUNS = 100

#: Radial clearance of a set-in branch in its hole unless the file says otherwise, mm
#: (common practice, no source).
SET_IN_CLEARANCE = 0.5


class Measured(Model):
    """What calipers say of a pipe; replaces the table's figures wherever it is given."""

    od: PositiveLength | None = None
    wall: PositiveLength | None = None


class PipeSize(Model):
    """Round pipe of no table."""

    od: PositiveLength
    wall: PositiveLength


class StockSpec(Model):
    """What a run is made of: pipe by size and schedule, or tube."""

    pipe: (
        Annotated[
            Annotated[str, Tag("<text>")] | Annotated[PipeSize, Tag("<od>")],
            one_of("od", text='a size such as "1-1/2 sch 10"'),
        ]
        | None
    ) = None
    tube: str | None = None
    material: MaterialWord
    measured: Measured | None = None

    @model_validator(mode="after")
    def _exists(self) -> StockSpec:
        if (self.pipe is None) == (self.tube is None):
            raise ValueError("allowed: exactly one of the keys pipe, tube")
        self.bought  # noqa: B018  the size must exist: the look-up raises where it does not
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
    """Return `bought` with the figures that `measured` gives."""
    return bought.as_measured(measured.od, measured.wall) if measured else bought


def _straight(value: Any, info: ValidationInfo) -> float | str:
    if value == "fill":
        return "fill"
    mm = length(value, info)
    if mm <= 0.0:
        raise ValueError('allowed: a length above 0, or "fill"')
    return mm


class StraightSpec(Model):
    """A straight piece of a length, or as long as it takes to reach the run's end."""

    straight: Annotated[float | Literal["fill"], PlainValidator(_straight), WithJsonSchema(LENGTH_SCHEMA)]
    measured: Measured | None = None


class ElbowSpec(Model):
    """A butt-weld elbow, long (LR) or short (SR) radius, trimmed to an angle."""

    elbow: Literal["LR", "SR"]
    angle: Annotated[Angle, Field(gt=0.0, le=90.0)] = 90.0
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    measured: Measured | None = None


PieceSpec = Annotated[
    Annotated[StraightSpec, Tag("<straight>")] | Annotated[ElbowSpec, Tag("<elbow>")],
    one_of("straight", "elbow"),
]


class Pose(Model):
    """A place and a direction in the engine frame."""

    at: Point3
    along: Direction
    ref: Direction | None = Field(default=None, description="clock 0; up where it is left out")


class CopeEnd(Model):
    """The run ends on another run's side."""

    cope: Name
    set_: Literal["on", "in"] = Field(default="on", alias="set")
    prep: Literal["square", "bevel"] = "bevel"
    clearance: ZeroOrLength = Field(default=SET_IN_CLEARANCE, description="of a set-in branch in its hole, all round")


class FlangeEnd(Model):
    """The run ends on a flange."""

    flange: Name
    clock: Angle = Field(default=0.0, description="the clock that the flange's +y points to")


EndSpec = Annotated[
    Annotated[Literal["cap", "open"], Tag("<text>")]
    | Annotated[CopeEnd, Tag("<cope>")]
    | Annotated[FlangeEnd, Tag("<flange>")],
    one_of("cope", "flange", text='"cap" or "open"'),
]


class RunOverride(Model):
    """What one member of a run with `each` does differently."""

    stock: Name | None = None
    pieces: Annotated[tuple[PieceSpec, ...], Field(min_length=1, max_length=MOST_PIECES)] | None = None
    end: EndSpec | None = None
    measured: Measured | None = None


class RunSpec(Model):
    """A chain of pieces along the gas, or one such chain for each port of a flange."""

    stock: Name
    each: str | None = Field(default=None, description='"FLANGE.port": one run a port')
    start: (
        Annotated[
            Annotated[str, Tag("<text>")] | Annotated[Pose, Tag("<at>")],
            one_of("at", text='"RUN.end" or "FLANGE.port.NUMBER"'),
        ]
        | None
    ) = None
    pieces: Annotated[tuple[PieceSpec, ...], Field(min_length=1, max_length=MOST_PIECES)]
    end: EndSpec | None = Field(default=None, description='how the gas end is made; "open" where left out')
    ends: tuple[Literal["cap", "open"], EndSpec] | None = Field(
        default=None, description="both ends, the first where the gas comes in"
    )
    measured: Measured | None = None
    override: dict[int, RunOverride] = Field(
        default_factory=dict, description="by port number: what one run of `each` does differently"
    )

    @model_validator(mode="after")
    def _agrees(self) -> RunSpec:
        if (self.each is None) == (self.start is None):
            raise ValueError("allowed: exactly one of the keys each, start")
        if self.end is not None and self.ends is not None:
            raise ValueError("allowed: end or ends, not both")
        if self.override and self.each is None:
            raise ValueError("override goes with each")
        return self

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
        return self.model_copy(update=changed)


class FlangeUse(Model):
    """A flange kept in a file of its own."""

    use: str


class Assembly(Model):
    """A whole manifold as its parameter file describes it."""

    name: Name
    title: str = ""
    units: Literal["mm", "in"]
    stock: Annotated[dict[Name, StockSpec], Field(min_length=1, max_length=MOST_RUNS)]
    flange: Annotated[dict[Name, FlangePart], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)
    run: Annotated[dict[Name, RunSpec], Field(min_length=1, max_length=MOST_RUNS)]


class AssemblyFile(Assembly):
    """The same as it stands in the file: a flange may be kept in another file."""

    flange: Annotated[  # type: ignore[assignment]
        dict[
            Name,
            Annotated[
                Annotated[FlangeUse, Tag("<use>")] | Annotated[FlangePart, Tag("<kind>")],
                one_of("use", "kind"),
            ],
        ],
        Field(max_length=MOST_RUNS),
    ] = Field(default_factory=dict)
