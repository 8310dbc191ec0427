"""Does every piece stay clear of every keep-out, cold?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_least
from rootgap.checks.gap import finished_skin, gap
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Layout


def clearances(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the nearest piece to each keep-out, mm."""
    cuts = cut_ends(joints)
    for name, keepout in layout.keepouts.items():
        gaps = {piece.id: gap(finished_skin(piece, cuts), keepout.body) for piece in layout.pieces()}
        nearest = min(gaps, key=lambda piece: gaps[piece])
        yield at_least(
            "clearance",
            f"keepout.{name} to {nearest}",
            gaps[nearest],
            keepout.clearance,
            "mm",
            "the parameter file",
            "the parameter file",
            f"{keepout.clearance - gaps[nearest]:.1f} mm short: move the run away, or turn an elbow's clock",
        )
