"""A flat plate of the fixture that holds the work while it is tacked."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.distance import Prism
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.paths import Path, Point, Shape
from rootgap.geometry.polygons import inside
from rootgap.layout.pieces.base import Array
from rootgap.layout.pieces.flat import Flat
from rootgap.stock.materials import Material

#: How far, mm, chords lie from a plate's edges where room is looked at.
CHORD = 0.02
#: The same where a place is looked for.
COARSE = 0.5


@dataclass(frozen=True)
class Lettering:
    """A word etched into a plate. at: its middle, mm; height: of capitals, mm; angle: degrees."""

    text: str
    at: Point
    height: float = 6.0
    angle: float = 0.0


@dataclass(frozen=True, eq=False)
class FixturePlate(Flat):
    """A flat plate. start: its drawing's origin on the face at which it begins, axis through it, ref the drawing's
    +y; about: what it does; holes: all that is cut out of it; thickness: mm; scribed: lines etched into
    it; lettered: words etched into it; feet: x of its drawing, mm, at which it stands in the base by a tab of width
    foot, mm."""

    kind: ClassVar[str] = "fixture plate"
    id: str
    about: str
    start: Frame
    outline: Path
    thickness: float
    metal: Material
    holes: tuple[Shape, ...] = ()
    scribed: tuple[Shape, ...] = ()
    lettered: tuple[Lettering, ...] = ()
    feet: tuple[float, ...] = ()
    foot: float = 0.0

    @property
    def cutouts(self) -> tuple[Shape, ...]:
        """What is cut out of it, in the drawing, mm."""
        return self.holes

    @property
    def right(self) -> Array:
        """The direction of the drawing's +x, (3,)."""
        return -self.start.side

    def at(self, x: float, y: float) -> Array:
        """Return the point (3,), mm, of (x, y), mm, of the drawing, half way through the plate."""
        return self.start.origin + x * self.right + y * self.start.ref + 0.5 * self.thickness * self.start.axis

    @cached_property
    def filled(self) -> Prism:
        """The body that it fills, curves as chords."""
        holes = tuple(hole.points(CHORD) for hole in self.holes)
        return Prism(self.start, self.outline.points(CHORD), holes, self.thickness)

    @cached_property
    def rough(self) -> Prism:
        """The same, curves as coarse chords and no holes: enough to look for a place beside it."""
        return Prism(self.start, self.outline.points(COARSE), (), self.thickness)

    @property
    def corners(self) -> Array:
        """The corners, (8, 3), mm, of a box round it."""
        x0, y0, x1, y1 = self.outline.bounds()
        flat = np.array([self.at(x, y) for x in (x0, x1) for y in (y0, y1)])
        return np.vstack([flat + share * self.thickness * self.start.axis for share in (-0.5, 0.5)])

    def samples(self, spacing: float) -> Array:
        """Return points, (n, 3), mm, on both faces and half way through, at most `spacing` mm apart along the outer
        edge and about as far inside it."""
        loop = self.outline.points(COARSE)
        ring = np.vstack([loop, loop[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
        even = np.linspace(0.0, along[-1], 2 + int(along[-1] / spacing))
        rim = np.column_stack([np.interp(even, along, ring[:, axis]) for axis in (0, 1)])
        low, high = loop.min(axis=0), loop.max(axis=0)
        counts = 2 + ((high - low) / spacing).astype(int)
        grid = np.stack(
            np.meshgrid(*(np.linspace(*each) for each in zip(low, high, counts, strict=True))), axis=-1
        ).reshape(-1, 2)
        metal = inside(grid, loop)
        for hole in self.holes:
            metal &= ~inside(grid, hole.points(COARSE))
        flat = np.vstack([rim, grid[metal]])
        points = self.start.origin + flat[:, :1] * self.right + flat[:, 1:] * self.start.ref
        return np.vstack([points + share * self.thickness * self.start.axis for share in (0.0, 0.5, 1.0)])

    def record(self) -> dict[str, Any]:
        """Return what it does, its material and thickness, and how many tabs it stands on."""
        return {
            "about": self.about,
            "material": self.metal.grade,
            "thickness": self.thickness,
            "feet": len(self.feet),
        }


def flat_frame(origin: Array, axis: Array, up: Array) -> Frame:
    """Return the frame of a drawing at `origin`, (3,), mm, with the directions `axis` through the plate and `up`."""
    return Frame(vector(origin), vector(axis), vector(up))
