"""Placing runs: frames carried along the gas, `each` spread over ports, `fill` and `aim` resolved."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Any

import numpy as np

from rootgap import stock
from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.openings import placed as turned
from rootgap.layout.access import Access, place_access
from rootgap.layout.aim import axis_reach
from rootgap.layout.closing import closing
from rootgap.layout.collector import Collector, place_collector
from rootgap.layout.divider import place_divider
from rootgap.layout.envelope import Envelope, place_envelopes
from rootgap.layout.fixture import Fixture, place_fixtures
from rootgap.layout.keepout import Keepout, place_keepouts
from rootgap.layout.mates import mates_of
from rootgap.layout.motion import Motion, place_motion
from rootgap.layout.onsheet import hold_pieces
from rootgap.layout.pieces import (
    MOST,
    PLACERS,
    RADII,
    Cap,
    Closure,
    Divider,
    FixturePlate,
    Lobes,
    Member,
    Mouth,
    Piece,
    Plate,
    Site,
    Straight,
    Tubular,
    place_disc,
)
from rootgap.layout.route import Asked, Ends, Sought, Surroundings, landings, seek
from rootgap.layout.run import After, Begins, Face, Outlet, Port, Run, Salvage, Salvaged, Side, flanges_of
from rootgap.spec import (
    Assembly,
    CopeEnd,
    DiscEnd,
    FacePose,
    FlangeEnd,
    MergeEnd,
    MitreSpec,
    Pose,
    RunSpec,
    SideStart,
    StandingTurbo,
    StandingWastegate,
    StraightSpec,
)
from rootgap.spec.assembly import as_measured
from rootgap.spec.fields import LEAST_BEND
from rootgap.spec.mount import HeatSpec
from rootgap.spec.order import aimed, following
from rootgap.spec.pieces import PieceSpec
from rootgap.spec.route import Landing, RouteSpec
from rootgap.spec.table import TablePart
from rootgap.stock import PipeStock

#: The head frame: origin at the flange's datum, x right, y up, z towards you.
HEAD = Frame.looking((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
_CIRCLE = "these runs start at or end on each other in a circle"


@dataclass(frozen=True, eq=False)
class Layout:
    """Everything placed. runs by name, in the order of the file; plates: all flanges by name;
    collectors and salvaged pieces by name; keepouts: bodies that metal stays clear of, by name; dividers: plates
    that part the gas, by name; table: that plates are cut on, None where the file names none; fixtures: what
    holds it while it is tacked, one for each head flange; motion: of the engine against the chassis; heat: how hot
    the parts get; envelopes: turbos and gates that stand on its flanges; sought: the ways of the runs whose pieces
    were to be found, by name; access: what hands and tools must come at."""

    name: str
    title: str
    runs: Mapping[str, Run]
    plates: Mapping[str, Plate]
    collectors: Mapping[str, Collector]
    keepouts: Mapping[str, Keepout]
    dividers: Mapping[str, Divider] = field(default_factory=dict)
    salvages: Mapping[str, Salvage] = field(default_factory=dict)
    table: TablePart | None = None
    fixtures: tuple[Fixture, ...] = ()
    motion: Motion = field(default_factory=Motion)
    heat: HeatSpec = field(default_factory=HeatSpec)
    envelopes: tuple[Envelope, ...] = ()
    sought: Mapping[str, Sought] = field(default_factory=dict)
    access: Access = field(default_factory=Access)

    @cached_property
    def members(self) -> Mapping[str, Member]:
        """The pieces of all runs, what closes their ends left out, by mark."""
        return {piece.id: piece for run in self.runs.values() for piece in run.pieces}

    @property
    def tools(self) -> tuple[FixturePlate, ...]:
        """The plates of all fixtures, each one's base first."""
        return tuple(plate for fixture in self.fixtures for plate in fixture.plates)

    @property
    def begun(self) -> tuple[str, ...]:
        """The names of the flanges that runs begin on: there the gas comes in."""
        return flanges_of(run.begins for run in self.runs.values())

    @cached_property
    def mates(self) -> Mapping[str, Plate]:
        """The flange that another one is bolted to, by the other's mark: where two runs meet."""
        begun = [self.plates[name] for name in self.begun]
        left = [plate for name, plate in self.plates.items() if name not in self.begun]
        return {plate.id: mate for plate, mate in mates_of(left, begun)}

    @property
    def headed(self) -> tuple[str, ...]:
        """The names of the flanges that heads are behind: those begun that lie on no other flange."""
        mated = {mate.id for mate in self.mates.values()}
        return tuple(name for name in self.begun if self.plates[name].id not in mated)

    def pieces(self) -> Iterator[Piece]:
        """Yield every piece, flanges first, then each run along the gas, then the dividers and the spikes
        inside them."""
        yield from self.plates.values()
        for run in self.runs.values():
            yield from run.along()
        yield from self.dividers.values()
        for collector in self.collectors.values():
            if collector.spike:
                yield collector.spike


@dataclass(frozen=True, eq=False)
class _Member:
    """A run that is to be placed."""

    name: str
    begins: Begins
    spec: RunSpec

    @property
    def needs(self) -> set[str]:
        """Names of the runs that must be placed before it."""
        needs = {self.begins.run} if isinstance(self.begins, After) else set()
        if isinstance(self.begins, Side):
            needs.add(self.begins.off.off)
        if isinstance(self.spec.last, CopeEnd):
            needs.add(self.spec.last.cope)
        return needs

    @property
    def reaches(self) -> str | None:
        """The name of the flange that it finds its way to, None where it ends on none, or places it."""
        last, sought = self.spec.last, self.spec.sought
        finds = bool(aimed(self.spec.pieces)) if sought is None else sought.to is None
        return last.flange if isinstance(last, FlangeEnd) and finds else None


@dataclass(frozen=True, eq=False)
class _Yard:
    """What stands so far. stocks: of the file, by name; heads: the flanges that runs begin on; wanted: ways to look
    for; sought: those that were."""

    assembly: Assembly
    stocks: Mapping[str, PipeStock]
    banks: Mapping[str, Frame]
    plates: dict[str, Plate]
    collectors: Mapping[str, Collector]
    salvages: Mapping[str, Salvage]
    runs: dict[str, Run]
    heads: tuple[Plate, ...]
    wanted: Asked
    sought: dict[str, Sought] = field(default_factory=dict)

    @cached_property
    def keepouts(self) -> Mapping[str, Keepout]:
        """What metal stays clear of, by name. Raises GeometryError."""
        return place_keepouts(self.assembly, self.heads)

    @cached_property
    def motion(self) -> Motion:
        """How the engine moves."""
        return place_motion(self.assembly.mounts, self.heads)


def lay_out(assembly: Assembly, wanted: Asked | None = None) -> Layout:
    """Return the placed pieces of `assembly`. wanted: more ways than one, of a run whose pieces are to be found.

    Raises GeometryError where runs start at each other in a circle, a `fill` has nothing to
    reach, an axis passes its target, or a run that is aimed or sought finds no way.
    """
    members = {member.name: member for member in _members(assembly)}
    yard = _yard(assembly, members, wanted or Asked())
    begun = tuple(yard.plates)
    waiting = dict(members)
    while waiting:
        ready = [
            member
            for member in waiting.values()
            if member.needs <= yard.runs.keys() and (member.reaches is None or member.reaches in yard.plates)
        ]
        if not ready:
            _refuse_unplaced(list(waiting.values()), yard)
            circle = ", ".join(waiting)
            raise GeometryError(circle, _CIRCLE, "give one a start at")
        # What is to keep clear of all the others comes after them.
        told = [member for member in ready if member.spec.sought is None]
        for member in told or ready[:1]:
            del waiting[member.name]
            run = yard.runs[member.name] = _placed(member, yard)
            if run.flange and member.reaches is None:
                _add_plate(run.flange, run.name, yard.plates)
    for name in assembly.flange:
        if name not in yard.plates:
            raise GeometryError(f"flange.{name}", "no run starts or ends on it", "use it or take it out")
    dividers = {name: place_divider(name, spec, yard.runs) for name, spec in assembly.divider.items()}
    _refuse_shared_openings(yard.runs)
    _refuse_equal_marks(yard.runs, yard.plates)
    plates = {name: yard.plates[name] for name in assembly.flange}
    envelopes = place_envelopes(assembly.turbo, assembly.wastegate, yard.plates, begun)
    layout = Layout(
        assembly.name,
        assembly.title,
        {name: yard.runs[name] for name in members},
        plates,
        yard.collectors,
        yard.keepouts,
        dividers,
        yard.salvages,
        assembly.table,
        place_fixtures(assembly.fixture, yard.runs, yard.plates) if assembly.fixture else (),
        yard.motion,
        assembly.heat,
        envelopes,
        yard.sought,
        place_access(assembly, envelopes),
    )
    if assembly.table:
        hold_pieces((*layout.pieces(), *layout.tools), assembly.table)
    return layout


def _yard(assembly: Assembly, members: Mapping[str, _Member], wanted: Asked) -> _Yard:
    """Return what stands before any run does. wanted: as in lay_out."""
    banks = {name: Frame.looking(bank.at, bank.out, bank.up) for name, bank in assembly.bank.items()}
    frames = {bank.flange: banks[name] for name, bank in assembly.bank.items()}
    begun = flanges_of(member.begins for member in members.values())
    plates = {
        name: Plate(f"flange.{name}", assembly.flange[name], frames.get(name, HEAD))
        for name in assembly.flange
        if name in begun
    }
    return _Yard(
        assembly,
        {name: spec.bought for name, spec in assembly.stock.items()},
        banks,
        plates,
        {
            name: place_collector(name, spec, _last_stock(assembly, members[spec.legs[0]].spec), _pose(spec, banks))
            for name, spec in assembly.collector.items()
        },
        {name: Salvage(name, spec, _pose(spec, banks)) for name, spec in assembly.salvage.items()},
        {},
        tuple(plates.values()),
        wanted,
    )


class Placer:
    """Places the runs of an assembly one at a time, so that one whose file's values have not changed need not be
    placed again."""

    def __init__(self, assembly: Assembly) -> None:
        """Take the runs of `assembly` and all that stands before them. Raises GeometryError."""
        self._members = {member.name: member for member in _members(assembly)}
        self._yard = _yard(assembly, self._members, Asked())

    @property
    def specs(self) -> Mapping[str, RunSpec]:
        """The spec of every run, `each` spread over its ports, by name in the order of the file."""
        return {name: member.spec for name, member in self._members.items()}

    @property
    def keepouts(self) -> Mapping[str, Keepout]:
        """What metal stays clear of, by name."""
        return self._yard.keepouts

    @property
    def motion(self) -> Motion:
        """How the engine moves on its mounts."""
        return self._yard.motion

    @property
    def heat(self) -> HeatSpec:
        """How hot the parts get."""
        return self._yard.assembly.heat

    @property
    def plates(self) -> tuple[Plate, ...]:
        """The flanges that runs begin on."""
        return tuple(self._yard.plates.values())

    @cached_property
    def placing(self) -> Mapping[str, str]:
        """The run that places each flange on which runs end, by its name."""
        return {
            member.spec.last.flange: name
            for name, member in self._members.items()
            if isinstance(member.spec.last, FlangeEnd) and member.reaches is None
        }

    @cached_property
    def needs(self) -> Mapping[str, tuple[str, ...]]:
        """The runs that each run needs in place, by name, those that are placed first in front.

        Raises GeometryError where they need each other in a circle.
        """
        needs = {
            name: member.needs | {self.placing[flange] for flange in (member.reaches or "",) if flange in self.placing}
            for name, member in self._members.items()
        }
        for name, member in self._members.items():
            if member.spec.sought is not None:
                # It is found a way clear of all that does not wait for it.
                needs[name] = needs[name] | {other for other in needs if name not in _all_needed(other, needs)} - {name}
        for name, member in self._members.items():
            if member.spec.sought is not None:
                # It keeps clear of all that does not wait for it.
                needs[name] |= needs.keys() - _waiting_for(name, needs)
        found: dict[str, tuple[str, ...]] = {}
        while len(found) < len(needs):
            ready = [name for name in needs if name not in found and needs[name] <= found.keys()]
            if not ready:
                circle = ", ".join(name for name in needs if name not in found)
                raise GeometryError(circle, _CIRCLE, "give one a start at")
            found |= {name: tuple(sorted(needs[name])) for name in ready}
        return found

    @property
    def standing(self) -> Mapping[str, StandingTurbo | StandingWastegate]:
        """The spec of everything that stands on a flange, by its mark."""
        assembly = self._yard.assembly
        return {
            **{f"turbo.{name}": spec for name, spec in assembly.turbo.items()},
            **{f"wastegate.{name}": spec for name, spec in assembly.wastegate.items()},
        }

    def stand(self, mark: str, spec: StandingTurbo | StandingWastegate, run: Run) -> Envelope:
        """Return what stands on the flange that `run` ends on. Raises GeometryError."""
        plates = {spec.on: run.flange} if run.flange else self._yard.plates
        name = mark.partition(".")[2]
        turbos = {name: spec} if isinstance(spec, StandingTurbo) else {}
        gates = {name: spec} if isinstance(spec, StandingWastegate) else {}
        return place_envelopes(turbos, gates, plates, tuple(self._yard.plates))[0]

    def place(self, name: str, spec: RunSpec, before: Mapping[str, Run]) -> Run:
        """Return the run `name` as `spec` has it. before: the runs that it needs, in place. Raises GeometryError."""
        plates = {run.flange.id.removeprefix("flange."): run.flange for run in before.values() if run.flange}
        yard = replace(self._yard, plates={**self._yard.plates, **plates}, runs=dict(before))
        begins = self._members[name].begins if spec.start is None else _begins(spec.start)
        return _placed(_Member(name, begins, spec), yard)


def _waiting_for(name: str, needs: Mapping[str, set[str]]) -> set[str]:
    """Return the runs that can only be placed after the run `name`, itself among them."""
    found = {name}
    while more := {other for other, before in needs.items() if before & found} - found:
        found |= more
    return found


def _refuse_unplaced(waiting: Sequence[_Member], yard: _Yard) -> None:
    """Raise GeometryError where a run finds its way to a flange that no run places."""
    placing = {
        member.spec.last.flange
        for member in waiting
        if isinstance(member.spec.last, FlangeEnd) and member.reaches is None
    }
    for member in waiting:
        if member.reaches is not None and member.reaches not in placing | yard.plates.keys():
            raise GeometryError(
                member.name,
                f"finds its way to flange.{member.reaches}, which no run places",
                "end a run of fixed pieces on it first, or give this one pieces of its own",
            )


def _refuse_shared_openings(runs: Mapping[str, Run]) -> None:
    """Raise GeometryError where two runs end on one opening."""
    taken: dict[tuple[str, int], str] = {}
    for run in runs.values():
        for number in run.ports if run.flange else ():
            first = taken.setdefault((run.flange.id if run.flange else "", number), run.name)
            if first != run.name:
                raise GeometryError(
                    run.name,
                    f"ends on opening {number} of {run.flange.id if run.flange else ''}, as {first} does",
                    "end one of them on another opening: port = ...",
                )


def _add_plate(plate: Plate, run: str, plates: dict[str, Plate]) -> None:
    """Put a run's own flange among the `plates`. Raises GeometryError where it is in place already."""
    name = plate.id.removeprefix("flange.")
    if name in plates:
        raise GeometryError(
            run,
            f"flange {name} is already in place",
            'give this end a flange of its own, or let it find its way there: two elbows with angle = "aim"',
        )
    plates[name] = plate


def _refuse_equal_marks(runs: Mapping[str, Run], plates: Mapping[str, Plate]) -> None:
    """Raise GeometryError where two pieces bear one mark."""
    seen: set[str] = set()
    for piece in (*plates.values(), *(piece for run in runs.values() for piece in run.along())):
        if piece.id in seen:
            raise GeometryError(piece.id, "two pieces would bear this mark", "give one of the runs another name")
        seen.add(piece.id)


def _members(assembly: Assembly) -> Iterator[_Member]:
    """Yield every run, `each` spread over its ports."""
    for name, spec in assembly.run.items():
        if spec.each is not None:
            flange = spec.each.partition(".")[0]
            for number in range(1, len(assembly.flange[flange].port) + 1):
                yield _Member(f"{name}.{number}", Port(flange, number), spec.member(number))
        elif spec.start is not None:
            yield _Member(name, _begins(spec.start), spec)


def _begins(start: Pose | SideStart | FacePose | str) -> Begins:
    if isinstance(start, str):
        return _place(start)
    if isinstance(start, SideStart):
        return Side(start)
    return Face(start) if isinstance(start, FacePose) else start


def _place(start: str) -> Begins:
    """Return the place that a file names by a word."""
    flange, _, port = start.rpartition(".port.")
    if flange:
        return Port(flange, int(port))
    if start.endswith(".out"):
        return Outlet(start.removesuffix(".out"))
    if start.endswith(".cut"):
        return Salvaged(start.removesuffix(".cut"))
    return After(start.removesuffix(".end"))


def _stock(assembly: Assembly, spec: RunSpec) -> PipeStock:
    return as_measured(assembly.stock[spec.stock].bought, spec.measured)


def _last_stock(assembly: Assembly, spec: RunSpec) -> PipeStock:
    """Return the stock that a run ends in."""
    found = _stock(assembly, spec)
    for piece in spec.pieces:
        stock = following(piece)
        found = found if stock is None else assembly.stock[stock].bought
    return found


def _placed(member: _Member, yard: _Yard) -> Run:
    """Return a run, every piece placed. Raises GeometryError."""
    name, spec = member.name, member.spec
    bought = _stock(yard.assembly, spec)
    frame = start = _start(member, yard)
    cope = spec.last if isinstance(spec.last, CopeEnd) else None
    if spec.sought is not None:
        yard.sought[name] = _sought(member, spec.sought, bought, start, yard)
    specs = spec.pieces if spec.sought is None else yard.sought[name].pieces
    where = aimed(specs)
    pieces: list[Member] = []
    corners: dict[int, MitreSpec] = {}
    for index in range(len(specs)):
        if where and index == where[0]:
            specs = _aimed(f"{name}-{_letters(len(pieces))}", specs, where, bought, frame, _goal(member, yard))
        piece = specs[index]
        if isinstance(piece, MitreSpec):
            corners[len(pieces) - 1] = piece
            frame = frame.bent(0.0, piece.mitre, piece.clock)
            bought = bought if piece.stock is None else yard.stocks[piece.stock]
            continue
        mark = f"{name}-{_letters(len(pieces))}"
        last = index + 1 == len(specs)
        reach = partial(axis_reach, mark, frame, yard.runs[cope.cope], cope.set_, pieces) if cope and last else None
        marks = partial(_mark, name, len(pieces))
        mouth = None if pieces else _mouth(member.begins, yard)
        made_of = as_measured(bought, getattr(piece, "measured", None))
        site = Site(mark, name, made_of, frame, reach, yard.stocks, yard.assembly.vband, marks, mouth)
        made = PLACERS[type(piece)](piece, site)
        placed = made if isinstance(made, tuple) else (made,)
        pieces.extend(placed)
        frame = placed[-1].end
        if placed[-1].leaves is not placed[-1].stock:
            bought = placed[-1].leaves
    seat = frame
    if spec.sought is not None and spec.sought.to is not None:
        # What stands there is turned as the file says, however the way came round.
        seat = Frame.looking(frame.origin, frame.axis, _pose(spec.sought.to, yard.banks).ref)
    return Run(
        name,
        tuple(pieces),
        start,
        member.begins,
        corners,
        _closure(spec.first, name, "cap", _capped(pieces[0], yard, spec), _reversed(start)),
        _closure(spec.last, name, "end", pieces[-1].leaves, frame),
        cope,
        _flange(spec.last, yard, seat, reaches=member.reaches) if isinstance(spec.last, FlangeEnd) else None,
        spec.last.ports if isinstance(spec.last, FlangeEnd) else (),
        spec.last.merge if isinstance(spec.last, MergeEnd) else None,
    )


def _start(member: _Member, yard: _Yard) -> Frame:
    """Return the frame at which a run begins. Raises GeometryError."""
    return STARTS[type(member.begins)](member.name, member.begins, yard)


def _at_port(_name: str, begins: Port, yard: _Yard) -> Frame:
    plate = yard.plates[begins.flange]
    return plate.at(*plate.part.port[begins.number - 1].at).advanced(-plate.sunk((begins.number,)))


def _after(name: str, before: Run) -> Frame:
    """Return the frame at the end of a run. Raises GeometryError where that is closed for good."""
    if before.half:
        raise GeometryError(
            name,
            f"starts at the end of {before.half.id}, which a half disc closes",
            f'let it leave its side: start = {{ off = "{before.name}", station = ... }}',
        )
    return before.end


def _on_face(pose: FacePose, plate: Plate) -> Frame:
    """Return the frame of a pose on a flange's face; clock 0 faces away from it."""
    at = plate.at(*pose.from_)
    along = pose.along[0] * plate.right + pose.along[1] * at.ref
    return Frame.looking(at.origin, along, at.axis)


def _mouth(begins: Begins, yard: _Yard) -> Mouth | Lobes | None:
    """Return the opening that a run begins at, None where it begins at none."""
    if isinstance(begins, Port):
        plate = yard.plates[begins.flange]
        port = plate.part.port[begins.number - 1]
        return Mouth(turned(port.opening.opening().shape(), angle=port.angle), plate.part.thickness)
    if isinstance(begins, Salvaged):
        return Mouth(yard.salvages[begins.salvage].opening.shape())
    if isinstance(begins, Outlet):
        collector = yard.collectors[begins.collector]
        return Lobes(collector.opening, collector.stock)
    return None


def _pose(pose: Pose, banks: Mapping[str, Frame]) -> Frame:
    """Return the frame of a pose, given in a bank's frame or in the engine's."""
    if pose.bank is None:
        return Frame.looking(pose.at, pose.along, pose.ref)
    bank = banks[pose.bank]
    axes = np.array([-bank.side, bank.ref, bank.axis])
    ref = bank.ref if pose.ref is None else np.array(pose.ref) @ axes
    along = unit(np.array(pose.along) @ axes)
    if pose.ref is None and np.linalg.norm(np.cross(along, ref)) < np.sin(np.radians(LEAST_BEND)):
        ref = bank.axis
    return Frame.looking(bank.origin + np.array(pose.at) @ axes, along, ref)


def _off(name: str, off: SideStart, target: Run) -> Frame:
    """Return the frame at which a run leaves the side of `target`: where its axis comes out of the metal; clock 0
    is the target's gas. Raises GeometryError where the station lies beyond the target."""
    found = target.at(off.station)
    if found is None:
        raise GeometryError(
            name,
            f"leaves {target.name} at {off.station:.1f} mm; it is {target.length:.1f} mm long",
            f"make the station at most {target.length:.1f} mm",
        )
    piece, station = found
    if not isinstance(piece, Tubular) or (isinstance(piece, Straight) and piece.formed):
        raise GeometryError(
            name,
            f"leaves {target.name} at {piece.id}, which is no plain pipe",
            "move its station onto a pipe or a bend",
        )
    at = piece.tube.at(station)
    out, lean = at.radial(np.radians(off.clock)), np.radians(off.lean)
    axis = unit(np.sin(lean) * out + np.cos(lean) * at.axis)
    ref = np.sin(lean) * at.axis - np.cos(lean) * out
    return Frame.looking(at.origin + piece.stock.r_out / np.sin(lean) * axis, axis, ref)


def _goal(member: _Member, yard: _Yard) -> Frame:
    """Return the frame at which a run is to end: any clock will do."""
    last = member.spec.last
    if isinstance(last, MergeEnd):
        return yard.collectors[last.merge].leg(member.name)
    if isinstance(last, FlangeEnd):
        return _facing(yard.plates[last.flange], last.ports)
    raise GeometryError(
        member.name, "its aimed elbows have nothing to reach", "end it on a collector (merge), or on a flange in place"
    )


def _sought(member: _Member, spec: RouteSpec, pipe: PipeStock, start: Frame, yard: _Yard) -> Sought:
    """Return the ways of a run that is to be found one, and the one that it takes. Raises GeometryError."""
    last = member.spec.last
    first = ends = None
    if isinstance(member.begins, Side):
        first = spec.shortest + _beside(pipe.r_out, member.begins.off.lean)
    joined: set[str] = set()
    fills = isinstance(last, CopeEnd)
    if spec.to is not None:
        goals: tuple[Frame, ...] = (_pose(spec.to, yard.banks),)
    elif isinstance(last, CopeEnd):
        target, land = yard.runs[last.cope], spec.land or Landing()
        goals = landings(target, land, pipe.r_out, lambda place: _off(member.name, place, target))
        ends = spec.shortest + _beside(pipe.r_out, land.lean)
        joined.add(last.cope)
    else:
        goals = (_goal(member, yard),)
    if isinstance(last, MergeEnd):
        collector = yard.collectors[last.merge]
        ends = spec.shortest + collector.parted
        joined |= {*collector.spec.legs, *(run.name for run in yard.runs.values() if run.begins == Outlet(last.merge))}
    if member.reaches is not None:
        joined.add(f"flange.{member.reaches}")
    around = Surroundings(
        yard.keepouts,
        yard.motion,
        pipe.material.growth(yard.assembly.heat.cold, yard.assembly.heat.pipe),
        tuple(yard.runs.values()),
        tuple(yard.plates.values()),
        yard.heads,
        _standing(yard),
        _begins_on(member, yard),
        frozenset(joined),
        frozenset(run.name for run in yard.runs.values() if _shares(run, member)),
    )
    asked = Ends(first, ends, fills=fills, meets=spec.to is None and not fills)
    return seek(member.name, spec, pipe, start, goals, asked, around, yard.wanted.of(member.name))


def _beside(r_out: float, lean: float) -> float:
    """Return how much longer a leaning branch of radius `r_out` is on its axis than on its short side, mm."""
    return r_out * abs(float(np.cos(np.radians(lean)) / np.sin(np.radians(lean))))


def _shares(run: Run, member: _Member) -> bool:
    """Tell whether a run begins or ends on a flange that a member does too."""
    ports = [place.flange for place in (run.begins, member.begins) if isinstance(place, Port)]
    begins = len(ports) == 2 and ports[0] == ports[1]
    return begins or (run.flange is not None and run.flange.id == f"flange.{member.reaches}")


def _begins_on(member: _Member, yard: _Yard) -> frozenset[str]:
    """Return the names of the runs, or the mark of the flange, that a run begins at."""
    begins = member.begins
    if isinstance(begins, Port | Face):
        return frozenset({f"flange.{begins.flange}"})
    if isinstance(begins, Outlet):
        return frozenset(yard.collectors[begins.collector].spec.legs)
    if isinstance(begins, Side):
        return frozenset({begins.off.off})
    return frozenset({begins.run} if isinstance(begins, After) else ())


def _all_needed(name: str, needs: Mapping[str, set[str]]) -> set[str]:
    """Return the runs that a run needs in place, and those that these need."""
    found: set[str] = set()
    waiting = [name]
    while waiting:
        further = needs[waiting.pop()] - found
        found |= further
        waiting += sorted(further)
    return found


def _standing(yard: _Yard) -> tuple[Envelope, ...]:
    """Return what stands on the flanges that are in place."""
    turbos = {name: use for name, use in yard.assembly.turbo.items() if use.on in yard.plates}
    gates = {name: use for name, use in yard.assembly.wastegate.items() if use.on in yard.plates}
    return place_envelopes(turbos, gates, yard.plates, ())


def _aimed(
    mark: str,
    specs: Sequence[PieceSpec],
    where: Sequence[int],
    pipe: PipeStock,
    start: Frame,
    goal: Frame,
) -> tuple[PieceSpec, ...]:
    """Return the pieces with the angles, clocks and length that lead from `start` to `goal`.

    Raises GeometryError where there is no room, or a bend must turn farther than it can.
    """
    rest = sum(float(piece.straight) for piece in specs[where[1] + 1 :] if isinstance(piece, StraightSpec))
    radii = [RADII[type(specs[index])](specs[index], mark, pipe) for index in where]
    found = closing(mark, start, goal.advanced(-rest), (radii[0], radii[1]))
    changed: dict[int, dict[str, Any]] = {where[0] + 1: {"straight": found.length}}
    for index, angle, clock in zip(where, found.angles, found.clocks, strict=True):
        most = MOST[type(specs[index])](specs[index])
        if not LEAST_BEND <= angle <= most:
            raise GeometryError(
                mark,
                f"its aimed bend must turn {angle:.1f} degrees; allowed {LEAST_BEND:g} to {most:g}",
                "turn it part of the way with a piece before, or move where it ends",
            )
        changed[index] = {"angle": angle, "clock": clock}
    return tuple(
        piece.model_copy(update=changed[index]) if index in changed else piece for index, piece in enumerate(specs)
    )


def _facing(plate: Plate, ports: Sequence[int]) -> Frame:
    """Return the frame in the middle of some of a plate's openings, on the face where the gas comes in."""
    x, y = np.mean([plate.part.port[number - 1].at for number in ports], axis=0)
    face = plate.at(float(x), float(y))
    return face.advanced(plate.sunk(ports) - plate.part.thickness)


def _flange(end: FlangeEnd, yard: _Yard, frame: Frame, *, reaches: str | None) -> Plate:
    """Return the flange of a run's end: the one that it reaches, or its own with its openings on the run's axis."""
    if reaches is not None:
        return yard.plates[reaches]
    part = yard.assembly.flange[end.flange]
    turned = frame.clocked(end.clock)
    x, y = np.mean([part.port[number - 1].at for number in end.ports], axis=0)
    origin = turned.origin - y * turned.ref + x * turned.side
    plate = Plate(f"flange.{end.flange}", part, Frame(origin, turned.axis, turned.ref))
    return replace(plate, start=plate.start.advanced(-plate.sunk(end.ports)))


def _closure(end: object, run: str, word: str, pipe: PipeStock, frame: Frame) -> Closure | None:
    """Return what closes an end of a run, its mark ending in `word`: None where nothing does. Raises GeometryError."""
    mark = f"{run}-{word}"
    if isinstance(end, DiscEnd):
        return place_disc(end, mark, run, pipe, frame)
    return _cap(mark, run, pipe, frame) if end == "cap" else None


def _capped(first: Member, yard: _Yard, spec: RunSpec) -> PipeStock:
    """Return the stock whose cap closes a run's start: of a passage of sheet that which it begins as."""
    return first.stock if isinstance(first, Tubular) else _stock(yard.assembly, spec)


def _cap(mark: str, run: str, pipe: PipeStock, frame: Frame) -> Cap:
    if pipe.nps is None:
        raise GeometryError(mark, f"{pipe.label} has no butt-weld cap", "use pipe of a nominal size for this run")
    return Cap(mark, run, pipe, frame, stock.cap(pipe.nps, pipe.wall).length)


def _reversed(frame: Frame) -> Frame:
    return Frame(frame.origin, -frame.axis, frame.ref)


def _mark(run: str, first: int, further: int) -> str:
    """Return the mark of the piece of `run` that stands `further` pieces after its piece number `first`."""
    return f"{run}-{_letters(first + further)}"


def _letters(index: int) -> str:
    """Return a, b to z, aa, ab and so on for 0, 1 and so on."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


#: Where a run starts, by the class of what it begins at.
STARTS: Mapping[type, Callable[[str, Any, _Yard], Frame]] = {
    Port: _at_port,
    After: lambda name, begins, yard: _after(name, yard.runs[begins.run]),
    Outlet: lambda _, begins, yard: yard.collectors[begins.collector].end,
    Salvaged: lambda _, begins, yard: yard.salvages[begins.salvage].frame,
    Side: lambda name, begins, yard: _off(name, begins.off, yard.runs[begins.off.off]),
    Face: lambda _, begins, yard: _on_face(begins.pose, yard.plates[begins.flange]),
    Pose: lambda _, begins, yard: _pose(begins, yard.banks),
}
