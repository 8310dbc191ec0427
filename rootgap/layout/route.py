"""Runs whose pieces are found: what a way must keep clear of, the ways there are, and the one that is taken.

A routed run is placed after all runs that do not start at it, and is clear of them; runs that start at its end or
side come after it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from rootgap import stock
from rootgap.errors import GeometryError, StockError
from rootgap.geometry.distance import Body, HalfSpace, Prism, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.routing import SHORTEST, Blocked, Kind, Obstacle, Route, Task, Tick, find, room_at, silent
from rootgap.kept import Kept, fingerprint
from rootgap.layout.aim import at_least
from rootgap.layout.envelope import Envelope
from rootgap.layout.keepout import Keepout
from rootgap.layout.motion import Motion, Running
from rootgap.layout.pieces import Cap, Plate
from rootgap.layout.run import Run
from rootgap.spec import ElbowSpec, SideStart, StraightSpec
from rootgap.spec.fields import LEAST_BEND, MOST_BEND
from rootgap.spec.route import Landing, RouteSpec
from rootgap.stock import PipeStock

#: Of an elbow's throat, mm, that can be held and welded (common practice, no source).
LEAST_THROAT = 3.0
#: Where a run leaves what it is joined to, so many times the way that its axis takes to be clear of it are free.
_LEAVING = 1.5
#: And no way longer than so many diameters and clearances counts as leaving; steps, mm, in which it is looked for.
_LONGEST, _STEP = 6.0, 0.5
#: What two pipes that leave openings side by side may lose of the room between those, mm.
_PARALLEL = 0.3
#: Stations, mm, and clocks, degrees, between places to land on a run.
_STATIONS, _CLOCKS = 40.0, 30.0
#: Digits after the point of lengths, mm, and angles, degrees, in a file: they meet the end to a few thousandths.
_DIGITS = 4
#: Chord of a plate's outline, mm.
_CHORD = 0.5


@dataclass(frozen=True)
class Ends:
    """What a route's ends ask for. first, last: least length of their straights, mm, None where they may be left out;
    fills: whether the last reaches as far as what it ends on; meets: whether it ends at something in place, which
    pieces of rounded lengths would miss."""

    first: float | None = None
    last: float | None = None
    fills: bool = False
    meets: bool = False


@dataclass(frozen=True, eq=False)
class Sought:
    """Ways that were looked for. routes: those found, the best first; choice: the number, from 1, of the one taken."""

    task: Task
    ends: Ends
    routes: tuple[Route, ...]
    choice: int

    @property
    def pieces(self) -> tuple[ElbowSpec | StraightSpec, ...]:
        """The pieces of the way that is taken."""
        return as_pieces(self.routes[self.choice - 1], self.ends)


@dataclass(frozen=True)
class Asked:
    """Ways that are asked for. run: whose, by its name; few: how many at least; tick: shown how far that is."""

    run: str = ""
    few: int = 1
    tick: Tick = silent

    def of(self, run: str) -> Asked:
        """Return what is asked of the run of that name: one way where nothing is."""
        return self if run == self.run else Asked()


#: Ways found in this process, by all that they depend on.
FOUND: Kept[Sought] = Kept(50)


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What a routed run is among. growth: of its hot pipe, a share, no unit; runs, plates, envelopes: placed before it;
    heads: the plates that runs begin on; begins_on, ends_on: names of the runs and marks of the flanges that it is
    joined to; beside: names of the runs that begin or end on these flanges too."""

    keepouts: Mapping[str, Keepout]
    motion: Motion
    growth: float
    runs: Sequence[Run]
    plates: Sequence[Plate]
    heads: Sequence[Plate]
    envelopes: Sequence[Envelope]
    begins_on: frozenset[str]
    ends_on: frozenset[str]
    beside: frozenset[str]


def seek(
    mark: str,
    spec: RouteSpec,
    pipe: PipeStock,
    start: Frame,
    goals: Sequence[Frame],
    ends: Ends,
    around: Surroundings,
    asked: Asked,
) -> Sought:
    """Return the best ways of a run from `start` to one of `goals`, at least as many as it chooses from and is `asked`.

    Raises GeometryError where there is none, or fewer than it chooses from.
    """
    task = Task(
        start,
        tuple(goals),
        pipe.r_out,
        kinds(mark, spec, pipe),
        tuple(obstacles(spec, pipe.r_out, start, goals, around)),
        spec.most,
        spec.shortest,
        ends.first,
        ends.last,
        spec.clear,
    )
    wanted = replace(asked, few=max(asked.few, spec.choice))
    key = fingerprint(task, spec.choice, ends, wanted.few)
    return FOUND.get(key, lambda: _sought(mark, spec, task, ends, wanted))


def _sought(mark: str, spec: RouteSpec, task: Task, ends: Ends, wanted: Asked) -> Sought:
    found = find(task, wanted.few, wanted.tick)
    if found.blocked:
        raise _refusal(mark, task, found.blocked)
    if spec.choice > len(found.routes):
        count = len(found.routes)
        ways = "one way was" if count == 1 else f"{count} ways that differ were"
        remedy = "leave choice out" if count == 1 else f"choose from 1 to {count}"
        raise GeometryError(mark, f"is to take choice {spec.choice}, and only {ways} found", remedy)
    return Sought(task, ends, found.routes, spec.choice)


def as_pieces(route: Route, ends: Ends) -> tuple[ElbowSpec | StraightSpec, ...]:
    """Return the pieces of a route as a file says them."""
    pieces: list[ElbowSpec | StraightSpec] = []
    for number, straight in enumerate(route.straights):
        last = number == len(route.turns)
        if last and ends.fills:
            pieces.append(StraightSpec(straight="fill"))
        elif straight > 0.0:
            pieces.append(StraightSpec(straight=straight))
        if not last:
            turn = route.turns[number]
            pieces.append(ElbowSpec.model_validate({"elbow": turn.kind, "angle": turn.angle, "clock": turn.clock}))
    return tuple(pieces)


def written_pieces(route: Route, ends: Ends) -> tuple[ElbowSpec | StraightSpec, ...] | None:
    """Return the pieces of a route, rounded, as they can stand in a file in its place; the last two elbows aimed where
    it ends at something in place. None where they cannot, for these two do not stand as aimed ones do."""
    pieces = [_rounded(piece) for piece in as_pieces(route, ends)]
    if not ends.meets:
        return tuple(pieces)
    elbows = [index for index, piece in enumerate(pieces) if isinstance(piece, ElbowSpec)]
    if len(elbows) < 2 or elbows[-1] - elbows[-2] != 2:
        return None
    for index in elbows[-2:]:
        pieces[index] = pieces[index].model_copy(update={"angle": "aim", "clock": 0.0})
    pieces[elbows[-1] - 1] = StraightSpec(straight="fill")
    return tuple(pieces)


def _rounded(piece: ElbowSpec | StraightSpec) -> ElbowSpec | StraightSpec:
    if isinstance(piece, StraightSpec):
        length = piece.straight
        return piece if isinstance(length, str) else StraightSpec(straight=round(length, _DIGITS))
    angle, clock = round(piece.swept, _DIGITS), round(piece.clock, _DIGITS)
    return ElbowSpec.model_validate({"elbow": piece.elbow, "angle": angle, "clock": clock})


def kinds(mark: str, spec: RouteSpec, pipe: PipeStock) -> tuple[Kind, ...]:
    """Return the elbows that a run may use, those left out that its stock has not, unless they were asked for.

    Raises GeometryError where none is left.
    """
    if pipe.nps is None:
        raise GeometryError(mark, f"{pipe.label} has no butt-weld elbow", "use pipe of a nominal size for this run")
    found: list[Kind] = []
    for series in spec.elbows:
        try:
            radius = stock.elbow(pipe.nps, series, 90).radius
        except StockError as fault:
            if "elbows" in spec.model_fields_set:
                raise GeometryError(mark, str(fault), "use one that exists") from None
            continue
        throat = radius - pipe.r_out
        least = float(np.degrees(LEAST_THROAT / throat)) if throat > 0.0 else MOST_BEND
        if least < MOST_BEND:
            found.append(Kind(series, radius, max(least, LEAST_BEND), MOST_BEND))
    if not found:
        raise GeometryError(mark, f"{pipe.label} has no butt-weld elbow", "use another pipe for this run")
    return tuple(found)


def landings(target: Run, land: Landing, r_out: float, off: Callable[[SideStart], Frame]) -> tuple[Frame, ...]:
    """Return the frames, mm, at which a run may land on `target`: on a raster over its side, where the file leaves that
    open. r_out: of the run, mm; off: the frame that leaves a place on the target's side.

    Raises GeometryError where a place that the file names is none to land on.
    """
    room = r_out + 0.5 * _STATIONS
    count = max(1, round((target.length - 2.0 * room) / _STATIONS) + 1)
    even = np.linspace(room, target.length - room, count) if count > 1 else np.array([0.5 * target.length])
    stations = even if land.station is None else np.array([land.station])
    clocks = np.arange(0.0, 360.0, _CLOCKS) if land.clock is None else np.array([land.clock])
    found: list[Frame] = []
    refused: GeometryError | None = None
    for station, clock in product(stations.tolist(), clocks.tolist()):
        try:
            leaving = off(SideStart(off=target.name, station=station, clock=clock, lean=180.0 - land.lean))
        except GeometryError as fault:
            refused = fault
            continue
        found.append(Frame(leaving.origin, -leaving.axis, leaving.ref))
    if not found and refused:
        raise refused
    return tuple(found)


def obstacles(
    spec: RouteSpec, r_out: float, start: Frame, goals: Sequence[Frame], around: Surroundings
) -> Iterator[Obstacle]:
    """Yield what a route keeps clear of: keep-outs, cold and running as they are checked, pieces, flanges,
    what stands on them, and what lies behind the faces of heads. r_out: of its pipe, mm."""
    for name, keepout in around.keepouts.items():
        body = keepout.body
        if keepout.reason != "service":
            seen = around.motion.seen(body) if keepout.side == "chassis" else body
            data = np.array([head.start.origin for head in around.heads] or [np.zeros(3)])
            body = Running(seen, data, around.growth, r_out)
        yield Obstacle(f"keepout.{name}", body, keepout.clearance + spec.margin)
    back = [Frame(goal.origin, -goal.axis, goal.ref) for goal in goals]
    for name, body, where in _metal(around):
        need = r_out + spec.clear
        leaves = _leaving(body, start, need) if where in around.begins_on else 0.0
        arrives = max((_leaving(body, goal, need) for goal in back), default=0.0) if where in around.ends_on else 0.0
        clear = spec.clear
        if where in around.beside:
            # Openings of one flange may be nearer to each other than that: there is no choice.
            at_ends = min(room_at(frame, r_out, body) for frame in (start, *goals))
            clear = max(0.0, min(clear, at_ends - _PARALLEL))
        yield Obstacle(name, body, clear, leaves, arrives)
    for head in () if spec.behind_heads else around.heads:
        face = HalfSpace(head.start.origin, head.start.axis)
        poses = np.array([start.origin, *(goal.origin for goal in goals)])
        if (face.distance(poses) >= -_STEP).all():
            need = r_out + spec.clear
            leaves = _leaving(face, start, need) if head.id in around.begins_on else 0.0
            yield Obstacle(f"the face of {head.id}", face, spec.clear, leaves)


def _metal(around: Surroundings) -> Iterator[tuple[str, Body, str]]:
    """Yield every body of metal with its name, and what it belongs to."""
    for run in around.runs:
        for piece in run.along():
            body = piece.filled
            if isinstance(piece, Cap):
                body = Rod(piece.start.origin, piece.start.advanced(piece.length).origin, piece.stock.r_out)
            if body is not None:
                yield piece.id, body, run.name
    for plate in around.plates:
        for outline in plate.outlines:
            yield plate.id, Prism(plate.start, outline.points(_CHORD), (), plate.thickness), plate.id
    for envelope in around.envelopes:
        for hull in envelope.hulls:
            yield hull.id, hull.body, envelope.plate.id


def _leaving(body: Body, frame: Frame, need: float) -> float:
    """Return the length of a route, mm, that is free of a body that it leaves along a frame's axis; nought where it
    never gets clear of it, for then it would run into it."""
    stations = np.arange(0.0, _LONGEST * need, _STEP)
    clear = np.flatnonzero(body.distance(frame.origin + stations[:, None] * frame.axis) >= need)
    return _LEAVING * float(stations[clear[0]]) if clear.size else 0.0


def _elbows(task: Task) -> str:
    return "one elbow" if task.most == 1 else f"up to {task.most} elbows"


def _refusal(mark: str, task: Task, blocked: Blocked) -> GeometryError:
    """Return the error that tells why there is no way."""
    short, near = blocked.short, blocked.near
    if blocked.what in ("start", "end"):
        word = "begins" if blocked.what == "start" else "ends"
        return GeometryError(
            mark,
            f"{word} {short:.1f} mm too near to {near}: no route can be clear of it",
            f"move one of the two at least {at_least(short)} mm, or make its clearance smaller",
        )
    if blocked.what == "reach":
        gap = min(float(np.linalg.norm(goal.origin - task.start.origin)) for goal in task.goals)
        mends = [
            word
            for word, would in zip((f"most = {task.most + 1}", f"shortest = {SHORTEST:g}"), blocked.more, strict=True)
            if would
        ]
        return GeometryError(
            mark,
            f"no chain of {_elbows(task)} and straights of {task.shortest:g} mm or more leads to its end, "
            f"{gap:.0f} mm away",
            f"with {' or '.join(mends)} one would" if mends else "move its end away, or turn it",
        )
    least = f"the nearest to one is {short:.1f} mm short of room, at {near}" if near else "the nearest runs into itself"
    if blocked.without:
        any_one = "any one of " if len(blocked.without) > 1 else ""
        remedy = f"without {any_one}{', '.join(blocked.without)} there is one"
    else:
        remedy = "no single one of them is to blame: move the end, allow more elbows, or make several of them smaller"
    return GeometryError(mark, f"no route of {_elbows(task)} is clear of everything; {least}", remedy)
