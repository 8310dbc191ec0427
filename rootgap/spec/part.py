"""Parameter files of parts: for now, flanges of any kind."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, Tag, model_validator

from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Path
from rootgap.spec.fields import Angle, Model, Name, Point2, PositiveLength
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

    round: PositiveLength

    def opening(self) -> Opening:
        return Round(self.round)


class RoundedOpening(Model):
    """A rectangle of a width and height with rounded corners."""

    rounded: tuple[PositiveLength, PositiveLength]
    radius: PositiveLength

    def opening(self) -> Opening:
        return RoundedRectangle(*self.rounded, self.radius)


class OvalOpening(Model):
    """Two half circles joined by straights; width and height over all."""

    oval: tuple[PositiveLength, PositiveLength]

    def opening(self) -> Opening:
        return Oval(*self.oval)


class DeeOpening(Model):
    """Flat below, round above; width and height over all, radius of the two flat corners."""

    dee: tuple[PositiveLength, PositiveLength]
    radius: PositiveLength

    def opening(self) -> Opening:
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

    at: Point2
    opening: OpeningSpec
    angle: Angle = 0.0

    @model_validator(mode="after")
    def _can_be(self) -> PortSpec:
        self.opening.opening()
        return self


class BoltSpec(Model):
    """A set of equal bolt holes."""

    at: Annotated[tuple[Point2, ...], Field(min_length=1, max_length=MOST_BOLTS)]
    hole: PositiveLength
    thread: str = ""


class OutlineSpec(Model):
    """The outer edge: metal round every port and bolt, re-entrant corners filled by an arc."""

    edge: PositiveLength = Field(description="metal left round each opening")
    boss: PositiveLength = Field(description="radius of the metal round each bolt hole's centre")
    fillet: PositiveLength = Field(description="radius of every re-entrant corner")




class FlangePart(Model):
    """A flange plate. The drawing's x is right and y up, seen from where the gas goes: a head
    flange from its pipe side, a turbine inlet flange from the turbine."""

    name: Name
    kind: Literal["flange"]
    title: str = ""
    units: Literal["mm", "in"]
    material: MaterialWord
    thickness: PositiveLength
    note: str = ""
    port: Annotated[tuple[PortSpec, ...], Field(min_length=1, max_length=MOST_PORTS)]
    bolts: Annotated[tuple[BoltSpec, ...], Field(max_length=MOST_BOLTS)] = ()
    outline: OutlineSpec

    @property
    def metal(self) -> Material:
        return material(self.material)

    def holes(self) -> tuple[tuple[tuple[float, float], float, str], ...]:
        """Return (centre, diameter, thread) of every bolt hole, mm."""
        return tuple((at, group.hole, group.thread) for group in self.bolts for at in group.at)

    def edge(self) -> Path:
        """Return the outer edge as lines and arcs. Raises ValueError where it falls apart."""
        openings = [(port.opening.opening(), port.at, port.angle) for port in self.port]
        outline = self.outline
        return flange_outline(openings, [at for at, _, _ in self.holes()], outline.edge, outline.boss, outline.fillet)


