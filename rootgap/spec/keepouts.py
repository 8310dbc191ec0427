"""Bodies in a parameter file that metal must stay clear of."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, Tag, model_validator

from rootgap.geometry.distance import Ball, Block, Body, Rod
from rootgap.geometry.frames import vector
from rootgap.spec.fields import Misfit, Model, Point3, PositiveLength, ZeroOrLength
from rootgap.spec.words import one_of


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
