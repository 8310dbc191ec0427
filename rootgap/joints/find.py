"""Finding every joint of a layout, and refusing what cannot be welded."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from rootgap.errors import GeometryError
from rootgap.joints.butt import Butt, FlangeWeld
from rootgap.joints.cope import Cope, Tube
from rootgap.layout import Cap, Layout, Member, Port, Run, Straight
from rootgap.layout.place import aimed_at, at_least, onwards, sideways

Joint = Butt | FlangeWeld | Cope

#: Closer than this, mm, a wall is taken to graze the target's side.
GRAZE = 0.01
#: Leans outside these, degrees, leave no crotch that a torch reaches (common practice, no source).
LEANS = (15.0, 165.0)
#: A piece shorter than this, mm, on its short side cannot be held or welded (common practice, no source).
SHORTEST = 3.0


def find_joints(layout: Layout) -> tuple[Joint, ...]:
    """Return every joint of `layout`, along the gas. Raises GeometryError for a cope that
    misses, grazes, is larger than its target, or runs off a piece."""
    return tuple(joint for run in layout.runs.values() for joint in _of_run(run, layout))


def _of_run(run: Run, layout: Layout) -> Iterator[Joint]:
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
    if run.cope:
        yield _cope(run, layout)


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


def _cope(run: Run, layout: Layout) -> Cope:
    end, last = run.cope, run.pieces[-1]
    if end is None or not isinstance(last, Straight):
        raise GeometryError(last.id, "an elbow's own end cannot be coped", "add a straight after it")
    target = layout.runs[end.cope]
    piece, saddle = aimed_at(last.id, last.start, target, end)
    branch, log = last.stock, piece.stock
    limit = log.r_in - end.clearance if end.set_ == "in" else log.r_out
    surface = "bore" if end.set_ == "in" else "outside"
    if branch.r_out > limit + GRAZE:
        raise GeometryError(
            last.id,
            f"outside {2 * branch.r_out:.1f} mm is larger than the {surface} of {piece.id}, {2 * limit:.1f} mm",
            f"give run.{target.name} stock that is {at_least(2.0 * (branch.r_out - limit))} mm larger, "
            f"or {run.name} smaller",
        )
    if not LEANS[0] <= saddle.lean <= LEANS[1]:
        raise GeometryError(
            last.id,
            f"leans {saddle.lean:.1f} degrees to {piece.id}; allowed {LEANS[0]:g} to {LEANS[1]:g}",
            f"turn it {at_least(max(LEANS[0] - saddle.lean, saddle.lean - LEANS[1]))} degrees away from the "
            "target's axis, with the elbow before it",
        )
    graze = abs(saddle.offset) + branch.r_out - limit
    if graze > -GRAZE and abs(saddle.offset) > GRAZE:
        past = f"{graze:.2f} mm past" if graze > 0 else f"{-graze:.2f} mm short of"
        raise GeometryError(
            last.id,
            f"grazes {piece.id}: its side lies {past} the target's (axes {abs(saddle.offset):.2f} mm apart)",
            sideways(saddle, target.name, max(limit - branch.r_out - 1.0, 0.0)),
        )
    cope = Cope(
        f"{run.name}+{target.name}",
        Tube(run.name, last.id, last.start, branch.r_out, branch.r_in, last.length),
        Tube(target.name, piece.id, piece.start, log.r_out, log.r_in, piece.length),
        end.set_,
        end.prep,
        end.clearance,
    )
    _fits_branch(cope, last)
    _fits_target(cope, target.name)
    return cope


def _fits_branch(cope: Cope, last: Straight) -> None:
    least, most = cope.cut_range
    if least < SHORTEST:
        raise GeometryError(
            last.id,
            f"the cut runs off its start: {least:.1f} mm left on the short side, at least {SHORTEST:g} needed",
            onwards(last.start, cope.target.run, SHORTEST - least),
        )
    if not last.fills and most > last.length:
        raise GeometryError(
            last.id,
            f"the cut runs off its end: {most:.1f} mm needed, {last.length:.1f} mm there",
            f'use straight = "fill", or make it {at_least(most)} mm',
        )


def _fits_target(cope: Cope, run: str) -> None:
    turn = 2.0 * np.pi * np.arange(360) / 360
    stations = cope.outside.points(turn, max(cope.branch.r_out, cope.hole_radius)) - cope.target.frame.origin
    along = stations @ cope.target.frame.axis
    for past, where in ((-along.min(), "start"), (along.max() - cope.target.length, "end")):
        if past > 0.0:
            raise GeometryError(
                cope.branch.piece,
                f"its foot runs {past:.1f} mm off the {where} of {cope.target.piece}",
                f"lengthen run.{run} by {at_least(past)} mm at its {where}",
            )
