"""Runs of placed pieces, and where they begin and end."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import Opening
from rootgap.layout.pieces import Closure, Half, Member, Panel, Plate
from rootgap.spec import CopeEnd, FacePose, MitreSpec, Pose, SalvageSpec, SideStart


@dataclass(frozen=True)
class Port:
    """One opening of a flange as a run's start. number: from 1."""

    flange: str
    number: int

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return f"{self.flange}.port.{self.number}"


@dataclass(frozen=True)
class After:
    """The end of another run as a run's start."""

    run: str

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return self.run


@dataclass(frozen=True)
class Outlet:
    """A collector's outlet as a run's start."""

    collector: str

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return f"collector.{self.collector}"


@dataclass(frozen=True)
class Side:
    """A place on another run's side as a run's start."""

    off: SideStart

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return f"{self.off.off} at {self.off.station:g}"


@dataclass(frozen=True)
class Face:
    """A place on a flange's face as a run's start."""

    pose: FacePose

    @property
    def flange(self) -> str:
        """The flange's name."""
        return self.pose.on

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return f"{self.flange}, on its face"


@dataclass(frozen=True)
class Salvaged:
    """The cut of a salvaged piece as a run's start."""

    salvage: str

    @property
    def told(self) -> str:
        """Where that is, in the words of the file."""
        return f"salvage.{self.salvage}"


#: Where a run begins: at something, or in the open.
Begins = Port | After | Outlet | Side | Face | Salvaged | Pose


def flanges_of(begins: Iterable[Begins]) -> tuple[str, ...]:
    """Return the names of the flanges among the places where runs begin, each once."""
    return tuple(dict.fromkeys(place.flange for place in begins if isinstance(place, Port | Face)))


@dataclass(frozen=True, eq=False)
class Run:
    """A chain of pieces. start: frame of the whole; begins: what it starts at; corners: the mitres, each by
    the index of the piece before it; cope: how its end sits on another run; flange, ports: the plate it ends
    on and the numbers of its openings there; merge: the collector it is a leg of."""

    name: str
    pieces: tuple[Member, ...]
    start: Frame
    begins: Begins
    corners: Mapping[int, MitreSpec]
    first_cap: Closure | None = None
    last_cap: Closure | None = None
    cope: CopeEnd | None = None
    flange: Plate | None = None
    ports: tuple[int, ...] = ()
    merge: str | None = None

    @property
    def end(self) -> Frame:
        """The frame at the run's gas end, before any cap or flange."""
        return self.pieces[-1].end

    @property
    def length(self) -> float:
        """Length of the axis, mm."""
        return float(sum(piece.length for piece in self.pieces))

    def at(self, station: float) -> tuple[Member, float] | None:
        """Return the piece at a station, mm, and how far along it that lies; None beyond the end."""
        for piece in self.pieces:
            if station <= piece.length:
                return piece, station
            station -= piece.length
        return None

    @property
    def half(self) -> Half | None:
        """The half pipe that it is, closed at both ends; None for a run of anything else."""
        return self.pieces[0] if isinstance(self.pieces[0], Half) else None

    def along(self) -> Iterator[Member | Closure | Panel]:
        """Yield the pieces, and what closes the ends, along the gas, a half pipe's plates after it."""
        if self.first_cap:
            yield self.first_cap
        yield from self.pieces
        if self.half:
            yield from self.half.panels
        if self.last_cap:
            yield self.last_cap


@dataclass(frozen=True, eq=False)
class Salvage:
    """A piece cut off something, that a run goes on from. frame: in the middle of its cut, its axis along the gas
    out of it, its ref the opening's y."""

    name: str
    spec: SalvageSpec
    frame: Frame

    @property
    def id(self) -> str:
        """What it is called."""
        return f"salvage.{self.name}"

    @property
    def opening(self) -> Opening:
        """Its bore where it is cut."""
        return self.spec.opening.opening()
