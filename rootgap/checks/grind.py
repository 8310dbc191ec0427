"""Can each bevel be ground as it is wanted?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.joints import Cope, Joint, PlaneCut
from rootgap.joints.bevel import MOST_GRIND, Bevel
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

SOURCE = "common practice, no source: a face ground farther from square ends in a feather edge that burns away"
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360


def grinds(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the steepest grind of each bevelled end, and for the least groove, degrees, of each that one
    is wanted of."""
    for cut in (cut for joint in joints for cut in joint.cuts):
        if isinstance(cut.cut, Cope | PlaneCut) and cut.cut.prep == "bevel":
            yield _steepest(cut.piece, cut.cut)
            if cut.cut.bevel:
                yield _narrowest(cut.piece, cut.cut, cut.cut.bevel)


def _steepest(piece: str, end: Cope | PlaneCut) -> Finding:
    steepest = _even(np.max(end.grind(_CLOCKS)))
    advice = f"it clears only with a feather edge: {_opened(end, steepest - MOST_GRIND)}, or leave it square"
    return at_most("grind", piece, steepest, MOST_GRIND, "deg", SOURCE, "common practice, no source", advice, "warn")


def _narrowest(piece: str, end: Cope | PlaneCut, bevel: Bevel) -> Finding:
    # Of a groove between two ends that a plane parts each gives half.
    share = 0.5 if isinstance(end, PlaneCut) else 1.0
    grooves = end.finished_groove(_CLOCKS) / share
    clock, short = np.degrees(_CLOCKS[int(np.argmin(grooves))]), bevel.angle - float(np.min(grooves))
    return at_least(
        "groove",
        piece,
        _even(np.min(grooves)),
        bevel.angle,
        "deg",
        "the parameter file",
        "the parameter file",
        f"ground {MOST_GRIND:g} deg back it opens no farther at clock {clock:.0f}: {_opened(end, short)}, or want less",
        "warn",
    )


def _opened(end: Cope | PlaneCut, by: float) -> str:
    """Return what opens an end `by` degrees."""
    if isinstance(end, Cope) and end.crowd:
        return f"move it apart from its neighbours, {rounded_up(by)} deg more between them"
    return f"turn it {rounded_up(by)} deg nearer square"


def _even(angle: float) -> float:
    """Return an angle, degrees, rid of what rounding leaves at a limit."""
    return round(float(angle), 6)
