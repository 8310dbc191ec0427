"""A pointed filler of sheet on the crotch of a collector's legs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.geometry.pyramid import Pyramid
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.stock import Material


@dataclass(frozen=True, eq=False)
class Spike:
    """A spike. collector: the name of its table; made: its shape."""

    kind: ClassVar[str] = "spike"
    id: str
    collector: str
    made: Pyramid
    metal: Material

    @property
    def start(self) -> Frame:
        """The frame at its tip, inside."""
        return self.made.tip

    @property
    def end(self) -> Frame:
        """The frame at its tip, outside."""
        return self.made.tip.advanced(self.made.outside_tip)

    @property
    def length(self) -> float:
        """From the bores' crotch to its tip outside, mm."""
        return self.made.length + self.made.outside_tip

    @property
    def filled(self) -> None:
        """Nothing: it stands in its legs' bores."""

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return self.made.volume

    @property
    def made_from(self) -> str:
        """What to take and what to do to it."""
        made = self.made
        folds = f"{made.count - 1} folds of {made.fold:.1f} deg, 1 seam"
        return f"sheet, {made.thickness:g} mm; {made.count} facets, {folds}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside of all facets. span (mm) is of no use here."""
        made = self.made
        rim, (tip, first, last) = made.flat(points=33)[1:], made.mitred
        outer = np.vstack([tip, first, rim, last])

        def points(u: Array, v: Array) -> Array:
            facet = np.minimum((u * made.count).astype(np.intp), made.count - 1)
            along = 1.0 + (u * made.count - facet) * (len(outer) - 2)
            at = np.column_stack([np.interp(along, np.arange(len(outer)), outer[:, axis]) for axis in (0, 1)])
            flat = outer[0] + v[:, None] * (at - outer[0])
            found = np.empty((len(u), 3))
            for number in range(made.count):
                which = facet == number
                found[which] = made.placed(number, flat[which], np.full(int(which.sum()), made.thickness))
            return found

        return points

    def record(self) -> dict[str, Any]:
        """Return its figures."""
        made = self.made
        return {
            "collector": self.collector,
            "material": self.metal.grade,
            "thickness": made.thickness,
            "past_crotch": made.length,
            "facets": made.count,
            "fold": made.fold,
            "fold_length": made.fold_length,
        }
