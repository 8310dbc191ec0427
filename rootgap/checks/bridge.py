"""Is there metal enough between two openings in one piece, so that their welds keep apart?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least
from rootgap.geometry.polygons import inside, to_outline
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

Array = NDArray[np.float64]

SOURCE = (
    "common practice, no source: two weld legs, each taken as its branch's wall, and one wall of the target "
    "clear between them; the walls of set-on branches stand on it as well; half a branch is comfortable"
)
#: Clocks of an opening's outline: its chords stay within 0.001 mm of it at these sizes. Every so many are
#: looked at to see which openings are neighbours.
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360
_COARSE = 8
#: Room to spare, mm, that a look at so few points is sure of.
_CLOSE = 5.0


@dataclass(frozen=True, eq=False)
class _Opening:
    """outline: of a cope's hole in its target, (n, 2), clock in radians and station in mm."""

    cope: Cope
    outline: Array

    def placed(self, turn: float = 0.0) -> Array:
        """Return the outline, mm: (n, 2) unrolled on a straight, after `turn` radians round it, or (n, 3)
        in space on a bend or a cone."""
        target = self.cope.target
        if not target.round:
            return target.rolled(*self.outline.T)
        return (self.outline + (turn, 0.0)) * (target.r_out, 1.0)


def bridges(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the metal, mm, between each opening and its nearest in the same piece, on its outside."""
    openings = [_Opening(joint, joint.hole(_CLOCKS)) for joint in joints if isinstance(joint, Cope)]
    for one, other in _neighbours(openings):
        target = one.cope.target
        metal, limit = _between(one, other), _wanted(one, other)
        yield at_least(
            "metal between holes",
            f"{one.cope.branch.run} and {other.cope.branch.run}",
            metal,
            limit,
            "mm",
            SOURCE,
            "common practice, no source",
            f"set them {rounded_up(limit - metal)} mm farther apart on run.{target.run}",
            "warn",
        )


def _neighbours(openings: Sequence[_Opening]) -> Iterator[tuple[_Opening, _Opening]]:
    """Yield the pairs in one piece that are short of room, or of which either opening has the other as the
    one that crowds it most."""
    room: dict[tuple[int, int], float] = {}
    for first, second in combinations(range(len(openings)), 2):
        one, other = openings[first], openings[second]
        if one.cope.target.piece == other.cope.target.piece:
            room[first, second] = _nearest_turn(one, other)[1] - _wanted(one, other)
    for pair, left in room.items():
        if left < _CLOSE or any(left == min(room[other] for other in room if number in other) for number in pair):
            yield openings[pair[0]], openings[pair[1]]


def _wanted(one: _Opening, other: _Opening) -> float:
    """Return the metal, mm, that is wanted between two openings in one piece."""
    return _taken(one.cope) + _taken(other.cope) + one.cope.target.r_out - one.cope.target.r_in


def _taken(cope: Cope) -> float:
    """Return how much metal beside its opening a branch needs, mm: its weld's leg, and its wall where
    that stands on the target."""
    wall = cope.branch.r_out - cope.branch.r_in
    return 2.0 * wall if cope.set_ == "on" else wall


def between(one: Cope, other: Cope) -> float:
    """Return the metal, mm, between the openings of two copes on one target; where they run into
    each other, less nought by how deep.

    On a straight it is measured along the outside, unrolled; on a bend straight across from outline to
    outline, which is less than along it, and so on the safe side.
    """
    return _between(_Opening(one, one.hole(_CLOCKS)), _Opening(other, other.hole(_CLOCKS)))


def _between(one: _Opening, other: _Opening) -> float:
    turn, _ = _nearest_turn(one, other)
    here, there = one.placed(), other.placed(turn)
    turned = other.outline + (turn, 0.0)
    within, covered = inside(one.outline, turned), inside(turned, one.outline)
    if within.any() or covered.any():
        depths = np.concatenate([to_outline(here[within], there), to_outline(there[covered], here)])
        return -float(depths.max())
    # No point of a chord is nearer than the nearer of its ends by more than half of it: most need no second look.
    apart = np.sqrt(np.min([((here - point) ** 2).sum(axis=1) for point in there], axis=0))
    longest = float(np.linalg.norm(np.diff(there, axis=0, append=there[:1]), axis=1).max())
    return float(to_outline(here[apart <= apart.min() + 0.5 * longest], there).min())


def _nearest_turn(one: _Opening, other: _Opening) -> tuple[float, float]:
    """Return the whole turns, radians, that bring the second of two outlines nearest to the first, and
    how near their points then are, mm, about."""
    here = one.placed()[::_COARSE, None]
    turns = (0.0, -2.0 * np.pi, 2.0 * np.pi)
    apart = [float(np.linalg.norm(here - other.placed(turn)[::_COARSE], axis=-1).min()) for turn in turns]
    least = int(np.argmin(apart))
    return turns[least], apart[least]
