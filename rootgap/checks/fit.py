"""Does every branch close on its target, so that a torch can fill the root?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout

#: A branch end may deviate from its target by no more than this, mm, or half its wall.
LARGEST_GAP = 3.2
SOURCE = "ASME B31.3 328.4.3: lesser of 3.2 mm and half the branch wall (a sound target, not a rule here)"


def root_gaps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the largest root gap of each cope, mm."""
    for joint in joints:
        if isinstance(joint, Cope):
            limit = min(LARGEST_GAP, 0.5 * (joint.branch.r_out - joint.branch.r_in))
            yield at_most(
                "root gap",
                joint.id,
                joint.root_gap_max,
                limit,
                "mm",
                SOURCE,
                "standard",
                'use prep = "bevel", or lean the branch less',
            )
