"""A butt-weld elbow in a parameter file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

from pydantic import Field, model_validator

from rootgap.spec.fields import AimedBend, Angle, Misfit, Model
from rootgap.spec.measured import Measured


class ElbowSpec(Model):
    """A butt-weld elbow, long (LR), short (SR) or three-fold (3D) radius, trimmed to an angle."""

    elbow: Literal["LR", "SR", "3D"] = Field(examples=["LR"])
    angle: AimedBend | None = Field(
        default=None, description="the stock's where it is left out; or \"aim\"", examples=[60]
    )
    clock: Angle = Field(default=0.0, description="where it bends to, clockwise looking along the gas")
    from_: Literal[90, 45] = Field(default=90, alias="from", description="the stock's angle", examples=[45])
    trim: Literal["end", "start", "both"] = Field(
        default="end", description="which end is cut, along the gas; the other is the factory's", examples=["start"]
    )
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])

    @property
    def swept(self) -> float:
        """The angle that is left of it, degrees; the stock's until it has been aimed."""
        return self.angle if isinstance(self.angle, float) else float(self.from_)

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for a short-radius elbow of 45 degrees."""
        if values.get("elbow") == "SR" and values.get("from") == 45:
            yield "from", "allowed: 90; short-radius elbows are made in no other angle"
        if values.get("angle") == "aim" and "clock" in values:
            yield "clock", "leave it out: an aimed elbow finds its own"

    @model_validator(mode="after")
    def _fits_its_stock(self) -> ElbowSpec:
        if self.swept > self.from_:
            raise Misfit(("angle",), f"allowed: at most {self.from_} degrees, the stock's own angle (from)")
        return self
