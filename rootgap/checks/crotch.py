"""Does every crotch stand open enough that a torch fills its root?

The measure is the local dihedral angle: between the branch's outside and the surface that it stands
on, square to the weld, least round the clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from rootgap.checks.finding import Finding, at_least
from rootgap.joints import Cope, Joint
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Least angle, degrees, that a groove weld is counted on to fill to its root.
LEAST = 30.0
SOURCE = (
    "AWS D1.1 clause 10.14, tubular connections: welders are not qualified for grooves below 30 degrees "
    "by the usual test (a sound target, not a rule here)"
)
_CLOCKS = 2.0 * np.pi * np.arange(720) / 720


def crotches(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the least crotch angle of each cope, degrees."""
    for joint in joints:
        if isinstance(joint, Cope):
            alone, least = _least(replace(joint, neighbours=(), shares=())), _least(joint)
            short = rounded_up(LEAST - least)
            if alone < LEAST:
                advice = (
                    f"turn {joint.branch.run} at least {short} deg nearer square to {joint.target.run}"
                )
            else:
                beside = [*(other.run for other in joint.neighbours), *(mate.run for mate in joint.shares)]
                others = " and ".join(beside)
                advice = f"open it by {short} deg between {joint.branch.run} and {others}: move them apart"
            yield at_least("crotch", joint.id, least, LEAST, "deg", SOURCE, "standard", advice, "warn")


def _least(cope: Cope) -> float:
    """Return the least crotch angle of a cope, degrees, rid of what rounding leaves at the limit."""
    return round(float(np.nanmin(cope.crotch(_CLOCKS))), 6)
