"""The bars on every page that prove a print true, and the printer's error they take out.

Terminology:

    bar        a line of known length that is measured on the print; bar X runs across the paper's
               short side and bar Y along its long side, on every page, upright or turned
    strip      the band along a page's foot and left side in which the bars lie
"""

from __future__ import annotations

from dataclasses import dataclass

from rootgap.patterns.printing import PrintSetup
from rootgap.writers.sheets.paper import MARGIN, Point, Sheet, Strips
from rootgap.writers.sheets.pen import INK, RULE, SLATE, Pen, Stroke, Style
from rootgap.writers.sheets.text import wrapped

ADVICE = (
    "Print at actual size (100 %), never fit to page. Measure the bars both ways before cutting. "
    "The wrap's seam closing edge to edge is the best scale test there is."
)

SIDE_STRIP = 14.0  # mm; the upright bars
FOOT_STRIP = 13.0  # mm; the level bars and the advice
GAP = 2.5  # mm between a strip and what is beside it
TICK = 3.2  # mm; a bar's end ticks
TOOLS = Style(size=7.5, colour=SLATE)
TOLD = Style("Helvetica-Bold", 7.5)
SMALL = Style(size=8.0)


@dataclass(frozen=True)
class Bar:
    """A bar of black and white blocks. blocks: how many; block: length of one, mm; middle, end:
    what is written there."""

    blocks: int
    block: float
    middle: str
    end: str

    @property
    def length(self) -> float:
        """True length, mm."""
        return self.blocks * self.block


METRIC = Bar(10, 10.0, "50", "100 mm")
INCH = Bar(8, 12.7, "2", "4 in")


def strips(header: float) -> Strips:
    """Return what bars and a header of `header` mm take of a page."""
    return Strips(left=SIDE_STRIP + GAP, top=header + GAP, bottom=FOOT_STRIP + GAP)


def draw_bars(pen: Pen, sheet: Sheet, options: PrintSetup, header: float) -> None:
    """Draw the bars along foot and left side, the advice, and where to note what they read.

    header: height of the page's header, mm.
    """
    sx, sy = sheet.turned(options.stretch)
    across, up = ("Y", "X") if sheet.landscape else ("X", "Y")
    rule = MARGIN + FOOT_STRIP
    for bar, drop in ((METRIC, 8.2), (INCH, 2.2)):
        draw_bar(pen, bar, f"bar {across}", (MARGIN, MARGIN + drop), sx, upright=False)
        draw_bar(pen, bar, f"bar {up}", (rule - drop, rule + GAP), sy, upright=True)
    right = sheet.width - MARGIN
    pen.line(MARGIN, rule, right, rule, RULE)
    x = MARGIN + sx * INCH.length + 5.0
    for i, line in enumerate(wrapped(ADVICE, right - x, SMALL)):
        pen.text(x, rule - 1.4 - SMALL.caps - 0.93 * i * SMALL.leading, line, SMALL)
    low = rule + GAP + sy * INCH.length + 5.0
    _draw_readings(pen, options, low, sheet.height - MARGIN - header - GAP - low)


def _draw_readings(pen: Pen, options: PrintSetup, low: float, room: float) -> None:
    """Write what the bars read, as given and as yet to be noted, upright from `low` in `room` mm."""
    told = f"Stretched for a printer whose bars read X {options.bar_x:g} and Y {options.bar_y:g} mm."
    lines = [] if options.stretch == (1.0, 1.0) else wrapped(told, room, TOLD)
    x = MARGIN + 2.2
    for line in lines:
        pen.text(x, low, line, TOLD, angle=90.0)
        x += 3.1
    if room < 36.0 or len(lines) > 2:
        return
    x += 1.0 if lines else 2.0
    for blank in ("X reads", "Y reads"):
        end = low + TOOLS.width(blank) + 1.5
        pen.text(x, low, blank, TOOLS, angle=90.0)
        pen.line(x, end, x, end + 16.0, RULE)
        pen.text(x, end + 17.0, "mm", TOOLS, angle=90.0)
        x += 4.4


def draw_bar(pen: Pen, bar: Bar, name: str, start: Point, scale: float, *, upright: bool) -> None:
    """Draw `bar` from `start`, mm, level or upright, stretched by `scale`."""

    def at(along: float, off: float) -> Point:
        return (start[0] - off, start[1] + along) if upright else (start[0] + along, start[1] + off)

    def block(a: float, b: float) -> list[Point]:
        return [at(a, -half), at(b, -half), at(b, half), at(a, half)]

    half, label, angle = 0.6, 1.2, 90.0 if upright else 0.0
    length, step = scale * bar.length, scale * bar.block
    pen.paths([block(i * step, (i + 1) * step) for i in range(0, bar.blocks, 2)], Stroke(0.1), closed=True, fill=INK)
    pen.path(block(0.0, length), Stroke(0.1), closed=True)
    pen.paths([[at(end, -0.5 * TICK), at(end, 0.5 * TICK)] for end in (0.0, length)], Stroke(0.2))
    pen.path([at(0.5 * length, half), at(0.5 * length, 2.0 * half)], Stroke(0.1))
    small, bold = Style(size=6.5), Style("Helvetica-Bold", 6.5)
    pen.text(*at(0.9, label), "0", small, angle=angle)
    pen.text(*at(0.5 * length, label + 0.35), bar.middle, small, "middle", angle)
    pen.text(*at(length - 0.9, label), f"{name}  {bar.end}", bold, "right", angle)
