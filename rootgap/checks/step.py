"""How large a step may the bore make where pieces are welded end to end, given what pipe and fittings may be off?

Terminology: *hi-lo* is the step between two bores at a weld, measured on the radius, both ends
set concentric. It is known where both ends were measured, and otherwise the worst that their
tolerances allow.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Butt, Joint, Mitre, SalvageWeld
from rootgap.layout import Cap, Elbow, Flat, Layout, LobedCone, Reducer, Spike
from rootgap.layout.aim import at_least as rounded_up
from rootgap.layout.pieces import Member
from rootgap.layout.pieces.sheet import Sheet
from rootgap.stock import PipeStock
from rootgap.units import fraction

#: Largest hi-lo, mm.
LARGEST = 1.6
#: Plus or minus on the bore of a butt-weld fitting, mm: up to this size, and above it (the latter from memory).
#: Source: ASME B16.9, tolerances.
FITTING_BORE, UP_TO, LARGER_FITTING_BORE = 0.8, "2-1/2", 1.6
#: A pipe's wall may be thinner by this share. Source: ASTM A53.
THINNER = 0.125
SOURCE = "ASME B31.1 127.3, bores in line within 1/16 in, quoted in fit-up guides; tolerances of ASME B16.9, ASTM A53"


def bore_steps(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the step, mm, that the bores of each butt joint, mitre and salvage weld make, or may make."""
    pieces = {piece.id: piece for piece in layout.pieces() if not isinstance(piece, Flat | Spike)}
    for joint in joints:
        if isinstance(joint, Butt | Mitre):
            before, after = joint.joined
            yield _step(joint.id, pieces[before], pieces[after])
        elif isinstance(joint, SalvageWeld):
            yield _finding(joint.id, abs(joint.step), joint.after if joint.step > 0.0 else joint.salvage)


def _step(joint: str, before: Member | Cap, after: Member | Cap) -> Finding:
    """Return the finding for the largest step, mm, between two pieces."""
    left = before.leaves
    (least, most), (other_least, other_most) = bore_radii(before, left), bore_radii(after)
    smaller = before.id if left.r_in < after.stock.r_in else after.id
    known = left.measured and after.stock.measured
    return _finding(joint, max(most - other_least, other_most - least), smaller if known else None)


def _finding(joint: str, step: float, smaller: str | None) -> Finding:
    """Return the finding for a step, mm. smaller: the piece of the smaller bore, None where the tolerances say it."""
    over = rounded_up(step - LARGEST)
    advice = (
        f"taper the bore of {smaller} out by at least {over} mm on the radius, or use stock that matches"
        if smaller
        else f"measure both ends and give measured = {{ od = ..., wall = ... }}; where the step is real, "
        f"taper the smaller bore out by up to {over} mm on the radius"
    )
    return at_most(
        "bore step" if smaller else "possible bore step",
        joint,
        step,
        LARGEST,
        "mm",
        SOURCE,
        "published article",
        advice,
        "warn",
    )


def bore_radii(piece: Member | Cap, at: PipeStock | None = None) -> tuple[float, float]:
    """Return the least and largest bore radius, mm, that a piece may have: twice the same where measured, or where
    sheet is rolled to it. at: the stock at its end in question; that of its start where left out."""
    stock = piece.stock if at is None else at
    if stock.measured or isinstance(piece, Sheet | LobedCone):
        return stock.r_in, stock.r_in
    if isinstance(piece, Elbow | Cap | Reducer):
        off = 0.5 * _fitting_bore(stock)
        return stock.r_in - off, stock.r_in + off
    off = 0.5 * stock.od_tolerance
    thinner = THINNER * stock.wall if stock.kind == "pipe" else 0.0
    return stock.r_in - off, stock.r_in + off + thinner


def _fitting_bore(stock: PipeStock) -> float:
    """Return the plus or minus, mm, on a fitting's bore."""
    small = stock.nps is None or fraction(stock.nps) <= fraction(UP_TO)
    return FITTING_BORE if small else LARGER_FITTING_BORE
