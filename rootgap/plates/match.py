"""Does one flange's pattern bolt onto another's, as it is, turned, or flipped?

Terminology
    holes      of the plate that is to go on, A
    bolts      of what it goes on, B: they stand in the middles of B's holes
    allowance  how far a hole's middle may lie from its bolt's: half of hole less bolt
    excess     how much farther than that it lies: what a slot has to make up
    slot       a hole milled on by its excess towards its bolt
    pose       where A lies on B: flipped or not, turned and shifted
    masked     of a port: the area that the other plate's metal covers
    dam        A's rim inside B's port, ledge: B's rim inside A's; how far, mm

Which pose: first the one whose worst excess is least (minimax), for a plate bolts up exactly where that
is nought. Where it is not, the one whose slots are shortest in all (least sum of excesses), for then as few
holes as can be are slotted, and a single bolt that is out of place shows as that; and the first again where
only slots that share the misfit are short enough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial, reduce
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import GeometryError
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Point
from rootgap.spec import FlangePart
from rootgap.stock import bolt_diameter, bolt_through

if TYPE_CHECKING:
    from shapely import Polygon

Array = NDArray[np.float64]
Verdict = Literal["bolts up", "with slots", "never"]

#: How A may lie on B: its name, and what becomes of (x, y).
ORIENTATIONS: tuple[tuple[str, Point], ...] = (
    ("as it is", (1.0, 1.0)),
    ("turned half round", (-1.0, -1.0)),
    ("mirrored", (-1.0, 1.0)),
    ("mirrored and turned", (1.0, -1.0)),
)
#: An excess below this, mm, is none.
NONE = 1e-3
#: A slot longer than this share of its hole's diameter is no longer covered by a plain washer (common practice, no
#: source; a plain washer is about 1.8 holes wide).
LONGEST_SLOT = 0.5
#: How far, mm, chords may lie from rims where areas are measured.
CHORD = 0.01
#: How far, degrees, a pattern is turned to fit, either way; more is another orientation.
MOST_TURN = 10.0
#: Two middles farther apart than this, mm, no longer draw a fit to themselves.
_FAR = 30.0
_CELL = 4.0  # mm: shifts nearer than this are taken as one guess
_GUESSES = 10
_ROUNDS = 40


@dataclass(frozen=True)
class Pair:
    """A hole of A and the bolt of B that goes through it, both counted from 1. offset: from the hole's middle to the
    bolt's, mm, in A's drawing; allowance, excess: mm; diameter: of the hole, mm."""

    hole: int
    bolt: int
    offset: Point
    allowance: float
    excess: float
    diameter: float

    @property
    def direction(self) -> float:
        """Which way a slot runs, degrees anticlockwise from +x of A's drawing, -180 to 180."""
        return float(np.degrees(np.arctan2(self.offset[1], self.offset[0])))

    @property
    def slot(self) -> float:
        """Length over all of the slotted hole, mm."""
        return self.diameter + self.excess


@dataclass(frozen=True)
class PortFit:
    """What A does to a port of B, counted from 1. over: the openings of A over it; area: of the port, mm2; open,
    masked: of it, mm2; bare: of A's openings beyond it, mm2; dam, ledge: mm; offset: from its middle to that of the
    nearest of A's openings, mm, in B's drawing. A port with nothing over it is covered, and has neither dam nor
    ledge."""

    port: int
    over: tuple[int, ...]
    area: float
    open: float
    masked: float
    bare: float
    dam: float
    ledge: float
    offset: Point


@dataclass(frozen=True)
class Fit:
    """How A lies on B in one orientation. flip: factors of x and y; turn: degrees anticlockwise, after it; shift: mm,
    after that. Points of A's drawing then lie in B's. why: what is in the way, one line a reason."""

    orientation: str
    flip: Point
    turn: float
    shift: Point
    pairs: tuple[Pair, ...]
    ports: tuple[PortFit, ...]
    verdict: Verdict
    why: tuple[str, ...]

    @property
    def slots(self) -> tuple[Pair, ...]:
        """The pairs whose holes must be slotted."""
        return tuple(pair for pair in self.pairs if pair.excess > NONE)

    @property
    def worst(self) -> float:
        """The largest excess, mm; below nought there is that much to spare."""
        return max(pair.excess for pair in self.pairs)

    def placed(self, points: Array) -> Array:
        """Return points of A's drawing, (n, 2), mm, in B's."""
        return (points * self.flip) @ _turned(self.turn).T + self.shift


@dataclass(frozen=True)
class _Holes:
    at: Array
    diameters: Array
    threads: tuple[str, ...]


def match(a: FlangePart, b: FlangePart, *, loose: bool = False) -> tuple[Fit, ...]:
    """Return how flange `a` lies on `b` in each orientation.

    loose: whether the bolts go loose through b's holes as well, as between two plates; otherwise they stand fast in
    the middles of b's holes, as studs in a head. Raises GeometryError where a flange has no bolts.
    """
    holes, bolts = _holes(a), _holes(b)
    own = [bolt_diameter(thread) for thread in bolts.threads]
    others = [bolt_diameter(thread) for thread in holes.threads]
    fits = [_through(hole) for hole in bolts.diameters]
    sizes = np.array([[thread or other or fit for thread, fit in zip(own, fits, strict=True)] for other in others])
    allowed = 0.5 * (holes.diameters[:, None] - sizes)
    if loose:
        allowed = allowed + 0.5 * np.maximum(bolts.diameters - sizes, 0.0)
    return tuple(_fit(word, flip, (a, b), (holes.at, bolts.at), allowed) for word, flip in ORIENTATIONS)


def _holes(part: FlangePart) -> _Holes:
    found = part.holes()
    if not found:
        raise GeometryError(part.name, "has no bolts to match", "give it a [[bolts]] table")
    threads = tuple(hole.bolts.thread for hole in found)
    return _Holes(np.array([hole.at for hole in found]), np.array([hole.diameter for hole in found]), threads)


def _through(hole: float) -> float:
    """Return the diameter, mm, of the bolt that a hole is for; of a hole too small for any, the hole's."""
    row = bolt_through(hole)
    return row.bolt if row else hole


def _fit(
    word: str, flip: Point, parts: tuple[FlangePart, FlangePart], at: tuple[Array, Array], allowed: Array
) -> Fit:
    """Return the best fit in one orientation. at: holes (n, 2) and bolts (m, 2), mm; allowed: (n, m), mm."""
    holes, bolts = at[0] * flip, at[1]
    rows, columns = _matched(holes, bolts)
    chosen = holes[rows], bolts[columns], allowed[rows, columns]
    posed = partial(_posed, word, flip, parts, at, allowed, (rows, columns))
    even = _least_worst(*chosen)
    fit = posed(even)
    if fit.verdict == "bolts up":
        return fit
    # Fewest slots where each can be cut; else slots that share the misfit; else the bolts that are out of place.
    few = posed(_least_sum(*chosen, even))
    if few.verdict == "with slots" or fit.verdict != "never":
        return few if few.verdict == "with slots" else fit
    if 2 * len(few.slots) <= len(few.pairs):
        return few
    # No half of them goes in: the two have no pattern in common, and are shown middle on middle.
    rows, columns, _ = _settled(holes, bolts, bolts.mean(axis=0) - holes.mean(axis=0), far=np.inf)
    every = holes[rows], bolts[columns], allowed[rows, columns]
    return _posed(word, flip, parts, at, allowed, (rows, columns), _least_worst(*every))


def _posed(
    word: str,
    flip: Point,
    parts: tuple[FlangePart, FlangePart],
    at: tuple[Array, Array],
    allowed: Array,
    which: tuple[NDArray[np.intp], NDArray[np.intp]],
    pose: tuple[float, Array],
) -> Fit:
    """Return what comes of a pose: turn, degrees, and shift, mm, of the flipped holes. which: what goes with what."""
    (rows, columns), (turn, shift) = which, pose
    off = at[1][columns] - (at[0][rows] * flip) @ _turned(turn).T - shift
    excess = np.hypot(*off.T) - allowed[rows, columns]
    own = (off @ _turned(turn)) * flip
    holes = parts[0].holes()
    pairs = tuple(
        Pair(int(i) + 1, int(j) + 1, (float(x), float(y)), float(allowed[i, j]), float(past), holes[i].diameter)
        for i, j, (x, y), past in sorted(zip(rows, columns, own, excess, strict=True), key=lambda each: int(each[1]))
    )
    bare = Fit(word, flip, turn, (float(shift[0]), float(shift[1])), pairs, (), "bolts up", ())
    why = tuple(_in_the_way(bare, parts))
    verdict: Verdict = "never" if why else "with slots" if bare.slots else "bolts up"
    return replace(bare, ports=tuple(_ports(bare, *parts)), verdict=verdict, why=why)


def _turned(degrees: float) -> Array:
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[cos, -sin], [sin, cos]])


# Which hole goes with which bolt


def _matched(holes: Array, bolts: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return which holes, (k,), go with which bolts, (k,): of all guesses the one that ends nearest."""
    best: tuple[float, NDArray[np.intp], NDArray[np.intp]] | None = None
    for guess in _shifts(holes, bolts):
        rows, columns, miss = _settled(holes, bolts, guess)
        if best is None or miss < best[0] - NONE:
            best = miss, rows, columns
    if best is None:
        raise ValueError("no holes to match")
    return best[1], best[2]


def _shifts(holes: Array, bolts: Array) -> list[Array]:
    """Return shifts, (2,), mm, to begin from: middles onto middles, and those that most single pairs agree on."""
    apart = (bolts[None, :] - holes[:, None]).reshape(-1, 2)
    cells = np.round(apart / _CELL)
    _, where, counts = np.unique(cells, axis=0, return_inverse=True, return_counts=True)
    most = np.argsort(-counts, kind="stable")[:_GUESSES]
    boxes = 0.5 * (bolts.min(axis=0) + bolts.max(axis=0) - holes.min(axis=0) - holes.max(axis=0))
    agreed = [apart[where.ravel() == cell].mean(axis=0) for cell in most]
    return [bolts.mean(axis=0) - holes.mean(axis=0), boxes, *agreed]


def _settled(
    holes: Array, bolts: Array, shift: Array, far: float = _FAR
) -> tuple[NDArray[np.intp], NDArray[np.intp], float]:
    """Return the pairs that matching and moving by turns ends at, and their mean miss, mm, none counted beyond `far`.

    Source: P. Besl and N. McKay, "A method for registration of 3-D shapes", IEEE Transactions on Pattern Analysis
    and Machine Intelligence 14, 1992, with each point used once (assignment) and far ones left out.
    """
    from scipy.optimize import linear_sum_assignment

    turn, before = 0.0, None
    for _ in range(_ROUNDS):
        apart = np.linalg.norm(bolts[None, :] - (holes @ _turned(turn).T + shift)[:, None], axis=2)
        near = np.minimum(apart, far)
        rows, columns = linear_sum_assignment(near**2)
        now = (tuple(rows), tuple(columns))
        if now == before:
            break
        before = now
        counted = near[rows, columns] < far
        if counted.any():
            turn, shift = _least_squares(holes[rows[counted]], bolts[columns[counted]])
    return rows, columns, float(near[rows, columns].mean())


def _least_squares(holes: Array, bolts: Array) -> tuple[float, Array]:
    """Return the turn, degrees, and shift, mm, that bring `holes` nearest `bolts`, (k, 2) each, mm.

    Source: plane case of W. Kabsch, Acta Crystallographica A32, 1976: tan of the turn is the sum of cross products
    by that of dot products about the middles.
    """
    middle, other = holes.mean(axis=0), bolts.mean(axis=0)
    lag, far = holes - middle, bolts - other
    cross = float((lag[:, 0] * far[:, 1] - lag[:, 1] * far[:, 0]).sum())
    turn = float(np.degrees(np.arctan2(cross, float((lag * far).sum())))) if len(holes) > 1 else 0.0
    turn = float(np.clip(turn, -MOST_TURN, MOST_TURN))
    return turn, other - middle @ _turned(turn).T


# Where the plate lies best


def _least_worst(holes: Array, bolts: Array, allowed: Array) -> tuple[float, Array]:
    """Return the turn, degrees, and shift, mm, whose largest excess is least."""
    begun = _least_squares(holes, bolts)
    return _solved(holes, bolts, allowed, begun, np.zeros(len(holes), dtype=np.intp), 1)


def _least_sum(holes: Array, bolts: Array, allowed: Array, begun: tuple[float, Array]) -> tuple[float, Array]:
    """Return the turn, degrees, and shift, mm, whose excesses above nought are least in all."""
    return _solved(holes, bolts, allowed, begun, np.arange(len(holes)), len(holes))


def _solved(
    holes: Array, bolts: Array, allowed: Array, begun: tuple[float, Array], which: NDArray[np.intp], count: int
) -> tuple[float, Array]:
    """Return the pose that makes the sum of `count` slacks least, where each pair may miss by its allowance and the
    slack `which` (k,) of them; each slack, but a single one, is nought or more.

    Solved about the holes' own middle, in mm all round: the turn as the way of a point `reach` from it.
    """
    from scipy.optimize import minimize

    middle = holes.mean(axis=0)
    lag = holes - middle
    reach = max(1.0, float(np.hypot(*lag.T).max()))
    turn, shift = begun
    start = np.concatenate([[np.radians(turn) * reach], middle @ _turned(turn).T + shift, np.zeros(count)])

    def misses(x: Array) -> tuple[Array, Array]:
        off = bolts - lag @ _turned(float(np.degrees(x[0] / reach))).T - x[1:3]
        return off, np.sqrt((off**2).sum(axis=1) + 1e-14)

    def room(x: Array) -> Array:
        return allowed + x[3:][which] - misses(x)[1]

    def slope(x: Array) -> Array:
        off, far = misses(x)
        way = lag @ _turned(float(np.degrees(x[0] / reach)) + 90.0).T / reach
        out = np.zeros((len(off), len(x)))
        out[:, 0] = (off * way).sum(axis=1) / far
        out[:, 1:3] = off / far[:, None]
        out[np.arange(len(off)), 3 + which] = 1.0
        return out

    _, far = misses(start)
    start[3:] = float((far - allowed).max()) if count == 1 else np.maximum(far - allowed, 0.0)
    weights = np.concatenate([np.zeros(3), np.ones(count)])
    most = np.radians(MOST_TURN) * reach
    bounds: list[tuple[float | None, float | None]] = [(-most, most), (None, None), (None, None)]
    bounds += [(None, None)] if count == 1 else [(0.0, None)] * count
    found: Any = minimize(
        lambda x: float(x[3:].sum()),
        start,
        jac=lambda _: weights,
        bounds=bounds,
        constraints=[{"type": "ineq", "fun": room, "jac": slope}],
        method="SLSQP",
        options={"maxiter": 200, "ftol": 1e-9},
    )
    best = found.x if np.isfinite(found.x).all() else start
    turn = float(np.degrees(best[0] / reach))
    return turn, best[1:3] - middle @ _turned(turn).T


def _in_the_way(fit: Fit, parts: tuple[FlangePart, FlangePart]) -> list[str]:
    """Return why a plate never bolts up in this pose, one line a reason."""
    a, b = parts
    taken = {pair.bolt for pair in fit.pairs}
    lone = [number for number in range(1, len(b.holes()) + 1) if number not in taken]
    why = [f"no hole for {_numbers('bolt', lone)}: {len(a.holes())} holes, {len(b.holes())} bolts"] if lone else []
    for pair in fit.pairs:
        if pair.allowance < -NONE:
            bolt = pair.diameter - 2.0 * pair.allowance
            why.append(f"hole {pair.hole}, {pair.diameter:g} mm, is smaller than bolt {pair.bolt}, {bolt:g} mm")
        elif pair.excess > LONGEST_SLOT * pair.diameter:
            why.append(
                f"bolt {pair.bolt} misses hole {pair.hole} by {pair.excess:.2f} mm; "
                f"a slot may be {LONGEST_SLOT * pair.diameter:.2f} mm at most"
            )
    return why or _broken_into(fit, a)


def _numbers(what: str, numbers: Sequence[int]) -> str:
    return f"{what}{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"


def _broken_into(fit: Fit, a: FlangePart) -> list[str]:
    """Return which slots break into an opening of their own plate or out of its edge."""
    if not fit.slots:
        return []
    from shapely import LineString, Polygon, union_all

    edge = union_all([Polygon(edge.points(CHORD)) for edge in a.edges()])
    found = []
    for pair in fit.slots:
        at = np.array(a.holes()[pair.hole - 1].at)
        way = np.array(pair.offset) / np.hypot(*pair.offset)
        slot = LineString([at, at + pair.excess * way]).buffer(0.5 * pair.diameter)
        if not edge.contains(slot):
            found.append(f"the slot of hole {pair.hole} breaks out of the edge")
        for number, rim in enumerate(_openings(a), start=1):
            if slot.intersects(rim):
                found.append(f"the slot of hole {pair.hole} breaks into port {number}")
    return found


# Ports


def _openings(part: FlangePart) -> list[Polygon]:
    from shapely import Polygon

    return [
        Polygon(placed(port.opening.opening().shape(), port.at, port.angle).points(CHORD)) for port in part.port
    ]


def _ports(fit: Fit, a: FlangePart, b: FlangePart) -> list[PortFit]:
    """Return what A does to each port of B."""
    from shapely import Polygon

    own = [Polygon(fit.placed(np.array(rim.exterior.coords)[:-1])) for rim in _openings(a)]
    ports = _openings(b)
    every = reduce(lambda one, other: one.union(other), ports)
    found = []
    for number, port in enumerate(ports, start=1):
        over = [k for k, rim in enumerate(own) if rim.intersection(port).area > 1e-6]
        above = reduce(lambda one, other: one.union(other), [own[k] for k in over], Polygon())
        passes = float(port.intersection(above).area)
        nearest = min(own, key=lambda rim, port=port: rim.centroid.distance(port.centroid))  # type: ignore[misc]
        found.append(
            PortFit(
                number,
                tuple(k + 1 for k in over),
                float(port.area),
                passes,
                max(0.0, float(port.area) - passes),
                float(above.difference(every).area),
                _depth([own[k] for k in over], port),
                _depth([port], above) if over else 0.0,
                (nearest.centroid.x - port.centroid.x, nearest.centroid.y - port.centroid.y),
            )
        )
    return found


def _depth(rims: Sequence[Polygon], region: Any) -> float:
    """Return how far, mm, the rims of some polygons lie inside a region at most, from its own rim."""
    import shapely

    deepest = 0.0
    for rim in rims:
        dense = shapely.segmentize(rim.exterior, 0.5)
        points = shapely.points(np.array(dense.coords))
        within = points[shapely.contains(region, points)]
        if len(within):
            deepest = max(deepest, float(shapely.distance(within, region.boundary).max()))
    return deepest
