"""Which pipe makes a port: by girth where its end is worked to the port's shape, and round the clock where it is not.

Terminology
    bore difference  bore of the pipe less the diameter of the circle that is as far round as the port, mm: what an
                     end worked to the port's shape is larger by, across
    dam              how far the round bore stands inside the port at its worst, mm: metal in the gas
    oversize         how far the round bore lies outside the port at most, mm
    clock            0 at the drawing's +y, clockwise looking along the gas: anticlockwise in the drawing

Sheet keeps its girth where it is bent and not stretched, so bore goes with bore.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import StockError, UnitError
from rootgap.geometry.openings import Opening, Round, placed
from rootgap.spec import FlangePart
from rootgap.stock import PipeStock, custom, pipe, pipe_sizes, schedules, tube

Array = NDArray[np.float64]

#: How much larger than the port the pipe's bore may be, mm; smaller it may never be, for that makes a dam.
#: Source: a published article on header building, 0.030 in.
LARGEST = 0.76
SUPPORT = "published article"
SOURCE = f"a published article on header building: bore equal to the port or up to {LARGEST:g} mm (0.030 in) larger"
#: A difference below this, mm, is none.
NONE = 1e-6
#: How far, mm, chords lie from a rim, and points along it from each other.
CHORD, STEP = 0.002, 0.05
#: A table is searched in a metal that all have.
_METAL = "carbon steel"

Verdict = Literal["fits", "larger", "smaller"]


@dataclass(frozen=True)
class Candidate:
    """A pipe at a port. bore, girth (of the bore), girth_difference, difference (of the bore), dam, oversize: mm;
    dam_clock, oversize_clock: degrees, where these are largest."""

    stock: str
    bore: float
    girth: float
    girth_difference: float
    difference: float
    dam: float
    dam_clock: float
    oversize: float
    oversize_clock: float
    verdict: Verdict


@dataclass(frozen=True)
class PortPipes:
    """The pipes for ports of one shape, the best first. ports: their numbers, from 1; girth, equal_round (the diameter
    of the circle that is as far round): mm; area: mm2; hollow: whether the rim turns inwards, where no pipe is worked
    to it without a stretch."""

    ports: tuple[int, ...]
    shape: str
    girth: float
    equal_round: float
    area: float
    hollow: bool
    pipes: tuple[Candidate, ...]

    @property
    def fitting(self) -> tuple[Candidate, ...]:
        """The pipes that keep the limit."""
        return tuple(each for each in self.pipes if each.verdict == "fits")


def pipes_for(part: FlangePart, also: Sequence[str] = (), largest: float = LARGEST) -> tuple[PortPipes, ...]:
    """Return the pipes for every port of `part`, ports of one shape together.

    also: further stock by its name, such as "1.75 in x 16 ga"; largest: how much larger a bore may be, mm.
    Raises UnitError and StockError for a name that is none.
    """
    stocks = [*_tabled(), *map(_named, also)]
    by_shape: dict[tuple[Opening, float], list[int]] = {}
    for number, port in enumerate(part.port, start=1):
        by_shape.setdefault((port.opening.opening(), port.angle), []).append(number)
    return tuple(
        _ranked(tuple(numbers), opening, angle, stocks, largest) for (opening, angle), numbers in by_shape.items()
    )


@cache
def _tabled() -> tuple[PipeStock, ...]:
    """Return every pipe of the table, one for each wall."""
    words: dict[str, list[str]] = {}
    for word, column in schedules().items():
        words.setdefault(column, []).append(word)
    found = []
    for size in pipe_sizes():
        walls: dict[float, str] = {}
        for column, wall in size.walls:
            walls.setdefault(wall, column)
        for wall, column in walls.items():
            word = min(words[column], key=lambda each: (len(each), each))
            label = f"NPS {size.nps} {'sch ' if word[0].isdecimal() else ''}{word}"
            found.append(replace(custom(size.od, wall, _METAL), label=label))
    return tuple(found)


def _named(text: str) -> PipeStock:
    """Return the pipe or tube that a text names. Raises UnitError, StockError."""
    try:
        return tube(text, _METAL)
    except (UnitError, StockError):
        return pipe(text, _METAL)


def _ranked(
    numbers: tuple[int, ...], opening: Opening, angle: float, stocks: Sequence[PipeStock], largest: float
) -> PortPipes:
    shape = placed(opening.shape(), angle=angle)
    rim = _dense(shape.points(CHORD))
    radius, clock = np.hypot(*rim.T), np.degrees(np.arctan2(-rim[:, 0], rim[:, 1])) % 360.0
    equal = opening.girth / np.pi
    found = [_candidate(stock, opening.girth, radius, clock, largest) for stock in stocks]
    order = {"fits": 0, "larger": 1, "smaller": 2}
    found.sort(key=lambda each: (order[each.verdict], abs(each.difference), each.stock))
    return PortPipes(
        numbers, _words(opening), opening.girth, equal, opening.area, _is_hollow(opening), tuple(found)
    )


def _dense(rim: Array) -> Array:
    """Return points along a closed polyline, (n, 2), mm, STEP apart at most: the middle of a side is nearest."""
    ring = np.vstack([rim, rim[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    at = np.union1d(along[:-1], np.arange(0.0, along[-1], STEP))
    return np.column_stack([np.interp(at, along, ring[:, axis]) for axis in (0, 1)])


def _candidate(stock: PipeStock, girth: float, radius: Array, clock: Array, largest: float) -> Candidate:
    bore_girth = float(np.pi * stock.bore)
    difference = stock.bore - girth / float(np.pi)
    step = stock.r_in - radius
    least, most = int(np.argmin(step)), int(np.argmax(step))
    verdict: Verdict = "fits" if -NONE <= difference <= largest + NONE else "larger" if difference > 0.0 else "smaller"
    return Candidate(
        stock.label,
        stock.bore,
        bore_girth,
        bore_girth - girth,
        difference,
        max(0.0, -float(step[least])),
        float(clock[least]),
        max(0.0, float(step[most])),
        float(clock[most]),
        verdict,
    )


def _is_hollow(opening: Opening) -> bool:
    """Tell whether an opening's rim turns inwards: then it is longer than its hull's."""
    from shapely import Polygon

    rim = Polygon(opening.shape().points(CHORD))
    return bool(rim.convex_hull.area - rim.area > 1e-4 * rim.area)


def _words(opening: Opening) -> str:
    sizes = vars(opening)
    if isinstance(opening, Round):
        return f"round {opening.diameter:g}"
    kind = {"RoundedRectangle": "rounded", "Oval": "oval", "Dee": "dee"}.get(type(opening).__name__, "path")
    if kind == "path":
        return f"path of {len(sizes['vertices'])} corners"
    radius = f", radius {sizes['radius']:g}" if "radius" in sizes else ""
    return f"{kind} {sizes['width']:g} x {sizes['height']:g}{radius}"


def shown(found: PortPipes, most: int) -> Iterator[Candidate]:
    """Yield the pipes worth a look: the `most` best that fit, and the nearest larger and smaller ones."""
    for verdict in ("fits", "larger", "smaller"):
        yield from [each for each in found.pipes if each.verdict == verdict][:most]
