"""Does every piece stay clear of every keep-out, cold and hot?

Terminology
    cold       as it is measured: the engine still, the metal cold
    hot        running: the metal grown, free, from the head's datum, and the engine rolled and shifted on its mounts
               against what is bolted to the chassis; the least over both ends of that and between
    margin     what is left of a distance beyond the clearance that is asked for
    cool       what the gas does not heat of what stands on a flange, a compressor or an air filter: it keeps the least
               distance that its envelope asks for from everything, and goes where growth moves its flange
    stack      how far the piece may end up from where it is drawn, at most
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.envelope import COLD_SOURCE
from rootgap.checks.finding import Finding, Support, Verdict, at_least, at_most
from rootgap.checks.gap import (
    CLOSE,
    Cover,
    Full,
    Near,
    beyond,
    contained,
    cover_of,
    covers_of,
    foot,
    full,
    gap,
    nearest,
    nearest_of,
)
from rootgap.checks.stack import ELBOW, Chain, chains
from rootgap.geometry.distance import Body, HalfSpace, Shifted
from rootgap.geometry.mesh import Mesh
from rootgap.joints import Joint, cut_ends
from rootgap.layout import After, Bend, Disc, Divider, Elbow, Envelope, Hull, Keepout, Layout, Panel, Plate, Run, Spike
from rootgap.layout.aim import at_least as rounded_up
from rootgap.layout.keepout import SMALL
from rootgap.layout.motion import Moved
from rootgap.layout.pieces import Piece
from rootgap.spec import Pose
from rootgap.stock import Material, material
from rootgap.stock.keepouts import clearance_rule

Array = NDArray[np.float64]
Tick = Callable[[str], None]

#: A distance beyond the clearance, mm, from which a pair is not worth a row.
FAR = 60.0
#: A piece is moved clear along these, no unit, by so many mm at most, in so many steps, each as long as what lacks.
WAYS = {f"{sign}{axis}": float(f"{sign}1") * np.eye(3)["xyz".index(axis)] for axis in "xyz" for sign in "+-"}
FARTHEST, STEPS = 1000.0, 40
#: The same of a few of its points.
MARCHES = 200
#: How exactly, mm, its distance is asked for at first, and how much more exactly each time that it is so near.
ROUGH, FINER = 2.0, 8.0
#: What stands farther off than this, mm, is perhaps not where it is meant to be (common practice, no source).
AWAY = 1000.0
#: What a turbine's housing is cast of (common practice, no source).
HOUSING = "ductile iron"


@dataclass(frozen=True, eq=False)
class Clearance:
    """A piece beside a keep-out. limit: the least distance that is asked for, mm; cold, hot: where it comes nearest;
    cold_foot, hot_foot: (3,), mm, there on the keep-out, hot as the engine sees it; chain: of the piece; carrier: the
    piece that carries it, for what stands on a flange that, else itself; cool: whether the gas heats it not."""

    name: str
    keepout: Keepout
    piece: str
    limit: float
    cold: Near
    hot: Near
    cold_foot: Array
    hot_foot: Array
    chain: Chain
    carrier: str
    cool: bool = False

    @property
    def source(self) -> str:
        """Where the limit comes from."""
        return COLD_SOURCE if self.cool else self.keepout.source

    @property
    def support(self) -> Support:
        """How far the limit is backed."""
        return "published article" if self.cool else self.keepout.support

    @property
    def worst(self) -> Near:
        """The nearer of cold and hot."""
        return min(self.cold, self.hot, key=lambda near: near.distance)

    @property
    def margin(self) -> float:
        """What is left, mm, at the worst."""
        return self.worst.distance - self.limit

    @property
    def ends(self) -> tuple[Near, Array]:
        """Where the worst is on the piece, and, (3,), mm, on the keep-out."""
        return (self.hot, self.hot_foot) if self.worst is self.hot else (self.cold, self.cold_foot)

    @property
    def verdict(self) -> Verdict:
        """What comes of it."""
        return "fail" if self.margin < 0.0 else "warn" if self.margin < self.chain.likely else "pass"


@dataclass(frozen=True, eq=False)
class Aside:
    """How a piece gets clear. word: which way along an axis of the engine frame, "+y"; by: how far, mm."""

    word: str
    by: float

    @property
    def back(self) -> str:
        """The other way."""
        return ("+" if self.word[0] == "-" else "-") + self.word[1]


@dataclass(frozen=True, eq=False)
class Space:
    """What a layout's pieces have round them."""

    layout: Layout
    joints: Sequence[Joint]

    @cached_property
    def pieces(self) -> Mapping[str, Piece]:
        """Every piece by its mark."""
        return {piece.id: piece for piece in self.layout.pieces()}

    @cached_property
    def hulls(self) -> Mapping[Hull, Envelope]:
        """The bodies of what stands on flanges, each with what it is one of."""
        return {hull: each for each in self.layout.envelopes for hull in each.hulls}

    @cached_property
    def carriers(self) -> Mapping[str, Plate]:
        """The flange that each hull stands on, by the hull's mark."""
        return {hull.id: each.plate for hull, each in self.hulls.items()}

    @cached_property
    def cool(self) -> Mapping[str, float]:
        """What each hull that the gas does not heat keeps from everything, mm, by its mark."""
        return {hull.id: each.cold for hull, each in self.hulls.items() if not hull.hot}

    @cached_property
    def heated(self) -> list[str]:
        """The marks of all that the gas heats."""
        return [mark for mark in self.cold if mark not in self.cool]

    @cached_property
    def chains(self) -> Mapping[str, Chain]:
        """Of every piece and hull by its mark."""
        found = chains(self.layout, self.joints)
        return {**found, **{mark: found[plate.id] for mark, plate in self.carriers.items()}}

    @cached_property
    def cold(self) -> Mapping[str, Cover]:
        """The skins by mark, as drawn."""
        hulls = {hull.id: cover_of(hull.skin) for hull in self.hulls}
        return {**covers_of(self.pieces.values(), cut_ends(self.joints)), **hulls}

    @cached_property
    def filled(self) -> Mapping[str, Full]:
        """What pieces and hulls fill, bore and all, by mark, where that can be told."""
        cuts = cut_ends(self.joints)
        found = {mark: body for mark, piece in self.pieces.items() if (body := full(piece, cuts)) is not None}
        return {**found, **{hull.id: hull.body for hull in self.hulls}}

    @cached_property
    def hot(self) -> Mapping[str, Cover]:
        """The skins by mark, grown."""
        return {mark: self._grown(mark, cover) for mark, cover in self.cold.items()}

    def _grown(self, mark: str, cover: Cover) -> Cover:
        """Return a skin as it runs: grown from the head's datum, or, of what is cool, where that moves its flange."""
        datum = self.chains[mark].datum
        if mark in self.cool:
            plate = self.carriers[mark]
            return cover.shifted(self._growth(plate.id) * (plate.end.origin - datum))
        return cover.grown(datum, self._growth(mark))

    def _growth(self, mark: str) -> float:
        """Return by what share, no unit, a piece grows."""
        heat, heads = self.layout.heat, [self.layout.plates[name].id for name in self.layout.begun]
        metal = metal_of(self.pieces.get(mark))
        return metal.growth(heat.cold, heat.flange if mark in heads else heat.pipe)

    def asked(self, name: str, mark: str) -> float:
        """Return the least distance, mm, that a piece keeps from the keep-out `name`."""
        return self.cool.get(mark, self.layout.keepouts[name].clearance)

    def _running(self, keepout: Keepout) -> list[tuple[Mapping[str, Cover], Body]]:
        """Return the skins by mark, and what they are beside, that a running engine knows of a keep-out."""
        if keepout.reason == "service":
            return [(self.cold, keepout.body)]
        if keepout.side == "engine":
            return [(self.hot, keepout.body)]
        seen = self.layout.motion.seen(keepout.body)
        return [(self.hot, seen), (self.cold, seen)]

    def _ever(self, keepout: Keepout) -> list[tuple[Mapping[str, Cover], Body]]:
        """Return the skins by mark, and what they are beside, cold or running: what grows away was nearer cold."""
        running = self._running(keepout)
        still = [] if any(covers is self.cold for covers, _ in running) else [(self.cold, keepout.body)]
        return [*running, *still]

    def _states(self, name: str, mark: str) -> list[tuple[Cover, Body]]:
        """Return the skins of a piece, and what they are beside, that a running engine knows."""
        return [(covers[mark], body) for covers, body in self._running(self.layout.keepouts[name])]

    def bounds(self, name: str) -> Mapping[str, float]:
        """Return a distance, mm, that each piece is at least away from the keep-out `name`, cold and running, the
        likely nearest first."""
        keepout = self.layout.keepouts[name]
        states = [beyond(covers, body) for covers, body in self._ever(keepout)]
        far = {mark: min(state[mark] for state in states) for mark in self.cold}
        return dict(sorted(far.items(), key=lambda each: each[1]))

    @cached_property
    def _known(self) -> dict[tuple[str, str], Clearance]:
        """What was found of a keep-out and a piece, to the hundredth."""
        return {}

    def beside(self, name: str, mark: str, enough: float = np.inf) -> Clearance:
        """Return how far a piece stays from the keep-out `name`, to the hundredth; once that is known to be more than
        `enough`, mm, any figure above that may come."""
        if (name, mark) not in self._known:
            found = self._beside(name, mark, enough)
            if found.worst.distance > enough:
                return found
            self._known[name, mark] = found
        return self._known[name, mark]

    def _beside(self, name: str, mark: str, enough: float) -> Clearance:
        keepout = self.layout.keepouts[name]
        within = contained(self.filled[mark], keepout.body) if mark in self.filled else np.inf
        cold = _met(nearest(self.cold[mark], keepout.body, enough), within)
        states = [(_met(nearest(cover, body, enough), within), body) for cover, body in self._states(name, mark)]
        hot, seen = min(states, key=lambda state: state[0].distance)
        if isinstance(seen, Moved):
            seen = seen.at(hot.angle)
        feet = foot(keepout.body, cold.at), foot(seen, hot.at)
        carrier = self.carriers[mark].id if mark in self.carriers else mark
        asked, chain = self.asked(name, mark), self.chains[mark]
        return Clearance(name, keepout, mark, asked, cold, hot, *feet, chain, carrier, mark in self.cool)

    def cold_nearest(self, name: str) -> Clearance:
        """Return the piece, of all that the gas heats, that is nearest to the keep-out `name` when cold."""
        mark, _ = nearest_of({mark: self.cold[mark] for mark in self.heated}, self.layout.keepouts[name].body)
        return self.beside(name, mark)

    def nearest(self, name: str, marks: Iterable[str], likely: Clearance | None = None) -> Clearance:
        """Return the piece, of `marks`, with the least margin to the keep-out `name`. likely: one that may be it."""
        bounds, ever = self.bounds(name), self._ever(self.layout.keepouts[name])
        beyond_asked = {mark: bounds[mark] - self.asked(name, mark) for mark in marks}
        likeliest = sorted(beyond_asked, key=lambda mark: beyond_asked[mark])
        found = likely or self.beside(name, likeliest[0])
        for mark in likeliest:
            if beyond_asked[mark] > found.margin:
                break
            least = found.margin + self.asked(name, mark)
            if mark != found.piece and any(gap(covers[mark], body, least) < least for covers, body in ever):
                found = self.beside(name, mark)
        return found

    def aside(self, row: Clearance, *, running: bool) -> Aside | None:
        """Return the shortest way along an axis that gets a piece clear of its keep-out, cold or running; None where
        there is none of `FARTHEST` mm."""
        keepout = self.layout.keepouts[row.name]
        states = self._states(row.name, row.piece) if running else [(self.cold[row.piece], keepout.body)]
        found: Aside | None = None
        near, other = row.ends
        away = (near.at - other) * (1.0 if near.distance >= 0.0 else -1.0)
        close_ones = [(row.hot if running else row.cold).at]
        # The likely one first: what is farther than that need not be looked at.
        for word, direction in sorted(WAYS.items(), key=lambda way: -float(way[1] @ away)):
            by = self._clear(row, states, direction, FARTHEST if found is None else found.by, close_ones)
            if by is not None:
                found = Aside(word, by)
        return found

    def _clear(
        self, row: Clearance, states: Sequence[tuple[Cover, Body]], way: Array, most: float, close_ones: list[Array]
    ) -> float | None:
        """Return how far along a `way`, (3,), a piece gets clear, mm; None where that is not less than `most`, mm.

        close_ones: places of the piece as it stands, (3,), mm, that come too near on one way or another; more are
        added. They are moved on before the whole piece is asked again."""
        body, asked = states[0][1], row.limit + CLOSE
        by, close = 0.0, ROUGH
        for _ in range(STEPS):
            by = _past(body, np.array(close_ones), way, by, asked, most)
            if by >= most:
                break
            nears = [nearest(cover.shifted(by * way), body, row.limit + 2.0 * CLOSE, close) for cover, body in states]
            worst = min(nears, key=lambda near: near.distance)
            close_ones.append(worst.at - by * way)
            short = asked - self._deep(row, worst.distance, Shifted(body, -by * way))
            by += max(short, 0.0)
            if short <= CLOSE and close == CLOSE:
                return by if by < most else None
            if short <= close:
                close = max(close / FINER, CLOSE)
        return None

    def _deep(self, row: Clearance, far: float, body: Body) -> float:
        """Return how far, mm, a piece is from a body that its skin is `far`, mm, from: below nought with it inside."""
        around = self.filled.get(row.piece)
        return min(far, contained(around, body)) if around and far > 0.0 else far

    def rows(self, reach: float = FAR, tick: Tick | None = None) -> list[Clearance]:
        """Return every pair of a piece, or a hull, and a keep-out, the least margin first, without those that keep
        `reach` mm beyond what is asked; of each keep-out the nearest piece at least. tick: called with the name of each
        keep-out that is measured."""
        found = []
        for name in self.layout.keepouts:
            if tick:
                tick(name)
            most = {mark: self.asked(name, mark) + reach for mark in self.cold}
            near = [mark for mark, bound in self.bounds(name).items() if bound <= most[mark]]
            beside = [row for row in (self.beside(name, mark, most[mark]) for mark in near) if row.margin <= reach]
            found += beside or [self.nearest(name, self.cold)]
        return sorted(found, key=lambda row: row.margin)


@lru_cache(maxsize=1)
def space_round(layout: Layout, joints: tuple[Joint, ...]) -> Space:
    """Return what a layout's pieces have round them; the last one asked for keeps what it has worked out."""
    return Space(layout, joints)


def clearances(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield what there is to say of each keep-out: the nearest piece cold and running, mm, the nearest of what is cool,
    whether tolerances eat the margin, and whether its file is sound."""
    if not layout.keepouts:
        return
    space = space_round(layout, tuple(joints))
    for name, keepout in layout.keepouts.items():
        cold = space.cold_nearest(name)
        worst = space.nearest(name, space.heated, cold)
        yield _held("clearance", cold, cold.cold.distance, _mend(cold, space, running=False))
        if keepout.reason != "service":
            yield _held("hot clearance", worst, worst.hot.distance, _mend(worst, space, running=True))
        if worst.margin >= 0.0:
            yield _tolerances(worst)
        yield from _floor(worst)
        if space.cool:
            yield from _cool(space.nearest(name, space.cool), space)
        yield from _sound(name, keepout)
        if not isinstance(keepout.body, HalfSpace):
            yield _about(cold)


def _cool(row: Clearance, space: Space) -> Iterator[Finding]:
    """Yield whether what the gas does not heat has its room, mm, cold and running, and whether tolerances eat it."""
    yield at_least(
        "envelope beside keep-outs",
        f"{row.piece} to keepout.{row.name}",
        row.worst.distance,
        row.limit,
        "mm",
        row.source,
        row.support,
        _mend(row, space, running=row.worst is row.hot),
    )
    if row.margin >= 0.0:
        yield _tolerances(row)


def _held(check: str, row: Clearance, distance: float, advice: str) -> Finding:
    return at_least(
        check,
        f"keepout.{row.name} to {row.piece}",
        distance,
        row.limit,
        "mm",
        row.source,
        row.support,
        advice,
    )


def _mend(row: Clearance, space: Space, *, running: bool) -> str:
    """Return what moves a piece clear that is too near."""
    short = row.limit - (row.hot if running else row.cold).distance
    if short <= 0.0:
        return ""
    aside, ways = space.aside(row, running=running), []
    run = _moved_by(row.carrier, space.layout)
    if row.cool:
        turbo = row.piece.rpartition("-")[0]
        ways.append(f"turn {turbo}, clock its housings, or move where it stands{_so(row, aside)}")
    elif run and isinstance(run.begins, Pose) and aside:
        ways.append(f"move run.{run.name} start at by {aside.word[0]}{rounded_up(aside.by)} in {aside.word[1]}")
    elif run:
        base = run.name.partition(".")[0]
        bends = [piece.id for piece in run.pieces if isinstance(piece, Elbow | Bend)]
        turn = f"turn the clock of {bends[0]} in run.{base}" if bends else f"give run.{base} an elbow"
        ways.append(f"{turn}{_so(row, aside)}")
    if aside:
        ways.append(f"{'or ' if ways else ''}move keepout.{row.name} {rounded_up(aside.by)} mm in {aside.back}")
    reason = row.keepout.reason
    if reason and not row.cool and not row.keepout.shielded:
        less = clearance_rule(reason).least(shielded=True)
        if less < row.limit:
            ways.append(f"or put a heat shield between, shielded = true: {less:g} mm will do")
    return f"{short:.1f} mm short: " + ", ".join(ways)


def _so(row: Clearance, aside: Aside | None) -> str:
    """Return which way a piece has to go."""
    return f" so that {row.piece} goes {rounded_up(aside.by)} mm in {aside.word}" if aside else ""


def _moved_by(mark: str, layout: Layout) -> Run | None:
    """Return the run whose start or bends move a piece, None for none: its own, or the one that this goes on from."""
    own = (run for run in layout.runs.values() if mark in _marks(run))
    run = next(own, None)
    while run and isinstance(run.begins, After):
        run = layout.runs[run.begins.run]
    return run


def _marks(run: Run) -> list[str]:
    return [piece.id for piece in run.along()] + ([run.flange.id] if run.flange else [])


def _tolerances(row: Clearance) -> Finding:
    return at_least(
        "clearance margin",
        f"keepout.{row.name} to {row.piece}",
        row.margin,
        row.chain.likely,
        "mm",
        f"{row.chain.told} from the head: elbows to ASME B16.9, {ELBOW:g} mm each, and what welds draw; likely sum",
        "published article",
        f"tolerances may eat it, up to {row.chain.stack:.1f} mm: measure {row.piece} as it is tacked",
        "warn",
    )


def _floor(row: Clearance) -> Iterator[Finding]:
    """Yield whether a bare body keeps the distance that an inspection asks for, whatever the file says, mm."""
    if row.keepout.reason is None or row.keepout.shielded:
        return
    rule = clearance_rule(row.keepout.reason)
    if rule.floor is not None:
        yield at_least(
            "clearance to pass",
            f"keepout.{row.name} to {row.piece}",
            row.worst.distance,
            rule.floor,
            "mm",
            rule.floor_source,
            rule.floor_support,
            "an inspection may refuse it; check your local code, or shield it: shielded = true",
            "warn",
        )


def _sound(name: str, keepout: Keepout) -> Iterator[Finding]:
    """Yield whether a mesh has an inside, and is as large, mm, as what is measured in its units."""
    if isinstance(keepout.body, Mesh):
        yield at_most(
            "keep-out closed",
            f"keepout.{name}",
            float(keepout.body.open_edges),
            0.0,
            "edges",
            "worked out from its triangles",
            "worked out",
            "held clear of on both sides of its surface, and of what it surrounds nearly all round; close it where it "
            "was scanned to be sure",
            "warn",
        )
        if keepout.likelier or float(keepout.body.span.max()) >= SMALL:
            yield at_least(
                "keep-out size",
                f"keepout.{name}",
                float(keepout.body.span.max()),
                SMALL,
                "mm",
                "common practice, no source: a smaller body is measured, not scanned",
                "common practice, no source",
                f"perhaps its unit is another: {keepout.likelier}",
                "warn",
            )


def _past(body: Body, points: Array, way: Array, by: float, asked: float, most: float) -> float:
    """Return how far along a `way`, (3,), from `by`, mm, on, `points`, (n, 3), mm, are `asked`, mm, from a body, to
    `CLOSE`; `most`, mm, or more where they are not."""
    for _ in range(MARCHES):
        short = asked - float(body.distance(points + by * way).min())
        if short <= CLOSE or by >= most:
            break
        by += short
    return by


def _about(row: Clearance) -> Finding:
    """Return whether a body stands where the engine is at all, mm: one drawn in another unit does not."""
    units = "its units, its at" if isinstance(row.keepout.body, Mesh) else "its place, its size"
    return at_most(
        "keep-out near",
        f"keepout.{row.name} to {row.piece}",
        row.cold.distance,
        AWAY,
        "mm",
        "common practice, no source: nobody measures what stands farther off",
        "common practice, no source",
        f"nothing comes near it: look at {units} and the file's units, or leave it out",
        "warn",
    )


def _met(near: Near, within: float) -> Near:
    """Return where a skin comes nearest to a body; within: how deep, mm, below nought, that lies wholly inside it."""
    return replace(near, distance=within) if within < 0.0 < near.distance else near


def metal_of(piece: Piece | None) -> Material:
    """Return what a piece is made of; for None, a housing of what stands on a flange."""
    if piece is None:
        return material(HOUSING)
    return piece.metal if isinstance(piece, Plate | Disc | Divider | Panel | Spike) else piece.stock.material
