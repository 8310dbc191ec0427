"""Why nothing fits: which keep-outs and limits together leave no layout, and the smallest change that would.

A layout breaks some of them. A set is in conflict where every layout breaks one of it; the set that is told is found by
leaving out one after another whatever can be left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rootgap.checks import checks_to_pass
from rootgap.errors import GeometryError, InputErrors
from rootgap.geometry.distance import Body, Shifted
from rootgap.joints import find_joints
from rootgap.layout import Keepout, Layout, lay_out
from rootgap.search.found import Change, Conflict
from rootgap.search.near import Near, Thing
from rootgap.search.variants import Choice, Variants

Array = NDArray[np.float64]
#: Called with what is being done, how many steps are done, and how many there are.
Progress = Callable[[str, int, int], None]

#: So many layouts are kept for each thing that may change, and held against every check until one passes.
KEPT = 40
#: A change is told in steps of this, mm or degrees, rounded so that it is enough.
_STEP = 0.1
#: A keep-out is moved by up to so many times what is missing.
_FARTHEST = 3.0


@dataclass(frozen=True, eq=False)
class Slack:
    """Layouts, and by how much each keeps what is asked. choices: (n, parameters); values: (n, things), in the unit of
    each, below nought where it is broken."""

    choices: NDArray[np.int64]
    values: Array


class Gathered:
    """What is kept of all layouts while they are gone through."""

    def __init__(self, things: Sequence[str]) -> None:
        """Begin with none. things: the keep-outs and limits."""
        self.things = tuple(things)
        self.patterns: set[bytes] = set()
        self.only: dict[int, list[tuple[float, Choice]]] = {index: [] for index in range(len(things))}
        self.least: tuple[float, Choice, tuple[float, ...]] | None = None

    def add(self, slack: Slack) -> None:
        """Take in layouts."""
        if not len(slack.choices):
            return
        broken = slack.values < 0.0
        self.patterns |= {row.tobytes() for row in np.unique(broken, axis=0)}
        counts = broken.sum(axis=1)
        for index, kept in self.only.items():
            rows = np.flatnonzero((counts == 1) & broken[:, index])
            rows = rows[np.argsort(-slack.values[rows, index], kind="stable")[:KEPT]]
            kept += [(float(slack.values[row, index]), tuple(slack.choices[row].tolist())) for row in rows]
            kept.sort(key=lambda each: (-each[0], each[1]))
            del kept[KEPT:]
        total = np.minimum(slack.values, 0.0).sum(axis=1)
        best = int(np.argmax(total))
        if self.least is None or total[best] > self.least[0]:
            row = tuple(slack.values[best].tolist())
            self.least = float(total[best]), tuple(slack.choices[best].tolist()), row

    def short(self, units: Mapping[str, str]) -> Mapping[str, tuple[float, str]]:
        """Return by how much, and in which unit, the layout that misses least misses each thing that it breaks. units:
        of each limit, "mm" for all else."""
        values = self.least[2] if self.least else ()
        return {
            thing: (-value, units.get(thing, "mm"))
            for thing, value in zip(self.things, values, strict=bool(values))
            if value < 0.0
        }

    def minimal(self) -> tuple[int, ...]:
        """Return a set of things that no layout keeps together, though it does without any one of them."""
        broken = [np.frombuffer(row, dtype=np.bool_) for row in self.patterns]
        left = list(range(len(self.things)))
        for index in reversed(range(len(self.things))):
            fewer = [each for each in left if each != index]
            if all(row[fewer].any() for row in broken):
                left = fewer
        return tuple(left)


def conflict_of(gathered: Gathered, changes: Sequence[Change], units: Mapping[str, str]) -> Conflict | None:
    """Return why nothing fits; None where no layout was gathered. changes: those that let a layout fit; units: of each
    limit, "mm" for all else."""
    if gathered.least is None:
        return None
    between = tuple(gathered.things[index] for index in gathered.minimal())
    changes = sorted(changes, key=lambda change: (change.unit != "mm", change.size))
    return Conflict(between, tuple(changes), {} if changes else gathered.short(units))


def changes_of(
    gathered: Gathered, variants: Variants, units: Mapping[str, str], least: float, progress: Progress
) -> Iterator[Change]:
    """Yield a change to each thing that lets a layout fit, where one does. units: as above; least: the least margin,
    mm."""
    for index, kept in gathered.only.items():
        thing = gathered.things[index]
        for slack, choice in kept:
            progress("looking for the smallest change", index, len(gathered.things))
            change = _change(thing, -slack, choice, variants, units, least)
            if change is not None:
                yield change
                break


def _change(
    thing: str, short: float, choice: Choice, variants: Variants, units: Mapping[str, str], least: float
) -> Change | None:
    """Return the change to `thing` that lets a layout fit that is `short` of it alone; None where the layout fails a
    check even so."""
    by = float(np.ceil(short / _STEP - 1e-9) * _STEP)
    settings = {each.name: each.values[at] for each, at in zip(variants.parameters, choice, strict=True)}
    try:
        layout = lay_out(variants.whole(choice))
        if thing in units:
            goal = getattr(variants.assembly.goal, thing.removeprefix("goal.")).most
            return Change(thing, by, units[thing], goal + by, None, settings) if _passes(layout) else None
        name = thing.removeprefix("keepout.")
        keepout = layout.keepouts[name]
        to = keepout.clearance - by
        eased = replace(layout, keepouts={**layout.keepouts, name: replace(keepout, clearance=max(to, 0.0))})
        fits = to >= 0.0 and _passes(eased)
        moved = _moved(layout, keepout, short, least)
        if moved is not None:
            aside = replace(keepout, body=Shifted(keepout.body, np.array(moved)))
            moved = moved if _passes(replace(layout, keepouts={**layout.keepouts, name: aside})) else None
        return Change(thing, by, "mm", to if fits else None, moved, settings) if fits or moved else None
    except (GeometryError, InputErrors):
        return None


def _passes(layout: Layout) -> bool:
    return all(finding.verdict != "fail" for finding in checks_to_pass(layout, tuple(find_joints(layout))))


def _moved(layout: Layout, keepout: Keepout, short: float, least: float) -> tuple[float, float, float] | None:
    """Return the move of a keep-out, mm, straight away from what is most too near to it, that makes room."""
    near = Near()
    hot: list[Thing] = [*layout.pieces(), *(hull for each in layout.envelopes for hull in each.hulls if hull.hot)]
    groups: list[Sequence[Thing]] = [hot, *([hull for hull in each.hulls if not hull.hot] for each in layout.envelopes)]
    asked = np.array([keepout.clearance, *(each.cold for each in layout.envelopes)])

    def left(body: Body) -> Array:
        return near.distances(groups, [body])[:, 0] - asked

    worst = groups[int(np.argmin(left(keepout.body)))]
    way = _away(near.nearest(worst, keepout.body), keepout.body)
    for factor in np.linspace(1.0, _FARTHEST, 21):
        move = np.round(way * (short * factor + _STEP), 1)
        if left(Shifted(keepout.body, move)).min() >= least:
            return float(move[0]), float(move[1]), float(move[2])
    return None


def _away(point: Array, body: Body) -> Array:
    """Return the direction, (3,), in which `body` gets farthest from `point`, (3,), mm, in one step."""
    steps = 1e-3 * np.eye(3)
    slope = body.distance(point + steps) - body.distance(point - steps)
    return -slope / max(float(np.linalg.norm(slope)), 1e-12)
