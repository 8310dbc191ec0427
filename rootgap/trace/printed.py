"""The calibration sheet on paper: its pages as one PDF."""

from __future__ import annotations

import io

from rootgap.patterns.printing import Paper
from rootgap.trace.sheet import FREE, PAGES, SIDE, cells, markers, middle
from rootgap.writers.sheets.bars import METRIC, draw_bar
from rootgap.writers.sheets.paper import PAPERS
from rootgap.writers.sheets.pen import GREY, INK, MM, QUIET, Pen, Stroke, Style
from rootgap.writers.sheets.text import wrapped

_TITLE = Style("Helvetica-Bold", 13.0)
_WORDS = Style(size=7.6)
_HOW = (
    "Print at actual size (100 %), never fit to page, and lay the page flat. Lay the gasket or plate flat in the "
    "middle, the side that faces the pipes up; no marker near it may be half covered. Photograph from straight above "
    "and from as far as the page still fills the picture: a thick part seen from near looks larger. All markers in "
    "the picture, no flash, sharp. Then: rootgap trace PHOTO.jpg --bar-x X --bar-y Y, with what the two bars measure "
    "on this page."
)
_LONGER = (
    "A longer part: print the next page too and lay the pages side by side, one edge over the other; they need not "
    "be square. The part may hide the markers between them, and each page must show six or more."
)


def sheet_pdf(paper: Paper) -> bytes:
    """Return the calibration sheet for `paper` as a PDF; the same bytes each time."""
    from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=tuple(side * MM for side in PAPERS[paper]), invariant=1, pageCompression=1)
    canvas.setTitle("Calibration sheet")
    canvas.setAuthor("rootgap")
    canvas.setCreator("rootgap")
    canvas.setViewerPreference("PrintScaling", "None")  # ISO 32000-1, table 150: no page scaling
    pen = Pen(canvas)
    for page in range(PAGES):
        _draw_page(pen, paper, page)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _draw_page(pen: Pen, paper: Paper, page: int) -> None:
    wide, high = PAPERS[paper]
    left, low, right, _ = FREE
    cell = SIDE / 7
    for marker in markers(paper, page):
        x, y = marker.at
        black = cells(marker.number)
        # One box a row of black cells, so that no hairline shows between neighbours.
        boxes = [
            [(x + i * cell, y + SIDE - (row + 1) * cell), (x + j * cell, y + SIDE - (row + 1) * cell),
             (x + j * cell, y + SIDE - row * cell), (x + i * cell, y + SIDE - row * cell)]
            for row in range(7)
            for i, j in _runs([bool(on) for on in black[row]])
        ]  # fmt: skip
        pen.paths(boxes, None, closed=True, fill=INK)
    draw_bar(pen, METRIC, "bar X", (left, 9.0), 1.0, upright=False)
    draw_bar(pen, METRIC, "bar Y", (12.0, low), 1.0, upright=True)
    x0, y0, x1, y1 = middle(paper)
    corner = 6.0
    for x, dx in ((x0, corner), (x1, -corner)):
        for y, dy in ((y0, corner), (y1, -corner)):
            pen.path([(x + dx, y), (x, y), (x, y + dy)], Stroke(0.1, GREY))
    up = high - 11.0
    title = f"Calibration sheet, {paper.upper() if paper == 'a4' else paper}, page {page + 1} of {PAGES}"
    pen.text(left, up - 1.0, title, _TITLE)
    for line in wrapped(f"{_HOW} {_LONGER}", wide - left - right, _WORDS):
        up -= _WORDS.leading
        pen.text(left, up - 2.4, line, _WORDS)
    pen.text(wide - right, 9.0, "this edge is below", QUIET, "right")


def _runs(row: list[bool]) -> list[tuple[int, int]]:
    """Return (first, one past the last) of each run of True.

    >>> _runs([True, True, False, True])
    [(0, 2), (3, 4)]
    """
    edges = [k for k in range(len(row) + 1) if (k < len(row) and row[k]) != (k > 0 and row[k - 1])]
    return list(zip(edges[::2], edges[1::2], strict=True))
