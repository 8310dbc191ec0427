"""V-band joints: ring to ring, and a pipe in a ring's pocket."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.joints.joint import CutAt, End, Which
from rootgap.layout import Cap, Member, Ring, Straight
from rootgap.layout.aim import at_least
from rootgap.spec import VbandPart


@dataclass(frozen=True, eq=False)
class Clamp:
    """Two rings of a V-band pair, face to face, and their clamp. frame: on the upstream ring's face, its axis
    along the gas; r_in: of both bores, mm."""

    kind: ClassVar[str] = "clamp"
    id: str
    before: str
    after: str
    frame: Frame
    r_in: tuple[float, float]
    part: VbandPart
    weld_length: ClassVar[float] = 0.0
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The two rings' marks."""
        return self.before, self.after

    @property
    def step(self) -> float:
        """Difference of the bore radii, mm; positive where the gas meets an edge."""
        return self.r_in[0] - self.r_in[1]

    @property
    def groove(self) -> float:
        """Slope of the rims' backs, degrees a side."""
        return self.part.groove

    @property
    def gap(self) -> float:
        """Between the faces when the clamp is tight, mm."""
        return self.part.gap

    @property
    def pilot_clearance(self) -> float | None:
        """Between pilot and recess, mm on the radius, None where there is no pilot."""
        return self.part.pilot.clearance if self.part.pilot else None


@dataclass(frozen=True, eq=False)
class PocketWeld:
    """A pipe's square end in a ring's pocket, fillet welded round the hub's end. at: which end of the pipe,
    along the gas; frame: at the pocket's bottom, its axis along the gas; r_out, r_in, r_pocket: of pipe and pocket,
    depth: of the pocket, mm."""

    kind: ClassVar[str] = "pocket weld"
    id: str
    pipe: str
    ring: str
    at: Which
    frame: Frame
    r_out: float
    r_in: float
    r_pocket: float
    depth: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The pipe's mark and the ring's."""
        return self.pipe, self.ring

    @property
    def square(self) -> tuple[End, ...]:
        """The pipe's end."""
        return ((self.pipe, self.at),)

    @property
    def clearance(self) -> float:
        """Between pipe and pocket, mm on the radius."""
        return self.r_pocket - self.r_out

    @property
    def weld_length(self) -> float:
        """Circumference of the pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out)


def clamp(first: Ring, second: Ring) -> Clamp:
    """Return the clamped joint of two rings."""
    bores = first.stock.r_in, second.stock.r_in
    return Clamp(f"{first.id}+{second.id}", first.id, second.id, first.face, bores, first.part)


def no_pocket(piece: Member, onto: str) -> None:
    """Raise GeometryError for a ring whose pocket would stand empty on what bears the mark `onto`."""
    if isinstance(piece, Ring) and piece.part.pocket:
        raise GeometryError(piece.id, f"its pocket takes a pipe, and here is {onto}", "add a straight between")


def pocket_weld(ring: Ring, pipe: Member | Cap) -> PocketWeld:
    """Return the weld of a pipe in the pocket of `ring`. Raises GeometryError where it does not go in."""
    if not isinstance(pipe, Straight):
        what = f"of kind {pipe.kind}, it does not go into the pocket of {ring.id}"
        raise GeometryError(pipe.id, what, "add a straight between")
    if pipe.length < ring.part.depth:
        short = ring.part.depth - pipe.length
        raise GeometryError(
            pipe.id,
            f"is {pipe.length:.1f} mm long; the pocket of {ring.id} is {ring.part.depth:g} mm deep",
            f"make it at least {at_least(short)} mm longer",
        )
    radius, depth, stock = float(ring.part.r_pocket or 0.0), ring.part.depth, pipe.stock
    sizes = stock.r_out, stock.r_in, radius, depth
    if ring.upstream:
        return PocketWeld(f"{pipe.id}+{ring.id}", pipe.id, ring.id, "end", ring.start, *sizes)
    return PocketWeld(f"{ring.id}+{pipe.id}", pipe.id, ring.id, "start", ring.end, *sizes)
