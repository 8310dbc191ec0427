"""A straight piece in a parameter file."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, WithJsonSchema

from rootgap.spec.fields import LENGTH_SCHEMA, SHORTEST, Model, length
from rootgap.spec.measured import Measured


def _straight(value: Any, info: ValidationInfo) -> float | str:
    if value == "fill":
        return "fill"
    if isinstance(value, str) and not any(char.isdigit() for char in value):
        raise ValueError('allowed: a length such as 28 or "1-1/8 in", or "fill"')
    mm = length(value, info)
    if mm < SHORTEST:
        raise ValueError(f'allowed: a length of at least {SHORTEST:g} mm, or "fill"')
    return mm


class StraightSpec(Model):
    """A straight piece of a length, or as long as it takes to reach the run's end."""

    straight: Annotated[float | Literal["fill"], BeforeValidator(_straight), WithJsonSchema(LENGTH_SCHEMA)] = Field(
        examples=[28, "fill"]
    )
    formed: Literal["on", "in"] | None = Field(
        default=None,
        description="its start worked to the opening that it begins at: its bore meets the rim, or it goes in",
        examples=["on"],
    )
    measured: Measured | None = Field(default=None, examples=[{"od": 48.4}])
