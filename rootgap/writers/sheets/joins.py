"""How a drawing's tiles go together: the marks at each join, and a reduced view of them all.

Terminology: see `paper`. Further:

    border     a window's side, to trim at; solid
    lay line   where the neighbour's border comes to lie; dashed
    cross      a registration mark at a corner of an overlap, the same on both tiles
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from rootgap.writers.sheets.art import Art, draw_reduced, tile_names
from rootgap.writers.sheets.labels import label_style
from rootgap.writers.sheets.paper import MARGIN, Box, Point, Side, Tile, TilePlan, overlap
from rootgap.writers.sheets.pen import RULE, SLATE, Pen, Stroke, Style
from rootgap.writers.sheets.text import Row, heading, paragraph, total

BORDER = Stroke(0.15, SLATE)
LAY_LINE = Stroke(0.12, SLATE, (1.2, 1.2))
WORDS = Style(size=8.0, colour=SLATE)
ARM = 3.0  # mm; of a cross
OFF = 1.4  # mm between a border and its words
VIEW_HEIGHT = 110.0  # mm; most that a reduced view takes of a page


def draw_joins(pen: Pen, plan: TilePlan, tile: Tile) -> None:
    """Draw the borders to trim and to lay on, their words, and the crosses."""
    x0, y0, x1, y1 = window = (*tile.origin, *plan.to_page(tile, tile.window[2:]))
    middle_x, middle_y = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
    words: dict[Side, tuple[float, float, float]] = {
        "left": (x0 - OFF, middle_y, 90.0),
        "right": (x1 + OFF + WORDS.caps, middle_y, 90.0),
        "below": (middle_x, y0 - OFF - WORDS.caps, 0.0),
        "above": (middle_x, y1 + OFF, 0.0),
    }
    for side, other in plan.neighbours(tile).items():
        a, b, c, d = overlap(tile.window, other.window)
        own, theirs = _sides(side, window, (*plan.to_page(tile, (a, b)), *plan.to_page(tile, (c, d))))
        pen.line(*own, BORDER)
        pen.line(*theirs, LAY_LINE)
        x, y, angle = words[side]
        pen.text(x, y, f"{tile.name}: join to {other.name}", WORDS, "middle", angle)
    for point in plan.crosses(tile):
        _draw_cross(pen, plan, plan.to_page(tile, point))


def _sides(side: Side, window: Box, shared: Box) -> tuple[Box, Box]:
    """Return the ends of the tile's own border on `side` and of its neighbour's, mm on the page."""
    x0, y0, x1, y1 = window
    left, low, right, high = shared
    ends: dict[Side, tuple[Box, Box]] = {
        "left": ((x0, y0, x0, y1), (right, y0, right, y1)),
        "right": ((x1, y0, x1, y1), (left, y0, left, y1)),
        "below": ((x0, y0, x1, y0), (x0, high, x1, high)),
        "above": ((x0, y1, x1, y1), (x0, low, x1, low)),
    }
    return ends[side]


def _draw_cross(pen: Pen, plan: TilePlan, at: Point) -> None:
    """Draw a cross with its arms no further than the margin."""
    x, y = at
    right, top = plan.sheet.width - MARGIN, plan.sheet.height - MARGIN
    pen.line(x - ARM, y, min(x + ARM, right), y, BORDER)
    pen.line(x, y - ARM, x, min(y + ARM, top), BORDER)


def overview(drawing: Art, plan: TilePlan, width: float, room: float) -> list[Row]:
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
    rows = [heading(title, width), paragraph(how, width, gap=3.0)]
    windows = np.array([tile.window for tile in plan.tiles])
    low, size = windows[:, :2].min(axis=0), np.ptp(windows.reshape(-1, 2), axis=0)
    scale = float(min(width / size[0], min(VIEW_HEIGHT, room - total(rows)) / size[1]))

    def draw(pen: Pen, x: float, top: float) -> None:
        origin = np.array([x, top - scale * size[1]])
        for window in windows if tiled else ():
            x0, y0, x1, y1 = ((window.reshape(2, 2) - low) * scale + origin).ravel()
            pen.box((x0, y0, x1, y1), replace(RULE, width=0.1))
        draw_reduced(pen, drawing, low, scale, origin)
        for name in tile_names(drawing, plan, scale) if tiled else ():
            at = (np.array(name.at) - low) * scale + origin
            style = label_style(replace(name, height=scale * name.height), SLATE)
            pen.text(at[0], at[1], name.text, style, "middle")

    return [*rows, Row(scale * float(size[1]), draw)]
