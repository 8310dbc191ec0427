"""Outlines of flat plates that part a round bore in two: across it, down it, or both in one plate.

Terminology: the *disc* closes a bore that the plate crosses, the *tongue* lies in a bore along the
plate. The plate's own x and y have their origin where the crossed bore's axis meets its middle plane,
y down the tongue. The *gap* is the room for the weld between the bore and the plate's nearest corners.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Circle, Path, Shape

Array = NDArray[np.float64]

#: A bore leans on the plate by more than this, no unit.
_LEANS = 1e-9
#: Samples round a disc that is no circle: chords of a half degree stay within 0.01 mm at these sizes.
_SAMPLES = 720
#: Halvings that bring a half degree below the last digits.
_HALVINGS = 50


def half_width(r_in: float, gap: float, thickness: float) -> float:
    """Return half the width, mm, of a plate down the middle of a bore; nan where it is too thick to go in.

    r_in: of the bore; gap: least room at its corners; thickness: of the plate, all mm.
    Source: Pythagoras, for the corners lie half a thickness off the axis.

    >>> round(half_width(31.355, 0.5, 3.0), 4)
    30.8186
    """
    square = (r_in - gap) ** 2 - (0.5 * thickness) ** 2
    return float(np.sqrt(square)) if square > 0.0 and r_in > gap else float("nan")


@dataclass(frozen=True, eq=False)
class Disc:
    """A plate that closes a bore. radius: of the bore less the gap, mm; lean: (2,), no unit, what the bore's
    unit axis has along the plate's x and y, both 0 where it is square to the plate; thickness: mm."""

    radius: float
    lean: Array
    thickness: float

    @cached_property
    def square(self) -> bool:
        """Whether the bore is square to the plate."""
        return float(np.hypot(*self.lean)) < _LEANS

    def edge(self, phi: Array) -> Array:
        """Return how far from the origin the edge lies, mm, (n,), at angles `phi`, radians from +x, (n,).

        Source: |p|^2 - (p.a)^2 = r^2 for a point p on a cylinder of unit axis a; at the faces it is an ellipse
        moved along the lean, and the plate's square edge stays within both.
        """
        out = np.column_stack([np.cos(phi), np.sin(phi)])
        metric = np.eye(2) - np.outer(self.lean, self.lean)
        moved = 0.5 * self.thickness / np.sqrt(1.0 - self.lean @ self.lean) * self.lean
        a = np.einsum("ni,ij,nj->n", out, metric, out)
        b = np.abs(out @ metric @ moved)
        c = moved @ metric @ moved - self.radius**2
        return (np.sqrt(b * b - a * c) - b) / a

    def points(self, phi: Array) -> Array:
        """Return the points of the edge, (n, 2), mm, at angles `phi`, radians, (n,)."""
        return self.edge(phi)[:, None] * np.column_stack([np.cos(phi), np.sin(phi)])

    def outline(self) -> Shape:
        """Return the disc alone, mm: a circle where the bore is square to it."""
        if self.square:
            return Circle((0.0, 0.0), self.radius)
        return Path.through(self.points(2.0 * np.pi * np.arange(_SAMPLES) / _SAMPLES), closed=True)

    def corner(self, half: float, side: int) -> float:
        """Return the angle, radians, at which the edge of a tongue `half` mm either way leaves the disc.

        side: 1 at +x, -1 at -x. Raises ValueError where the tongue is wider than the disc.
        """
        low, high = (0.0, 0.5 * np.pi) if side > 0 else (np.pi, 0.5 * np.pi)
        if side * self.points(np.array([low]))[0, 0] <= half:
            raise ValueError(f"a tongue {2 * half:.2f} mm wide is wider than the disc")
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            outside = side * self.points(np.array([middle]))[0, 0] > half
            low, high = (middle, high) if outside else (low, middle)
        return 0.5 * (low + high)

    def with_tongue(self, half: float, end: float) -> Path:
        """Return the outline of the disc and a tongue `half` mm either way down to y = `end` mm, in one.

        Raises ValueError where the tongue is wider than the disc, or ends inside it.
        """
        right, left = self.corner(half, 1), self.corner(half, -1)
        if self.points(np.array([0.5 * np.pi]))[0, 1] >= end:
            raise ValueError("the tongue ends inside the disc")
        if self.square:
            # The long way round below, as two arcs: a bulge is tan of a quarter of the sweep.
            bulge = float(np.tan(0.25 * (0.5 * np.pi + right)))
            rise = float(np.sqrt(self.radius**2 - half**2))
            vertices = ((half, end, 0.0), (-half, end, 0.0), (-half, rise, bulge), (0.0, -self.radius, bulge))
            return Path((*vertices, (half, rise, 0.0)), closed=True)
        count = int(np.ceil((right + 2.0 * np.pi - left) / (2.0 * np.pi) * _SAMPLES))
        edge = self.points(np.linspace(left, right + 2.0 * np.pi, count))
        return Path.through(np.vstack([[(half, end), (-half, end)], edge]), closed=True)

    def rim_length(self, half: float) -> float:
        """Return the length of the edge, mm, that is left beside a tongue `half` mm either way, 0 for none."""
        right, left = (self.corner(half, 1), self.corner(half, -1)) if half else (0.0, 0.0)
        phi = np.linspace(left, right + 2.0 * np.pi, 20 * _SAMPLES)
        return float(np.linalg.norm(np.diff(self.points(phi), axis=0), axis=1).sum())


def tongue(half: float, start: float, end: float) -> Path:
    """Return a plain tongue `half` mm either way from y = `start` to `end`, mm."""
    return Path.through([(half, start), (half, end), (-half, end), (-half, start)], closed=True)
