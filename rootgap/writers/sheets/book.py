"""A print as one PDF: the index, then every pattern's pages, each with its head and its bars."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, pairwise
from pathlib import Path

from reportlab import rl_config

from rootgap.errors import WriteError
from rootgap.kept import Kept, fingerprint
from rootgap.patterns.pattern import Pattern
from rootgap.patterns.printing import PrintSetup
from rootgap.writers.sheets.art import Art, art
from rootgap.writers.sheets.bars import draw_bars
from rootgap.writers.sheets.index import index_pages
from rootgap.writers.sheets.pages import Page, pattern_pages
from rootgap.writers.sheets.paper import PAPERS, Sheet, TilePlan
from rootgap.writers.sheets.pen import MM, Pen, canvas_on, drawn


def write_templates(patterns: Sequence[Pattern], path: Path, options: PrintSetup, heading: str) -> None:
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


def layout_on_paper(pattern: Pattern, options: PrintSetup, heading: str) -> TilePlan:
    """Return where `write_templates` puts the pattern's drawing: its last pages, one a tile.

    Raises: ValueError for a pattern in which nothing is drawn.
    """
    plans = [page.plan for page in pattern_pages(art(pattern), options, heading)]
    return next(plan for plan in reversed(plans) if plan is not None)


def templates(patterns: Sequence[Pattern], options: PrintSetup, heading: str) -> bytes:
    """Return the PDF that `write_templates` writes."""
    made = [_made(pattern, options, heading) for pattern in patterns]
    drawings, groups = [one.drawing for one in made], [one.pages for one in made]
    # The index names page numbers that depend on how long the index is; its length does not
    # depend on the numbers.
    lead = len(index_pages(drawings, [(0, 0)] * len(groups), options, heading))
    ends = list(accumulate((len(group) for group in groups), initial=lead))
    spans = [(before + 1, end) for before, end in pairwise(ends)]
    pages = [*index_pages(drawings, spans, options, heading), *(page for group in groups for page in group)]
    outline = {first: pattern.name for (first, _), pattern in zip(spans, patterns, strict=True)}
    return _printed(pages, outline, options, heading)


@dataclass(frozen=True, eq=False)
class _Laid:
    """A pattern's drawing and its pages."""

    drawing: Art
    pages: Sequence[Page]


#: Patterns laid out on pages: enough for a few manifolds.
LAID: Kept[_Laid] = Kept(1000)


def _made(pattern: Pattern, options: PrintSetup, heading: str) -> _Laid:
    """Return a pattern laid out on its pages, once for the same pattern and options."""

    def make() -> _Laid:
        drawing = art(pattern)
        return _Laid(drawing, pattern_pages(drawing, options, heading))

    return LAID.get(fingerprint(pattern, options, PAPERS[options.paper], heading), make)


def _printed(pages: Sequence[Page], outline: dict[int, str], options: PrintSetup, heading: str) -> bytes:
    """Return the PDF of `pages`. outline: names of the pages that the viewer's outline leads to."""
    out = io.BytesIO()
    with _binary_streams():
        canvas = canvas_on(out)
        canvas.setTitle(heading)
        canvas.setAuthor("rootgap")
        canvas.setSubject("True-size templates")
        canvas.setCreator("rootgap")
        canvas.setViewerPreference("PrintScaling", "None")  # ISO 32000-1, table 150: no page scaling
        pen = Pen(canvas)
        for number, page in enumerate(pages, start=1):
            sheet = page.header.sheet
            canvas.setPageSize((sheet.width * MM, sheet.height * MM))
            canvas.bookmarkPage(f"page{number}")
            if number in outline:
                canvas.addOutlineEntry(outline[number], f"page{number}")
            pen.again(_bars(sheet, options, page.header.height))
            page.header.draw(pen, f"page {number} of {len(pages)}")
            pen.again(page.between)
            canvas.showPage()
        canvas.save()
    return out.getvalue()


@lru_cache(maxsize=64)
def _bars(sheet: Sheet, options: PrintSetup, header: float) -> str:
    """Return the bars of a sheet under a header of `header` mm, as PDF operators."""
    return drawn(lambda pen: draw_bars(pen, sheet, options, header))


@contextmanager
def _binary_streams() -> Iterator[None]:
    """Have pages written as bytes and not, as by reportlab's default, as a quarter more ASCII text,
    which takes its time."""
    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before
