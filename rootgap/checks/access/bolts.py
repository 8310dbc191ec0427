"""Can every bolt of a flange be turned, and got in and out?

Bolts stand on the side of a flange where its pipes do, and point away from the head or from what stands on the flange.
A bolt is as long as the plate and its washer are thick, and goes 1.5 diameters into what holds it (common practice, no
source).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rootgap.checks.access.obstacles import Space
from rootgap.checks.access.tools import Nut, Try, tries
from rootgap.checks.finding import Finding, at_least
from rootgap.errors import StockError, UnitError
from rootgap.geometry.distance import HalfSpace, Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.layout import Layout, Plate
from rootgap.spec.part import BoltHole
from rootgap.stock import Fastener, fastener
from rootgap.stock.handtools import hand_tools

#: How far a bolt goes into what holds it, in diameters (common practice, no source).
ENGAGED = 1.5
#: How close, mm, the room in which a bolt can move is found.
_CLOSE = 0.1
SOURCE = "common practice, no source: hand tools as measured"


@dataclass(frozen=True)
class Bolt:
    """One bolt. id: its flange and number; plate: its flange's mark; frame: on the flange where it bears, axis out;
    size: from the tables; length: under its head, engaged: of that in what holds it, mm."""

    id: str
    plate: str
    frame: Frame
    size: Fastener
    length: float
    engaged: float

    @property
    def nut(self) -> Nut:
        """Its head, for a tool."""
        lift = self.size.washer.thickness + self.size.head.height
        seat = self.size.washer.thickness
        return Nut(self.plate, self.frame, lift, seat, self.size.tools, self.size.head.flats, hand_tools().socket)


@dataclass(frozen=True)
class BoltAccess:
    """How a bolt is come at. tries: of each tool up to the first that works; before: what must not be in place yet for
    it to be turned, "" where nothing is; travel: how far it can be drawn out, mm, with everything in place; blocks:
    what stops it then, "" where nothing does."""

    bolt: Bolt
    tries: tuple[Try, ...]
    before: str
    travel: float
    blocks: str

    @property
    def best(self) -> Try:
        """The tool that works, or comes nearest to it."""
        return max(self.tries, key=lambda each: (each.works, min(each.room, 0.0), each.swing / each.needs))


def bolts(layout: Layout) -> Iterator[Bolt]:
    """Yield every bolt whose thread the tables have, flange by flange."""
    for plate in layout.plates.values():
        begun = plate.id.removeprefix("flange.") in layout.begun
        for number, hole in enumerate(plate.part.holes(), start=1):
            try:
                size = fastener(hole.bolts.thread)
            except (UnitError, StockError):
                continue
            engaged = ENGAGED * size.diameter
            length = plate.thickness + size.washer.thickness + engaged
            yield Bolt(f"{plate.id}, bolt {number}", plate.id, _bears(plate, hole, begun=begun), size, length, engaged)


def _bears(plate: Plate, hole: BoltHole, *, begun: bool) -> Frame:
    """Return the frame in the middle of a hole, on the side where the pipes stand."""
    frame = plate.at(*hole.at)
    if begun:
        return frame
    return Frame(vector(frame.origin - plate.thickness * frame.axis), vector(-frame.axis), frame.ref)


def bolt_access(layout: Layout, space: Space) -> tuple[BoltAccess, ...]:
    """Return how every bolt is come at among all that stands in `space`."""
    return tuple(_come_at(bolt, layout, space) for bolt in bolts(layout))


def _come_at(bolt: Bolt, layout: Layout, space: Space) -> BoltAccess:
    # All of it lies on one side of the plate's face, which is then much quicker than the plate itself.
    space = space.standing_on(bolt.plate, HalfSpace(bolt.frame.origin, bolt.frame.axis))
    found = _tried(bolt, space)
    before = ""
    if not found[-1].works:
        # What stands on another flange may go on later; what this bolt itself holds may not.
        for envelope in layout.envelopes:
            if envelope.plate.id != bolt.plate:
                again = _tried(bolt, space.without(envelope.id))
                if again[-1].works:
                    found, before = again, envelope.id
                    break
    return BoltAccess(bolt, found, before, *drawn_out(bolt, space))


def _tried(bolt: Bolt, space: Space) -> tuple[Try, ...]:
    """Return the tries of each tool, up to the first that works."""
    found: list[Try] = []
    for each in tries(bolt.nut, space):
        found.append(each)
        if each.works:
            break
    return tuple(found)


def drawn_out(bolt: Bolt, space: Space) -> tuple[float, str]:
    """Return how far, mm, a bolt can be drawn out along its axis, up to its length, and what stops it, "" where
    nothing does."""
    radius = 0.5 * bolt.size.head.corners
    low = bolt.size.washer.thickness

    def swept(travel: float) -> Rod:
        high = low + bolt.size.head.height + travel
        return Rod(bolt.frame.advanced(low).origin, bolt.frame.advanced(high).origin, radius)

    space = space.without(bolt.plate)
    room, blocks = space.room(swept(bolt.length), enough=0.0)
    if room >= 0.0:
        return bolt.length, ""
    clear, met = 0.0, bolt.length
    while met - clear > _CLOSE:
        middle = 0.5 * (clear + met)
        room, nearest = space.room(swept(middle), enough=0.0)
        if room >= 0.0:
            clear = middle
        else:
            met, blocks = middle, nearest
    return clear, blocks


def bolt_findings(found: Sequence[BoltAccess]) -> Iterator[Finding]:
    """Yield, for each bolt, whether a tool turns it, and whether it comes out."""
    for access in found:
        bolt, best = access.bolt, access.best
        works = sum(each.works for each in access.tries)
        yield at_least(
            "bolt access",
            bolt.id,
            float(works if not access.before else 0),
            1.0,
            "ways",
            f"{SOURCE}; a ratchet swings {hand_tools().ratchet_swing:g} deg, a ring {hand_tools().ring_swing:g}, an "
            f"open spanner {hand_tools().open_swing:g}",
            "common practice, no source",
            f"tighten it before {access.before} is on ({best.tool})"
            if access.before
            else f"no tool turns it ({best.told}); move the bolt, or what is in its way",
            "warn" if access.before else "fail",
        )
        held = access.travel < bolt.engaged
        yield at_least(
            "bolt withdrawal",
            bolt.id,
            float(np.floor(10.0 * access.travel) / 10.0),
            np.floor(10.0 * bolt.length) / 10.0,
            "mm",
            f"worked out: plate, washer and {ENGAGED:g} diameters of thread (common practice, no source)",
            "common practice, no source",
            f"it cannot be screwed in past {access.blocks}: use a stud, or a shorter bolt"
            if held
            else f"put it in its hole before the part goes on: {access.blocks} is in its way",
            "fail" if held else "warn",
        )
