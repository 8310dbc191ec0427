"""Runs and joints as rows of text, for a person to read."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.joints import Butt, Cope, Joint
from rootgap.layout import Layout, Port, Run

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
    begins = run.begins
    start = f"{begins.flange}.port.{begins.number}" if isinstance(begins, Port) else begins or "the open"
    end = (
        run.cope.cope if run.cope else run.flange.id if run.flange else "cap" if run.last_cap else "open"
    )
    pieces = ", ".join(piece.label for piece in run.pieces)
    return run.name, run.pieces[0].stock.label, "cap" if run.first_cap else start, pieces, f"{run.length:.1f}", end


def _joint(joint: Joint) -> Row:
    weld = f"{joint.weld_length:.1f}"
    if isinstance(joint, Cope):
        gap, lean, offset = f"{joint.root_gap_max:.2f}", f"{joint.lean:.1f}", f"{joint.offset:.2f}"
        return joint.id, f"cope, set-{joint.set_}, {joint.prep}", weld, gap, lean, offset, ""
    if isinstance(joint, Butt):
        return joint.id, joint.kind, weld, "", "", "", f"{joint.step:+.2f}"
    return joint.id, joint.kind, weld, "", "", "", ""
