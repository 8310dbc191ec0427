"""A pattern's pages: one sheet with drawing and facts, or facts first and then a page a tile.

Terminology: see `paper`. Further:

    facts      a pattern's notes and facts as rows
    air        the clear height between a head, a drawing and its facts
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

from rootgap.patterns.pattern import kind_text
from rootgap.patterns.printing import PrintSetup
from rootgap.writers.sheets import paper
from rootgap.writers.sheets.art import Art, draw_tile, lettering
from rootgap.writers.sheets.bars import strips
from rootgap.writers.sheets.header import Header
from rootgap.writers.sheets.joins import draw_joins, overview
from rootgap.writers.sheets.paper import Reserved, Sheet, TilePlan
from rootgap.writers.sheets.pen import RULE, Pen, drawn
from rootgap.writers.sheets.text import Row, columns, draw_rows, facts_rows, space, total

AIR = 12.0  # mm
LEAST_AIR = 2.0  # mm
GUTTER = 6.0  # mm between a drawing and the facts at its right
NARROWEST = 55.0  # mm that facts take


@dataclass(frozen=True)
class Page:
    """One page: its head, how to draw what is between head and bars, and the plan of the true-size
    drawing that is there, if one is."""

    header: Header
    draw: Callable[[Pen], None]
    plan: TilePlan | None = None

    @cached_property
    def between(self) -> str:
        """What is between head and bars, as PDF operators."""
        return drawn(self.draw)


def pattern_pages(drawing: Art, options: PrintSetup, heading: str) -> list[Page]:
    """Return the pages of one pattern: facts with the drawing if one page holds both, else on a
    page before it."""
    pattern = drawing.pattern

    def header(sheet: Sheet) -> Header:
        return Header(sheet, pattern.name, pattern.title, kind_text(pattern), heading)

    upright, turned = header(Sheet(options.paper)), header(Sheet(options.paper, landscape=True))
    for head, below in ((upright, True), (turned, True), (turned, False), (upright, False)):
        page = _single_page(drawing, head, options, below=below)
        if page is not None:
            return [page]

    plan = _plan(drawing, upright, turned, options)
    if len(plan.tiles) > 1:
        upright, turned = replace(upright, tiled=True), replace(turned, tiled=True)
        plan = _plan(drawing, upright, turned, options)
        upright, turned = replace(upright, plan=plan), replace(turned, plan=plan)
    letters = lettering(drawing, plan)
    head = turned if plan.sheet.landscape else upright

    def draw(pen: Pen, tile: paper.Tile) -> None:
        draw_tile(pen, drawing, letters, plan, tile)
        draw_joins(pen, plan, tile)

    return [
        *_facts_pages(drawing, plan, upright),
        *(Page(replace(head, tile=tile), partial(draw, tile=tile), plan) for tile in plan.tiles),
    ]


def _plan(drawing: Art, upright: Header, turned: Header, options: PrintSetup) -> TilePlan:
    reserved = Reserved(strips(upright.height), strips(turned.height))
    return paper.plan(drawing.extent, options.paper, reserved, options.stretch)


def _single_page(drawing: Art, head: Header, options: PrintSetup, *, below: bool) -> Page | None:
    """Return the page that holds drawing and facts, the facts below or at the right, or None."""
    free = strips(head.height)
    left, low, right, high = paper.frame(head.sheet, free)
    wide, tall = drawing.size * head.sheet.turned(options.stretch)
    width = right - left if below else right - left - wide - GUTTER
    if width < NARROWEST:
        return None
    rows = facts_rows(drawing.pattern.notes, drawing.pattern.facts, width)
    facts = total(rows)
    spare = high - low - (tall + facts if below else max(tall, facts))
    if spare < (2.0 * LEAST_AIR if below and rows else 0.0) or tall > high - low:
        return None
    # The drawing lies at the top, with as much air as there is, its facts follow.
    air = min(AIR, 0.5 * (high - low - tall - (facts if below else 0.0)))
    foot = high - tall - 2.0 * air
    taken = replace(free, bottom=free.bottom + foot - low, right=0.0 if below else width + GUTTER)
    if not paper.fits(drawing.extent, head.sheet, taken, options.stretch):
        return None
    plan = paper.place(drawing.extent, head.sheet, taken, options.stretch)
    letters = lettering(drawing, plan)

    def draw(pen: Pen) -> None:
        draw_tile(pen, drawing, letters, plan, plan.tiles[0])
        if rows and below:
            pen.line(left, foot, right, foot, RULE)
            draw_rows(pen, rows, left, foot - LEAST_AIR)
        elif rows:
            x = right - width - 0.5 * GUTTER
            pen.line(x, low, x, high, RULE)
            draw_rows(pen, rows, right - width, high)

    return Page(head, draw, plan)


def _facts_pages(drawing: Art, plan: TilePlan, head: Header) -> list[Page]:
    """Return the page or pages before a drawing that has no room for its facts."""
    left, low, right, high = paper.frame(head.sheet, strips(head.height))
    rows = facts_rows(drawing.pattern.notes, drawing.pattern.facts, right - left)
    return flowed([*rows, space(3.0), *overview(drawing, plan, right - left, high - low)], head)


def flowed(rows: Sequence[Row], head: Header) -> list[Page]:
    """Return pages that hold `rows` in order."""
    left, low, _, high = paper.frame(head.sheet, strips(head.height))
    return [Page(head, partial(draw_rows, rows=column, x=left, top=high)) for column in columns(rows, high - low)]
