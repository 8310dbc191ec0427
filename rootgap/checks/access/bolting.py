"""Every bolt of the flanges: where its head bears, and what holds its other end.

Terminology
    head    bears on the side of a flange where its pipes stand, and points away from what the flange is bolted to
    thread  in a casting, with a stud in it or none: one tool turns, and the casting holds
    nut     behind what the flange is bolted to: one tool turns, and another one holds
    back    the flange that a nut bears on: of the same file, or taken to be one like this

A bolt is as long as what it goes through, and goes 1.5 diameters into a thread, or two turns through its nut (common
practice, no source). A flange on a head, a turbo or a gate has threads unless its file says held = "nut"; another has
nuts unless it says held = "thread". Of a flange that nothing in the file is bolted to, the pipe beyond is taken to go
straight on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rootgap.checks.access.obstacles import Obstacle
from rootgap.checks.access.tools import Nut
from rootgap.errors import StockError, UnitError
from rootgap.geometry.distance import Rod, Union
from rootgap.geometry.frames import Frame, vector
from rootgap.layout import Layout, Plate
from rootgap.spec.part import BoltHole
from rootgap.stock import Fastener, fastener
from rootgap.stock.handtools import hand_tools

#: How far a bolt goes into a thread, in diameters, and through its nut, in turns (common practice, no source).
ENGAGED, THROUGH = 1.5, 2.0
#: How much of the pipe beyond a flange that nothing in the file is bolted to is taken to be there, mm.
BEYOND = 100.0


@dataclass(frozen=True, eq=False)
class Back:
    """What a nut bears on. name: of that; frame: on it, axis out; things: taken to stand there."""

    name: str
    frame: Frame
    things: tuple[Obstacle, ...] = ()


@dataclass(frozen=True, eq=False)
class Bolt:
    """One bolt. id: its flange and number; on: the mark of what its head bears on; frame: there, axis out; size: from
    the tables; length: under its head, engaged: of that in a thread, mm; holds: what holds its other end, in words;
    back: where its nut bears, None of one in a thread."""

    id: str
    on: str
    frame: Frame
    size: Fastener
    length: float
    engaged: float
    holds: str
    back: Back | None = None

    @property
    def head(self) -> Nut:
        """Its head, for a tool."""
        return self._hexagon(self.on, self.frame, self.size.head.height, self.size.head.flats)

    @property
    def nut(self) -> Nut | None:
        """Its nut, for a tool, with what goes through it; None of one in a thread."""
        if self.back is None:
            return None
        height = self.size.nut.height + THROUGH * self.size.threads[0].pitch
        return self._hexagon(self.back.name, self.back.frame, height, self.size.nut.flats)

    @property
    def ends(self) -> tuple[Nut, ...]:
        """Its hexagons."""
        return (self.head,) if self.nut is None else (self.head, self.nut)

    @property
    def turned(self) -> Bolt | None:
        """The same bolt put in from the other side; None of one in a thread."""
        if self.back is None:
            return None
        back = Back(self.on, self.frame, self.back.things)
        return replace(self, on=self.back.name, frame=self.back.frame, back=back, holds=f"nut on {self.on}")

    def _hexagon(self, on: str, frame: Frame, height: float, flats: float) -> Nut:
        seat = self.size.washer.thickness
        return Nut(on, frame, seat + height, seat, self.size.tools, flats, hand_tools().socket)


@dataclass(frozen=True)
class Unsized:
    """A bolt of which no tool can be told. id: its flange and number; why: in words."""

    id: str
    why: str


def bolts(layout: Layout) -> Iterator[Bolt]:
    """Yield every bolt whose thread the tables have, flange by flange; of two flanges that lie on each other once."""
    for plate, number, hole in _holes(layout):
        size = _size(hole)
        if isinstance(size, Fastener):
            yield _bolt(f"{plate.id}, bolt {number}", plate, hole, size, layout)


def unsized(layout: Layout) -> Iterator[Unsized]:
    """Yield every bolt whose thread the tables have not."""
    for plate, number, hole in _holes(layout):
        size = _size(hole)
        if isinstance(size, str):
            yield Unsized(f"{plate.id}, bolt {number}", size)


def _holes(layout: Layout) -> Iterator[tuple[Plate, int, BoltHole]]:
    mated = {mate.id for mate in layout.mates.values()}
    for plate in layout.plates.values():
        if plate.id not in mated:
            for number, hole in enumerate(plate.part.holes(), start=1):
                yield plate, number, hole


def _size(hole: BoltHole) -> Fastener | str:
    """Return the size of a hole's bolt, or why there is none."""
    if not hole.bolts.thread:
        return "no thread is given"
    try:
        return fastener(hole.bolts.thread)
    except (UnitError, StockError):
        return f"no table has {hole.bolts.thread}"


def _bolt(mark: str, plate: Plate, hole: BoltHole, size: Fastener, layout: Layout) -> Bolt:
    frame = _bears(plate, hole, begun=plate.id.removeprefix("flange.") in layout.begun)
    stands = next((each.id for each in layout.envelopes if each.plate.id == plate.id), "")
    casting = "the head" if plate.id.removeprefix("flange.") in layout.headed else stands
    mate = layout.mates.get(plate.id)
    held = plate.part.held or ("thread" if casting and mate is None else "nut")
    washer = size.washer.thickness
    if held == "thread":
        engaged = ENGAGED * size.diameter
        where = casting or (mate.id if mate else "what it is bolted to")
        length = plate.thickness + washer + engaged
        return Bolt(mark, plate.id, frame, size, length, engaged, f"thread or stud in {where}")
    grip = plate.thickness + (mate or plate).thickness
    if mate:
        grip += abs(float((mate.start.origin - plate.end.origin) @ plate.start.axis))
    at = Frame(vector(frame.origin - grip * frame.axis), vector(-frame.axis), frame.ref)
    back = _back(plate, mate, at, casting, layout)
    length = grip + 2.0 * washer + size.nut.height + THROUGH * size.threads[0].pitch
    return Bolt(mark, plate.id, frame, size, length, 0.0, f"nut on {back.name}", back)


def _bears(plate: Plate, hole: BoltHole, *, begun: bool) -> Frame:
    """Return the frame in the middle of a hole, on the side where the pipes stand."""
    frame = plate.at(*hole.at)
    if begun:
        return frame
    return Frame(vector(frame.origin - plate.thickness * frame.axis), vector(-frame.axis), frame.ref)


def _back(plate: Plate, mate: Plate | None, at: Frame, casting: str, layout: Layout) -> Back:
    """Return what a nut bears on at a frame: a flange of the file, that of a casting, or one like the bolt's own."""
    if mate:
        return Back(mate.id, at)
    if casting:
        return Back(f"the flange of {casting}", at)
    things = []
    for run in layout.runs.values():
        if run.flange and run.flange.id == plate.id:
            far = plate.end.advanced(plate.thickness)
            foot = run.end.origin + float((far.origin - run.end.origin) @ far.axis) * far.axis
            radius = run.pieces[-1].leaves.r_out
            things.append(Obstacle("the pipe beyond", Rod(vector(foot), vector(foot + BEYOND * far.axis), radius)))
    return Back("a flange like it", at, tuple(things))


def hexagons(found: tuple[Bolt, ...]) -> tuple[Obstacle, ...]:
    """Return the heads and nuts of bolts, with their washers, as what tools may meet; each bears its bolt's name."""
    return tuple(Obstacle(bolt.id, Union(tuple(_hexagon(end, bolt.size)))) for bolt in found for end in bolt.ends)


def _hexagon(end: Nut, size: Fastener) -> Iterator[Rod]:
    for low, high, across in ((0.0, end.seat, size.washer.outside), (end.seat, end.lift, size.head.corners)):
        yield Rod(end.frame.advanced(low).origin, end.frame.advanced(high).origin, 0.5 * across)
