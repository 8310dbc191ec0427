"""Does every pipe stand on its flange all round, clear of the opening?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import FlangeWeld, Joint
from rootgap.layout import Layout


def landings(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how far each opening reaches under its pipe's wall, mm."""
    for joint in joints:
        if isinstance(joint, FlangeWeld) and not joint.through:
            yield at_most(
                "landing",
                joint.id,
                joint.overlap,
                0.0,
                "mm",
                "worked out from the geometry, no source",
                "worked out",
                "the opening cuts under the pipe's wall: make the opening smaller or the pipe larger",
            )
