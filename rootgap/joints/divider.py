"""The seams of a plate that parts a run's gas: its edges in the bores, and its end on the flange."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.parting import Disc
from rootgap.geometry.paths import Path
from rootgap.joints.butt import FlangeWeld
from rootgap.joints.joint import CutAt, Joint
from rootgap.layout import Divider, Layout, Plate, Tongue

#: How far, mm, chords may lie from a rim that is looked at.
RIM = 1e-3


@dataclass(frozen=True, eq=False)
class DividerWeld:
    """A divider's edges in one piece. gap: between edge and bore, mm; weld_length: of its edges there, each
    welded from one side, mm."""

    kind: ClassVar[str] = "divider weld"
    id: str
    divider: str
    piece: str
    gap: float
    weld_length: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The divider's mark and the piece's."""
        return self.divider, self.piece


@dataclass(frozen=True, eq=False)
class DividerEnd:
    """A divider's end on the land between a flange's openings. land: metal there across the plate, mm, nan
    where all openings lie on one side; depth: mm that it stands in the flange; pocket: what is milled for that,
    in the flange's drawing, None where it butts; weld_length: mm, 0 in a pocket, where it is free to grow."""

    kind: ClassVar[str] = "divider end"
    id: str
    divider: str
    plate: str
    land: float
    depth: float
    pocket: Path | None
    weld_length: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The divider's mark and the flange's."""
        return self.divider, self.plate


def divider_joints(layout: Layout) -> Iterator[DividerWeld | DividerEnd]:
    """Yield the seams of every divider of `layout`. Raises GeometryError where a slot breaks into an opening."""
    for divider in layout.dividers.values():
        # Where the tongue's edges, right and left, leave the metal that the run starts in.
        feet = (0.0, 0.0)
        if divider.disc and divider.host:
            host = layout.members[divider.host]
            feet = _feet(divider.disc, divider.tongue, host.stock.r_out)
            length = _disc_weld(divider.disc, divider.tongue, feet)
            yield DividerWeld(f"{divider.id}+{host.id}", divider.id, host.id, divider.gap, length)
        if divider.tongue is None:
            continue
        run, reach = layout.runs[divider.run], divider.tongue
        start = reach.base
        for number, piece in enumerate(run.pieces):
            begins = sum(feet) if number == 0 else 2.0 * start
            length = 2.0 * (start + piece.length) - begins
            yield DividerWeld(f"{divider.id}+{piece.id}", divider.id, piece.id, divider.gap, length)
            start += piece.length
        if run.flange:
            yield _end(divider, reach, run.flange, run.ports)


def milled_volume(joints: Iterable[Joint], plate: str) -> float:
    """Return the volume, mm3, of all slots and sockets that are milled into the flange of the mark `plate`."""
    on_it = [joint for joint in joints if isinstance(joint, DividerEnd | FlangeWeld) and joint.plate == plate]
    sockets = sum((weld.milled for weld in on_it if isinstance(weld, FlangeWeld)), 0.0)
    slots = [end for end in on_it if isinstance(end, DividerEnd)]
    return sockets + sum((abs(end.pocket.area) * end.depth for end in slots if end.pocket), 0.0)


def _disc_weld(disc: Disc, reach: Tongue | None, feet: tuple[float, float]) -> float:
    """Return the length, mm, of a disc's edge in its host, and of a tongue's edges up to their `feet`, y in mm."""
    if reach is None:
        return disc.rim_length(0.0)
    return disc.rim_length(reach.half) + sum(feet) - sum(_corners(disc, reach.half))


def _feet(disc: Disc, reach: Tongue | None, r_out: float) -> tuple[float, float]:
    """Return y, mm, at which a tongue's edges come out of its host, of outside radius `r_out` mm."""
    return _corners(Disc(r_out, disc.lean, 0.0), reach.half) if reach else (0.0, 0.0)


def _corners(disc: Disc, half: float) -> tuple[float, float]:
    """Return y, mm, of the corners, right and left, between a disc and a tongue `half` mm either way."""
    right, left = (float(disc.points(np.array([disc.corner(half, side)]))[0, 1]) for side in (1, -1))
    return right, left


def _end(divider: Divider, reach: Tongue, plate: Plate, ports: tuple[int, ...]) -> DividerEnd:
    """Return a divider's end on a flange. Raises GeometryError where its slot breaks into an opening."""
    right, up = plate.right, plate.start.ref
    normal, towards = divider.middle.axis, -divider.middle.side
    to_drawing = np.array([right, up])
    middle = to_drawing @ (divider.middle.origin + reach.face * divider.middle.ref - plate.start.origin)
    across, along = to_drawing @ normal, to_drawing @ towards
    rims = [(plate.openings[number - 1].points(RIM) - middle) @ across for number in ports]
    nearest = (
        [float(rim.min()) for rim in rims if rim.mean() > 0.0],
        [float(-rim.max()) for rim in rims if rim.mean() <= 0.0],
    )
    land = min(nearest[0]) + min(nearest[1]) if all(nearest) else float("nan")
    name = f"{divider.id}+{plate.id}"
    if not reach.slot:
        return DividerEnd(name, divider.id, plate.id, land, 0.0, None, 2.0 * reach.half)
    wide, deep = reach.half + divider.gap, 0.5 * divider.thickness + divider.gap
    room = min(min(side) for side in nearest if side)
    if room < deep:
        raise GeometryError(
            divider.id,
            f"its slot in {plate.id} is {2 * deep:.1f} mm wide and breaks into an opening {room:.1f} mm off its middle",
            "butt it (slot = 0), make it thinner, or leave a wider land between the openings",
        )
    corners = [middle + x * wide * along + y * deep * across for x, y in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
    return DividerEnd(name, divider.id, plate.id, land, reach.slot, Path.through(corners, closed=True), 0.0)
