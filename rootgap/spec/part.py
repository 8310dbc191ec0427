"""Parameter files of parts: for now, flanges of any kind."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, Tag, model_validator

from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Path
from rootgap.spec.fields import Angle, Misfit, Model, Name, Point2, PositiveLength
from rootgap.spec.words import one_of
from rootgap.stock import Material, material

MOST_PORTS = 64
MOST_BOLTS = 256


def _material_word(word: str) -> str:
    """Return the word if the tables know it. Raises StockError."""
    return material(word).grade


MaterialWord = Annotated[str, AfterValidator(_material_word)]


class RoundOpening(Model):
    """A round opening of a diameter."""

    round: PositiveLength = Field(examples=[40])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Round(self.round)


class RoundedOpening(Model):
    """A rectangle of a width and height with rounded corners."""

    rounded: tuple[PositiveLength, PositiveLength] = Field(examples=[[36, 30]])
    radius: PositiveLength = Field(examples=[8])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return RoundedRectangle(*self.rounded, self.radius)


class OvalOpening(Model):
    """Two half circles joined by straights; width and height over all."""

    oval: tuple[PositiveLength, PositiveLength] = Field(examples=[[44, 30]])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Oval(*self.oval)


class DeeOpening(Model):
    """Flat below, round above; width and height over all, radius of the two flat corners."""

    dee: tuple[PositiveLength, PositiveLength] = Field(examples=[[40, 36]])
    radius: PositiveLength = Field(examples=[5])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Dee(*self.dee, self.radius)


OpeningSpec = Annotated[
    Annotated[RoundOpening, Tag("<round>")]
    | Annotated[RoundedOpening, Tag("<rounded>")]
    | Annotated[OvalOpening, Tag("<oval>")]
    | Annotated[DeeOpening, Tag("<dee>")],
    one_of("round", "rounded", "oval", "dee"),
]


class PortSpec(Model):
    """One opening in a flange. at: its centre; angle: turn, anticlockwise in the flange's view."""

    at: Point2 = Field(examples=[[92, 0]])
    opening: OpeningSpec = Field(examples=[{"round": 40}])
    angle: Angle = 0.0

    @model_validator(mode="after")
    def _can_be(self) -> PortSpec:
        try:
            self.opening.opening()
        except ValueError as fault:
            raise Misfit(("opening",), str(fault)) from None
        return self


class BoltSpec(Model):
    """A set of equal bolt holes."""

    at: Annotated[tuple[Point2, ...], Field(min_length=1, max_length=MOST_BOLTS)] = Field(
        examples=[[[-34, 20], [-34, -20]]]
    )
    hole: PositiveLength = Field(examples=[9], description="diameter")
    thread: str = Field(default="", examples=["M8"])


class OutlineSpec(Model):
    """The outer edge: metal round every port and bolt, re-entrant corners filled by an arc."""

    edge: PositiveLength = Field(description="metal left round each opening", examples=[13])
    boss: PositiveLength = Field(description="radius of the metal round each bolt hole's centre", examples=[13])
    fillet: PositiveLength = Field(description="radius of every re-entrant corner", examples=[25])


class FlangePart(Model):
    """A flange plate. The drawing's x is right and y up, seen from where the gas goes: a head
    flange from its pipe side, a turbine inlet flange from the turbine."""

    name: Name = Field(examples=["head-sand-rail-four"])
    kind: Literal["flange"] = Field(examples=["flange"])
    title: str = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    material: MaterialWord = Field(examples=["carbon steel"])
    thickness: PositiveLength = Field(examples=[12])
    note: str = ""
    port: Annotated[tuple[PortSpec, ...], Field(min_length=1, max_length=MOST_PORTS)] = Field(
        examples=[[{"at": [0, 0], "opening": {"round": 40}}]]
    )
    bolts: Annotated[tuple[BoltSpec, ...], Field(max_length=MOST_BOLTS)] = Field(
        default=(), examples=[[{"hole": 9, "at": [[-34, 20]]}]]
    )
    outline: OutlineSpec = Field(examples=[{"edge": 13, "boss": 13, "fillet": 25}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where the sets of bolt holes have too many in all."""
        groups = values.get("bolts")
        if isinstance(groups, list) and len(groups) <= MOST_BOLTS:
            places = [group["at"] for group in groups if isinstance(group, dict) and isinstance(group.get("at"), list)]
            count = sum(map(len, places))
            if count > MOST_BOLTS and max(map(len, places)) <= MOST_BOLTS:
                yield "bolts", f"{count} holes in all; allowed: at most {MOST_BOLTS}"

    @model_validator(mode="after")
    def _leaves_metal(self) -> FlangePart:
        widest = max((group.hole for group in self.bolts), default=0.0)
        if self.outline.boss <= 0.5 * widest:
            allowed = f"allowed: above {0.5 * widest:g} mm, so that metal is left round a hole of {widest:g} mm"
            raise Misfit(("outline", "boss"), allowed)
        return self

    @property
    def metal(self) -> Material:
        """The material, as the tables have it."""
        return material(self.material)

    def holes(self) -> tuple[tuple[tuple[float, float], float, str], ...]:
        """Return (centre, diameter, thread) of every bolt hole, mm."""
        return tuple((at, group.hole, group.thread) for group in self.bolts for at in group.at)

    def edge(self) -> Path:
        """Return the outer edge as lines and arcs. Raises ValueError where it falls apart."""
        openings = [(port.opening.opening(), port.at, port.angle) for port in self.port]
        outline = self.outline
        return flange_outline(openings, [at for at, _, _ in self.holes()], outline.edge, outline.boss, outline.fillet)
