"""How near placed pieces come to keep-outs, many layouts at a time.

Terminology
    group      pieces that are judged as one: those of a run as one choice of values places it
    spine      the centre line of a plain pipe or bend; the pipe is everything within its outside radius of it
    drum       a length of pipe with flat ends: within its radius of an end that nothing continues, where a ball would
               stick out; a body of what stands on a flange
    copy       a piece of any other kind: its skin is looked at once for all that are like it
    interval   a length of a spine, told by its middle and half its length

The distance to a body is never steeper than 1, so a spine is no nearer anywhere in an interval than at its middle less
half its length. Intervals that could still hold the nearest point are halved until none could be nearer by `CLOSE`.
What is returned of spines is never more than the true distance, and at most `CLOSE` less. The distance of a drum or a
copy is that of the nearest place found; what is to be relied on is the check that every layout which is shown must
pass."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any, TypeVar, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.checks.gap import contained
from rootgap.geometry.distance import Bend as Round
from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.frames import Frame, cross
from rootgap.layout import Bend, Cap, Elbow, Hull, Piece, Plate, Run, Straight
from rootgap.layout.pieces import Member

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Intervals to begin with are about so long, mm, and how much less than the true distance, mm, may be returned.
FIRST, CLOSE = 25.0, 0.05
#: No interval is halved more often than this: FIRST is then far below CLOSE.
_HALVINGS = 16
#: Cells each way over a patch of a drum, to begin with.
_CELLS = 6
#: The same over any other skin, and how often its cells are quartered.
_MOULD, _ROUNDS = 32, 8
#: So many cells of a group's drums, and of its copies, are looked at closer at a time.
_FEW, _SOME = 24, 24
#: Pipe that goes on ends where the next begins, to so many mm.
_MEET = 1e-3
_CORNERS = np.array([(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)])

#: What pipe goes on in, as it does in a cap; a plate or a disc ends it.
_ON = get_args(Member)


def _even(count: int) -> Array:
    """Return the middles of `count` cells each way over the unit square, (count2, 2)."""
    even = (np.arange(count) + 0.5) / count
    return np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)


#: The middles of a drum's cells to begin with, (n, 2), on the unit squares of its three patches.
_AT = np.tile(_even(_CELLS), (3, 1))
#: What takes room: a piece, or a body of what stands on a flange.
Thing = Piece | Hull
Groups = Sequence[Sequence[Thing]]
Stack = TypeVar("Stack", "Spines", "Copies")


@dataclass(frozen=True, eq=False)
class Spines:
    """Centre lines of pipes, stacked: arcs, and straights as arcs of no turn. group: (n,); origin, axis: (n, 3), mm and
    no unit, at their starts; towards: (n, 3), to the middle of the arc; length, radius: (n,), mm, the radius infinite
    for a straight; r_out, r_in: (n,), mm, r_in nought of what is full."""

    group: Indices
    origin: Array
    axis: Array
    towards: Array
    length: Array
    radius: Array
    r_out: Array
    r_in: Array

    def points(self, which: Indices, station: Array) -> Array:
        """Return the points, (m, 3), mm, at stations, (m,), mm, of the spines `which`, (m,)."""
        radius = self.radius[which]
        straight = np.isinf(radius)
        turn = np.where(straight, 0.0, station / radius)
        ahead = np.where(straight, station, np.where(straight, 0.0, radius) * np.sin(turn))
        aside = np.where(straight, 0.0, radius) * (1.0 - np.cos(turn))
        return self.origin[which] + ahead[:, None] * self.axis[which] + aside[:, None] * self.towards[which]

    def of(self, number: Indices) -> Spines:
        """Return those of some groups. number: (groups,), what each is now, below nought where it is left out."""
        return _picked(self, number)

    def body(self, which: int) -> Rod | Round:
        """Return what one of them fills, bore and all."""
        origin, axis, length, radius = self.origin[which], self.axis[which], self.length[which], self.radius[which]
        if np.isinf(radius):
            return Rod(origin, origin + length * axis, float(self.r_out[which]))
        frame = Frame(origin, axis, self.towards[which])
        return Round(frame, float(radius), float(np.degrees(length / radius)), 0.0, float(self.r_out[which]))

    def distances(self, body: Body, groups: int, enough: float) -> Array:
        """Return the least distance, (groups,), mm, of each group's pipes from `body`, infinite for one without;
        `enough` as in Stacks."""
        least = np.full(groups, np.inf)
        count = np.maximum(np.ceil(self.length / FIRST), 1.0).astype(np.intp)
        which = np.repeat(np.arange(len(count)), count)
        if not which.size:
            return least
        half = 0.5 * (self.length / count)[which]
        station = (2.0 * (np.arange(which.size) - np.repeat(np.cumsum(count) - count, count)) + 1.0) * half
        for _ in range(_HALVINGS):
            gaps = body.distance(self.points(which, station)) - self.r_out[which]
            group = self.group[which]
            np.minimum.at(least, group, gaps)
            open_ = np.flatnonzero(gaps - half < np.minimum(least[group] - CLOSE, enough))
            if not open_.size:
                break
            half = np.repeat(0.5 * half[open_], 2)
            station = np.repeat(station[open_], 2) + half * np.tile([-1.0, 1.0], open_.size)
            which = np.repeat(which[open_], 2)
        return least - CLOSE


@dataclass(frozen=True, eq=False)
class _Spine:
    """The centre line of one pipe. frame: at its start; length, radius, r_out, r_in: as in Spines; clock: where it
    bends to, degrees."""

    frame: Frame
    length: float
    radius: float
    clock: float
    r_out: float
    r_in: float

    def flat(self, away: float) -> float:
        """Return how much of it, mm, lies so near to where nothing goes on, `away` mm from its own end, that a ball
        would stick out there."""
        stick = max(self.r_out - away, 0.0)
        reach = stick if np.isinf(self.radius) else self.radius * np.arcsin(min(stick / self.radius, 1.0))
        return float(min(reach, self.length))

    def part(self, low: float, high: float) -> _Spine:
        """Return what lies between two stations, mm."""
        if np.isinf(self.radius):
            frame = self.frame.advanced(low)
        else:
            frame = self.frame.bent(self.radius, float(np.degrees(low / self.radius)), self.clock)
        return replace(self, frame=frame, length=high - low)


def _spine(thing: Thing) -> _Spine | None:
    """Return the centre line of a plain pipe or bend; None for anything else."""
    if isinstance(thing, Hull):
        body = thing.body
        if isinstance(body, Rod):
            frame, length = Frame.looking(body.start, body.end - body.start), np.linalg.norm(body.end - body.start)
            return _Spine(frame, float(length), np.inf, 0.0, body.radius, 0.0)
        return _Spine(body.frame, float(body.radius * np.radians(body.angle)), body.radius, body.clock, body.r_out, 0.0)
    if isinstance(thing, Straight) and not thing.formed:
        return _Spine(thing.start, thing.length, np.inf, 0.0, thing.stock.r_out, thing.stock.r_in)
    if isinstance(thing, Elbow | Bend):
        return _Spine(thing.start, thing.length, thing.radius, thing.clock, thing.stock.r_out, thing.stock.r_in)
    return None


def _parted(group: Sequence[Thing]) -> Iterator[tuple[_Spine, bool]]:
    """Yield the plain pipes and bends of a group in parts, and whether each has flat ends, as a drum has."""
    spines = [_spine(thing) for thing in group]
    on = [_goes_on(one, other) for one, other in pairwise(group)]
    # How far it is from each thing's start, and from its end, to where nothing goes on, mm.
    before, after = [0.0] * len(group), [0.0] * len(group)
    for at in range(1, len(group)):
        before[at] = before[at - 1] + _along(group[at - 1]) if on[at - 1] else 0.0
    for at in reversed(range(len(group) - 1)):
        after[at] = after[at + 1] + _along(group[at + 1]) if on[at] else 0.0
    for thing, spine, start, end in zip(group, spines, before, after, strict=True):
        if spine is None:
            continue
        low, high = spine.flat(start), spine.length - spine.flat(end)
        if isinstance(thing, Hull) or low >= high:
            yield spine, True
            continue
        yield spine.part(low, high), False
        if low > 0.0:
            yield spine.part(0.0, low), True
        if high < spine.length:
            yield spine.part(high, spine.length), True


def _along(thing: Thing) -> float:
    """Return how far, mm, a piece reaches along the gas, at least."""
    if isinstance(thing, Cap):
        return thing.length
    return float(np.linalg.norm(thing.end.origin - thing.start.origin)) if isinstance(thing, _ON) else 0.0


def _goes_on(one: Thing, other: Thing) -> bool:
    """Tell whether pipe goes on from one thing to another."""
    return any(float(np.abs(end - start).max()) < _MEET for end in _ends(one) for start in _ends(other))


def _ends(thing: Thing) -> tuple[Array, ...]:
    """Return the points, (3,), mm, at which pipe may go on from a thing."""
    if isinstance(thing, Cap):
        return (thing.start.origin,)
    return (thing.start.origin, thing.end.origin) if isinstance(thing, _ON) else ()


def _stack(parts: Sequence[tuple[int, _Spine]]) -> Spines:
    """Return spines of groups, by number, as one."""
    spines = [spine for _, spine in parts]
    return Spines(
        np.array([number for number, _ in parts], dtype=np.intp),
        _stacked([spine.frame.origin for spine in spines]),
        _stacked([spine.frame.axis for spine in spines]),
        _stacked([spine.frame.radial(np.radians(spine.clock)) for spine in spines]),
        np.array([spine.length for spine in spines]),
        np.array([spine.radius for spine in spines]),
        np.array([spine.r_out for spine in spines]),
        np.array([spine.r_in for spine in spines]),
    )


def pipes_of(groups: Groups) -> tuple[Spines, Drums]:
    """Return the plain pipes and bends in `groups`, and what of them has flat ends."""
    parts = [(number, *part) for number, group in enumerate(groups) for part in _parted(group)]
    round_, flat = ([(number, spine) for number, spine, drum in parts if drum is wanted] for wanted in (False, True))
    return _stack(round_), Drums.along(_stack(flat))


def _stacked(rows: Sequence[Array]) -> Array:
    return np.array(rows, dtype=np.float64).reshape(-1, 3)


@dataclass(frozen=True, eq=False)
class Drums:
    """Lengths of pipe with flat ends. Their outsides are three patches each: 0 the side, 1 and 2 the end faces, open
    as far as the bore. middles: (n, 3 `_CELLS`2, 3), mm, of the cells to begin with, patch by patch."""

    spines: Spines
    middles: Array

    @classmethod
    def along(cls, spines: Spines) -> Drums:
        """Return the drums along `spines`."""
        count, cells = len(spines.length), len(_AT) // 3
        which, patch = np.repeat(np.arange(count), len(_AT)), np.tile(np.repeat(np.arange(3), cells), count)
        middles = _on_drums(spines, which, patch, *np.tile(_AT, (count, 1)).T)
        return cls(spines, middles.reshape(count, len(_AT), 3))

    @property
    def group(self) -> Indices:
        """The group of each, (n,)."""
        return self.spines.group

    def of(self, number: Indices) -> Drums:
        """Return those of some groups. number: (groups,), what each is now, below nought where it is left out."""
        return Drums(self.spines.of(number), self.middles[number[self.group] >= 0])

    def distances(self, body: Body, least: Array, enough: float) -> Array:
        """Return `least`, (groups,), mm, or the least distance of each group's drums from `body` where that is less;
        `enough` as in Stacks.

        The cells of the patches that could hold the nearest point are quartered time and again, the likeliest few of
        each group: faces that lie flat against each other have it everywhere, and need no more."""
        spines = self.spines
        away = body.distance(spines.points(np.arange(len(spines.length)), 0.5 * spines.length))
        # Of a ball round each that holds it.
        past = away - np.where(
            np.isinf(spines.radius), np.hypot(0.5 * spines.length, spines.r_out), 0.5 * spines.length + spines.r_out
        )
        least = least.copy()
        np.minimum.at(least, spines.group, away)
        drums = np.flatnonzero(past < np.minimum(least[spines.group], enough))
        count = len(drums)
        which, at = np.repeat(drums, len(_AT)), np.tile(_AT, (count, 1))
        patch = np.tile(np.repeat(np.arange(3), len(_AT) // 3), count)
        size, points = 1.0 / _CELLS, self.middles[drums].reshape(-1, 3)
        # The outer side of a bend is longer than its middle.
        side, wall = spines.length * (1.0 + spines.r_out / spines.radius), spines.r_out - spines.r_in
        round_, along = 2.0 * np.pi * spines.r_out, np.stack([side, wall, wall])
        for _ in range(_ROUNDS):
            gaps = body.distance(points)
            group = spines.group[which]
            np.minimum.at(least, group, gaps)
            spread = 0.5 * size * np.hypot(round_[which], along[patch, which])
            open_ = _likeliest(group, gaps - spread, np.minimum(least - CLOSE, enough), _FEW)
            if not open_.size:
                break
            size *= 0.5
            which, patch = np.repeat(which[open_], 4), np.repeat(patch[open_], 4)
            at = (at[open_, None, :] + 0.5 * size * _CORNERS).reshape(-1, 2)
            points = _on_drums(spines, which, patch, *at.T)
        for drum in np.flatnonzero((spines.r_in == 0.0) & (past < 0.0) & (least[spines.group] > 0.0)).tolist():
            # A small body may lie wholly inside, and meet no skin.
            least[spines.group[drum]] = min(least[spines.group[drum]], contained(spines.body(drum), body))
        return least


def _on_drums(spines: Spines, which: Indices, patch: Indices, u: Array, v: Array) -> Array:
    """Return the points, (m, 3), mm, at the places u, v, (m,), of the unit square of the patches, (m,), of the drums
    `which`, (m,): u goes round, v along the side, or out over an end face."""
    station = np.where(patch == 0, v, patch - 1.0) * spines.length[which]
    across = np.where(patch == 0, 1.0, v) * (spines.r_out - spines.r_in)[which] + spines.r_in[which]
    bent, round_ = station / spines.radius[which], 2.0 * np.pi * u
    axis, towards = spines.axis[which], spines.towards[which]
    inwards = np.cos(bent)[:, None] * towards - np.sin(bent)[:, None] * axis
    return (
        spines.points(which, station)
        + (across * np.cos(round_))[:, None] * inwards
        + (across * np.sin(round_))[:, None] * cross(axis, towards)
    )


def _likeliest(group: Indices, bounds: Array, least: Array, few: int) -> Indices:
    """Return the rows, (k,), of the `few` lowest `bounds`, (n,), mm, of each `group`, (n,), that are below its `least`,
    (groups,), mm."""
    rows = np.flatnonzero(bounds < least[group])
    rows = rows[np.lexsort((bounds[rows], group[rows]))]
    first = np.searchsorted(group[rows], group[rows])
    return rows[np.arange(len(rows)) - first < few]


@dataclass(frozen=True, eq=False)
class _Template:
    """The skin of a piece that is neither plain pipe nor drum, in cells, in the frame of its own start. at: (n, 2), the
    cells' middles on the unit square; middles: (n, 3), mm; spread: (n,), how far each cell's corners lie from its
    middle, mm; made_of: what tells the piece from others, kept so that no other thing takes its place in memory."""

    skin: Callable[[Array], Array]
    at: Array
    size: float
    middles: Array
    spread: Array
    made_of: tuple[Any, ...]


def _template(piece: Piece, made_of: tuple[Any, ...]) -> _Template:
    skin, frame = piece.skin(), piece.start

    def local(at: Array) -> Array:
        return frame.to_local(skin(at[:, 0], at[:, 1]))

    at = _even(_MOULD)
    middles = local(at)
    return _Template(local, at, 1.0 / _MOULD, middles, _spread(local, at, 1.0 / _MOULD, middles), made_of)


def _spread(skin: Callable[[Array], Array], at: Array, size: float, middles: Array) -> Array:
    """Return how far, (n,), mm, the corners of cells of `size` lie from their `middles`, (n, 3), mm."""
    corners = (np.clip(at + 0.5 * size * corner, 0.0, 1.0) for corner in _CORNERS)
    return np.max([np.linalg.norm(skin(uv) - middles, axis=1) for uv in corners], axis=0)


@dataclass(frozen=True, eq=False)
class Copies:
    """Pieces of one template. group: (n,); origin: (n, 3), mm; axes: (n, 3, 3), the ref, the side and the axis of
    each."""

    template: _Template
    group: Indices
    origin: Array
    axes: Array

    def of(self, number: Indices) -> Copies:
        """Return those of some groups. number: (groups,), what each is now, below nought where it is left out."""
        return _picked(self, number)

    def placed(self, which: Indices, local: Array) -> Array:
        """Return points, (m, 3), mm, of the template on the copies `which`, (m,)."""
        return self.origin[which] + np.einsum("ij,ijk->ik", local, self.axes[which])

    def distances(self, body: Body, least: Array, enough: float) -> Array:
        """Return `least`, (groups,), mm, or the least distance of each group's copies from `body` where that is less:
        the likeliest few cells of each group are quartered time and again; `enough` as in Stacks."""
        least, template = least.copy(), self.template
        cells, size = len(template.at), template.size
        which = np.repeat(np.arange(len(self.group)), cells)
        at, local, spread = (
            np.tile(each, (len(self.group), 1) if each.ndim == 2 else len(self.group))
            for each in (template.at, template.middles, template.spread)
        )
        for _ in range(_ROUNDS):
            gaps = body.distance(self.placed(which, local))
            group = self.group[which]
            np.minimum.at(least, group, gaps)
            open_ = _likeliest(group, gaps - spread, np.minimum(least - CLOSE, enough), _SOME)
            if not open_.size:
                break
            size *= 0.5
            which = np.repeat(which[open_], 4)
            at = (at[open_, None, :] + 0.5 * size * _CORNERS).reshape(-1, 2)
            local = template.skin(at)
            spread = _spread(template.skin, at, size, local)
        return least


def _picked(stack: Stack, number: Indices) -> Stack:
    """Return what is stacked of some groups. number: (groups,), what each is now, below nought where it is left out."""
    kept = np.flatnonzero(number[stack.group] >= 0)
    arrays = {each.name: getattr(stack, each.name) for each in fields(stack)}
    picked: dict[str, Any] = {name: array[kept] for name, array in arrays.items() if isinstance(array, np.ndarray)}
    return replace(stack, **picked | {"group": number[stack.group[kept]]})


@dataclass(frozen=True, eq=False)
class Stacks:
    """Groups of pieces, stacked by what they are. count: of groups."""

    count: int
    spines: Spines
    others: tuple[Drums | Copies, ...]

    def only(self, rows: Indices) -> Stacks:
        """Return the groups `rows`, (k,), in that order."""
        number = np.full(self.count, -1)
        number[rows] = np.arange(len(rows))
        others = (stack.of(number) for stack in self.others)
        return Stacks(len(rows), self.spines.of(number), tuple(each for each in others if each.group.size))

    def distances(self, bodies: Sequence[Body], enough: ArrayLike = np.inf) -> Array:
        """Return the least distance, (groups, bodies), mm, of each group from each body; see the module. Once that is
        known to be above `enough`, (bodies,), mm, any figure above it may come, infinity too."""
        found = np.empty((self.count, len(bodies)))
        for column, (body, most) in enumerate(zip(bodies, np.broadcast_to(enough, len(bodies)), strict=True)):
            least = self.spines.distances(body, self.count, float(most))
            for stack in self.others:
                least = stack.distances(body, least, float(most))
            found[:, column] = least
        return found


class Near:
    """Stacks groups of pieces to ask for their distances; the skins of equal pieces are looked at once."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._templates: dict[tuple[Any, ...], _Template] = {}

    def stacked(self, groups: Groups) -> Stacks:
        """Return groups of pieces, stacked."""
        spines, drums = pipes_of(groups)
        return Stacks(len(groups), spines, (*([drums] if drums.group.size else ()), *self._copies(groups)))

    def _copies(self, groups: Groups) -> Iterator[Copies]:
        """Yield what is neither plain pipe nor drum, by what it is a copy of."""
        found: dict[int, list[tuple[int, Frame]]] = {}
        templates: dict[int, _Template] = {}
        for number, group in enumerate(groups):
            for thing in group:
                if not isinstance(thing, Hull) and _spine(thing) is None:
                    template = self._template(thing)
                    templates[id(template)] = template
                    found.setdefault(id(template), []).append((number, thing.start))
        for key, copies in found.items():
            yield Copies(
                templates[key],
                np.array([number for number, _ in copies], dtype=np.intp),
                _stacked([frame.origin for _, frame in copies]),
                np.array([_axes(frame) for _, frame in copies]),
            )

    def _template(self, piece: Piece) -> _Template:
        """Return the skin that a piece shares with all its like."""
        made_of = (type(piece), *(getattr(piece, each.name) for each in fields(piece) if each.name not in _WHERE))
        key = tuple(each if isinstance(each, float | int | str | type) else id(each) for each in made_of)
        if key not in self._templates:
            self._templates[key] = _template(piece, made_of)
        return self._templates[key]


def _axes(frame: Frame) -> Array:
    """Return a frame's ref, side and axis as rows, (3, 3)."""
    return np.array([frame.ref, frame.side, frame.axis])


#: What says where a piece stands, or only what it is called.
_WHERE = ("id", "run", "start")


def pieces_of(run: Run, *, placed: bool) -> tuple[Piece, ...]:
    """Return the pieces of a run, what closes its ends, and the flange that it places."""
    flange: tuple[Plate, ...] = (run.flange,) if run.flange and placed else ()
    return *run.along(), *flange
