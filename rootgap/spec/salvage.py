"""Pieces of a casting in a parameter file, that a run goes on from."""

from __future__ import annotations

from pydantic import Field, model_validator

from rootgap.spec.ends import Pose
from rootgap.spec.fields import Misfit, PositiveLength
from rootgap.spec.part import MaterialWord, OpeningSpec


class SalvageSpec(Pose):
    """A piece cut off something. at: the middle of its opening in the plane of its cut; along: the gas out of it;
    ref: its opening's y."""

    opening: OpeningSpec = Field(description="its bore where it is cut", examples=[{"oval": [44, 36]}])
    wall: PositiveLength = Field(description="there", examples=[4.5])
    material: MaterialWord | None = Field(
        default=None, description="unknown until stated: try it on a scrap of the same casting", examples=["304L"]
    )

    @model_validator(mode="after")
    def _can_be(self) -> SalvageSpec:
        try:
            self.opening.opening()
        except ValueError as fault:
            raise Misfit(("opening",), str(fault)) from None
        return self
