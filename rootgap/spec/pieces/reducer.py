"""A butt-weld reducer in a parameter file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field

from rootgap.spec.fields import Angle, Model


class ReducerSpec(Model):
    """A butt-weld reducer, from the stock it stands on to another, larger or smaller."""

    reducer: str = Field(description="the stock that follows", examples=["outlet"])
    side: Literal["concentric", "eccentric"] = Field(default="concentric", examples=["eccentric"])
    clock: Angle = Field(default=0.0, description="where an eccentric one is flat", examples=[90])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for a concentric reducer with a clock."""
        if "clock" in values and values.get("side", "concentric") == "concentric":
            yield "clock", 'leave it out: a concentric reducer is the same all round; or side = "eccentric"'
