"""Is it known what every salvaged piece is made of?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Joint, SalvageWeld
from rootgap.layout import Layout


def metals(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how many metals are not known at each weld to a salvaged piece."""
    for joint in joints:
        if isinstance(joint, SalvageWeld):
            yield at_most(
                "metal",
                joint.id,
                float(joint.metal is None),
                0.0,
                "unknown",
                "common practice, no source: iron, cast steel and cast stainless look alike, and need other filler, "
                "heat and cooling",
                "common practice, no source",
                f"{joint.salvage}'s metal is unknown until stated: try a magnet, a grinder's spark and a weld on a "
                f"scrap of the same casting, then state it: material = ...",
                "warn",
            )
