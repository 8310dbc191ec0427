"""Ways from one pose to another with elbows and straights, clear of bodies: the fewest welds, then the shortest.

Terminology
    route      a chain that arrives, stays clear, and whose pieces can be made
    spare      how far a route keeps beyond what it must, mm, at its tightest
    pattern    which straights of a chain are left out, and on which radii its elbows turn
    free       of an obstacle: how much of a route, mm from its start or its end, need not keep clear of it, for
               there they are joined
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.arriving import ARRIVED, MET, Aims, Pace, across, arrived, shortened
from rootgap.geometry.chains import Array, Chains, Places
from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame

#: Called with how many counts of pieces are looked through, and how many there are.
Tick = Callable[[int, int], None]

#: Starts of a pattern with nothing to spare, more for each figure of slack, and most for one count of elbows.
_STARTS, _MOST = 24, 3000
#: Chains of one count of pieces that are made shorter, and of those that are made so to the last digits.
_TRIED, _KEPT = 120, 10
#: Places on a straight and on an elbow at first, and for the last digits.
_ROUGH, _FINE = (10, 7), (40, 24)
#: Ways differ that are somewhere more than so many times the pipe's radius apart; others are looked for farther off.
_DIFFER, _DIFFERENT = 2.0, 4.0
#: Room beyond what is asked, mm, so that the places between those looked at have it too, and how often it is mended.
_EXTRA, _AGAIN = 0.05, 2
#: How near to its least a room is found, mm, and by how much it may fall short.
_SURE, _SHORT = 0.02, 0.01
#: How chains are made shorter at first and for the last digits, and the room, mm, that they may lack between the two.
_FAST, _SLOW, _ROUGHLY = Pace(20, 0.3, 3e-3, 12.0, 1e-3), Pace(60, 0.2, 1e-4, 100.0, 1e-3), 2.0
#: No shorter straight, mm, is any use to find out that a chain would arrive.
SHORTEST = 1.0
#: Digits after the point of a route's lengths, mm, and two more of its angles, degrees: the last ones of what was
#: worked out depend on the machine.
_DIGITS = 7
#: Cells along and round the skin of an end at first, and where their quarters lie.
_CELLS = (4, 12)
_CORNERS = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
#: A step, mm, over which a body's slope is measured.
_NUDGE = 0.05
#: Longer than the straight way by this many times, and so many mm, no straight is looked for.
_TIMES, _MORE = 2.0, 400.0
#: So deep, mm, an end may begin in what it is joined to.
_INSIDE = 30.0
#: Room, mm, of which it is enough to know that it is more; and short by more than so many diameters nothing is mended.
_FAR, _HOPELESS = 40.0, 2.0


@dataclass(frozen=True)
class Kind:
    """A kind of elbow. radius: of its centre line, mm; least, most: angles that it is trimmed to, degrees."""

    name: str
    radius: float
    least: float
    most: float


@dataclass(frozen=True, eq=False)
class Obstacle:
    """A body that the outside of a route keeps off. clearance: mm; from_start, from_end: how much of a route is free
    of it, mm of the centre line."""

    name: str
    body: Body
    clearance: float
    from_start: float = 0.0
    from_end: float = 0.0


@dataclass(frozen=True, eq=False)
class Task:
    """A way that is to be found. goals: frames to end at, one will do, their clocks free; r_out: of the pipe, mm;
    most: elbows; shortest: straight, mm; first, last: least length of the straights at the ends, mm, None where they
    may be left out; apart: between parts of the route itself, mm."""

    start: Frame
    goals: tuple[Frame, ...]
    r_out: float
    kinds: tuple[Kind, ...]
    obstacles: tuple[Obstacle, ...] = ()
    most: int = 3
    shortest: float = 20.0
    first: float | None = None
    last: float | None = None
    apart: float = 0.0


@dataclass(frozen=True)
class Turn:
    """An elbow of a route. kind: its name; radius: mm; angle, clock: degrees, the clock of the frame carried there."""

    kind: str
    radius: float
    angle: float
    clock: float


@dataclass(frozen=True)
class Route:
    """A way found. straights: one more than turns, mm, nought where there is none; goal: number of the frame that it
    ends at; spare: mm; near: the obstacle at which that is, "" where there is none."""

    straights: tuple[float, ...]
    turns: tuple[Turn, ...]
    goal: int
    spare: float
    near: str

    @property
    def pieces(self) -> int:
        """How many pieces it is made of."""
        return len(self.turns) + sum(straight > 0.0 for straight in self.straights)

    @property
    def welds(self) -> int:
        """Welds between its pieces and at both its ends."""
        return self.pieces + 1

    @property
    def length(self) -> float:
        """Length of the centre line, mm."""
        return sum(self.straights) + sum(turn.radius * np.radians(turn.angle) for turn in self.turns)

    @property
    def turn(self) -> float:
        """How far the gas turns, degrees, all elbows together."""
        return sum(turn.angle for turn in self.turns)

    @property
    def rank(self) -> tuple[int, float, float]:
        """What it is judged by, the least first: welds, length to a hundredth of a mm, turn."""
        return self.welds, round(self.length, 2), round(self.turn, 2)

    def chains(self, start: Frame) -> Chains:
        """Return it as the only chain from `start`."""
        figures = np.zeros(3 * len(self.turns) + 1)
        figures[0::3] = self.straights
        figures[1::3] = [np.radians(turn.clock) for turn in self.turns]
        figures[2::3] = [np.radians(turn.angle) for turn in self.turns]
        return Chains(start, np.array([[turn.radius for turn in self.turns]]).reshape(1, -1), figures[None])


@dataclass(frozen=True, eq=False)
class _Pool:
    """Chains of one count of elbows that arrive, whether they are clear or not. goals: (b,), numbers; kinds: (b, k),
    numbers; slack: (b,), figures to spare."""

    aims: Aims
    figures: Array
    goals: NDArray[np.intp]
    kinds: NDArray[np.intp]
    slack: NDArray[np.intp]

    def taken(self, chosen: NDArray[np.intp] | NDArray[np.bool_]) -> _Pool:
        return _Pool(
            self.aims.taken(chosen), self.figures[chosen], self.goals[chosen], self.kinds[chosen], self.slack[chosen]
        )

    @cached_property
    def chains(self) -> Chains:
        return self.aims.chains(self.figures)


@dataclass(frozen=True, eq=False)
class _Looked:
    """What came of a pool: its routes; or the chain that came nearest, by how much that is short at the places looked
    at, mm, and the names of what it hits, the worst first."""

    pool: _Pool
    routes: tuple[Route, ...]
    nearest: Route | None = None
    short: float = np.inf
    hit: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class _Field:
    """What a route keeps clear of. r_out: of its pipe, mm."""

    obstacles: tuple[Obstacle, ...]
    r_out: float

    def rooms(self, chains: Chains, places: Places, points: Array) -> Array:
        """Return (obstacles, b, n) rooms, mm, at places, which are at points, (b, n, 3), mm: of balls of the pipe's
        radius, smaller within it of an end, where they would stick out; less is asked the nearer to an end that is free
        of an obstacle. What is more than `_FAR` may be less than it is. All of it is steady, so that small steps change
        it little; `spared` is what counts."""
        stations = chains.stations(places)
        left = chains.length[:, None] - stations
        balls = np.minimum(self.r_out, np.minimum(stations, left))
        # A ball round each piece first: most pieces are far from most obstacles.
        low, high = (part.reduceat(points, places.groups, axis=1) for part in (np.minimum, np.maximum))
        middles, reach = 0.5 * (low + high), 0.5 * np.linalg.norm(high - low, axis=2)
        counts = np.diff(places.groups, append=len(places.pieces))
        found = np.empty((len(self.obstacles), *stations.shape))
        for row, obstacle in zip(found, self.obstacles, strict=True):
            need = obstacle.clearance + balls
            for free, away in ((obstacle.from_start, stations), (obstacle.from_end, left)):
                if free:
                    need = need - np.clip(1.0 - away / free, 0.0, 1.0) * (obstacle.clearance + self.r_out + _INSIDE)
            bound = obstacle.body.distance(middles.reshape(-1, 3)).reshape(reach.shape) - reach
            row[:] = np.repeat(bound, counts, axis=1) - need
            near = row < _FAR
            row[near] = obstacle.body.distance(points[near]) - need[near]
        return found

    def slopes(self, points: Array, whose: NDArray[np.intp]) -> Array:
        """Return the slopes, (n, 3), of the distances of points, (n, 3), mm, to the obstacles numbered (n,)."""
        found = np.zeros_like(points)
        nudges = _NUDGE * np.concatenate([np.eye(3), -np.eye(3)])
        for number, obstacle in enumerate(self.obstacles):
            here = np.flatnonzero(whose == number)
            if here.size:
                around = (points[here, None] + nudges).reshape(-1, 3)
                gaps = obstacle.body.distance(around).reshape(-1, 2, 3)
                found[here] = (gaps[:, 0] - gaps[:, 1]) / (2.0 * _NUDGE)
        return found


@dataclass(frozen=True)
class Blocked:
    """Why there is no route. what: "start" or "end" where the pipe's end itself is too near to `near`, "reach" where
    no chain arrives even with nothing in the way, else "way"; short: mm that the best chain is short there; without:
    the obstacles without any one of which there is a route; more: whether one more elbow, and whether shorter
    straights, would let a chain arrive."""

    what: Literal["start", "end", "reach", "way"]
    near: str = ""
    short: float = 0.0
    without: tuple[str, ...] = ()
    more: tuple[bool, bool] = (False, False)


@dataclass(frozen=True)
class Found:
    """What a search came to: routes, the best first, or why there is none."""

    routes: tuple[Route, ...]
    blocked: Blocked | None = None


def silent(_done: int, _of: int) -> None:
    """Show no progress."""


def find(task: Task, few: int = 1, tick: Tick = silent) -> Found:
    """Return the best `few` routes that differ somewhere by more than the pipe's diameter, the best first, fewer
    where no more are found; or why there is none. tick: shown how far it is.

    Chains of ever more pieces are looked through, from starts spread evenly over what their figures may be
    (Kronecker's sequence: the same every time), brought to arrive, and made shorter while they stay clear. What is
    returned has been held against every obstacle between any two places too, by the slope of distance, at most 1.
    """
    for obstacle in task.obstacles:
        if not obstacle.from_start and (short := _short_at(task, task.start, obstacle)) > _SHORT:
            return Found((), Blocked("start", obstacle.name, short))
    ends = [_worst_at(task, goal) for goal in task.goals]
    usable = [number for number, (short, _) in enumerate(ends) if short <= _SHORT]
    if not usable:
        short, near = min(ends)
        return Found((), Blocked("end", near, short))
    task = replace(task, goals=tuple(task.goals[number] for number in usable))
    found: list[Route] = []
    looked: list[_Looked] = []
    for pieces in range(1, 2 * task.most + 2):
        tick(pieces - 1, 2 * task.most + 1)
        before = [_signature(route.chains(task.start))[0] for route in found] if few > 1 else None
        level = [_clear(task, pool, before) for pool in _pools(task, pieces)]
        ranked = sorted((route for each in level for route in each.routes), key=lambda route: route.rank)
        found += _different(task, ranked, found)
        looked += level
        if len(found) >= few:
            break
    routes = tuple(replace(route, goal=usable[route.goal]) for route in found[:few])
    return Found(routes, None if routes else _blocked(task, looked))


def _pools(task: Task, pieces: int) -> Iterator[_Pool]:
    """Yield the chains of so many pieces that arrive, by their count of elbows."""
    for elbows in range(pieces // 2, min(task.most, pieces) + 1):
        pool = _pool(task, elbows, pieces - elbows)
        if len(pool.figures):
            yield pool


def room_at(frame: Frame, r_out: float, body: Body) -> float:
    """Return the least distance, mm, from the end of a pipe of radius `r_out`, mm, at a frame to a body."""
    rim = frame.origin + r_out * frame.radial(np.linspace(0.0, 2.0 * np.pi, 181))
    return float(body.distance(np.concatenate([rim, frame.origin[None]])).min())


def _short_at(task: Task, frame: Frame, obstacle: Obstacle) -> float:
    """Return by how much a pipe's end at a frame is too near to an obstacle, mm."""
    return obstacle.clearance - room_at(frame, task.r_out, obstacle.body)


def _worst_at(task: Task, goal: Frame) -> tuple[float, str]:
    """Return by how much a goal is short of room, mm, at worst, and where."""
    shorts = [(_short_at(task, goal, obstacle), obstacle.name) for obstacle in task.obstacles if not obstacle.from_end]
    return max(shorts, default=(-np.inf, ""))


def _blocked(task: Task, looked: Sequence[_Looked]) -> Blocked:
    """Return why nothing was found where `looked`."""
    if not looked:
        bare = replace(task, obstacles=())
        changed = (replace(bare, most=task.most + 1), replace(bare, shortest=SHORTEST, first=None, last=None))
        more, closer = (
            any(True for pieces in range(1, 2 * each.most + 2) for _ in _pools(each, pieces)) for each in changed
        )
        return Blocked("reach", more=(more, closer))
    nearest = min(looked, key=lambda each: each.short)
    without = []
    for name in dict.fromkeys(name for each in looked for name in each.hit):
        rest = replace(task, obstacles=tuple(other for other in task.obstacles if other.name != name))
        if any(_clear(rest, each.pool).routes for each in looked if name in each.hit):
            without.append(name)
    spare, near = spared(task, nearest.nearest) if nearest.nearest else (np.inf, "")
    # One that is clear of everything else runs into itself.
    return Blocked("way", near if spare < 0.0 else "", max(-spare, 0.0), tuple(without))


def _pool(task: Task, elbows: int, straights: int) -> _Pool:
    """Return chains of so many pieces that arrive, those that come to the same left out."""
    aims, goals, kinds, slack = _starts(task, elbows, straights)
    many = len(goals)
    begun = _spread(many, 3 * elbows + 1)
    begun[:, 1::3] *= 2.0 * np.pi
    spans = aims.high - aims.low
    begun[:, 2::3] = aims.low[:, 2::3] + begun[:, 2::3] * spans[:, 2::3]
    begun[:, 0::3] = aims.low[:, 0::3] + begun[:, 0::3] ** 2 * spans[:, 0::3]
    # What has slack is brought nearer still when it is made shorter.
    met = _FAST.met if 2 * elbows + straights > 5 else ARRIVED
    figures, missed = arrived(aims, begun, met=met)
    # A chain with fewer figures than a pose asks for meets it only where that was meant, to the digits of a file.
    here = np.flatnonzero(missed < np.where(slack < 0, MET, 10.0 * met))
    pool = _Pool(aims, figures, goals, kinds, slack).taken(here)
    signature = np.concatenate([_signature(pool.chains), pool.kinds, pool.goals[:, None]], axis=1)
    _, first = np.unique(np.round(signature, 3), axis=0, return_index=True)
    return pool.taken(np.sort(first))


def _starts(
    task: Task, elbows: int, straights: int
) -> tuple[Aims, NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return what chains of so many elbows and straights are to be, their goals, their kinds and their slack."""
    slots = [
        kept
        for kept in combinations(range(elbows + 1), straights)
        if (task.first is None or 0 in kept) and (task.last is None or elbows in kept)
    ]
    patterns = list(product(slots, product(range(len(task.kinds)), repeat=elbows)))
    spare = 2 * elbows + straights - 5
    each = _STARTS * (1 + max(spare, 0)) if elbows else 1
    each = max(1, min(each, _MOST // max(len(patterns), 1))) * (1 if elbows else len(task.goals))
    if elbows and len(task.goals) > 1:
        each *= 2
    many = each * len(patterns)
    least = [task.shortest] * (elbows + 1)
    for slot, length in ((0, task.first), (elbows, task.last)):
        least[slot] = max(least[slot], length or 0.0)
    low, high = np.zeros((many, 3 * elbows + 1)), np.zeros((many, 3 * elbows + 1))
    kinds = np.zeros((many, elbows), dtype=np.intp)
    goals = np.arange(many) % len(task.goals) if len(task.goals) > 1 else np.zeros(many, dtype=np.intp)
    gaps = [float(np.linalg.norm(goal.origin - task.start.origin)) for goal in task.goals]
    reach = _TIMES * max(gaps, default=0.0) + _MORE
    for number, (kept, turned) in enumerate(patterns):
        rows = slice(number * each, (number + 1) * each)
        kinds[rows] = turned
        for slot in kept:
            low[rows, 3 * slot], high[rows, 3 * slot] = least[slot], least[slot] + reach
        for j, kind in enumerate(turned):
            low[rows, 3 * j + 2] = np.radians(task.kinds[kind].least)
            high[rows, 3 * j + 2] = np.radians(task.kinds[kind].most)
    low[:, 1::3], high[:, 1::3] = -np.inf, np.inf
    radii = np.array([kind.radius for kind in task.kinds])[kinds]
    point = np.array([goal.origin for goal in task.goals])[goals]
    axis = np.array([goal.axis for goal in task.goals])[goals]
    sides = np.array([(goal.ref, goal.side) for goal in task.goals])[goals]
    aims = Aims(task.start, radii, point, axis, sides, low, high)
    return aims, goals, kinds, np.full(many, spare, dtype=np.intp)


def _spread(many: int, figures: int) -> Array:
    """Return numbers, (many, figures), from 0 to 1, spread evenly.

    Source: Kronecker's sequence on the powers of the root of x^(d + 1) = x + 1.
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (figures + 1))
    return (0.5 + np.arange(1, many + 1)[:, None] * root ** -np.arange(1.0, figures + 1)) % 1.0


def _signature(chains: Chains) -> Array:
    """Return where chains run, (b, 3 m), mm: points at even shares of their lengths, about."""
    places = Places.even(chains.elbows, 9, 9)
    points, stations = chains.points(places), chains.stations(places) / chains.length[:, None]
    shares = np.linspace(0.1, 0.9, 7)
    after = np.clip((stations[:, :, None] < shares).sum(axis=1), 1, stations.shape[1] - 1)
    rows = np.arange(len(points))[:, None]
    low, high = stations[rows, after - 1], stations[rows, after]
    part = np.clip((shares - low) / np.maximum(high - low, 1e-12), 0.0, 1.0)[..., None]
    return ((1.0 - part) * points[rows, after - 1] + part * points[rows, after]).reshape(len(points), 21)


def _clear(task: Task, pool: _Pool, before: Sequence[Array] | None = None) -> _Looked:
    """Return the routes among the chains of `pool`, made shorter as far as that goes, or how near they came. before:
    where others run that are better, (21,), mm, each, and ways that differ are wanted; None where the best is enough.
    """
    whole, clear = pool, _Field(task.obstacles, task.r_out)
    places = Places.even(pool.chains.elbows, *_ROUGH)
    room = _least(clear, pool.chains, places)
    # Likely ones first: short, and not far in anything.
    order = np.argsort(pool.chains.length + 4.0 * np.maximum(-room, 0.0), kind="stable")
    hopeless = np.where(pool.slack > 0, -_HOPELESS * task.r_out, -_ROUGHLY)
    likely = order[(room > hopeless)[order]]
    if not likely.size:
        likely = np.argsort(-room, kind="stable")[:1]
    loose = bool((pool.slack > 0).any())
    # What cannot be changed is made no other by what runs beside it.
    alike = task.r_out if loose else 0.0
    pool = pool.taken(likely[_best(task, _signature(pool.chains)[likely], before, _TRIED, alike)])
    if loose:
        pool = replace(pool, figures=shortened(pool.aims, pool.figures, places, clear.rooms, clear.slopes, _FAST))
    rooms, lengths = _least(clear, pool.chains, places), pool.chains.length
    good = np.flatnonzero(rooms > -_ROUGHLY)
    good = good[np.argsort(lengths[good], kind="stable")]
    good = good[_best(task, _signature(pool.taken(good).chains), before, _KEPT, alike)]
    routes = tuple(_sure(task, pool.taken(good), loose=loose)) if good.size else ()
    if routes:
        return _Looked(whole, routes)
    best = pool.taken(np.array([rooms.argmax()]))
    by_obstacle = clear.rooms(best.chains, places, best.chains.points(places)).min(axis=(1, 2))
    hit = tuple(task.obstacles[number].name for number in np.argsort(by_obstacle) if by_obstacle[number] < 0.0)
    return _Looked(whole, (), _route(task, best, 0), max(-float(rooms.max()), 0.0), hit)


def _best(
    task: Task, signatures: Array, before: Sequence[Array] | None, most: int, alike: float
) -> NDArray[np.intp]:
    """Return the numbers of chains, given the best first, that are gone on with: up to `most` of the best that run more
    than `alike`, mm, apart, and where ways that differ are wanted as many again that do, from each other and from those
    `before`."""
    best = _apart(signatures, alike, most)
    if before is None:
        return best
    fresh = np.arange(len(signatures))
    for other in before:
        gaps = np.linalg.norm((signatures[fresh] - other).reshape(-1, 7, 3), axis=2).max(axis=1)
        fresh = fresh[gaps > _DIFFERENT * task.r_out]
    return np.union1d(best, fresh[_apart(signatures[fresh], _DIFFERENT * task.r_out, most)])


def _sure(task: Task, pool: _Pool, *, loose: bool) -> Iterator[Route]:
    """Yield the routes among chains that are clear at the places first looked at. loose: whether they have slack."""
    extra = _EXTRA
    for _ in range(_AGAIN if loose else 1):
        finer = _finer(task, pool, extra) if loose else pool
        routes = [_route(task, finer, row) for row in range(len(finer.figures))]
        spares = [spared(task, route) for route in routes]
        for route, (spare, near) in zip(routes, spares, strict=True):
            if spare >= -_SHORT and _apart_from_itself(task, route):
                yield replace(route, spare=spare, near=near)
        # Between the places that were looked at there was less room: the next time more is asked there.
        again = [row for row, (spare, _) in enumerate(spares) if -_ROUGHLY < spare < -_SHORT]
        if not again:
            return
        extra = _EXTRA + max(-spares[row][0] for row in again)
        pool = finer.taken(np.array(again))


def _finer(task: Task, pool: _Pool, extra: float) -> _Pool:
    """Return chains made shorter to the last digits, with `extra` mm of room; those left out that do not arrive."""
    stricter = _Field(tuple(replace(each, clearance=each.clearance + extra) for each in task.obstacles), task.r_out)
    places = Places.even(pool.chains.elbows, *_FINE)
    figures = shortened(pool.aims, pool.figures, places, stricter.rooms, stricter.slopes, _SLOW)
    figures, missed = arrived(pool.aims, figures)
    return replace(pool, figures=figures).taken(missed < 10.0 * ARRIVED)


def _least(clear: _Field, chains: Chains, places: Places) -> Array:
    return clear.rooms(chains, places, chains.points(places)).min(axis=(0, 2), initial=np.inf)


def _apart(signatures: Array, apart: float, most: int) -> NDArray[np.intp]:
    """Return the numbers of the first `most` of chains that run apart from those before them, mm."""
    chosen: list[int] = []
    spread = signatures.reshape(len(signatures), 7, 3)
    left = np.full(len(signatures), np.inf)
    for number in range(len(signatures)):
        if left[number] > apart:
            chosen.append(number)
            gaps = np.linalg.norm(spread - spread[number], axis=2).max(axis=1)
            left = np.minimum(left, gaps)
            if len(chosen) == most:
                break
    return np.array(chosen, dtype=np.intp)


def _different(task: Task, ranked: Sequence[Route], before: Iterable[Route]) -> list[Route]:
    """Return those of `ranked` that somewhere run more than a diameter from every better one."""
    kept, found = list(before), []
    for route in ranked:
        mine = _signature(route.chains(task.start)).reshape(-1, 3)
        others = (_signature(other.chains(task.start)).reshape(-1, 3) for other in kept)
        if all(np.linalg.norm(mine - other, axis=1).max() > _DIFFER * task.r_out for other in others):
            kept.append(route)
            found.append(route)
    return found


def _route(task: Task, pool: _Pool, row: int) -> Route:
    figures = pool.figures[row]
    turns = tuple(
        Turn(
            task.kinds[kind].name,
            task.kinds[kind].radius,
            round(float(np.degrees(angle)), _DIGITS + 2),
            round(float(np.degrees(clock) % 360.0), _DIGITS + 2),
        )
        for kind, clock, angle in zip(pool.kinds[row], figures[1::3], figures[2::3], strict=True)
    )
    straights = tuple(round(float(length), _DIGITS) for length in figures[0::3])
    return Route(straights, turns, int(pool.goals[row]), np.inf, "")


def spared(task: Task, route: Route) -> tuple[float, str]:
    """Return how far `route` keeps beyond what it must, mm, or nearly that and never more, and at which obstacle.

    Along the middle of the route by balls of the pipe's radius; within that radius of its ends, where a ball would
    stick out, by its skin.
    """
    line = _Line(route.chains(task.start))
    spare, near = np.inf, ""
    # The likely ones first, so that most of the others need no second look.
    for bound, number in sorted((_bound(task, line, obstacle), n) for n, obstacle in enumerate(task.obstacles)):
        obstacle = task.obstacles[number]
        if bound > spare:
            break
        found = min(_along(task, line, obstacle, spare), _at_ends(task, line, obstacle, spare))
        if found < spare:
            spare, near = found, obstacle.name
    return float(spare), near


@dataclass(frozen=True, eq=False)
class _Line:
    """The centre line of one chain."""

    chain: Chains

    @cached_property
    def ends(self) -> Array:
        """Where its pieces end, (2 k + 1,), mm along it."""
        spans = np.zeros(2 * self.chain.elbows + 1)
        spans[0::2], spans[1::2] = self.chain.lengths[0], (self.chain.radii * self.chain.angles)[0]
        return np.cumsum(spans)

    @property
    def length(self) -> float:
        """Its length, mm."""
        return float(self.ends[-1])

    @cached_property
    def quarters(self) -> Array:
        """The middles of its quarters, (4, 3), mm: none of it is farther from them than an eighth of its length."""
        return self.at(np.linspace(0.0, self.length, 9)[1::2])

    @property
    def stretch(self) -> float:
        """How much longer its skin may be than itself, a share for a mm of the pipe's radius."""
        return float(1.0 / self.chain.radii[0].min(initial=np.inf))

    def at(self, stations: Array) -> Array:
        """Return its points, (n, 3), mm, at stations, (n,), mm."""
        pieces = np.minimum(np.searchsorted(self.ends, stations), len(self.ends) - 1)
        spans = np.diff(self.ends, prepend=0.0)[pieces]
        shares = 1.0 - (self.ends[pieces] - stations) / np.maximum(spans, 1e-12)
        order = np.argsort(pieces, kind="stable")
        found = np.empty((len(stations), 3))
        found[order] = self.chain.points(Places(pieces[order], np.clip(shares[order], 0.0, 1.0)))[0]
        return found

    def skin(self, cells: Array, r_out: float) -> Array:
        """Return points of the outside, (n, 3), mm, at (n, 2): stations, mm, and clocks, radians, about."""
        step = 1e-4
        along = np.clip(cells[:, 0], step, self.length - step)
        before, here, after = np.split(self.at(np.concatenate([along - step, cells[:, 0], along + step])), 3)
        axis = (after - before) / np.linalg.norm(after - before, axis=1)[:, None]
        one, other = across(axis)
        return here + r_out * (np.cos(cells[:, 1:]) * one + np.sin(cells[:, 1:]) * other)


def _bound(task: Task, line: _Line, obstacle: Obstacle) -> float:
    """Return a room, mm, that the whole route has at least."""
    gap = float(obstacle.body.distance(line.quarters).min())
    return gap - line.length / 8.0 - task.r_out - obstacle.clearance


def _along(task: Task, line: _Line, obstacle: Obstacle, enough: float) -> float:
    """Return the least room of the middle of a route, mm, at most `_SURE` too small; anything above `enough`, mm, once
    it is known to be more."""
    low = max(task.r_out, obstacle.from_start)
    high = line.length - max(task.r_out, obstacle.from_end)
    if high <= low:
        return float(np.inf)
    count = 32
    half = 0.5 * (high - low) / count
    middles = np.asarray(low + half * (2.0 * np.arange(count) + 1.0), dtype=np.float64)
    need = obstacle.clearance + task.r_out
    best = np.inf
    while True:
        rooms = obstacle.body.distance(line.at(middles)) - need
        best = min(best, float(rooms.min()))
        open_ = middles[rooms - half < min(best, enough)]
        if half < _SURE or not open_.size:
            return best - half
        half *= 0.5
        middles = np.concatenate([open_ - half, open_ + half])


def _at_ends(task: Task, line: _Line, obstacle: Obstacle, enough: float) -> float:
    """Return the least room of the skin of a route within the pipe's radius of its ends, mm, or a little less;
    anything above `enough`, mm, once it is known to be more."""
    reach = min(task.r_out, 0.5 * line.length)
    least = np.inf
    for low, high in ((obstacle.from_start, reach), (line.length - reach, line.length - obstacle.from_end)):
        if high <= low:
            continue
        middle = line.at(np.full(1, 0.5 * (low + high)))
        whole = float(obstacle.body.distance(middle)[0]) - obstacle.clearance - 0.5 * (high - low) - task.r_out
        if whole > min(enough, least):
            continue
        size = np.array([high - low, 2.0 * np.pi]) / _CELLS
        grid = np.stack(np.meshgrid(*(np.arange(count) for count in _CELLS), indexing="ij"), axis=-1)
        cells = ((grid + 0.5) * size + (low, 0.0)).reshape(-1, 2)
        best = np.inf
        while True:
            rooms = obstacle.body.distance(line.skin(cells, task.r_out)) - obstacle.clearance
            half = 0.5 * (size[0] * (1.0 + task.r_out * line.stretch) + size[1] * task.r_out)
            best = min(best, float(rooms.min()))
            open_ = cells[rooms - half < min(best, enough, least)]
            if half < 2.5 * _SURE or not open_.size:
                break
            size = 0.5 * size
            cells = (open_[:, None] + 0.5 * size * _CORNERS).reshape(-1, 2)
        least = min(least, best - half)
    return float(least)


def _apart_from_itself(task: Task, route: Route) -> bool:
    """Tell whether parts of a route that are not neighbours keep off each other."""
    wide = 2.0 * task.r_out + task.apart
    stations = np.arange(0.0, route.length, 0.1 * wide)
    points = _Line(route.chains(task.start)).at(stations)
    far = np.abs(stations[:, None] - stations) > 1.6 * wide
    gaps = np.linalg.norm(points[:, None] - points, axis=2)
    return not (far & (gaps < wide)).any()
