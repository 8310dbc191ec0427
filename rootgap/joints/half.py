"""How a half pipe is closed: its long edges on a plate, and a half disc on each of its ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from rootgap.geometry.frames import Array, Frame
from rootgap.geometry.paths import Path
from rootgap.joints.butt import RIM
from rootgap.joints.joint import CutAt
from rootgap.layout import Face, Half, Layout, Plate, Port, Run
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


def closing_welds(half: Half, run: Run, layout: Layout) -> Iterator[EdgeWeld | HalfDiscWeld]:
    """Yield the joints that close a half pipe."""
    flange = layout.plates[run.begins.pose.on] if isinstance(run.begins, Face) else None
    plate = flange.id if flange else f"{half.id}-plate"
    radii = half.stock.r_out, half.stock.r_in
    weld = EdgeWeld(f"{half.id}+{plate}", half.id, plate, (), half.facing, half.length, half.discs, *radii)
    yield replace(weld, ports=_covered(weld, flange, layout)) if flange else weld
    for disc in half.ends:
        yield HalfDiscWeld(f"{disc.id}+{half.id}", disc.id, half.id, plate, disc.start, half.discs, half.stock.r_out)


def _covered(weld: EdgeWeld, flange: Plate, layout: Layout) -> tuple[int, ...]:
    """Return the numbers of a flange's openings that a half pipe on it covers, if only in part, and that no run
    starts at."""
    begun = {run.begins for run in layout.runs.values() if isinstance(run.begins, Port)}
    low_x, low_y, high_x, high_y = weld.footprint.bounds()
    covered = []
    for number, shape in enumerate(flange.openings, start=1):
        along, aside = weld.seen(flange.placed(shape.points(RIM))).T
        under = (along > low_x) & (along < high_x) & (aside > low_y) & (aside < high_y)
        if under.any() and Port(flange.id.removeprefix("flange."), number) not in begun:
            covered.append(number)
    return tuple(covered)
