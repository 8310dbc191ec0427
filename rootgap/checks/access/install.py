"""Can the finished part, and what stands on it, be got in past what is there, and in which order?

Terminology
    unit        what is welded into one, what stands on a flange, or what is clamped on that: it goes in as a whole
    way         straight on, or straight on and then another way: found backwards, from in place to out
    contact     where two units, or a unit and a head, lie on each other: a plane between them that they part at
    lift        how far a unit must first go square off a contact, mm: the height of a pilot, or a sleeve's overlap

What goes out goes in by the same way back; the last unit out is the first in.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.access.obstacles import Boxed, Cloud, Obstacle, Space
from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import cover_of
from rootgap.geometry.directions import evenly
from rootgap.geometry.distance import Body, Prism, Rod
from rootgap.geometry.frames import unit, vector
from rootgap.geometry.skins import Skin
from rootgap.geometry.sweeping import FINE, LEAST_STEP, Cells, swept
from rootgap.joints import Clamp, Joint, Slip
from rootgap.layout import Envelope, Hull, Layout, Plate

Array = NDArray[np.float64]

#: Directions over the whole sphere that are tried first, and for the second stage of a way.
FIRST, SECOND = 200, 60
#: Stages of a way's first part, as shares of how far it can go; how many first directions are followed up, and how far
#: apart they are at least, degrees.
SHARES, FOLLOWED, APART = (0.95, 0.6, 0.3), 4, 25.0
#: Angles, degrees, by which the best direction is leant to better it.
LEANS = (14.0, 7.0, 3.5)
#: More room than this, mm, is not looked for; how closely it is found; nothing comes from farther than `MOST`.
ROOM, CLOSE, MOST = 15.0, 0.5, 2000.0
#: How far, mm, chords may lie from a flange's edge.
_CHORD = 0.5
#: Far enough that a body's extent is its distance from there, mm; larger than any engine bay, mm.
_FAR, _ENDLESS = 1e7, 3000.0
#: A contact's parts may overlap by so much, mm, of roundoff and of gaskets left out.
_TOUCH = 0.2
#: How closely, mm, it is found how far a thing gets where it does not get out.
ROUGH = 3.0
#: Of so many points one is asked at so many places, before all are.
_SOME, _PLACES = 5, 12
#: How deep a head is taken to be behind its flange, mm (common practice, no source: it is there, whatever else is).
HEAD = 300.0
#: How high a stud stands over what it holds, mm: a washer, a nut, two threads (common practice, no source).
STUD = 15.0
#: What is noted of a way that studs would bar.
BARE = "with its bolts out; studs would hold it"
#: A direction so nearly in a contact's plane, no unit, counts as in it.
_SQUARE = 1e-9


#: How the names of what stands on flanges begin.
STANDING = ("turbo.", "wastegate.")
#: How the names of what is clamped on them end.
CLAMPED = ("-air", "-filter")


@dataclass(frozen=True, eq=False)
class Contact:
    """Where a unit lies on something. mine, other: what lies there, by name; point: (3,), mm, normal: (3,), unit, of
    the plane between, towards the unit; lift: mm; studs: whether it is studs, where there are any, that ask for it."""

    mine: str
    other: str
    point: Array
    normal: Array
    lift: float = 0.0
    studs: bool = False


@dataclass(frozen=True, eq=False)
class Unit:
    """What goes in as a whole. name: of its first run, its envelope or what is clamped on that; things: its bodies;
    contacts: with the rest; after: names of what comes off it first; note: what else there is to say of its step."""

    name: str
    things: tuple[Obstacle, ...]
    contacts: tuple[Contact, ...]
    after: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Stage:
    """One straight move. direction: unit vector in the engine frame; length: mm."""

    direction: tuple[float, float, float]
    length: float


@dataclass(frozen=True)
class Way:
    """How a unit comes out. clear; stages; room: that it keeps at least, mm; reach: how far it gets, mm, and blocks:
    what stops it, "" where nothing does; takes: names of what goes out on it, for it cannot come off before; note: as
    its unit's."""

    unit: str
    clear: bool
    stages: tuple[Stage, ...]
    room: float
    reach: float
    blocks: str
    takes: tuple[str, ...] = ()
    note: str = ""


def units(layout: Layout, joints: Sequence[Joint], space: Space) -> tuple[Unit, ...]:
    """Return what goes in as a whole: pieces that welds hold together, each envelope, and what is clamped on that."""
    welded = _welded(layout, joints)
    things = {thing.name: thing for thing in space.things}
    found = []
    for marks in welded:
        mine = tuple(things[mark] for mark in marks if mark in things)
        if mine:
            stands = tuple(envelope.id for envelope in layout.envelopes if envelope.plate.id in marks)
            contacts = tuple(_contacts(layout, joints, marks))
            found.append(Unit(_name(layout, marks, len(welded)), mine, contacts, stands))
    for envelope in layout.envelopes:
        face = envelope.plate.end
        contact = Contact(envelope.foot.id, envelope.plate.id, face.origin, face.axis)
        mine = tuple(things[hull.id] for hull in envelope.hulls if not hull.off and hull.bore is None)
        shells = tuple(half for hull in envelope.hulls if hull.bore is not None for half in _halves(envelope, hull))
        before = (*envelope.units[1:], *(half.name for half in shells))
        found += [Unit(envelope.id, mine, (contact,), before), *reversed(shells)]
        # Off in the order in which they are given: what is written last goes first.
        for index, each in reversed(tuple(enumerate(envelope.clamped))):
            mine = tuple(things[hull.id] for hull in envelope.hulls if hull.off == each.id)
            contact = Contact(mine[0].name, each.on, each.mouth.origin, each.mouth.axis)
            before = tuple(other.id for other in envelope.clamped[:index])
            found.append(Unit(each.id, mine, (contact,), before, "then its clamp"))
    return tuple(found)


def _halves(envelope: Envelope, shield: Hull) -> Iterator[Unit]:
    """Yield the two halves of a shield round a housing: they part in the plane of the shaft and the foot, and are first
    drawn off the housing square to that."""
    body, foot = shield.body, envelope.foot.body
    if not isinstance(body, Rod) or not isinstance(foot, Rod):
        return
    shaft = unit(body.end - body.start)
    off = unit(np.cross(shaft, foot.end - foot.start))
    covered = [hull.id for hull in envelope.hulls if hull is not shield and not hull.off]
    names = f"{shield.id}.1", f"{shield.id}.2"
    for name, other, way in zip(names, reversed(names), (off, -off), strict=True):
        cover = cover_of(_half_skin(body, way))
        contacts = tuple(Contact(name, mark, body.start, way, body.radius) for mark in (*covered, other))
        yield Unit(name, (Obstacle(name, Cloud(cover), cover, name),), contacts)


def _half_skin(rod: Rod, way: Array) -> Skin:
    """Return a map over the half of a rod's side that lies in the direction `way`, (3,), unit."""
    length = float(np.linalg.norm(rod.end - rod.start))
    across = np.cross(unit(rod.end - rod.start), way)

    def points(u: Array, v: Array) -> Array:
        clock = np.pi * (u - 0.5)
        radial = np.cos(clock)[:, None] * way + np.sin(clock)[:, None] * across
        return np.asarray(rod.start + rod.radius * radial + (length * v)[:, None] * unit(rod.end - rod.start))

    return points


def _welded(layout: Layout, joints: Sequence[Joint]) -> list[tuple[str, ...]]:
    """Return the marks of the pieces that welds hold together, group by group, in the layout's order."""
    group = {piece.id: index for index, piece in enumerate(layout.pieces())}
    for joint in joints:
        pair = joint.joined[1:] if isinstance(joint, Slip) else () if isinstance(joint, Clamp) else joint.joined
        known = [mark for mark in pair if mark in group]
        for mark in known[1:]:
            old, new = group[mark], group[known[0]]
            group = {each: new if number == old else number for each, number in group.items()}
    groups: dict[int, list[str]] = {}
    for mark, number in group.items():
        groups.setdefault(number, []).append(mark)
    return [tuple(marks) for marks in groups.values()]


def _name(layout: Layout, marks: Sequence[str], count: int) -> str:
    """Return what a welded unit is called: the manifold where it is alone, else by its flange or its first run."""
    if count == 1:
        return "the manifold"
    run = next((piece.run for piece in layout.members.values() if piece.id in marks), marks[0])
    return f"the part with {run}"


def _contacts(layout: Layout, joints: Sequence[Joint], marks: Sequence[str]) -> Iterator[Contact]:
    """Yield the contacts of a welded unit: with heads, with what stands on its flanges, and with other units."""
    for name in layout.headed:
        plate = layout.plates[name]
        if plate.id in marks:
            stud = plate.length + STUD
            yield Contact(plate.id, _head_name(plate), plate.start.origin, plate.start.axis, stud, studs=True)
    for envelope in layout.envelopes:
        if envelope.plate.id in marks:
            face = envelope.plate.end
            yield Contact(envelope.plate.id, envelope.foot.id, face.origin, vector(-face.axis))
    yield from _bolted(layout, marks)
    yield from _clamped(joints, marks)


def _bolted(layout: Layout, marks: Sequence[str]) -> Iterator[Contact]:
    """Yield the contacts of flanges that lie on those of other units."""
    for plate in layout.plates.values():
        mate = layout.mates.get(plate.id)
        if mate and plate.id in marks and mate.id not in marks:
            yield Contact(plate.id, mate.id, plate.end.origin, vector(-plate.end.axis))
        elif mate and mate.id in marks and plate.id not in marks:
            yield Contact(mate.id, plate.id, mate.start.origin, mate.start.axis)


def _clamped(joints: Sequence[Joint], marks: Sequence[str]) -> Iterator[Contact]:
    """Yield the contacts at clamps and slip joints."""
    for joint in joints:
        if isinstance(joint, Clamp):
            pilot = joint.part.pilot
            pair, point, lift = (joint.before, joint.after), joint.frame.origin, pilot.height if pilot else 0.0
        elif isinstance(joint, Slip):
            pair, point, lift = (joint.before, joint.sleeve), joint.frame.origin, joint.overlap
        else:
            continue
        if pair[0] in marks and pair[1] not in marks:
            yield Contact(pair[0], pair[1], point, vector(-joint.frame.axis), lift)
        elif pair[1] in marks and pair[0] not in marks:
            yield Contact(pair[1], pair[0], point, joint.frame.axis, lift)


def heads(layout: Layout) -> Iterator[Obstacle]:
    """Yield what each head is at least: a box behind the one round the flange that bolts to it."""
    for name in layout.headed:
        plate = layout.plates[name]
        behind = plate.start.advanced(-HEAD)
        for edge in plate.outlines:
            yield Obstacle(_head_name(plate), Boxed.of(Prism(behind, edge.points(_CHORD), (), HEAD)).box)


def _head_name(plate: Plate) -> str:
    return f"the head under {plate.id}"


def order_out(layout: Layout, joints: Sequence[Joint], space: Space) -> tuple[Way, ...]:
    """Return how each unit comes out, in an order that works; those that never do come last, as far as they get.

    What can go out goes out: fewer things in the way never stop another, so no other order does better.
    """
    install = layout.access.install
    space = space.without(*(f"keepout.{name}" for name in install.removed))
    waiting = list(units(layout, joints, space))
    # A shield comes off in halves.
    whole = {hull.id for envelope in layout.envelopes for hull in envelope.hulls if hull.bore is not None}
    halves = [thing for each in waiting for thing in each.things if thing.name.rpartition(".")[0] in whole]
    space = Space((*space.without(*whole).things, *halves, *heads(layout)))
    # What is clamped on first, shields, what stands on a flange, then what was written last.
    waiting.reverse()
    out: list[Way] = []
    stuck: dict[str, Way] = {}
    while waiting:
        gone = first_out(waiting, space, layout, stuck)
        if not gone:
            break
        out.append(stuck[gone[0].name])
        waiting = [each for each in waiting if each not in gone]
        space = space.without(*(thing.name for each in gone for thing in each.things))
    return (*out, *(stuck[each.name] for each in waiting))


def first_out(waiting: Sequence[Unit], space: Space, layout: Layout, found: dict[str, Way]) -> tuple[Unit, ...]:
    """Return the first of what waits that comes out, with what goes out on it; none where nothing does. found: filled
    with how each fares, by name.

    What should come off first, and cannot, goes out with what it is on.
    """
    install, names = layout.access.install, {each.name for each in waiting}
    alone = [(each,) for each in waiting if not names & set(each.after)]
    laden = [(each, *dict.fromkeys(_on(each, waiting))) for each in waiting if names & set(each.after)]
    for first, *others in (*alone, *laden):
        whole = replace(first, things=tuple(thing for each in (first, *others) for thing in each.things))
        way = way_out(whole, space, install.room, install.travel)
        found[first.name] = replace(way, takes=tuple(other.name for other in others), note=first.note or way.note)
        if way.clear:
            return first, *others
    return ()


def _on(under: Unit, waiting: Sequence[Unit]) -> Iterator[Unit]:
    """Yield what waits that should come off a unit first, and off that, and so on."""
    for each in waiting:
        if each.name in under.after:
            yield each
            yield from _on(each, waiting)


def way_out(unit_: Unit, space: Space, room: float, travel: float | None = None) -> Way:
    """Return the way out of a unit among what else stands in `space`, that keeps `room` mm from it, or how far it
    gets. travel: how far it must come, mm; where None, past everything that has an end.

    Off studs first; where it does not come off those, without them, and that is noted."""
    way = _way_out(unit_, space, room, travel)
    if way.clear or not any(contact.studs for contact in unit_.contacts):
        return way
    contacts = tuple(replace(contact, lift=0.0) if contact.studs else contact for contact in unit_.contacts)
    bare = _way_out(replace(unit_, contacts=contacts), space, room, travel)
    return replace(bare, note=BARE) if bare.clear else way


def _way_out(unit_: Unit, space: Space, room: float, travel: float | None) -> Way:
    """Return what `way_out` does, of the unit's contacts as they are."""
    others = space.without(*(thing.name for thing in unit_.things)).things
    there = {thing.name for thing in others}
    # What has gone out before is lain on no more.
    lying = tuple(contact for contact in unit_.contacts if contact.other in there)
    unit_ = replace(unit_, contacts=lying)
    moving, lifted = _Moving(unit_, others, room, travel, np.zeros(3)).lifted()
    if lifted is not None and not lifted.clear:
        return lifted
    first = () if lifted is None else lifted.stages
    way = moving.straight(first) or moving.staged(first)
    return way or moving.farthest(first)


@dataclass(frozen=True, eq=False)
class _Moving:
    """A unit on its way. others: bodies that stay; room: to keep, mm; travel: wanted, mm; by: (3,), mm, how far it has
    been moved."""

    unit: Unit
    others: tuple[Obstacle, ...]
    room: float
    travel: float | None
    by: Array

    @cached_property
    def cells(self) -> Cells:
        """The skins of all its things, where they are."""
        return Cells.over([thing.cover.skin for thing in self.things if thing.cover is not None]).moved(self.by)

    @property
    def things(self) -> tuple[Obstacle, ...]:
        """Its bodies, each with a skin."""
        return tuple(thing for thing in self.unit.things if thing.cover is not None)

    def after(self, by: Array) -> _Moving:
        """Return it moved on by `by`, (3,), mm."""
        return replace(self, by=self.by + by)

    @cached_property
    def parted(self) -> Mapping[str, tuple[tuple[Array, NDArray[np.bool_]], ...]]:
        """By the other's name: for each contact's plane that it lies behind, the plane's normal, (3,), and which of the
        own things lie before it, (n,): going that way, those never meet it."""
        found: dict[str, list[tuple[Array, NDArray[np.bool_]]]] = {}
        for contact in self.unit.contacts:
            normal, level = contact.normal, float(contact.point @ contact.normal)
            lowest = np.array([-_support(thing.body, -normal) for thing in self.things])
            before = lowest + self.by @ normal > level - _TOUCH
            for other in self.others:
                if _support(other.body, normal) < level + _TOUCH:
                    found.setdefault(other.name, []).append((normal, before))
        return {name: tuple(planes) for name, planes in found.items()}

    @cached_property
    def ball(self) -> tuple[Array, float]:
        """The middle, (3,), mm, and the radius, mm, of a ball round it all."""
        cells = self.cells
        middle = 0.5 * (cells.middles.min(axis=0) + cells.middles.max(axis=0))
        return middle, float((np.linalg.norm(cells.middles - middle, axis=1) + cells.spread).max())

    def lifted(self) -> tuple[_Moving, Way | None]:
        """Return it off its pilots and out of its sleeves, and how that went; None where it has none."""
        lifts = [contact for contact in self.unit.contacts if contact.lift > 0.0]
        if not lifts:
            return self, None
        lead = max(lifts, key=lambda contact: contact.lift)
        stage = Stage(_three(lead.normal), lead.lift)
        across = [contact for contact in lifts if contact.normal @ lead.normal < np.cos(np.radians(1.0))]
        if across:
            way = Way(self.unit.name, clear=False, stages=(stage,), room=0.0, reach=0.0, blocks=across[0].other)
            return self, way
        lying = {contact.other for contact in lifts}
        reach, blocks = self.reach(lead.normal, lead.lift, self.room, skipped=lying)
        way = Way(self.unit.name, reach >= lead.lift, (stage,), self.room, reach, blocks)
        return self.after(lead.lift * lead.normal), way

    def reach(
        self, direction: Array, travel: float, room: float, skipped: set[str] | frozenset[str] = frozenset()
    ) -> tuple[float, str]:
        """Return how far, mm, it goes in `direction` with `room` mm, up to `travel` mm, and what stops it."""
        stop, blocks = travel, ""
        for thing in self.others:
            if thing.name not in skipped:
                found = self.gone(thing, direction, stop, room, fine=ROUGH)
                if found < stop:
                    stop, blocks = found, thing.name
        return stop, blocks

    def passes(self, direction: Array, travel: float, room: float) -> bool:
        """Tell whether it goes `travel` mm in `direction` with `room` mm: what is near is asked first."""
        middle, _ = self.ball
        near = sorted(self.others, key=lambda thing: float(thing.body.distance(middle[None])[0]))
        if any(self.struck(thing, direction, travel, room) for thing in near):
            return False
        return all(self.gone(thing, direction, travel, room, whole=True) >= travel for thing in near)

    def struck(self, thing: Obstacle, direction: Array, travel: float, room: float) -> bool:
        """Tell whether some points of its skins come nearer than `room`, mm, to a thing, at a few places on the way:
        then there is no more to ask."""
        meets = self.meeting(thing, direction)
        if not meets.any():
            return False
        some = self.cells.middles[meets[self.cells.which]][::_SOME]
        places = some[:, None] + (np.linspace(0.0, travel, _PLACES)[:, None] * direction)[None]
        return bool((thing.body.distance(places.reshape(-1, 3)) < room).any())

    def meeting(self, thing: Obstacle, direction: Array) -> NDArray[np.bool_]:
        """Return which of its own things, (n,), may meet another one on the way in `direction`, (3,), unit."""
        meets = np.ones(len(self.things), dtype=np.bool_)
        for normal, before in self.parted.get(thing.name, ()):
            if direction @ normal >= -_SQUARE:
                meets &= ~before
        return meets

    def gone(
        self,
        thing: Obstacle,
        direction: Array,
        travel: float,
        room: float,
        *,
        whole: bool = False,
        fine: float = FINE,
    ) -> float:
        """Return how far, mm, it goes past one thing. whole, fine: as of `swept`."""
        middle, radius = self.ball
        if _passes(middle, radius + room, direction, travel, thing.body):
            return travel
        meets = self.meeting(thing, direction)
        if not meets.any():
            return travel
        cells = self.cells if meets.all() else self.cells.kept(meets[self.cells.which])
        return swept(cells, direction, travel, thing.body, room, whole=whole, fine=fine)

    def needed(self, direction: Array) -> float:
        """Return how far, mm, it must come in `direction` to be past everything that has an end."""
        if self.travel is not None:
            return self.travel
        own = float(np.ptp(self.cells.middles @ direction))
        ends = [_support(thing.body, direction) for thing in self.others]
        past = [end + extent(self.cells, -direction) for end in ends if end < _ENDLESS]
        return float(min(max([own, *past]), MOST))

    def allowed(self, direction: Array) -> bool:
        """Tell whether it parts from all that it lies on when it goes in `direction`."""
        return all(float(direction @ contact.normal) > -_SQUARE for contact in self.unit.contacts)

    def straight(self, first: tuple[Stage, ...]) -> Way | None:
        """Return the best straight way out, None where there is none."""
        found: list[tuple[float, Array, float]] = []
        for direction in self.directions(FIRST):
            needed = self.needed(direction)
            if self.passes(direction, needed, self.room):
                found.append((self.most_room(direction, needed), direction, needed))
                if len(found) >= FOLLOWED or found[-1][0] >= ROOM:
                    break
        if not found:
            return None
        room, direction, needed = max(found, key=lambda each: each[0])
        for lean in LEANS:
            for other in _leant(direction, lean):
                if room < ROOM and self.allowed(other):
                    needs = self.needed(other)
                    if self.passes(other, needs, room + CLOSE):
                        room, direction, needed = self.most_room(other, needs), other, needs
        stages = (*first, Stage(_three(direction), needed))
        return Way(self.unit.name, clear=True, stages=stages, room=room, reach=needed, blocks="")

    def most_room(self, direction: Array, needed: float) -> float:
        """Return the most room, mm, that it keeps over `needed` mm in `direction`, of which `room` is sure."""
        low, high = self.room, ROOM
        if self.passes(direction, needed, high):
            return high
        while high - low > CLOSE:
            middle = 0.5 * (low + high)
            if self.passes(direction, needed, middle):
                low = middle
            else:
                high = middle
        return low

    def staged(self, first: tuple[Stage, ...]) -> Way | None:
        """Return a way out in two stages, None where none was found."""
        for direction, far in self._promising():
            for share in SHARES:
                length = share * far
                moved = self.after(length * direction)
                for second in evenly(SECOND):
                    needed = moved.needed(second)
                    if moved.passes(second, needed, self.room):
                        stages = (*first, Stage(_three(direction), length), Stage(_three(second), needed))
                        reach = length + needed
                        return Way(self.unit.name, clear=True, stages=stages, room=self.room, reach=reach, blocks="")
        return None

    @cached_property
    def tried(self) -> list[tuple[float, str, float, Array]]:
        """How far, mm, it gets in some directions, what stops it, how far it needs, mm, and the directions, (3,)."""
        needs = [(each, self.needed(each)) for each in self.directions(SECOND)]
        return [(*self.reach(each, needed, self.room), needed, each) for each, needed in needs]

    def _promising(self) -> list[tuple[Array, float]]:
        """Return a few directions that it gets farthest in, apart from each other, and how far, mm, that is."""
        chosen: list[tuple[Array, float]] = []
        for far, _, _, direction in sorted(self.tried, key=lambda each: -each[0]):
            apart = all(direction @ other < np.cos(np.radians(APART)) for other, _ in chosen)
            if far > 0.0 and apart and len(chosen) < FOLLOWED:
                chosen.append((direction, far))
        return chosen

    def farthest(self, first: tuple[Stage, ...]) -> Way:
        """Return the straight way on which it gets farthest, of what it needs."""
        if not self.tried:
            return Way(self.unit.name, clear=False, stages=first, room=self.room, reach=0.0, blocks="")
        far, blocks, needed, direction = max(self.tried, key=lambda each: each[0] / each[2])
        stages = (*first, Stage(_three(direction), needed))
        return Way(self.unit.name, clear=False, stages=stages, room=self.room, reach=far, blocks=blocks)

    def directions(self, count: int) -> list[Array]:
        """Return directions in which it parts from what it lies on: square off a contact first, then along the axes,
        then evenly."""
        first = [contact.normal for contact in self.unit.contacts]
        if len(first) > 1 and np.linalg.norm(np.sum(first, axis=0)) > _TOUCH:
            first.append(unit(np.sum(first, axis=0)))
        axes = [sign * axis for axis in np.eye(3) for sign in (1.0, -1.0)]
        return [each for each in (*first, *axes, *evenly(count)) if self.allowed(each)]


def _leant(direction: Array, degrees: float) -> Iterator[Array]:
    """Yield directions, (3,), unit, that lean from one by an angle, six ways."""
    aside = unit(np.cross(direction, np.eye(3)[int(np.argmin(np.abs(direction)))]))
    other = np.cross(direction, aside)
    lean = np.radians(degrees)
    for turn in np.arange(6) * np.pi / 3.0:
        yield unit(np.cos(lean) * direction + np.sin(lean) * (np.cos(turn) * aside + np.sin(turn) * other))


def extent(cells: Cells, direction: Array) -> float:
    """Return how far, mm from the origin, cells reach in `direction`, (3,), unit."""
    return float((cells.middles @ direction + cells.spread).max())


def _support(body: Body, direction: Array) -> float:
    """Return how far, mm from the origin, a body reaches in `direction`, (3,), unit; very far where it has no end.

    Seen from far away a body's distance is that from its foremost point.
    """
    return _FAR - float(body.distance(_FAR * direction[None])[0])


def _passes(middle: Array, radius: float, direction: Array, travel: float, body: Body) -> bool:
    """Tell whether a ball passes a body over `travel` mm for sure."""
    gone = 0.0
    while gone < travel:
        step = float(body.distance((middle + gone * direction)[None])[0]) - radius
        if step < LEAST_STEP:
            return False
        gone += step
    return True


def _three(direction: Array) -> tuple[float, float, float]:
    x, y, z = (round(float(each), 6) + 0.0 for each in direction)
    return x, y, z


def install_findings(ways: Sequence[Way]) -> Iterator[Finding]:
    """Yield, for each unit, whether it can be got in."""
    for way in ways:
        needed = sum(stage.length for stage in way.stages)
        cure = "part the manifold with a V-band"
        if way.unit.startswith(STANDING):
            air = way.unit.endswith(CLAMPED)
            cure = f"give {way.unit} another way" if air else f"turn {way.unit} or its housings"
        yield at_least(
            "install path",
            way.unit,
            round(way.reach, 1),
            round(way.reach, 1) if way.clear else round(needed, 1),
            "mm",
            "worked out: swept straight on, or on and another way, with the room that the file asks for",
            "worked out",
            f"{way.blocks or 'what it lies on'} stops the best way after {way.reach:.0f} mm: move or remove that, or "
            + cure,
        )
