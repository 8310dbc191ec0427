"""Do any two pieces that are not welded to each other run into each other?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import permutations

from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import gap
from rootgap.joints import Butt, Cope, FlangeWeld, Joint
from rootgap.layout import Cap, Layout, Plate
from rootgap.layout.aim import at_least as rounded_up

#: Metal may touch; deeper than this, mm, it overlaps.
TOUCH = -0.05


def overlaps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the worst overlap of two pieces that no joint brings together, mm."""
    joined = {pair for joint in joints for pair in _pairs(joint)}
    reach = {joint.branch.piece: joint.cut_range[1] for joint in joints if isinstance(joint, Cope)}
    worst, between = 0.0, "all pieces"
    for one, other in permutations(layout.pieces(), 2):
        if isinstance(other, Plate | Cap) or frozenset((one.id, other.id)) in joined:
            continue
        depth = gap(one.skin(reach.get(one.id)), other.tube.filled(other.tube.r_out), enough=TOUCH)
        if depth < min(worst, TOUCH):
            worst, between = depth, f"{one.id} and {other.id}"
    yield at_least(
        "overlap",
        between,
        worst,
        0.0,
        "mm",
        "worked out from the layout, no source",
        "worked out",
        f"move one run at least {rounded_up(-worst)} mm clear of the other",
    )


def _pairs(joint: Joint) -> Iterator[frozenset[str]]:
    """Yield the pairs of pieces that a joint brings together, as sets of their marks."""
    if isinstance(joint, Butt):
        yield frozenset((joint.before, joint.after))
    elif isinstance(joint, FlangeWeld):
        yield frozenset((joint.pipe, joint.plate))
    else:
        yield frozenset((joint.branch.piece, joint.target.piece))
        for other in joint.neighbours:
            yield frozenset((joint.branch.piece, other.piece))
