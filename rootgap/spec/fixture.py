"""The plates that hold the work while it is tacked, in a parameter file."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from rootgap.spec.ends import MOST_RUNS
from rootgap.spec.fields import Misfit, Model, PlateLength, ZeroOrLength, at_most
from rootgap.spec.part import MaterialWord

#: What a cut edge may be off, a side, mm. Source: sheet makers' tab-and-slot guides: 0.010 in for a laser's slip
#: fit; 1/32 in a side for plasma in plate (builders' pages).
CUT_TOLERANCE = {"plasma": 0.8, "laser": 0.25}
#: Room round a pipe in its seat, mm (common practice, no source): a feeler's, which lets tubes on the large side in.
SEAT_ROOM = 0.5
#: Metal of the base beyond all that stands on it, mm (common practice, no source).
BASE_MARGIN = 20.0
#: Plate that is thinner bends under the work; thicker than this is not cut with tabs, mm (common practice, no source).
THICKNESSES = (2.0, 25.0)
MOST_STATIONS = 20


def _thickness(mm: float) -> float:
    if not THICKNESSES[0] <= mm <= THICKNESSES[1]:
        raise ValueError(f"allowed: {THICKNESSES[0]:g} to {THICKNESSES[1]:g} mm, for a fixture")
    return mm


def _names_or_auto(value: Any) -> Any:
    """Return None for "auto". Raises ValueError for any other string."""
    if value == "auto":
        return None
    if isinstance(value, str):
        raise ValueError('allowed: "auto", or an array of names')  # noqa: TRY004  it is told as a fault of the file
    return value


def _stations_or_auto(value: Any) -> Any:
    """Return an empty table for "auto". Raises ValueError for any other string."""
    if value == "auto":
        return {}
    if isinstance(value, str):
        raise ValueError('allowed: "auto", or a table of stations by run')  # noqa: TRY004
    return value


#: Names in an array, or "auto", for which None stands.
NAMES_SCHEMA = {
    "anyOf": [
        {"const": "auto", "type": "string"},
        {"items": {"type": "string"}, "maxItems": MOST_RUNS, "type": "array"},
    ]
}
Names = Annotated[
    Annotated[tuple[str, ...], Field(max_length=MOST_RUNS)] | None,
    BeforeValidator(_names_or_auto),
    WithJsonSchema(NAMES_SCHEMA),
]
Small = Annotated[ZeroOrLength, AfterValidator(at_most(5.0, "of room"))]


class FixtureSpec(Model):
    """A base that the head flange bolts to, cradles for the pipes and posts for the other flanges."""

    thickness: Annotated[PlateLength, AfterValidator(_thickness)] = Field(
        description="of every plate of it", examples=[6]
    )
    material: MaterialWord = Field(default="carbon steel", examples=["carbon steel"])
    cut: Literal["plasma", "laser"] = Field(default="plasma", description="what it is cut by: how close tabs fit")
    tolerance: Small | None = Field(
        default=None, description="room a side between tab and slot; 0.8 mm for plasma, 0.25 mm for laser if left out"
    )
    room: Small = Field(default=SEAT_ROOM, description="round a pipe in its seat")
    flange: str | None = Field(
        default=None,
        description="the flange that bolts to the base; if left out, each that runs begin on has a fixture of its own",
        examples=["head"],
    )
    runs: Names = Field(
        default=None,
        description="the runs to hold; all from the flange's ports, what they end on, and what goes on, if left out",
        examples=[["primary", "log"]],
        json_schema_extra={"default": "auto"},
    )
    posts: Names = Field(
        default=None,
        description="the flanges that a post carries; if left out, all that those runs end on and that face the base",
        examples=[["turbine"]],
        json_schema_extra={"default": "auto"},
    )
    stations: Annotated[
        dict[str, Annotated[tuple[ZeroOrLength, ...], Field(max_length=MOST_STATIONS)]],
        BeforeValidator(_stations_or_auto),
    ] = Field(
        default_factory=dict,
        description="by run: where its cradles stand, along its axis; found where a run is left out",
        examples=[{"log": [20, 390]}],
    )
    margin: ZeroOrLength = Field(default=BASE_MARGIN, description="of the base beyond all that stands on it")

    @model_validator(mode="after")
    def _fits(self) -> FixtureSpec:
        if self.runs == ():
            raise Misfit(("runs",), "allowed: at least one run to hold")
        if self.thickness < 2.0 * self.fit:
            raise Misfit(("tolerance",), f"allowed: up to half the plate's thickness, {0.5 * self.thickness:g} mm")
        return self

    @property
    def fit(self) -> float:
        """Room a side between a tab and its slot, mm."""
        return CUT_TOLERANCE[self.cut] if self.tolerance is None else self.tolerance
