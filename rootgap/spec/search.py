"""What a search may change in a parameter file, and what it is to look for."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, model_validator

from rootgap.spec.fields import Length, Misfit, Model, Number, ZeroOrLength, both, neither
from rootgap.spec.toml import toml_text

Figure = Literal["margin", "welds", "pipe", "turn"]

#: So many values of one parameter are enough to find its best; a finer look comes with a second, narrower search.
MOST_VALUES = 1000
MOST_PARAMETERS = 12
#: More combinations than this are not even looked at in part.
MOST_COMBINATIONS = 10**12
#: Figures of a layout, in the order in which they count where a file does not say.
FIGURES: tuple[Figure, ...] = ("margin", "welds", "pipe", "turn")
#: More margin than this, mm, is no better (common practice, no source: a hand and a wrench have room).
ENOUGH = 10.0
_DIGITS = 9


class SearchSpec(Model):
    """A value of the file that a search may change, and what it may be."""

    sets: str | tuple[str, ...] = Field(
        description="place of the value in this file, or several that change together",
        examples=["run.log.start.at.y"],
    )
    from_: Number | None = Field(default=None, alias="from", examples=[90])
    to: Number | None = Field(default=None, examples=[150])
    step: Number | None = Field(default=None, examples=[5])
    values: tuple[Any, ...] | None = Field(default=None, examples=[["LR", "SR"]])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault unless there is one range, or one list, with something in it."""
        ranged = [word for word in ("from", "to", "step") if word in values]
        if "values" in values and ranged:
            yield ranged[0], "allowed: from, to and step, or values, not both"
        elif neither(values, "values", "from", "to", "step"):
            yield "", "what it may be is missing; for example: from = 90, to = 150, step = 5; or values = [...]"
        elif ranged and len(ranged) < 3:
            missing = next(word for word in ("from", "to", "step") if word not in values)
            yield "", f"{missing} is missing; a range is from, to and step"
        elif "values" in values and values["values"] == []:
            yield "values", "no values; allowed: at least one"
        elif isinstance(values.get("values"), list) and (twice := _twice(values["values"])):
            yield "values", f"allowed: each value once; {toml_text(twice[0])} stands twice"
        elif values.get("sets") == []:
            yield "sets", "no place; allowed: at least one"
        elif both(values, "from", "to", "step") and all(_is_number(values[word]) for word in ranged):
            yield from _range_faults(float(values["from"]), float(values["to"]), float(values["step"]))

    @property
    def places(self) -> tuple[str, ...]:
        """The places in the file that it sets, as they are written there."""
        return (self.sets,) if isinstance(self.sets, str) else self.sets

    @property
    def choices(self) -> tuple[Any, ...]:
        """Every value that it may have, in order."""
        if self.values is not None:
            return self.values
        start, to, step = float(self.from_ or 0.0), float(self.to or 0.0), float(self.step or 1.0)
        # How many of a thing there are takes whole numbers alone.
        kind = int if start.is_integer() and step.is_integer() else float
        return tuple(kind(round(start + step * number, _DIGITS)) for number in range(_count(start, to, step)))


def _twice(values: Sequence[Any]) -> list[Any]:
    """Return what stands among `values` before already."""
    return [value for number, value in enumerate(values) if value in values[:number]]


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _count(start: float, to: float, step: float) -> int:
    return math.floor((to - start) / step + 1e-9) + 1


def _range_faults(start: float, to: float, step: float) -> Iterator[tuple[str, str]]:
    if step <= 0.0:
        yield "step", "allowed: a step above 0"
    elif start > to:
        yield "to", f"the range is empty: allowed at least {start:g}, where it begins"
    elif (to - start) / step > MOST_VALUES:
        yield "step", f"more than {MOST_VALUES} values; allowed: a step of at least {(to - start) / MOST_VALUES:g}"


class MarginGoal(Model):
    """What margin is asked for, over the clearance that each keep-out has itself."""

    least: Length = Field(default=0.0, examples=[3])
    enough: ZeroOrLength = Field(default=ENOUGH, examples=[10])

    @model_validator(mode="after")
    def _fits(self) -> MarginGoal:
        if self.enough < self.least:
            raise Misfit(("enough",), f"allowed: at least {self.least:g} mm, for less than least is never enough")
        return self


def _some(welds: int) -> int:
    if welds < 1:
        raise ValueError("allowed: 1 or more")
    return welds


def _turning(degrees: float) -> float:
    if degrees < 0.0:
        raise ValueError("allowed: 0 degrees or more")
    return degrees


class WeldsGoal(Model):
    """How many welds may be made."""

    most: Annotated[int, Field(strict=True), AfterValidator(_some)] = Field(examples=[16])


class PipeGoal(Model):
    """How much pipe may be bought."""

    most: ZeroOrLength = Field(examples=[2500])


class TurnGoal(Model):
    """How far the gas of a port may turn."""

    most: Annotated[Number, AfterValidator(_turning)] = Field(description="degrees", examples=[270])


class GoalSpec(Model):
    """What a search looks for: limits, and which figure counts first."""

    rank: tuple[Figure, ...] = Field(
        default=(), description="which figure counts first; the others follow", examples=[list(FIGURES)]
    )
    margin: MarginGoal = Field(default_factory=MarginGoal, examples=[{"least": 3, "enough": 10}])
    welds: WeldsGoal | None = Field(default=None, examples=[{"most": 16}])
    pipe: PipeGoal | None = Field(default=None, examples=[{"most": 2500}])
    turn: TurnGoal | None = Field(default=None, examples=[{"most": 270}])

    @model_validator(mode="after")
    def _once(self) -> GoalSpec:
        for index, word in enumerate(self.rank):
            if word in self.rank[:index]:
                raise Misfit(("rank", index), f"{word} stands twice")
        return self

    @property
    def order(self) -> tuple[Figure, ...]:
        """All figures, the one that counts first in front."""
        rest: list[Figure] = [word for word in FIGURES if word not in self.rank]
        return (*self.rank, *rest)
