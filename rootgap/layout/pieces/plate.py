"""A flange."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.layout.pieces.base import Array, Skin, Span
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

    @cached_property
    def edge(self) -> Path:
        """The outer edge."""
        return self.part.edge()

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
        frame, thickness, right = self.start, self.part.thickness, self.right
        rim = self.edge.points(0.01)
        rim = np.vstack([rim, rim[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(rim, axis=0), axis=1))])
        middle = rim.mean(axis=0)

        def points(u: Array, v: Array) -> Array:
            at = np.column_stack([np.interp(u * along[-1], along, rim[:, axis]) for axis in (0, 1)])
            # v runs out over one face, down the edge, and back over the other.
            out = np.clip(np.minimum(v, 1.0 - v) * 4.0, 0.0, 1.0)
            depth = np.clip(2.0 * v - 0.5, 0.0, 1.0) * thickness
            x, y = (middle + out[:, None] * (at - middle)).T
            return frame.origin + x[:, None] * right + y[:, None] * frame.ref + depth[:, None] * frame.axis

        return points

    def record(self) -> dict[str, Any]:
        """Return the plate's part, material and thickness."""
        return {"part": self.part.name, "material": self.part.material, "thickness": self.part.thickness}
