"""Wrap templates of pipe ends that planes cut: mitres and the legs of a merge."""

from __future__ import annotations

import numpy as np

from rootgap.joints.joint import Blank, Which
from rootgap.joints.merge import Merge
from rootgap.joints.mitre import Mitre
from rootgap.joints.planes import PlaneCut
from rootgap.patterns.pattern import Pattern, template_name
from rootgap.patterns.wrap import (
    GRIND_BACK,
    PAPER,
    WHOLE,
    bevel_facts,
    datum_facts,
    stock_facts,
    unrolled,
    wrap_notes,
)
from rootgap.stock import PipeStock

#: What is done to the end after the cut, by its preparation.
THEN = {
    "square": "",
    "bevel": " Then " + GRIND_BACK,
    "flat": " Then grind the end into the plane, or saw it there: the line is the plane's on the outside.",
}

Rows = tuple[tuple[str, str], ...]


def mitre_wraps(
    mitre: Mitre,
    before: PipeStock,
    after: PipeStock,
    paper: float = PAPER,
    made: tuple[Blank, Blank] = (WHOLE, WHOLE),
) -> tuple[Pattern, Pattern]:
    """Return the wraps of the pipe before a mitre and of the one after it. paper: thickness, mm; made: what each end
    is cut from."""
    first, second = mitre.sides
    told: Rows = (("Turn", f"{mitre.turn:.2f} deg, sawn at {0.5 * mitre.turn:.2f} deg"),)
    for where, step in (("in the bore", mitre.step), ("on the outside", mitre.outer_step)):
        if abs(step) > 0.01:
            told += ((f"Step {where}", f"{abs(step):.2f} mm"),)
    here, there = mitre.before.piece, mitre.after.piece
    return (
        _wrap(first, "end", before, f"Wrap for the mitred end of {here}, onto {there}", told, paper, made[0]),
        _wrap(second, "start", after, f"Wrap for the mitred start of {there}, onto {here}", told, paper, made[1]),
    )


def leg_wrap(
    merge: Merge, leg: PlaneCut, stock: PipeStock, paper: float = PAPER, made: Blank = WHOLE
) -> Pattern:
    """Return the wrap of a merge's leg. leg: its cut on its own tube; paper: thickness, mm; made: what it is cut
    from."""
    told: Rows = (
        ("Merges", f"1 of {merge.count}, {merge.half_angle:.2f} deg to the collector's axis"),
        ("Seams", f"{merge.seams} of {merge.seam_length:.1f} mm, outside"),
        ("Outsides touch", f"from {-merge.first_touch:.1f} mm before the apex, all from {-merge.crotch:.1f} mm"),
        ("Bores meet", f"{-merge.crotch_bore:.1f} mm before the apex"),
    )
    if merge.outlet is not None:
        area = merge.opening_area(merge.outlet, merge.r_in)
        told += (
            ("Outlet", f"{merge.outlet:.1f} mm from the apex along the gas"),
            ("Opening there", f"{area:.0f} mm2 of bore, {area / (np.pi * merge.r_in**2):.2f} of one leg's"),
        )
    title = f"Wrap for the merging end of {leg.tube.piece}, into {merge.id}"
    return _wrap(leg, "end", stock, title, told, paper, made)


def _wrap(
    cut: PlaneCut, at: Which, stock: PipeStock, title: str, told: Rows, paper: float, made: Blank
) -> Pattern:
    run, piece = cut.tube.run, cut.tube.piece
    flat = unrolled(cut, at, run, stock, paper, begins=made.begins)
    facts = (
        ("Part", f"{piece}, {'gas end' if at == 'end' else 'start'}, make 1"),
        *stock_facts(stock),
        ("Preparation", f"{cut.prep} cut"),
        *told,
        *datum_facts(cut, flat.datum, made),
        ("Wrap", f"{np.pi * flat.diameter:.2f} mm round"),
        ("Weld length", f"{cut.weld_length:.1f} mm"),
        ("Largest root gap", f"{cut.root_gap_max:.2f} mm, and as much on the pipe that it meets"),
        *bevel_facts(cut.bevel_schedule, cut.bevel, at, halved=True),
    )
    notes = wrap_notes(THEN[cut.prep], stock, flat.datum, at, made)
    name = template_name(piece, "wrap", at)
    return Pattern(name, "wrap", title, flat.drawn, flat.labels, flat.waste, facts, notes)
