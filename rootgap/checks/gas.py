"""Which outlets does the gas of each port reach, and does a divider keep its two sides apart?

Terminology
    space     what gas fills inside one piece; a divider makes two of it, told by the side of the plate
    way       from one space to another, through a joint
    port      an opening of a flange, or of a salvaged piece, that a run starts at: gas comes in
    outlet    an opening of a flange that a run ends on, or a run's open end: gas leaves
    bridge    a joint at which gas gets round a divider
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.geometry.distance import Union
from rootgap.geometry.frames import Frame
from rootgap.geometry.polygons import inside
from rootgap.joints import (
    Butt,
    Clamp,
    Cope,
    EdgeWeld,
    FlangeWeld,
    Joint,
    Merge,
    Mitre,
    OutletWeld,
    PocketWeld,
    SalvageWeld,
    Slip,
)
from rootgap.layout import After, Divider, Layout, Port, Run, Salvaged

Array = NDArray[np.float64]
#: A space: the mark of its piece, collector or opening, and on which side of each plate in it, +1 or -1.
Space = tuple[str, tuple[int, ...]]
#: Two spaces, and the joint through which gas gets from one to the other.
Way = tuple[Space, Space, str]

SOURCE = "worked out from the layout, no source"
#: An opening is looked at in a grid of so many points each way, in a share of its radius that keeps off its edge.
_GRID = 41
_WITHIN = 0.999
#: How far, mm, chords may lie from a rim that is looked at.
RIM = 0.01


@dataclass(frozen=True)
class Side:
    """Gas that stays together. outlets, ports: what it leaves and comes in by."""

    outlets: tuple[str, ...]
    ports: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Gas:
    """Where the gas of a layout can get to. ways: between spaces; ports, outlets: their spaces by what they are
    called; parted: the two or more spaces that each divider makes of a piece, by its mark."""

    ways: tuple[Way, ...]
    ports: Mapping[str, Space]
    outlets: Mapping[str, Space]
    parted: Mapping[str, tuple[tuple[Space, Space], ...]]

    @cached_property
    def beside(self) -> Mapping[Space, tuple[tuple[Space, str], ...]]:
        """Every space's neighbours, and the joint between."""
        found: dict[Space, list[tuple[Space, str]]] = defaultdict(list)
        for one, other, joint in self.ways:
            found[one].append((other, joint))
            found[other].append((one, joint))
        return {space: tuple(others) for space, others in found.items()}

    def reached(self, start: Space) -> Mapping[Space, tuple[str, ...]]:
        """Return every space that gas gets to from `start`, and the joints on the shortest way there."""
        found: dict[Space, tuple[str, ...]] = {start: ()}
        waiting = deque([start])
        while waiting:
            space = waiting.popleft()
            for other, joint in self.beside.get(space, ()):
                if other not in found:
                    found[other] = (*found[space], joint)
                    waiting.append(other)
        return found

    @cached_property
    def sides(self) -> tuple[Side, ...]:
        """What belongs together: one side where all gas can mix, those with an outlet first."""
        left = {**self.outlets, **self.ports}
        sides: list[Side] = []
        while left:
            here = self.reached(next(iter(left.values())))
            outlets = tuple(name for name, space in self.outlets.items() if space in here)
            ports = tuple(name for name, space in self.ports.items() if space in here)
            sides.append(Side(outlets, ports))
            left = {name: space for name, space in left.items() if space not in here}
        return tuple(sides)

    @property
    def kind(self) -> Literal["divided", "separate", "undivided"]:
        """Divided: into the openings of one flange; separate: each with flanges of its own."""
        fed = [side for side in self.sides if side.ports and side.outlets]
        if len(fed) < 2:
            return "undivided"
        flanges = [{name.partition(".")[0] for name in side.outlets} for side in fed]
        shared = any(one & other for number, one in enumerate(flanges) for other in flanges[:number])
        return "divided" if shared else "separate"

    @property
    def line(self) -> str:
        """Which of them this is, in one line."""
        if not self.ports:
            return "gas: no ports"
        fed = [side for side in self.sides if side.ports]
        if len(fed) == 1:
            return f"gas: undivided{_though(fed[0])}: {_outlets(fed[0])} from {_ports(fed[0])}"
        told = "; ".join(
            f"side {_letter(number)} ({_outlets(side)}) from {_ports(side)}" for number, side in enumerate(fed)
        )
        return f"gas: {self.kind}: {told}"

    def record(self) -> dict[str, Any]:
        """Return the same for a manifest."""
        sides = [{"outlets": list(side.outlets), "ports": list(side.ports)} for side in self.sides]
        return {"kind": self.kind, "line": self.line, "sides": sides}


def _letter(number: int) -> str:
    return chr(ord("A") + number)


def _outlets(side: Side) -> str:
    return ", ".join(side.outlets) or "no outlet"


def _though(side: Side) -> str:
    """Return what is to be said of gas that mixes before a flange with several openings for it."""
    counts = Counter(name.partition(".")[0] for name in side.outlets if not name.partition(".")[2].startswith("end"))
    return "".join(f", though {flange} has {count} openings for it" for flange, count in counts.items() if count > 1)


def _ports(side: Side) -> str:
    return f"port{'' if len(side.ports) == 1 else 's'} {', '.join(side.ports)}"


def gas_of(layout: Layout, joints: Sequence[Joint]) -> Gas:
    """Return where the gas of `layout` can get to."""
    plates: dict[str, list[Divider]] = defaultdict(list)
    for divider in layout.dividers.values():
        for piece in divider.parted:
            plates[piece].append(divider)
    site = _Site(layout, plates)
    through = (way for joint in joints if type(joint) in WAYS for way in WAYS[type(joint)](joint, site))
    ways = tuple(dict.fromkeys(through))
    return Gas(
        ways,
        {mark.removeprefix("flange."): (mark, ()) for mark in _entering(layout, joints)},
        dict(_leaving(layout, ways)),
        {divider.id: tuple(_halves(divider, ways, plates)) for divider in layout.dividers.values()},
    )


def gas_findings(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the outlets that each port reaches, the ports that reach each outlet, the ways round
    each divider, and the ways between the openings of one flange that several runs end on."""
    gas = gas_of(layout, joints)
    if not gas.ports:
        return
    reached = {name: gas.reached(space) for name, space in gas.ports.items()}
    for name, spaces in reached.items():
        count = float(sum(space in spaces for space in gas.outlets.values()))
        advice = "its gas gets nowhere: end its run on another, or on a flange"
        yield at_least("gas gets out", name, count, 1.0, "outlets", SOURCE, "worked out", advice)
    for name, space in gas.outlets.items():
        count = float(sum(space in spaces for spaces in reached.values()))
        advice = "no gas gets there: cover it with the run's bore, or move the divider"
        yield at_least("gas gets in", name, count, 1.0, "ports", SOURCE, "worked out", advice)
    for divider, halves in gas.parted.items():
        bridges = _bridges(gas, halves)
        advice = f"gas gets round it at {', '.join(bridges)}: keep each opening on one side of the plate"
        yield at_most(
            "gas kept apart", divider, float(len(bridges)), 0.0, "bridges", SOURCE, "worked out", advice
        )
    for flange, runs in _shared(layout).items():
        names = [f"{flange}.{number}" for run in runs for number in run.ports]
        for one, other in pairwise(names):
            way = gas.reached(gas.outlets[one]).get(gas.outlets[other], ())
            advice = f"the two mix on the way {', '.join(way)}: part them, or end both on one opening"
            yield at_most(
                "gas kept apart",
                f"{one} and {other}",
                float(bool(way)),
                0.0,
                "bridges",
                SOURCE,
                "worked out",
                advice,
                "warn",
            )


def _shared(layout: Layout) -> Mapping[str, Sequence[Run]]:
    """Return the flanges that several runs end on, each at openings of its own."""
    found: dict[str, list[Run]] = defaultdict(list)
    for run in layout.runs.values():
        if run.flange:
            found[run.flange.id.removeprefix("flange.")].append(run)
    return {flange: runs for flange, runs in found.items() if len(runs) > 1}


def _bridges(gas: Gas, halves: Sequence[tuple[Space, Space]]) -> tuple[str, ...]:
    """Return the joints at which gas gets from one half of a piece to the other: those that touch both sides at
    once where there are any, else all on the shortest way round."""
    local: dict[str, None] = {}
    ways: list[tuple[str, ...]] = []
    for one, other in halves:
        around = gas.reached(one).get(other)
        if around is None:
            continue
        ways.append(around)
        for joint in dict.fromkeys(joint for _, joint in gas.beside[one]):
            alone = replace(gas, ways=tuple(way for way in gas.ways if way[2] == joint))
            if other in alone.reached(one):
                local[joint] = None
    return tuple(local) or (min(ways, key=len) if ways else ())


def _halves(
    divider: Divider, ways: Sequence[Way], plates: Mapping[str, Sequence[Divider]]
) -> Iterator[tuple[Space, Space]]:
    """Yield every two spaces in one piece that a divider alone parts."""
    spaces = dict.fromkeys(space for way in ways for space in way[:2])
    for mark, signs in spaces:
        if divider not in plates.get(mark, ()):
            continue
        index = plates[mark].index(divider)
        other = (mark, (*signs[:index], -signs[index], *signs[index + 1 :]))
        if signs[index] > 0 and other in spaces:
            yield (mark, signs), other


def _entering(layout: Layout, joints: Sequence[Joint]) -> Iterator[str]:
    """Yield the marks of the openings that gas comes in by: a run starts there, or a half pipe lies over it."""
    for run in layout.runs.values():
        if isinstance(run.begins, Port):
            yield f"flange.{run.begins.flange}.{run.begins.number}"
        elif isinstance(run.begins, Salvaged):
            yield run.begins.told
    for joint in joints:
        if isinstance(joint, EdgeWeld):
            yield from (f"{joint.plate}.{number}" for number in joint.ports)


def _leaving(layout: Layout, ways: Sequence[Way]) -> Iterator[tuple[str, Space]]:
    """Yield the name and the space of every opening that gas leaves by."""
    followed = {run.begins.run for run in layout.runs.values() if isinstance(run.begins, After)}
    ends = dict.fromkeys(space for way in ways for space in way[:2])
    for run in layout.runs.values():
        if run.flange:
            for number in run.ports:
                yield f"{run.flange.id.removeprefix('flange.')}.{number}", (f"{run.flange.id}.{number}", ())
        elif not (run.last_cap or run.cope or run.merge or run.half or run.name in followed):
            for mark, signs in ends:
                if mark == run.pieces[-1].id:
                    yield f"{run.name}.end" + "".join("+" if sign > 0 else "-" for sign in signs), (mark, signs)


@dataclass(frozen=True, eq=False)
class _Site:
    """A layout and the plates in each of its pieces, by mark."""

    layout: Layout
    plates: Mapping[str, Sequence[Divider]]

    def spaces(self, piece: str, points: Array) -> list[Space | None]:
        """Return the space of a piece that each of the points, (n, 3), mm, lies in; None inside a plate."""
        plates = self.plates.get(piece, ())
        if not plates:
            return [(piece, ())] * len(points)
        signs = np.column_stack([np.sign(plate.side(points)) for plate in plates]).astype(int)
        return [(piece, tuple(map(int, row))) if row.all() else None for row in signs]

    def meeting(self, joint: str, one: str, other: str, points: Array) -> Iterator[Way]:
        """Yield the ways between two pieces through an opening in which `points`, (n, 3), mm, lie."""
        pairs = dict.fromkeys(zip(self.spaces(one, points), self.spaces(other, points), strict=True))
        for here, there in pairs:
            if here is not None and there is not None:
                yield here, there, joint

    def all_of(self, piece: str, points: Array) -> Iterator[Space]:
        """Yield the spaces of a piece that some of the points, (n, 3), mm, lie in."""
        yield from (space for space in dict.fromkeys(self.spaces(piece, points)) if space is not None)


def _bore(frame: Frame, radius: float) -> Array:
    """Return points, (n, 3), mm, all over a bore of `radius` mm square to a frame."""
    flat = _grid(radius)
    return frame.origin + flat[:, :1] * frame.ref + flat[:, 1:] * frame.side


def _grid(radius: float) -> Array:
    """Return points, (n, 2), mm, evenly over a disc."""
    line = np.linspace(-radius, radius, _GRID)
    flat = np.stack(np.meshgrid(line, line), axis=-1).reshape(-1, 2)
    rim = radius * _WITHIN * np.exp(2j * np.pi * np.arange(360) / 360)
    inside = flat[np.hypot(*flat.T) < radius * _WITHIN]
    return np.vstack([inside, np.column_stack([rim.real, rim.imag])])


def _through_butt(joint: Butt, site: _Site) -> Iterator[Way]:
    yield from site.meeting(joint.id, joint.before, joint.after, _bore(joint.frame, min(joint.r_in)))


def _through_mitre(joint: Mitre, site: _Site) -> Iterator[Way]:
    before, after = joint.before, joint.after
    corner = before.at(before.length)
    yield from site.meeting(joint.id, before.piece, after.piece, _bore(corner, min(before.r_in, after.r_in)))


def _through_cope(joint: Cope, site: _Site) -> Iterator[Way]:
    """Yield the ways through a branch's opening, where its bore comes out in its target's."""
    flat = _grid(joint.branch.r_in)
    theta, rho = np.arctan2(flat[:, 1], flat[:, 0]), np.hypot(*flat.T)
    points = joint.inside.points(theta, rho)
    points = points[np.isfinite(points).all(axis=1)]
    if joint.crowd:
        points = points[Union(joint.crowd).distance(points) > 0.0]
    yield from site.meeting(joint.id, joint.branch.piece, joint.target.piece, points)


def _through_flange(joint: FlangeWeld, site: _Site) -> Iterator[Way]:
    """Yield the ways from a pipe to every opening that its bore covers some of."""
    plate = next(plate for plate in site.layout.plates.values() if plate.id == joint.plate)
    points, face = _bore(joint.frame, joint.r_in), (plate.right, plate.start.ref)
    flat = np.column_stack([(points - plate.start.origin) @ way for way in face])
    for number in joint.ports:
        rim = plate.openings[number - 1].points(RIM)
        edge = plate.start.origin + rim @ np.array(face)
        in_bore = np.linalg.norm(np.cross(edge - joint.frame.origin, joint.frame.axis), axis=1) < joint.r_in
        for space in site.all_of(joint.pipe, np.vstack([points[inside(flat, rim)], edge[in_bore]])):
            yield space, (f"{plate.id}.{number}", ()), joint.id


def _through_clamp(joint: Clamp, site: _Site) -> Iterator[Way]:
    yield from site.meeting(joint.id, joint.before, joint.after, _bore(joint.frame, min(joint.r_in)))


def _into_ring(joint: PocketWeld, site: _Site) -> Iterator[Way]:
    yield from site.meeting(joint.id, joint.pipe, joint.ring, _bore(joint.frame, joint.r_in))


def _through_slip(joint: Slip, site: _Site) -> Iterator[Way]:
    """Yield the ways from pipe to pipe: their own ends, which the sleeve goes over, face each other."""
    before, after = (site.layout.members[mark] for mark in (joint.before, joint.after))
    bore = _bore(joint.frame, min(before.leaves.r_in, after.stock.r_in))
    yield from site.meeting(joint.id, joint.before, joint.after, bore)


def _into_half(joint: EdgeWeld, site: _Site) -> Iterator[Way]:
    """Yield the ways from the openings that a half pipe covers."""
    for plate in site.layout.plates.values():
        if plate.id == joint.plate:
            for number in joint.ports:
                for space in site.all_of(joint.half, plate.placed(plate.openings[number - 1].points(RIM))):
                    yield (f"{plate.id}.{number}", ()), space, joint.id


def _from_salvage(joint: SalvageWeld, site: _Site) -> Iterator[Way]:
    """Yield the ways from a salvaged piece to each space of what stands on it."""
    for space in site.all_of(joint.after, _bore(joint.frame, min(joint.girths) / (2.0 * np.pi))):
        yield (joint.salvage, ()), space, joint.id


def _through_merge(joint: Merge, site: _Site) -> Iterator[Way]:
    for leg in joint.legs:
        tube = leg.tube
        for space in site.all_of(tube.piece, _bore(tube.at(tube.length), tube.r_in)):
            yield space, (joint.id, ()), joint.id


def _from_merge(joint: OutletWeld, site: _Site) -> Iterator[Way]:
    """Yield the ways from a collector to each space of what follows."""
    piece = site.layout.members[joint.after]
    for space in site.all_of(piece.id, _bore(piece.start, piece.stock.r_in)):
        yield (joint.merge.id, ()), space, joint.id


#: The ways through a joint, by its class; through any other no gas passes.
WAYS: Mapping[type, Callable[[Any, _Site], Iterator[Way]]] = {
    Butt: _through_butt,
    Mitre: _through_mitre,
    Cope: _through_cope,
    FlangeWeld: _through_flange,
    Clamp: _through_clamp,
    PocketWeld: _into_ring,
    Slip: _through_slip,
    EdgeWeld: _into_half,
    SalvageWeld: _from_salvage,
    Merge: _through_merge,
    OutletWeld: _from_merge,
}
