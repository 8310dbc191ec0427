"""What every part that is cut from plate can be asked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Shape
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.stock import Material


class _Cut(Protocol):
    """What a kind of flat part says of itself."""

    @property
    def start(self) -> Frame:
        """Its drawing's origin on the first face, the axis through the plate and the ref the drawing's +y."""
        ...

    @property
    def outlines(self) -> tuple[Shape, ...]:
        """The outer edge of each plate in the drawing, mm: one, where it is not cut apart."""
        ...

    @property
    def thickness(self) -> float:
        """Thickness of the plate, mm."""
        ...

    @property
    def cutouts(self) -> tuple[Shape, ...]:
        """What is cut out of it, in the drawing, mm."""
        ...

    @property
    def area(self) -> float:
        """Area of its face, mm2."""
        ...

    @property
    def metal(self) -> Material:
        """What the plate is of."""
        ...


class _Whole(Protocol):
    """A flat part that is in one piece."""

    @property
    def outline(self) -> Shape:
        """Its outer edge in the drawing, mm."""
        ...


class Flat:
    """A part cut from plate: one thickness, one metal. What a kind adds is its own module's."""

    @property
    def outlines(self: _Whole) -> tuple[Shape, ...]:
        """Its outer edge in the drawing, mm, as the only one."""
        return (self.outline,)

    @property
    def cutouts(self) -> tuple[Shape, ...]:
        """What is cut out of it, in the drawing, mm."""
        return ()

    @property
    def end(self: _Cut) -> Frame:
        """The frame on its other face."""
        return self.start.advanced(self.thickness)

    @property
    def length(self: _Cut) -> float:
        """Its thickness, mm."""
        return self.thickness

    @property
    def area(self: _Cut) -> float:
        """Area of its face, mm2, less what is cut out of it."""
        edges, holes = (sum(abs(shape.area) for shape in shapes) for shapes in (self.outlines, self.cutouts))
        return edges - holes

    @property
    def volume(self: _Cut) -> float:
        """Metal volume, mm3, before any pocket."""
        return self.area * self.thickness

    @property
    def made_from(self: _Cut) -> str:
        """What to take."""
        several = f", {len(self.outlines)} pieces" if len(self.outlines) > 1 else ""
        return f"plate, {self.thickness:g} mm{several}"

    def skin(self: _Cut, span: Span | None = None) -> Skin:
        """Return a map over both faces and the edge, what is cut out taken as filled. span (mm) is of no use here."""
        rims = [outline.points(0.01) for outline in self.outlines]
        skins = [slab_skin(self.start, rim, rim.mean(axis=0), self.thickness) for rim in rims]
        return skins[0] if len(skins) == 1 else _several(skins)


def _several(skins: Sequence[Skin]) -> Skin:
    """Return a map over several skins, each with its share of u."""

    def points(u: Array, v: Array) -> Array:
        which = np.minimum((u * len(skins)).astype(np.intp), len(skins) - 1)
        found = np.empty((u.size, 3))
        for number, skin in enumerate(skins):
            mine = which == number
            found[mine] = skin(u[mine] * len(skins) - number, v[mine])
        return found

    return points


def slab_skin(frame: Frame, rim: Array, middle: Array, thickness: float) -> Skin:
    """Return a map over both faces and the edge of a plate, its openings taken as filled. frame: at its drawing's
    origin, the axis through it and the ref its +y; rim: (n, 2), mm, round its edge; middle: (2,), mm, from where
    all of the rim is seen; thickness: mm."""
    right = -frame.side
    rim = np.vstack([rim, rim[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(rim, axis=0), axis=1))])

    def points(u: Array, v: Array) -> Array:
        at = np.column_stack([np.interp(u * along[-1], along, rim[:, axis]) for axis in (0, 1)])
        # v runs out over one face, down the edge, and back over the other.
        out = np.clip(np.minimum(v, 1.0 - v) * 4.0, 0.0, 1.0)
        depth = np.clip(2.0 * v - 0.5, 0.0, 1.0) * thickness
        x, y = (middle + out[:, None] * (at - middle)).T
        return frame.origin + x[:, None] * right + y[:, None] * frame.ref + depth[:, None] * frame.axis

    return points
