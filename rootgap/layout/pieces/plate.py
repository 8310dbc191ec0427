"""A flange."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Path, Shape
from rootgap.layout.pieces.base import Array
from rootgap.layout.pieces.flat import Flat
from rootgap.spec import FlangePart
from rootgap.stock import Material


@dataclass(frozen=True, eq=False)
class Plate(Flat):
    """A flange. start: its drawing's origin on the face at which the plate begins; axis: through
    the plate, along the gas; ref: the drawing's +y."""

    kind: ClassVar[str] = "flange"
    id: str
    part: FlangePart
    start: Frame

    @property
    def thickness(self) -> float:
        """Thickness of the plate, mm."""
        return self.part.thickness

    @property
    def metal(self) -> Material:
        """What the plate is of."""
        return self.part.metal

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
    def outlines(self) -> tuple[Path, ...]:
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
    def cutouts(self) -> tuple[Shape, ...]:
        """The port openings and the bolt holes."""
        return *self.openings, *self.bolt_holes

    def record(self) -> dict[str, Any]:
        """Return the plate's part, material and thickness."""
        record = {"part": self.part.name, "material": self.metal.grade, "thickness": self.thickness}
        return record | ({"plates": len(self.outlines)} if len(self.outlines) > 1 else {})
