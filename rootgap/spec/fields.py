"""Field types of parameter files: lengths and angles with their units, names, points."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from rootgap import units

#: Larger than any hot side, mm: catches a slipped decimal and inches read as millimetres.
LONGEST = 20_000.0

LENGTH_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": 'a bare number in the file\'s units, or a string with its own: "2-1/2 in", "63 mm"',
}
_ANGLE_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": 'degrees: 37.5 or "37.5 deg"',
}


class Model(BaseModel):
    """Base of every table of a parameter file: frozen, no unknown keys, no NaN."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, populate_by_name=True, validate_default=False
    )

    @model_validator(mode="before")
    @classmethod
    def _note_keys(cls, values: Any, info: ValidationInfo) -> Any:
        """Leave the keys this table allows where the error text can find them."""
        if info.context is not None and isinstance(values, dict):
            names = tuple(field.alias or name for name, field in cls.model_fields.items())
            info.context["tables"].append((values, names))
        return values


def length(value: Any, info: ValidationInfo) -> float:
    """Return a length of a parameter file in mm. Raises ValueError for what is no length."""
    mm = units.length(value, (info.context or {}).get("units", "mm"))
    if abs(mm) > LONGEST:
        raise ValueError(f"{units.mm_text(mm)} is longer than {LONGEST / 1000:g} m; check the file's units")
    return mm


def _angle(value: Any) -> float:
    return units.angle(value)


Length = Annotated[float, BeforeValidator(length), WithJsonSchema(LENGTH_SCHEMA)]
PositiveLength = Annotated[float, BeforeValidator(length), Field(gt=0.0), WithJsonSchema(LENGTH_SCHEMA)]
ZeroOrLength = Annotated[float, BeforeValidator(length), Field(ge=0.0), WithJsonSchema(LENGTH_SCHEMA)]
Angle = Annotated[float, BeforeValidator(_angle), Field(ge=-360.0, le=360.0), WithJsonSchema(_ANGLE_SCHEMA)]
Name = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
        max_length=60,
        description="letters, digits, dot, hyphen and underscore: names become file names",
    ),
]
Point2 = tuple[Length, Length]
Point3 = tuple[Length, Length, Length]
Direction = tuple[float, float, float]
