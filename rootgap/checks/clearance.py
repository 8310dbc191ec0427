"""Does every piece stay clear of every keep-out, cold?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import covers_of, nearest_of
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Layout


def clearances(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the nearest piece to each keep-out, mm."""
    covers = covers_of(layout.pieces(), cut_ends(joints)) if layout.keepouts else {}
    for name, keepout in layout.keepouts.items():
        nearest, least = nearest_of(covers, keepout.body)
        yield at_least(
            "clearance",
            f"keepout.{name} to {nearest}",
            least,
            keepout.clearance,
            "mm",
            "the parameter file",
            "the parameter file",
            f"{keepout.clearance - least:.1f} mm short: move the run away, or turn an elbow's clock",
        )
