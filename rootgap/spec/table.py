"""Parameter files of cutting tables: what one can cut, and how its files are to be made.

Terminology
    kerf        width of what the cut takes away
    offset      moving the path aside by half the kerf, to the waste: by the table's own software, or here
    pierce      where the cut begins, in the waste, so far from the finished edge that its crater stays off it
    lead-in     the way from there to the contour; lead-out: the way off it at its end
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, model_validator

from rootgap.spec.fields import Misfit, Model, Name, Number, PositiveLength, Text, ZeroOrLength

#: mm. A wider kerf is no thermal cut's (common practice, no source).
WIDEST_KERF = 15.0
#: mm. No lead or pierce distance needs more.
LONGEST_LEAD = 100.0
#: A burnt hole is at least this many thicknesses wide; a smaller one is drilled (common practice among
#: cutting shops, no standard).
SMALLEST_BURNT = 1.5
#: Nobody asks for holes of more thicknesses.
MOST_RATIO = 20.0


def _no_wider(kerf: float) -> float:
    if kerf > WIDEST_KERF:
        raise ValueError(f"allowed: a kerf of at most {WIDEST_KERF:g} mm; check the file's units")
    return kerf


def _no_longer(mm: float) -> float:
    if mm > LONGEST_LEAD:
        raise ValueError(f"allowed: at most {LONGEST_LEAD:g} mm; check the file's units")
    return mm


def _ratio(value: float) -> float:
    if not 0.0 <= value <= MOST_RATIO:
        raise ValueError(f"allowed: 0 to {MOST_RATIO:g}, in thicknesses of the plate")
    return value


class HoleSpec(Model):
    """The smallest hole that is burnt: the larger of a share of the thickness and an absolute size."""

    ratio: Annotated[Number, AfterValidator(_ratio)] = Field(
        default=SMALLEST_BURNT, description="in thicknesses of the plate", examples=[1.5]
    )
    least: ZeroOrLength = Field(default=0.0, description="diameter, whatever the thickness", examples=[6])

    def limit(self, thickness: float) -> float:
        """Return the diameter, mm, below which a hole in a plate of `thickness` mm is drilled."""
        return max(self.ratio * thickness, self.least)


class LeadSpec(Model):
    """A lead: straight in, square to the contour, or a quarter circle that runs into it."""

    form: Literal["none", "line", "arc"] = Field(examples=["arc"])
    length: Annotated[PositiveLength, AfterValidator(_no_longer)] | None = Field(default=None, examples=[6])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where a length is missing, or is that of nothing."""
        if values.get("form") in ("line", "arc") and "length" not in values:
            yield "length", "this key is missing; for example: length = 6"
        elif values.get("form") == "none" and "length" in values:
            yield "length", 'leave it out: form is "none"'

    @property
    def reach(self) -> float:
        """How far its outer end is from the contour, mm; 0 for none. A quarter circle's is its radius."""
        length = self.length or 0.0
        return length if self.form == "line" else 2.0 * length / math.pi


class SheetSpec(Model):
    """The sheet that plates are nested on. margin: kept free along its edges; spacing: between two parts."""

    size: tuple[PositiveLength, PositiveLength] = Field(examples=[[2440, 1220]])
    margin: ZeroOrLength = Field(default=10.0, description="kept free along the sheet's edges", examples=[10])
    spacing: PositiveLength = Field(default=8.0, description="between two parts", examples=[8])

    @property
    def room(self) -> tuple[float, float]:
        """Length and width inside the margins, mm."""
        return self.size[0] - 2.0 * self.margin, self.size[1] - 2.0 * self.margin

    @model_validator(mode="after")
    def _has_room(self) -> SheetSpec:
        if min(self.room) <= 0.0:
            most = 0.5 * min(self.size)
            raise Misfit(("margin",), f"allowed: below {most:g} mm, so that something of the sheet is left")
        return self

    def holds(self, width: float, height: float) -> bool:
        """Tell whether a part of `width` and `height` mm lies within the margins, turned a quarter or not."""
        room = max(self.room), min(self.room)
        return max(width, height) <= room[0] and min(width, height) <= room[1]


class TablePart(Model):
    """A cutting table: its kerf, its limits, its sheet and the files that it takes."""

    name: Name = Field(examples=["shop-plasma"])
    kind: Literal["table"] = Field(examples=["table"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    note: Text = ""
    process: Literal["plasma", "laser", "flame"] = Field(default="plasma", examples=["plasma"])
    kerf: Annotated[PositiveLength, AfterValidator(_no_wider)] = Field(examples=[1.6])
    offset: Literal["table", "here"] = Field(
        default="table", description="who moves the path aside by half the kerf", examples=["table"]
    )
    pierce: Annotated[ZeroOrLength, AfterValidator(_no_longer)] = Field(
        default=0.0, description="from the finished edge", examples=[4]
    )
    hole: HoleSpec = Field(default_factory=HoleSpec, examples=[{"ratio": 1.5, "least": 6}])
    lead_in: LeadSpec = Field(default=LeadSpec(form="none"), examples=[{"form": "arc", "length": 8}])
    lead_out: LeadSpec = Field(default=LeadSpec(form="none"), examples=[{"form": "arc", "length": 3}])
    order: Literal["part", "sheet"] = Field(
        default="part",
        description="inside before outside of each part in turn, or all insides of a sheet before all outsides",
        examples=["part"],
    )
    sheet: SheetSpec | None = Field(default=None, examples=[{"size": [2440, 1220], "margin": 10, "spacing": 8}])
    dxf: Literal["R2000", "R12"] = Field(default="R2000", examples=["R2000"])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each lead that nothing would make."""
        for word in ("lead_in", "lead_out"):
            lead = values.get(word)
            if isinstance(lead, dict) and lead.get("form") in ("line", "arc") and values.get("offset") != "here":
                yield word, 'allowed: only with offset = "here"; else the table\'s software makes the leads'

    @model_validator(mode="after")
    def _pierces_in_the_waste(self) -> TablePart:
        reach = self.lead_in.reach
        if self.lead_in.form != "none" and reach < self.pierce:
            least = self.pierce * (0.5 * math.pi if self.lead_in.form == "arc" else 1.0)
            least = math.ceil(10.0 * least) / 10.0
            allowed = f"allowed: at least {least:g} mm, so that it pierces {self.pierce:g} mm from the edge"
            raise Misfit(("lead_in", "length"), allowed)
        if self.sheet and self.sheet.spacing < 2.0 * self.kerf:
            allowed = f"allowed: at least {2.0 * self.kerf:g} mm, two kerfs, so that a web is left between parts"
            raise Misfit(("sheet", "spacing"), allowed)
        return self
