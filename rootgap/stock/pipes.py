"""Pipe by nominal size and schedule, tube by diameter and gauge, and round stock of any measure.

Terminology: a *schedule* names a wall; several words may name one wall. A *bore* is an inside
diameter. *Custom* stock is given by its two measures; *measured* stock was checked with a caliper.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from typing import Literal, NoReturn

from rootgap.errors import StockError, UnitError
from rootgap.stock.materials import Material, material
from rootgap.stock.tables import load, nearest_numbers, nearest_words, nominal
from rootgap.units import fraction, length, mm_text, plain, short

_SCHEDULE = re.compile(
    r"(?P<size>.+?)\s+(?:(?:schedule|sched|sch)\b\.?\s*)?(?P<word>std|x{1,2}[sh])"
    r"|(?P<numbered>.+?)\s+(?:schedule|sched|sch)\.?\s*(?P<number>[0-9]+s?)",
    re.IGNORECASE,
)
_TUBE = re.compile(r"(?P<od>.+?)\s*(?:od)?\s*[x\u00d7]\s*(?P<wall>.+?)\s*(?:wall)?", re.IGNORECASE)
_GAUGE = re.compile(
    r"(?P<number>[0-9]+)\s*(?:ga|gauge|bwg)\.?|(?:ga|gauge|bwg)\.?\s*(?P<after>[0-9]+)", re.IGNORECASE
)
_UNITLESS = re.compile(r"[0-9./\s-]+")
_UNIT = re.compile(r'(?:mm|cm|inches|inch|in|")$', re.IGNORECASE)
_LARGEST_BARE = 6  # in; a larger bare diameter before a gauge is more likely meant in mm


@dataclass(frozen=True)
class PipeSize:
    """A row of the pipe table. od: as the standard prints it, mm; od_exact: of the inch, mm;
    walls: (column, mm) pairs."""

    nps: str
    dn: int
    od: float
    od_exact: float
    walls: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class PipeStock:
    """A round pipe or tube of one material.

    od: outside diameter, mm; wall: mm; od_tolerance: plus or minus, mm (0 where no standard states
    one, or it was measured). Raises UnitError where the measures leave no wall or no bore.
    """

    label: str
    kind: Literal["pipe", "tube", "custom", "sheet"]
    od: float
    wall: float
    material: Material
    nps: str | None = None
    schedule: str | None = None
    measured: bool = False
    od_tolerance: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.od) and self.od > 0.0):
            raise UnitError(f"od {self.od:g} mm", "an outside diameter above 0 mm")
        if not 0.0 < self.wall < self.od / 2.0:
            allowed = f"a wall above 0 mm and below {mm_text(self.od / 2.0)}, half the outside diameter"
            raise UnitError(f"wall {self.wall:g} mm", allowed)

    @property
    def bore(self) -> float:
        """Inside diameter, mm."""
        return self.od - 2.0 * self.wall

    @property
    def r_out(self) -> float:
        """Outside radius, mm."""
        return self.od / 2.0

    @property
    def r_in(self) -> float:
        """Bore radius, mm."""
        return self.od / 2.0 - self.wall

    @property
    def area(self) -> float:
        """Area of metal in a square cut, mm2."""
        return math.pi * (self.od - self.wall) * self.wall

    @property
    def mass_per_m(self) -> float:
        """Mass per length, kg/m. Source: ASME B36.10M mass formula, with the material's own density."""
        return self.area * self.material.density * 1e-6

    def as_measured(self, od: float | None = None, wall: float | None = None) -> PipeStock:
        """Return this stock with its measured `od` and `wall`, mm; what is None stays as it was.

        A measured diameter has no tolerance left. Raises UnitError as the stock itself does.
        """
        if od is None and wall is None:
            return self
        new_od = self.od if od is None else od
        new_wall = self.wall if wall is None else wall
        return replace(
            self,
            label=f"{self.label.partition(' (measured')[0]} (measured {short(new_od)} x {mm_text(new_wall)})",
            od=new_od,
            wall=new_wall,
            measured=True,
            od_tolerance=self.od_tolerance if od is None else 0.0,
        )


@cache
def pipe_sizes() -> tuple[PipeSize, ...]:
    """Return every row of the pipe table, small to large."""
    table = load("pipe")
    return tuple(
        PipeSize(
            row["nps"],
            row["dn"],
            float(row["od"]),
            length(row["od_exact"], "in"),
            tuple(zip(table["columns"], map(float, row["walls"]), strict=True)),
        )
        for row in table["sizes"]
    )


def pipe_size(nps: str) -> PipeSize:
    """Return the row of the pipe table for `nps`. Raises StockError with the sizes nearest to it."""
    name = nominal(nps)
    return next(size for size in pipe_sizes() if size.nps == name)


@cache
def schedules() -> dict[str, str]:
    """Return every word for a schedule with the column of the pipe table that holds its walls."""
    return {word: column for column, words in load("pipe")["words"].items() for word in words}


def pipe_wall(nps: str, schedule: str) -> float:
    """Return the wall, mm, of `nps` pipe. Raises StockError with the nearest schedules."""
    size = pipe_size(nps)
    column = schedules().get(schedule.upper())
    if column is None:
        near = _nearest_schedules(schedule.upper())
        raise StockError(f"schedule of NPS {size.nps} pipe", schedule, tuple(map(_schedule_name, near)))
    return dict(size.walls)[column]


def _nearest_schedules(schedule: str) -> tuple[str, ...]:
    if not schedule.rstrip("S").isdecimal():
        return nearest_words(schedule, schedules())
    numbers = {Fraction(word): word for word in schedules() if word.isdecimal()}
    return tuple(numbers[number] for number in nearest_numbers(Fraction(schedule.rstrip("S")), numbers))


def _schedule_name(schedule: str) -> str:
    return f"sch {schedule}" if schedule[0].isdecimal() else schedule


def pipe(text: str, material_name: str) -> PipeStock:
    """Return the pipe that `text` names by nominal size and schedule.

    Raises UnitError where the text cannot be read, StockError where a size, schedule or material
    does not exist.

    >>> pipe("1-1/2 sch 10", "304L").wall, pipe("NPS 2 STD", "A53 B").bore
    (2.77, 52.48)
    """
    match = _SCHEDULE.fullmatch(plain(text))
    if match is None:
        allowed = 'a nominal size and a schedule, such as "1-1/2 sch 10", "NPS 2 STD" or "DN 50 sch 40"'
        raise UnitError(text, allowed, "the schedule is missing or cannot be read")
    size = pipe_size(match["size"] or match["numbered"])
    schedule = (match["word"] or match["number"]).upper()
    return PipeStock(
        label=f"NPS {size.nps} {_schedule_name(schedule)}",
        kind="pipe",
        od=size.od,
        wall=pipe_wall(size.nps, schedule),
        material=material(material_name),
        nps=size.nps,
        schedule=schedule,
        od_tolerance=_pipe_od_tolerance(size),
    )


def _pipe_od_tolerance(size: PipeSize) -> float:
    rule = load("pipe")["od_tolerance"]
    small = fraction(size.nps) <= fraction(rule["up_to"])
    return float(rule["small"]) if small else float(rule["large_share"]) * size.od


@cache
def gauges() -> dict[int, float]:
    """Return the wall, mm, of each tube gauge (Birmingham wire gauge)."""
    return {row["bwg"]: length(row["wall"], "in") for row in load("tube")["gauges"]}


def tube(text: str, material_name: str) -> PipeStock:
    """Return the tube that `text` names by outside diameter and wall, or diameter and gauge.

    A diameter without a unit takes the wall's, and inches before a gauge. Raises UnitError where
    the text cannot be read, StockError where the gauge or the material does not exist.

    >>> tube("1-3/4 x 16 ga", "304").wall, tube("45 mm x 1.5 mm", "304L").od
    (1.651, 45.0)
    """
    match = _TUBE.fullmatch(plain(text))
    if match is None:
        _refuse_tube(text, "the x between diameter and wall is missing")
    gauge = _GAUGE.fullmatch(match["wall"])
    if gauge is None:
        unit = _UNIT.search(match["wall"])
        if unit is None:
            _refuse_tube(text, "the wall needs mm, in or ga")
        wall = length(match["wall"], "mm")
        od = length(_with_unit(match["od"], unit[0]), "mm")
        name = ""
    else:
        number = int(gauge["number"] or gauge["after"])
        wall = _gauge_wall(number)
        od = length(_with_unit(match["od"], "in"), "mm")
        name = f", BWG {number}"
        if _UNITLESS.fullmatch(match["od"]) and od > length(_LARGEST_BARE, "in"):
            _refuse_tube(text, f"is {match['od']} in mm or in? write its unit")
    return PipeStock(
        label=f"tube {short(od)} x {mm_text(wall)}{name}",
        kind="tube",
        od=od,
        wall=wall,
        material=material(material_name),
        od_tolerance=float(load("tube")["od_tolerance"]["plus_minus"]),
    )


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if _UNITLESS.fullmatch(text) else text


def _gauge_wall(number: int) -> float:
    if number not in gauges():
        by_number = {Fraction(have): have for have in gauges()}
        near = nearest_numbers(Fraction(number), by_number)
        names = tuple(f"BWG {by_number[have]} ({gauges()[by_number[have]]:.3f} mm)" for have in near)
        raise StockError("tube gauge", f"BWG {number}", names)
    return gauges()[number]


def _refuse_tube(text: str, reason: str) -> NoReturn:
    allowed = 'an outside diameter and a wall or gauge, such as "45 mm x 1.5 mm" or "1-3/4 in x 16 ga"'
    raise UnitError(text, allowed, reason)


def custom(od: float, wall: float, material_name: str) -> PipeStock:
    """Return round stock by its outside diameter and wall, mm.

    Raises UnitError where they leave no wall or no bore, StockError for an unknown material.
    """
    return PipeStock(f"pipe {short(od)} x {mm_text(wall)}", "custom", od, wall, material(material_name))


def sheet(bore: float, thickness: float, of: Material | str) -> PipeStock:
    """Return sheet of `thickness`, mm, rolled round a bore, mm. of: its material, or the name of it.

    Raises UnitError where there is no thickness or no bore, StockError for an unknown material.
    """
    metal = material(of) if isinstance(of, str) else of
    return PipeStock(f"sheet {mm_text(thickness)}", "sheet", bore + 2.0 * thickness, thickness, metal)
