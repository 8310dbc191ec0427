"""Field types of parameter files: lengths and angles with their units, names, points."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    Strict,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import PydanticCustomError

from rootgap import units
from rootgap.spec.toml import Key

#: Larger than any hot side, mm: catches a slipped decimal and inches read as millimetres.
LONGEST = 20_000.0
#: A title or a note longer than this, characters, fits no drawing.
LONGEST_TEXT = 100
#: Larger than any flange, mm, and further than any of its holes from its datum.
LONGEST_ON_PLATE = 1000.0
#: A piece or a feature of a plate shorter than this, mm, cannot be cut (common practice, no source).
SHORTEST = 0.1

LENGTH_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": 'a bare number in the file\'s units, or a string with its own: "2-1/2 in", "63 mm"',
}
ANGLE_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": 'degrees: 37.5 or "37.5 deg"',
}
_AIM_SCHEMA = {
    "anyOf": [{"type": "number"}, {"type": "string"}],
    "description": 'degrees: 37.5 or "37.5 deg"; or "aim": as far as it takes, with its clock, to reach the end',
}


#: Type of the validator's error for a table that breaks its rules: they are told one by one.
BROKEN_RULE = "broken_rule"


class Misfit(ValueError):
    """A value that does not go with another one."""

    def __init__(self, key: Key, said: str) -> None:
        """Make the error of what stands at `key`, a path from the table that tells it, and what is `said`."""
        super().__init__(said)
        self.key = key


class Model(BaseModel):
    """Base of every table of a parameter file: frozen, no unknown keys, no NaN."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, populate_by_name=True, validate_default=False
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:  # noqa: ARG003  a table may have no rules
        """Yield (key, what is allowed) for each rule between the keys of `values` that they break.

        The rules see the raw values, so that they are told beside the faults of single keys.
        """
        yield from ()

    @model_validator(mode="wrap")
    @classmethod
    def _note(cls, values: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        """Leave the table where the error text can find it, or hold it to its rules at once.

        One that breaks its rules gets no further: what holds it against others counts on them.
        """
        broken: tuple[tuple[str, str], ...] = ()
        if isinstance(values, dict):
            broken = tuple(cls.rules(values))
            if info.context is None:
                for key, allowed in broken:
                    raise ValueError(f"{key}: {allowed}")
            else:
                info.context["tables"].append((values, cls))
        made = handler(values)
        if broken:
            raise PydanticCustomError(BROKEN_RULE, "breaks a rule between its keys")
        return made


def words_of(model: type[Model]) -> tuple[str, ...]:
    """Return the keys that the table `model` allows, as they stand in a file."""
    return tuple(field.alias or name for name, field in model.model_fields.items())


def both(values: Mapping[str, Any], *words: str) -> bool:
    """Tell whether `values` has all the keys `words`."""
    return all(word in values for word in words)


def neither(values: Mapping[str, Any], *words: str) -> bool:
    """Tell whether `values` has none of the keys `words`."""
    return not any(word in values for word in words)


def length(value: Any, info: ValidationInfo) -> float:
    """Return a length of a parameter file in mm. Raises ValueError for what is no length."""
    mm = units.length(value, (info.context or {}).get("units", "mm"))
    if abs(mm) > LONGEST:
        raise ValueError(f"allowed: up to {LONGEST / 1000:g} m; check the file's units")
    return mm


def at_least(least: float, what: str) -> Callable[[float], float]:
    """Return a validator that refuses lengths below `least`, mm, and calls them `what`."""

    def validator(mm: float) -> float:
        if mm < least:
            raise ValueError(f"allowed: {what} of at least {least:g} mm" if least else f"allowed: {what} of 0 or more")
        return mm

    return validator


def at_most(most: float, where: str) -> Callable[[float], float]:
    """Return a validator that refuses lengths over `most`, mm, either way, and says `where` they are measured."""

    def validator(mm: float) -> float:
        if abs(mm) > most:
            raise ValueError(f"allowed: up to {most:g} mm {where}; check the file's units")
        return mm

    return validator


def one_line(text: str) -> str:
    """Return a text for people to read, at most `LONGEST_TEXT` characters in one line. Raises ValueError."""
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"allowed: at most {LONGEST_TEXT} characters")
    if not text.isprintable():
        raise ValueError("allowed: one line of text")
    return text


def bend(degrees: float) -> float:
    """Return the angle of an elbow, degrees, above 0 and at most 90. Raises ValueError."""
    if not LEAST_BEND <= degrees <= MOST_BEND:
        raise ValueError(f"allowed: {LEAST_BEND:g} to {MOST_BEND:g} degrees, for one elbow; use two for more")
    return degrees


def sweep(degrees: float) -> float:
    """Return the angle of a bend that is no fitting, degrees, above 0 and at most 180. Raises ValueError."""
    if not LEAST_BEND <= degrees <= MOST_SWEEP:
        raise ValueError(f"allowed: {LEAST_BEND:g} to {MOST_SWEEP:g} degrees")
    return degrees


def _or_aim(allowed: Callable[[float], float]) -> Callable[[Any], float | str]:
    """Return a validator of the word "aim", or of an angle, degrees, that `allowed` lets through."""

    def validator(value: Any) -> float | str:
        if value == "aim":
            return "aim"
        if isinstance(value, str) and not any(char.isdigit() for char in value):
            raise ValueError('allowed: an angle such as 60, or "aim"')
        return allowed(units.angle(value))

    return validator


def _turn(degrees: float) -> float:
    if abs(degrees) > FULL_TURN:
        raise ValueError(f"allowed: {-FULL_TURN:g} to {FULL_TURN:g} degrees")
    return degrees


def _direction(direction: tuple[float, ...]) -> tuple[float, ...]:
    if not 1.0 / LONGEST_DIRECTION < math.hypot(*direction) < LONGEST_DIRECTION:
        raise ValueError(f"allowed: a direction: {'two' if len(direction) == 2 else 'three'} numbers, not all 0")
    return direction


#: An elbow trimmed to less, degrees, is a ring and not a bend (common practice, no source).
LEAST_BEND = 1.0
MOST_BEND = 90.0
MOST_SWEEP = 180.0
FULL_TURN = 360.0
#: A direction longer than this, or shorter than its inverse, no unit, has lost its digits.
LONGEST_DIRECTION = 1e6

Length = Annotated[float, BeforeValidator(length), WithJsonSchema(LENGTH_SCHEMA)]
PositiveLength = Annotated[
    float, BeforeValidator(length), AfterValidator(at_least(SHORTEST, "a length")), WithJsonSchema(LENGTH_SCHEMA)
]
ZeroOrLength = Annotated[
    float, BeforeValidator(length), AfterValidator(at_least(0.0, "a length")), WithJsonSchema(LENGTH_SCHEMA)
]
PlateLength = Annotated[PositiveLength, AfterValidator(at_most(LONGEST_ON_PLATE, "on a flange"))]
Text = Annotated[str, AfterValidator(one_line)]
Angle = Annotated[float, BeforeValidator(units.angle), AfterValidator(_turn), WithJsonSchema(ANGLE_SCHEMA)]
AimedBend = Annotated[float | Literal["aim"], BeforeValidator(_or_aim(bend)), WithJsonSchema(_AIM_SCHEMA)]
AimedSweep = Annotated[float | Literal["aim"], BeforeValidator(_or_aim(sweep)), WithJsonSchema(_AIM_SCHEMA)]
Sweep = Annotated[float, BeforeValidator(units.angle), AfterValidator(sweep), WithJsonSchema(ANGLE_SCHEMA)]
#: The name of a file's object: it becomes a file name.
Name = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$",
        max_length=60,
        description="letters, digits, dot, hyphen and underscore: it becomes a folder's name",
    ),
]
#: The name of a table, used in other names (primary.1, log.end) and as a file name.
TableName = Annotated[
    str,
    Field(
        pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$",
        max_length=60,
        description="letters, digits, hyphen and underscore: it becomes a part of file names",
    ),
]
PlatePosition = Annotated[Length, AfterValidator(at_most(LONGEST_ON_PLATE, "from a flange's datum"))]
Point2 = tuple[PlatePosition, PlatePosition]
Point3 = tuple[Length, Length, Length]
Number = Annotated[float, Strict()]
Direction = Annotated[tuple[Number, Number, Number], AfterValidator(_direction)]
Direction2 = Annotated[tuple[Number, Number], AfterValidator(_direction)]
