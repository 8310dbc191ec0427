"""How near placed pieces come to keep-outs, many layouts at a time.

Terminology
    group      pieces that are judged as one: those of a run as one choice of values places it
    spine      the centre line of a plain pipe or bend; the pipe is everything within its outside radius of it
    interval   a length of a spine, told by its middle and half its length

The distance to a body is never steeper than 1, so a spine is no nearer anywhere in an interval than at its middle less
half its length. Intervals that could still hold the nearest point are halved until none could be nearer by `CLOSE`.
What is returned is never more than the true distance, and at most `CLOSE` less, except off the flat end of a pipe that
nothing continues, where the round end of the pipe's spine counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.gap import Cover, covered, gap
from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.layout import Bend, Elbow, Piece, Plate, Run, Straight

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Intervals to begin with are about so long, mm, and how much less than the true distance, mm, may be returned.
FIRST, CLOSE = 25.0, 0.01
#: No interval is halved more often than this: 25 mm are then far below CLOSE.
_HALVINGS = 16
_SPINED = (Straight, Elbow, Bend)


@dataclass(frozen=True, eq=False)
class Spines:
    """Centre lines of pipes, stacked: arcs, and straights as arcs of no turn. group: (n,); origin, axis: (n, 3), mm and
    no unit, at their starts; towards: (n, 3), to the middle of the arc; length, radius: (n,), mm, the radius infinite
    for a straight; r_out: (n,), mm."""

    group: Indices
    origin: Array
    axis: Array
    towards: Array
    length: Array
    radius: Array
    r_out: Array

    def points(self, which: Indices, station: Array) -> Array:
        """Return the points, (m, 3), mm, at stations, (m,), mm, of the spines `which`, (m,)."""
        radius = self.radius[which]
        straight = np.isinf(radius)
        turn = np.where(straight, 0.0, station / radius)
        ahead = np.where(straight, station, np.where(straight, 0.0, radius) * np.sin(turn))
        aside = np.where(straight, 0.0, radius) * (1.0 - np.cos(turn))
        return self.origin[which] + ahead[:, None] * self.axis[which] + aside[:, None] * self.towards[which]

    def distances(self, body: Body, groups: int) -> Array:
        """Return the least distance, (groups,), mm, of each group's pipes from `body`, infinite for one without."""
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
            open_ = np.flatnonzero(gaps - half < least[group] - CLOSE)
            if not open_.size:
                break
            half = np.repeat(0.5 * half[open_], 2)
            station = np.repeat(station[open_], 2) + half * np.tile([-1.0, 1.0], open_.size)
            which = np.repeat(which[open_], 2)
        return least - CLOSE


def spines_of(groups: Sequence[Sequence[Piece]]) -> Spines:
    """Return the centre lines of all the plain pipes and bends in `groups`."""
    found = [(number, piece) for number, group in enumerate(groups) for piece in group if is_spined(piece)]
    pieces: list[Any] = [piece for _, piece in found]
    frames: list[Frame] = [piece.start for piece in pieces]
    bent = [not isinstance(piece, Straight) for piece in pieces]
    return Spines(
        np.array([number for number, _ in found], dtype=np.intp),
        _stacked([frame.origin for frame in frames]),
        _stacked([frame.axis for frame in frames]),
        _stacked(
            [
                frame.radial(np.radians(piece.clock)) if bends else frame.ref
                for frame, piece, bends in zip(frames, pieces, bent, strict=True)
            ]
        ),
        np.array([piece.length for piece in pieces]),
        np.array([piece.radius if bends else np.inf for piece, bends in zip(pieces, bent, strict=True)]),
        np.array([piece.stock.r_out for piece in pieces]),
    )


def _stacked(rows: Sequence[Array]) -> Array:
    return np.array(rows, dtype=np.float64).reshape(-1, 3)


def is_spined(piece: Piece) -> bool:
    """Tell whether a piece is a plain pipe or bend."""
    return isinstance(piece, _SPINED) and not (isinstance(piece, Straight) and piece.formed)


@dataclass(frozen=True, eq=False)
class _Template:
    """The skin of a piece that is no plain pipe, in cells, where the first of its like stands. frame: of that one's
    start; made_of: what tells it from others, kept so that no other thing takes its place in memory."""

    cover: Cover
    frame: Frame
    made_of: tuple[Any, ...]

    def moved(self, to: Frame) -> Cover:
        """Return the skin as it stands at the frame `to`."""
        skin, here = self.cover.skin, self.frame
        axes = np.array([to.ref, to.side, to.axis])

        def points(u: Array, v: Array) -> Array:
            return to.origin + here.to_local(skin(u, v)) @ axes

        middles = to.origin + here.to_local(self.cover.middles) @ axes
        return Cover(points, self.cover.at, self.cover.size, middles, self.cover.spread)


class Near:
    """Distances of groups of pieces from bodies; the skins of equal pieces are looked at once."""

    def __init__(self) -> None:
        """Begin with nothing known."""
        self._templates: dict[tuple[Any, ...], _Template] = {}

    def distances(self, groups: Sequence[Sequence[Piece]], bodies: Sequence[Body]) -> Array:
        """Return the least distance, (groups, bodies), mm, of each group from each body; see the module."""
        spines = spines_of(groups)
        least = np.column_stack([spines.distances(body, len(groups)) for body in bodies])
        others = [(number, piece) for number, group in enumerate(groups) for piece in group if not is_spined(piece)]
        if not others:
            return least
        covers = [self._cover(piece) for _, piece in others]
        cells = np.cumsum([0, *(len(cover.middles) for cover in covers)])
        middles, spread = np.vstack([cover.middles for cover in covers]), np.concatenate([c.spread for c in covers])
        for column, body in enumerate(bodies):
            bounds = np.minimum.reduceat(body.distance(middles) - spread, cells[:-1])
            for (number, _), cover, bound in zip(others, covers, bounds, strict=True):
                if bound < least[number, column]:
                    least[number, column] = min(
                        least[number, column], gap(cover, body, enough=least[number, column]) - CLOSE
                    )
        return least

    def nearest(self, pieces: Sequence[Piece], body: Body) -> Array:
        """Return the middle, (3,), mm, of the cell of all pieces' skins that is nearest to a body."""
        middles = np.vstack([self._cover(piece).middles for piece in pieces])
        return middles[int(np.argmin(body.distance(middles)))]

    def _cover(self, piece: Piece) -> Cover:
        """Return the skin of a piece in cells, moved from where an equal one was looked at."""
        made_of = (type(piece), *(getattr(piece, each.name) for each in fields(piece) if each.name not in _WHERE))
        key = tuple(each if isinstance(each, float | int | str | type) else id(each) for each in made_of)
        if key not in self._templates:
            self._templates[key] = _Template(covered(piece, {}), piece.start, made_of)
        return self._templates[key].moved(piece.start)


#: What says where a piece stands, or only what it is called.
_WHERE = ("id", "run", "start")


def pieces_of(run: Run, *, placed: bool) -> tuple[Piece, ...]:
    """Return the pieces of a run, what closes its ends, and the flange that it places."""
    flange: tuple[Plate, ...] = (run.flange,) if run.flange and placed else ()
    return *run.along(), *flange
