"""How the engine moves on its mounts, and how hot its hot side gets, in a parameter file."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field

from rootgap.spec.fields import Direction, Model, Number, Point3, PositiveLength, ZeroOrLength

#: How far the top of an engine moves, mm, when it rolls on its mounts (published article: a 15 mm block as gauge),
#: and how high that top is over the axis it rolls about, mm (common practice, no source).
ROLL, HEIGHT = 15.0, 400.0
#: How far below the head's datum that axis lies, mm, where a file does not say (common practice, no source).
BELOW = 250.0
#: Temperatures, degrees C, of the pipes, of the flange on the head, and where it is measured (common practice, no
#: source: confirm them).
PIPE, FLANGE, COLD = 600.0, 350.0, 20.0
#: No hot side is hotter, and no garage colder, degrees C.
HOTTEST, COLDEST = 1100.0, -40.0


def _temperature(degrees: float) -> float:
    if not COLDEST <= degrees <= HOTTEST:
        raise ValueError(f"allowed: {COLDEST:g} to {HOTTEST:g} degrees C")
    return degrees


Temperature = Annotated[Number, AfterValidator(_temperature)]


class AxisSpec(Model):
    """A line in the engine frame."""

    at: Point3 = Field(description="any point on it", examples=[[0, -250, -60]])
    along: Direction = Field(examples=[[1, 0, 0]])


class MountsSpec(Model):
    """How the engine, and all that is bolted to it, moves against the chassis."""

    roll: ZeroOrLength = Field(
        default=ROLL, description="how far its top moves to either side when it rolls", examples=[15]
    )
    height: PositiveLength = Field(default=HEIGHT, description="of that top over the axis", examples=[400])
    axis: AxisSpec | None = Field(
        default=None,
        description="that it rolls about; along x, 250 mm below the head's datum, where left out",
        examples=[{"at": [0, -250, -60], "along": [1, 0, 0]}],
    )
    shift: ZeroOrLength = Field(
        default=0.0, description="how far the whole of it shifts besides, any way", examples=[5]
    )


class HeatSpec(Model):
    """How hot the parts get, degrees C."""

    pipe: Temperature = Field(default=PIPE, description="everything but the flanges on the head", examples=[600])
    flange: Temperature = Field(default=FLANGE, description="the flanges on the head", examples=[350])
    cold: Temperature = Field(default=COLD, description="where it is measured", examples=[20])
