"""Where a true-size drawing goes on paper: sheets, reserved strips and tiles, as data.

Terminology:

    sheet      one piece of paper, upright (portrait) or turned (landscape), with a margin
    strip      a band inside the margin that is kept for bars and text
    frame      what margin and strips leave: the drawing goes there
    window     the part of the drawing, in its own coordinates, that one tile shows
    stretch    drawn length over true length, (across, along) the paper: across is its short
               side, along its long side. It follows the paper and not the drawing, because
               a printer is wrong along its feed and across it, however the page is turned
    overlap    what two neighbouring tiles both show
    gutter     the band outside a window that holds the words at a join
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil
from typing import Literal

from rootgap.patterns.printing import Paper

Point = tuple[float, float]
Box = tuple[float, float, float, float]
Side = Literal["left", "right", "above", "below"]

# Upright width and height, mm. Source: ISO 216 (A4); ANSI/ASME Y14.1 size A, 8.5 x 11 in.
PAPERS: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}

MARGIN = 10.0  # mm; what home and office printers reach everywhere; common practice, no source
OVERLAP = 10.0  # mm
GUTTER = 5.0  # mm
RIM = 3.0  # mm of air round a tiled drawing, so that its outline never lies on a window's border

# A length may exceed its frame by this much, mm, and still count as fitting: it is round-off.
_SLACK = 1e-9


@dataclass(frozen=True)
class Sheet:
    """A piece of paper, upright or turned."""

    paper: Paper
    landscape: bool = False

    @property
    def width(self) -> float:
        """Horizontal size, mm."""
        return PAPERS[self.paper][1 if self.landscape else 0]

    @property
    def height(self) -> float:
        """Vertical size, mm."""
        return PAPERS[self.paper][0 if self.landscape else 1]

    def turned(self, across_along: Point) -> Point:
        """Return a pair, mm, given (across, along) the paper as (horizontal, vertical) on this page."""
        across, along = across_along
        return (along, across) if self.landscape else (across, along)


@dataclass(frozen=True)
class Strips:
    """Bands kept free of the drawing inside the margins, mm."""

    left: float = 0.0
    right: float = 0.0
    top: float = 0.0
    bottom: float = 0.0


@dataclass(frozen=True)
class Reserved:
    """The strips of an upright and of a turned page."""

    portrait: Strips
    landscape: Strips

    def on(self, sheet: Sheet) -> Strips:
        """Return the strips of `sheet`."""
        return self.landscape if sheet.landscape else self.portrait


@dataclass(frozen=True)
class Tile:
    """One page's share of a drawing.

    row, column: from 0, row 0 on top; window: what it shows, mm in the drawing; origin: where
    the window's lower left corner lies on the page, mm from the page's lower left corner.
    """

    row: int
    column: int
    window: Box
    origin: Point

    @property
    def name(self) -> str:
        """The row's letter and the column's number, "B2"."""
        return tile_name(self.row, self.column)


@dataclass(frozen=True)
class TilePlan:
    """A drawing spread over one or more pages. stretch: (horizontal, vertical) on the page."""

    sheet: Sheet
    stretch: Point
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    @property
    def span(self) -> str:
        """First and last tile, "A1..B4"."""
        return f"{self.tiles[0].name}..{self.tiles[-1].name}"

    def at(self, row: int, column: int) -> Tile:
        """Return the tile in `row` and `column`."""
        return self.tiles[row * self.columns + column]

    def neighbours(self, tile: Tile) -> dict[Side, Tile]:
        """Return the tiles that share an overlap with `tile`, by the side they lie on."""
        steps: dict[Side, tuple[int, int]] = {
            "left": (0, -1),
            "right": (0, 1),
            "above": (-1, 0),
            "below": (1, 0),
        }
        return {
            side: self.at(tile.row + down, tile.column + right)
            for side, (down, right) in steps.items()
            if 0 <= tile.row + down < self.rows and 0 <= tile.column + right < self.columns
        }

    def crosses(self, tile: Tile) -> tuple[Point, ...]:
        """Return the registration points of `tile`, mm in the drawing: the corners of every
        overlap that it shares. Both tiles of an overlap get the same four."""
        return tuple(
            sorted(
                {
                    (x, y)
                    for other in self.neighbours(tile).values()
                    for x0, y0, x1, y1 in [overlap(tile.window, other.window)]
                    for x in (x0, x1)
                    for y in (y0, y1)
                }
            )
        )

    def core(self, tile: Tile) -> Box:
        """Return what only `tile` shows, mm in the drawing: its window less every overlap."""
        x0, y0, x1, y1 = tile.window
        beside = self.neighbours(tile)
        return (
            beside["left"].window[2] if "left" in beside else x0,
            beside["below"].window[3] if "below" in beside else y0,
            beside["right"].window[0] if "right" in beside else x1,
            beside["above"].window[1] if "above" in beside else y1,
        )

    def to_page(self, tile: Tile, point: Point) -> Point:
        """Return where `point`, mm in the drawing, lies on the tile's page, mm."""
        return (
            tile.origin[0] + self.stretch[0] * (point[0] - tile.window[0]),
            tile.origin[1] + self.stretch[1] * (point[1] - tile.window[1]),
        )


def tile_name(row: int, column: int) -> str:
    """Return the row's letter(s) and the column's number.

    >>> tile_name(1, 1), tile_name(26, 0)
    ('B2', 'AA1')
    """
    letters = ""
    index = row + 1
    while index:
        index, letter = divmod(index - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{column + 1}"


def overlap(a: Box, b: Box) -> Box:
    """Return the box that `a` and `b` share, mm."""
    return max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3])


def frame(sheet: Sheet, strips: Strips) -> Box:
    """Return the part of the page that is left for the drawing, mm on the page."""
    return (
        MARGIN + strips.left,
        MARGIN + strips.bottom,
        sheet.width - MARGIN - strips.right,
        sheet.height - MARGIN - strips.top,
    )


def fits(bounds: Box, sheet: Sheet, strips: Strips, stretch: Point = (1.0, 1.0)) -> bool:
    """Return whether a drawing of `bounds`, mm, goes on one `sheet`.

    stretch: (across, along) the paper, no unit.
    """
    x0, y0, x1, y1 = frame(sheet, strips)
    sx, sy = sheet.turned(stretch)
    wide, high = bounds[2] - bounds[0], bounds[3] - bounds[1]
    return sx * wide <= x1 - x0 + _SLACK and sy * high <= y1 - y0 + _SLACK


def plan(bounds: Box, paper: Paper, reserved: Reserved, stretch: Point = (1.0, 1.0)) -> TilePlan:
    """Return how a drawing of `bounds`, mm, is spread over pages of `paper`.

    One page if either orientation holds it, upright first; else the orientation with the
    fewest tiles. Tiles are of equal size, overlap by OVERLAP and are centred in their frames.
    stretch: (across, along) the paper, no unit.

    Raises: ValueError if the strips leave no room for a tile.

    >>> tall = Strips(left=14, top=15, bottom=13)
    >>> one = plan((0, 0, 150, 90), "a4", Reserved(tall, tall))
    >>> one.sheet.landscape, one.rows, one.columns
    (False, 1, 1)
    >>> plan((0, 0, 520, 229), "a4", Reserved(tall, tall)).span
    'A1..A4'
    """
    sheets = [Sheet(paper, landscape) for landscape in (False, True)]
    for sheet in sheets:
        if fits(bounds, sheet, reserved.on(sheet), stretch):
            return _tiled(bounds, sheet, reserved.on(sheet), stretch)
    plans = [_tiled(bounds, sheet, reserved.on(sheet), stretch) for sheet in sheets]
    return min(plans, key=lambda candidate: len(candidate.tiles))


def place(bounds: Box, sheet: Sheet, strips: Strips, stretch: Point = (1.0, 1.0)) -> TilePlan:
    """Return the plan of a drawing that `fits` on one given sheet, mm.

    Raises: ValueError if it does not fit.
    """
    if not fits(bounds, sheet, strips, stretch):
        raise ValueError(f"{bounds} does not fit on {sheet} with {strips}")
    return _tiled(bounds, sheet, strips, stretch)


def _tiled(bounds: Box, sheet: Sheet, strips: Strips, stretch: Point) -> TilePlan:
    left, low, right, high = frame(sheet, strips)
    sx, sy = sheet.turned(stretch)
    one = fits(bounds, sheet, strips, stretch)
    across = list(_windows(bounds[0], bounds[2], (right - left) / sx, sx, one=one))
    up = list(_windows(bounds[1], bounds[3], (high - low) / sy, sy, one=one))[::-1]
    tiles = []
    for row, (y0, y1) in enumerate(up):
        for column, (x0, x1) in enumerate(across):
            origin = (0.5 * (left + right - sx * (x1 - x0)), 0.5 * (low + high - sy * (y1 - y0)))
            tiles.append(Tile(row, column, (x0, y0, x1, y1), origin))
    return TilePlan(sheet, (sx, sy), len(up), len(across), tuple(tiles))


def _windows(low: float, high: float, room: float, scale: float, *, one: bool) -> Iterator[tuple[float, float]]:
    """Yield (least, largest) of each window along one axis, mm. room: of the frame, true mm;
    scale: the stretch along this axis; one: whether the drawing is on a single page."""
    length = high - low
    if one:
        yield low, high
        return
    if length <= room + _SLACK:
        rim = min(RIM, 0.5 * max(0.0, room - length))
        yield low - rim, high + rim
        return
    usable = room - 2.0 * GUTTER / scale
    if usable <= OVERLAP:
        raise ValueError(f"the strips leave {room:.1f} mm for a tile; allowed: more than overlap and gutters")
    low, length = low - RIM, length + 2.0 * RIM
    count = max(2, ceil((length - OVERLAP) / (usable - OVERLAP) - _SLACK))
    size = (length + (count - 1) * OVERLAP) / count
    for i in range(count):
        # Rounded, so that two tiles give one corner the very same number.
        yield round(low + i * (size - OVERLAP), 6), round(low + i * (size - OVERLAP) + size, 6)
