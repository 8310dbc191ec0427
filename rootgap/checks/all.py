"""The list of checks. A new one is a module of its own and a line here."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.checks.bore import bores
from rootgap.checks.clearance import clearances
from rootgap.checks.ends import open_ends, open_ports
from rootgap.checks.finding import Finding
from rootgap.checks.fit import root_gaps
from rootgap.checks.landing import landings
from rootgap.checks.overlap import overlaps
from rootgap.joints import Joint
from rootgap.layout import Layout

CHECKS = (root_gaps, landings, bores, open_ends, open_ports, overlaps, clearances)


def all_checks(layout: Layout, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    """Return the findings of every check, in the order of `CHECKS`."""
    return tuple(finding for check in CHECKS for finding in check(layout, joints))
