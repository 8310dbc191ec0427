"""What a search came to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from rootgap.search.variants import Choice
from rootgap.spec import GoalSpec
from rootgap.spec.toml import Key


@dataclass(frozen=True)
class Found:
    """A layout that clears everything: every check of its whole layout is passed or warns. settings: the value of each
    parameter; margin: mm, infinite without keep-outs; nearest: the keep-out that has it; pipe: mm; turn: degrees;
    warnings: how many checks warn."""

    choice: Choice
    settings: Mapping[str, Any]
    margin: float
    nearest: str
    welds: int
    pipe: float
    turn: float
    warnings: int = 0


@dataclass(frozen=True)
class Change:
    """One thing that, changed, lets a layout fit. what: the keep-out or the limit; by: how much, in `unit`; to: what
    its clearance or its limit is then, None where that alone does not do; move: (x, y, z), mm, where moving it does the
    same; settings: the value of each parameter of the layout that then fits."""

    what: str
    by: float
    unit: str
    to: float | None
    move: tuple[float, float, float] | None
    settings: Mapping[str, Any]

    @property
    def size(self) -> float:
        """How large it is, in its unit: the less of the two where both a clearance and a move would do."""
        moved = math.hypot(*self.move) if self.move else math.inf
        return min(moved, math.inf if self.to is None else self.by)


@dataclass(frozen=True)
class Conflict:
    """Why nothing fits. between: keep-outs and limits that no layout keeps together, though it would without any one of
    them; changes: each of which lets a layout fit, the smallest first; short: where no single one does, by how much
    each is missed, in its unit, by the layout that misses least."""

    between: tuple[str, ...]
    changes: tuple[Change, ...]
    short: Mapping[str, tuple[float, str]]


@dataclass(frozen=True)
class Missed:
    """A layout that is not clear. settings: the value of each parameter; short: by how much it misses what, in its
    unit."""

    settings: Mapping[str, Any]
    short: Mapping[str, tuple[float, str]]


@dataclass(frozen=True)
class Search:
    """What a search came to. keys: what each parameter sets; found: layouts of the trade-off's front, the best first;
    combinations: how many there are; tried: how many were judged; cleared: how many close, clear every keep-out and
    keep every limit; placed: runs that were placed for it; looked: layouts that every check was asked of; failed: by
    check, how many of them failed it; refused: by run, how many placings failed, and what was said first; seconds: of
    judging; held: seconds of asking every check; coarse: whether a coarse grid came first; stopped: whether it was
    broken off; missed: then, where nothing was clear yet, what misses least of what was judged; cloud:
    margin, mm, welds, pipe, mm, and turn, degrees, of some of the cleared; room: how many were cleared
    with each value of each parameter."""

    keys: Mapping[str, tuple[Key, ...]]
    combinations: int
    tried: int
    cleared: int
    placed: int
    looked: int
    seconds: float
    goal: GoalSpec
    found: tuple[Found, ...] = ()
    failed: Mapping[str, int] = field(default_factory=dict)
    refused: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    conflict: Conflict | None = None
    held: float = 0.0
    coarse: bool = False
    stopped: bool = False
    missed: Missed | None = None
    cloud: tuple[tuple[float, float, float, float], ...] = ()
    room: Mapping[str, tuple[tuple[Any, int], ...]] = field(default_factory=dict)
