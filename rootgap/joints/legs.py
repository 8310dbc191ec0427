"""Finding a collector's merge: the runs that end on it, each on its own place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.tube import Tube
from rootgap.joints.merge import Merge, SpikeWeld
from rootgap.joints.refusals import plain
from rootgap.layout import Collector, Layout, Run, Straight

#: Pipes whose radii differ by less than this, mm, are the same.
SAME = 1e-6
#: How far, mm, and by how many degrees a leg may be off its place on a collector.
MEETS, STRAIGHT = 0.01, 0.01


def merge_of(collector: Collector, layout: Layout) -> Merge:
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


def _leg(collector: Collector, run: Run) -> Tube:
    """Return a collector's leg. Raises GeometryError where it does not lie on its axis up to the apex."""
    last = run.pieces[-1]
    if not isinstance(last, Straight):
        raise GeometryError(last.id, f"a merge's leg is straight; this is of kind {last.kind}", "end it in a straight")
    plain(last, "merged")
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


def spikes_of(layout: Layout, merges: Mapping[str, Merge]) -> Iterator[SpikeWeld]:
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
