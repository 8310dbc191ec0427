"""Does every cut end close on what it meets, so that a torch can fill the root?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, Support, at_most
from rootgap.joints import Cope, Joint, Merge, Mitre
from rootgap.layout import Layout

#: A branch end may deviate from its target by no more than this, mm, or half its wall.
LARGEST_GAP = 3.2
SOURCE = "ASME B31.3 328.4.3: lesser of 3.2 mm and half the branch wall (a sound target, not a rule here)"
PLANES = "common practice, no source: as of a branch, the lesser of 3.2 mm and half the thinner wall"


def root_gaps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the largest root gap of each cope, mitre and merge, mm."""
    for joint in joints:
        if isinstance(joint, Cope):
            advice = 'use prep = "bevel", or lean the branch less'
            yield _found(joint, joint.branch.r_out - joint.branch.r_in, SOURCE, "standard", advice)
        elif isinstance(joint, Mitre):
            wall = min(tube.r_out - tube.r_in for tube in (joint.before, joint.after))
            advice = 'use prep = "flat" or "bevel", or let it turn less'
            yield _found(joint, wall, PLANES, "common practice, no source", advice)
        elif isinstance(joint, Merge):
            advice = 'use prep = "flat" or "bevel"'
            yield _found(joint, joint.r_out - joint.r_in, PLANES, "common practice, no source", advice)


def _found(joint: Cope | Mitre | Merge, wall: float, source: str, support: Support, advice: str) -> Finding:
    limit = min(LARGEST_GAP, 0.5 * wall)
    return at_most("root gap", joint.id, joint.root_gap_max, limit, "mm", source, support, advice)
