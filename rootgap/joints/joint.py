"""What every joint answers, whatever it joins, so that no room need tell the kinds apart for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal, Protocol

from rootgap.joints.ends import CutEnd

#: An end of a piece, along the gas.
Which = Literal["start", "end"]

#: An end of a piece: its mark, and which end.
End = tuple[str, Which]


def gas_clock(at: Which, clock: int) -> int:
    """Return the pipe's own clock, degrees, where a cut end's is `clock`: a frame that points against the gas, as
    that of a cut start does, counts the other way round.

    >>> gas_clock("start", 90), gas_clock("end", 90)
    (270, 90)
    """
    return clock if at == "end" else -clock % 360


@dataclass(frozen=True, eq=False)
class CutAt:
    """One end of a piece as a joint cuts it. piece: its mark; at: which end of it, along the gas."""

    piece: str
    at: Which
    cut: CutEnd


class Joint(Protocol):
    """Pieces that meet, and how their ends are cut for it."""

    kind: ClassVar[str]

    @property
    def id(self) -> str:
        """The joint's name, unique in a layout."""
        ...

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of all pieces that it brings together."""
        ...

    @property
    def cuts(self) -> tuple[CutAt, ...]:
        """The ends that are cut to more than square."""
        ...

    @property
    def weld_length(self) -> float:
        """Length of its weld, mm; 0 where nothing is welded."""
        ...


#: The cut ends of pieces by mark and end.
Cuts = Mapping[str, Mapping[Which, CutEnd]]


def cut_ends(joints: Iterable[Joint]) -> Cuts:
    """Return every cut end of `joints`."""
    found: dict[str, dict[Which, CutEnd]] = {}
    for joint in joints:
        for cut in joint.cuts:
            found.setdefault(cut.piece, {})[cut.at] = cut.cut
    return found


def reach(cuts: Cuts, piece: str, length: float) -> tuple[float, float]:
    """Return the stations, mm, to which the finished piece of `length` mm extends.

    A cut at the start is measured from the far end, against the gas.
    """
    ends = cuts.get(piece, {})
    low = length - ends["start"].cut_range[1] if "start" in ends else 0.0
    return low, ends["end"].cut_range[1] if "end" in ends else length


@dataclass(frozen=True)
class Blank:
    """The pipe that a cut end is made from. begins: station, mm, on the cut end's own axis, of its far, square end;
    length: mm, where that end is cut as well, so that its length must be kept until both are marked; else None."""

    begins: float = 0.0
    length: float | None = None


def blank(cuts: Cuts, piece: str, length: float, at: Which) -> Blank:
    """Return what the end of a piece of `length` mm is cut from. at: which of its ends it is."""
    if len(cuts.get(piece, {})) < 2:
        return Blank()
    low, high = reach(cuts, piece, length)
    return Blank(low if at == "end" else length - high, high - low)


def finished_volume(cuts: Cuts, piece: str, whole: float) -> float:
    """Return the metal volume, mm3, of a piece with its cut ends, before any hole. whole: with both ends square.

    Each cut's volume is that of the pipe from its other end, taken as square.
    """
    return whole + sum(cut.branch_volume - whole for cut in cuts.get(piece, {}).values())
