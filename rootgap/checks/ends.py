"""Is every end of every run joined to something, so that no gas escapes?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import EdgeWeld, Joint
from rootgap.layout import After, Layout, Port
from rootgap.spec import Pose


def open_ends(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the number of open ends of each run."""
    followed = {run.begins.run for run in layout.runs.values() if isinstance(run.begins, After)}
    for run in layout.runs.values():
        starts_open = isinstance(run.begins, Pose) and not (run.first_cap or run.half)
        ends_open = not (run.half or run.last_cap or run.cope or run.flange or run.merge or run.name in followed)
        yield at_most(
            "open ends",
            run.name,
            float(starts_open + ends_open),
            0.0,
            "ends",
            "worked out from the layout, no source",
            "worked out",
            _mend(run.name, starts_open=starts_open, ends_open=ends_open),
        )


def _mend(run: str, *, starts_open: bool, ends_open: bool) -> str:
    """Return what closes a run's open ends."""
    start = f'its start is open: cap it, ends = ["cap", ...], or let run.{run} start at a port or off another run'
    end = f'its end is open: cap it, or start another run there (start = "{run}.end")'
    return "; ".join([*([start] if starts_open else []), *([end] if ends_open else [])])


def open_ports(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the number of open ports of each flange that the gas comes in by."""
    begun = [run.begins for run in layout.runs.values() if isinstance(run.begins, Port)]
    for name in layout.begun:
        ports = len(layout.plates[name].part.port)
        covers = [joint.ports for joint in joints if isinstance(joint, EdgeWeld) and joint.plate == f"flange.{name}"]
        taken = {port.number for port in begun if port.flange == name}.union(*covers)
        yield at_most(
            "open ports",
            f"flange.{name}",
            float(ports - len(taken)),
            0.0,
            "ports",
            "worked out from the layout, no source",
            "worked out",
            f'start a run at each (each = "{name}.port"), cover it with a half pipe, or take the ports out',
        )
