"""Square ends: pipe to fitting, pipe to plate, and a disc on a pipe's end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.geometry.frames import Frame
from rootgap.joints.joint import CutAt, End, Which


@dataclass(frozen=True, eq=False)
class Butt:
    """Two square ends of one axis. frame: where they meet, its axis along the gas; radii, mm,
    of the piece before and after it."""

    kind: ClassVar[str] = "butt"
    id: str
    before: str
    after: str
    frame: Frame
    r_out: tuple[float, float]
    r_in: tuple[float, float]
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The two pieces' marks."""
        return self.before, self.after

    @property
    def weld_length(self) -> float:
        """Circumference of the smaller outside, mm."""
        return float(2.0 * np.pi * min(self.r_out))

    @property
    def step(self) -> float:
        """Difference of the bore radii, mm; positive where the gas meets an edge."""
        return self.r_in[0] - self.r_in[1]


@dataclass(frozen=True, eq=False)
class FlangeWeld:
    """A pipe's square end on a plate round an opening. reach: of the opening from the pipe's
    axis, mm; gas_in: whether the gas comes from the plate; girth: of the end's outside, mm, where it was
    made to the opening's own shape, None where it is round; sunk: how far the end goes into the plate, mm; pocket:
    radius of the socket that it goes into, mm, None where it goes into none; open_area: of the openings, mm2."""

    kind: ClassVar[str] = "flange weld"
    id: str
    pipe: str
    plate: str
    ports: tuple[int, ...]
    frame: Frame
    r_out: float
    r_in: float
    reach: float
    gas_in: bool
    girth: float | None = None
    sunk: float = 0.0
    pocket: float | None = None
    open_area: float = 0.0
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The pipe's mark and the plate's."""
        return self.pipe, self.plate

    @property
    def through(self) -> bool:
        """Whether the pipe goes through the opening itself, and is welded on the joint's side."""
        return self.sunk > 0.0 and self.pocket is None

    @property
    def milled(self) -> float:
        """Volume of the socket outside the openings, mm3."""
        return 0.0 if self.pocket is None else float(np.pi * self.pocket**2 - self.open_area) * self.sunk

    @property
    def weld_length(self) -> float:
        """Girth of the pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out) if self.girth is None else self.girth

    @property
    def overlap(self) -> float:
        """How far the opening's outline reaches under the pipe's wall, mm; below 0 it stays in the bore. Nought
        for an end of the opening's own shape: its bore meets the rim, or its wall stands in it."""
        return self.reach - self.r_in if self.girth is None else 0.0


@dataclass(frozen=True, eq=False)
class DiscWeld:
    """A flat disc on a pipe's square end, welded round its edge. at: which end of the pipe, along the gas;
    frame: on that end, its axis out of the pipe; r_out, r_in: of the pipe, mm."""

    kind: ClassVar[str] = "disc weld"
    id: str
    pipe: str
    disc: str
    at: Which
    frame: Frame
    r_out: float
    r_in: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The pipe's mark and the disc's."""
        return self.pipe, self.disc

    @property
    def square(self) -> tuple[End, ...]:
        """The pipe's end."""
        return ((self.pipe, self.at),)

    @property
    def weld_length(self) -> float:
        """Circumference of the pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out)
