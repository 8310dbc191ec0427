"""Is each branch enough smaller than its target that its weld does not run out at the sides?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Above this share of the target's outside, no unit, the branch's sides run nearly tangent to it.
LARGEST = 0.9


def branch_sizes(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for each branch's outside as a share of its target's outside diameter, no unit."""
    for joint in joints:
        if isinstance(joint, Cope):
            branch, target = joint.branch, joint.target
            outside, _ = target.radii(joint.station)
            yield at_most(
                "branch size",
                joint.id,
                branch.r_out / outside,
                LARGEST,
                "of OD",
                "common practice, no source: a branch nearly as wide as its target ends in thin ears at its sides",
                "common practice, no source",
                f"use a branch of at most {np.floor(20.0 * LARGEST * outside) / 10.0:.1f} mm outside, "
                f"or stock of at least {rounded_up(2.0 * branch.r_out / LARGEST)} mm for run.{target.run}",
                "warn",
            )
