"""The head of every page: what it shows on the left, project and page on the right.

Terminology:

    head       name and title of a pattern, project, page number, tile, and a rule below
    key map    a small picture of a drawing's tiles with this page's one filled
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

from rootgap.writers.sheets.paper import MARGIN, Box, Sheet, Tile, TilePlan
from rootgap.writers.sheets.pen import BOLD, HEAVY_RULE, QUIET, RULE, SLATE, Pen, Style
from rootgap.writers.sheets.text import Run, depth, draw_runs, runs, wrapped

NAME = Style("Helvetica-Bold", 16.0)
TITLE = Style(size=9.0)


@dataclass(frozen=True)
class Header:
    """A page's head. kind: what the page is, before its number; heading: the project's title;
    plan, tile: how the drawing is tiled and which tile this page is, if any; tiled: whether room
    for the key map is kept, known before there is a plan."""

    sheet: Sheet
    name: str
    title: str
    kind: str
    heading: str
    tiled: bool = False
    plan: TilePlan | None = None
    tile: Tile | None = None

    MAP: ClassVar[tuple[float, float]] = (26.0, 11.0)  # mm; the key map's most width and height

    @property
    def width(self) -> float:
        """Between the margins, mm."""
        return self.sheet.width - 2.0 * MARGIN

    @property
    def _edge(self) -> float:
        """Where the right block ends."""
        return self.width - (self.MAP[0] + 3.0 if self.tiled else 0.0)

    @cached_property
    def _heading(self) -> list[str]:
        """The project's title on one line if it takes no more than half of the head."""
        return wrapped(self.heading, 0.5 * self._edge, BOLD)

    @cached_property
    def _left(self) -> list[Run]:
        taken = max((BOLD.width(line) for line in self._heading), default=0.0)
        room = self._edge - max(taken, 40.0) - 4.0
        name = runs(0.0, wrapped(self.name, room, NAME), NAME)
        return [*name, *runs(0.0, wrapped(self.title, room, TITLE), TITLE, top=depth(name) + 1.3)]

    def _right(self, number: str) -> list[Run]:
        lines = [(line, BOLD) for line in self._heading]
        lines.append((f"{self.kind}, {number}" if self.kind else number, QUIET))
        if self.tiled:
            lines.append((f"tile {self.tile.name} of {self.plan.span}" if self.tile and self.plan else "facts", BOLD))
        return [
            Run(self._edge, BOLD.caps + i * BOLD.leading, line, style, "right") for i, (line, style) in enumerate(lines)
        ]

    @cached_property
    def height(self) -> float:
        """Height with the rule below it, mm."""
        return max(depth([*self._left, *self._right("page")]), self.MAP[1] if self.tiled else 0.0) + 2.2

    def draw(self, pen: Pen, number: str) -> None:
        """Draw at the top of the sheet. number: "page 3 of 9"."""
        x, top = MARGIN, self.sheet.height - MARGIN
        draw_runs(pen, [*self._left, *self._right(number)], x, top)
        if self.plan is not None:
            right = x + self.width
            _draw_key_map(pen, self.plan, self.tile, (right - self.MAP[0], top - self.MAP[1], right, top))
        foot = top - self.height + 0.3
        pen.line(x, foot, x + self.width, foot, HEAVY_RULE)


def _draw_key_map(pen: Pen, plan: TilePlan, here: Tile | None, box: Box) -> None:
    """Draw the tiles as cells in the upper right of `box`, mm, with `here` filled."""
    x0, y0, x1, y1 = plan.tiles[0].window
    aspect = (plan.stretch[0] * (x1 - x0)) / (plan.stretch[1] * (y1 - y0))
    high = min((box[3] - box[1]) / plan.rows, (box[2] - box[0]) / (plan.columns * aspect))
    wide = high * aspect
    left = box[2] - plan.columns * wide
    for tile in plan.tiles:
        x, y = left + tile.column * wide, box[3] - tile.row * high
        pen.box((x, y - high, x + wide, y), RULE, SLATE if tile == here else None)
