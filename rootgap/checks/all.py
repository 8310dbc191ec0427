"""The list of checks. A new one is a module of its own and a line here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from rootgap.checks.angle import joint_angles, saw_angles
from rootgap.checks.apart import kept_apart
from rootgap.checks.bore import bores
from rootgap.checks.bridge import bridges
from rootgap.checks.clearance import clearances
from rootgap.checks.crotch import crotches
from rootgap.checks.drain import oil_drains
from rootgap.checks.ends import open_ends, open_ports
from rootgap.checks.envelope import envelope_pieces, envelopes_apart
from rootgap.checks.finding import Finding, folded
from rootgap.checks.fit import root_gaps
from rootgap.checks.fixture import fixture_clear, fixture_holds, fixture_lifts_out
from rootgap.checks.gas import gas_findings
from rootgap.checks.girth import girths
from rootgap.checks.grind import grinds
from rootgap.checks.half import bare_ports, half_stands, split_margins
from rootgap.checks.land import lands
from rootgap.checks.landing import landings
from rootgap.checks.metal import metals
from rootgap.checks.overlap import overlaps
from rootgap.checks.pinch import pinches
from rootgap.checks.plates import flange_access, flange_metal, flange_split, flange_thickness, pipes_through
from rootgap.checks.size import branch_sizes
from rootgap.checks.slip import slips
from rootgap.checks.slope import slopes
from rootgap.checks.step import bore_steps
from rootgap.checks.vband import pilots, rings_fit
from rootgap.joints import Joint
from rootgap.layout import Layout

Check = Callable[[Layout, Sequence[Joint]], Iterable[Finding]]

#: Those that ask for room.
SPACE = (overlaps, kept_apart, clearances, envelope_pieces, envelopes_apart)
CHECKS = (
    root_gaps,
    landings,
    bare_ports,
    half_stands,
    bores,
    open_ends,
    open_ports,
    gas_findings,
    *SPACE,
    oil_drains,
    joint_angles,
    branch_sizes,
    crotches,
    grinds,
    bridges,
    split_margins,
    bore_steps,
    saw_angles,
    rings_fit,
    pilots,
    slips,
    lands,
    girths,
    pinches,
    slopes,
    metals,
    pipes_through,
    flange_metal,
    flange_access,
    flange_thickness,
    flange_split,
    fixture_clear,
    fixture_lifts_out,
    fixture_holds,
)


def all_checks(layout: Layout, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    """Return the findings of every check, in the order of `CHECKS`, many alike as one."""
    return _found(CHECKS, layout, joints)


def checks_to_pass(layout: Layout, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    """Return the findings of every check, for one who asks whether all pass: those that ask for room, which take
    longest, are left out where another one fails."""
    others = _found([check for check in CHECKS if check not in SPACE], layout, joints)
    if any(finding.verdict == "fail" for finding in others):
        return others
    return *others, *space_checks(layout, joints)


def space_checks(layout: Layout, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    """Return the findings of the checks that ask for room, in the order of `SPACE`, many alike as one."""
    return _found(SPACE, layout, joints)


def _found(checks: Sequence[Check], layout: Layout, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    return tuple(finding for check in checks for finding in folded(tuple(check(layout, joints))))
