"""Do any two pieces that are not welded to each other run into each other?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import beyond, core, covers_of, gap
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Metal may touch; deeper than this, mm, it overlaps.
TOUCH = -0.05


def overlaps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the worst overlap of two pieces that no joint brings together, mm."""
    joined = {frozenset(pair) for joint in joints for pair in combinations(joint.joined, 2)}
    cuts = cut_ends(joints)
    covers = covers_of(layout.pieces(), cuts)
    filled = {piece.id: body for piece in layout.pieces() if (body := core(piece, cuts)) is not None}
    worst, between = 0.0, "all pieces"
    for other, inner in filled.items():
        for one, far in beyond(covers, inner).items():
            if far > TOUCH or one == other or frozenset((one, other)) in joined:
                continue
            depth = gap(covers[one], inner, enough=TOUCH)
            if depth < min(worst, TOUCH):
                worst, between = depth, f"{one} and {other}"
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
