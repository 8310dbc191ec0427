"""Runs, joints and checks as rows and lines of text, for a person to read."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rootgap.checks import Clearance, Finding, Neighbours
from rootgap.checks.finding import Verdict, worst
from rootgap.geometry.routing import Route
from rootgap.joints import Butt, Clamp, Cope, DividerWeld, Joint, Merge, Mitre, SalvageWeld, Slip
from rootgap.layout import Layout, Run, Sought, Tubular
from rootgap.layout.route import as_pieces
from rootgap.spec import Pose
from rootgap.spec.fields import MOST_BEND

Row = tuple[str, ...]

#: How a verdict is shown, so that the eye finds it.
SHOWN = {"pass": "pass", "warn": "WARN", "fail": "FAIL"}
#: Units that are counted, not measured.
COUNTED = ("edges", "ends", "ports", "outlets", "bridges", "unknown", "ways")
#: So many of what a warning stands for as well are named.
FEW = 3


def run_rows(layout: Layout) -> list[Row]:
    """Return one row a run, the head first."""
    head = ("run", "stock", "starts at", "pieces", "length mm", "ends on")
    return [head, *(_run(run) for run in layout.runs.values())]


def joint_rows(joints: Sequence[Joint]) -> list[Row]:
    """Return one row a joint, the head first."""
    return [("joint", "kind", "weld mm", "root gap mm", "lean deg", "offset mm", "step mm")] + [
        _joint(joint) for joint in joints
    ]


def way_rows(sought: Sought) -> list[Row]:
    """Return one row a way of a run, the head first, a star at the one that is taken."""
    head = ("way", "welds", "length mm", "turn deg", "elbows cut", "to spare mm", "at", "pieces")
    return [head, *(_way(number, route, sought) for number, route in enumerate(sought.routes, start=1))]


def way_records(sought: Sought) -> list[dict[str, Any]]:
    """Return the ways of a run with all their figures, lengths in mm, angles in degrees."""
    return [
        {
            "welds": route.welds,
            "length": route.length,
            "turn": route.turn,
            "spare": route.spare,
            "near": route.near,
            "taken": number == sought.choice,
            "pieces": [piece.model_dump(exclude_unset=True) for piece in as_pieces(route, sought.ends)],
        }
        for number, route in enumerate(sought.routes, start=1)
    ]


def _way(number: int, route: Route, sought: Sought) -> Row:
    cut = sum(turn.angle < MOST_BEND - 1e-6 for turn in route.turns)
    pieces: list[str] = []
    for index, straight in enumerate(route.straights):
        pieces += [f"{straight:.1f}"] if straight > 0.0 else []
        pieces += [f"{turn.kind} {turn.angle:.1f}" for turn in route.turns[index : index + 1]]
    star = " *" if number == sought.choice else ""
    spare = (f"{max(route.spare, 0.0):.1f}", route.near) if route.near else ("nothing near", "")
    figures = (f"{route.welds}", f"{route.length:.1f}", f"{route.turn:.1f}", f"{cut}")
    return f"{number}{star}", *figures, *spare, ", ".join(pieces)


def check_rows(findings: Sequence[Finding]) -> list[Row]:
    """Return one row a check, with the worst of what it found, the head first."""
    kinds: dict[str, list[Finding]] = {}
    for finding in findings:
        kinds.setdefault(finding.check, []).append(finding)
    head = ("verdict", "check", "worst at", "value", "limit", "support")
    return [head, *(_check(found) for found in kinds.values())]


def clearance_rows(rows: Sequence[Clearance]) -> list[Row]:
    """Return one row a pair of a piece and a keep-out, the head first. Stack: what tolerances on the way from the head
    come to, likely and at most."""
    head = ("verdict", "keep-out", "piece", "asked", "cold", "hot", "margin", "stack, most", "why", "side", "support")
    return [head, *(_clearance(row) for row in rows)]


def _clearance(row: Clearance) -> Row:
    keepout = row.keepout
    hot = "-" if keepout.reason == "service" else f"{row.hot.distance:.1f}"
    figures = f"{row.limit:.1f}", f"{row.cold.distance:.1f}", hot, f"{row.margin:+.1f}"
    stack = f"{row.chain.likely:.1f}, {row.chain.stack:.1f}"
    why = f"{(keepout.reason or 'clearance').replace('_', ' ')}, {'shielded' if keepout.shielded else 'bare'}"
    why = "cold side" if row.cool else why
    support = row.support.removesuffix(", no source")
    return SHOWN[row.verdict], row.name, row.piece, *figures, stack, why, keepout.side, support


def neighbour_rows(pairs: Sequence[Neighbours]) -> list[Row]:
    """Return one row a pair of pieces that do not join, the head first."""
    return [("piece", "and", "mm apart"), *((pair.one, pair.other, f"{pair.distance:.1f}") for pair in pairs)]


def space_record(rows: Sequence[Clearance]) -> list[dict[str, Any]]:
    """Return one record a pair of a piece and a keep-out, lengths in mm, points on the piece and on the keep-out."""
    return [
        {
            "keepout": row.name,
            "piece": row.piece,
            "verdict": row.verdict,
            "limit": row.limit,
            "margin": row.margin,
            "cold": {"distance": row.cold.distance, "points": [row.cold.at.tolist(), row.cold_foot.tolist()]},
            "hot": None
            if row.keepout.reason == "service"
            else {"distance": row.hot.distance, "points": [row.hot.at.tolist(), row.hot_foot.tolist()]},
            "stack": {"likely": row.chain.likely, "most": row.chain.stack, "of": row.chain.told},
            "reason": row.keepout.reason,
            "shielded": row.keepout.shielded,
            "side": row.keepout.side,
            "cold side": row.cool,
            "source": row.source,
            "support": row.support,
        }
        for row in rows
    ]


def finding_lines(findings: Sequence[Finding], verdict: Verdict) -> list[str]:
    """Return a line for every finding of that verdict, with what mends it and where its limit comes from."""
    return [_line(finding) for finding in findings if finding.verdict == verdict]


def count_line(findings: Sequence[Finding]) -> str:
    """Return how many checks pass, and how many do not."""
    counts = dict.fromkeys(SHOWN, 0)
    for finding in findings:
        counts[finding.verdict] += 1 + len(finding.alike)
    parts = [f"{counts['pass']} of {sum(counts.values())} checks pass"]
    for verdict, word in (("warn", "warning"), ("fail", "failure")):
        if counts[verdict]:
            parts.append(f"{counts[verdict]} {word}{'' if counts[verdict] == 1 else 's'}")
    return ", ".join(parts) + "."


def _check(found: Sequence[Finding]) -> Row:
    shown = worst(found)
    times = sum(1 + len(finding.alike) for finding in found)
    check = shown.check if times == 1 else f"{shown.check} x{times}"
    value, limit = _figures(shown)
    return SHOWN[shown.verdict], check, shown.subject, value, limit, shown.support.removesuffix(", no source")


def _line(finding: Finding) -> str:
    value, limit = _figures(finding)
    allowed = "allowed" if finding.verdict == "fail" else "advised"
    backed = finding.source if finding.support in finding.source else f"{finding.source}; {finding.support}"
    alike = f" (the worst of {len(finding.alike) + 1}; also {_some(finding.alike)})" if finding.alike else ""
    return (
        f"{SHOWN[finding.verdict]} {finding.check}, {finding.subject}: {value}, {allowed} {limit}; "
        f"{finding.advice}{alike} [{backed}]"
    )


def _some(names: Sequence[str]) -> str:
    """Return the first few of `names`."""
    return ", ".join(names[:FEW]) + (f" and {len(names) - FEW} more" if len(names) > FEW else "")


def _figures(finding: Finding) -> tuple[str, str]:
    """Return a finding's value with its unit, and its limit: counts whole, anything else to a hundredth."""
    digits = 0 if finding.unit in COUNTED else 2
    bound = "at least" if finding.least else "at most"
    return f"{finding.value:.{digits}f} {finding.unit}", f"{bound} {finding.limit:.{digits}f}"


def _run(run: Run) -> Row:
    corners = {number: f"mitre {corner.mitre:g}" for number, corner in run.corners.items()}
    told = [(piece.label, corners.get(number)) for number, piece in enumerate(run.pieces)]
    pieces = ", ".join(word for words in told for word in words if word)
    start = run.first_cap.kind if run.first_cap else "the open" if isinstance(run.begins, Pose) else run.begins.told
    if run.half and isinstance(run.begins, Pose):
        start = "half disc"
    stock = next((piece for piece in run.pieces if isinstance(piece, Tubular)), run.pieces[0]).stock
    return run.name, stock.label, start, pieces, f"{run.length:.1f}", _ends(run)


def _ends(run: Run) -> str:
    """Return what a run ends on."""
    if run.flange:
        return run.flange.id if run.ports == (1,) else f"{run.flange.id} {', '.join(map(str, run.ports))}"
    if run.merge:
        return f"collector.{run.merge}"
    if run.half:
        return "half disc"
    return run.cope.cope if run.cope else run.last_cap.kind if run.last_cap else "open"


@dataclass(frozen=True)
class _Told:
    """What a row says of a joint, each "" where there is nothing. gap, offset, step: mm; lean: degrees."""

    kind: str = ""
    gap: str = ""
    lean: str = ""
    offset: str = ""
    step: str = ""


def _joint(joint: Joint) -> Row:
    told = TOLD.get(type(joint), lambda _: _Told())(joint)
    weld = f"{joint.weld_length:.1f}"
    return joint.id, told.kind or joint.kind, weld, told.gap, told.lean, told.offset, told.step


def _cope(cope: Cope) -> _Told:
    kind = f"cope, set-{cope.set_}, {cope.prep}"
    return _Told(kind, f"{cope.root_gap_max:.2f}", f"{cope.lean:.1f}", f"{cope.offset:.2f}")


def _mitre(mitre: Mitre) -> _Told:
    gap, turn = f"{mitre.root_gap_max:.2f}", f"{mitre.turn:.1f}"
    return _Told(f"mitre, {mitre.prep}", gap, turn, step=_step(mitre.step))


def _merge(merge: Merge) -> _Told:
    kind = f"merge of {merge.count}, {merge.prep}"
    return _Told(kind, f"{merge.root_gap_max:.2f}", f"{merge.half_angle:.1f}")


def _clamp(clamp: Clamp) -> _Told:
    kind = f"clamp, {clamp.groove:g} deg a side, faces {clamp.gap:g} mm apart"
    return _Told(kind, step=_step(clamp.step))


def _step(step: float) -> str:
    """Return a step, mm, with its sign; nought has a plus."""
    return f"{round(step, 2) + 0.0:+.2f}"


#: What there is to say of a joint beside its weld, by its class.
TOLD: Mapping[type, Callable[[Any], _Told]] = {
    Butt: lambda butt: _Told(step=_step(butt.step)),
    Clamp: _clamp,
    Cope: _cope,
    DividerWeld: lambda weld: _Told(gap=f"{weld.gap:.2f}"),
    Merge: _merge,
    Mitre: _mitre,
    SalvageWeld: lambda weld: _Told(f"{weld.kind}, {weld.told}", step=_step(weld.step)),
    Slip: lambda slip: _Told(f"slip, {slip.overlap:g} mm over, {slip.gap:g} mm apart"),
}
