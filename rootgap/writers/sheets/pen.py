"""A pen that draws in mm on a page.

Terminology:

    stroke     a kind of line: its width, colour and dash
    style      a kind of lettering: its font, size and colour
    part       one unbroken line or ring of a path

Positions are mm from a page's lower left corner, text sizes are points. Lines are written as PDF
operators, a whole path at once: hundreds of points a page make that the quick way.
Source of the operators: ISO 32000-1, tables 57, 59, 60, 61 and 74.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property, lru_cache
from math import cos, radians, sin
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from rootgap.patterns.pattern import PURPOSES
from rootgap.writers.sheets.paper import Box, Point

MM = 72.0 / 25.4  # points a millimetre. Source: ISO 32000-1, 8.3.2.3: 1/72 inch a unit

Colour = tuple[float, float, float]
Points = NDArray[np.float64] | Sequence[Point]

INK: Colour = (0.0, 0.0, 0.0)
SLATE: Colour = (0.27, 0.34, 0.42)
GREY: Colour = (0.55, 0.55, 0.55)
PALE: Colour = (0.91, 0.91, 0.91)
WHITE: Colour = (1.0, 1.0, 1.0)


@dataclass(frozen=True)
class Stroke:
    """A kind of line. width: mm; dash: lengths on and off, mm."""

    width: float
    colour: Colour = INK
    dash: tuple[float, ...] = ()

    @cached_property
    def operators(self) -> str:
        """What sets this stroke on a page, with round joins."""
        dash = " ".join(f"{length * MM:.3f}" for length in self.dash)
        return f"{self.width * MM:.3f} w {_numbers(self.colour)} RG [{dash}] 0 d 1 j"


STROKES: dict[str, Stroke] = {
    "cut": Stroke(0.35),
    "inside": Stroke(0.25, INK, (2.2, 1.3)),
    "edge": Stroke(0.15),
    "mark": Stroke(0.18, SLATE, (7.0, 1.6)),
    "drill": Stroke(0.15),
    "tab": Stroke(0.15, INK, (1.0, 1.0)),
    "text": Stroke(0.15),
}
HATCHING = Stroke(0.12, GREY)
RULE = Stroke(0.15, SLATE)
HEAVY_RULE = Stroke(0.6, SLATE)
if set(STROKES) != set(PURPOSES):  # pragma: no cover
    raise AssertionError("every purpose needs a stroke")


@dataclass(frozen=True)
class Style:
    """A kind of lettering. size: pt. Its heights and lengths are mm."""

    font: str = "Helvetica"
    size: float = 8.5
    colour: Colour = INK

    @property
    def caps(self) -> float:
        """Height of capitals. Source: Adobe Helvetica metrics (AFM), CapHeight 718."""
        return 0.718 * self.size / MM

    @property
    def drop(self) -> float:
        """Depth below the baseline. Source: Adobe Helvetica metrics (AFM), Descender 207."""
        return 0.21 * self.size / MM

    @property
    def leading(self) -> float:
        """Distance between baselines."""
        return 1.22 * self.size / MM

    def width(self, string: str) -> float:
        """Return how long `string` is when set."""
        return _width_at_1_pt(self.font, string) * self.size / MM


PLAIN = Style()
QUIET = Style(colour=SLATE)
BOLD = Style("Helvetica-Bold")
HEAD = Style("Helvetica-Bold", colour=SLATE)


@lru_cache(maxsize=8192)
def _width_at_1_pt(font: str, string: str) -> float:
    return float(stringWidth(string, font, 1.0))


#: Every font of a print; the last two are reportlab's for letters that the others lack.
FONTS = ("Helvetica", "Helvetica-Bold", "Symbol", "ZapfDingbats")


def canvas_on(file: BinaryIO) -> Canvas:
    """Return an empty PDF for `file`, in which every font has its number: what is drawn on one is good on another."""
    canvas = Canvas(file, invariant=1, pageCompression=1)
    for font in FONTS:
        canvas.beginText().setFont(font, 1.0)
    return canvas


def drawn(draw: Callable[[Pen], None]) -> str:
    """Return what `draw` draws, as PDF operators."""
    canvas = canvas_on(io.BytesIO())
    draw(Pen(canvas))
    return str(canvas.getCurrentPageContent())


@dataclass(frozen=True)
class Pen:
    """Draws in mm on a reportlab canvas."""

    canvas: Any

    def again(self, operators: str) -> None:
        """Draw what `drawn` returned."""
        self.canvas.addLiteral(operators)

    def text(
        self, x: float, y: float, string: str, style: Style = PLAIN, anchor: str = "left", angle: float = 0.0
    ) -> None:
        """Write `string` with its baseline's `anchor` end at (x, y), turned by `angle` degrees."""
        back = {"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * style.width(string)
        c, s = cos(radians(angle)), sin(radians(angle))
        left, base = (x - back * c) * MM, (y - back * s) * MM
        self.canvas.addLiteral(f"{_numbers(style.colour)} rg")
        line = self.canvas.beginText(left, base)
        if angle:
            line.setTextTransform(c, s, -s, c, left, base)
        line.setFont(style.font, style.size)
        line.textOut(string)
        self.canvas.drawText(line)

    def paths(
        self, parts: Sequence[Points], stroke: Stroke | None, *, closed: bool = False, fill: Colour | None = None
    ) -> None:
        """Draw straight lines through the points of each part, all parts as one path."""
        fills = "" if fill is None else f"{_numbers(fill)} rg"
        strokes = "" if stroke is None else stroke.operators
        paint = {(True, False): "S", (False, True): "f", (True, True): "B"}[stroke is not None, fill is not None]
        self.canvas.addLiteral(f"q {fills} {strokes} {_route(parts, closed=closed)} {paint} Q")

    def path(self, points: Points, stroke: Stroke | None, *, closed: bool = False, fill: Colour | None = None) -> None:
        """Draw straight lines through `points`."""
        self.paths([points], stroke, closed=closed, fill=fill)

    def line(self, x0: float, y0: float, x1: float, y1: float, stroke: Stroke) -> None:
        """Draw one straight line."""
        self.paths([[(x0, y0), (x1, y1)]], stroke)

    def box(self, box: Box, stroke: Stroke | None = None, fill: Colour | None = None) -> None:
        """Draw an upright rectangle."""
        self.paths([_corners(box)], stroke, closed=True, fill=fill)

    @contextmanager
    def clipped(self, ring: Points | Box) -> Iterator[None]:
        """Keep what is drawn meanwhile inside a ring of points or a box."""
        points = _corners(ring) if isinstance(ring, tuple) else ring
        self.canvas.addLiteral(f"q {_route([points], closed=True)} W* n")
        yield
        self.canvas.addLiteral("Q")


def _corners(box: Box) -> list[Point]:
    x0, y0, x1, y1 = box
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def _numbers(values: Sequence[float]) -> str:
    return " ".join(f"{value:g}" for value in values)


def _route(parts: Sequence[Points], *, closed: bool) -> str:
    """Return the operators of a path. 0.001 pt is 0.0004 mm."""
    pieces = []
    for part in parts:
        points = np.asarray(part, dtype=np.float64)
        pieces.append("%.3f %.3f m " + "%.3f %.3f l " * (len(points) - 1) + ("h " if closed else ""))
        pieces[-1] %= tuple((points * MM).ravel().tolist())
    return "".join(pieces)
