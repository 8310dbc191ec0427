"""Does a passage of sheet nowhere get much tighter than the smaller of its ends?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_least
from rootgap.joints import Joint
from rootgap.layout import Cone, Layout, LobedCone, Transition

#: Least bore area against that of the smaller end, no unit. A pipe's own bore varies by as much.
LEAST = 0.98


def pinches(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for each passage's least bore area against that of its smaller end, no unit.

    Where points of equal normal are joined it is always an end; a lobed cone may be tightest on its way.
    """
    for piece in layout.pieces():
        if isinstance(piece, Cone | LobedCone | Transition):
            smaller = float(min(piece.areas[0], np.pi * piece.leaves.r_in**2))
            yield at_least(
                "pinch",
                piece.id,
                round(piece.least_area / smaller, 9),
                LEAST,
                "of its end",
                "common practice, no source: a pinch of as much as a pipe's bore varies is none",
                "common practice, no source",
                f"its bore is {piece.least_area:.0f} mm2 at the least, its smaller end {smaller:.0f} mm2: "
                "make the end that it leads to larger, or begin it where the legs have closed further",
                "warn",
            )
