"""Every cope of a layout, fitted in its turn: onto its target, onto those fitted before, up to those fitted with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import Bevel
from rootgap.joints.cope import Cope, Share
from rootgap.joints.joint import Which
from rootgap.joints.mitre import bisector, facing, not_side_by_side
from rootgap.joints.refusals import (
    all_meet,
    bevel_clears,
    fits_branch,
    fits_half,
    leans,
    no_graze,
    no_leap,
    not_larger,
    plain,
    reaches,
)
from rootgap.layout import Bend, Elbow, Layout, Member, Pie, Run, Side, Straight
from rootgap.layout.aim import aimed_at, turns
from rootgap.spec import LEAST_LAND, CopeEnd, SideStart

#: Two branches that would share less than this, mm, do not crowd.
TOUCHING = 1e-6
_CLOCKS = 2.0 * np.pi * np.arange(90) / 90

#: The copes of a layout, by run and its end.
Copes = Mapping[tuple[str, Which], Cope]


def copes_of(layout: Layout) -> Copes:
    """Return every cope, fitted in its turn: as its file says, else after those, in the file's order."""
    ends = [(run, at, how) for run in layout.runs.values() for at, how in _ends(run)]
    copes: dict[tuple[str, Which], Cope] = {}
    for run, at, how in sorted(ends, key=lambda end: end[2].turn):
        mates = [key for key, other in copes.items() if how.order is not None and _order(layout, *key) == how.order]
        before = [cope for key, cope in copes.items() if key not in mates]
        cope = _cope(run, at, how, layout.runs, before)
        _apart(cope, copes.values())
        for key in mates:
            cope, copes[key] = _sharing(cope, copes[key])
        reaches(cope)
        copes[run.name, at] = cope
    for (name, at), cope in copes.items():
        bevel_clears(cope)
        fits_branch(cope, layout.runs[name].pieces[-1 if at == "end" else 0])
    for cope in copes.values():
        half = layout.runs[cope.target.run].half
        if half:
            fits_half(cope, half)
    return copes


def _order(layout: Layout, name: str, at: Which) -> int | None:
    run = layout.runs[name]
    how = run.begins.off if at == "start" and isinstance(run.begins, Side) else run.cope
    return how.order if how else None


def refuse_alone(run: Run, runs: Mapping[str, Run]) -> None:
    """Raise GeometryError where an end of `run` cannot be coped onto its target among `runs`, whatever stands beside
    it."""
    for at, how in _ends(run):
        fits_branch(_cope(run, at, how, runs, ()), run.pieces[-1 if at == "end" else 0])


def _ends(run: Run) -> Iterator[tuple[Which, CopeEnd | SideStart]]:
    """Yield the ends of a run that are coped."""
    if isinstance(run.begins, Side):
        yield "start", run.begins.off
    if run.cope:
        yield "end", run.cope


def _cope(
    run: Run, at: Which, how: CopeEnd | SideStart, runs: Mapping[str, Run], before: Sequence[Cope]
) -> Cope:
    """Return the cope at an end of `run`, onto its target and whatever of `before` crowds it."""
    piece = run.pieces[-1 if at == "end" else 0]
    if not isinstance(piece, Straight | Elbow | Bend if at == "end" else Straight):
        what, where = "pie-cut bend" if isinstance(piece, Pie) else piece.kind, "after" if at == "end" else "before"
        raise GeometryError(piece.id, f"the {what}'s own end cannot be coped there", f"add a straight {where} it")
    piece = plain(piece, "coped")
    branch = piece.tube if at == "end" else facing(piece.tube, piece.end)
    target = runs[how.target]
    # What comes after the start of a run cannot turn it.
    elbow = at == "end" and turns(run.pieces)
    landing, _ = aimed_at(piece.id, branch, target, how.set_, elbow=elbow)
    cope = Cope(
        # Along the gas, as of any joint; a run may leave and end on the same target.
        f"{run.name}+{target.name}" if at == "end" else f"{target.name}+{run.name}",
        branch,
        landing,
        how.set_,
        how.prep,
        how.clearance,
        at=at,
        bevel=_bevel(run, piece, how),
        meridians=how.meridians,
    )
    # On a cone the wider end counts: whether it is wide enough where it lands, its generators tell.
    r_out, r_in = (max(ends) for ends in zip(landing.radii(0.0), landing.radii(landing.length), strict=True))
    limit = r_in - how.clearance if how.set_ == "in" else r_out
    not_larger(cope, limit)
    leans(cope, elbow=elbow)
    if isinstance(cope.on_target, Saddle):
        no_graze(cope, cope.on_target, limit, elbow=elbow)
    else:
        all_meet(cope, elbow=elbow)
        no_leap(cope, elbow=elbow)
    return replace(cope, neighbours=tuple(_crowding(cope, before)))


def _bevel(run: Run, piece: Member, how: CopeEnd | SideStart) -> Bevel | None:
    """Return the bevel that is wanted of a run's end. Raises GeometryError where its land takes the whole wall."""
    if how.bevel is None:
        return None
    land, wall = how.bevel.land, piece.stock.wall
    if land > wall - LEAST_LAND:
        raise GeometryError(
            piece.id,
            f"a land of {land:.2f} mm leaves nothing of its wall of {wall:.2f} mm to bevel",
            f'make the land of run.{run.name}\'s bevel less than {wall:.2f} mm, or use prep = "square"',
        )
    return Bevel(land, how.bevel.angle)


def _crowding(cope: Cope, before: Sequence[Cope]) -> Iterator[Tube]:
    """Yield the branches fitted before on the same piece whose metal the branch would run into."""
    for other in before:
        if other.target.piece != cope.target.piece or other.set_ != "on":
            continue
        neighbour = _standing(other)
        if _crowds(cope, neighbour):
            if cope.branch.bending is None and other.branch.bending is None:
                not_side_by_side(cope.branch, other.branch)
            yield neighbour


def _standing(other: Cope) -> Tube:
    """Return a branch as it stands in the way of others: it goes on to the middle of its target, so that no gap is
    left at its own foot."""
    branch = other.branch
    return branch if branch.bending else replace(branch, length=branch.length + other.target.r_out)


def _apart(cope: Cope, others: Iterable[Cope]) -> None:
    """Raise GeometryError where a branch runs into another and one of the two is set in: neither copes onto the
    other, and their holes would be one."""
    for other in others:
        set_in = "in" in (cope.set_, other.set_)
        if set_in and other.target.piece == cope.target.piece and _crowds(cope, _standing(other)):
            raise GeometryError(
                cope.branch.piece,
                f"runs into {other.branch.piece} before it reaches {cope.target.piece}; only branches that are both "
                "set on fit onto each other",
                f"move one along run.{cope.target.run}, or set both on",
            )


def _crowds(cope: Cope, neighbour: Tube) -> bool:
    alone = cope.on_target.height(_CLOCKS, cope.branch.r_out)
    crowded = replace(cope, neighbours=(neighbour,)).outside.height(_CLOCKS, cope.branch.r_out)
    return bool((alone - crowded > TOUCHING).any())


def _sharing(cope: Cope, mate: Cope) -> tuple[Cope, Cope]:
    """Return two copes that are fitted together, each up to the plane half way between them.

    Raises GeometryError where they crowd and are no mirror images of each other.
    """
    if mate.target.piece != cope.target.piece or not _crowds(cope, mate.branch):
        return cope, mate
    plane = bisector(cope.branch, mate.branch)
    return (
        replace(cope, shares=(*cope.shares, Share(mate.branch.run, mate.branch.piece, plane))),
        replace(mate, shares=(*mate.shares, Share(cope.branch.run, cope.branch.piece, plane.turned))),
    )
