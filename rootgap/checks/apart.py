"""Do pieces that do not join keep apart?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, Verdict, at_least
from rootgap.checks.gap import Cover, beyond, core, covers_of, foot, nearest
from rootgap.geometry.distance import Body, Prism, Union
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Cap, Layout, Plate
from rootgap.layout.aim import at_least as rounded_up

Array = NDArray[np.float64]

#: Hot metal that is nearer, mm, touches when it grows, and leaves no room for a weld (common practice, no source).
APART = 5.0
#: Pieces nearer than this to each other, mm, are worth a row.
NEAR = 20.0
#: How far a chord of a plate's edge may lie from it, mm.
_CHORD = 0.02


@dataclass(frozen=True, eq=False)
class Neighbours:
    """Two pieces that do not join. distance: between them, mm, below nought where they meet; ends: (2, 3), mm, where
    they are nearest."""

    one: str
    other: str
    distance: float
    ends: Array

    @property
    def verdict(self) -> Verdict:
        """What comes of it."""
        return "fail" if self.distance < 0.0 else "warn" if self.distance < APART else "pass"

    def record(self) -> dict[str, Any]:
        """Return the pair as figures, mm."""
        return {"one": self.one, "other": self.other, "distance": self.distance, "points": self.ends.tolist()}


def unjoined(layout: Layout, joints: Sequence[Joint], reach: float) -> Iterator[tuple[str, Cover, str, Body]]:
    """Yield a piece with its skin, and another that it does not join with what that fills, where they may be nearer
    than `reach` mm; most pairs twice, each as the other."""
    joined = {frozenset(pair) for joint in joints for pair in combinations(joint.joined, 2)}
    cuts = cut_ends(joints)
    covers = covers_of(layout.pieces(), cuts)
    # A plate's holes let pipes and dividers in: what it fills is asked of other plates and of caps alone.
    solid = [piece.id for piece in layout.pieces() if isinstance(piece, Plate | Cap)]
    for piece in layout.pieces():
        body = _filled(piece) if isinstance(piece, Plate) else core(piece, cuts)
        if body is None:
            continue
        others = {mark: covers[mark] for mark in solid} if isinstance(piece, Plate) else covers
        for one, far in beyond(others, body).items():
            if one != piece.id and far <= reach and frozenset((one, piece.id)) not in joined:
                yield one, covers[one], piece.id, body


def _filled(plate: Plate) -> Body:
    """Return what a plate fills, holes and all."""
    prisms = (Prism(plate.start, edge.points(_CHORD), (), plate.thickness) for edge in plate.outlines)
    return Union(tuple(prisms))


def neighbours(layout: Layout, joints: Sequence[Joint], reach: float = NEAR) -> list[Neighbours]:
    """Return the pairs of pieces nearer than `reach` mm to each other that do not join, the nearest first.

    Pieces of one run that join a piece between them stand as near as that is short: they are no pair. Nor are flanges
    that are bolted together, and what joins them.
    """
    bolted = {frozenset((mark, mate.id)) for mark, mate in layout.mates.items()}
    run_of = {piece.id: run.name for run in layout.runs.values() for piece in run.along()}
    beside: dict[str, set[str]] = {}
    for joint in joints:
        for mark in joint.joined:
            beside.setdefault(mark, set()).update(joint.joined)
    found: dict[frozenset[str], Neighbours] = {}
    for one, cover, other, body in unjoined(layout, joints, reach):
        if run_of.get(one) == run_of.get(other) and beside.get(one, set()) & beside.get(other, set()):
            continue
        ends = product({one, *beside.get(one, ())}, {other, *beside.get(other, ())})
        if any(frozenset(pair) in bolted for pair in ends):
            continue
        near, pair = nearest(cover, body, reach), frozenset((one, other))
        if near.distance <= reach and (pair not in found or near.distance < found[pair].distance):
            feet = {one: near.at, other: foot(body, near.at)}
            first, second = sorted(pair)
            found[pair] = Neighbours(first, second, near.distance, np.array([feet[first], feet[second]]))
    return sorted(found.values(), key=lambda row: row.distance)


def kept_apart(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the two pieces that come nearest to each other, mm, though no joint brings them together."""
    near = neighbours(layout, joints)
    worst = near[0] if near else None
    distance = worst.distance if worst else NEAR
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
