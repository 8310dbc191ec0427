"""Can each bevel be ground as it is wanted?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.joints import Cope, Joint, Merge, Mitre, PlaneCut
from rootgap.joints.bevel import MOST_GRIND, Bevel
from rootgap.layout import Layout
from rootgap.layout.aim import at_least as rounded_up

SOURCE = "common practice, no source: a face ground farther from square ends in a feather edge that burns away"
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360


def grinds(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the steepest grind of each bevelled end, and for the least groove, degrees, of each that one
    is wanted of."""
    for joint in joints:
        for cut in joint.cuts:
            if isinstance(cut.cut, Cope | PlaneCut) and cut.cut.prep == "bevel":
                yield _steepest(joint, cut.piece, cut.cut)
                if cut.cut.bevel:
                    yield _narrowest(joint, cut.piece, cut.cut, cut.cut.bevel)


def _steepest(joint: Joint, piece: str, end: Cope | PlaneCut) -> Finding:
    grind = end.grind(_CLOCKS)
    worst = int(np.argmax(grind))
    steepest = _even(grind[worst])
    opened = _opened(joint, (steepest - MOST_GRIND) / float(_shares(end)[worst]))
    other = 'use prep = "flat"' if isinstance(end, PlaneCut) else "leave it square"
    advice = f"it clears only with a feather edge: {opened}, or {other}"
    return at_most("grind", piece, steepest, MOST_GRIND, "deg", SOURCE, "common practice, no source", advice, "warn")


def _narrowest(joint: Joint, piece: str, end: Cope | PlaneCut, bevel: Bevel) -> Finding:
    grooves = end.finished_groove(_CLOCKS) / _shares(end)
    clock, short = np.degrees(_CLOCKS[int(np.argmin(grooves))]), bevel.angle - float(np.min(grooves))
    return at_least(
        "groove",
        piece,
        _even(np.min(grooves)),
        bevel.angle,
        "deg",
        "the parameter file",
        "the parameter file",
        f"ground {MOST_GRIND:g} deg back it opens no farther at clock {clock:.0f}: {_opened(joint, short)}, "
        "or want less",
        "warn",
    )


def _shares(end: Cope | PlaneCut) -> NDArray[np.float64]:
    """Return what part of the angle between both sides is an end's own at each clock, no unit: of two ends that a
    plane parts each has half."""
    return np.full(_CLOCKS.shape, 0.5) if isinstance(end, PlaneCut) else end.share(_CLOCKS, end.branch.r_in)


def _opened(joint: Joint, by: float) -> str:
    """Return what opens the angle between both sides of a joint by `by` degrees."""
    more = rounded_up(by)
    if isinstance(joint, Merge):
        # Its own half-angle is not what opens: two neighbours stand nearer to each other than to the axis.
        return f"lean its legs more (half_angle of {joint.id})"
    if isinstance(joint, Mitre):
        return f"let it turn {more} deg less"
    if isinstance(joint, Cope) and joint.crowd:
        return f"move it apart from its neighbours, {more} deg more between them"
    return f"turn it {more} deg nearer square"


def _even(angle: float) -> float:
    """Return an angle, degrees, rid of what rounding leaves at a limit."""
    return round(float(angle), 6)
