"""Is the land between a flange's openings as wide as the divider that stands on it?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_least
from rootgap.joints import DividerEnd, Joint
from rootgap.layout import Layout


def lands(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the width, mm, of the land under each divider's end."""
    for joint in joints:
        if isinstance(joint, DividerEnd) and not np.isnan(joint.land):
            thickness = next(each.thickness for each in layout.dividers.values() if each.id == joint.divider)
            yield at_least(
                "land under divider",
                joint.id,
                joint.land,
                thickness,
                "mm",
                "worked out from the geometry, no source",
                "worked out",
                "the plate's edge stands in the gas beside its land: make it thinner, or the land wider",
                "warn",
            )
