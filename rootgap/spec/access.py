"""What hands and tools must come at, and how the finished part goes in, in a parameter file."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, Strict

from rootgap.spec.ends import MOST_RUNS
from rootgap.spec.fields import Direction, Model, Point3, PositiveLength, ZeroOrLength
from rootgap.spec.turbo import StubSpec

#: Across flats of a spark plug's hexagon, mm (from memory: 5/8 in or 16 mm; older ones are larger).
PLUG_FLATS = 16.0
#: Room that a part keeps on its way in, mm (common practice, no source).
INSTALL_ROOM = 2.0


class PlugSpec(Model):
    """Spark plugs that stand alike. at: where each one's hexagon stands on the head; along: out of the head."""

    at: Annotated[tuple[Point3, ...], Field(min_length=1, max_length=MOST_RUNS)] = Field(
        examples=[[[46, 70, -20], [260, 70, -20]]]
    )
    along: Direction = Field(description="out of the head", examples=[[0, 0.8, 0.6]])
    flats: PositiveLength = Field(default=PLUG_FLATS, description="of its hexagon", examples=[16])
    boot: StubSpec = Field(
        default=StubSpec(diameter=25.0, length=80.0),
        description="that goes over it, and its lead",
        examples=[{"diameter": 25, "length": 80}],
    )
    sleeved: Annotated[bool, Strict()] = Field(default=False, description="the boot has a heat sleeve over it")


class ServiceSpec(Model):
    """Something that is taken off for service, such as an oil filter: the keep-out that it is, and the way it goes."""

    keepout: str = Field(description="the keep-out that it is", examples=["oil-filter"])
    along: Direction = Field(description="the way that it goes", examples=[[0, -1, 0]])
    travel: PositiveLength = Field(description="how far, until it is free", examples=[60])


class InstallSpec(Model):
    """How the finished part is put in. room: that it keeps from everything on its way; travel: how far it must come;
    removed: keep-outs that are off while it goes in."""

    room: ZeroOrLength = Field(default=INSTALL_ROOM, description="kept from everything on the way", examples=[2])
    travel: PositiveLength | None = Field(
        default=None,
        description="how far it must come; past every keep-out that has an end, if left out",
        examples=[400],
    )
    removed: Annotated[tuple[str, ...], Field(max_length=MOST_RUNS)] = Field(
        default=(), description="keep-outs that are off while it goes in", examples=[["hood"]]
    )
