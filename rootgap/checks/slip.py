"""Does every slip joint slide, and does it hold its pipe?

What the pipes grow by when they are hot is no question of these checks: they are of the cold joint.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_least
from rootgap.joints import Joint, Slip
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Overlap on the sliding pipe as a share of its outside diameter, no unit.
LEAST_OVERLAP = 1.0
#: Play, mm on the radius, without which scale and an oval pipe jam it.
LEAST_PLAY = 0.1
#: Between the pipes' ends, mm, cold: room for the saw's error only.
LEAST_GAP = 0.5


def slips(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the overlap, the play and the gap of each slip joint, mm."""
    for joint in joints:
        if isinstance(joint, Slip):
            yield from _slip(joint)


def _slip(joint: Slip) -> Iterator[Finding]:
    wanted = LEAST_OVERLAP * 2.0 * joint.r_out[0]
    yield at_least(
        "slip overlap",
        joint.id,
        joint.overlap,
        wanted,
        "mm",
        "common practice, no source: less than one diameter of overlap lets the pipe cock and leak",
        "common practice, no source",
        f"make the overlap at least {rounded_up(wanted)} mm, and the sleeve longer by as much",
        "warn",
    )
    tight, mate = min((joint.clearance, joint.before), (joint.weld_gap, joint.after))
    yield at_least(
        "slip clearance",
        joint.id,
        tight,
        LEAST_PLAY,
        "mm",
        "common practice, no source: it must go on by hand and slide when it is hot",
        "common practice, no source",
        f"{mate} has {tight:.2f} mm of play on the radius: give the sleeve a larger clearance",
        "warn" if tight > 0.0 else "fail",
    )
    yield at_least(
        "slip gap, cold",
        joint.id,
        joint.gap,
        LEAST_GAP,
        "mm",
        "common practice, no source: room for the saw's error; what the pipes grow by when hot is not in it",
        "common practice, no source",
        "make the gap wider; how much more it must be is for what the parts between the fixed ends grow by",
        "warn",
    )
