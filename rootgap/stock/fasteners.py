"""Bolts, studs, nuts and washers by thread, the holes that they need, and the tools that turn them.

Terminology: a *fit* is how close a hole is to its bolt, in the words of the standard: fine, medium and coarse
for metric, close, normal and loose for inch. *Across flats* is the size of a hexagon, as a spanner has it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any, Literal

from rootgap.errors import StockError, UnitError
from rootgap.stock.tables import load, nearest_numbers
from rootgap.units import fraction, plain

Fit = Literal["fine", "medium", "coarse", "close", "normal", "loose"]

_INCH = Fraction("25.4")
_THREAD = re.compile(
    r"(?P<size>M\s*[0-9.]+|[0-9]+\s*/\s*[0-9]+)\s*(?:in|inch|\")?"
    r"(?:\s*[x\u00d7-]\s*(?P<pitch>[0-9.]+))?\s*(?P<series>UNC|UNF|coarse|fine)?",
    re.IGNORECASE,
)
_ALLOWED = 'a thread such as "M8", "M10 x 1.25", "3/8" or "3/8-24"'


@dataclass(frozen=True)
class Thread:
    """A thread. label: as people write it; series: of its pitch; pitch, tap_drill: mm."""

    label: str
    series: Literal["coarse", "fine"]
    pitch: float
    tap_drill: float


@dataclass(frozen=True)
class Hexagon:
    """A hexagon head or nut. flats: across flats; height: mm."""

    flats: float
    height: float

    @property
    def corners(self) -> float:
        """Across corners, mm, of a sharp hexagon.

        >>> round(Hexagon(13.0, 5.3).corners, 2)
        15.01
        """
        return self.flats / math.cos(math.radians(30.0))


@dataclass(frozen=True)
class Washer:
    """A plain washer. inside, outside, thickness: mm."""

    inside: float
    outside: float
    thickness: float


@dataclass(frozen=True)
class Tools:
    """The room, mm, that what turns a hexagon takes. socket: outside of a hand socket; ring: outside of a ring
    spanner's end; open: over an open spanner's jaws."""

    socket: float
    ring: float
    open: float


@dataclass(frozen=True)
class Fastener:
    """One size. name: "M8" or "3/8"; diameter: nominal, mm; holes: (fit, diameter in mm) from the closest;
    threads: the coarse one first."""

    name: str
    system: Literal["metric", "inch"]
    diameter: float
    holes: tuple[tuple[Fit, float], ...]
    threads: tuple[Thread, ...]
    head: Hexagon
    nut: Hexagon
    washer: Washer

    @property
    def tools(self) -> Tools:
        """What turns the larger of its head and nut."""
        return tools(max(self.head.flats, self.nut.flats))


@cache
def fasteners() -> tuple[Fastener, ...]:
    """Return every size of the table, metric first, small to large."""
    table = load("fasteners")
    return (
        *(_metric(row, table["metric"]["fits"]) for row in table["metric"]["sizes"]),
        *(_inch(row, table["inch"]["fits"]) for row in table["inch"]["sizes"]),
    )


def fastener(thread: str) -> Fastener:
    """Return the size of `thread`; a pitch is looked up too.

    Raises UnitError where it is no thread, StockError with the neighbours where no table has it.

    >>> fastener("M8 x 1.25").head.flats, fastener("3/8-24").name
    (13.0, '3/8')
    """
    match = _match(thread)
    name = re.sub(r"\s", "", match["size"]).upper()
    metric = name.startswith("M")
    number = _number(name.removeprefix("M"), thread)
    have = {_number(each.name.removeprefix("M")): each for each in fasteners() if (each.system == "metric") == metric}
    if number not in have:
        raise StockError("thread", thread, tuple(have[near].name for near in nearest_numbers(number, have)))
    found = have[number]
    if match["pitch"] or match["series"]:
        _threaded(found, match, thread)
    return found


def threaded(thread: str) -> Thread:
    """Return the thread itself: the coarse one where `thread` gives no pitch.

    Raises UnitError where it is no thread, StockError with those that the size has.

    >>> threaded("M10 x 1.25").tap_drill, threaded("M8").tap_drill, threaded("3/8 UNF").label
    (8.8, 6.8, '3/8-24 UNF')
    """
    return _threaded(fastener(thread), _match(thread), thread)


def clearance_hole(thread: str, fit: Fit) -> float:
    """Return the diameter, mm, of the hole through which a bolt goes. Raises UnitError, StockError.

    Source: ISO 273; ASME B18.2.8.

    >>> clearance_hole("M8", "medium"), round(clearance_hole("3/8", "normal"), 2)
    (9.0, 10.32)
    """
    holes: dict[str, float] = dict(fastener(thread).holes)
    if fit not in holes:
        raise StockError(f"fit of {fastener(thread).name}", fit, tuple(holes))
    return holes[fit]


def tools(flats: float) -> Tools:
    """Return the room, mm, that tools for a hexagon of `flats` mm take: of the next size up that the table has.

    Raises StockError above the largest. Source: common practice, hand tools as measured; no standard.
    """
    rows = load("sockets")["sizes"]
    row = next((row for row in rows if row["flats"] >= flats - 1e-9), None)
    if row is None:
        raise StockError("spanner size", f"{flats:g} mm", (f"{rows[-1]['flats']:g} mm",))
    return Tools(float(row["socket"]), float(row["ring"]), float(row["open"]))


def source(system: str, what: str) -> str:
    """Return where the table has `what` ("hole", "thread", "head", "nut" or "washer") of a `system` from."""
    return str(load("fasteners")[system]["source"][what])


def _match(thread: str) -> re.Match[str]:
    match = _THREAD.fullmatch(plain(thread))
    if match is None:
        raise UnitError(thread, _ALLOWED)
    return match


def _number(text: str, thread: str | None = None) -> Fraction:
    try:
        return fraction(text)
    except ValueError:
        raise UnitError(thread or text, _ALLOWED) from None


def _threaded(size: Fastener, match: re.Match[str], thread: str) -> Thread:
    series = {"UNC": "coarse", "UNF": "fine"}.get((match["series"] or "").upper(), (match["series"] or "").lower())
    for each in size.threads:
        pitch = 25.4 / each.pitch if size.system == "inch" else each.pitch
        same = match["pitch"] is None or abs(float(_number(match["pitch"], thread)) - pitch) < 1e-6
        if same and series in {"", each.series}:
            return each
    raise StockError("thread", thread, tuple(each.label for each in size.threads))


def _metric(row: dict[str, Any], fits: list[Fit]) -> Fastener:
    name, pitch = row["name"], row["coarse"][0]
    threads = (
        Thread(f"{name}x{pitch:g}", "coarse", float(pitch), float(row["coarse"][1])),
        *(Thread(f"{name}x{fine:g}", "fine", float(fine), float(drill)) for fine, drill in row["fine"]),
    )
    return Fastener(
        name,
        "metric",
        float(name.removeprefix("M")),
        tuple(zip(fits, map(float, row["hole"]), strict=True)),
        threads,
        Hexagon(*map(float, row["head"])),
        Hexagon(*map(float, row["nut"])),
        Washer(*map(float, row["washer"])),
    )


def _inch(row: dict[str, Any], fits: list[Fit]) -> Fastener:
    name, pitch = row["name"], row["coarse"][0]
    threads = (
        Thread(f"{name}-{pitch} UNC", "coarse", 25.4 / pitch, _mm(row["coarse"][1])),
        *(Thread(f"{name}-{fine} UNF", "fine", 25.4 / fine, _mm(drill)) for fine, drill in row["fine"]),
    )
    return Fastener(
        name,
        "inch",
        _mm(name),
        tuple(zip(fits, map(_mm, row["hole"]), strict=True)),
        threads,
        Hexagon(*map(_mm, row["head"])),
        Hexagon(*map(_mm, row["nut"])),
        Washer(*map(_mm, row["washer"])),
    )


def _mm(inches: str) -> float:
    return float(fraction(inches) * _INCH)
