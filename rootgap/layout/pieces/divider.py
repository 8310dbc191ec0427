"""A plate that parts a run's gas in two."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar

import numpy as np

from rootgap.geometry import parting
from rootgap.geometry.frames import Frame
from rootgap.geometry.parting import Disc
from rootgap.geometry.paths import Path, Shape
from rootgap.layout.pieces.base import Array, Skin, Span
from rootgap.layout.pieces.flat import Flat, slab_skin
from rootgap.stock import Material


@dataclass(frozen=True)
class Tongue:
    """The part of a divider that goes down a run. half: of its width; start, end: y of the plate; base: y at
    which the run begins; slot: how deep it stands in the flange, all mm."""

    half: float
    start: float
    end: float
    base: float
    slot: float

    @property
    def face(self) -> float:
        """Y at which the run ends, mm."""
        return self.end - self.slot


@dataclass(frozen=True, eq=False)
class Divider(Flat):
    """A flat plate inside a run. middle: its drawing's origin in the plane half way through it, axis square off
    it, ref the drawing's +y; thickness, gap: mm; disc: what closes the bore of `host`, a straight's mark; tongue:
    what goes down a run; parted: marks of the pieces that it parts from end to end or across."""

    kind: ClassVar[str] = "divider"
    id: str
    run: str
    middle: Frame
    thickness: float
    gap: float
    metal: Material
    parted: tuple[str, ...]
    host: str | None = None
    disc: Disc | None = None
    tongue: Tongue | None = None

    @property
    def start(self) -> Frame:
        """The frame on its first face."""
        return self.middle.advanced(-0.5 * self.thickness)

    @property
    def filled(self) -> None:
        """Nothing: whether others run into it is asked of their bodies."""

    @cached_property
    def outline(self) -> Shape:
        """Its edge in the drawing's x and y, mm."""
        if self.disc is None:
            return self._plain
        if self.tongue is None:
            return self.disc.outline()
        return self.disc.with_tongue(self.tongue.half, self.tongue.end)

    @property
    def _plain(self) -> Path:
        if self.tongue is None:
            raise ValueError(f"{self.id} is neither down a run nor across one")
        return parting.tongue(self.tongue.half, self.tongue.start, self.tongue.end)

    def side(self, points: Array) -> Array:
        """Return how far points, (n, 3), mm, lie off the plate's faces, mm, (n,): above nought on the side that
        its axis points to, below on the other, nought within its thickness."""
        off = (points - self.middle.origin) @ self.middle.axis
        return np.sign(off) * np.maximum(np.abs(off) - 0.5 * self.thickness, 0.0)

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over both faces and the edge. span (mm) is of no use here."""
        rim = self.outline.points(0.01)
        # A disc with a tongue is star-shaped about where the one passes into the other.
        middle = np.array([0.0, 0.0 if self.tongue is None or self.disc else rim[:, 1].mean()])
        return slab_skin(self.start, rim, middle, self.thickness)

    def record(self) -> dict[str, Any]:
        """Return the plate's run, material and figures."""
        record: dict[str, Any] = {
            "run": self.run,
            "material": self.metal.grade,
            "thickness": self.thickness,
            "gap": self.gap,
            "parted": list(self.parted),
        }
        if self.disc:
            record |= {"across": self.host, "disc_radius": self.disc.radius}
        if self.tongue:
            record |= {"width": 2.0 * self.tongue.half, "end_y": self.tongue.end, "slot": self.tongue.slot}
        return record
