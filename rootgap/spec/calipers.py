"""Parameter files of caliper sheets: distances that were taken over a flange's holes, studs and edges."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from rootgap.spec.fields import LENGTH_SCHEMA, Model, Name, PlateLength, Text, length

MOST_DISTANCES = 500
#: What a distance is taken between: over the outsides of two studs or holes, between them, or from middle to middle.
MEASURES = ("outside", "inside", "centres")
SIDES = ("left", "right", "bottom", "top")
#: Least and most, mm, that one reading of calipers may be unsure by.
LEAST_UNSURE, MOST_UNSURE = 0.005, 1.0

_FEATURE = re.compile(r"(?P<kind>bolt|port)\.(?P<number>[1-9][0-9]{0,3})(?:\.(?P<side>left|right|bottom|top))?")


@dataclass(frozen=True, order=True)
class Feature:
    """What a jaw lies on: a bolt or a port, counted from 1, or a side of a port's opening."""

    kind: str
    number: int
    side: str = ""

    def __str__(self) -> str:
        return f"{self.kind}.{self.number}{'.' if self.side else ''}{self.side}"


def _feature(text: Any) -> Feature:
    """Return the feature that a text names. Raises ValueError where it names none."""
    if isinstance(text, Feature):
        return text
    found = _FEATURE.fullmatch(text) if isinstance(text, str) else None
    if not found or (found["side"] and found["kind"] == "bolt"):
        raise ValueError('allowed: "bolt.3", "port.1" (its middle) or "port.1.left", .right, .bottom, .top')
    return Feature(found["kind"], int(found["number"]), found["side"] or "")


def _unsure(mm: float) -> float:
    if not LEAST_UNSURE <= mm <= MOST_UNSURE:
        raise ValueError(f"allowed: {LEAST_UNSURE:g} to {MOST_UNSURE:g} mm")
    return mm


AFeature = Annotated[
    Feature, BeforeValidator(_feature), WithJsonSchema({"type": "string", "pattern": f"^{_FEATURE.pattern}$"})
]
Unsure = Annotated[float, BeforeValidator(length), AfterValidator(_unsure), WithJsonSchema(LENGTH_SCHEMA)]


class DistanceSpec(Model):
    """One reading. To a side of an opening it is taken square to that side."""

    from_: AFeature = Field(alias="from", examples=["bolt.1"])
    to: AFeature = Field(examples=["bolt.2"])
    outside: PlateLength | None = Field(default=None, examples=[88.9], description="over the far sides of both")
    inside: PlateLength | None = Field(default=None, examples=[72.9], description="between their near sides")
    centres: PlateLength | None = Field(default=None, examples=[80.9], description="from middle to middle")
    stud: PlateLength | None = Field(default=None, examples=[7.9], description="diameter, where not the sheet's")

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault unless the distance is given one way, between two things."""
        found = [word for word in MEASURES if word in values]
        if len(found) != 1:
            yield (found[1] if found else ""), f"allowed: exactly one of {', '.join(MEASURES)}"
        start, end = (str(values.get(word)) for word in ("from", "to"))
        if start == end and "from" in values:
            yield "to", "allowed: another bolt, port or side than from"

    @property
    def measure(self) -> tuple[str, float]:
        """How it was taken, and what the calipers said, mm."""
        return next((word, value) for word in MEASURES if (value := getattr(self, word)) is not None)


class CaliperSheet(Model):
    """Distances that correct a flange which was sketched or traced.

    fit "positions": every bolt and port that was measured moves; "scale": the whole drawing is stretched in x and y.
    """

    name: Name = Field(examples=["head-measured"], description="of the corrected flange")
    kind: Literal["calipers"] = Field(examples=["calipers"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    use: str = Field(examples=["head-traced.toml"], description="the flange, from this file: roughly where all lies")
    fit: Literal["positions", "scale"] = "positions"
    stud: PlateLength | None = Field(
        default=None, examples=[7.9], description="diameter of what the jaws lay on; the flange's holes where left out"
    )
    unsure: Unsure = Field(default=0.05, description="standard uncertainty of one reading", examples=[0.05])
    distance: Annotated[tuple[DistanceSpec, ...], Field(min_length=1, max_length=MOST_DISTANCES)] = Field(
        examples=[[{"from": "bolt.1", "to": "bolt.2", "outside": 88.9}]]
    )
