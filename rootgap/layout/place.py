"""Placing runs: frames carried along the gas, `each` spread over ports, `fill` resolved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from rootgap import stock
from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.layout.aim import axis_reach
from rootgap.layout.pieces import PLACERS, Cap, Member, Piece, Plate, Site
from rootgap.layout.run import Keepout, Port, Run
from rootgap.spec import Assembly, CopeEnd, FlangeEnd, Pose, RunSpec
from rootgap.spec.assembly import as_measured
from rootgap.stock import PipeStock

#: The head frame: origin at the flange's datum, x right, y up, z towards you.
HEAD = Frame.looking((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))


@dataclass(frozen=True, eq=False)
class Layout:
    """Everything placed. runs by name, in the order of the file; plates: all flanges by name;
    keepouts: bodies that metal stays clear of, by name."""

    name: str
    title: str
    runs: Mapping[str, Run]
    plates: Mapping[str, Plate]
    keepouts: Mapping[str, Keepout]

    def pieces(self) -> Iterator[Piece]:
        """Yield every piece, flanges first, then each run along the gas."""
        yield from self.plates.values()
        for run in self.runs.values():
            yield from run.along()


def lay_out(assembly: Assembly) -> Layout:
    """Return the placed pieces of `assembly`.

    Raises GeometryError where runs start at each other in a circle, a `fill` has nothing to
    reach, or an axis passes its target.
    """
    members = dict(_members(assembly))
    plates = {
        name: Plate(f"flange.{name}", assembly.flange[name], HEAD)
        for name in assembly.flange
        if any(begins.flange == name for begins, _ in members.values() if isinstance(begins, Port))
    }
    runs: dict[str, Run] = {}
    waiting = dict(members)
    while waiting:
        ready = [name for name, (begins, spec) in waiting.items() if _needs(begins, spec) <= runs.keys()]
        if not ready:
            circle = ", ".join(waiting)
            raise GeometryError(circle, "these runs start at or end on each other in a circle", "give one a start at")
        for name in ready:
            begins, spec = waiting.pop(name)
            runs[name] = _placed(name, begins, spec, assembly, plates, runs)
    for run in runs.values():
        if run.flange is None:
            continue
        name = run.flange.id.removeprefix("flange.")
        if name in plates:
            raise GeometryError(run.name, f"flange {name} is already in place", "give this end a flange of its own")
        plates[name] = run.flange
    for name in assembly.flange:
        if name not in plates:
            raise GeometryError(f"flange.{name}", "no run starts or ends on it", "use it or take it out")
    _refuse_equal_marks(runs, plates)
    return Layout(
        assembly.name,
        assembly.title,
        {name: runs[name] for name in members},
        {name: plates[name] for name in assembly.flange},
        {name: Keepout(keepout.body(), keepout.clearance) for name, keepout in assembly.keepout.items()},
    )


def _refuse_equal_marks(runs: Mapping[str, Run], plates: Mapping[str, Plate]) -> None:
    """Raise GeometryError where two pieces bear one mark."""
    seen: set[str] = set()
    for piece in (*plates.values(), *(piece for run in runs.values() for piece in run.along())):
        if piece.id in seen:
            raise GeometryError(piece.id, "two pieces would bear this mark", "give one of the runs another name")
        seen.add(piece.id)


def _members(assembly: Assembly) -> Iterator[tuple[str, tuple[Port | Pose | str, RunSpec]]]:
    """Yield (name, (where it begins, spec)) of every run, `each` spread over its ports."""
    for name, spec in assembly.run.items():
        if spec.each is not None:
            flange = spec.each.partition(".")[0]
            for number in range(1, len(assembly.flange[flange].port) + 1):
                yield f"{name}.{number}", (Port(flange, number), spec.member(number))
        elif isinstance(spec.start, Pose):
            yield name, (spec.start, spec)
        else:
            place = str(spec.start)
            flange, _, port = place.rpartition(".port.")
            yield name, (Port(flange, int(port)) if flange else place.removesuffix(".end"), spec)


def _needs(begins: Port | Pose | str, spec: RunSpec) -> set[str]:
    """Return the names of the runs that must be placed before this one."""
    needs = {begins} if isinstance(begins, str) else set()
    return needs | {spec.last.cope} if isinstance(spec.last, CopeEnd) else needs


def _placed(
    name: str,
    begins: Port | Pose | str,
    spec: RunSpec,
    assembly: Assembly,
    plates: Mapping[str, Plate],
    runs: Mapping[str, Run],
) -> Run:
    bought = as_measured(assembly.stock[spec.stock].bought, spec.measured)
    frame = start = _start(begins, plates, runs)
    cope = spec.last if isinstance(spec.last, CopeEnd) else None
    pieces: list[Member] = []
    for index, piece in enumerate(spec.pieces):
        mark = f"{name}-{_letters(index)}"
        last = index + 1 == len(spec.pieces)
        reach = partial(axis_reach, mark, frame, runs[cope.cope], cope) if cope and last else None
        site = Site(mark, name, as_measured(bought, piece.measured), frame, reach)
        placed = PLACERS[type(piece)](piece, site)
        pieces.append(placed)
        frame = placed.end
    return Run(
        name,
        tuple(pieces),
        start,
        None if isinstance(begins, Pose) else begins,
        _cap(f"{name}-cap", name, pieces[0].stock, _reversed(start)) if spec.first == "cap" else None,
        _cap(f"{name}-end", name, pieces[-1].stock, frame) if spec.last == "cap" else None,
        cope,
        _flange(spec.last, assembly, frame) if isinstance(spec.last, FlangeEnd) else None,
    )


def _start(begins: Port | Pose | str, plates: Mapping[str, Plate], runs: Mapping[str, Run]) -> Frame:
    if isinstance(begins, Pose):
        return Frame.looking(begins.at, begins.along, begins.ref)
    if isinstance(begins, str):
        return runs[begins].end
    plate = plates[begins.flange]
    return plate.at(*plate.part.port[begins.number - 1].at)


def _flange(end: FlangeEnd, assembly: Assembly, frame: Frame) -> Plate:
    """Return the flange of a run's end, its first port on the run's axis."""
    part = assembly.flange[end.flange]
    turned = frame.clocked(end.clock)
    x, y = part.port[0].at
    origin = turned.origin - y * turned.ref + x * turned.side
    return Plate(f"flange.{end.flange}", part, Frame(origin, turned.axis, turned.ref))


def _cap(mark: str, run: str, pipe: PipeStock, frame: Frame) -> Cap:
    if pipe.nps is None:
        raise GeometryError(mark, f"{pipe.label} has no butt-weld cap", "use pipe of a nominal size for this run")
    return Cap(mark, run, pipe, frame, stock.cap(pipe.nps, pipe.wall).length)


def _reversed(frame: Frame) -> Frame:
    return Frame(frame.origin, -frame.axis, frame.ref)


def _letters(index: int) -> str:
    """Return a, b to z, aa, ab and so on for 0, 1 and so on."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters
