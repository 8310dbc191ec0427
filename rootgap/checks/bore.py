"""Does each branch's bore open wholly into its target's bore, without a step in the gas path?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Below this, mm, no step is felt.
FELT = 0.05


def bores(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how far each branch's bore reaches beside its target's, mm."""
    for joint in joints:
        if isinstance(joint, Cope):
            _, bore = joint.target.radii(joint.station)
            beside = joint.offset + joint.branch.r_in - bore
            yield at_most(
                "bore within bore",
                joint.id,
                max(beside, 0.0),
                FELT,
                "mm",
                "worked out from the geometry, no source",
                "worked out",
                "part of the branch's bore ends on the target's wall: bring the axes "
                f"{rounded_up(beside)} mm nearer, or use a smaller branch",
            )
