"""Loose lines and arcs made into closed loops.

Terminology
    line       a segment or an arc: start, end, bulge
    join       two ends nearer than the tolerance made one point, half way between
    gap        what lay between them, mm
    stray      a line that is part of no loop
    double     a line that lies on another one
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path, Point, arc_center

Array = NDArray[np.float64]
Line = tuple[Point, Point, float]

#: A line shorter than this, mm, is a point.
SHORTEST = 1e-3
#: Lines that lie nearer to each other than this, mm, and have the same ends, are one.
DOUBLE = 0.05
#: A gap below this, mm, is rounding.
EXACT = 1e-3


@dataclass(frozen=True)
class Healed:
    """Closed loops, what was done to have them, and what is left. gaps: mm, of every join that closed one; strays: the
    lines of each open chain in order; openings: of each chain the distance, mm, between its two ends."""

    loops: tuple[Path, ...]
    gaps: tuple[float, ...]
    points: int
    doubles: int
    strays: tuple[tuple[Line, ...], ...]
    openings: tuple[float, ...]


def healed(lines: Sequence[Line], tolerance: float) -> Healed:
    """Return the closed loops that `lines` (mm) make where ends nearer than `tolerance`, mm, are joined.

    >>> square = [((0, 0), (9.95, 0), 0), ((10, 10), (10, 0.02), 0), ((10, 10), (0, 10), 0), ((0, 0), (0, 10), 0)]
    >>> found = healed(square, 0.1)
    >>> round(found.loops[0].area, 2), len(found.gaps), found.strays
    (99.83, 1, ())
    """
    long = [line for line in lines if _length(line) > SHORTEST]
    single = _without_doubles(long)
    loose = _loose(single, tolerance)
    kept = [line for number, line in enumerate(single) if number not in loose]
    loops, gaps, left = _chained(kept, tolerance)
    strays = _chains([*(single[number] for number in sorted(loose)), *left], tolerance)
    openings = tuple(float(np.hypot(*np.subtract(chain[0][0], chain[-1][1]))) for chain in strays)
    return Healed(
        tuple(loops), tuple(gaps), len(lines) - len(long), len(long) - len(single), tuple(strays), openings
    )


def reversed_line(line: Line) -> Line:
    """Return a line, mm, run the other way."""
    return line[1], line[0], -line[2]


def middle(line: Line) -> Point:
    """Return the point half way along a line, mm."""
    (x0, y0), (x1, y1), bulge = line
    return 0.5 * (x0 + x1 + bulge * (y1 - y0)), 0.5 * (y0 + y1 - bulge * (x1 - x0))


def _length(line: Line) -> float:
    start, end, bulge = line
    if not bulge:
        return float(np.hypot(end[0] - start[0], end[1] - start[1]))
    return Path(((*start, bulge), (*end, 0.0))).length


def _without_doubles(lines: Sequence[Line]) -> list[Line]:
    """Return `lines` without those that lie on one before them."""
    middles = np.array([middle(line) for line in lines]).reshape(-1, 2)
    starts = np.array([line[0] for line in lines]).reshape(-1, 2)
    ends = np.array([line[1] for line in lines]).reshape(-1, 2)
    kept: list[int] = []
    for number in range(len(lines)):
        near = np.array(kept, dtype=np.intp)
        near = near[np.hypot(*(middles[near] - middles[number]).T) < DOUBLE]
        ahead = np.hypot(*(starts[near] - starts[number]).T) + np.hypot(*(ends[near] - ends[number]).T)
        back = np.hypot(*(starts[near] - ends[number]).T) + np.hypot(*(ends[near] - starts[number]).T)
        if not (np.minimum(ahead, back) < 2.0 * DOUBLE).any():
            kept.append(number)
    return [lines[number] for number in kept]


def _ends(lines: Sequence[Line]) -> Array:
    """Return start and end of every line by turns, (2 n, 2), mm."""
    return np.array([end for line in lines for end in line[:2]]).reshape(-1, 2)


def _near(ends: Array, tolerance: float) -> list[tuple[float, int, int]]:
    """Return (distance, end, end) of all ends that may be joined, nearest first."""
    if len(ends) < 2:
        return []
    from scipy.spatial import cKDTree

    pairs = np.sort(cKDTree(ends).query_pairs(tolerance, output_type="ndarray"), axis=1)
    apart = np.hypot(*(ends[pairs[:, 0]] - ends[pairs[:, 1]]).T)
    return sorted(zip(apart.tolist(), *pairs.T.tolist(), strict=True))


def _loose(lines: Sequence[Line], tolerance: float) -> set[int]:
    """Return the numbers of lines that hang by one end, and then of those that hang by them."""
    pairs = _near(_ends(lines), tolerance)
    loose: set[int] = set()
    while True:
        met: set[int] = set()
        for _, a, b in pairs:
            if a // 2 not in loose and b // 2 not in loose and _may_join(lines, a, b, tolerance):
                met |= {a, b}
        found = {k for k in range(len(lines)) if k not in loose and not {2 * k, 2 * k + 1} <= met}
        if not found:
            return loose
        loose |= found


def _may_join(lines: Sequence[Line], a: int, b: int, tolerance: float) -> bool:
    """Tell whether two ends may be joined: those of one line where it goes round and comes back."""
    return a // 2 != b // 2 or _length(lines[a // 2]) > 4.0 * tolerance


def _matched(lines: Sequence[Line], tolerance: float) -> dict[int, int]:
    """Return which end goes with which, nearest first."""
    partner: dict[int, int] = {}
    for _, a, b in _near(_ends(lines), tolerance):
        if a not in partner and b not in partner and _may_join(lines, a, b, tolerance):
            partner[a], partner[b] = b, a
    return partner


def _chained(lines: Sequence[Line], tolerance: float) -> tuple[list[Path], list[float], list[Line]]:
    """Return the loops of `lines`, the gaps that were joined, and the lines left over."""
    partner, ends = _matched(lines, tolerance), _ends(lines)
    seen: set[int] = set()
    loops, gaps, left = [], [], []
    for first in range(len(lines)):
        if first in seen:
            continue
        walked, end = [2 * first], 2 * first + 1
        seen.add(first)
        while end in partner and partner[end] // 2 not in seen:
            walked.append(partner[end])
            seen.add(partner[end] // 2)
            end = partner[end] ^ 1
        if partner.get(end) != 2 * first:
            # An open chain: what lies before its first line is walked to as well, so that none is left for later.
            end = 2 * first
            while end in partner and partner[end] // 2 not in seen:
                seen.add(partner[end] // 2)
                walked.append(partner[end])
                end = partner[end] ^ 1
            left += [lines[begin // 2] for begin in walked]
            continue
        vertices = []
        for begin in walked:
            other = partner[begin]
            gap = float(np.hypot(*(ends[begin] - ends[other])))
            gaps += [gap] if gap > EXACT else []
            at = 0.5 * (ends[begin] + ends[other])
            line = lines[begin // 2] if begin % 2 == 0 else reversed_line(lines[begin // 2])
            vertices.append((float(at[0]), float(at[1]), line[2]))
        if len(vertices) > 1 or vertices[0][2]:
            loops.append(_whole(vertices, lines[first]))
    return loops, gaps, left


def _whole(vertices: list[tuple[float, float, float]], line: Line) -> Path:
    """Return a loop; one of a single arc, all but a circle, as two halves of that circle."""
    if len(vertices) > 1:
        return Path(tuple(vertices), closed=True)
    center = np.array(arc_center(*line))
    lag = np.subtract(line[0], center)
    halves = [center + lag, center - lag]
    return Path(tuple((float(x), float(y), 1.0) for x, y in halves), closed=True)


def _chains(lines: Sequence[Line], tolerance: float) -> list[tuple[Line, ...]]:
    """Return open `lines` by the chains that they hang together in."""
    partner = _matched(lines, tolerance)
    seen: set[int] = set()
    chains = []
    for tip in [end for end in range(2 * len(lines)) if end not in partner] + list(range(2 * len(lines))):
        if tip // 2 in seen:
            continue
        begin, chain = tip, []
        while True:
            seen.add(begin // 2)
            chain.append(lines[begin // 2] if begin % 2 == 0 else reversed_line(lines[begin // 2]))
            following = partner.get(begin ^ 1)
            if following is None or following // 2 in seen:
                break
            begin = following
        chains.append(tuple(chain))
    return chains
