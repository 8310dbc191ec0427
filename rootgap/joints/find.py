"""Finding every joint of a layout."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rootgap.joints.butt import FlangeWeld, butt, disc_weld, on_flange, on_port
from rootgap.joints.clamp import clamp, pocket_weld
from rootgap.joints.coping import Copes, copes_of
from rootgap.joints.divider import divider_joints
from rootgap.joints.half import closing_welds
from rootgap.joints.joint import Joint, cut_ends
from rootgap.joints.legs import merge_of, spikes_of
from rootgap.joints.merge import Merge, OutletWeld
from rootgap.joints.mitre import mitre
from rootgap.joints.refusals import fits_target, leaves_metal, lobed, pockets_apart
from rootgap.joints.salvage import on_salvage
from rootgap.joints.slip import slip
from rootgap.layout import After, Cap, Disc, Layout, Member, Outlet, Port, Ring, Run, Salvaged, Side, Sleeve


def find_joints(layout: Layout) -> tuple[Joint, ...]:
    """Return every joint of `layout`, along the gas. Raises GeometryError for what cannot be welded."""
    copes = copes_of(layout)
    merges = {name: merge_of(collector, layout) for name, collector in layout.collectors.items()}
    runs = [joint for run in layout.runs.values() for joint in _of_run(run, layout, copes, merges)]
    joints: tuple[Joint, ...] = (*runs, *merges.values(), *spikes_of(layout, merges), *divider_joints(layout))
    cuts = cut_ends(joints)
    # A target's own ends may be cut, by any kind of joint: all must be known before it is told what stands on it.
    for cope in copes.values():
        fits_target(cope, cuts.get(cope.target.piece, {}))
    pockets_apart(joint for joint in joints if isinstance(joint, FlangeWeld))
    for piece, ends in cuts.items():
        leaves_metal(piece, layout.members[piece].length, ends)
    return joints


def _of_run(run: Run, layout: Layout, copes: Copes, merges: Mapping[str, Merge]) -> Iterator[Joint]:
    yield from _starting(run, layout, copes, merges)
    for index, (before, after) in enumerate(zip(run.pieces, run.pieces[1:], strict=False)):
        if index in run.corners:
            yield mitre(before, after, run, index)
        elif isinstance(before, Sleeve):
            # Its other end is the same joint's.
            yield slip(run.pieces[index - 1], before, after)
        elif not isinstance(after, Sleeve):
            yield _in_line(before, after)
    if run.half:
        yield from closing_welds(run.half, run, layout)
    yield from _ending(run, copes)


def _starting(run: Run, layout: Layout, copes: Copes, merges: Mapping[str, Merge]) -> Iterator[Joint]:
    """Yield the joint at which a run begins."""
    first = run.pieces[0]
    if isinstance(run.first_cap, Disc):
        yield disc_weld(run.first_cap, first, "start", first.stock)
    elif run.first_cap:
        yield _in_line(run.first_cap, first)
    if isinstance(run.begins, Port):
        yield on_port(run, run.begins, layout)
    elif isinstance(run.begins, After):
        yield _in_line(layout.runs[run.begins.run].pieces[-1], first)
    elif isinstance(run.begins, Outlet):
        lobed(first, merges[run.begins.collector])
        yield OutletWeld(f"collector.{run.begins.collector}+{first.id}", merges[run.begins.collector], first.id)
    elif isinstance(run.begins, Salvaged):
        yield on_salvage(layout.salvages[run.begins.salvage], first)
    elif isinstance(run.begins, Side):
        yield copes[run.name, "start"]


def _ending(run: Run, copes: Copes) -> Iterator[Joint]:
    """Yield the joint at which a run ends."""
    last = run.pieces[-1]
    if isinstance(run.last_cap, Disc):
        yield disc_weld(run.last_cap, last, "end", last.leaves)
    elif run.last_cap:
        yield _in_line(last, run.last_cap)
    if run.flange:
        yield on_flange(run, run.flange, last)
    if run.cope:
        yield copes[run.name, "end"]


def _in_line(before: Member | Cap, after: Member | Cap) -> Joint:
    """Return the joint of two pieces of one axis, by what they are. Raises GeometryError where they do not fit."""
    if isinstance(before, Ring) and isinstance(after, Ring) and before.upstream and not after.upstream:
        return clamp(before, after)
    for ring, pipe in ((before, after), (after, before)):
        if isinstance(ring, Ring) and ring.part.pocket:
            return pocket_weld(ring, pipe)
    return butt(before, after)
