"""A flange."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Circle, Path, Shape
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
    def edge(self) -> Path:
        """The outer edge."""
        return self.part.edge()

    @property
    def outline(self) -> Path:
        """The outer edge, by the name that it has on every flat piece."""
        return self.edge

    @cached_property
    def openings(self) -> tuple[Shape, ...]:
        """The port openings, true lines and arcs."""
        return tuple(placed(port.opening.opening().shape(), port.at, port.angle) for port in self.part.port)

    @cached_property
    def bolt_holes(self) -> tuple[Circle, ...]:
        """The bolt holes."""
        return tuple(Circle(at, 0.5 * diameter) for at, diameter, _ in self.part.holes())

    @property
    def area(self) -> float:
        """Area of the face, mm2, less openings and holes."""
        return self.edge.area - sum(abs(shape.area) for shape in (*self.openings, *self.bolt_holes))

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return self.area * self.part.thickness

    @property
    def made_from(self) -> str:
        """What to take."""
        return f"plate, {self.part.thickness:g} mm"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over both faces and the edge, the openings taken as filled. span (mm) is of no use here."""
        return slab_skin(self.start, self.edge, self.part.thickness)

    def record(self) -> dict[str, Any]:
        """Return the plate's part, material and thickness."""
        return {"part": self.part.name, "material": self.part.material, "thickness": self.part.thickness}
