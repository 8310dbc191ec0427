"""Finding every joint of a layout, and refusing what cannot be welded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import Bevel
from rootgap.joints.butt import Butt, FlangeWeld
from rootgap.joints.cope import Cope
from rootgap.layout import Cap, Layout, Member, Pie, Port, Run, Straight
from rootgap.layout.aim import aimed_at, at_least, onwards, sideways
from rootgap.spec import LEAST_LAND, CopeEnd

Joint = Butt | FlangeWeld | Cope

#: Closer than this, mm, a wall is taken to graze the target's side.
GRAZE = 0.01
#: Leans outside these, degrees, leave no crotch that a torch reaches (common practice, no source).
LEANS = (15.0, 165.0)
#: A piece shorter than this, mm, on its short side cannot be held or welded (common practice, no source).
SHORTEST = 3.0
#: Two branches that would share less than this, mm, do not crowd.
TOUCHING = 1e-6
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360
_FEW_CLOCKS = _CLOCKS[::4]


def find_joints(layout: Layout) -> tuple[Joint, ...]:
    """Return every joint of `layout`, along the gas. Raises GeometryError for a cope that
    misses, grazes, is larger than its target, or runs off a piece."""
    copes: dict[str, Cope] = {}
    for run in sorted(layout.runs.values(), key=_order):
        if run.cope:
            copes[run.name] = _cope(run, layout, tuple(copes.values()))
    # A target may itself end in a cope: there its foot must stay below the cut.
    ends = {cope.branch.piece: cope.cut_range[0] for cope in copes.values()}
    for cope in copes.values():
        _fits_target(cope, ends.get(cope.target.piece, cope.target.length))
    return tuple(joint for run in layout.runs.values() for joint in _of_run(run, layout, copes.get(run.name)))


def _order(run: Run) -> float:
    """Return the turn in which a run is fitted: as its file says, else after those, in the file's order."""
    return float("inf") if run.cope is None or run.cope.order is None else run.cope.order


def _of_run(run: Run, layout: Layout, cope: Cope | None) -> Iterator[Joint]:
    first, last = run.pieces[0], run.pieces[-1]
    if run.first_cap:
        yield _butt(run.first_cap, first)
    if isinstance(run.begins, Port):
        yield _on_port(run, run.begins, layout)
    elif run.begins is not None:
        yield _butt(layout.runs[run.begins].pieces[-1], first)
    for before, after in pairwise(run.pieces):
        yield _butt(before, after)
    if run.last_cap:
        yield _butt(last, run.last_cap)
    if run.flange:
        port = run.flange.part.port[0]
        yield FlangeWeld(
            f"{last.id}+{run.flange.id}",
            last.id,
            run.flange.id,
            1,
            run.end,
            last.stock.r_out,
            last.stock.r_in,
            port.opening.opening().reach,
            gas_in=False,
        )
    if cope:
        yield cope


def _butt(before: Member | Cap, after: Member | Cap) -> Butt:
    frame = after.start if isinstance(before, Cap) else before.end
    return Butt(
        f"{before.id}+{after.id}",
        before.id,
        after.id,
        frame,
        (before.stock.r_out, after.stock.r_out),
        (before.stock.r_in, after.stock.r_in),
    )


def _on_port(run: Run, begins: Port, layout: Layout) -> FlangeWeld:
    plate, first = layout.plates[begins.flange], run.pieces[0]
    port = plate.part.port[begins.number - 1]
    return FlangeWeld(
        f"{plate.id}.{begins.number}+{first.id}",
        first.id,
        plate.id,
        begins.number,
        run.start,
        first.stock.r_out,
        first.stock.r_in,
        port.opening.opening().reach,
        gas_in=True,
    )


def _cope(run: Run, layout: Layout, before: Sequence[Cope]) -> Cope:
    """Return the cope at the end of `run`, onto its target and whatever of `before` crowds it."""
    end, last = run.cope, run.pieces[-1]
    if end is None:
        raise ValueError(f"{run.name} does not end on another run")
    if isinstance(last, Pie):
        raise GeometryError(last.id, "a pie-cut bend's own end cannot be coped", "add a straight after it")
    target = layout.runs[end.cope]
    piece, _ = aimed_at(last.id, last.tube, target, end)
    cope = Cope(
        f"{run.name}+{target.name}", last.tube, piece.tube, end.set_, end.prep, end.clearance, bevel=_bevel(run, end)
    )
    limit = piece.stock.r_in - end.clearance if end.set_ == "in" else piece.stock.r_out
    _not_larger(cope, limit)
    _leans(cope)
    if isinstance(cope.on_target, Saddle):
        _no_graze(cope, cope.on_target, limit)
    else:
        _all_meet(cope)
    if end.set_ == "on":
        cope = replace(cope, neighbours=tuple(_crowding(cope, before)))
    _fits_branch(cope, last)
    return cope


def _bevel(run: Run, end: CopeEnd) -> Bevel | None:
    """Return the bevel that is wanted of a run's end. Raises GeometryError where its land takes the whole wall."""
    if end.bevel is None:
        return None
    last, land = run.pieces[-1], end.bevel.land
    if land > last.stock.wall - LEAST_LAND:
        raise GeometryError(
            last.id,
            f"a land of {land:.2f} mm leaves nothing of its wall of {last.stock.wall:.2f} mm to bevel",
            f'make the land of run.{run.name}\'s bevel less than {last.stock.wall:.2f} mm, or use prep = "square"',
        )
    return Bevel(land, end.bevel.angle)


def _crowding(cope: Cope, before: Sequence[Cope]) -> Iterator[Tube]:
    """Yield the branches fitted before on the same piece whose metal the branch would run into."""
    alone = cope.on_target.height(_FEW_CLOCKS, cope.branch.r_out)
    for other in before:
        if other.target.piece != cope.target.piece or other.set_ != "on":
            continue
        # The neighbour goes on to the middle of the target, so that no gap is left at its own foot.
        whole = replace(other.branch, length=other.branch.length + cope.target.r_out)
        neighbour = other.branch if other.branch.bending else whole
        crowded = replace(cope, neighbours=(neighbour,)).outside.height(_FEW_CLOCKS, cope.branch.r_out)
        if (alone - crowded > TOUCHING).any():
            yield neighbour


def _not_larger(cope: Cope, limit: float) -> None:
    branch, target = cope.branch, cope.target
    if branch.r_out > limit + GRAZE:
        surface = "bore" if cope.set_ == "in" else "outside"
        raise GeometryError(
            branch.piece,
            f"outside {2 * branch.r_out:.1f} mm is larger than the {surface} of {target.piece}, {2 * limit:.1f} mm",
            f"give run.{target.run} stock that is {at_least(2.0 * (branch.r_out - limit))} mm larger, "
            f"or {branch.run} smaller",
        )


def _leans(cope: Cope) -> None:
    if not LEANS[0] <= cope.lean <= LEANS[1]:
        raise GeometryError(
            cope.branch.piece,
            f"leans {cope.lean:.1f} degrees to {cope.target.piece}; allowed {LEANS[0]:g} to {LEANS[1]:g}",
            f"turn it {at_least(max(LEANS[0] - cope.lean, cope.lean - LEANS[1]))} degrees away from the "
            "target's axis, with the elbow before it",
        )


def _no_graze(cope: Cope, saddle: Saddle, limit: float) -> None:
    graze = cope.offset + cope.branch.r_out - limit
    if graze > -GRAZE and cope.offset > GRAZE:
        past = f"{graze:.2f} mm past" if graze > 0 else f"{-graze:.2f} mm short of"
        raise GeometryError(
            cope.branch.piece,
            f"grazes {cope.target.piece}: its side lies {past} the target's (axes {cope.offset:.2f} mm apart)",
            sideways(saddle, cope.target.run, max(limit - cope.branch.r_out - 1.0, 0.0)),
        )


def _all_meet(cope: Cope) -> None:
    """Refuse a traced branch any of whose generators passes the target, or runs out before it."""
    contact = cope.inside if cope.set_ == "in" else cope.on_target
    wall = np.array([cope.branch.r_in, cope.branch.r_out])
    heights = contact.height(_FEW_CLOCKS[:, None], wall)
    missing = np.isnan(heights).any(axis=1)
    if missing.any():
        clock = float(np.degrees(_FEW_CLOCKS[int(np.argmax(missing))]))
        bend = cope.branch.bending
        ends = f" within its {np.degrees(cope.branch.length / bend.radius):.0f} degrees" if bend else ""
        raise GeometryError(
            cope.branch.piece,
            f"its wall passes {cope.target.piece}{ends} at {missing.mean():.0%} of the clocks, clock {clock:.0f} first",
            f"bring the axes nearer (they are {cope.offset:.1f} mm apart): move run.{cope.target.run}, "
            "or turn the elbow's clock",
        )


def _fits_branch(cope: Cope, last: Member) -> None:
    least, most = cope.cut_range
    if least < SHORTEST:
        raise GeometryError(
            last.id,
            f"the cut runs off its start: {least:.1f} mm left on the short side, at least {SHORTEST:g} needed",
            onwards(last.start, cope.target.run, SHORTEST - least),
        )
    if isinstance(last, Straight) and not last.fills and most > last.length:
        raise GeometryError(
            last.id,
            f"the cut runs off its end: {most:.1f} mm needed, {last.length:.1f} mm there",
            f'use straight = "fill", or make it {at_least(most)} mm',
        )


def _fits_target(cope: Cope, ends_at: float) -> None:
    """Refuse a foot that runs off the target's start, or past where it `ends_at`, mm."""
    target = cope.target
    # A branch as wide as its target has no foot beyond the target's own side.
    widest = target.r_out - cope.offset if isinstance(cope.on_target, Saddle) else np.inf
    points = cope.on_target.points(_CLOCKS, min(max(cope.branch.r_out, cope.hole_radius), widest))
    along = target.unrolled(points)[:, 1]
    past_start, past_end = -float(along.min()), float(along.max()) - ends_at
    if target.bending and (np.abs(target.filled(0.0).distance(points) - target.r_out) > GRAZE).any():
        # It lands on the bend's flat end: by how much it would run on there is not known.
        raise GeometryError(
            cope.branch.piece,
            f"its foot runs off the {'start' if past_start > -GRAZE else 'end'} of {target.piece}",
            "turn the elbow before it, or use a larger bend",
        )
    for past, where in ((past_start, "start"), (past_end, "end")):
        if past > 0.0:
            raise GeometryError(
                cope.branch.piece,
                f"its foot runs {past:.1f} mm off the {where} of {target.piece}",
                f"lengthen run.{target.run} by {at_least(past)} mm at its {where}",
            )
