"""A picture in mm, y up, of filled shapes, lines and words."""

from __future__ import annotations

import io
from collections.abc import Iterable

import numpy as np
from PIL import Image, ImageDraw

from rootgap.geometry.paths import Array, Circle, Path, Shape
from rootgap.patterns.strokes import strokes

#: How many pixels are drawn for each one of the picture on the way.
FINER = 2

Colour = tuple[int, int, int]

PAPER: Colour = (255, 255, 255)
INK: Colour = (30, 32, 34)


class Board:
    """A picture of the rectangle from `low` to `high`, mm, `wide` pixels across."""

    def __init__(self, low: tuple[float, float], high: tuple[float, float], wide: int) -> None:
        """Start with an empty sheet of paper."""
        self.scale = FINER * wide / (high[0] - low[0])
        self.left, self.top = low[0], high[1]
        self.image = Image.new("RGB", (FINER * wide, int(self.scale * (high[1] - low[1]))), PAPER)
        self.draw = ImageDraw.Draw(self.image)

    def at(self, points: Array) -> list[tuple[float, float]]:
        """Return points, (n, 2), mm, in pixels."""
        x, y = self.scale * (points[:, 0] - self.left), self.scale * (self.top - points[:, 1])
        return list(zip(np.round(x, 2).tolist(), np.round(y, 2).tolist(), strict=True))

    def reaches(self, at: Array) -> bool:
        """Return whether a place, (2,), mm, is on the paper."""
        (x, y), *_ = self.at(at[None])
        return 0.0 <= x <= self.image.width and 0.0 <= y <= self.image.height

    def fill(self, shape: Shape, colour: Colour) -> None:
        """Fill a closed shape."""
        self.polygon(shape.points(0.5 / self.scale), colour)

    def polygon(self, points: Array, colour: Colour) -> None:
        """Fill a polygon of corners, (n, 2), mm."""
        self.draw.polygon(self.at(points), fill=colour)

    def line(self, shape: Shape, colour: Colour, pixels: float) -> None:
        """Draw a shape's line."""
        points = shape.points(0.5 / self.scale)
        if isinstance(shape, Circle) or shape.closed:
            points = np.vstack([points, points[:1]])
        self.polyline(points, colour, pixels)

    def polyline(self, points: Array, colour: Colour, pixels: float) -> None:
        """Draw straight lines through points, (n, 2), mm."""
        self.draw.line(self.at(points), fill=colour, width=round(FINER * pixels), joint="curve")

    def lines(self, paths: Iterable[Path], colour: Colour, pixels: float) -> None:
        """Draw several paths."""
        for path in paths:
            self.line(path, colour, pixels)

    def words(
        self, text: str, at: tuple[float, float], height: float, colour: Colour = INK, anchor: str = "left"
    ) -> None:
        """Write a line of text, its baseline at `at`, mm, its capitals `height` mm high."""
        self.lines(strokes(text, at, height, anchor=anchor), colour, 1.6)

    def png(self) -> bytes:
        """Return the picture's file."""
        stream = io.BytesIO()
        size = self.image.width // FINER, self.image.height // FINER
        self.image.resize(size, Image.Resampling.LANCZOS).save(stream, "PNG", optimize=False)
        return stream.getvalue()
