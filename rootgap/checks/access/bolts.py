"""Can every bolt of a flange be turned, its other end held, and can it be got in and out?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from rootgap.checks.access.bolting import ENGAGED, THROUGH, Bolt, Unsized, bolts, hexagons
from rootgap.checks.access.obstacles import Space
from rootgap.checks.access.tools import Nut, Try, first_of, holds, tries
from rootgap.checks.finding import Finding, Verdict, at_least
from rootgap.geometry.distance import HalfSpace, Rod
from rootgap.layout import Layout
from rootgap.stock.handtools import hand_tools

#: How close, mm, the room in which a bolt can move is found.
_CLOSE = 0.1
SOURCE = "common practice, no source: hand tools as measured"


@dataclass(frozen=True)
class BoltAccess:
    """How a bolt is come at. tries: of each tool up to the first that works; held: the same of what holds the other
    end, none of one in a thread; nut: whether it is the nut that is turned; before: what must not be in place yet for
    it to be turned, "" where nothing is; travel: how far it can be drawn out, mm, with everything in place; blocks:
    what stops it then, "" where nothing does."""

    bolt: Bolt
    tries: tuple[Try, ...]
    held: tuple[Try, ...]
    nut: bool
    before: str
    travel: float
    blocks: str

    @property
    def best(self) -> Try:
        """The tool that turns it, or comes nearest to it."""
        return _best(self.tries)

    @property
    def holder(self) -> Try | None:
        """The tool that holds its other end, or comes nearest to it; None where a thread does."""
        return _best(self.held) if self.held else None

    @property
    def works(self) -> bool:
        """Whether it can be turned and held at once."""
        return _work(self.tries, self.held)

    @property
    def turned(self) -> Nut:
        """The hexagon that is turned."""
        return self.bolt.nut if self.nut and self.bolt.nut else self.bolt.head

    @property
    def still(self) -> Nut | None:
        """The hexagon that is held; None where a thread holds."""
        return self.bolt.head if self.nut else self.bolt.nut

    @property
    def stopper(self) -> str:
        """What keeps it from being turned and held, "" where nothing does."""
        if self.works:
            return ""
        return self.best.blocks if not self.best.works else self.holder.blocks if self.holder else ""

    @property
    def verdict(self) -> Verdict:
        """The worst of what is found of it."""
        found = {finding.verdict for finding in bolt_findings((self,))}
        return "fail" if "fail" in found else "warn" if "warn" in found else "pass"


def _best(tried: Sequence[Try]) -> Try:
    return max(tried, key=lambda each: (each.works, min(each.room, 0.0), each.swing / each.needs))


def _work(turned: Sequence[Try], held: Sequence[Try]) -> bool:
    return turned[-1].works and (not held or held[-1].works)


def bolt_access(layout: Layout, space: Space) -> tuple[BoltAccess, ...]:
    """Return how every bolt is come at among all that stands in `space`, and the others' heads and nuts."""
    found = tuple(bolts(layout))
    space = Space((*space.things, *hexagons(found)))
    return tuple(come_at(bolt, layout, space.without(bolt.id)) for bolt in found)


def come_at(bolt: Bolt, layout: Layout, space: Space) -> BoltAccess:
    """Return how a bolt is come at; one with a nut put in from the side that does better, this one first."""
    ways = [_put_in(bolt, layout, space)]
    if bolt.turned and ways[0].verdict != "pass":
        ways.append(_put_in(bolt.turned, layout, space))
    rank = {"pass": 2, "warn": 1, "fail": 0}
    return max(ways, key=lambda way: (rank[way.verdict], way.works))


def _put_in(bolt: Bolt, layout: Layout, space: Space) -> BoltAccess:
    found = _tried(bolt, space)
    before = ""
    if not _work(*found[:2]):
        for gone in _later(bolt, layout):
            again = _tried(bolt, space.without(*gone))
            if _work(*again[:2]):
                found, before = again, gone[-1]
                break
    return BoltAccess(bolt, *found, before, *drawn_out(bolt, space))


def _later(bolt: Bolt, layout: Layout) -> Iterator[tuple[str, ...]]:
    """Yield what may go on only after a bolt is tightened: what is clamped on an envelope, and the whole of it, but of
    none that this bolt itself holds."""
    holding = {bolt.on, bolt.back.name if bolt.back else ""}
    for envelope in layout.envelopes:
        off = [each.id for each in envelope.clamped]
        yield from (tuple(off[:count]) for count in range(1, len(off) + 1))
        if envelope.plate.id not in holding:
            yield (*off, envelope.id)


def _tried(bolt: Bolt, space: Space) -> tuple[tuple[Try, ...], tuple[Try, ...], bool]:
    """Return the tries at turning, up to the first that works, those at holding, and whether the nut is turned: of a
    head that no tool turns while another one holds the nut."""
    head = _over(bolt.head, space)
    turning = first_of(tries(bolt.head, head))
    if bolt.nut is None or bolt.back is None:
        return turning, (), False
    behind = _over(bolt.nut, Space((*space.things, *bolt.back.things)))
    holding = first_of(holds(bolt.nut, behind))
    if not _work(turning, holding):
        other = first_of(tries(bolt.nut, behind)), first_of(holds(bolt.head, head))
        if _work(*other):
            return *other, True
    return turning, holding, False


def _over(hexagon: Nut, space: Space) -> Space:
    """Return the space over what a hexagon bears on: all of that lies behind a plane, which is much quicker."""
    return space.standing_on(hexagon.on, HalfSpace(hexagon.frame.origin, hexagon.frame.axis))


def drawn_out(bolt: Bolt, space: Space) -> tuple[float, str]:
    """Return how far, mm, a bolt can be drawn out along its axis, up to its length, and what stops it, "" where
    nothing does."""
    radius = 0.5 * bolt.size.head.corners
    low = bolt.size.washer.thickness

    def swept(travel: float) -> Rod:
        high = low + bolt.size.head.height + travel
        return Rod(bolt.frame.advanced(low).origin, bolt.frame.advanced(high).origin, radius)

    space = space.without(bolt.on)
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
    """Yield, for each bolt, whether tools turn and hold it, and whether it comes out."""
    for access in found:
        bolt = access.bolt
        yield at_least(
            "bolt access",
            bolt.id,
            float(access.works and not access.before),
            1.0,
            "ways",
            f"{SOURCE}; a ratchet swings {hand_tools().ratchet_swing:g} deg, a ring {hand_tools().ring_swing:g}, an "
            f"open spanner {hand_tools().open_swing:g}",
            "common practice, no source",
            _cure(access),
            "warn" if access.before else "fail",
        )
        held = access.travel < max(bolt.engaged, _CLOSE)
        through = f"{THROUGH:g} turns through its nut" if bolt.back else f"{ENGAGED:g} diameters of thread"
        yield at_least(
            "bolt withdrawal",
            bolt.id,
            float(np.floor(10.0 * access.travel) / 10.0),
            np.floor(10.0 * bolt.length) / 10.0,
            "mm",
            f"worked out: what it goes through, washers and {through} (common practice, no source)",
            "common practice, no source",
            f"it cannot be screwed in past {access.blocks}: use a stud, or a shorter bolt"
            if held
            else f"put it in its hole before the part goes on: {access.blocks} is in its way",
            "fail" if held else "warn",
        )


def _cure(access: BoltAccess) -> str:
    if access.before:
        return f"tighten it before {access.before} is on ({access.best.tool})"
    if not access.best.works:
        told = f"no tool turns it ({access.best.told})"
    else:
        end = "head" if access.nut else "nut"
        told = f"no tool holds its {end} ({access.holder.told if access.holder else ''})"
    return f"{told}; move the bolt, or what is in its way"


def unsized_findings(found: Sequence[Unsized]) -> Iterator[Finding]:
    """Yield, for each bolt whose size is not known, that nothing can be told of it."""
    for bolt in found:
        yield at_least(
            "bolt size",
            bolt.id,
            0.0,
            1.0,
            "sizes",
            "the tables of threads",
            "the parameter file",
            f'{bolt.why}, so that no tool is tried on it: give its [[bolts]] a thread, such as thread = "M8"',
            "warn",
        )
