"""Does every piece stay clear of every keep-out, cold and hot?

Terminology
    cold       as it is measured: the engine still, the metal cold
    hot        running: the metal grown, free, from the head's datum, and the engine rolled and shifted on its mounts
               against what is bolted to the chassis; the least over both ends of that and between
    margin     what is left of a distance beyond the clearance that is asked for
    stack      how far the piece may end up from where it is drawn, at most
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, Verdict, at_least, at_most
from rootgap.checks.gap import Cover, Near, beyond, contained, core, cover_of, covers_of, foot, gap, nearest, nearest_of
from rootgap.checks.stack import ELBOW, Chain, chains
from rootgap.geometry.distance import Bend as Round
from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.mesh import Mesh
from rootgap.joints import Joint, cut_ends
from rootgap.layout import After, Bend, Disc, Divider, Elbow, Hull, Keepout, Layout, Panel, Plate, Run, Spike
from rootgap.layout.aim import at_least as rounded_up
from rootgap.layout.keepout import SMALL
from rootgap.layout.motion import Moved
from rootgap.layout.pieces import Piece
from rootgap.spec import Pose
from rootgap.stock import Material, material
from rootgap.stock.keepouts import clearance_rule

Array = NDArray[np.float64]

#: A distance beyond the clearance, mm, from which a pair is not worth a row.
FAR = 60.0
#: What a turbine's housing is cast of (common practice, no source).
HOUSING = "ductile iron"


@dataclass(frozen=True, eq=False)
class Clearance:
    """A piece beside a keep-out. cold, hot: where it comes nearest; cold_foot, hot_foot: (3,), mm, there on the
    keep-out, hot as the engine sees it; chain: of the piece; carrier: the piece that carries it, for what stands on a
    flange that, else itself."""

    name: str
    keepout: Keepout
    piece: str
    cold: Near
    hot: Near
    cold_foot: Array
    hot_foot: Array
    chain: Chain
    carrier: str

    @property
    def limit(self) -> float:
        """The clearance that is asked for, mm."""
        return self.keepout.clearance

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

    @property
    def away(self) -> Array:
        """The direction, (3,), no unit, in which the piece gets clear fastest."""
        near, other = self.ends
        lag = (near.at - other) * (1.0 if near.distance >= 0.0 else -1.0)
        size = float(np.linalg.norm(lag))
        return lag / size if size > 1e-6 else np.zeros(3)


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
    def hulls(self) -> Mapping[Hull, str]:
        """What the gas heats of what stands on flanges, each with the mark of its flange."""
        return {hull: each.plate.id for each in self.layout.envelopes for hull in each.hulls if hull.hot}

    @cached_property
    def chains(self) -> Mapping[str, Chain]:
        """Of every piece and hull by its mark."""
        found = chains(self.layout, self.joints)
        return {**found, **{hull.id: found[plate] for hull, plate in self.hulls.items()}}

    @cached_property
    def cold(self) -> Mapping[str, Cover]:
        """The skins by mark, as drawn."""
        hulls = {hull.id: cover_of(hull.skin) for hull in self.hulls}
        return {**covers_of(self.pieces.values(), cut_ends(self.joints)), **hulls}

    @cached_property
    def filled(self) -> Mapping[str, Rod | Round]:
        """What straights, bends and hulls fill, bore and all, by mark."""
        cuts = cut_ends(self.joints)
        cores = {mark: core(piece, cuts) for mark, piece in self.pieces.items()} | {
            hull.id: hull.body for hull in self.hulls
        }
        return {mark: body for mark, body in cores.items() if isinstance(body, Rod | Round)}

    @cached_property
    def hot(self) -> Mapping[str, Cover]:
        """The skins by mark, grown."""
        return {mark: cover.grown(self.chains[mark].datum, self._growth(mark)) for mark, cover in self.cold.items()}

    def _growth(self, mark: str) -> float:
        """Return by what share, no unit, a piece grows."""
        heat, heads = self.layout.heat, [self.layout.plates[name].id for name in self.layout.begun]
        metal = metal_of(self.pieces[mark]) if mark in self.pieces else material(HOUSING)
        return metal.growth(heat.cold, heat.flange if mark in heads else heat.pipe)

    def _running(self, keepout: Keepout) -> list[tuple[Mapping[str, Cover], Body]]:
        """Return the skins by mark, and what they are beside, that a running engine knows of a keep-out."""
        if keepout.reason == "service":
            return [(self.cold, keepout.body)]
        if keepout.side == "engine":
            return [(self.hot, keepout.body)]
        seen = self.layout.motion.seen(keepout.body)
        return [(self.hot, seen), (self.cold, seen)]

    def _states(self, name: str, mark: str) -> list[tuple[Cover, Body]]:
        """Return the skins of a piece, and what they are beside, that a running engine knows."""
        return [(covers[mark], body) for covers, body in self._running(self.layout.keepouts[name])]

    def bounds(self, name: str) -> Mapping[str, float]:
        """Return a distance, mm, that each piece is at least away from the keep-out `name`, running, the likely
        nearest first."""
        keepout = self.layout.keepouts[name]
        states = [beyond(covers, body) for covers, body in self._running(keepout)]
        far = {mark: min(state[mark] for state in states) for mark in self.cold}
        return dict(sorted(far.items(), key=lambda each: each[1]))

    def beside(self, name: str, mark: str, enough: float = np.inf) -> Clearance:
        """Return how far a piece stays from the keep-out `name`, to the hundredth; once that is known to be more than
        `enough`, mm, any figure above that may come."""
        keepout = self.layout.keepouts[name]
        within = contained(self.filled[mark], keepout.body) if mark in self.filled else np.inf
        cold = _met(nearest(self.cold[mark], keepout.body, enough), within)
        states = [(_met(nearest(cover, body, enough), within), body) for cover, body in self._states(name, mark)]
        hot, seen = min(states, key=lambda state: state[0].distance)
        if isinstance(seen, Moved):
            seen = seen.at(hot.angle)
        feet = foot(keepout.body, cold.at), foot(seen, hot.at)
        carriers = {hull.id: plate for hull, plate in self.hulls.items()}
        return Clearance(name, keepout, mark, cold, hot, *feet, self.chains[mark], carriers.get(mark, mark))

    def cold_nearest(self, name: str) -> Clearance:
        """Return the piece that is nearest to the keep-out `name` when cold."""
        mark, _ = nearest_of(self.cold, self.layout.keepouts[name].body)
        return self.beside(name, mark)

    def nearest(self, name: str, likely: Clearance | None = None) -> Clearance:
        """Return the piece with the least margin to the keep-out `name`. likely: one that may be it."""
        bounds = self.bounds(name)
        found = likely or self.beside(name, next(iter(bounds)))
        for mark, bound in bounds.items():
            least = found.worst.distance
            if bound > least:
                break
            if mark != found.piece and any(gap(*state, enough=least) < least for state in self._states(name, mark)):
                found = self.beside(name, mark)
        return found

    def rows(self, reach: float = FAR) -> list[Clearance]:
        """Return every pair of a piece, or a hot hull, and a keep-out, the least margin first, without those that keep
        `reach` mm beyond what is asked; of each keep-out the nearest piece at least."""
        found = []
        for name, keepout in self.layout.keepouts.items():
            most = keepout.clearance + reach
            near = [mark for mark, bound in self.bounds(name).items() if bound <= most]
            beside = [row for row in (self.beside(name, mark, most) for mark in near) if row.margin <= reach]
            found += beside or [self.nearest(name)]
        return sorted(found, key=lambda row: row.margin)


def clearances(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield what there is to say of each keep-out: the nearest piece cold and running, mm, whether tolerances eat the
    margin, and whether its file is sound."""
    if not layout.keepouts:
        return
    space = Space(layout, joints)
    for name, keepout in layout.keepouts.items():
        cold = space.cold_nearest(name)
        worst = space.nearest(name, cold)
        yield _held("clearance", cold, cold.cold.distance, layout)
        if keepout.reason != "service":
            yield _held("hot clearance", worst, worst.hot.distance, layout)
        if worst.margin >= 0.0:
            yield _tolerances(worst)
        yield from _floor(worst)
        yield from _sound(name, keepout)


def _held(check: str, row: Clearance, distance: float, layout: Layout) -> Finding:
    keepout = row.keepout
    return at_least(
        check,
        f"keepout.{row.name} to {row.piece}",
        distance,
        keepout.clearance,
        "mm",
        keepout.source,
        keepout.support,
        _mend(row, keepout.clearance - distance, layout),
    )


def _mend(row: Clearance, short: float, layout: Layout) -> str:
    """Return what moves a piece clear that is `short` mm too near."""
    run, ways = _moved_by(row.carrier, layout), []
    axis = int(np.argmax(np.abs(row.away)))
    if run and isinstance(run.begins, Pose) and row.away.any():
        step = short / float(row.away[axis])
        by = f"{'-' if step < 0 else '+'}{rounded_up(abs(step))}"
        ways.append(f"move run.{run.name} start at by {by} in {'xyz'[axis]}")
    elif run:
        base = run.name.partition(".")[0]
        bends = [piece.id for piece in run.pieces if isinstance(piece, Elbow | Bend)]
        turn = f"turn the clock of {bends[0]} in run.{base}" if bends else f"give run.{base} an elbow"
        ways.append(f"{turn} so that {row.piece} goes {rounded_up(short)} mm {_towards(row.away)}")
    ways.append(f"{'or ' if ways else ''}move keepout.{row.name} {rounded_up(short)} mm the other way")
    reason = row.keepout.reason
    if reason and not row.keepout.shielded and (less := clearance_rule(reason).least(shielded=True)) < row.limit:
        ways.append(f"or put a heat shield between, shielded = true: {less:g} mm will do")
    return f"{short:.1f} mm short: " + ", ".join(ways)


def _moved_by(mark: str, layout: Layout) -> Run | None:
    """Return the run whose start or bends move a piece, None for none: its own, or the one that this goes on from."""
    own = (run for run in layout.runs.values() if mark in _marks(run))
    run = next(own, None)
    while run and isinstance(run.begins, After):
        run = layout.runs[run.begins.run]
    return run


def _marks(run: Run) -> list[str]:
    return [piece.id for piece in run.along()] + ([run.flange.id] if run.flange else [])


def _towards(direction: Array) -> str:
    """Return a direction, no unit, in words of the engine frame."""
    words = [f"{value:+.2f} {axis}" for axis, value in zip("xyz", direction, strict=True) if abs(value) > 0.2]
    return f"towards {', '.join(words)}" if words else "away from it"


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
        yield at_least(
            "keep-out size",
            f"keepout.{name}",
            float(keepout.body.span.max()),
            SMALL,
            "mm",
            "common practice, no source: a smaller body is measured, not scanned",
            "common practice, no source",
            "if it was drawn in inches or metres, say so: units",
            "warn",
        )


def _met(near: Near, within: float) -> Near:
    """Return where a skin comes nearest to a body; within: how deep, mm, below nought, that lies wholly inside it."""
    return replace(near, distance=within) if within < 0.0 < near.distance else near


def metal_of(piece: Piece) -> Material:
    """Return what a piece is made of."""
    return piece.metal if isinstance(piece, Plate | Disc | Divider | Panel | Spike) else piece.stock.material
