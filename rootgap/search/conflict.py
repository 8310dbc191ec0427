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
from rootgap.checks.clearance import Clearance, Space
from rootgap.errors import GeometryError, InputErrors
from rootgap.geometry.distance import Body, Shifted
from rootgap.joints import Joint, find_joints
from rootgap.layout import Layout, lay_out
from rootgap.search.found import Change, Conflict
from rootgap.search.variants import Choice, Variants

Array = NDArray[np.float64]
#: Called with what is being done, how many steps are done, and how many there are.
Progress = Callable[[str, int, int], None]

#: So many layouts are kept for each thing that may change, and held against every check until one passes.
KEPT = 40
#: So many more are held against them once one has passed, for a change that is smaller.
TRIED = 12
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
        thing, best, tried = gathered.things[index], None, 0
        for slack, choice in kept:
            # No change to a layout is smaller than what it lacks.
            if best is not None and (-slack >= best.size or tried == TRIED):
                break
            tried += best is not None
            progress("looking for the smallest change", index, len(gathered.things))
            most = np.inf if best is None else best.size
            change = _change(thing, -slack, choice, variants, units, least, most)
            if change is not None and change.size < most:
                best = change
        if best is not None:
            yield best


def _change(
    thing: str, short: float, choice: Choice, variants: Variants, units: Mapping[str, str], least: float, most: float
) -> Change | None:
    """Return the change to `thing` that lets a layout fit that is `short` of it alone, by a move of less than `most`;
    None where there is none, or the layout fails a check even so."""
    by = float(np.ceil(short / _STEP - 1e-9) * _STEP)
    settings = {each.name: each.values[at] for each, at in zip(variants.parameters, choice, strict=True)}
    try:
        layout = lay_out(variants.whole(choice))
        joints = tuple(find_joints(layout))
        if thing in units:
            goal = getattr(variants.assembly.goal, thing.removeprefix("goal.")).most
            return Change(thing, by, units[thing], goal + by, None, settings) if _passes(layout, joints) else None
        name = thing.removeprefix("keepout.")
        keepout = layout.keepouts[name]
        others = {each: body for each, body in layout.keepouts.items() if each != name}
        if not _passes(replace(layout, keepouts=others), joints):
            return None
        to = keepout.clearance - by
        eased = replace(layout, keepouts={**layout.keepouts, name: replace(keepout, clearance=max(to, 0.0))})
        fits = to >= 0.0 and _passes(eased, joints)
        moved = _moved(layout, joints, name, short, least, min(most, _FARTHEST * short))
        if moved is not None and not _passes(_aside(layout, name, np.array(moved)), joints):
            moved = None
        return Change(thing, by, "mm", to if fits else None, moved, settings) if fits or moved else None
    except (GeometryError, InputErrors):
        return None


def _passes(layout: Layout, joints: Sequence[Joint]) -> bool:
    return all(finding.verdict != "fail" for finding in checks_to_pass(layout, joints))


def _aside(layout: Layout, name: str, move: Array) -> Layout:
    """Return a layout with one of its keep-outs moved by (3,), mm."""
    keepout = layout.keepouts[name]
    return replace(layout, keepouts={**layout.keepouts, name: replace(keepout, body=Shifted(keepout.body, move))})


def _moved(
    layout: Layout, joints: Sequence[Joint], name: str, short: float, least: float, farthest: float
) -> tuple[float, float, float] | None:
    """Return the shortest move of a keep-out, mm, that makes room, cold and running: straight away from what is most
    too near to it, or along an axis of the engine frame; None where none shorter than `farthest` does."""

    def nearest(move: Array) -> Clearance:
        space = Space(_aside(layout, name, move), joints)
        return space.nearest(name, space.cold)

    straight = _away(nearest(np.zeros(3)).worst.at, layout.keepouts[name].body)
    found: Array | None = None
    # The likely ones first, so that most of the others need no second look.
    for way in (straight, *sorted((*np.eye(3), *-np.eye(3)), key=lambda axis: -float(axis @ straight))):
        by, most = short, farthest if found is None else float(np.linalg.norm(found))
        while by < most:
            move = np.round(by * way, 1) + 0.0
            # A step more than enough, for the search looks less closely.
            lacks = least + _STEP - nearest(move).margin
            if lacks <= 0.0:
                found = move
                break
            # No way is it farther off for less than it lacks.
            by += max(lacks, _STEP)
    return None if found is None else (float(found[0]), float(found[1]), float(found[2]))


def _away(point: Array, body: Body) -> Array:
    """Return the direction, (3,), in which `body` gets farthest from `point`, (3,), mm, in one step."""
    steps = 1e-3 * np.eye(3)
    slope = body.distance(point + steps) - body.distance(point - steps)
    return -slope / max(float(np.linalg.norm(slope)), 1e-12)
