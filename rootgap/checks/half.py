"""Does a half pipe stand on metal all round, with every opening under it wholly in its bore, and every foot on
it clear of its split?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.geometry.paths import Path
from rootgap.geometry.polygons import inside, to_outline
from rootgap.joints import Cope, EdgeWeld, Joint
from rootgap.joints.refusals import split_margin
from rootgap.layout import Layout, Plate
from rootgap.layout.aim import at_least as rounded_up

Array = NDArray[np.float64]

#: How far, mm, chords may lie from an edge, and points along a footprint from each other.
CHORD, STEP = 0.001, 1.0
_GEOMETRY = "worked out from the geometry, no source"


def bare_ports(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how far each opening under a half pipe reaches beyond its bore, mm."""
    for weld, plate in _on_flanges(layout, joints):
        for number in weld.ports:
            rim = weld.seen(plate.placed(plate.openings[number - 1].points(CHORD)))
            past = float(_beyond(rim, weld.bore).max())
            yield at_most(
                "port in half pipe",
                f"{plate.id}.{number} under {weld.half}",
                past,
                0.0,
                "mm",
                _GEOMETRY,
                "worked out",
                f"the opening cuts under the wall or an end: move the half pipe {rounded_up(past)} mm, make it "
                "longer, or use larger pipe",
            )


def half_stands(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the metal, mm, of each flange that a half pipe stands on beside its footprint, and for
    its bolt holes."""
    for weld, plate in _on_flanges(layout, joints):
        foot = _along(weld.footprint)
        edges = [weld.seen(plate.placed(edge.points(CHORD))) for edge in plate.outlines]
        rooms = [to_outline(foot, edge) * np.where(inside(foot, edge), 1.0, -1.0) for edge in edges]
        room = np.max(rooms, axis=0)
        least, leg = float(room.min()), weld.r_out - weld.r_in
        yield at_least(
            "half pipe on flange",
            f"{weld.half} on {plate.id}",
            least,
            leg,
            "mm",
            "common practice, no source: a weld leg, taken as the half's wall, of flange beside it",
            "common practice, no source",
            f"{rounded_up(leg - least)} mm short: give the flange more edge, or make the half pipe smaller",
            "warn" if least >= 0.0 else "fail",
        )
        holes = [
            float(_beyond(weld.seen(plate.placed(np.array([hole.at]))), weld.footprint).max()) - 0.5 * hole.diameter
            for hole in plate.part.holes()
        ]
        if holes:
            yield at_least(
                "bolt holes beside half pipe",
                f"{weld.half} on {plate.id}",
                min(holes),
                0.0,
                "mm",
                _GEOMETRY,
                "worked out",
                f"a bolt hole lies under it: move it at least {rounded_up(-min(holes))} mm",
            )


def split_margins(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the metal, mm, between each foot on a half pipe and its split."""
    for joint in joints:
        half = layout.runs[joint.target.run].half if isinstance(joint, Cope) else None
        if isinstance(joint, Cope) and half:
            limit = joint.branch.r_out - joint.branch.r_in + half.stock.wall
            margin = split_margin(joint, half)
            yield at_least(
                "foot to split",
                joint.id,
                margin,
                limit,
                "mm",
                "common practice, no source: a weld leg each, taken as the branch's wall and the half's, side by side",
                "common practice, no source",
                f"bring {joint.branch.run} at least {rounded_up(limit - margin)} mm nearer the middle of {half.id}",
                "warn",
            )


def _on_flanges(layout: Layout, joints: Sequence[Joint]) -> Iterator[tuple[EdgeWeld, Plate]]:
    """Yield every half pipe that stands on a flange, with that flange."""
    plates = {plate.id: plate for plate in layout.plates.values()}
    for joint in joints:
        if isinstance(joint, EdgeWeld) and joint.plate in plates:
            yield joint, plates[joint.plate]


def _beyond(points: Array, box: Path) -> Array:
    """Return how far, (n,), mm, points (n, 2) lie outside a rectangle; below nought how deep within."""
    low_x, low_y, high_x, high_y = box.bounds()
    middle, half = np.array([low_x + high_x, low_y + high_y]) / 2.0, np.array([high_x - low_x, high_y - low_y]) / 2.0
    past = np.abs(points - middle) - half
    return np.linalg.norm(np.maximum(past, 0.0), axis=1) + np.minimum(past.max(axis=1), 0.0)


def _along(box: Path) -> Array:
    """Return points, (n, 2), mm, along a closed path of straight lines, STEP apart at most."""
    sides = [
        np.linspace(start, end, max(2, int(np.hypot(end[0] - start[0], end[1] - start[1]) / STEP) + 2))
        for start, end, _ in box.segments()
    ]
    return np.concatenate(sides)
