"""Finding every joint of a layout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.openings import Round
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import Bevel
from rootgap.joints.butt import Butt, DiscWeld, FlangeWeld
from rootgap.joints.clamp import clamp, no_pocket, pocket_weld
from rootgap.joints.cope import Cope, Share
from rootgap.joints.divider import divider_joints
from rootgap.joints.half import EdgeWeld, HalfDiscWeld
from rootgap.joints.joint import Joint, Which, cut_ends
from rootgap.joints.merge import Merge, OutletWeld, SpikeWeld
from rootgap.joints.mitre import Mitre, bisector, facing
from rootgap.joints.refusals import (
    all_meet,
    fits_branch,
    fits_half,
    fits_target,
    leans,
    leaves_metal,
    no_graze,
    not_larger,
)
from rootgap.joints.salvage import SalvageWeld
from rootgap.joints.slip import slip
from rootgap.layout import (
    After,
    Bend,
    Cap,
    Collector,
    Disc,
    Elbow,
    Face,
    Half,
    Layout,
    Member,
    Outlet,
    Pie,
    Plate,
    Port,
    Ring,
    Run,
    Salvage,
    Salvaged,
    Side,
    Sleeve,
    Straight,
    Transition,
    Tubular,
)
from rootgap.layout.aim import aimed_at
from rootgap.spec import LEAST_LAND, CopeEnd, SideStart
from rootgap.stock import PipeStock

#: Two branches that would share less than this, mm, do not crowd.
TOUCHING = 1e-6
#: Pipes whose radii differ by less than this, mm, are the same.
SAME = 1e-6
#: How far, mm, and by how many degrees a leg may be off its place on a collector.
MEETS, STRAIGHT = 0.01, 0.01
#: How far, mm, chords may lie from a rim that is looked at.
RIM = 1e-4
_CLOCKS = 2.0 * np.pi * np.arange(90) / 90

#: The copes of a layout, by run and its end.
Copes = Mapping[tuple[str, Which], Cope]


def find_joints(layout: Layout) -> tuple[Joint, ...]:
    """Return every joint of `layout`, along the gas. Raises GeometryError for what cannot be welded."""
    copes = _copes(layout)
    merges = {name: _merge(collector, layout) for name, collector in layout.collectors.items()}
    runs = [joint for run in layout.runs.values() for joint in _of_run(run, layout, copes, merges)]
    joints: tuple[Joint, ...] = (*runs, *merges.values(), *_spiked(layout, merges), *divider_joints(layout))
    lengths = {piece.id: piece.length for piece in layout.pieces()}
    for piece, ends in cut_ends(joints).items():
        leaves_metal(piece, lengths[piece], ends)
    return joints


def _copes(layout: Layout) -> Copes:
    """Return every cope, fitted in its turn: as its file says, else after those, in the file's order."""
    ends: list[tuple[Run, Which, CopeEnd | SideStart]] = []
    for run in layout.runs.values():
        if isinstance(run.begins, Side):
            ends.append((run, "start", run.begins.off))
        if run.cope:
            ends.append((run, "end", run.cope))
    copes: dict[tuple[str, Which], Cope] = {}
    for run, at, how in sorted(ends, key=lambda end: end[2].turn):
        mates = [key for key, other in copes.items() if how.order is not None and _order(layout, *key) == how.order]
        before = [cope for key, cope in copes.items() if key not in mates]
        cope = _cope(run, at, how, layout, before)
        for key in mates:
            cope, copes[key] = _sharing(cope, copes[key])
        copes[run.name, at] = cope
    for (name, at), cope in copes.items():
        fits_branch(cope, layout.runs[name].pieces[-1 if at == "end" else 0])
    # A target may itself end in a cope: there its foot must stay below the cut.
    cuts = {cope.branch.piece: cope.cut_range[0] for cope in copes.values() if cope.at == "end"}
    for cope in copes.values():
        fits_target(cope, cuts.get(cope.target.piece, cope.target.length))
        half = layout.runs[cope.target.run].half
        if half:
            fits_half(cope, half)
    return copes


def _order(layout: Layout, name: str, at: Which) -> int | None:
    run = layout.runs[name]
    how = run.begins.off if at == "start" and isinstance(run.begins, Side) else run.cope
    return how.order if how else None


def _of_run(run: Run, layout: Layout, copes: Copes, merges: Mapping[str, Merge]) -> Iterator[Joint]:
    yield from _starting(run, layout, copes, merges)
    for index, (before, after) in enumerate(zip(run.pieces, run.pieces[1:], strict=False)):
        if index in run.corners:
            yield _mitre(before, after, run, index)
        elif isinstance(before, Sleeve):
            # Its other end is the same joint's.
            yield slip(run.pieces[index - 1], before, after)
        elif not isinstance(after, Sleeve):
            yield _in_line(before, after)
    if run.half:
        yield from _closed(run.half, run, layout)
    yield from _ending(run, copes)


def _starting(run: Run, layout: Layout, copes: Copes, merges: Mapping[str, Merge]) -> Iterator[Joint]:
    """Yield the joint at which a run begins."""
    first = run.pieces[0]
    if isinstance(run.first_cap, Disc):
        yield _disc_weld(run.first_cap, first, "start", first.stock)
    elif run.first_cap:
        yield _in_line(run.first_cap, first)
    if isinstance(run.begins, Port):
        yield _on_port(run, run.begins, layout)
    elif isinstance(run.begins, After):
        yield _in_line(layout.runs[run.begins.run].pieces[-1], first)
    elif isinstance(run.begins, Outlet):
        no_pocket(first, f"collector.{run.begins.collector}")
        yield OutletWeld(f"collector.{run.begins.collector}+{first.id}", merges[run.begins.collector], first.id)
    elif isinstance(run.begins, Salvaged):
        yield _on_salvage(layout.salvages[run.begins.salvage], first)
    elif isinstance(run.begins, Side):
        yield copes[run.name, "start"]


def _ending(run: Run, copes: Copes) -> Iterator[Joint]:
    """Yield the joint at which a run ends."""
    last = run.pieces[-1]
    if isinstance(run.last_cap, Disc):
        yield _disc_weld(run.last_cap, last, "end", last.leaves)
    elif run.last_cap:
        yield _in_line(last, run.last_cap)
    if run.flange:
        yield _on_flange(run, run.flange, last)
    if run.cope:
        yield copes[run.name, "end"]


def _in_line(before: Member | Cap, after: Member | Cap) -> Joint:
    """Return the joint of two pieces of one axis, by what they are. Raises GeometryError where they do not fit."""
    if isinstance(before, Ring) and isinstance(after, Ring) and before.upstream and not after.upstream:
        return clamp(before, after)
    for ring, pipe in ((before, after), (after, before)):
        if isinstance(ring, Ring) and ring.part.pocket:
            return pocket_weld(ring, pipe)
    return _butt(before, after)


def _disc_weld(disc: Disc, pipe: Member, at: Which, end: PipeStock) -> DiscWeld:
    """Return the weld of a disc on an end of `pipe`, whose stock is `end` there. Raises GeometryError."""
    no_pocket(pipe, disc.id)
    return DiscWeld(f"{pipe.id}+{disc.id}", pipe.id, disc.id, at, disc.start, end.r_out, end.r_in)


def _butt(before: Member | Cap, after: Member | Cap) -> Butt:
    # A cap's open end, and the piece after it, are where its frame is; its axis points at its crown.
    frame = after.start if isinstance(before, Cap) else before.end
    out = before.stock if isinstance(before, Cap) else before.leaves
    radii = (out.r_out, after.stock.r_out), (out.r_in, after.stock.r_in)
    return Butt(f"{before.id}+{after.id}", before.id, after.id, frame, *radii)


def _mitre(before: Member, after: Member, run: Run, index: int) -> Mitre:
    first, second = _plain(before, "mitred").tube, facing(_plain(after, "mitred").tube, after.end)
    return Mitre(f"{before.id}+{after.id}", first, second, run.corners[index].prep)


def _on_port(run: Run, begins: Port, layout: Layout) -> FlangeWeld:
    plate, first = layout.plates[begins.flange], run.pieces[0]
    no_pocket(first, plate.id)
    port = plate.part.port[begins.number - 1]
    return FlangeWeld(
        f"{plate.id}.{begins.number}+{first.id}",
        first.id,
        plate.id,
        (begins.number,),
        run.start,
        first.stock.r_out,
        first.stock.r_in,
        port.opening.opening().reach,
        gas_in=True,
        girth=_shaped(first),
    )


def _shaped(piece: Member) -> float | None:
    """Return the girth, mm, of a start's outside that has the shape of the opening it begins at, None where it is
    round."""
    if isinstance(piece, Transition):
        return piece.girth
    return piece.formed.outside.length if isinstance(piece, Straight) and piece.formed else None


def _on_salvage(salvage: Salvage, first: Member) -> SalvageWeld:
    """Return the weld of a run's first piece to a salvaged one. Raises GeometryError where it is round and the
    opening is not."""
    opening, shaped = salvage.opening, _shaped(first)
    if shaped is None and not isinstance(opening, Round):
        raise GeometryError(
            first.id,
            f"is round where it begins; the opening of {salvage.id} is not",
            'begin with a transition, or with a formed end: { straight = ..., formed = "on" }',
        )
    bore = 2.0 * np.pi * first.stock.r_in if shaped is None else opening.girth
    return SalvageWeld(
        f"{salvage.id}+{first.id}",
        salvage.id,
        first.id,
        salvage.frame,
        (opening.girth, float(bore)),
        (salvage.spec.wall, first.stock.wall),
        salvage.spec.material,
    )


def _plain(piece: Member, how: str) -> Tubular:
    """Return a piece whose end is to be cut. Raises GeometryError where it is no pipe, or formed at its start."""
    if not isinstance(piece, Tubular):
        raise GeometryError(piece.id, f"a {piece.kind}'s own end cannot be {how}", "add a straight there")
    if isinstance(piece, Straight) and piece.formed:
        raise GeometryError(piece.id, f"its start is formed; its other end cannot be {how}", "add a straight after it")
    return piece


def _on_flange(run: Run, plate: Plate, last: Member) -> FlangeWeld:
    no_pocket(last, plate.id)
    which = "" if run.ports == (1,) else "." + ".".join(map(str, run.ports))
    return FlangeWeld(
        f"{last.id}+{plate.id}{which}",
        last.id,
        plate.id,
        run.ports,
        run.end,
        last.leaves.r_out,
        last.leaves.r_in,
        _reach(plate, run),
        gas_in=False,
    )


def _closed(half: Half, run: Run, layout: Layout) -> Iterator[EdgeWeld | HalfDiscWeld]:
    """Yield the joints that close a half pipe."""
    flange = layout.plates[run.begins.pose.on] if isinstance(run.begins, Face) else None
    plate = flange.id if flange else f"{half.id}-plate"
    radii = half.stock.r_out, half.stock.r_in
    weld = EdgeWeld(f"{half.id}+{plate}", half.id, plate, (), half.facing, half.length, half.discs, *radii)
    yield replace(weld, ports=_covered(weld, flange, layout)) if flange else weld
    for disc in half.ends:
        yield HalfDiscWeld(f"{disc.id}+{half.id}", disc.id, half.id, plate, disc.start, half.discs, half.stock.r_out)


def _covered(weld: EdgeWeld, flange: Plate, layout: Layout) -> tuple[int, ...]:
    """Return the numbers of a flange's openings that a half pipe on it covers, if only in part, and that no run
    starts at."""
    begun = {run.begins for run in layout.runs.values() if isinstance(run.begins, Port)}
    low_x, low_y, high_x, high_y = weld.footprint.bounds()
    covered = []
    for number, shape in enumerate(flange.openings, start=1):
        along, aside = weld.seen(flange.placed(shape.points(RIM))).T
        under = (along > low_x) & (along < high_x) & (aside > low_y) & (aside < high_y)
        if under.any() and Port(flange.id.removeprefix("flange."), number) not in begun:
            covered.append(number)
    return tuple(covered)


def _reach(plate: Plate, run: Run) -> float:
    """Return how far the openings at a run's end get from its axis, mm."""
    if len(run.ports) == 1:
        return plate.part.port[run.ports[0] - 1].opening.opening().reach
    y, left, _ = plate.start.to_local(run.end.origin)
    rims = np.vstack([plate.openings[number - 1].points(RIM) for number in run.ports])
    return float(np.hypot(rims[:, 0] + left, rims[:, 1] - y).max())


def _cope(run: Run, at: Which, how: CopeEnd | SideStart, layout: Layout, before: Sequence[Cope]) -> Cope:
    """Return the cope at an end of `run`, onto its target and whatever of `before` crowds it."""
    piece = run.pieces[-1 if at == "end" else 0]
    if not isinstance(piece, Straight | Elbow | Bend if at == "end" else Straight):
        what, where = "pie-cut bend" if isinstance(piece, Pie) else piece.kind, "after" if at == "end" else "before"
        raise GeometryError(piece.id, f"the {what}'s own end cannot be coped there", f"add a straight {where} it")
    piece = _plain(piece, "coped")
    branch = piece.tube if at == "end" else facing(piece.tube, piece.end)
    target = layout.runs[how.target]
    landing, _ = aimed_at(piece.id, branch, target, how.set_)
    cope = Cope(
        f"{run.name}+{target.name}",
        branch,
        landing.tube,
        how.set_,
        how.prep,
        how.clearance,
        at=at,
        bevel=_bevel(run, piece, how),
    )
    limit = landing.stock.r_in - how.clearance if how.set_ == "in" else landing.stock.r_out
    not_larger(cope, limit)
    leans(cope)
    if isinstance(cope.on_target, Saddle):
        no_graze(cope, cope.on_target, limit)
    else:
        all_meet(cope)
    if how.set_ == "on":
        cope = replace(cope, neighbours=tuple(_crowding(cope, before)))
    return cope


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
        # The neighbour goes on to the middle of the target, so that no gap is left at its own foot.
        whole = replace(other.branch, length=other.branch.length + cope.target.r_out)
        neighbour = other.branch if other.branch.bending else whole
        if _crowds(cope, neighbour):
            yield neighbour


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


def _merge(collector: Collector, layout: Layout) -> Merge:
    """Return the merge of the runs that end on `collector`. Raises GeometryError."""
    runs = [layout.runs[name] for name in collector.spec.legs]
    tubes = tuple(_leg(collector, run) for run in runs)
    first = tubes[0]
    for tube in tubes:
        if max(abs(tube.r_out - first.r_out), abs(tube.r_in - first.r_in)) > SAME:
            raise GeometryError(
                f"collector.{collector.name}",
                f"{tube.piece} is {2 * tube.r_out:.1f} x {tube.r_out - tube.r_in:.2f} mm, {first.piece} "
                f"{2 * first.r_out:.1f} x {first.r_out - first.r_in:.2f} mm",
                "give all its legs one stock",
            )
    spec = collector.spec
    return Merge(
        f"collector.{collector.name}",
        collector.apex,
        len(tubes),
        spec.half_angle,
        first.r_out,
        first.r_in,
        min(tube.length for tube in tubes),
        spec.prep,
        collector.outlet,
        tubes,
    )


def _spiked(layout: Layout, merges: Mapping[str, Merge]) -> Iterator[SpikeWeld]:
    """Yield the weld of every spike on its legs. Raises GeometryError where one reaches farther back than they do."""
    for name, collector in layout.collectors.items():
        spike = collector.spike
        if spike is None:
            continue
        short = spike.made.reach_back - min(leg.tube.length for leg in merges[name].legs)
        if short > 0.0:
            raise GeometryError(
                spike.id,
                f"it reaches {short:.1f} mm farther back than the straights of its legs",
                f"make them {np.ceil(short):.0f} mm longer, or the spike longer, which stands it up",
            )
        yield SpikeWeld(f"{spike.id}+{merges[name].id}", spike.id, merges[name].joined, spike.made.rim_length)


def _leg(collector: Collector, run: Run) -> Tube:
    """Return a collector's leg. Raises GeometryError where it does not lie on its axis up to the apex."""
    last = run.pieces[-1]
    if not isinstance(last, Straight):
        raise GeometryError(last.id, f"a merge's leg is straight; this is of kind {last.kind}", "end it in a straight")
    _plain(last, "merged")
    goal = collector.leg(run.name)
    apart = float(np.linalg.norm(last.end.origin - goal.origin))
    turned = float(np.degrees(np.arccos(np.clip(last.end.axis @ goal.axis, -1.0, 1.0))))
    if apart > MEETS or turned > STRAIGHT:
        raise GeometryError(
            last.id,
            f"ends {apart:.2f} mm beside its place on collector.{collector.name}, {turned:.2f} degrees off its axis",
            'let it find its way: { elbow = "LR", angle = "aim" }, { straight = "fill" }, and the same elbow again',
        )
    return last.tube
