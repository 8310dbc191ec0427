"""The first page of a print: how to use the templates, what their lines mean, and where each is.

Terminology:

    key        a sample of each kind of line with its meaning
    span       the first and last page of one pattern
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rootgap.geometry.paths import Circle
from rootgap.patterns.pattern import kind_text
from rootgap.patterns.printing import PrintSetup
from rootgap.writers.sheets import paper
from rootgap.writers.sheets.art import DRILL_ARM, Art, draw_reduced
from rootgap.writers.sheets.bars import strips
from rootgap.writers.sheets.header import Header
from rootgap.writers.sheets.pages import Page, flowed
from rootgap.writers.sheets.paper import Sheet
from rootgap.writers.sheets.pen import BOLD, HATCHING, MM, PALE, PLAIN, QUIET, RULE, STROKES, Pen
from rootgap.writers.sheets.text import (
    Row,
    beside,
    depth,
    draw_runs,
    heading,
    marked,
    paragraph,
    runs,
    space,
    wrapped,
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

LINE_KEY = (
    ("cut", "cut to this line"),
    ("inside", "where a hole's edge comes out at the bore"),
    ("edge", "edge of the paper: datum, seam"),
    ("mark", "transfer: clocks, match marks, bends"),
    ("drill", "centre punch and drill"),
    ("tab", "overlap under the seam: stays on the paper"),
    ("waste", "waste: falls away"),
)

PICTURE = (22.0, 9.0)  # mm; the most a pattern's picture takes
NAME_AT, TITLE_AT, PAGE_WIDE = 26.0, 68.0, 26.0  # mm; the columns of the list
SAMPLE = 20.0  # mm; length of a sample in the key


def index_pages(
    drawings: Sequence[Art], spans: Sequence[tuple[int, int]], options: PrintSetup, title: str
) -> list[Page]:
    """Return the first page, and more if the list is long. title: the project's."""
    head = Header(Sheet(options.paper), "Templates", "True size, for paper", "", title)
    left, _, right, _ = paper.frame(head.sheet, strips(head.height))
    width, half = right - left, 0.5 * (right - left - 8.0)
    how_to = [marked(f"{i}", line, half, 5.0) for i, line in enumerate(HOW_TO, 1)]
    key = [_key_row(name, meaning) for name, meaning in LINE_KEY]
    rows = [
        beside([heading("How to use them", half), *how_to], [heading("How the lines read", half), *key], half + 8.0),
        space(4.0),
        heading("Cautions", width),
        *(marked("!", line, width, 5.0) for line in CAUTIONS),
        space(1.5),
        paragraph(BAR_NAMES, width, QUIET),
        space(4.0),
        heading("The templates", width),
        *(_entry(drawing, span, width) for drawing, span in zip(drawings, spans, strict=True)),
    ]
    return flowed(rows, head)


def _key_row(name: str, meaning: str) -> Row:
    words = runs(SAMPLE + 4.0, [meaning])

    def draw(pen: Pen, x: float, top: float) -> None:
        draw_runs(pen, words, x, top)
        _draw_sample(pen, name, x, top - 0.5 * PLAIN.caps)

    return Row(depth(words) + 2.2, draw)


def _draw_sample(pen: Pen, name: str, x: float, y: float) -> None:
    """Draw a sample of a kind of line to the right of (x, y), mm."""
    if name == "drill":
        middle, radius = x + 0.5 * SAMPLE, 1.2
        arm = radius + 0.5 * DRILL_ARM
        pen.path(Circle((middle, y), radius).points(0.01), STROKES[name], closed=True)
        pen.line(middle - arm, y, middle + arm, y, STROKES[name])
        pen.line(middle, y - arm, middle, y + arm, STROKES[name])
    elif name == "waste":
        pen.paths([[(x + 3.0 * i, y - 1.7), (x + 3.0 * i + 3.4, y + 1.7)] for i in range(6)], HATCHING)
    elif name == "tab":
        pen.box((x, y - 1.7, x + SAMPLE, y + 1.7), STROKES[name], PALE)
    else:
        pen.line(x, y, x + SAMPLE, y, STROKES[name])


def _entry(drawing: Art, span: tuple[int, int], width: float) -> Row:
    """Return a pattern's row in the list: picture, name and kind, title, pages."""
    pattern, (first, last) = drawing.pattern, span
    where = f"page {first}" if first == last else f"pages {first} to {last}"
    name = runs(NAME_AT, wrapped(pattern.name, TITLE_AT - NAME_AT - 3.0, BOLD), BOLD)
    words = [
        *name,
        *runs(NAME_AT, [kind_text(pattern)], QUIET, top=depth(name) + 0.6),
        *runs(TITLE_AT, wrapped(pattern.title, width - TITLE_AT - PAGE_WIDE)),
        *runs(width, [where], QUIET, "right"),
    ]
    size = np.maximum(drawing.size, 1e-9)
    scale = float(np.min(np.array(PICTURE) / size))
    height = max(depth(words), PICTURE[1]) + 3.0

    def draw(pen: Pen, x: float, top: float) -> None:
        middle = top - 0.5 * (height - 3.0)
        corner = np.array([x + 0.5 * PICTURE[0], middle]) - 0.5 * scale * size
        draw_reduced(pen, drawing, np.array(drawing.extent[:2]), scale, corner)
        draw_runs(pen, words, x, middle + 0.5 * depth(words))
        pen.line(x, top - height + 1.5, x + width, top - height + 1.5, replace(RULE, width=0.08))
        if first:
            area = (x * MM, (top - height) * MM, (x + width) * MM, top * MM)
            pen.canvas.linkAbsolute("", f"page{first}", area, Border="[0 0 0]")

    return Row(height, draw)
