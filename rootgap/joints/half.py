"""How a half pipe is closed: its long edges on a plate, and a half disc on each of its ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.geometry.frames import Array, Frame
from rootgap.geometry.paths import Path
from rootgap.joints.joint import CutAt
from rootgap.layout.pieces.panel import rectangle


@dataclass(frozen=True, eq=False)
class EdgeWeld:
    """Both long edges of a half pipe on a plate. half, plate: marks; ports: of the plate's openings those that the
    half covers; frame: at its start, ref in its middle; length: of the half, discs: thickness of the half discs on
    its ends, radii of its pipe, mm."""

    kind: ClassVar[str] = "edge weld"
    id: str
    half: str
    plate: str
    ports: tuple[int, ...]
    frame: Frame
    length: float
    discs: float
    r_out: float
    r_in: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The half pipe's mark and the plate's."""
        return self.half, self.plate

    @property
    def weld_length(self) -> float:
        """Length of both edges, mm."""
        return 2.0 * self.length

    @property
    def footprint(self) -> Path:
        """What the half pipe and its half discs stand on, x along the half from its start."""
        return rectangle(-self.discs, self.length + self.discs, self.r_out)

    def seen(self, points: Array) -> Array:
        """Return points, (n, 3), mm, as the footprint has them: (n, 2), along the half from its start and aside."""
        return self.frame.to_local(points)[:, [2, 1]]

    @property
    def bore(self) -> Path:
        """What the gas has of it, x along the half from its start."""
        return rectangle(0.0, self.length, self.r_in)


@dataclass(frozen=True, eq=False)
class HalfDiscWeld:
    """A half disc on an end of a half pipe, and on the plate that the half stands on. disc, half, plate: marks;
    frame: where disc and half meet, its axis out of the half; thickness: of the disc, r_out: of the half, mm."""

    kind: ClassVar[str] = "half disc weld"
    id: str
    disc: str
    half: str
    plate: str
    frame: Frame
    thickness: float
    r_out: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The marks of the disc, the half pipe and the plate."""
        return self.disc, self.half, self.plate

    @property
    def weld_length(self) -> float:
        """Length round the half's outside, along the plate, and of both its short sides there, mm."""
        return float(np.pi * self.r_out + 2.0 * self.r_out + 2.0 * self.thickness)
