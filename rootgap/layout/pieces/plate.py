"""A flange."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Path, Shape
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.layout.pieces.slab import slab_skin
from rootgap.spec import FlangePart


@dataclass(frozen=True, eq=False)
class Plate:
    """A flange. start: its drawing's origin on the face at which the plate begins; axis: through
    the plate, along the gas; ref: the drawing's +y."""

    kind: ClassVar[str] = "flange"
    id: str
    part: FlangePart
    start: Frame

    @property
    def end(self) -> Frame:
        """The frame on the face where the gas leaves."""
        return self.start.advanced(self.part.thickness)

    @property
    def length(self) -> float:
        """Its thickness, mm."""
        return self.part.thickness

    @property
    def filled(self) -> None:
        """Nothing: whether others run into it is asked of their bodies."""

    @property
    def right(self) -> Array:
        """The direction of the drawing's +x, (3,)."""
        return -self.start.side

    def at(self, x: float, y: float) -> Frame:
        """Return the frame at (x, y), mm, of the drawing, on the face where the gas leaves."""
        face = self.end
        return Frame(face.origin + x * self.right + y * face.ref, face.axis, face.ref)

    def placed(self, points: Array) -> Array:
        """Return points (n, 2), mm, of the drawing, on the face where the gas leaves: (n, 3), mm."""
        face = self.end
        return face.origin + points[:, :1] * self.right + points[:, 1:] * face.ref

    @cached_property
    def edges(self) -> tuple[Path, ...]:
        """The outer edge of each of its plates: one, where it is not cut apart."""
        return self.part.edges()

    @cached_property
    def openings(self) -> tuple[Shape, ...]:
        """The port openings, true lines and arcs."""
        return tuple(placed(port.opening.opening().shape(), port.at, port.angle) for port in self.part.port)

    @cached_property
    def bolt_holes(self) -> tuple[Shape, ...]:
        """The bolt holes, round or slotted."""
        return tuple(hole.shape for hole in self.part.holes())

    def sunk(self, ports: Sequence[int]) -> float:
        """Return how far, mm, a pipe goes in at some of its openings. Raises GeometryError where they differ."""
        depths = {self.part.port[number - 1].sunk(self.part.thickness) for number in ports}
        if len(depths) > 1:
            raise GeometryError(self.id, "one pipe goes in to two depths", "give these ports the same socket")
        return depths.pop()

    @property
    def area(self) -> float:
        """Area of the face, mm2, less openings and holes."""
        holes = (*self.openings, *self.bolt_holes)
        return sum(edge.area for edge in self.edges) - sum(abs(shape.area) for shape in holes)

    @property
    def volume(self) -> float:
        """Metal volume, mm3, before any pocket."""
        return self.area * self.part.thickness

    @property
    def made_from(self) -> str:
        """What to take."""
        several = f", {len(self.edges)} pieces" if len(self.edges) > 1 else ""
        return f"plate, {self.part.thickness:g} mm{several}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over both faces and the edge, the openings taken as filled. span (mm) is of no use here."""
        skins = [slab_skin(self.start, edge, self.part.thickness) for edge in self.edges]
        if len(skins) == 1:
            return skins[0]

        def points(u: Array, v: Array) -> Array:
            # Each plate has its share of u.
            which = np.minimum((u * len(skins)).astype(np.intp), len(skins) - 1)
            found = np.empty((u.size, 3))
            for number, skin in enumerate(skins):
                mine = which == number
                found[mine] = skin(u[mine] * len(skins) - number, v[mine])
            return found

        return points

    def record(self) -> dict[str, Any]:
        """Return the plate's part, material and thickness."""
        part = self.part
        record = {"part": part.name, "material": part.material, "thickness": part.thickness}
        return record | ({"plates": len(self.edges)} if len(self.edges) > 1 else {})
