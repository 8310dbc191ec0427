"""Searching: every combination where that is few runs to place, else a coarse grid and finer ones round the best of
it."""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.checks import checks_to_pass
from rootgap.errors import GeometryError, InputErrors
from rootgap.joints import find_joints
from rootgap.layout import lay_out
from rootgap.search.conflict import Gathered, Progress, Slack, changes_of, conflict_of
from rootgap.search.figures import welds_of
from rootgap.search.found import Change, Found, Missed, Search
from rootgap.search.judge import Figures, Judge, Judged
from rootgap.search.rank import costs_of, front, in_order, limits_of, spread
from rootgap.search.space import Grid, parameters, round_, whole
from rootgap.search.variants import Choice, Variants
from rootgap.spec import Assembly, Source
from rootgap.spec.meshes import StepReader

Array = NDArray[np.float64]

#: With more runs to place, or more combinations to look up, a coarse grid comes first.
MOST_WORK, MOST_ROWS = 60_000, 5_000_000
#: What one grid of a coarse search may take, in runs to place.
_COARSE_WORK = 12_000
#: A coarse grid has so many values of each parameter at least, where there are as many.
_LEAST_VALUES = 2
#: Finer grids are laid round so many of the best, so many strides either way.
_CENTRES, _REACH = 4, 2
#: A grid is judged in parts of so many placed runs; with more than so many seconds to go, other processes pay.
_PART, _PAYS = 600, 6.0
#: Round how many of what is not clear all is judged, to tell which misses least, and what each may take, in runs to
#: place.
_LIKELY, _GLANCE = 12, 200
#: How many layouts are held against every check to find those to show.
MOST_LOOKS = 80
#: How many cleared layouts a picture of the trade-off can show.
_CLOUD = 3000
#: How many layouts of a kind are tried to count its welds, and what counts for one whose joints cannot be.
_TRIES, _MANY = 4, 999.0
UNITS = {"goal.welds": "welds", "goal.pipe": "mm", "goal.turn": "degrees"}


def search(
    source: Source,
    assembly: Assembly,
    progress: Progress,
    *,
    cores: int = 1,
    shown: int,
    step: StepReader | None = None,
) -> Search:
    """Return what a search of the file comes to.

    step: reads the STEP files of keep-outs; cores: processes that judge where that pays; shown: how many layouts of the
    front to find. From the keyboard it is stopped with what was judged so far. Raises GeometryError where the file's
    runs wait for each other."""
    variants = Variants(source, assembly, parameters(source, assembly), step)
    return _Hunt(variants, progress, cores, shown).done()


@dataclass
class _Tally:
    """What is counted on the way."""

    tried: int = 0
    placed: int = 0
    coarse: bool = False
    stopped: bool = False
    refused: dict[str, tuple[int, str]] = field(default_factory=dict)


class _Hunt:
    """One search on its way."""

    def __init__(self, variants: Variants, progress: Progress, cores: int, shown: int) -> None:
        self.variants, self.progress, self.cores, self.shown = variants, progress, cores, shown
        self.goal = variants.assembly.goal
        self.judge = Judge(self.variants, self.goal.margin.least)
        self.things = (
            *(f"keepout.{name}" for name in self.judge.names),
            *(word for word in UNITS if getattr(self.goal, word.removeprefix("goal.")) is not None),
        )
        self.tally = _Tally()
        self.kinds: dict[int, float] = {}
        self.seen: list[Judged] = []

    def done(self) -> Search:
        """Return what the search comes to."""
        began = time.perf_counter()
        clear = self._gone_through(whole_=False)
        seconds = time.perf_counter() - began
        tally = self.tally
        began = time.perf_counter()
        found, failed, looked = self._confirmed(clear)
        held = time.perf_counter() - began
        conflict = missed = None
        if not len(clear) and not tally.stopped:
            self.tally = _Tally()
            gathered = Gathered(self.things)
            self._gone_through(whole_=True, gathered=gathered)
            if self.tally.stopped:
                # What is in conflict cannot be told of some of the layouts.
                missed = self._least(gathered)
            else:
                conflict = conflict_of(gathered, self._changes(gathered), UNITS)
            tally.stopped = self.tally.stopped
        elif not len(clear):
            missed = self._missed()
        spent = self.variants.parameters
        return Search(
            keys={each.name: each.keys for each in spent},
            goal=self.goal,
            combinations=prod(len(each.values) for each in spent),
            tried=tally.tried,
            cleared=len(clear),
            placed=tally.placed,
            looked=looked,
            seconds=seconds,
            held=held,
            coarse=tally.coarse,
            found=found,
            failed=failed,
            refused=tally.refused,
            conflict=conflict,
            stopped=tally.stopped,
            missed=missed,
            cloud=self._cloud(clear),
            room={
                each.name: tuple(
                    zip(each.values, np.bincount(column, minlength=len(each.values)).tolist(), strict=True)
                )
                for each, column in zip(spent, clear.choices.T, strict=True)
            },
        )

    def _missed(self) -> Missed | None:
        """Return what misses least of what was judged; None where nothing closes of it, or where it is stopped from the
        keyboard once more.

        What stands on something that is too near was not placed: the likeliest are judged whole, until no other can
        miss less."""
        self.tally, gathered = _Tally(), Gathered(self.things)
        likely = [each for judged in self.seen for each in judged.likeliest(self.judge.least, _LIKELY)]
        for short, grid in sorted(likely, key=lambda each: each[0])[:_LIKELY]:
            if self.tally.stopped or (gathered.least and short >= -gathered.least[0]):
                break
            self._judged(self._thinned(grid, _GLANCE, _GLANCE)[0], gathered, whole_=True, coarse=True)
        return self._least(gathered)

    def _least(self, gathered: Gathered) -> Missed | None:
        """Return what misses least of what was gathered; None of nothing."""
        if gathered.least is None:
            return None
        return Missed(self._settings(gathered.least[1]), gathered.short(UNITS))

    def _settings(self, choice: Choice) -> Mapping[str, Any]:
        """Return the value of each parameter."""
        return {each.name: each.values[at] for each, at in zip(self.variants.parameters, choice, strict=True)}

    def _changes(self, gathered: Gathered) -> list[Change]:
        """Return the changes that let a layout fit; those found so far once it is stopped from the keyboard."""
        found: list[Change] = []
        try:
            if not self.tally.stopped:
                found.extend(changes_of(gathered, self.variants, UNITS, self.goal.margin.least, self.progress))
        except KeyboardInterrupt:
            self.tally.stopped = True
        return found

    def _cloud(self, clear: Figures) -> tuple[tuple[float, float, float, float], ...]:
        """Return the figures of up to so many cleared layouts, evenly over all."""
        some = clear.only(np.unique(np.linspace(0, len(clear) - 1, min(len(clear), _CLOUD)).astype(np.intp)))
        rows = np.column_stack([some.margin, self._welds(some), some.pipe, some.turn])
        return tuple((row[0], row[1], row[2], row[3]) for row in rows.tolist())

    def _gone_through(self, *, whole_: bool, gathered: Gathered | None = None) -> Figures:
        """Return the figures of all that is clear, coarse first where all is too much; `gathered` takes in the rest."""
        spent = self.variants.parameters
        grid, strides = self._thinned(whole(spent), MOST_WORK, _COARSE_WORK)
        self.tally.coarse = max(strides) > 1
        clear, nearly = self._judged(grid, gathered, whole_=whole_, coarse=self.tally.coarse)
        while max(strides) > 1 and not self.tally.stopped:
            strides = [max(stride // 2, 1) for stride in strides]
            for centre in self._centres(clear, nearly):
                more, near = self._judged(round_(spent, centre, strides, _REACH), gathered, whole_=whole_, coarse=True)
                clear, nearly = Figures.joined([clear, more]), Figures.joined([nearly, near])
                if self.tally.stopped:
                    break
        return clear

    def _thinned(self, grid: Grid, most: int, coarse: int) -> tuple[Grid, list[int]]:
        """Return a grid, and strides of 1, where it is at most so many runs to place, else every so many values of each
        parameter, with at most `coarse` runs."""
        found, strides = grid, [1] * len(grid.shape)
        while self._too_much(found, coarse if max(strides) > 1 else most) and max(found.shape) > _LEAST_VALUES:
            longest = max(range(len(strides)), key=lambda column: (found.shape[column], -column))
            strides[longest] *= 2
            found = grid.thinned(strides)
        return found, strides

    def _too_much(self, grid: Grid, most: int) -> bool:
        return self.judge.work(grid) > most or grid.size > MOST_ROWS

    def _centres(self, clear: Figures, nearly: Figures) -> list[Choice]:
        """Return the choices round which a finer grid is worth while: the best, spread over the front, or those that
        miss least."""
        if not len(clear):
            rows = np.argsort(-nearly.margin, kind="stable")[:_CENTRES]
            return [tuple(row) for row in nearly.choices[rows].tolist()]
        costs = costs_of(clear, self._welds(clear), self.goal)
        return [tuple(row) for row in clear.choices[spread(costs, front(costs), _CENTRES)].tolist()]

    def _judged(self, grid: Grid, gathered: Gathered | None, *, whole_: bool, coarse: bool) -> tuple[Figures, Figures]:
        """Return the figures of the choices of a grid that are clear, and of a few that nearly are."""
        none = self._none()
        clear, nearly = [none], [none]
        # Where nothing is clear yet, what misses least shows where to look on.
        down_to = -np.inf if gathered is not None or coarse else self.judge.least
        for judged in self._parts(grid, whole_=whole_ or coarse):
            if gathered is None:
                self.seen.append(judged)
            self.tally.placed += judged.placed
            self.tally.tried += judged.tried(self.judge.least)
            for unit, (count, first) in judged.refused.items():
                before = self.tally.refused.get(unit, (0, first))
                self.tally.refused[unit] = before[0] + count, before[1]
            for figures in judged.figures(down_to):
                keeps = self._keeps(figures, gathered)
                clear.append(figures.only(keeps))
                missed = figures.only(~keeps)
                nearly.append(missed.only(np.argsort(-missed.margin, kind="stable")[: 4 * _CENTRES]))
        return Figures.joined(clear), Figures.joined(nearly)

    def _none(self) -> Figures:
        columns, keepouts = len(self.variants.parameters), len(self.judge.names)
        nought = np.zeros(0)
        choices = np.zeros((0, columns), dtype=np.int64)
        return Figures(choices, np.zeros((0, keepouts)), nought, nought, np.zeros(0, dtype=np.int64))

    def _keeps(self, figures: Figures, gathered: Gathered | None) -> NDArray[np.bool_]:
        """Return which layouts, (n,), keep every clearance and every limit; `gathered` takes in by how much."""
        limits = limits_of(figures, self._welds(figures), self.goal)
        slacks = np.column_stack([figures.margins - self.judge.least, *limits.values()])
        if gathered is not None:
            gathered.add(Slack(figures.choices, slacks))
        return np.asarray((slacks >= 0.0).all(axis=1))

    def _welds(self, figures: Figures) -> Array:
        """Return how many welds each layout has, (n,), no unit; a layout of each kind is joined for it."""
        kinds, first, which = np.unique(figures.kinds, return_index=True, return_inverse=True)
        for kind, row in zip(kinds.tolist(), first.tolist(), strict=True):
            if kind not in self.kinds:
                rows = [row, *np.flatnonzero(figures.kinds == kind)[1:_TRIES]]
                counts = (self._joined(tuple(figures.choices[each].tolist())) for each in rows)
                self.kinds[kind] = next((count for count in counts if count), _MANY)
        return np.array([self.kinds[kind] for kind in kinds.tolist()])[which] if len(kinds) else np.zeros(0)

    def _joined(self, choice: Choice) -> float:
        """Return how many welds a layout has, nought where its joints cannot be."""
        try:
            return float(welds_of(tuple(find_joints(lay_out(self.variants.whole(choice))))))
        except (InputErrors, GeometryError):
            return 0.0

    def _parts(self, grid: Grid, *, whole_: bool) -> Iterator[Judged]:
        """Yield a grid's parts, judged, in order; none any more once it is stopped from the keyboard."""
        work = self.judge.work(grid)
        column = self.judge.split(grid)
        parts = list(grid.parts(max(work // _PART, 1), column))
        steps = 0

        def tick(placed: int) -> None:
            nonlocal steps
            steps += placed
            self.progress("placing runs", min(steps, work), work)

        began = time.perf_counter()
        try:
            while parts:
                judged = self.judge.judge(parts.pop(0), tick, whole=whole_)
                yield judged
                if judged.stopped:
                    self.tally.stopped = True
                    return
                spent = time.perf_counter() - began
                if self.cores > 1 and spent * work / max(steps, 1) - spent > _PAYS:
                    break
            if not parts:
                return
            context = multiprocessing.get_context("spawn")
            with _deaf(), _one_thread():
                pool = context.Pool(min(self.cores, len(parts)), _begin, (self.variants, self.judge.least))
            with pool:
                for judged in pool.imap(_one, [(part, whole_) for part in parts]):
                    # What need not be placed counts too, as it does above.
                    tick(self.judge.work(judged.grid))
                    yield judged
        except KeyboardInterrupt:
            self.tally.stopped = True

    def _confirmed(self, clear: Figures) -> tuple[tuple[Found, ...], Counter[str], int]:
        """Return layouts of the front that pass every check, the best first, what failed, and how many were looked
        at."""
        failed: Counter[str] = Counter()
        passed: dict[Choice, Found] = {}
        looked = 0
        if not len(clear):
            return (), failed, looked
        costs = costs_of(clear, self._welds(clear), self.goal)
        left = np.arange(len(clear))
        try:
            while looked < MOST_LOOKS and left.size:
                ahead = front(costs[left])
                rows = left[spread(costs[left], ahead, self.shown)]
                fresh = next((row for row in rows if tuple(clear.choices[row].tolist()) not in passed), None)
                if fresh is None:
                    break
                looked += 1
                self.progress("holding the best against every check", min(len(passed), self.shown), self.shown)
                found = self._checked(clear, int(fresh))
                if isinstance(found, Found):
                    passed[found.choice] = found
                else:
                    failed.update(found)
                    left = left[left != fresh]
        except KeyboardInterrupt:
            self.tally.stopped = True
        rows = np.array([row for row in in_order(costs) if tuple(clear.choices[row].tolist()) in passed], dtype=np.intp)
        ahead = rows[np.sort(front(costs[rows]))] if rows.size else rows
        return tuple(passed[tuple(clear.choices[row].tolist())] for row in ahead), failed, looked

    def _checked(self, clear: Figures, row: int) -> Found | set[str]:
        """Return a layout that passes every check; else the checks that it fails."""
        choice = tuple(clear.choices[row].tolist())
        try:
            layout = lay_out(self.variants.whole(choice))
            joints = tuple(find_joints(layout))
        except (InputErrors, GeometryError):
            return {"joints"}
        findings = checks_to_pass(layout, joints)
        failed = {finding.check for finding in findings if finding.verdict == "fail"}
        if failed:
            return failed
        margins = clear.margins[row]
        return Found(
            choice,
            self._settings(choice),
            float(margins.min(initial=np.inf)),
            self.judge.names[int(np.argmin(margins))] if margins.size else "",
            welds_of(joints),
            float(clear.pipe[row]),
            float(clear.turn[row]),
            sum(1 + len(finding.alike) for finding in findings if finding.verdict == "warn"),
        )


#: Where numpy's sums look up how many threads they may use.
_THREADS = "OPENBLAS_NUM_THREADS"
#: What a process of its own judges with.
_JUDGE: list[Judge] = []


@contextmanager
def _deaf() -> Iterator[None]:
    """Keep the keyboard from processes that begin meanwhile, until they can tell it to be the first one's."""
    if not hasattr(signal, "pthread_sigmask"):  # pragma: no cover  where there are no masks to hand on
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _one_thread() -> Iterator[None]:
    """Let processes that begin meanwhile do their sums in one thread each: there is one of them for each core."""
    before = os.environ.get(_THREADS)
    os.environ[_THREADS] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[_THREADS]
        else:
            os.environ[_THREADS] = before


def _begin(variants: Variants, least: float) -> None:
    """Make ready a process that judges; the keyboard is the first process's to listen to."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _JUDGE[:] = [Judge(variants, least)]


def _one(task: tuple[Grid, bool]) -> Judged:
    """Return a part of a grid, judged."""
    part, whole_ = task
    return _JUDGE[0].judge(part, _silent, whole=whole_)


def _silent(_placed: int) -> None:
    """Show no progress."""
