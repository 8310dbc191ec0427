"""Runs of placed pieces, where they begin and end, and what they stay clear of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.layout.pieces import Cap, Member, Plate
from rootgap.spec import CopeEnd


@dataclass(frozen=True)
class Port:
    """One opening of a flange as a run's start. number: from 1."""

    flange: str
    number: int


@dataclass(frozen=True, eq=False)
class Run:
    """A chain of pieces. start: frame of the whole; begins: the port or the run it starts at; cope: how
    its end sits on another run; flange: the plate it ends on."""

    name: str
    pieces: tuple[Member, ...]
    start: Frame
    begins: Port | str | None
    first_cap: Cap | None
    last_cap: Cap | None
    cope: CopeEnd | None
    flange: Plate | None

    @property
    def end(self) -> Frame:
        """The frame at the run's gas end, before any cap or flange."""
        return self.pieces[-1].end

    @property
    def length(self) -> float:
        """Length of the axis, mm."""
        return float(sum(piece.length for piece in self.pieces))

    def along(self) -> Iterator[Member | Cap]:
        """Yield the pieces and caps along the gas."""
        if self.first_cap:
            yield self.first_cap
        yield from self.pieces
        if self.last_cap:
            yield self.last_cap


@dataclass(frozen=True, eq=False)
class Keepout:
    """A body that metal stays clear of by `clearance` mm."""

    body: Body
    clearance: float
