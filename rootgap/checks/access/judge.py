"""Everything that must be come at, judged together: it takes seconds, and is asked for on its own."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rootgap.checks.access.bolting import Unsized, unsized
from rootgap.checks.access.bolts import BoltAccess, bolt_access, bolt_findings, unsized_findings
from rootgap.checks.access.clamps import ClampAccess, clamp_access, clamp_findings
from rootgap.checks.access.install import Unit, Way, install_findings, order_out, units
from rootgap.checks.access.obstacles import Space, obstacles
from rootgap.checks.access.plugs import (
    PlugAccess,
    ServiceAccess,
    plug_access,
    plug_findings,
    service_access,
    service_findings,
)
from rootgap.checks.access.torch import WeldReach, torch_findings, torch_reach
from rootgap.checks.drain import oil_drains
from rootgap.checks.finding import Finding, folded
from rootgap.joints import Joint
from rootgap.layout import Layout

Progress = Callable[[str, int, int], None]
_STEPS = 6


@dataclass(frozen=True)
class Reached:
    """What was found. unsized: bolts of which no tool can be told; ways: out, in an order that works; findings: of all,
    and of the oil drains; units: what the ways are of; space: all that stands."""

    bolts: tuple[BoltAccess, ...]
    unsized: tuple[Unsized, ...]
    clamps: tuple[ClampAccess, ...]
    plugs: tuple[PlugAccess, ...]
    services: tuple[ServiceAccess, ...]
    welds: tuple[WeldReach, ...]
    ways: tuple[Way, ...]
    findings: tuple[Finding, ...]
    units: tuple[Unit, ...]
    space: Space


def reached(layout: Layout, joints: Sequence[Joint], progress: Progress) -> Reached:
    """Return how bolts, plugs and service parts are come at, and how the finished parts go in."""
    space = Space(obstacles(layout, joints))
    progress("bolts", 0, _STEPS)
    bolts, others = bolt_access(layout, space), tuple(unsized(layout))
    progress("clamps", 1, _STEPS)
    clamps = clamp_access(layout, joints, space)
    progress("plugs", 2, _STEPS)
    plugs, services = plug_access(layout, space), service_access(layout, space)
    progress("welds", 3, _STEPS)
    welds = torch_reach(layout, joints, space)
    progress("install path", 4, _STEPS)
    ways = order_out(layout, joints, space)
    progress("drain", 5, _STEPS)
    findings = folded(
        (
            *bolt_findings(bolts),
            *unsized_findings(others),
            *clamp_findings(clamps),
            *plug_findings(plugs),
            *service_findings(services),
            *torch_findings(welds),
            *install_findings(ways),
            *oil_drains(layout, joints),
        )
    )
    return Reached(bolts, others, clamps, plugs, services, welds, ways, findings, units(layout, joints, space), space)
