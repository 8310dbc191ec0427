"""How far round a bar can be swung about an axis before it meets something.

The answer is never too large: a place of the bar counts as free as far round as each of its points may turn before it
has gone as far as its distance from the nearest body (a signed distance is never steeper than 1).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame

Array = NDArray[np.float64]

#: Places round the turn that are looked at first, and how often the gaps between free ones are halved.
_PLACES, _HALVINGS = 144, 4


@dataclass(frozen=True, eq=False)
class Bar:
    """A bar square to an axis, as balls along it. reach: (n,), mm, of their middles from the axis; radius: (n,), mm."""

    reach: Array
    radius: Array

    @classmethod
    def of(cls, low: float, high: float, radius: float, spacing: float = 5.0) -> Bar:
        """Return the bar from `low` to `high`, mm from the axis, so that its balls hold a rod of `radius` mm; spacing:
        mm, at most, of the balls."""
        count = max(int(np.ceil((high - low) / spacing)), 1) + 1
        reach = np.linspace(low, high, count)
        half = 0.5 * (high - low) / (count - 1)
        return cls(reach, np.full(count, float(np.hypot(radius, half))))

    def and_(self, other: Bar) -> Bar:
        """Return both bars as one; lengths in mm."""
        return Bar(np.append(self.reach, other.reach), np.append(self.radius, other.radius))


@dataclass(frozen=True, eq=False)
class Swing:
    """The widest turn that a bar has. angle: degrees, 360 all round; middle: clock in the midst of it, degrees; blocks:
    the index of the body that is nearest there, None where there is none."""

    angle: float
    middle: float
    blocks: int | None


def widest_swing(at: Frame, bar: Bar, bodies: Sequence[Body]) -> Swing:
    """Return the widest turn of `bar` about the axis of `at`, through its origin, among `bodies`."""
    if not bodies:
        return Swing(360.0, 0.0, None)
    clocks = np.linspace(0.0, 2.0 * np.pi, _PLACES, endpoint=False)
    free, blocks = _free(at, bar, bodies, clocks)
    for _ in range(_HALVINGS):
        ahead, room = np.roll(clocks, -1), np.roll(free, -1)
        step = (ahead - clocks) % (2.0 * np.pi)
        open_ = np.flatnonzero((free > 0.0) & (room > 0.0) & (free + room < step))
        if not open_.size:
            break
        between = (clocks[open_] + 0.5 * step[open_]) % (2.0 * np.pi)
        more, which = _free(at, bar, bodies, between)
        order = np.argsort(np.append(clocks, between))
        clocks = np.append(clocks, between)[order]
        free, blocks = np.append(free, more)[order], np.append(blocks, which)[order]
    return _widest(clocks, free, blocks)


def _free(at: Frame, bar: Bar, bodies: Sequence[Body], clocks: Array) -> tuple[Array, NDArray[np.intp]]:
    """Return how far, radians, the bar may turn either way from each of `clocks`, (n,), below nought where it does not
    lie free, and which body allows least there."""
    points = at.origin + bar.reach[None, :, None] * at.radial(clocks)[:, None, :]
    flat = points.reshape(-1, 3)
    room = np.array([body.distance(flat).reshape(len(clocks), -1) - bar.radius for body in bodies])
    turn = (room / np.maximum(bar.reach, 1.0)).min(axis=2)
    return turn.min(axis=0), turn.argmin(axis=0)


def _widest(clocks: Array, free: Array, blocks: NDArray[np.intp]) -> Swing:
    best = int(np.argmax(free))
    if free[best] <= 0.0:
        return Swing(0.0, float(np.degrees(clocks[best])), int(blocks[best]))
    ahead = np.roll(clocks, -1)
    joined = (free + np.roll(free, -1) >= (ahead - clocks) % (2.0 * np.pi)) & (free > 0.0) & (np.roll(free, -1) > 0.0)
    if joined.all():
        return Swing(360.0, float(np.degrees(clocks[best])), int(blocks[best]))
    # Begin after a break, so that no free turn runs over the end of the array.
    start = int(np.flatnonzero(~joined)[-1]) + 1
    order = np.roll(np.arange(len(clocks)), -start)
    widest = Swing(0.0, 0.0, None)
    first = 0
    for index in range(len(order)):
        if joined[order[index]]:
            continue
        run = order[first : index + 1]
        first = index + 1
        if free[run[0]] <= 0.0:
            continue
        low, high = clocks[run[0]] - free[run[0]], clocks[run[-1]] + free[run[-1]]
        angle = (clocks[run[-1]] - clocks[run[0]]) % (2.0 * np.pi) + free[run[0]] + free[run[-1]]
        if np.degrees(angle) > widest.angle:
            nearest = run[int(np.argmin(free[run]))]
            middle = float(np.degrees(0.5 * (low + high + (2.0 * np.pi if high < low else 0.0)))) % 360.0
            widest = Swing(float(np.degrees(min(angle, 2.0 * np.pi))), middle, int(blocks[nearest]))
    return widest
