"""Runs and joints as rows of text, for a person to read."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.joints import Butt, Cope, Joint, Merge, Mitre
from rootgap.layout import After, Layout, Outlet, Port, Run, Side
from rootgap.layout.run import Begins

Row = tuple[str, ...]


def run_rows(layout: Layout) -> list[Row]:
    """Return one row a run, the head first."""
    head = ("run", "stock", "starts at", "pieces", "length mm", "ends on")
    return [head, *(_run(run) for run in layout.runs.values())]


def joint_rows(joints: Sequence[Joint]) -> list[Row]:
    """Return one row a joint, the head first."""
    return [("joint", "kind", "weld mm", "root gap mm", "lean deg", "offset mm", "step mm")] + [
        _joint(joint) for joint in joints
    ]


def _run(run: Run) -> Row:
    pieces = ", ".join(piece.label for piece in run.pieces)
    start = "cap" if run.first_cap else _begins(run.begins)
    return run.name, run.pieces[0].stock.label, start, pieces, f"{run.length:.1f}", _ends(run)


def _begins(begins: Begins) -> str:
    """Return where a run begins, in the words of its file."""
    if isinstance(begins, Port):
        return f"{begins.flange}.port.{begins.number}"
    if isinstance(begins, After):
        return begins.run
    if isinstance(begins, Outlet):
        return f"collector.{begins.collector}"
    if isinstance(begins, Side):
        return f"{begins.off.off} at {begins.off.station:g}"
    return "the open"


def _ends(run: Run) -> str:
    """Return what a run ends on."""
    if run.flange:
        return run.flange.id if run.ports == (1,) else f"{run.flange.id} {', '.join(map(str, run.ports))}"
    if run.merge:
        return f"collector.{run.merge}"
    return run.cope.cope if run.cope else "cap" if run.last_cap else "open"


def _joint(joint: Joint) -> Row:
    weld = f"{joint.weld_length:.1f}"
    if isinstance(joint, Cope):
        gap, lean, offset = f"{joint.root_gap_max:.2f}", f"{joint.lean:.1f}", f"{joint.offset:.2f}"
        return joint.id, f"cope, set-{joint.set_}, {joint.prep}", weld, gap, lean, offset, ""
    if isinstance(joint, Butt):
        return joint.id, joint.kind, weld, "", "", "", f"{joint.step:+.2f}"
    if isinstance(joint, Mitre):
        gap, lean, step = f"{joint.root_gap_max:.2f}", f"{joint.turn:.1f}", f"{joint.step:+.2f}"
        return joint.id, f"mitre, {joint.prep}", weld, gap, lean, "", step
    if isinstance(joint, Merge):
        kind = f"merge of {joint.count}, {joint.prep}"
        return joint.id, kind, weld, f"{joint.root_gap_max:.2f}", f"{joint.half_angle:.1f}", "", ""
    return joint.id, joint.kind, weld, "", "", "", ""
