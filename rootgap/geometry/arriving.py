"""Chains brought to end at a pose, and then made shorter while they still do and stay clear.

Terminology
    goal       the point and axis at which a chain is to end; the clock there is free, for pipe is round
    room       how far a point of a centre line is beyond what it must keep, mm; below nought it is short
    slack      figures that can change while the chain still arrives
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.chains import Array, Chains, Places
from rootgap.geometry.frames import Frame, cross

#: Lengths, mm, that weigh as much as a radian.
SCALE = 100.0
#: How far off, mm, and mm at `SCALE` of its axis, a chain may end that has no figure to spare, and any other.
MET, ARRIVED = 1e-3, 1e-8
#: Rounds of Newton's method, and the longest step of one, radians and lengths of `SCALE`.
_ROUNDS, _STRIDE = 25, 1.5
#: Rounds of projecting a step on its bounds, at most, and the share of its reach by which it still moves at the end.
_SWEEPS, _SETTLED = 12, 1e-2
#: How many obstacles are looked at beside the worst place of every piece.
_OBSTACLES = 4

#: Rooms, (obstacles, b, n), mm, of chains at places, which are at points, (b, n, 3), mm.
Rooms = Callable[[Chains, Places, Array], Array]
#: Slopes, (m, 3), of the rooms of points, (m, 3), mm, to the obstacles numbered (m,).
Slopes = Callable[[Array, NDArray[np.intp]], Array]


@dataclass(frozen=True)
class Pace:
    """How chains are made shorter. rounds: at most; first, least: steps, radians and lengths of `SCALE`; dear:
    millimetres of length that a millimetre of missing room is worth, no unit; met: how far off, mm, a chain may end."""

    rounds: int
    first: float
    least: float
    dear: float
    met: float


@dataclass(frozen=True, eq=False)
class Aims:
    """What b chains are to be. point, axis: of their goals, (b, 3), mm; sides: two directions square to each axis,
    (b, 2, 3); low, high: of their figures, (b, 3 k + 1), equal where a straight is to be left out."""

    start: Frame
    radii: Array
    point: Array
    axis: Array
    sides: Array
    low: Array
    high: Array

    def taken(self, chosen: NDArray[np.intp] | NDArray[np.bool_]) -> Aims:
        """Return those of the chains `chosen`."""
        return replace(
            self, **{name: getattr(self, name)[chosen] for name in ("radii", "point", "axis", "sides", "low", "high")}
        )

    def chains(self, figures: Array) -> Chains:
        """Return the chains of `figures`, mm and radians."""
        return Chains(self.start, self.radii, figures)

    @cached_property
    def weights(self) -> Array:
        """How far each figure, mm and radians, moves for a step of 1; nought for one that is held."""
        kinds = np.where(np.arange(self.low.shape[1]) % 3 == 0, SCALE, 1.0)
        return kinds * (self.high > self.low)

    def missed(self, chains: Chains) -> tuple[Array, Array]:
        """Return by how much the chains miss their goals, (b, 5), mm, and how that moves with a step, (b, 5, n)."""
        point, axis = chains.end
        turn, shift = chains.motions
        leans = np.einsum("bsd,bd->bs", self.sides, axis)
        sine, cosine = np.hypot(leans[:, 0], leans[:, 1]), (axis * self.axis).sum(axis=1)
        # The angle off, not its sine: a chain that ends backwards is far off.
        leans *= (SCALE * np.arctan2(sine, cosine) / np.maximum(sine, 1e-12))[:, None]
        leans[(sine < 1e-12) & (cosine < 0.0)] = np.pi * SCALE
        slope = np.empty((len(point), 5, turn.shape[1]))
        slope[:, :3] = (cross(turn, point[:, None]) + shift).transpose(0, 2, 1)
        # How an axis leans as it is turned: (turn x axis) . side is turn . (axis x side).
        slope[:, 3:] = SCALE * cross(axis[:, None], self.sides) @ turn.transpose(0, 2, 1)
        slope *= self.weights[:, None]
        return np.concatenate([point - self.point, leans], axis=1), slope

    def bounded(self, figures: Array) -> Array:
        """Return figures within their bounds; an elbow that turns the other way is one at the opposite clock."""
        figures = figures.copy()
        back = figures[:, 2::3] < 0.0
        figures[:, 1::3][back] += np.pi
        figures[:, 2::3] = np.abs(figures[:, 2::3])
        return np.clip(figures, self.low, self.high)


def across(axis: Array) -> tuple[Array, Array]:
    """Return two directions square to each axis, (b, 3): (b, 3) each."""
    least = np.eye(3)[np.argmin(np.abs(axis), axis=1)]
    one = cross(axis, least)
    one /= np.linalg.norm(one, axis=1)[:, None]
    return one, cross(axis, one)


def arrived(aims: Aims, figures: Array, rounds: int = _ROUNDS, met: float = ARRIVED) -> tuple[Array, Array]:
    """Return figures, (b, n), near those given, of chains that arrive, and by how much each still misses, (b,), mm:
    a chain that misses by no more than `met`, mm, is left as it is.

    Source: Newton's method with the least change of the figures (Moore-Penrose), those held that a bound stops.
    """
    figures = aims.bounded(figures)
    best, least = figures.copy(), np.full(len(figures), np.inf)
    running, here = np.arange(len(figures)), aims
    for turn in range(rounds + 1):
        missed, slope = here.missed(here.chains(figures[running]))
        miss = np.linalg.norm(missed, axis=1)
        better = miss < least[running]
        best[running[better]], least[running[better]] = figures[running[better]], miss[better]
        going = miss > met
        # What has come no nearer in half the rounds never will.
        if turn > rounds // 2:
            going &= least[running] < SCALE
        if turn == rounds or not going.any():
            break
        if not going.all():
            running, here, missed, slope = running[going], here.taken(going), missed[going], slope[going]
        now = figures[running]
        step = _least_step(slope, missed)
        stopped = _stopped(here, now, now + here.weights * step)
        again = stopped.any(axis=1)
        if again.any():
            step[again] = _least_step(slope[again] * ~stopped[again, None, :], missed[again])
        size = np.linalg.norm(step, axis=1)
        step *= np.minimum(1.0, _STRIDE / np.maximum(size, 1e-12))[:, None]
        figures[running] = here.bounded(now + here.weights * step)
    return best, least


def _least_step(slope: Array, missed: Array) -> Array:
    """Return the least step, (b, n), that undoes what is missed, (b, 5), mm."""
    square = slope @ slope.transpose(0, 2, 1)
    square += 1e-9 * (np.trace(square, axis1=1, axis2=2)[:, None, None] + 1e-12) * np.eye(missed.shape[1])
    return -(slope.transpose(0, 2, 1) @ np.linalg.solve(square, missed[..., None]))[..., 0]


def _stopped(aims: Aims, now: Array, then: Array) -> NDArray[np.bool_]:
    """Return which figures stand at a bound and would go beyond it."""
    room = 1e-9 * SCALE
    return ((now <= aims.low + room) & (then < aims.low)) | ((now >= aims.high - room) & (then > aims.high))


def shortened(aims: Aims, figures: Array, places: Places, rooms: Rooms, slopes: Slopes, pace: Pace) -> Array:
    """Return figures, (b, n), mm and radians, of chains that are as short as small steps make them and have room, or
    nearly.

    Source: gradient projection (Rosen 1960) in the slack, each step projected on the linear bounds of figures and
    rooms by Hildreth's method, kept where length and missing room together fall.
    """
    figures, step = figures.copy(), np.full(len(figures), pace.first)
    chains = aims.chains(figures)
    points = chains.points(places)
    room = rooms(chains, places, points)
    merit = _merit(chains, room, pace)
    for _ in range(pace.rounds):
        going = np.flatnonzero(step > pace.least)
        if not going.size:
            break
        here = aims.taken(going)
        tried = _stepped(here, figures[going], places, points[going], room[:, going], slopes, step[going])
        tried, miss = arrived(here, tried, 4, pace.met)
        chains = here.chains(tried)
        there = chains.points(places)
        now = rooms(chains, places, there)
        found = _merit(chains, now, pace)
        better = (miss < 10.0 * pace.met) & (found < merit[going] - 1e-6)
        kept = going[better]
        figures[kept], merit[kept] = tried[better], found[better]
        points[kept], room[:, kept] = there[better], now[:, better]
        step[kept] = np.minimum(1.3 * step[kept], pace.first)
        step[going[~better]] *= 0.4
    return figures


def _merit(chains: Chains, room: Array, pace: Pace) -> Array:
    """Return what is to be made small, (b,), mm: the length, and the missing room, which is dear."""
    return chains.length + pace.dear * np.maximum(-room.min(axis=(0, 2), initial=np.inf), 0.0)


def _stepped(
    aims: Aims, figures: Array, places: Places, points: Array, room: Array, slopes: Slopes, size: Array
) -> Array:
    """Return figures a step of `size`, (b,), on: shorter, and with room as far as that is straight ahead."""
    chains, weights = aims.chains(figures), aims.weights
    missed, slope = aims.missed(chains)
    home = _least_step(slope, missed)
    slack = np.linalg.svd(slope)[2][:, 5:]  # (b, q, n)
    uphill = np.zeros_like(figures)
    uphill[:, 0::3] = 1.0
    uphill[:, 2::3] = aims.radii
    uphill = np.einsum("bqn,bn->bq", slack, uphill * weights)
    size = size[:, None]
    step = -size * uphill / np.maximum(np.linalg.norm(uphill, axis=1), 1e-9)[:, None]
    low, high = figures - aims.low + weights * home, aims.high - figures - weights * home
    free = weights > 0.0
    moved = slack.transpose(0, 2, 1) * weights[..., None]
    steep, near = _near(chains, places, points, room, slopes)
    rows = [-moved, moved[:, 2::3], -np.einsum("bmn,bqn->bmq", steep * weights[:, None], slack)]
    limits = [
        np.where(free, low, np.inf),
        np.where(free, high, np.inf)[:, 2::3],
        near + np.einsum("bmn,bn->bm", steep, weights * home),
    ]
    step = _within(step, np.concatenate(rows, axis=1), np.concatenate(limits, axis=1), 2.0 * size)
    length = np.linalg.norm(step, axis=1)[:, None]
    step *= np.minimum(1.0, 2.0 * size / np.maximum(length, 1e-12))
    return aims.bounded(figures + weights * (home + np.einsum("bqn,bq->bn", slack, step)))


def _near(chains: Chains, places: Places, points: Array, room: Array, slopes: Slopes) -> tuple[Array, Array]:
    """Return how the rooms of the worst place of each piece, and of the worst obstacles, move with the figures,
    (b, m, n), and what they are, (b, m), mm."""
    many = len(points)
    if not len(room):
        return np.empty((many, 0, chains.figures.shape[1])), np.empty((many, 0))
    whose, at = [], []
    nearest = room.argmin(axis=0)
    least = np.take_along_axis(room, nearest[None], axis=0)[0]
    for piece in range(2 * chains.elbows + 1):
        here = np.flatnonzero(places.pieces == piece)
        at.append(here[least[:, here].argmin(axis=1)])
        whose.append(nearest[np.arange(many), at[-1]])
    by_obstacle, worst = room.min(axis=2), room.argmin(axis=2)
    for obstacle in np.argsort(by_obstacle, axis=0, kind="stable")[:_OBSTACLES]:
        whose.append(obstacle)
        at.append(worst[obstacle, np.arange(many)])
    chosen, obstacles = np.stack(at, axis=1), np.stack(whose, axis=1)
    rows = np.arange(many)[:, None]
    there = points[rows, chosen]
    found = room[obstacles, rows, chosen]
    steep = slopes(there.reshape(-1, 3), obstacles.ravel()).reshape(*there.shape)
    motions = chains.point_motions(places, chosen, there)
    return np.einsum("bmnd,bmd->bmn", motions, steep), found


def _within(step: Array, rows: Array, limits: Array, reach: Array) -> Array:
    """Return the nearest steps, (b, q), with rows @ step at most `limits`, (b, m); rows: (b, m, q). What no step
    of the length `reach`, (b, 1), comes to is left out.

    Source: Hildreth's method: one row's multiplier after the other, over and over.
    """
    size = (rows * rows).sum(axis=2)
    used = (size > 1e-12) & (limits < np.sqrt(size) * reach)
    some = np.flatnonzero(used.any(axis=0))
    used, size = used[:, some].T, np.where(used, size, 1.0)[:, some].T
    limits = np.where(used, limits[:, some].T, 1.0)
    ways = np.ascontiguousarray(rows[:, some].transpose(1, 2, 0)) * used[:, None]
    step, held = np.ascontiguousarray(step.T), np.zeros(limits.shape)
    for _ in range(_SWEEPS):
        before = step.copy()
        for row in range(len(some)):
            past = ((ways[row] * step).sum(axis=0) - limits[row]) / size[row]
            change = np.maximum(past, -held[row])
            held[row] += change
            step -= change * ways[row]
        if (np.abs(step - before) < _SETTLED * reach[:, 0]).all():
            break
    return step.T
