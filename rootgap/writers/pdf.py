"""Patterns on paper at true size: one PDF to print, measure, cut out and wrap.

Terminology: see `paper`. Further:

    bar        a line of known length that is measured on the print; bar X runs across the
               paper's short side and bar Y along its long side, on every page
    block      a pattern's facts and notes
    item       one row of flowing text: a height and a way to draw itself

Positions are mm from a page's lower left corner, text sizes are points.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice, starmap
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np
from numpy.typing import NDArray
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from rootgap.errors import WriteError
from rootgap.geometry.paths import Circle, Shape
from rootgap.patterns.pattern import PURPOSES, Label, Pattern, purpose
from rootgap.writers import paper as pages
from rootgap.writers.paper import MARGIN, Box, Paper, Point, Reserved, Sheet, Side, Strips, Tile, TilePlan

if TYPE_CHECKING:
    from shapely import Geometry

MM = 72.0 / 25.4  # points a millimetre. Source: ISO 32000-1, 8.3.2.3: 1/72 inch a unit

NOMINAL_BAR = 100.0  # mm


@dataclass(frozen=True)
class _Bar:
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


BARS = (_Bar(10, 10.0, "50", "100 mm"), _Bar(8, 12.7, "2", "4 in"))

ADVICE = (
    "Print at actual size (100 %), never fit to page. Measure the bars both ways before cutting. "
    "The wrap's seam closing edge to edge is the best scale test there is."
)

HOW_TO = (
    "Print at actual size (100 %), never fit to page.",
    "Measure bar X and bar Y. If one is not 100 mm (4 in), enter what it reads and print again.",
    "Cut the paper out on its edge lines and leave the tab on.",
    "Wrap it with the datum edge square to the pipe and the seam edges meeting; the tab goes under.",
    "Mark along the cut line, then cut to it. The hatched side is the waste.",
)

CAUTIONS = (
    "Protect eyes, face, hands and ears. Keep the guard on the grinder.",
    "Hot work: keep it clear of combustibles, or shield them, and watch for fire after the last spark.",
    "Breathe clean air: zinc, coatings and chlorinated cleaners turn to poison in the arc.",
    "Local codes and licensed practice decide. A template is a drawing and approves nothing.",
)

BAR_NAMES = (
    "Bar X runs across the short side of the paper and bar Y along its long side, on every page, upright or turned."
)

KINDS = {"wrap": "wrap template", "holes": "hole template", "plate": "plate"}

Colour = tuple[float, float, float]
INK: Colour = (0.0, 0.0, 0.0)
SLATE: Colour = (0.27, 0.34, 0.42)
GREY: Colour = (0.55, 0.55, 0.55)
PALE: Colour = (0.91, 0.91, 0.91)

BODY, BOLD = "Helvetica", "Helvetica-Bold"
SIZE = 8.5  # pt
NAME_SIZE = 16.0  # pt
CAPS = 0.718  # height of capitals over size. Source: Adobe Helvetica metrics (AFM), CapHeight
DROP = 0.21  # depth below the baseline over size. Source: the same, Descender 207

SIDE_STRIP = 14.0  # mm; the upright bars
FOOT_STRIP = 13.0  # mm; the level bars and the advice
GAP = 2.5  # mm between a strip and what is beside it
HATCH = 3.5  # mm between hatch lines, measured level
TOLERANCE = 0.005  # mm between a true curve and the chords drawn for it
TICK = 3.2  # mm; a bar's end ticks


@dataclass(frozen=True)
class PrintOptions:
    """How to print. bar_x, bar_y: what the nominal 100 mm bars X and Y measured, mm, on an
    uncorrected print of the printer at hand; the drawing is stretched to come out true on it.

    Raises: ValueError for a paper that is not held or a bar outside 90 to 110 mm.
    """

    paper: Paper = "a4"
    bar_x: float = NOMINAL_BAR
    bar_y: float = NOMINAL_BAR

    def __post_init__(self) -> None:
        if self.paper not in pages.PAPERS:
            raise ValueError(f"paper: found {self.paper!r}; allowed: {', '.join(sorted(pages.PAPERS))}")
        for name, value in (("bar_x", self.bar_x), ("bar_y", self.bar_y)):
            if not 90.0 <= value <= 110.0:
                raise ValueError(f"{name}: found {value:g} mm; allowed: 90 to 110 mm for a nominal 100 mm bar")

    @property
    def stretch(self) -> Point:
        """Drawn over true length, (across, along) the paper."""
        return NOMINAL_BAR / self.bar_x, NOMINAL_BAR / self.bar_y


def write_templates(patterns: Sequence[Pattern], path: Path, options: PrintOptions, heading: str) -> None:
    """Write `patterns` at true size to a PDF at `path`, after an index page.

    heading: the project's title. The same input gives the same bytes.

    Raises: ValueError for a pattern in which nothing is drawn; WriteError if `path` cannot be
    written.
    """
    data = templates(patterns, options, heading)
    try:
        path.write_bytes(data)
    except OSError as error:
        raise WriteError(str(path), error.strerror or str(error)) from error


def layout_on_paper(pattern: Pattern, options: PrintOptions, heading: str) -> TilePlan:
    """Return where `write_templates` puts the pattern's drawing: its last pages, one a tile.

    Raises: ValueError for a pattern in which nothing is drawn.
    """
    plans = [page.plan for page in _pattern_pages(pattern, options, heading)]
    return next(plan for plan in reversed(plans) if plan is not None)


def templates(patterns: Sequence[Pattern], options: PrintOptions, heading: str) -> bytes:
    """Return the PDF that `write_templates` writes."""
    groups = [_pattern_pages(pattern, options, heading) for pattern in patterns]
    # The index names page numbers that depend on how long the index is; its length does not
    # depend on the numbers.
    lead = len(_index_pages(patterns, [(0, 0)] * len(groups), options, heading))
    spans, first = [], lead + 1
    for group in groups:
        spans.append((first, first + len(group) - 1))
        first += len(group)
    index = _index_pages(patterns, spans, options, heading)
    book = [*index, *(page for group in groups for page in group)]
    starts = {first: pattern.name for (first, _), pattern in zip(spans, patterns, strict=True)}

    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1)
    canvas.setTitle(heading)
    canvas.setAuthor("rootgap")
    canvas.setSubject("True-size templates")
    canvas.setCreator("rootgap")
    canvas.setViewerPreference("PrintScaling", "None")  # ISO 32000-1, table 150: no page scaling
    for number, page in enumerate(book, start=1):
        canvas.setPageSize((page.sheet.width * MM, page.sheet.height * MM))
        canvas.bookmarkPage(f"page{number}")
        if number in starts:
            canvas.addOutlineEntry(starts[number], f"page{number}")
        pen = _Pen(canvas)
        _draw_bars(pen, page.sheet, options, page.header.height)
        page.header.draw(pen, page.sheet, f"page {number} of {len(book)}")
        page.draw(pen)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


# Pen: a canvas in mm


@dataclass(frozen=True)
class _Stroke:
    """A kind of line. width: mm; dash: lengths on and off, mm."""

    width: float
    colour: Colour = INK
    dash: tuple[float, ...] = ()


STROKES: dict[str, _Stroke] = {
    "cut": _Stroke(0.35),
    "inside": _Stroke(0.25, INK, (2.2, 1.3)),
    "edge": _Stroke(0.15),
    "mark": _Stroke(0.18, SLATE, (7.0, 1.6)),
    "drill": _Stroke(0.15),
    "tab": _Stroke(0.15, INK, (1.0, 1.0)),
    "text": _Stroke(0.15),
}
HATCH_STROKE = _Stroke(0.12, GREY)
RULE = _Stroke(0.15, SLATE)
HEAVY_RULE = _Stroke(0.6, SLATE)
JOIN = _Stroke(0.12, SLATE, (1.2, 1.2))
CROSS = _Stroke(0.15, SLATE)

# What each purpose means, in the order drawn: what must be seen best comes last.
DRAWING_ORDER = ("tab", "text", "mark", "drill", "inside", "edge", "cut")
LINE_KEY = (
    ("cut", "cut to this line"),
    ("inside", "where a hole's edge comes out at the bore"),
    ("edge", "edge of the paper: datum, seam"),
    ("mark", "transfer: clocks, match marks, bends"),
    ("drill", "centre punch and drill"),
    ("tab", "overlap under the seam: stays on the paper"),
    ("waste", "waste: falls away"),
)
if set(STROKES) != set(PURPOSES) or set(DRAWING_ORDER) != set(PURPOSES):  # pragma: no cover
    raise AssertionError("every purpose needs a stroke and a place in the drawing order")


@dataclass(frozen=True)
class _Pen:
    """Draws in mm on a canvas."""

    canvas: Any

    def text(
        self,
        x: float,
        y: float,
        string: str,
        *,
        font: str = BODY,
        size: float = SIZE,
        colour: Colour = INK,
        anchor: str = "left",
        angle: float = 0.0,
    ) -> None:
        """Write `string` with its baseline's `anchor` end at (x, y)."""
        shift = {"left": 0.0, "middle": -0.5, "right": -1.0}[anchor] * _width(string, font, size)
        self.canvas.saveState()
        self.canvas.setFillColorRGB(*colour)
        self.canvas.setFont(font, size)
        self.canvas.translate(x * MM, y * MM)
        if angle:
            self.canvas.rotate(angle)
        self.canvas.drawString(shift * MM, 0.0, string)
        self.canvas.restoreState()

    def path(
        self,
        points: Iterable[Point] | NDArray[np.float64],
        stroke: _Stroke | None,
        *,
        closed: bool = False,
        fill: Colour | None = None,
    ) -> None:
        """Draw straight lines through `points`."""
        outline = self.canvas.beginPath()
        for i, (x, y) in enumerate(points):
            (outline.lineTo if i else outline.moveTo)(float(x) * MM, float(y) * MM)
        if closed:
            outline.close()
        self.canvas.saveState()
        if stroke is not None:
            self.canvas.setLineWidth(stroke.width * MM)
            self.canvas.setStrokeColorRGB(*stroke.colour)
            self.canvas.setDash([length * MM for length in stroke.dash])
            self.canvas.setLineJoin(1)
        if fill is not None:
            self.canvas.setFillColorRGB(*fill)
        self.canvas.drawPath(outline, stroke=int(stroke is not None), fill=int(fill is not None))
        self.canvas.restoreState()

    def line(self, x0: float, y0: float, x1: float, y1: float, stroke: _Stroke) -> None:
        """Draw one straight line."""
        self.path([(x0, y0), (x1, y1)], stroke)

    def box(self, box: Box, stroke: _Stroke | None = None, fill: Colour | None = None) -> None:
        """Draw an upright rectangle."""
        x0, y0, x1, y1 = box
        self.path([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], stroke, closed=True, fill=fill)

    def clip(self, box: Box) -> None:
        """Keep what follows inside `box`, until the canvas state is restored."""
        x0, y0, x1, y1 = box
        outline = self.canvas.beginPath()
        outline.rect(x0 * MM, y0 * MM, (x1 - x0) * MM, (y1 - y0) * MM)
        self.canvas.clipPath(outline, stroke=0, fill=0)


def _width(string: str, font: str = BODY, size: float = SIZE) -> float:
    """Return how long `string` is when set, mm."""
    return float(stringWidth(string, font, size)) / MM


def _leading(size: float) -> float:
    """Return the distance between baselines, mm, of text of `size` pt."""
    return 1.22 * size / MM


def wrapped(string: str, width: float, font: str = BODY, size: float = SIZE) -> list[str]:
    """Return `string` in lines no longer than `width` mm; a word that is longer is broken.

    >>> wrapped("cut to the line, leave the line", 25.0)
    ['cut to the line,', 'leave the line']
    """
    lines: list[str] = []
    line = ""
    for word in string.split():
        longer = f"{line} {word}" if line else word
        if _width(longer, font, size) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        line = ""
        for letter in word:
            if line and _width(line + letter, font, size) > width:
                lines.append(line)
                line = ""
            line += letter
    return [*lines, line] if line else lines


# Flowing text


@dataclass(frozen=True)
class _Item:
    """A row. height: mm; draw: given a pen and the row's left and top, mm."""

    height: float
    draw: Callable[[_Pen, float, float], None]


@dataclass(frozen=True)
class _Run:
    """A piece of a row's text. x: from its left; drop: of the baseline below its top, mm."""

    x: float
    drop: float
    string: str
    font: str = BODY
    size: float = SIZE
    colour: Colour = INK


def _runs(x: float, lines: Sequence[str], font: str = BODY, size: float = SIZE, colour: Colour = INK) -> list[_Run]:
    """Return `lines` below each other, the first with its capitals touching the row's top."""
    first = CAPS * size / MM
    return [_Run(x, first + i * _leading(size), line, font, size, colour) for i, line in enumerate(lines)]


def _text_item(runs: Sequence[_Run], gap: float = 1.4) -> _Item:
    """Return a row of `runs` with `gap` mm below its deepest letter."""
    height = max((run.drop + DROP * run.size / MM for run in runs), default=0.0) + gap

    def draw(pen: _Pen, x: float, top: float) -> None:
        for run in runs:
            pen.text(x + run.x, top - run.drop, run.string, font=run.font, size=run.size, colour=run.colour)

    return _Item(height, draw)


def _heading_item(string: str, width: float) -> _Item:
    """Return a row that heads a section, ruled across."""
    runs = _runs(0.0, [string], BOLD, SIZE, SLATE)
    inner = _text_item(runs, 3.4)

    def draw(pen: _Pen, x: float, top: float) -> None:
        pen.line(x, top - inner.height + 2.0, x + width, top - inner.height + 2.0, RULE)
        inner.draw(pen, x, top)

    return _Item(inner.height, draw)


def _space(height: float) -> _Item:
    return _Item(height, lambda *_: None)


def _height(items: Iterable[_Item]) -> float:
    return sum(item.height for item in items)


def _draw_items(pen: _Pen, items: Iterable[_Item], x: float, top: float) -> None:
    for item in items:
        item.draw(pen, x, top)
        top -= item.height


def _split(items: Sequence[_Item], room: float) -> list[list[_Item]]:
    """Return `items` in columns no higher than `room` mm, at least one item in each."""
    columns: list[list[_Item]] = [[]]
    for item in items:
        if columns[-1] and _height(columns[-1]) + item.height > room:
            columns.append([])
        columns[-1].append(item)
    return columns


def _beside(left: Sequence[_Item], right: Sequence[_Item], shift: float) -> _Item:
    """Return two columns as one row, the right one `shift` mm further."""

    def draw(pen: _Pen, x: float, top: float) -> None:
        _draw_items(pen, left, x, top)
        _draw_items(pen, right, x + shift, top)

    return _Item(max(_height(left), _height(right)), draw)


def _block(pattern: Pattern, width: float) -> list[_Item]:
    """Return a pattern's notes and facts as rows, facts in two columns if `width` mm allows."""
    items: list[_Item] = []
    for note in pattern.notes:
        lines = wrapped(note, width - 4.0, BOLD)
        items.append(_text_item([_Run(0.8, CAPS * SIZE / MM, "!", BOLD), *_runs(4.0, lines, BOLD)], 1.6))
    if pattern.notes and pattern.facts:
        items.append(_space(1.2))
    columns = 2 if width >= 120.0 else 1
    gutter = 6.0
    each = (width - (columns - 1) * gutter) / columns
    names = min(0.42 * each, max((_width(name) for name, _ in pattern.facts), default=0.0)) + 3.0
    half = -(-len(pattern.facts) // columns)
    for i in range(half):
        row: list[_Run] = []
        for column, (name, value) in enumerate(pattern.facts[i::half]):
            x = column * (each + gutter)
            row += _runs(x, wrapped(name, names - 3.0), BODY, SIZE, SLATE)
            row += _runs(x + names, wrapped(value, each - names))
        items.append(_text_item(row))
    return items


# The furniture of every page


@dataclass(frozen=True)
class _Header:
    """The title block's head: name and title on the left, project and page on the right.

    width: mm; plan, tile: how the pattern is tiled and which tile this page is, if any; tiled:
    whether room for the key map is kept, known before there is a plan.
    """

    width: float
    name: str
    title: str
    kind: str
    heading: str
    plan: TilePlan | None = None
    tile: Tile | None = None
    tiled: bool = False

    MAP: ClassVar[float] = 26.0  # mm; the key map's width
    RIGHT: ClassVar[float] = 58.0  # mm; the right block's width

    @property
    def _right_edge(self) -> float:
        return self.width - (self.MAP + 3.0 if self.tiled else 0.0)

    def _left(self) -> list[_Run]:
        room = self._right_edge - self.RIGHT - 4.0
        name = _runs(0.0, wrapped(self.name, room, BOLD, NAME_SIZE), BOLD, NAME_SIZE)
        below = name[-1].drop + DROP * NAME_SIZE / MM + 1.3 if name else 0.0
        title = _runs(0.0, wrapped(self.title, room, BODY, 9.0), BODY, 9.0)
        return [*name, *(replace(run, drop=run.drop + below) for run in title)]

    def _right(self, number: str) -> list[_Run]:
        lines = [(line, BOLD, INK) for line in wrapped(self.heading, self.RIGHT, BOLD)]
        lines += [(f"{self.kind}, {number}" if self.kind else number, BODY, SLATE)]
        if self.tiled:
            named = f"tile {self.tile.name} of {self.plan.span}" if self.tile and self.plan else "facts"
            lines += [(named, BOLD, INK)]
        first = CAPS * SIZE / MM
        return [
            _Run(self._right_edge, first + i * _leading(SIZE), line, font, SIZE, colour)
            for i, (line, font, colour) in enumerate(lines)
        ]

    @property
    def height(self) -> float:
        """Height with the rule below it, mm."""
        runs = [*self._left(), *self._right("page")]
        deepest = max(run.drop + DROP * run.size / MM for run in runs)
        return max(deepest, 11.0 if self.tiled else 0.0) + 2.2

    def draw(self, pen: _Pen, sheet: Sheet, number: str) -> None:
        """Draw at the top of `sheet`. number: "page 3 of 9"."""
        x, top = MARGIN, sheet.height - MARGIN
        for run in self._left():
            pen.text(x + run.x, top - run.drop, run.string, font=run.font, size=run.size, colour=run.colour)
        for run in self._right(number):
            pen.text(x + run.x, top - run.drop, run.string, font=run.font, colour=run.colour, anchor="right")
        if self.plan is not None:
            _draw_key_map(pen, self.plan, self.tile, (x + self.width - self.MAP, top - 11.0, x + self.width, top))
        foot = top - self.height + 0.3
        pen.line(x, foot, x + self.width, foot, HEAVY_RULE)


def _draw_key_map(pen: _Pen, plan: TilePlan, here: Tile | None, box: Box) -> None:
    """Draw the tiles as cells in `box`, mm, right-aligned, with `here` filled."""
    x0, y0, x1, y1 = plan.tiles[0].window
    aspect = (plan.stretch[0] * (x1 - x0)) / (plan.stretch[1] * (y1 - y0))
    high = min((box[3] - box[1]) / plan.rows, (box[2] - box[0]) / (plan.columns * aspect))
    wide = high * aspect
    left, top = box[2] - plan.columns * wide, box[3]
    for tile in plan.tiles:
        cell = (
            left + tile.column * wide,
            top - (tile.row + 1) * high,
            left + (tile.column + 1) * wide,
            top - tile.row * high,
        )
        pen.box(cell, RULE, SLATE if tile == here else None)


def _draw_bars(pen: _Pen, sheet: Sheet, options: PrintOptions, header: float) -> None:
    """Draw the bars along foot and left side, and what belongs to them."""
    sx, sy = sheet.turned(options.stretch)
    across, up = ("Y", "X") if sheet.landscape else ("X", "Y")
    right = sheet.width - MARGIN
    low = MARGIN + FOOT_STRIP + GAP
    for bar, drop in zip(BARS, (8.2, 2.2), strict=True):
        _draw_bar(pen, bar, f"bar {across}", (MARGIN, MARGIN + drop), sx, upright=False)
        _draw_bar(pen, bar, f"bar {up}", (MARGIN + FOOT_STRIP - drop, low), sy, upright=True)
    rule = MARGIN + FOOT_STRIP
    pen.line(MARGIN, rule, right, rule, RULE)

    longest = max(bar.length for bar in BARS)
    x = MARGIN + sx * longest + 5.0
    lines = wrapped(ADVICE, right - x, BODY, 8.0)
    for i, line in enumerate(lines):
        pen.text(x, rule - 1.4 - CAPS * 8.0 / MM - i * _leading(8.0) * 0.93, line, size=8.0)

    low += sy * longest + 5.0
    room = sheet.height - MARGIN - header - GAP - low
    told = f"Stretched for a printer whose bars read X {options.bar_x:g} and Y {options.bar_y:g} mm."
    lines = [] if options.stretch == (1.0, 1.0) else wrapped(told, room, BOLD, 7.5)
    for i, line in enumerate(lines):
        pen.text(MARGIN + 2.2 + i * 3.1, low, line, font=BOLD, size=7.5, angle=90.0)
    if room < 36.0 or len(lines) > 2:
        return
    start = MARGIN + 2.2 + len(lines) * 3.1 + (1.0 if lines else 2.0)
    for i, blank in enumerate(("X reads", "Y reads")):
        x = start + i * 4.4
        pen.text(x, low, blank, size=7.5, colour=SLATE, angle=90.0)
        end = low + _width(blank, BODY, 7.5) + 1.5
        pen.line(x, end, x, end + 16.0, RULE)
        pen.text(x, end + 17.0, "mm", size=7.5, colour=SLATE, angle=90.0)


def _draw_bar(pen: _Pen, bar: _Bar, name: str, start: Point, scale: float, *, upright: bool) -> None:
    """Draw `bar` from `start`, mm, level or upright, stretched by `scale`."""

    def at(along: float, off: float) -> Point:
        return (start[0] - off, start[1] + along) if upright else (start[0] + along, start[1] + off)

    half, label, size = 0.6, 1.2, 6.5
    angle = 90.0 if upright else 0.0
    length, block = scale * bar.length, scale * bar.block
    for i in range(bar.blocks):
        a, b = i * block, (i + 1) * block
        ring = [at(a, -half), at(b, -half), at(b, half), at(a, half)]
        pen.path(ring, _Stroke(0.1), closed=True, fill=None if i % 2 else INK)
    for end in (0.0, length):
        pen.path([at(end, -0.5 * TICK), at(end, 0.5 * TICK)], _Stroke(0.2))
    pen.path([at(0.5 * length, half), at(0.5 * length, 2.0 * half)], _Stroke(0.1))
    pen.text(*at(0.9, label), "0", size=size, angle=angle)
    pen.text(*at(0.5 * length, label + 0.35), bar.middle, size=size, anchor="middle", angle=angle)
    pen.text(*at(length - 0.9, label), f"{name}  {bar.end}", font=BOLD, size=size, anchor="right", angle=angle)


# The drawing


def _label_size(label: Label) -> float:
    """Return the text size, pt, that gives capitals of the label's height."""
    return label.height / CAPS * MM


def _label_box(label: Label) -> Box:
    """Return the box round a label, mm in the drawing."""
    size = _label_size(label)
    length = _width(label.text, BODY, size)
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[label.anchor] * length
    along = np.array([start, start + length, start + length, start])
    up = np.array([-DROP, -DROP, CAPS, CAPS]) * size / MM
    turn = np.radians(label.angle)
    x = label.at[0] + along * np.cos(turn) - up * np.sin(turn)
    y = label.at[1] + along * np.sin(turn) + up * np.cos(turn)
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def _extent(pattern: Pattern) -> Box:
    """Return the box round everything a pattern shows, lettering included, mm.

    Raises: ValueError if nothing is drawn.
    """
    if not pattern.drawn:
        raise ValueError(f"pattern {pattern.name!r}: nothing is drawn on it")
    boxes = [pattern.bounds(), *(region.bounds() for region in pattern.waste)]
    boxes += [_label_box(label) for label in pattern.labels]
    # A drill's centre cross is longer than its circle is wide.
    boxes += [_grown(d.shape.bounds(), DRILL_ARM) for d in pattern.drawn if purpose(d.layer) == "drill"]
    low, high = np.array(boxes)[:, :2].min(axis=0), np.array(boxes)[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


DRILL_ARM = 1.5  # mm that a drill's cross stands out of its circle


def _grown(box: Box, by: float) -> Box:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def _meets(a: Box, b: Box) -> bool:
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]


def _inside(a: Box, b: Box) -> bool:
    """Return whether `a` lies in `b`."""
    return a[0] >= b[0] and a[1] >= b[1] and a[2] <= b[2] and a[3] <= b[3]


def _placed_labels(pattern: Pattern, plan: TilePlan) -> list[Label]:
    """Return the labels so that each is whole on some tile. One that straddles every border it
    meets moves to the nearest place that is clear, and shrinks if it is longer than a tile."""
    astray = [not any(_inside(_label_box(label), t.window) for t in plan.tiles) for label in pattern.labels]
    placed = [label for label, gone in zip(pattern.labels, astray, strict=True) if not gone]
    for label in (label for label, gone in zip(pattern.labels, astray, strict=True) if gone):
        placed.append(_placed(label, _taken(pattern, placed), plan))
    return placed


def _placed(label: Label, taken: Geometry, plan: TilePlan) -> Label:
    """Return `label` at the nearest place, whole on one tile and clear of `taken` if it can be."""
    import shapely

    box, window = _label_box(label), plan.tiles[0].window
    room = min((window[i + 2] - window[i]) / max(box[i + 2] - box[i], 1e-9) for i in (0, 1))
    if room < 1.0:
        label = replace(label, height=0.98 * room * label.height)
    cores = [shapely.difference(shapely.box(*plan.core(tile)), taken) for tile in plan.tiles]
    windows = [shapely.box(*tile.window) for tile in plan.tiles]
    for areas in (cores, windows):
        anchors = np.vstack([_places(area, label)[0] for area in areas])
        if len(anchors):
            # Rounded, so that equal distances are not told apart by noise.
            away = np.round(np.hypot(*(anchors - np.array(label.at)).T), 3)
            x, y = anchors[int(np.argmin(away))]
            return replace(label, at=(float(x), float(y)))
    return label


def _taken(pattern: Pattern, labels: Iterable[Label]) -> Geometry:
    """Return the parts of a drawing that its lines and `labels` take, with a little air, mm."""
    import shapely

    return shapely.union_all(
        [
            *_bands(_outlines(pattern), 0.8),
            *(shapely.box(*_grown(_label_box(label), 1.0)) for label in labels),
        ]
    )


def _bands(outlines: Iterable[_Outline], width: float) -> list[Geometry]:
    """Return the band within `width` mm of each outline."""
    import shapely

    return [
        shapely.buffer(shapely.LineString(np.vstack([o.points, o.points[:1]]) if o.closed else o.points), width)
        for o in outlines
        if len(o.points) > 1
    ]


def _places(area: Geometry, word: Label) -> tuple[NDArray[np.float64], NDArray[np.object_]]:
    """Return anchors, (n, 2), mm, at which `word` lies in `area`, and its box at each."""
    import shapely

    if area.is_empty:
        return np.empty((0, 2)), np.empty(0, dtype=object)
    left, low, right, high = _label_box(replace(word, at=(0.0, 0.0)))
    x0, y0, x1, y1 = area.bounds
    x = np.linspace(x0 - left, max(x1 - right, x0 - left), 41).round(3)
    y = np.linspace(y0 - low, max(y1 - high, y0 - low), 41).round(3)
    anchors = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    boxes = shapely.box(anchors[:, 0] + left, anchors[:, 1] + low, anchors[:, 0] + right, anchors[:, 1] + high)
    # Grown by the rounding of the anchors.
    shapely.prepare(grown := shapely.buffer(area, 0.002))
    inside = shapely.contains(grown, boxes)
    return anchors[inside], boxes[inside]


@dataclass(frozen=True)
class _Outline:
    """A shape as chords. points: (n, 2), mm in the drawing."""

    purpose: str
    points: NDArray[np.float64]
    closed: bool
    shape: Shape


@dataclass(frozen=True)
class _Art:
    """A pattern ready to draw on any tile, mm in the drawing.

    hatch: line ends, (n, 2, 2); words: WASTE wherever it goes.
    """

    outlines: tuple[_Outline, ...]
    labels: tuple[Label, ...]
    hatch: NDArray[np.float64]
    words: tuple[Label, ...]


def _art(pattern: Pattern, plan: TilePlan) -> _Art:
    labels = tuple(_placed_labels(pattern, plan))
    words = tuple(_waste_words(pattern, labels, plan))
    return _Art(_outlines(pattern), labels, _hatching(pattern, (*labels, *words)), words)


def _outlines(pattern: Pattern) -> tuple[_Outline, ...]:
    """Return what is drawn in the order to draw it.

    Raises: ValueError for a layer whose purpose is not one of PURPOSES.
    """
    order = {name: i for i, name in enumerate(DRAWING_ORDER)}
    for item in pattern.drawn:
        if purpose(item.layer) not in order:
            raise ValueError(f"pattern {pattern.name!r}: layer {item.layer!r}; allowed: {', '.join(PURPOSES)}")
    drawn = sorted(pattern.drawn, key=lambda item: order[purpose(item.layer)])
    return tuple(
        _Outline(purpose(item.layer), _points(item.shape), _is_closed(item.shape), item.shape) for item in drawn
    )


def _points(shape: Shape) -> NDArray[np.float64]:
    return shape.points(TOLERANCE)


def _is_closed(shape: Shape) -> bool:
    return isinstance(shape, Circle) or shape.closed


def _regions(pattern: Pattern) -> list[Geometry]:
    """Return the waste regions as polygons, mm."""
    import shapely

    return [shapely.make_valid(shapely.Polygon(region.points(TOLERANCE))) for region in pattern.waste]


def _hatching(pattern: Pattern, words: Iterable[Label]) -> NDArray[np.float64]:
    """Return the ends of diagonal lines over the waste, clear of the words, (n, 2, 2), mm.

    The lines pass through multiples of HATCH from the drawing's origin, so they run on from
    tile to tile.
    """
    import shapely

    segments: list[NDArray[np.float64]] = []
    clear = shapely.union_all([shapely.box(*_grown(_label_box(word), 0.8)) for word in words])
    for region in _regions(pattern):
        open_region = shapely.difference(region, clear)
        x0, y0, x1, y1 = region.bounds
        steps = np.arange(np.ceil((x0 - y1) / HATCH), np.floor((x1 - y0) / HATCH) + 1.0) * HATCH
        ends = np.stack(
            [
                np.column_stack([steps + y0, np.full_like(steps, y0)]),
                np.column_stack([steps + y1, np.full_like(steps, y1)]),
            ],
            axis=1,
        )
        pieces = shapely.get_parts(shapely.intersection(shapely.linestrings(ends), open_region))
        pieces = pieces[(shapely.get_type_id(pieces) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(pieces)]
        segments += [np.asarray(shapely.get_coordinates(piece))[[0, -1]] for piece in pieces]
    return np.array(segments).reshape(-1, 2, 2)


WASTE_HEIGHTS = (4.5, 3.5, 2.6)  # mm


def _waste_words(pattern: Pattern, labels: Sequence[Label], plan: TilePlan) -> Iterable[Label]:
    """Yield the word WASTE for every region and tile where it fits clear of lines and labels."""
    import shapely

    taken = _taken(pattern, labels)
    words = [Label("text", (0.0, 0.0), "WASTE", height, 0.0, "middle") for height in WASTE_HEIGHTS]
    for region in _regions(pattern):
        free = shapely.difference(region, taken)
        for tile in plan.tiles:
            area = shapely.intersection(free, shapely.box(*plan.core(tile)))
            fitting = (placed for word in words if (placed := _roomiest(area, word)) is not None)
            yield from islice(fitting, 1)


def _roomiest(area: Geometry, word: Label) -> Label | None:
    """Return `word` at the roomiest place of `area`, mm, or None if it fits nowhere."""
    import shapely

    anchors, boxes = _places(area, word)
    if not len(anchors):
        return None
    # Rounded, so that equal places are not told apart by noise.
    best = int(np.argmax(np.round(shapely.distance(boxes, shapely.boundary(area)), 3)))
    return replace(word, at=(float(anchors[best, 0]), float(anchors[best, 1])))


def _draw_tile(pen: _Pen, art: _Art, plan: TilePlan, tile: Tile) -> None:
    """Draw one tile's share of the drawing, clipped to it, with the marks of its joins."""
    stretch = np.array(plan.stretch)
    shift = np.array(tile.origin) - stretch * np.array(tile.window[:2])
    window = (*tile.origin, *plan.to_page(tile, (tile.window[2], tile.window[3])))

    def on_page(points: NDArray[np.float64]) -> NDArray[np.float64]:
        moved: NDArray[np.float64] = points * stretch + shift
        return moved

    whole = len(plan.tiles) == 1
    pen.canvas.saveState()
    # A single page needs no clip but for the half line width that stands out of its bounds.
    pen.clip(_grown(window, 0.5) if whole else window)
    for outline in art.outlines:
        # A tab may leave its seam side open: the fill closes it.
        if outline.purpose == "tab" and len(outline.points) > 2:
            pen.path(on_page(outline.points), None, closed=True, fill=PALE)
    for ends in art.hatch:
        if _meets((*ends.min(axis=0), *ends.max(axis=0)), tile.window):
            pen.path(on_page(ends), HATCH_STROKE)
    for outline in art.outlines:
        stroke, points = STROKES[outline.purpose], outline.points
        if not _meets(_grown((*points.min(axis=0), *points.max(axis=0)), DRILL_ARM), tile.window):
            continue
        pen.path(on_page(points), stroke, closed=outline.closed)
        if outline.purpose == "drill" and isinstance(outline.shape, Circle):
            (x, y), arm = outline.shape.center, outline.shape.radius + DRILL_ARM
            for dx, dy in ((arm, 0.0), (0.0, arm)):
                pen.path(on_page(np.array([(x - dx, y - dy), (x + dx, y + dy)])), stroke)
    for label in (*art.labels, *art.words):
        if whole or _inside(_label_box(label), tile.window):
            x, y = on_page(np.array(label.at))
            colour, font = (SLATE, BOLD) if label in art.words else (INK, BODY)
            pen.text(
                x,
                y,
                label.text,
                font=font,
                size=_label_size(label),
                colour=colour,
                anchor=label.anchor,
                angle=label.angle,
            )
    pen.canvas.restoreState()
    if not whole:
        _draw_joins(pen, plan, tile, window)


def _draw_joins(pen: _Pen, plan: TilePlan, tile: Tile, window: Box) -> None:
    """Draw the borders to trim and to lay on, their words, and the registration crosses."""
    x0, y0, x1, y1 = window
    middle = (0.5 * (x0 + x1), 0.5 * (y0 + y1))
    for side, other in plan.neighbours(tile).items():
        a, b, c, d = pages.overlap(tile.window, other.window)
        (left, low), (right, high) = plan.to_page(tile, (a, b)), plan.to_page(tile, (c, d))
        own, theirs = {
            "left": ((x0, y0, x0, y1), (right, y0, right, y1)),
            "right": ((x1, y0, x1, y1), (left, y0, left, y1)),
            "below": ((x0, y0, x1, y0), (x0, high, x1, high)),
            "above": ((x0, y1, x1, y1), (x0, low, x1, low)),
        }[side]
        pen.line(*own, CROSS)
        pen.line(*theirs, JOIN)
        words = f"{tile.name}: join to {other.name}"
        cap = CAPS * 8.0 / MM
        places: dict[Side, tuple[float, float, float]] = {
            "left": (x0 - 1.4, middle[1], 90.0),
            "right": (x1 + 1.4 + cap, middle[1], 90.0),
            "below": (middle[0], y0 - 1.4 - cap, 0.0),
            "above": (middle[0], y1 + 1.4, 0.0),
        }
        x, y, angle = places[side]
        pen.text(x, y, words, size=8.0, colour=SLATE, anchor="middle", angle=angle)
    for point in plan.crosses(tile):
        x, y = plan.to_page(tile, point)
        pen.line(x - 3.0, y, x + 3.0, y, CROSS)
        pen.line(x, y - 3.0, x, y + 3.0, CROSS)


# Pages


@dataclass(frozen=True)
class _Page:
    """One page: its sheet, its header, what is between header and bars, and the plan of the
    drawing that is there, if one is."""

    sheet: Sheet
    header: _Header
    draw: Callable[[_Pen], None]
    plan: TilePlan | None = None


def _strips(header: _Header) -> Strips:
    return Strips(left=SIDE_STRIP + GAP, top=header.height + GAP, bottom=FOOT_STRIP + GAP)


def _content(sheet: Sheet, header: _Header) -> Box:
    """Return the part of a page that is free for text, mm."""
    return pages.frame(sheet, _strips(header))


def _pattern_pages(pattern: Pattern, options: PrintOptions, heading: str) -> list[_Page]:
    """Return the pages of one pattern: facts beside the drawing if one page holds both, else
    on a page before it."""

    def header(sheet: Sheet, **more: Any) -> _Header:
        kind = KINDS.get(pattern.kind, pattern.kind)
        return _Header(sheet.width - 2.0 * MARGIN, pattern.name, pattern.title, kind, heading, **more)

    extent = _extent(pattern)
    upright, turned = Sheet(options.paper), Sheet(options.paper, landscape=True)
    for sheet, below in ((upright, True), (turned, True), (turned, False), (upright, False)):
        page = _single_page(pattern, extent, sheet, header(sheet), options, below=below)
        if page is not None:
            return [page]

    bare = Reserved(_strips(header(upright)), _strips(header(turned)))
    plan = pages.plan(extent, options.paper, bare, options.stretch)
    if len(plan.tiles) > 1:
        mapped = Reserved(_strips(header(upright, tiled=True)), _strips(header(turned, tiled=True)))
        plan = pages.plan(extent, options.paper, mapped, options.stretch)
    tiled = len(plan.tiles) > 1
    art = _art(pattern, plan)
    facts = _facts_pages(pattern, plan, art, upright, header(upright, plan=plan if tiled else None, tiled=tiled))
    return facts + [
        _Page(
            plan.sheet,
            header(plan.sheet, plan=plan if tiled else None, tile=tile if tiled else None, tiled=tiled),
            partial(_draw_tile, art=art, plan=plan, tile=tile),
            plan,
        )
        for tile in plan.tiles
    ]


def _single_page(
    pattern: Pattern, extent: Box, sheet: Sheet, header: _Header, options: PrintOptions, *, below: bool
) -> _Page | None:
    """Return the page that holds drawing and block, the block below or at the right, or None."""
    strips = _strips(header)
    left, low, right, high = pages.frame(sheet, strips)
    sx, _ = sheet.turned(options.stretch)
    width = right - left if below else right - left - sx * (extent[2] - extent[0]) - 6.0
    if width < 55.0:
        return None
    block = _block(pattern, width)
    tall = _height(block)
    if tall > high - low:
        return None
    air = 4.0 if block else 0.0
    taken = replace(strips, bottom=strips.bottom + tall + air) if below else replace(strips, right=width + 6.0)
    if not pages.fits(extent, sheet, taken, options.stretch):
        return None
    plan = pages.place(extent, sheet, taken, options.stretch)
    art = _art(pattern, plan)

    def draw(pen: _Pen) -> None:
        _draw_tile(pen, art, plan, plan.tiles[0])
        if below and block:
            pen.line(left, low + tall + 1.8, right, low + tall + 1.8, RULE)
            _draw_items(pen, block, left, low + tall - 0.8)
        elif block:
            pen.line(right - width - 3.0, low, right - width - 3.0, high, RULE)
            _draw_items(pen, block, right - width, high)

    return _Page(sheet, header, draw, plan)


def _facts_pages(pattern: Pattern, plan: TilePlan, art: _Art, sheet: Sheet, header: _Header) -> list[_Page]:
    """Return the page or pages before a drawing that has no room for its facts."""
    left, low, right, high = _content(sheet, header)
    items = _block(pattern, right - left)
    return _flowed([*items, _space(3.0), *_overview(plan, art, right - left, high - low)], sheet, header)


def _flowed(items: Sequence[_Item], sheet: Sheet, header: _Header) -> list[_Page]:
    """Return pages that hold `items` in order."""
    left, low, _, high = _content(sheet, header)
    return [
        _Page(sheet, header, partial(_draw_items, items=column, x=left, top=high))
        for column in _split(items, high - low)
    ]


def _overview(plan: TilePlan, art: _Art, width: float, room: float) -> list[_Item]:
    """Return rows with the drawing reduced, and how its tiles go together if it has any, at most
    `room` mm high in all."""
    tiled = len(plan.tiles) > 1
    title = "How the tiles go together (reduced)" if tiled else "The drawing (reduced)"
    how = (
        f"{len(plan.tiles)} tiles, {plan.span}. Trim each along the solid line next to its words, lay it on "
        "its neighbour's dashed line so that the crosses meet both ways, and tape it. Measure across a join."
        if tiled
        else "True size on the next page."
    )
    head = [_heading_item(title, width), _text_item(_runs(0.0, wrapped(how, width)), 3.0)]
    windows = np.array([tile.window for tile in plan.tiles])
    low, size = windows[:, :2].min(axis=0), np.ptp(windows.reshape(-1, 2), axis=0)
    scale = float(min(width / size[0], min(110.0, room - _height(head)) / size[1]))

    def draw(pen: _Pen, x: float, top: float) -> None:
        origin = np.array([x, top - scale * size[1]])
        if tiled:
            for window in windows:
                x0, y0, x1, y1 = ((window.reshape(2, 2) - low) * scale + origin).ravel()
                pen.box((x0, y0, x1, y1), replace(RULE, width=0.1))
        _draw_reduced(pen, art.outlines, low, scale, origin)
        for name in _tile_names(plan, art, scale) if tiled else ():
            x0, y0 = (np.array(name.at) - low) * scale + origin
            size_pt = scale * _label_size(name)
            pen.text(x0, y0, name.text, font=BOLD, size=size_pt, colour=SLATE, anchor="middle")

    return [*head, _Item(scale * float(size[1]), draw)]


def _draw_reduced(
    pen: _Pen,
    outlines: Iterable[_Outline],
    low: NDArray[np.float64],
    scale: float,
    origin: NDArray[np.float64],
) -> None:
    """Draw `outlines` at `scale` with the drawing's point `low` at the page's `origin`, mm."""
    for outline in outlines:
        stroke = STROKES[outline.purpose]
        width = 0.25 if outline.purpose == "cut" else 0.1
        thin = _Stroke(width, stroke.colour, tuple(0.4 * length for length in stroke.dash))
        pen.path((outline.points - low) * scale + origin, thin, closed=outline.closed)


def _tile_names(plan: TilePlan, art: _Art, scale: float) -> Iterable[Label]:
    """Yield each tile's name where it is clear of the drawing's lines, for a view at `scale`."""
    import shapely

    lines = shapely.union_all(_bands(art.outlines, 1.0 / scale))
    for tile in plan.tiles:
        core = shapely.box(*plan.core(tile))
        name = Label("text", (0.0, 0.0), tile.name, 3.6 / scale, 0.0, "middle")
        yield _roomiest(shapely.difference(core, lines), name) or _roomiest(core, name) or name


# Index


def _index_pages(
    patterns: Sequence[Pattern], spans: Sequence[tuple[int, int]], options: PrintOptions, heading: str
) -> list[_Page]:
    """Return the first page, and more if the list is long. spans: first and last page of each."""
    sheet = Sheet(options.paper)
    header = _Header(sheet.width - 2.0 * MARGIN, "Templates", "True size, for paper", "", heading)
    left, _, right, _ = _content(sheet, header)
    width = right - left
    half = 0.5 * (width - 8.0)
    items = [
        _beside(
            [
                _heading_item("How to use them", half),
                *starmap(partial(_numbered, width=half), enumerate(HOW_TO, 1)),
            ],
            [_heading_item("How the lines read", half), *starmap(_key_item, LINE_KEY)],
            half + 8.0,
        ),
        _space(4.0),
        _heading_item("Cautions", width),
        *(_numbered(None, line, width) for line in CAUTIONS),
        _space(1.5),
        _text_item(_runs(0.0, wrapped(BAR_NAMES, width), BODY, SIZE, SLATE)),
        _space(4.0),
        _heading_item("The templates", width),
        *(_entry(pattern, span, width) for pattern, span in zip(patterns, spans, strict=True)),
    ]
    return _flowed(items, sheet, header)


def _numbered(number: int | None, line: str, width: float) -> _Item:
    mark = _Run(0.0, CAPS * SIZE / MM, "!" if number is None else f"{number}", BOLD, SIZE, SLATE)
    return _text_item([mark, *_runs(5.0, wrapped(line, width - 5.0))], 1.5)


def _key_item(name: str, text: str) -> _Item:
    """Return a sample of a kind of line and what it means."""
    inner = _text_item(_runs(24.0, [text]), 2.2)

    def draw(pen: _Pen, x: float, top: float) -> None:
        inner.draw(pen, x, top)
        y = top - 0.5 * CAPS * SIZE / MM
        box = (x, y - 1.7, x + 20.0, y + 1.7)
        if name == "drill":
            circle = Circle((x + 10.0, y), 1.2)
            pen.path(circle.points(TOLERANCE), STROKES[name], closed=True)
            pen.line(x + 8.0, y, x + 12.0, y, STROKES[name])
            pen.line(x + 10.0, y - 2.0, x + 10.0, y + 2.0, STROKES[name])
        elif name == "waste":
            for i in range(6):
                pen.line(x + 3.0 * i, box[1], x + 3.0 * i + 3.4, box[3], HATCH_STROKE)
        elif name == "tab":
            pen.box(box, STROKES[name], PALE)
        else:
            pen.line(x, y, x + 20.0, y, STROKES[name])

    return _Item(inner.height, draw)


def _entry(pattern: Pattern, span: tuple[int, int], width: float) -> _Item:
    """Return a pattern's row in the index."""
    first, last = span
    where = f"page {first}" if first == last else f"pages {first} to {last}"
    picture, name_wide, where_wide = 26.0, 42.0, 26.0
    title = f"{KINDS.get(pattern.kind, pattern.kind)}: {pattern.title}"
    inner = _text_item(
        [
            *_runs(picture, wrapped(pattern.name, name_wide - 3.0, BOLD), BOLD),
            *_runs(picture + name_wide, wrapped(title, width - picture - name_wide - where_wide)),
            *_runs(width - _width(where), [where], BODY, SIZE, SLATE),
        ],
        0.0,
    )
    outlines, (x0, y0, x1, y1) = _outlines(pattern), pattern.bounds()
    scale = min((picture - 4.0) / max(x1 - x0, 1e-9), 9.0 / max(y1 - y0, 1e-9))
    size = scale * np.array([x1 - x0, y1 - y0])
    height = max(inner.height, 9.0) + 3.0

    def draw(pen: _Pen, x: float, top: float) -> None:
        middle = top - 0.5 * (height - 3.0)
        corner = np.array([x + 0.5 * (picture - 4.0), middle]) - 0.5 * size
        _draw_reduced(pen, outlines, np.array([x0, y0]), scale, corner)
        inner.draw(pen, x, middle + 0.5 * inner.height)
        pen.line(x, top - height + 1.5, x + width, top - height + 1.5, replace(RULE, width=0.08))
        if first:
            area = (x * MM, (top - height) * MM, (x + width) * MM, top * MM)
            pen.canvas.linkAbsolute("", f"page{first}", area, Border="[0 0 0]")

    return _Item(height, draw)
