"""A mitred corner in a parameter file."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import AfterValidator, Field

from rootgap.spec.fields import Angle, Model

#: Turns, degrees, that two straights can be mitred to: less is a butt joint, more leaves no crotch that a
#: torch reaches (common practice, no source).
LEAST_MITRE, MOST_MITRE = 1.0, 150.0


def _turn(degrees: float) -> float:
    if not LEAST_MITRE <= degrees <= MOST_MITRE:
        raise ValueError(f"allowed: {LEAST_MITRE:g} to {MOST_MITRE:g} degrees")
    return degrees


class MitreSpec(Model):
    """The corner between the straight before it and the one after it, whose lengths go to the corner of their axes."""

    mitre: Annotated[Angle, AfterValidator(_turn)] = Field(description="how far the axis turns", examples=[30])
    clock: Angle = Field(default=0.0, description="where it turns to, clockwise looking along the gas")
    prep: Literal["flat", "square", "bevel"] = Field(default="flat", description="how both ends are cut")
    stock: str | None = Field(
        default=None, description="of what follows; the same where it is left out", examples=["outlet"]
    )
    #: A corner is no piece of pipe.
    measured: ClassVar[None] = None
