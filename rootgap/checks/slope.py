"""Is no rolled cone so steep that rolls cannot make it?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Joint
from rootgap.layout import Cone, Layout
from rootgap.layout.aim import at_least as rounded_up

#: Largest angle between a cone's side and its axis, degrees.
STEEPEST = 60.0


def slopes(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the angle, degrees, between each rolled cone's steepest side and its axis."""
    for piece in layout.pieces():
        if isinstance(piece, Cone):
            aside = abs(piece.leaves.r_in - piece.stock.r_in) + abs(piece.offset)
            needed = aside / np.tan(np.radians(STEEPEST))
            yield at_most(
                "cone slope",
                piece.id,
                float(np.degrees(np.arctan2(aside, piece.length))),
                STEEPEST,
                "deg",
                "common practice, no source: a flatter cone kinks in the rolls, and its weld has no room inside",
                "common practice, no source",
                f"make it at least {rounded_up(float(needed))} mm long, or dish it from plate",
                "warn",
            )
