"""The least distance from a piece's outside to a body."""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Bend, Body, Dome, Frustum, HalfRod, Prism, Rod, Shifted
from rootgap.geometry.frames import Frame, lengths
from rootgap.geometry.mesh import Mesh
from rootgap.joints import Cuts, reach
from rootgap.kept import Kept, fingerprint
from rootgap.layout.motion import POSITIONS, STILL, Motion, Moved
from rootgap.layout.pieces import Cap, Piece, Plate, Skin, Straight
from rootgap.layout.pieces.arc import Arc

Array = NDArray[np.float64]

#: Cells each way over a skin to begin with, how often they are quartered, how many are kept at most, and
#: how close to the least the answer must be, mm.
CELLS, ROUNDS, MOST, CLOSE = 33, 12, 1500, 0.02
#: To what share of it, no unit, the depth in a scan is told: all round the middle of a round one it is alike, and each
#: look there takes long.
DEEP = 0.01
#: How many are kept at most of a skin beside a body that moves.
MOST_MOVED = 400
#: Clocks round a cut end, and the shortest rod, mm, that is left between two.
CLOCKS, SHORTEST = 361, 0.1
#: Share of a pipe's skin that the rim of a square end takes.
RIM = 0.05
#: A skin's cells are first judged from so many of them, within so many mm.
FEW, ROUNDING = 36, 1e-3
#: How far a chord of a plate's edge may lie from it, mm.
CHORD = 0.1
#: How often a point is moved down to a body's surface.
FEET = 4
#: Step, mm, of differences that stand for a slope, and a slope, no unit, that is none.
STEP, TINY = 1e-4, 1e-9
#: So near to a body's surface, mm, a point is on it; places, in radii off a pipe's middle, that it is looked for from.
FOUND = 1e-2
_ASIDE = np.array([(0.0, 0.0, 0.0), (0.13, 0.29, -0.17), (-0.31, 0.07, 0.23), (0.11, -0.37, 0.05)])
#: Skins in cells: enough for a few manifolds.
COVERS: Kept[Cover] = Kept(1000)
_CORNERS = 0.5 * np.array([(-1.0, -1.0), (-1.0, 1.0), (1.0, -1.0), (1.0, 1.0)])


@dataclass(frozen=True, eq=False)
class Cover:
    """A skin in cells. at: (n, 2), the cells' middles on the unit square; size: of a cell there; middles: (n, 3),
    mm; spread: (n,), how far each cell's corners lie from its middle, mm."""

    skin: Skin
    at: Array
    size: float
    middles: Array
    spread: Array

    @cached_property
    def ball(self) -> tuple[Array, float]:
        """The middle, (3,), mm, and the radius, mm, of a ball round it all."""
        middle = 0.5 * (self.middles.min(axis=0) + self.middles.max(axis=0))
        return middle, float((np.linalg.norm(self.middles - middle, axis=1) + self.spread).max())

    def kept(self, cells: NDArray[np.intp]) -> Cover:
        """Return `cells`, (k,), of it alone."""
        return Cover(self.skin, self.at[cells], self.size, self.middles[cells], self.spread[cells])

    def grown(self, about: Array, share: float) -> Cover:
        """Return the skin grown by `share`, no unit, about a point, (3,), mm."""

        def skin(u: Array, v: Array) -> Array:
            return about + (1.0 + share) * (self.skin(u, v) - about)

        middles = about + (1.0 + share) * (self.middles - about)
        return Cover(skin, self.at, self.size, middles, (1.0 + share) * self.spread)

    def shifted(self, by: Array) -> Cover:
        """Return the skin somewhere else: moved by (3,), mm."""

        def skin(u: Array, v: Array) -> Array:
            return self.skin(u, v) + by

        return Cover(skin, self.at, self.size, self.middles + by, self.spread)

    def quartered(self, kept: NDArray[np.intp]) -> Cover:
        """Return the quarters of the cells `kept`, (k,)."""
        at = (self.at[kept, None, :] + 0.5 * self.size * _CORNERS).reshape(-1, 2)
        return _cover(self.skin, at, 0.5 * self.size)


def covers_of(pieces: Iterable[Piece], cuts: Cuts) -> dict[str, Cover]:
    """Return what `covered` does of each piece, by its mark; made once for the same piece and ends."""
    return {
        piece.id: COVERS.get(fingerprint(piece, cuts.get(piece.id)), partial(covered, piece, cuts)) for piece in pieces
    }


def beyond(covers: Mapping[str, Cover], body: Body) -> dict[str, float]:
    """Return a distance, mm, by each cover's mark, that `body` is at least away from it."""
    if not covers:
        return {}
    middles, radii = zip(*(cover.ball for cover in covers.values()), strict=True)
    return dict(zip(covers, (body.distance(np.array(middles)) - np.array(radii)).tolist(), strict=True))


def covered(piece: Piece, cuts: Cuts) -> Cover:
    """Return the skin of a piece, as far as its cut ends reach, in cells."""
    skin = _finished(piece, cuts)
    if isinstance(piece, Straight | Arc):
        skin = _rimmed(piece, skin, cuts.get(piece.id, {}))
    return cover_of(skin)


def cover_of(skin: Skin) -> Cover:
    """Return a skin in cells."""
    even = (np.arange(CELLS) + 0.5) / CELLS
    at = np.stack(np.meshgrid(even, even, indexing="ij"), axis=-1).reshape(-1, 2)
    return _cover(skin, at, 1.0 / CELLS)


def _rimmed(piece: Straight | Arc, skin: Skin, cut: Container[str]) -> Skin:
    """Return a pipe's skin with the rims of its square ends, in to the bore: what is before an open end may be
    nearer to them."""
    bore = piece.stock.r_in / piece.stock.r_out

    def points(u: Array, v: Array) -> Array:
        along = np.clip((v - RIM) / (1.0 - 2.0 * RIM), 0.0, 1.0)
        found = skin(u, along)
        for end, frame, rim in (("start", piece.start, v < RIM), ("end", piece.end, v > 1.0 - RIM)):
            if end not in cut and rim.any():
                share = np.minimum(v[rim], 1.0 - v[rim]) / RIM
                found[rim] = frame.origin + (bore + (1.0 - bore) * share)[:, None] * (found[rim] - frame.origin)
        return found

    return points


def _finished(piece: Piece, cuts: Cuts) -> Skin:
    """Return the skin of a piece as far as its cut ends reach: on a straight at each clock, else all round."""
    ends = cuts.get(piece.id)
    if not ends or not isinstance(piece, Straight):
        return piece.skin(reach(cuts, piece.id, piece.length) if ends else None)
    clocks, low, high = _reaches(piece, cuts)
    start, r_out = piece.start, piece.stock.r_out

    def points(u: Array, v: Array) -> Array:
        theta = 2.0 * np.pi * u
        first, last = np.interp(theta, clocks, low), np.interp(theta, clocks, high)
        return start.origin + (first + v * (last - first))[:, None] * start.axis + r_out * start.radial(theta)

    return points


def _reaches(piece: Straight, cuts: Cuts) -> tuple[Array, Array, Array]:
    """Return clocks, (n,), radians, and where a straight's outside begins and ends there, (n,), mm along its axis."""
    ends, clocks = cuts.get(piece.id, {}), np.linspace(0.0, 2.0 * np.pi, CLOCKS)
    low = piece.length - ends["start"].face(-clocks)[:, -1] if "start" in ends else np.zeros(CLOCKS)
    high = ends["end"].face(clocks)[:, -1] if "end" in ends else np.full(CLOCKS, piece.length)
    return clocks, low, high


@dataclass(frozen=True, eq=False)
class Sawn:
    """What a straight with cut ends fills. frame: at its start; r_out: mm; clocks: (n,), radians; low, high: (n,), mm,
    where it begins and ends there."""

    frame: Frame
    r_out: float
    clocks: Array
    low: Array
    high: Array

    def distance(self, points: Array) -> Array:
        """Return figures, (n,), mm, for `points`, (n, 3), mm, that are below nought inside: how deep, about."""
        up, aside, along = self.frame.to_local(points).T
        clock = np.arctan2(aside, up) % (2.0 * np.pi)
        low, high = np.interp(clock, self.clocks, self.low), np.interp(clock, self.clocks, self.high)
        return np.asarray(np.max([np.hypot(up, aside) - self.r_out, low - along, along - high], axis=0))


def core(piece: Piece, cuts: Cuts) -> Body | None:
    """Return a body that lies in what a finished piece fills, bore and all: a straight's between its cut ends."""
    ends = cuts.get(piece.id)
    if not ends or not isinstance(piece, Straight):
        return piece.filled
    low = piece.length - ends["start"].cut_range[0] if "start" in ends else 0.0
    high = ends["end"].cut_range[0] if "end" in ends else piece.length
    if high - low < SHORTEST:
        return None
    return Rod(piece.start.advanced(low).origin, piece.start.advanced(high).origin, piece.stock.r_out)


def full(piece: Piece, cuts: Cuts) -> Full | None:
    """Return what a finished piece fills, bore and all, where that can be told of a body wholly inside it."""
    if isinstance(piece, Cap):
        return Dome(piece.start, piece.stock.r_out, piece.skirt, piece.rise)
    if isinstance(piece, Straight) and not piece.formed and cuts.get(piece.id):
        return Sawn(piece.start, piece.stock.r_out, *_reaches(piece, cuts))
    if isinstance(piece, Plate) and len(piece.outlines) == 1:
        return Prism(piece.start, piece.outlines[0].points(CHORD), (), piece.thickness)
    body = core(piece, cuts)
    return body if isinstance(body, Full) else None


def _cover(skin: Skin, at: Array, size: float) -> Cover:
    corners = [np.clip(at + size * corner, 0.0, 1.0) for corner in _CORNERS]
    middles, *around = np.split(skin(*np.concatenate([at, *corners]).T), 1 + len(corners))
    spread = np.max([lengths(corner - middles) for corner in around], axis=0)
    return Cover(skin, at, size, middles, spread)


@dataclass(frozen=True, eq=False)
class Near:
    """Where a skin comes nearest to a body. distance: mm, below nought where they meet; at: (3,), mm, on the skin;
    angle: that the engine is rolled by then, radians."""

    distance: float
    at: Array
    angle: float = 0.0


def nearest_of(covers: Mapping[str, Cover], body: Body) -> tuple[str, float]:
    """Return the mark of the piece that is nearest to `body`, and the least distance, mm."""
    far = beyond(covers, body)
    nearest, least = "", float("inf")
    # The likely ones first, so that most of the others need no second look.
    for mark in sorted(covers, key=lambda mark: far[mark]):
        if far[mark] > least:
            break
        found = gap(covers[mark], body, enough=least)
        if found < least:
            nearest, least = mark, found
    return nearest, least


#: What can tell that a body lies wholly inside it.
Full = Rod | Bend | Frustum | HalfRod | Dome | Sawn | Prism


def _midst(full: Full) -> tuple[Array, float]:
    """Return a place, (3,), mm, in the midst of what is full, or of a plate's hole, and how far, mm, it is to its side
    there, about."""
    if isinstance(full, Rod | Frustum):
        radius = full.radius if isinstance(full, Rod) else min(full.r_start, full.r_end)
        return 0.5 * (full.start + full.end), radius
    if isinstance(full, HalfRod):
        return full.frame.advanced(0.5 * full.length).origin + 0.4 * full.radius * full.frame.ref, 0.4 * full.radius
    if isinstance(full, Prism):
        return full.frame.advanced(0.5 * full.thickness).origin, 0.5 * full.thickness
    if isinstance(full, Sawn):
        return full.frame.advanced(0.5 * float(np.mean(full.low + full.high))).origin, full.r_out
    if isinstance(full, Dome):
        return full.frame.advanced(0.5 * (full.skirt + full.rise)).origin, 0.5 * full.radius
    return full.at(0.5), full.r_out


def contained(around: Full, body: Body) -> float:
    """Return how deep, mm, below nought, a body lies wholly inside `around`; infinity where it does not.

    Asked where their skins do not meet: then either the whole of `body` is inside or none, and its point nearest to
    any place tells which.
    """
    middle, radius = _midst(around)
    # Half way between two parts of a body its distance has no slope, and a place beside that is asked.
    for aside in _ASIDE:
        place = middle + radius * aside
        here, slope = _slope(body, place)
        if here <= 0.0:
            return here
        nearest = place - (here + STEP) * slope
        if abs(float(body.distance(nearest[None])[0])) < FOUND:
            deep = float(around.distance(nearest[None])[0])
            return deep if deep < 0.0 else np.inf
    return np.inf


def gap(cover: Cover, body: Body, enough: float = np.inf, close: float = CLOSE) -> float:
    """Return the least distance, mm, from a skin to `body`, or up to `close`, mm, more; below nought they meet. Once it
    is known to be above `enough`, mm, any figure above that may come."""
    return nearest(cover, body, enough, close).distance


def nearest(cover: Cover, body: Body, enough: float = np.inf, close: float = CLOSE) -> Near:
    """Return where a skin comes nearest to `body`, to `close`, mm, or how deep it lies in a scan, to `DEEP` of that;
    once that is known to be farther than `enough`, mm, any place may come.

    Branch and bound: a cell of the skin goes on only while its middle's distance, less how far its
    corners lie from its middle, is below the best yet; the distance to a body is never steeper than 1. Where the body
    moves, a cell has a part of the roll as well, and what that moves it by comes off too.
    """
    moved = body if isinstance(body, Moved) else Moved(body, STILL)
    cover, turns, half = _parts(cover.kept(_worth(cover, body, enough)), moved.motion)
    best, deep = Near(np.inf, cover.middles[0]), DEEP if _scanned(body) else 0.0
    most = MOST if half == 0.0 else MOST_MOVED
    for _ in range(ROUNDS):
        gaps = moved.distance_at(cover.middles, turns)
        least = int(np.argmin(gaps))
        if gaps[least] < best.distance:
            best = Near(float(gaps[least]), cover.middles[least], float(turns[least]))
        bound = gaps - cover.spread - half * moved.motion.radius(cover.middles)
        within = max(close, -deep * best.distance)
        open_ = np.flatnonzero((bound < best.distance - within) & (bound < enough))
        if not open_.size:
            break
        kept = open_[np.argsort(bound[open_])[:most]]
        cover, turns = cover.quartered(kept), np.repeat(turns[kept], len(_CORNERS))
        if half:
            half *= 0.5
            cover = cover.kept(np.repeat(np.arange(len(turns)), 2))
            turns = np.repeat(turns, 2) + np.tile([-half, half], len(turns))
    return best


def _scanned(body: Body) -> bool:
    """Tell whether a body is one of triangles, wherever it is."""
    while isinstance(body, Moved | Shifted):
        body = body.body
    return isinstance(body, Mesh)


def _parts(cover: Cover, motion: Motion) -> tuple[Cover, Array, float]:
    """Return the cells of a skin, the middle of the part of a roll that each has, (n,), and half of that, radians."""
    if not motion.angle:
        return cover, np.zeros(len(cover.middles)), 0.0
    half = 0.5 * motion.angle
    count = len(cover.middles)
    return cover.kept(np.tile(np.arange(count), 2)), np.repeat([-half, half], count), half


def _worth(cover: Cover, body: Body, enough: float) -> NDArray[np.intp]:
    """Return which cells of a skin, (k,), can hold its nearest place, told from a few of them; one at least."""
    few = np.arange(0, len(cover.middles), max(len(cover.middles) // FEW, 1))
    gaps = body.distance(cover.middles[few])
    local = cover.middles - cover.middles[0]
    squares = np.einsum("ij,ij->i", local, local)
    apart = np.sqrt(np.maximum(squares[:, None] + squares[few] - 2.0 * local @ local[few].T, 0.0))
    bound = np.max(gaps - apart, axis=1) - cover.spread - ROUNDING
    if isinstance(body, Moved):
        # Between two of the positions that it was looked at in, it may be nearer.
        bound -= body.motion.angle / (POSITIONS - 1) * body.motion.radius(cover.middles)
    likely = few[np.argmin(gaps)]
    return np.flatnonzero((bound <= min(float(gaps.min()), enough)) | (np.arange(len(bound)) == likely))


def foot(body: Body, point: Array) -> Array:
    """Return the place, (3,), mm, on a body's surface that is nearest to `point`, (3,), mm: down the slope of its
    distance."""
    for _ in range(FEET):
        here, slope = _slope(body, point)
        if abs(here) < STEP or not slope.any():
            break
        point = point - here * slope
    return point


def _slope(body: Body, point: Array) -> tuple[float, Array]:
    """Return the distance, mm, of `point`, (3,), mm, and the direction, (3,), no unit, in which it grows; nought where
    that cannot be told."""
    steps = STEP * np.vstack([np.zeros(3), np.eye(3), -np.eye(3)])
    there = body.distance(point + steps)
    slope = (there[1:4] - there[4:]) / (2.0 * STEP)
    size = float(np.linalg.norm(slope))
    return float(there[0]), slope / size if size > TINY else np.zeros(3)
