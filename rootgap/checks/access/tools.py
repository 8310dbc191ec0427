"""Tools on a hexagon: what room each takes, and whether it has it.

Terminology: a *column* is what a socket, its extension and a ratchet's head fill along the bolt's axis, and what the
socket needs besides to be lifted off; the *swing* is how far the handle, with the hand on it, can be turned.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rootgap.checks.access.obstacles import Space
from rootgap.geometry.distance import Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.swinging import Bar, widest_swing
from rootgap.stock.fasteners import Tools
from rootgap.stock.handtools import hand_tools

#: More room than this, mm, is not told.
TOLD = 10.0
#: Any swing at all is enough for a tool that only holds, degrees.
HOLDING = 1.0


@dataclass(frozen=True)
class Nut:
    """A hexagon to be turned. on: the plate under it, which only a tool's handle can meet, "" for none; frame: on what
    it bears on, axis away from the plate; lift: its height with the washer's, mm; seat: washer's
    thickness, mm; tools: what turns it; flats: mm; socket: length of its socket, mm."""

    on: str
    frame: Frame
    lift: float
    seat: float
    tools: Tools
    flats: float
    socket: float


@dataclass(frozen=True)
class Try:
    """How a tool fares. tool: its name; works; room: least distance round its column, mm; swing: degrees that it has;
    needs: degrees; blocks: what is in the way, or nearest, "" for nothing; extension: of a socket, mm, None of
    a spanner."""

    tool: str
    works: bool
    room: float
    swing: float
    needs: float
    blocks: str
    extension: float | None = None

    @property
    def told(self) -> str:
        """What keeps it from working, in a few words."""
        if self.works:
            return ""
        if self.room < 0.0:
            return f"{self.tool}: {self.blocks} is {-self.room:.1f} mm in the way"
        return f"{self.tool}: swings {self.swing:.0f} of {self.needs:.0f} deg beside {self.blocks}"


def tries(nut: Nut, space: Space, *, spanners: bool = True) -> Iterator[Try]:
    """Yield how each tool fares, the handiest first: a socket on ever longer extensions, then spanners."""
    table = hand_tools()
    for extension in table.extensions:
        yield with_socket(nut, extension, space)
    if spanners:
        yield with_spanner(nut, "ring spanner", nut.tools.ring, table.ring_swing, space)
        yield with_spanner(nut, "open spanner", nut.tools.open, table.open_swing, space)


def holds(nut: Nut, space: Space) -> Iterator[Try]:
    """Yield how each tool fares that only holds a hexagon while its other end is turned, the handiest first."""
    yield with_spanner(nut, "ring spanner", nut.tools.ring, HOLDING, space)
    yield with_spanner(nut, "open spanner", nut.tools.open, HOLDING, space)
    for extension in hand_tools().extensions:
        yield with_socket(nut, extension, space, HOLDING)


def first_of(tried: Iterator[Try]) -> tuple[Try, ...]:
    """Return tries up to the first that works."""
    found: list[Try] = []
    for each in tried:
        found.append(each)
        if each.works:
            break
    return tuple(found)


def column(nut: Nut, extension: float) -> tuple[Rod, ...]:
    """Return the rods of a socket on an extension, mm, of a ratchet's head on that, and of its lift off the nut."""
    table = hand_tools()
    base = nut.seat
    rods = [_rod(nut.frame, base, base + nut.socket + nut.lift, 0.5 * nut.tools.socket)]
    top = base + nut.socket + extension
    if extension:
        rods.append(_rod(nut.frame, base + nut.socket, top + nut.lift, 0.5 * table.extension))
    rods.append(_rod(nut.frame, top, top + table.ratchet_height + nut.lift, 0.5 * table.ratchet_head))
    return tuple(rods)


def with_socket(nut: Nut, extension: float, space: Space, needs: float | None = None) -> Try:
    """Return how a socket on an extension of so many mm fares, which must turn through `needs` degrees: where None,
    its ratchet's least."""
    table = hand_tools()
    needs = table.ratchet_swing if needs is None else needs
    name = f"socket, {extension:.0f} mm extension" if extension else "socket"
    room, blocks = _least(column(nut, extension), space.without(nut.on))
    if room < 0.0:
        return Try(
            name,
            works=False,
            room=room,
            swing=0.0,
            needs=needs,
            blocks=blocks,
            extension=extension,
        )
    height = nut.seat + nut.socket + extension + 0.5 * table.ratchet_height
    held = table.ratchet_reach - table.hand_length
    bar = Bar.of(0.5 * table.ratchet_head, held, 0.5 * table.ratchet_handle)
    bar = bar.and_(Bar.of(held, table.ratchet_reach, 0.5 * table.hand))
    swung = _swung(name, nut.frame.advanced(height), bar, needs, room, blocks, space)
    return replace(swung, extension=extension)


def with_spanner(nut: Nut, name: str, across: float, needs: float, space: Space) -> Try:
    """Return how a spanner `across` mm over its end fares, which must turn through `needs` degrees."""
    table = hand_tools()
    end = _rod(nut.frame, nut.seat, nut.seat + table.spanner_height + nut.lift, 0.5 * across)
    room, blocks = _least((end,), space.without(nut.on))
    if room < 0.0:
        return Try(name, works=False, room=room, swing=0.0, needs=needs, blocks=blocks)
    reach = table.spanner * nut.flats
    bar = Bar.of(0.5 * across, reach - table.finger, 0.5 * table.spanner_shank)
    bar = bar.and_(Bar.of(reach - table.finger, reach, 0.5 * table.finger))
    # A ring's shank is cranked, and fingers take the end from above: the bar lies clear of the plate by its own half.
    height = nut.seat + 0.5 * table.spanner_height + 0.5 * table.finger
    return _swung(name, nut.frame.advanced(height), bar, needs, room, blocks, space)


def _swung(name: str, at: Frame, bar: Bar, needs: float, room: float, blocks: str, space: Space) -> Try:
    reach = float((bar.reach + bar.radius).max())
    near = space.near(at.origin, reach)
    swing = widest_swing(at, bar, [thing.body for thing in near])
    works = swing.angle >= needs
    if not works and swing.blocks is not None:
        blocks = near[swing.blocks].name
    return Try(name, works=works, room=room, swing=swing.angle, needs=needs, blocks=blocks)


def _least(rods: tuple[Rod, ...], space: Space) -> tuple[float, str]:
    """Return the least room, mm, round any of `rods`, told up to `TOLD`, and what allows no more."""
    least, blocks = TOLD, ""
    for rod in rods:
        room, nearest = space.room(rod, enough=min(least, TOLD))
        if room < least:
            least, blocks = room, nearest
    return least, blocks


def _rod(frame: Frame, low: float, high: float, radius: float) -> Rod:
    return Rod(frame.advanced(low).origin, frame.advanced(high).origin, radius)
