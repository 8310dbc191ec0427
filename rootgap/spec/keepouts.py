"""Bodies in a parameter file that metal must stay clear of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, Strict, Tag, model_validator

from rootgap.geometry.distance import Ball, Block, Body, HalfSpace, Rod
from rootgap.geometry.frames import Frame, turned, unit, vector
from rootgap.spec.fields import (
    Angle,
    Direction,
    Misfit,
    Model,
    Point3,
    PositiveLength,
    ZeroOrLength,
    at_most,
    neither,
)
from rootgap.spec.words import one_of
from rootgap.stock.keepouts import Reason

#: Degrees about x, then y, then z, as they stand in the engine frame.
Turn = tuple[Angle, Angle, Angle]
Side = Literal["engine", "chassis"]
#: What a mesh's numbers may be in, mm.
MESH_UNITS: Mapping[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
#: A chord of a curved face of a STEP file may lie so far from it, mm, where the file does not say.
TOLERANCE = 0.1
#: And no farther, mm, than this.
COARSEST = 5.0


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
    """A box round its middle, its edges along x, y and z, and then turned."""

    at: Point3 = Field(examples=[[430, -60, 60]])
    size: tuple[PositiveLength, PositiveLength, PositiveLength] = Field(examples=[[90, 60, 120]])
    turn: Turn = Field(
        default=(0.0, 0.0, 0.0),
        description="degrees about its middle: about x, then y, then z",
        examples=[[0, 0, 15]],
    )


class PlaneShape(Model):
    """Everything behind a plane: a hood, the ground, a frame rail's side."""

    at: Point3 = Field(description="any point on it", examples=[[0, 320, 0]])
    normal: Direction = Field(description="out of what is filled, towards the free side", examples=[[0, -1, 0]])


class MeshShape(Model):
    """A body from a file of its own, its numbers turned about their origin and then moved."""

    file: Annotated[str, Field(min_length=1)] = Field(
        description="its path, from this file, inside the workspace", examples=["../scans/bay.stl"]
    )
    at: Point3 = Field(
        default=(0.0, 0.0, 0.0), description="where the origin of its numbers stands", examples=[[0, -60, 0]]
    )
    turn: Turn = Field(
        default=(0.0, 0.0, 0.0),
        description="degrees about that origin: about x, then y, then z",
        examples=[[90, 0, 0]],
    )


class StlShape(MeshShape):
    """A body of triangles, such as a scan."""

    units: Literal["mm", "cm", "m", "in"] = Field(
        description="of its numbers: an STL file does not say", examples=["mm"]
    )


class StepShape(MeshShape):
    """A body that was drawn; the file says its units itself."""

    tolerance: Annotated[PositiveLength, AfterValidator(at_most(COARSEST, "for a clearance"))] = Field(
        default=TOLERANCE,
        description="how far a curved face may lie from the triangles that stand for it",
        examples=[0.1],
    )


class _Keepout(Model):
    """What every keep-out says beside its shape."""

    clearance: ZeroOrLength | None = Field(
        default=None, description="least distance; by the reason where left out", examples=[25]
    )
    reason: Reason | None = Field(default=None, description="why metal stays clear of it", examples=["hose_or_wiring"])
    shielded: Annotated[bool, Strict()] = Field(
        default=False, description="whether a heat shield stands between; else it is bare"
    )
    side: Side = Field(
        default="chassis", description="what it is bolted to: the engine moves against the chassis, not itself"
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where nothing says how far metal stays away."""
        if neither(values, "clearance", "reason"):
            yield "", 'a reason or a clearance is missing; for example: reason = "hose_or_wiring" or clearance = 25'


class CylinderKeepout(_Keepout):
    """A cylindrical keep-out."""

    cylinder: CylinderShape

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return Rod(vector(self.cylinder.from_), vector(self.cylinder.to), 0.5 * self.cylinder.diameter)


class SphereKeepout(_Keepout):
    """A spherical keep-out."""

    sphere: SphereShape

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return Ball(vector(self.sphere.at), 0.5 * self.sphere.diameter)


class BoxKeepout(_Keepout):
    """A keep-out in the form of a box."""

    box: BoxShape

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        x, _, z = turned(self.box.turn)
        # A block's size is told along its frame's ref, side and axis: x, y and z before it is turned.
        return Block(Frame(vector(self.box.at), unit(z), unit(x)), vector(self.box.size))


class PlaneKeepout(_Keepout):
    """A keep-out behind a plane."""

    plane: PlaneShape

    def body(self) -> Body:
        """Return the body that metal stays clear of, mm."""
        return HalfSpace(vector(self.plane.at), unit(self.plane.normal))


class StlKeepout(_Keepout):
    """A keep-out in the form of an STL file."""

    stl: StlShape


class StepKeepout(_Keepout):
    """A keep-out in the form of a STEP file."""

    step: StepShape


KeepoutSpec = Annotated[
    Annotated[CylinderKeepout, Tag("<cylinder>")]
    | Annotated[SphereKeepout, Tag("<sphere>")]
    | Annotated[BoxKeepout, Tag("<box>")]
    | Annotated[PlaneKeepout, Tag("<plane>")]
    | Annotated[StlKeepout, Tag("<stl>")]
    | Annotated[StepKeepout, Tag("<step>")],
    one_of("cylinder", "sphere", "box", "plane", "stl", "step"),
]
