"""Parameter files of whole manifolds."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, Literal, TypeVar

from pydantic import (
    AfterValidator,
    ConfigDict,
    Field,
    SkipValidation,
    Tag,
    model_validator,
)

from rootgap import stock
from rootgap.errors import UnitError
from rootgap.geometry.mesh import Mesh
from rootgap.spec.access import InstallSpec, PlugSpec, ServiceSpec
from rootgap.spec.collector import BankSpec, CollectorSpec
from rootgap.spec.divider import DividerSpec
from rootgap.spec.drain import DrainSpec, VehicleSpec
from rootgap.spec.ends import (
    MOST_RUNS,
    CopeEnd,
    DiscEnd,
    EndSpec,
    FacePose,
    FirstSpec,
    FlangeEnd,
    MergeEnd,
    Pose,
    StartSpec,
)
from rootgap.spec.fields import (
    Misfit,
    Model,
    Name,
    PositiveLength,
    TableName,
    Text,
    both,
    neither,
)
from rootgap.spec.fixture import FixtureSpec
from rootgap.spec.keepouts import KeepoutSpec
from rootgap.spec.measured import Measured
from rootgap.spec.mount import HeatSpec, MountsSpec
from rootgap.spec.order import fitted, halved, in_order
from rootgap.spec.part import FlangePart, Held, MaterialWord
from rootgap.spec.pieces import PieceSpec
from rootgap.spec.route import Route, RouteSpec
from rootgap.spec.salvage import SalvageSpec
from rootgap.spec.search import GoalSpec, SearchSpec
from rootgap.spec.table import TablePart
from rootgap.spec.toml import toml_text
from rootgap.spec.turbo import StandingTurbo, StandingWastegate, TurboUse, WastegateUse
from rootgap.spec.vband import VbandPart
from rootgap.spec.words import one_of
from rootgap.stock import PipeStock

MOST_PIECES = 200

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


_END = [{"cope": "log"}, "cap"]
Pieces = Annotated[tuple[PieceSpec, ...], Field(min_length=1, max_length=MOST_PIECES), AfterValidator(in_order)]
_PIECES = [[{"straight": 28}, {"elbow": "LR", "angle": 60}]]


class RunOverride(Model):
    """What one member of a run with `each` does differently."""

    stock: str | None = Field(default=None, examples=["primary"])
    pieces: Pieces | None = Field(default=None, examples=_PIECES)
    route: Route | None = Field(default=None, examples=["solve"])
    end: EndSpec | None = Field(default=None, examples=_END)
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for pieces that are both told and sought."""
        if both(values, "pieces", "route"):
            yield "route", "allowed: pieces or route, not both"

    @model_validator(mode="after")
    def _whole(self) -> RunOverride:
        if self.pieces is not None and halved(self.pieces):
            raise Misfit(("pieces", 0), "allowed: no half pipe, which starts at no port; give it a run of its own")
        return self


class RunSpec(Model):
    """A chain of pieces along the gas, or one such chain for each port of a flange."""

    stock: str = Field(examples=["primary"])
    each: str | None = Field(default=None, description='"FLANGE.port": one run a port', examples=["head.port"])
    start: StartSpec | None = Field(default=None, examples=["log.end", {"at": [-55, 95, 120], "along": [1, 0, 0]}])
    pieces: Pieces = Field(default=(), description="along the gas", examples=_PIECES)
    route: Route | None = Field(
        default=None,
        description='"solve": its pieces are found, elbows and straights that are clear of everything',
        examples=["solve", {"elbows": ["LR"], "choice": 2}],
    )
    end: EndSpec | None = Field(
        default=None, description='how the gas end is made; "open" where left out', examples=_END
    )
    ends: tuple[FirstSpec, EndSpec] | None = Field(
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
        if both(values, "pieces", "route"):
            yield "route", "allowed: pieces or route, not both"
        elif neither(values, "pieces", "route"):
            example = f"pieces = {toml_text(_PIECES[0])}"
            yield "pieces", f'this key is missing; for example: {example}, or route = "solve"'
        ends = values.get("ends")
        joined = "each" in values or isinstance(values.get("start"), str)
        if isinstance(ends, list) and (ends[:1] == ["cap"] or isinstance(next(iter(ends), None), dict)) and joined:
            yield "ends", "a run that starts at another run or a port has no first end to cap; use end"

    @model_validator(mode="after")
    def _begins_at_an_opening(self) -> RunSpec:
        if not self.pieces:
            return self
        what, start = fitted(self.pieces[0]), self.start if isinstance(self.start, str) else ""
        if what and self.each is None and ".port." not in start and not start.endswith(".cut"):
            raise Misfit(
                ("pieces", 0),
                f'{what} begins at an opening: allowed where start is "FLANGE.port.NUMBER" or "SALVAGE.cut"',
            )
        if what == "a formed end" and start.endswith(".cut") and getattr(self.pieces[0], "formed", None) == "in":
            raise Misfit(("pieces", 0, "formed"), 'allowed: "on"; how far a pipe goes into a casting is not known')
        return self

    @model_validator(mode="after")
    def _leads_somewhere(self) -> RunSpec:
        if self.sought is None:
            return self
        key = ("route",) if self.route == "solve" else ("route", "to")
        if isinstance(self.last, CopeEnd | MergeEnd) and self.sought.to is not None:
            raise Misfit(key, "leave it out: its end says where that is")
        if not isinstance(self.last, CopeEnd | MergeEnd | FlangeEnd) and self.sought.to is None:
            example = toml_text({"to": {"at": [430, 200, 60], "along": [0, 1, 0]}})
            raise Misfit(("route",), f"where it ends is missing; for example: route = {example}")
        if self.sought.land is not None and not isinstance(self.last, CopeEnd):
            raise Misfit(("route", "land"), "allowed: only where its end is a cope")
        return self

    @property
    def sought(self) -> RouteSpec | None:
        """How its way is looked for, None where its pieces are told."""
        return RouteSpec() if self.route == "solve" else self.route

    @property
    def first(self) -> Literal["cap", "open"] | DiscEnd:
        """How the end is made where the gas comes in."""
        return self.ends[0] if self.ends else "open"

    @property
    def last(self) -> Literal["cap", "open"] | CopeEnd | FlangeEnd | MergeEnd | DiscEnd:
        """How the end is made where the gas leaves."""
        if self.ends:
            return self.ends[1]
        return self.end or "open"

    @model_validator(mode="after")
    def _half_stands(self) -> RunSpec:
        half, on_face = halved(self.pieces) if self.pieces else None, isinstance(self.start, FacePose)
        if half is None and on_face:
            raise Misfit(("start", "on"), 'allowed: only for a half pipe with close = "flange"')
        if half is None:
            return self
        for word in ("end", "ends"):
            if getattr(self, word) is not None:
                raise Misfit((word,), "leave it out: half discs close both ends of a half pipe")
        if half.close == "flange" and not on_face:
            allowed = 'allowed: a place on the flange, such as { on = "head", from = [-35, 0], along = [1, 0] }'
            raise Misfit(("start",) if self.start is not None else ("each",), allowed)
        if half.close == "plate" and not isinstance(self.start, Pose):
            allowed = "allowed: a pose, such as { at = [-55, 95, 120], along = [1, 0, 0] }"
            raise Misfit(("start",) if self.start is not None else ("each",), allowed)
        return self

    def member(self, number: int) -> RunSpec:
        """Return the run for port `number`, its overrides applied."""
        other = self.override.get(number)
        if other is None:
            return self
        changed = {name: getattr(other, name) for name in other.model_fields_set}
        if "end" in changed:
            changed["ends"] = None
        if "pieces" in changed:
            changed["route"] = None
        elif "route" in changed:
            changed["pieces"] = ()
        return self.model_copy(update=changed)


class PartUse(Model):
    """A part kept in a file of its own."""

    use: str = Field(examples=["../parts/head-sand-rail-four.toml"])


class FlangeUse(PartUse):
    """A flange kept in a file of its own, and how it is bolted here."""

    held: Held = None


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
    bank: Annotated[dict[TableName, BankSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="frames of cylinder banks"
    )
    collector: Annotated[dict[TableName, CollectorSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="where runs merge side by side"
    )
    divider: Annotated[dict[TableName, DividerSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="plates that part the gas in two"
    )
    salvage: Annotated[dict[TableName, SalvageSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="pieces of castings that runs go on from"
    )
    keepout: Annotated[dict[TableName, KeepoutSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="bodies that metal must stay clear of"
    )
    mounts: MountsSpec = Field(
        default=MountsSpec(), description="how the engine moves against the chassis", examples=[{"roll": 15}]
    )
    heat: HeatSpec = Field(default=HeatSpec(), description="how hot the parts get", examples=[{"pipe": 600}])
    plug: Annotated[dict[TableName, PlugSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="spark plugs that a socket must reach"
    )
    service: Annotated[dict[TableName, ServiceSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="what is taken off for service, and the way it goes"
    )
    install: InstallSpec = Field(
        default_factory=InstallSpec, description="how the finished part is put in", examples=[{"removed": ["hood"]}]
    )
    vehicle: VehicleSpec = Field(
        default_factory=VehicleSpec, description="how the engine frame lies in it", examples=[{"pitch": -2}]
    )
    drain: Annotated[dict[TableName, DrainSpec], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="lines from a turbo's oil drain to the pan"
    )
    fixture: FixtureSpec | None = Field(
        default=None, description="plates that hold the work while it is tacked", examples=[{"thickness": 6}]
    )
    search: dict[TableName, SearchSpec] = Field(
        default_factory=dict, description="values of this file that rootgap search may change"
    )
    goal: GoalSpec = Field(
        default_factory=GoalSpec, description="what rootgap search looks for", examples=[{"margin": {"enough": 10}}]
    )


class Assembly(_Manifold):
    """A whole manifold, every part at hand. meshes: of the keep-outs that come from files of their own, by name."""

    model_config = ConfigDict(arbitrary_types_allowed=True)

    flange: Annotated[dict[TableName, FlangePart], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)
    vband: Annotated[dict[TableName, VbandPart], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)
    turbo: Annotated[dict[TableName, StandingTurbo], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)
    wastegate: Annotated[dict[TableName, StandingWastegate], Field(max_length=MOST_RUNS)] = Field(default_factory=dict)
    table: TablePart | None = None
    meshes: Annotated[Mapping[str, SkipValidation[Mesh]], Field(exclude=True, repr=False)] = Field(default_factory=dict)


P = TypeVar("P")
#: A table of parts, each at hand or kept in another file.
Kept = Annotated[
    dict[
        TableName,
        Annotated[Annotated[PartUse, Tag("<use>")] | Annotated[P, Tag("<kind>")], one_of("use", "kind")],
    ],
    Field(max_length=MOST_RUNS),
]


class AssemblyFile(_Manifold):
    """The same as it stands in the file: a part may be kept in another file."""

    flange: Annotated[
        dict[
            TableName,
            Annotated[Annotated[FlangeUse, Tag("<use>")] | Annotated[FlangePart, Tag("<kind>")], one_of("use", "kind")],
        ],
        Field(max_length=MOST_RUNS),
    ] = Field(default_factory=dict)
    vband: Kept[VbandPart] = Field(default_factory=dict)
    turbo: Annotated[dict[TableName, TurboUse], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="envelopes of turbos, each on a flange"
    )
    wastegate: Annotated[dict[TableName, WastegateUse], Field(max_length=MOST_RUNS)] = Field(
        default_factory=dict, description="envelopes of gates, each on a flange of its own"
    )
    table: (
        Annotated[
            Annotated[str, Tag("<text>")] | Annotated[PartUse, Tag("<use>")] | Annotated[TablePart, Tag("<kind>")],
            one_of("use", "kind", text="the path of a table's file"),
        ]
        | None
    ) = Field(
        default=None,
        description="the cutting table that plates are made for: the path of its file, or its keys",
        examples=["../parts/tables/shop-plasma.toml"],
    )
