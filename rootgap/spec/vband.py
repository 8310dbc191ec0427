"""Parameter files of V-band pairs.

Terminology
    ring     one of a pair: a hub that the pipe is welded to, and a rim whose back slopes
    groove   angle of that slope, degrees, between it and the plane square to the axis
    pilot    the male ring's spigot, round the bore, that sets the two in line in the female's recess
    pocket   a counterbore in the hub that the pipe goes into; without it the hub is butted to the pipe
    gap      between the faces when the clamp is tight: a gasket's thickness, or nought for metal on metal

No published drawing of a family of V-bands is known to us: every figure is the file's own.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema, model_validator

from rootgap.spec.fields import (
    LENGTH_SCHEMA,
    SHORTEST,
    Angle,
    Misfit,
    Model,
    Name,
    PlateLength,
    Text,
    ZeroOrLength,
    at_least,
    length,
)
from rootgap.spec.part import MaterialWord
from rootgap.stock import Material, material

#: Slopes, degrees a side, that a clamp can pull together (common practice, no source).
GROOVES = (5.0, 45.0)
#: Metal that a turned ring keeps everywhere, mm (common practice, no source).
LEAST_METAL = 0.5

#: A play, mm: it may be stated as nought, which a check then refuses.
Play = Annotated[
    float, BeforeValidator(length), AfterValidator(at_least(0.0, "a clearance")), WithJsonSchema(LENGTH_SCHEMA)
]


def _groove(degrees: float) -> float:
    if not GROOVES[0] <= degrees <= GROOVES[1]:
        raise ValueError(f"allowed: {GROOVES[0]:g} to {GROOVES[1]:g} degrees, of one side")
    return degrees


class PilotSpec(Model):
    """The male ring's spigot. clearance: on the radius, and at its bottom as well."""

    diameter: PlateLength = Field(description="outside", examples=[80])
    height: PlateLength = Field(description="beyond the face", examples=[2])
    clearance: Play = Field(description="on the radius, and at its bottom as well", examples=[0.15])

    @property
    def recess(self) -> float:
        """Radius of the female ring's recess, mm."""
        return 0.5 * self.diameter + self.clearance

    @property
    def depth(self) -> float:
        """Depth of the female ring's recess, mm."""
        return self.height + self.clearance


class PocketSpec(Model):
    """A counterbore in the hub that the pipe goes into, up to its bottom."""

    depth: PlateLength = Field(examples=[5])
    clearance: Play = Field(description="on the radius", examples=[0.2])
    hub: PlateLength = Field(description="outside diameter of the hub round it", examples=[81])


class ClampSpec(Model):
    """The room that the closed clamp takes."""

    outside: PlateLength = Field(description="diameter", examples=[106])
    width: PlateLength = Field(examples=[20])


class VbandPart(Model):
    """A V-band pair: two rings and their clamp. Both rings are bored to the pipe that they are welded to."""

    name: Name = Field(examples=["vband-76"])
    kind: Literal["vband"] = Field(examples=["vband"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    material: MaterialWord = Field(examples=["304"])
    note: Text = ""
    pipe: PlateLength = Field(description="outside diameter of the pipe that it takes", examples=[76.1])
    outside: PlateLength = Field(description="diameter of the rings", examples=[92])
    length: PlateLength = Field(description="of one ring along the axis, from hub end to face", examples=[20])
    rim: PlateLength = Field(description="thickness at the outside", examples=[3])
    groove: Annotated[Angle, AfterValidator(_groove)] = Field(
        description="of one side, from the plane square to the axis", examples=[20]
    )
    gap: ZeroOrLength = Field(default=0.0, description="between the faces when the clamp is tight", examples=[0.5])
    pilot: PilotSpec | None = Field(default=None, examples=[{"diameter": 80, "height": 2, "clearance": 0.15}])
    pocket: PocketSpec | None = Field(default=None, examples=[{"depth": 5, "clearance": 0.2, "hub": 81}])
    clamp: ClampSpec = Field(examples=[{"outside": 106, "width": 20}])

    @property
    def metal(self) -> Material:
        """The material, as the tables have it."""
        return material(self.material)

    @property
    def r_hub(self) -> float:
        """Outside radius of the hub, mm: of its butted end the pipe's."""
        return 0.5 * (self.pocket.hub if self.pocket else self.pipe)

    @property
    def r_rim(self) -> float:
        """Outside radius of the rings, mm."""
        return 0.5 * self.outside

    @property
    def r_pocket(self) -> float | None:
        """Radius of the pocket, mm, None where the hub is butted."""
        return 0.5 * self.pipe + self.pocket.clearance if self.pocket else None

    @property
    def depth(self) -> float:
        """How far the pipe goes into the hub, mm."""
        return self.pocket.depth if self.pocket else 0.0

    @property
    def stack(self) -> float:
        """From pipe end to pipe end through both rings, mm."""
        return 2.0 * (self.length - self.depth) + self.gap

    def thick(self, radius: float) -> float:
        """Return how thick a ring is at `radius`, mm, behind its face: mm up to the slope, or the whole hub's."""
        if radius <= self.r_hub:
            return self.length
        return self.rim + (self.r_rim - radius) * math.tan(math.radians(self.groove))

    @model_validator(mode="after")
    def _hub_and_rim(self) -> VbandPart:
        pocket = self.pocket
        if pocket:
            least = self.pipe + 2.0 * (pocket.clearance + LEAST_METAL)
            if pocket.hub < least:
                raise Misfit(("pocket", "hub"), f"allowed: at least {least:g} mm, round the pipe in its pocket")
        if self.r_rim < self.r_hub + 2.0 * LEAST_METAL:
            least = 2.0 * self.r_hub + 4.0 * LEAST_METAL
            raise Misfit(("outside",), f"allowed: at least {least:g} mm, so that the clamp has a slope to pull on")
        least = self.rim + (self.r_rim - self.r_hub) * math.tan(math.radians(self.groove)) + SHORTEST
        if self.length < least:
            raise Misfit(("length",), f"allowed: at least {least:.1f} mm, so that the slope ends on the hub")
        sunk = self.pilot.depth if self.pilot else 0.0
        if pocket and pocket.depth + sunk + LEAST_METAL > self.length:
            most = self.length - sunk - LEAST_METAL
            raise Misfit(("pocket", "depth"), f"allowed: at most {most:.1f} mm, so that the pocket has a bottom")
        return self

    @model_validator(mode="after")
    def _pilot_and_clamp(self) -> VbandPart:
        pilot = self.pilot
        if pilot:
            most = self.outside - 2.0 * (pilot.clearance + LEAST_METAL)
            if pilot.diameter > most:
                raise Misfit(("pilot", "diameter"), f"allowed: at most {most:g} mm, so that the rings keep a face")
            if self.thick(pilot.recess) < pilot.depth + LEAST_METAL:
                most = self.thick(pilot.recess) - pilot.clearance - LEAST_METAL
                raise Misfit(
                    ("pilot", "height"), f"allowed: at most {most:.1f} mm, or its recess comes out of the slope"
                )
            if self.gap >= pilot.height:
                raise Misfit(("gap",), f"allowed: below the pilot's height, {pilot.height:g} mm, so that it engages")
        if self.clamp.outside <= self.outside:
            raise Misfit(("clamp", "outside"), f"allowed: above {self.outside:g} mm, the rings' own")
        least = 2.0 * self.rim + self.gap
        if self.clamp.width <= least:
            raise Misfit(("clamp", "width"), f"allowed: above {least:g} mm, both rims and the gap between them")
        return self
