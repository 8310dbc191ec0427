"""A picture of a sheet with its parts: what is cut, what is scribed, and the order."""

from __future__ import annotations

import io
from collections.abc import Iterable

import numpy as np
from PIL import Image, ImageDraw

from rootgap.geometry.paths import Array, Circle, Path, Shape
from rootgap.patterns.cutting import outside
from rootgap.patterns.pattern import purpose
from rootgap.patterns.sheets import BADGE, CutSheet
from rootgap.patterns.strokes import strokes

#: Pixels across the sheet, and how many are drawn for each of them on the way.
WIDE, FINER = 1600, 2
#: Room round the sheet for its words, as a share of its width.
BORDER, FOOT = 0.015, 0.05
#: Height of the words under the sheet, as a share of the length that is shown.
WORDS = 0.011
#: So many times the length taken are shown, and of a long sheet at least so many widths; the line that the picture is
#: broken off by goes this share of the width to either side, so many times.
MORE, LEAST, BREAK, BREAKS = 1.2, 2.1, 0.01, 7

Colour = tuple[int, int, int]

PAPER: Colour = (255, 255, 255)
SHEET: Colour = (226, 228, 230)
TAKEN: Colour = (212, 215, 218)
METAL: Colour = (143, 164, 184)
CUT: Colour = (150, 32, 24)
SCRIBED: Colour = (24, 62, 108)
DRILLED: Colour = (122, 30, 122)
LEAD: Colour = (20, 120, 50)
INK: Colour = (30, 32, 34)
_LINES = {"cut": CUT, "etch": SCRIBED, "mark": SCRIBED, "drill": DRILLED, "lead": LEAD}


class _Board:
    """A picture in the sheet's own mm, y up."""

    def __init__(self, length: float, width: float) -> None:
        self.scale = FINER * WIDE / (length * (1.0 + 2.0 * BORDER))
        self.left, self.top = BORDER * length, BORDER * length + width
        high = int(self.scale * (width + (2.0 * BORDER + FOOT) * length))
        self.image = Image.new("RGB", (FINER * WIDE, high), PAPER)
        self.draw = ImageDraw.Draw(self.image)

    def at(self, points: Array) -> list[tuple[float, float]]:
        """Return points, (n, 2), mm, in pixels."""
        x, y = self.scale * (points[:, 0] + self.left), self.scale * (self.top - points[:, 1])
        return list(zip(np.round(x, 2).tolist(), np.round(y, 2).tolist(), strict=True))

    def fill(self, shape: Shape, colour: Colour) -> None:
        """Fill a closed shape."""
        self.draw.polygon(self.at(shape.points(0.5 / self.scale)), fill=colour)

    def line(self, shape: Shape, colour: Colour, pixels: float) -> None:
        """Draw a shape's line."""
        points = shape.points(0.5 / self.scale)
        if isinstance(shape, Circle) or shape.closed:
            points = np.vstack([points, points[:1]])
        self.draw.line(self.at(points), fill=colour, width=round(FINER * pixels), joint="curve")

    def lines(self, paths: Iterable[Path], colour: Colour, pixels: float) -> None:
        """Draw several paths."""
        for path in paths:
            self.line(path, colour, pixels)

    def png(self) -> bytes:
        """Return the picture's file."""
        stream = io.BytesIO()
        size = self.image.width // FINER, self.image.height // FINER
        self.image.resize(size, Image.Resampling.LANCZOS).save(stream, "PNG", optimize=False)
        return stream.getvalue()


def sheet_picture(sheet: CutSheet) -> bytes:
    """Return the picture of `sheet` as a PNG; the same sheet gives the same bytes."""
    length, width = sheet.spec.size
    shown = min(length, max(MORE * sheet.length, LEAST * width))
    board = _Board(shown, width)
    board.fill(_box(shown, width), SHEET)
    board.fill(_box(sheet.length, width), TAKEN)
    contours = [item for part in sheet.parts for item in part.pattern.drawn if purpose(item.layer) == "cut"]
    # A part that lies in another's opening comes after that opening.
    for item in sorted(contours, key=lambda item: -abs(item.shape.area)):
        board.fill(item.shape, METAL if outside(item.layer) else TAKEN)
    for item in (item for part in sheet.parts for item in part.pattern.drawn):
        board.line(item.shape, _LINES[purpose(item.layer)], 1.4 if purpose(item.layer) == "cut" else 1.0)
    board.line(_rim(shown, length, width), INK, 1.5)
    for label in sheet.pattern.labels:
        badge = Circle((label.at[0], label.at[1] + 0.5 * label.height), BADGE * label.height)
        board.fill(badge, PAPER)
        board.line(badge, INK, 1.0)
        board.lines(strokes(label.text, label.at, label.height, anchor=label.anchor), INK, 1.4)
    high = WORDS * shown
    taken = f"{100 * sheet.use:.0f} % of the length taken ({sheet.length:.0f} mm)"
    told = (
        f"{sheet.pattern.title}, {length:g} x {width:g} mm",
        f"{taken}, {100 * sheet.use * sheet.length / length:.0f} % of the sheet, {len(sheet.parts)} parts",
    )
    for row, words in enumerate(told):
        board.lines(strokes(words, (0.0, -(2.2 + 1.9 * row) * high), high), INK, 1.6)
    return board.png()


def _rim(shown: float, length: float, width: float) -> Path:
    """Return the sheet's edge, broken off where the picture ends before the sheet."""
    ends = [(shown, 0.0)]
    if shown < length:
        ends = [(shown + width * BREAK * (side % 2 - 0.5), width * side / BREAKS) for side in range(BREAKS, -1, -1)]
    return Path.through([*ends, (0.0, 0.0), (0.0, width), *([(shown, width)] if shown == length else [])], closed=True)


def _box(length: float, width: float) -> Path:
    return Path.through([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)], closed=True)
