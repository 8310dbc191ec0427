"""Do any two pieces that are not welded to each other run into each other?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.apart import unjoined
from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import gap
from rootgap.joints import Joint
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

#: Metal may touch; deeper than this, mm, it overlaps.
TOUCH = -0.05


def overlaps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the worst overlap of two pieces that no joint brings together, mm."""
    worst, between = 0.0, "all pieces"
    for one, cover, other, body in unjoined(layout, joints, TOUCH):
        depth = gap(cover, body, enough=TOUCH)
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
