"""Do pieces that do not join keep apart?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import beyond, core, covers_of, nearest
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Hot metal that is nearer, mm, touches when it grows, and leaves no room for a weld (common practice, no source).
APART = 5.0


@dataclass(frozen=True)
class Neighbours:
    """Two pieces that do not join. distance: between them, mm, below nought where they meet."""

    one: str
    other: str
    distance: float


def neighbours(layout: Layout, joints: Sequence[Joint], reach: float) -> list[Neighbours]:
    """Return the pairs of pieces nearer than `reach` mm to each other that do not join, the nearest first.

    Pieces of one run that join a piece between them stand as near as that is short: they are no pair.
    """
    joined = {frozenset(pair) for joint in joints for pair in combinations(joint.joined, 2)}
    run_of = {piece.id: run.name for run in layout.runs.values() for piece in run.along()}
    beside: dict[str, set[str]] = {}
    for pair in joined:
        for mark in pair:
            beside.setdefault(mark, set()).update(pair)
    cuts = cut_ends(joints)
    covers = covers_of(layout.pieces(), cuts)
    filled = {piece.id: body for piece in layout.pieces() if (body := core(piece, cuts)) is not None}
    found: dict[frozenset[str], float] = {}
    for other, inner in filled.items():
        for one, far in beyond(covers, inner).items():
            pair = frozenset((one, other))
            next_but_one = run_of.get(one) == run_of.get(other) and beside.get(one, set()) & beside.get(other, set())
            if one == other or far > reach or pair in joined or next_but_one:
                continue
            distance = nearest(covers[one], inner, reach).distance
            if distance <= reach:
                found[pair] = min(distance, found.get(pair, distance))
    rows = [Neighbours(min(pair), max(pair), distance) for pair, distance in found.items()]
    return sorted(rows, key=lambda row: row.distance)


def kept_apart(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the two pieces that come nearest to each other, mm, though no joint brings them together."""
    near = neighbours(layout, joints, APART)
    worst = near[0] if near else None
    distance = worst.distance if worst else APART
    yield at_least(
        "self-clearance",
        f"{worst.one} and {worst.other}" if worst else "all pieces",
        distance,
        APART,
        "mm",
        "common practice, no source: hot metal nearer than that touches as it grows, and leaves a weld no room",
        "common practice, no source",
        f"move one run {rounded_up(APART - distance)} mm away from the other, or turn an elbow's clock",
        "warn",
    )
