"""Plates inside a run that part its gas in two, in a parameter file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import Field, Strict

from rootgap.spec.fields import Angle, Model, PositiveLength, ZeroOrLength, both, neither
from rootgap.spec.part import MaterialWord

#: Weld gap at a divider's edges unless the file says otherwise, mm (common practice, no source).
DIVIDER_GAP = 0.5


class DividerSpec(Model):
    """A flat plate that parts a run's gas: down the run's axis, or straight across it at a station."""

    run: str = Field(description="that it parts", examples=["outlet"])
    clock: Angle | None = Field(
        default=None, description="down the run: the clock of the run that the plate's plane contains", examples=[90]
    )
    station: ZeroOrLength | None = Field(
        default=None, description="across the run, along its axis: the middle of the plate", examples=[220]
    )
    thickness: PositiveLength = Field(examples=[3])
    gap: ZeroOrLength = Field(default=DIVIDER_GAP, description="between its edges and the bore, for the weld")
    material: MaterialWord = Field(examples=["304L"])
    through: Annotated[bool, Strict()] = Field(
        default=False, description="goes on across the bore of the run that this one leaves, as a full disc"
    )
    slot: ZeroOrLength = Field(
        default=0.0, description="how deep it stands in the flange at the run's end; butted on it where left out"
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault unless it is either down the run or across it, with the keys of that alone."""
        if both(values, "clock", "station"):
            yield "station", "allowed: clock (down the run) or station (across it), not both"
        elif neither(values, "clock", "station"):
            yield "", "how it stands is missing; for example: clock = 90 (down the run) or station = 220 (across it)"
        for word in ("through", "slot"):
            if word in values and "clock" not in values:
                yield word, "allowed: only with clock, in a divider down a run"
