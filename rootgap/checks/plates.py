"""Has every flange enough metal round its holes, room for its bolts, and thickness for its welds?

Terminology: the *land* is the metal between two openings or sockets; a bolt's *seat* is what bears on the plate, the
washer or the head's corners, whichever is larger; a pipe's weld is taken to be as wide as its wall.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from rootgap.checks.finding import Finding, Support, at_least, at_most, worst
from rootgap.errors import StockError, UnitError
from rootgap.geometry.gaps import gap, to_shape
from rootgap.geometry.paths import Circle, Shape
from rootgap.geometry.polygons import inside
from rootgap.joints import EdgeWeld, FlangeWeld, Joint
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Layout, Plate
from rootgap.layout.aim import at_least as rounded_up
from rootgap.spec.part import BoltHole
from rootgap.stock import Fastener, fastener

#: From a bolt's centre to the edge, in bolt diameters; least land, mm; from an opening to a bolt hole, in bolt
#: diameters; thickness in pipe walls, and as a share of the longest way from bolt to bolt.
TO_EDGE, LAND, TO_HOLE, WALLS, SPAN = 1.5, 5.0, 0.5, 2.0, 0.1
#: How much larger than the pipe an opening that it goes through may be, mm on the radius.
LOOSE = 0.5
#: Decimals of a mm that are told from roundoff.
DIGITS = 9
PRACTICE: Support = "common practice, no source"
_CHORD = 0.01
#: What was found for the metal of the flanges of a few manifolds.
METAL: Kept[tuple[Finding, ...]] = Kept(100)


@dataclass(frozen=True, eq=False)
class _Site:
    """A flange with what stands on it. openings: (name, shape), sockets in place of the openings they take in."""

    plate: Plate
    welds: tuple[FlangeWeld, ...]
    openings: tuple[tuple[str, Shape], ...]

    @property
    def holes(self) -> tuple[BoltHole, ...]:
        return self.plate.part.holes()


def flange_metal(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the metal, mm, from holes to the edge, between openings, and from those to bolt holes."""
    for site in _sites(layout, joints):
        yield from METAL.get(fingerprint(site), partial(_metal, site))


def flange_access(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the room, mm, of bolts on flanges: of their seats and of a socket that turns them."""
    for site in _sites(layout, joints):
        yield from _worst(_seats(site))
        yield from _worst(_weld_toes(site))
        yield from _worst(_sockets(site))


def flange_thickness(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the thickness, mm, of each flange against its welds and the way from bolt to bolt."""
    for site in _sites(layout, joints):
        halves = (joint for joint in joints if isinstance(joint, EdgeWeld) and joint.plate == site.plate.id)
        walls = [weld.r_out - weld.r_in for weld in site.welds] + [half.r_out - half.r_in for half in halves]
        wall = max(walls, default=0.0)
        span = _span(site)
        limit = round(max(WALLS * wall, SPAN * span), DIGITS)
        yield at_least(
            "flange thickness",
            site.plate.id,
            site.plate.part.thickness,
            limit,
            "mm",
            f"common practice, no source: {WALLS:g} times the pipe's wall ({wall:.1f} mm), and a tenth of the longest "
            f"way from bolt to bolt ({span:.0f} mm), or the weld draws it and it leaks between bolts",
            PRACTICE,
            f"make it at least {rounded_up(limit)} mm thick, or set a bolt between",
            "warn",
        )


def flange_split(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for each plate of a flange that is cut apart: bolts on the sides of its port that it has."""
    for site in _sites(layout, joints):
        edges = site.plate.outlines
        for number, edge in enumerate(edges if len(edges) > 1 else (), start=1):
            rim = edge.points(_CHORD)
            bolts = np.array([hole.at for hole in site.holes if inside(np.array([hole.at]), rim)[0]]).reshape(-1, 2)
            ports = np.array([port.at for port in site.plate.part.port if inside(np.array([port.at]), rim)[0]])
            away = bolts - ports.mean(axis=0)
            turn = np.sort(np.arctan2(away[:, 1], away[:, 0]))
            open_turn = float(np.degrees(np.diff(turn, append=turn[0] + 2 * np.pi).max())) if turn.size > 1 else 360.0
            yield at_most(
                "bolts of a split flange",
                f"{site.plate.id}, plate {number}",
                open_turn,
                190.0,
                "deg",
                "common practice, no source: a plate with bolts on one side only tips and leaks; 10 degrees allowed",
                PRACTICE,
                "its bolts leave one side free: split where the bolts allow it, or use relief cuts",
                "warn",
            )


def pipes_through(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the room, mm on the radius, round each pipe that goes through its flange."""
    for joint in joints:
        if isinstance(joint, FlangeWeld) and joint.through:
            room = joint.reach - joint.r_out
            yield at_least(
                "pipe through flange",
                joint.id,
                room,
                0.0,
                "mm",
                "worked out from the geometry, no source",
                "worked out",
                f"the pipe does not go in: make the opening at least {rounded_up(-2.0 * room)} mm larger",
            )
            yield at_most(
                "fit in flange",
                joint.id,
                room,
                LOOSE,
                "mm",
                f"common practice, no source: {LOOSE:g} mm on the radius, so that it stands square and the weld fills",
                PRACTICE,
                f"make the opening {rounded_up(2.0 * (room - LOOSE))} mm smaller",
                "warn",
            )


def _sites(layout: Layout, joints: Sequence[Joint]) -> Iterator[_Site]:
    for plate in layout.plates.values():
        welds = tuple(joint for joint in joints if isinstance(joint, FlangeWeld) and joint.plate == plate.id)
        taken = {number for weld in welds if weld.pocket for number in weld.ports}
        openings = [
            (f"opening {number}", shape)
            for number, shape in enumerate(plate.openings, start=1)
            if number not in taken
        ]
        openings += [
            (f"the socket of {weld.pipe}", Circle(_at(weld, plate), weld.pocket)) for weld in welds if weld.pocket
        ]
        yield _Site(plate, welds, tuple(openings))


def _metal(site: _Site) -> tuple[Finding, ...]:
    """Return the findings for the metal of one flange."""
    edge = (worst(_to_edge(site)),) if site.holes else ()
    return (*edge, *_worst(_lands(site)), *_worst(_to_holes(site)))


def _at(weld: FlangeWeld, plate: Plate) -> tuple[float, float]:
    """Return where a pipe's axis meets a flange, mm, in its drawing."""
    up, left, _ = plate.start.to_local(weld.frame.origin)
    return float(-left), float(up)


def _worst(findings: Iterator[Finding]) -> Iterator[Finding]:
    found = list(findings)
    if found:
        yield worst(found)


def _to_edge(site: _Site) -> Iterator[Finding]:
    for number, hole in enumerate(site.holes, start=1):
        # A slot is measured from the centre of its nearer end.
        room = round(min(gap(hole.shape, edge) for edge in site.plate.outlines) + 0.5 * hole.diameter, DIGITS)
        limit = TO_EDGE * hole.bolts.nominal
        yield at_least(
            "hole to edge",
            f"{site.plate.id}, bolt {number}",
            room,
            limit,
            "mm",
            f"common practice, no source: {TO_EDGE:g} bolt diameters from the hole's centre",
            PRACTICE,
            f"it needs {rounded_up(limit - room)} mm more metal: a larger boss or bar, or a cut farther off",
            "warn",
        )


def _lands(site: _Site) -> Iterator[Finding]:
    for index, (name, shape) in enumerate(site.openings):
        for other, beside in site.openings[index + 1 :]:
            room = gap(shape, beside)
            yield at_least(
                "land",
                f"{site.plate.id}, {name} to {other}",
                room,
                LAND,
                "mm",
                f"common practice, no source: {LAND:g} mm of metal between two openings",
                PRACTICE,
                f"move them {rounded_up(LAND - room)} mm apart, or make them smaller",
                "warn",
            )


def _to_holes(site: _Site) -> Iterator[Finding]:
    for name, shape in site.openings:
        for number, hole in enumerate(site.holes, start=1):
            room, limit = gap(shape, hole.shape), TO_HOLE * hole.bolts.nominal
            yield at_least(
                "opening to bolt hole",
                f"{site.plate.id}, {name} to bolt {number}",
                room,
                limit,
                "mm",
                f"common practice, no source: {TO_HOLE:g} bolt diameters of metal",
                PRACTICE,
                f"move them {rounded_up(limit - room)} mm apart",
                "warn",
            )


def _bolted(site: _Site) -> Iterator[tuple[int, BoltHole, Fastener]]:
    """Yield the bolts whose thread the tables have, with their numbers."""
    for number, hole in enumerate(site.holes, start=1):
        try:
            yield number, hole, fastener(hole.bolts.thread)
        except (UnitError, StockError):
            continue


def _seat(bolt: Fastener) -> float:
    return 0.5 * max(bolt.washer.outside, bolt.head.corners)


def _seats(site: _Site) -> Iterator[Finding]:
    for number, hole, bolt in _bolted(site):
        for name, shape in site.openings:
            room = float(to_shape([hole.at], shape)[0]) - _seat(bolt)
            yield at_least(
                "washer to opening",
                f"{site.plate.id}, bolt {number} to {name}",
                room,
                0.0,
                "mm",
                "worked out from the washer's outside (ISO 7089, ASME B18.21.1, from memory)",
                "from memory",
                f"the washer hangs over: move the bolt {rounded_up(-room)} mm, or use a smaller washer",
                "warn",
            )


def _weld_toes(site: _Site) -> Iterator[Finding]:
    for number, hole, bolt in _bolted(site):
        for weld in _round(site):
            wall = weld.r_out - weld.r_in
            room = _beside(hole, weld, site) - wall - _seat(bolt)
            yield at_least(
                "weld toe to bolt",
                f"{site.plate.id}, bolt {number} to {weld.pipe}",
                room,
                0.0,
                "mm",
                f"worked out: a weld as wide as the wall, {wall:.1f} mm, beside a washer or head "
                f"{2.0 * _seat(bolt):.1f} mm across",
                PRACTICE,
                f"{rounded_up(-room)} mm short: grind the washer, use a smaller head, or move the bolt",
                "warn",
            )


def _sockets(site: _Site) -> Iterator[Finding]:
    for number, hole, bolt in _bolted(site):
        for weld in _round(site):
            room = _beside(hole, weld, site) - 0.5 * bolt.tools.socket
            yield at_least(
                "socket to pipe",
                f"{site.plate.id}, bolt {number} to {weld.pipe}",
                room,
                0.0,
                "mm",
                f"common practice, no source: a hand socket {bolt.tools.socket:g} mm across",
                PRACTICE,
                f"{rounded_up(-room)} mm short: a thin socket, a smaller hexagon, or another place for the bolt",
                "warn",
            )


def _round(site: _Site) -> Iterator[FlangeWeld]:
    """Yield the welds of round pipes on the side where they stand."""
    return (weld for weld in site.welds if weld.girth is None)


def _beside(hole: BoltHole, weld: FlangeWeld, site: _Site) -> float:
    """Return how far, mm, a bolt's axis is from a pipe's outside."""
    return float(np.hypot(*np.subtract(hole.at, _at(weld, site.plate)))) - weld.r_out


def _span(site: _Site) -> float:
    """Return the longest of the shortest ways, mm, that tie all bolts together (a least spanning tree)."""
    at = np.array([complex(*hole.at) for hole in site.holes])
    if at.size < 2:
        return 0.0
    near, longest = np.abs(at - at[0]), 0.0
    tied = np.zeros(at.size, dtype=np.bool_)
    tied[0] = True
    for _ in range(at.size - 1):
        following = int(np.argmin(np.where(tied, np.inf, near)))
        longest = max(longest, float(near[following]))
        tied[following] = True
        near = np.minimum(near, np.abs(at - at[following]))
    return longest
