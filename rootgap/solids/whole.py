"""The bodies of a whole layout, and their files.

Every coped and drilled body is held against the volume that the closed forms of its joint
give: two ways to one number, in every build.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import cadquery as cq
import numpy as np
from numpy.typing import NDArray

from rootgap.errors import KernelError, WriteError
from rootgap.geometry.distance import Rod
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.paths import Path as Outline
from rootgap.geometry.polygons import inside
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.wall import StraightWall, Wall
from rootgap.joints import Cope, DividerEnd, FlangeWeld, Joint, cut_ends, finished_volume, milled_volume
from rootgap.joints.ends import CutEnd
from rootgap.joints.joint import Which
from rootgap.kept import Kept, fingerprint
from rootgap.layout import (
    Bend,
    Cap,
    Cone,
    Disc,
    Divider,
    Elbow,
    Fixture,
    FixturePlate,
    Flat,
    Half,
    Hull,
    Layout,
    LobedCone,
    Panel,
    Pie,
    Piece,
    Plate,
    Reducer,
    Ring,
    Sleeve,
    Spike,
    Straight,
    Transition,
)
from rootgap.solids import bodies, passages
from rootgap.solids.boundary import EndFace, has_room
from rootgap.solids.export import Part, assembly, meshed_body, step_bytes, write_file, write_glb, write_stl
from rootgap.solids.holes import Hole, pierced
from rootgap.solids.spike import pyramid
from rootgap.solids.step import StepPart, assembly_step, step_part

#: Largest step, radians, between the clocks that a coped end is built through.
STEP = np.radians(1.0)
#: Fewest steps between two corners of an end.
FEWEST_STEPS = 4
#: Corners nearer to the one before than this, radians, are left out: there the slope jumps too
#: little to show, and the kernel is spared a face of a few hundredths of a millimetre.
CORNERS_APART = 2e-3
#: An end that rises by more than this, mm, from one side of a corner to the other leaps there.
LEAP = 1.0
#: How far a hole's tool goes on past the wall, mm.
THROUGH = 1.0
#: How far, mm, an end face of a bend may lie from what is straight in stations.
RULED = 0.01
#: Clocks, radians, at which a hole's tool is held against its target; radii of the sleeve and of the rod in its middle
#: that one has which follows the bore, shares of the hole's.
TOOL_CLOCKS = np.linspace(0.0, 2.0 * np.pi, 180, endpoint=False)
SLEEVE, CORE = np.array([0.4, 0.6, 0.8, 1.0]), 0.5
#: How far, mm, chords may lie from an edge where it is asked which plate a hole is in.
ROUGH = 0.01

#: What parts look like: plate, log-like pipe that others end on, other pipe; red, green, blue.
PLATE = (0.42, 0.45, 0.50)
TARGET = (0.71, 0.43, 0.27)
BRANCH = (0.80, 0.74, 0.62)
FITTING = (0.62, 0.58, 0.52)
#: What plates of the fixture look like.
FIXTURE = (0.36, 0.52, 0.55)
#: What stands on flanges looks like: hulls that the gas heats, and those that it does not.
HOT, COLD = (0.58, 0.38, 0.34), (0.62, 0.68, 0.74)
#: The group of all flanges in the assembly.
PLATES = "flanges"

#: Finished bodies, and their files' bytes: enough for the parts of a few manifolds.
MOST_KEPT = 1000
BODIES: Kept[cq.Shape] = Kept(MOST_KEPT)
MESHES: Kept[cq.Shape] = Kept(MOST_KEPT)
STEPS: Kept[bytes] = Kept(MOST_KEPT)
STLS: Kept[bytes] = Kept(MOST_KEPT)
#: The STEP files as an assembly takes them.
READ: Kept[StepPart] = Kept(MOST_KEPT)
TEMPLATES: Kept[bytes] = Kept(MOST_KEPT)

Array = NDArray[np.float64]
Progress = Callable[[str, int, int], None]


def body(piece: Piece | FixturePlate, joints: Sequence[Joint]) -> cq.Shape:
    """Return the finished body of `piece`, mm, in the engine frame; made once for the same piece and joints.

    Raises KernelError where it is not sound or not of the volume that it must have.
    """
    work = _work(piece, joints)

    def make() -> cq.Shape:
        made, volume = _made(piece, work)
        return bodies.checked(made, piece.id, volume, count=len(piece.outlines) if isinstance(piece, Plate) else 1)

    return BODIES.get(fingerprint(piece, work), make)


@dataclass(frozen=True, eq=False)
class _Work:
    """What joints do to a piece. ends: how its own are cut; copes: branches whose holes it takes; slots:
    dividers that end in it; sockets: pipes that
    go into a pocket of it."""

    ends: Mapping[Which, CutEnd]
    copes: tuple[Cope, ...]
    slots: tuple[DividerEnd, ...]
    sockets: tuple[FlangeWeld, ...]


def _work(piece: Piece | FixturePlate, joints: Sequence[Joint]) -> _Work:
    return _Work(
        cut_ends(joints).get(piece.id, {}),
        tuple(joint for joint in joints if isinstance(joint, Cope) and joint.target.piece == piece.id),
        tuple(joint for joint in joints if isinstance(joint, DividerEnd) and joint.plate == piece.id),
        tuple(weld for weld in joints if isinstance(weld, FlangeWeld) and weld.plate == piece.id and weld.pocket),
    )


def body_key(piece: Piece | FixturePlate, joints: Sequence[Joint]) -> str:
    """Return a fingerprint of all that a finished body is made from."""
    return fingerprint(piece, _work(piece, joints))


def _made(piece: Piece | FixturePlate, work: _Work) -> tuple[cq.Shape, float | None]:
    """Return a body as the kernel made it, and the volume, mm3, that the closed forms give, None where
    there is none."""
    made: cq.Shape
    formed = isinstance(piece, Straight) and piece.formed
    if isinstance(piece, Straight | Elbow | Bend) and not formed and (work.ends or work.copes):
        made, left = _cut_pipe(piece, work)
    elif work.ends:
        raise KernelError(piece.id, f"no body is made of a {piece.kind} with a cut end")
    else:
        made, left = WHOLE[type(piece)](piece), work.copes
    if left:
        made = _bored(made, left, piece.id)
    if isinstance(piece, Plate):
        tools = [*_slots(piece, work.slots), *(_socket(weld) for weld in work.sockets)]
        made = bodies.several([bodies.bored(each, tools, part=piece.id) for each in made.Solids()]) if tools else made
    if any(cope.crowd or not (_drills(cope) or cope.opens_wholly) for cope in work.copes):
        # What a neighbour's foot leaves standing of a hole has no closed form, nor has one beside a bend's bore.
        return made, None
    whole = finished_volume({piece.id: work.ends}, piece.id, piece.volume) - milled_volume(
        (*work.slots, *work.sockets), piece.id
    )
    return made, whole - sum(cope.hole_volume for cope in work.copes)


def _slots(plate: Plate, ends: Sequence[DividerEnd]) -> list[cq.Solid]:
    """Return what is milled, from the face that its pipes stand on, where dividers end in a flange."""
    above = plate.start.advanced(-THROUGH)
    return [bodies.plate(above, end.pocket, (), THROUGH + end.depth) for end in ends if end.pocket]


def _socket(weld: FlangeWeld) -> cq.Solid:
    """Return what is milled out of a flange for a pipe to go into."""
    low, high = (0.0, weld.sunk + THROUGH) if weld.gas_in else (-weld.sunk - THROUGH, 0.0)
    return bodies.rod(weld.frame, low, high, weld.pocket or 0.0)


def _cut_pipe(piece: Straight | Elbow | Bend, work: _Work) -> tuple[cq.Shape, Sequence[Cope]]:
    """Return a pipe with its cut ends and those of its holes that have room to be built face by face, and the copes
    whose holes are left to be bored."""
    pipe, stock = piece.tube.wall, piece.stock
    near = end_face(work.ends["start"], pipe).facing(piece.length) if "start" in work.ends else None
    far = end_face(work.ends["end"], pipe) if "end" in work.ends else None
    radii = (stock.r_in, stock.r_out)
    # Holes that run into each other are bored together.
    alone = [] if any(cope.crowd for cope in work.copes) else work.copes
    built = {cope.id: hole for cope in alone if (hole := pierced(pipe, radii, _hole(cope)))}
    if not has_room(near, far, piece.length, list(built.values())):
        built = {}
    if not (work.ends or built):
        # Booleans do best on the kernel's own bodies.
        return WHOLE[type(piece)](piece), work.copes
    made = bodies.cut_pipe(pipe, near, far, piece.length, stock.r_out, stock.r_in, list(built.values()))
    return made, [cope for cope in work.copes if cope.id not in built]


def _hole(cope: Cope) -> Hole:
    return Hole(cope.branch.wall, cope.hole_radius, cope.meeting)


def _drills(cope: Cope) -> bool:
    """Tell whether a hole is a straight one in a straight pipe, which may run beside the bore up to the plane through
    the pipe's axis."""
    return isinstance(cope.on_target, Saddle) and not cope.crowd


def _bored(made: cq.Shape, copes: Sequence[Cope], part: str) -> cq.Shape:
    """Return a body less the holes of its branches. Raises KernelError."""
    try:
        return bodies.bored(made, [tool for cope in copes for tool in _tools(cope)], part=part)
    except KernelError:
        # Now and then the kernel leaves a crumb of wall where a plain rod comes out, and none by tools of other faces.
        return bodies.bored(made, [tool for cope in copes for tool in _tools(cope, follows=True)], part=part)


def _tools(cope: Cope, *, follows: bool = False) -> list[cq.Shape]:
    """Return what a branch takes out of its target: its own hole, less the feet of its neighbours. follows: by a tool
    whose end follows the bore, where one cut off square would do too."""
    if _drills(cope):
        return [bodies.drill(_hole(cope), cope.target.frame, cope.target.r_out)]
    following = cope.opens_wholly and (follows or not _ends_in_bore(cope))
    made = _following(cope) if following else [_plain_tool(cope)]
    for other in cope.neighbours:
        made = [tool.cut(bodies.rod(other.frame, 0.0, other.length, other.r_out)) for tool in made]
    return made


def _following(cope: Cope) -> list[cq.Shape]:
    """Return a tool whose end follows the target's bore, so that it leaves the far wall whole however close that is:
    a sleeve, and a rod in its middle, which comes out in the bore well clear of the far wall."""
    frame, wall, radius = cope.branch.frame, cope.branch.wall, cope.hole_radius
    radii, through = _ringed(wall, radius * SLEEVE, _through(cope, radius * SLEEVE))
    core = float(_through(cope, np.array([radius * CORE])).max())
    bend = cope.branch.bending
    start = 0.0 if bend else float(np.min(cope.on_target.height(TOOL_CLOCKS[:, None], radii))) - THROUGH
    end = EndFace(TOOL_CLOCKS, radii, through, np.empty(0, dtype=np.intp))
    near = None if bend else EndFace(TOOL_CLOCKS, radii, np.full(through.shape, start), end.corners)
    sleeve = bodies.cut_pipe(wall, near, end, 0.0, radius, float(radii[0]))
    if bend is None:
        return [sleeve, bodies.rod(frame, start, core, radius * CORE)]
    turn = float(np.degrees(core / bend.radius))
    return [sleeve, bodies.bent_rod(frame, bend.radius, turn, bend.clock, radius * CORE)]


def _through(cope: Cope, radii: Array) -> Array:
    """Return stations, (n, k), mm, at which the hole's generators at TOOL_CLOCKS and radii, (k,), mm, are through the
    wall, and past it by as much as the bore has room for."""
    t, rho = (each.ravel() for each in np.meshgrid(TOOL_CLOCKS, radii, indexing="ij"))
    bore = cope.target.filled(cope.target.r_in)
    height = cope.inside.height(t, rho)
    found = height
    for share in (0.125, 0.25, 0.5, 1.0):
        ahead = height + share * THROUGH
        found = np.where(bore.distance(cope.branch.wall.points(t, rho, ahead)) < 0.0, ahead, found)
    return found.reshape(len(TOOL_CLOCKS), len(radii))


def _ringed(pipe: Wall, radii: Array, face: Array) -> tuple[Array, Array]:
    """Return the radii, (k,), mm, and the stations, (n, k), mm, of the rings of an end face with as many more between
    them as keep it within RULED: what is straight in stations round a bend is not straight in space."""
    if isinstance(pipe, StraightWall):
        return radii, face
    found_radii, found = [radii[:1]], [face[:, :1]]
    for low, high, first, last in zip(radii, radii[1:], face.T, face.T[1:], strict=False):
        # The rise of an arc of that length.
        count = max(1, int(np.ceil(np.abs(last - first).max() / np.sqrt(8.0 * pipe.radius * RULED))))
        share = np.linspace(0.0, 1.0, count + 1)[1:]
        found_radii.append(low + share * (high - low))
        found.append(first[:, None] + share * (last - first)[:, None])
    return np.concatenate(found_radii), np.concatenate(found, axis=1)


def _past(cope: Cope) -> float:
    """Return the station, mm, at which a tool cut off square is past the wall all round."""
    return float(np.nanmax(cope.inside.height(TOOL_CLOCKS, cope.hole_radius))) + THROUGH


def _ends_in_bore(cope: Cope) -> bool:
    """Tell whether a tool cut off square there ends in the bore, short of the far wall."""
    t, rho = np.meshgrid(TOOL_CLOCKS, cope.hole_radius * SLEEVE)
    end = np.full(t.size, _past(cope))
    points = cope.branch.wall.points(t.ravel(), rho.ravel(), end)
    return bool((cope.target.filled(cope.target.r_in).distance(points) < 0.0).all())


def _plain_tool(cope: Cope) -> cq.Shape:
    """Return a tool cut off square past the wall, where part of a hole runs beside the bore up to the target's axis."""
    frame, radius, end = cope.branch.frame, cope.hole_radius, _past(cope)
    rod: cq.Shape
    if cope.branch.bending:
        bend = cope.branch.bending
        rod = bodies.bent_rod(frame, bend.radius, float(np.degrees(end / bend.radius)), bend.clock, radius)
    else:
        first = cope.on_target.height(TOOL_CLOCKS, radius)
        rod = bodies.rod(frame, float(np.min(first)) - THROUGH, end, radius)
    return rod if cope.opens_wholly else rod.cut(_far_half(cope, end))


def _far_half(cope: Cope, size: float) -> cq.Solid:
    """Return a block of `size` mm and more on the far side of a target's axis, where a branch meets it: a branch nearly
    as wide as its target runs along the far wall there."""
    stations, nought = np.linspace(0.0, size, 2001), np.zeros(2001)
    along = cope.branch.wall.points(nought, nought, stations)
    at = int(np.argmin(cope.target.filled(0.0).distance(along)))
    nearest, ahead = along[at], cope.branch.wall.directions(nought, stations)[at]
    on = cope.target.at(float(cope.target.unrolled(nearest)[1]))
    away = unit(ahead - (ahead @ on.axis) * on.axis)
    half = size + cope.target.length
    square = Outline.through([(-half, -half), (half, -half), (half, half), (-half, half)], closed=True)
    return bodies.plate(Frame(on.origin, away, on.axis), square, (), half)


def _straight(piece: Straight) -> cq.Solid:
    if piece.formed:
        return passages.formed_pipe(piece.start, piece.formed, piece.worked - piece.held, piece.length, piece.held)
    return bodies.straight(piece.start, piece.length, piece.stock.r_out, piece.stock.r_in)


def _arc(piece: Elbow | Bend) -> cq.Solid:
    return bodies.elbow(piece.start, piece.radius, piece.angle, piece.clock, piece.stock.r_out, piece.stock.r_in)


def _pie(piece: Pie) -> cq.Solid:
    return bodies.mitred(
        piece.start.clocked(piece.clock), piece.corners, piece.stock.r_out, piece.stock.r_in, part=piece.id
    )


def _cap(piece: Cap) -> cq.Solid:
    return bodies.dish_cap(piece.start, piece.length, piece.stock.r_out, piece.stock.r_in)


def _flat(piece: Plate | Divider | Panel | FixturePlate) -> cq.Solid | cq.Compound:
    rims = [outline.points(ROUGH) for outline in piece.outlines]
    within = [[hole for hole in piece.cutouts if inside(hole.points(ROUGH)[:1], rim)[0]] for rim in rims]
    return bodies.several(
        [
            bodies.plate(piece.start, outline, own, piece.thickness)
            for outline, own in zip(piece.outlines, within, strict=True)
        ]
    )


def _disc(piece: Disc) -> cq.Solid:
    return bodies.rod(piece.start, 0.0, piece.thickness, piece.r_out)


def _ring(piece: Ring) -> cq.Solid:
    return bodies.turned(piece.start, piece.profile)


def _sleeve(piece: Sleeve) -> cq.Solid:
    return bodies.straight(piece.rim, piece.whole_length, piece.stock.r_out, piece.stock.r_in)


def _spike(piece: Spike) -> cq.Solid:
    return pyramid(piece.made, part=piece.id)


def _half(piece: Half) -> cq.Solid:
    return bodies.plate(piece.facing, piece.section, (), piece.length)


def _reducer(piece: Reducer) -> cq.Solid:
    first, last = ((each.r_out, each.r_in) for each in (piece.stock, piece.leaves))
    return passages.frustum(piece.start, piece.length, first, last, piece.offset, piece.clock)


def _sheet(piece: Cone | Transition) -> cq.Solid:
    return passages.passage(piece.start, piece.made)


def _lobed(piece: LobedCone) -> cq.Solid:
    bore, outside = piece.bore, piece.outside
    return passages.lobed(
        piece.start, bore.outline, outside.outline, bore.corners, bore.radius, outside.radius, piece.length
    )


#: How a whole piece, before any cope or hole, is made solid, by its class.
WHOLE: Mapping[type, Callable[[Any], cq.Shape]] = {
    Straight: _straight,
    Elbow: _arc,
    Bend: _arc,
    Pie: _pie,
    Cap: _cap,
    Plate: _flat,
    Disc: _disc,
    Ring: _ring,
    Sleeve: _sleeve,
    Divider: _flat,
    Spike: _spike,
    FixturePlate: _flat,
    Half: _half,
    Panel: _flat,
    Reducer: _reducer,
    Cone: _sheet,
    Transition: _sheet,
    LobedCone: _lobed,
}


def end_face(end: CutEnd, pipe: Wall) -> EndFace:
    """Return the face of a cut end of a pipe in its own frame."""
    theta, corners = edge_clocks(end)
    return EndFace(theta, *_ringed(pipe, end.radii, end.face(theta)), corners)


def edge_clocks(end: CutEnd) -> tuple[Array, NDArray[np.intp]]:
    """Return the clocks, (n,), radians, rising over one turn, that a cut end is built
    through, evenly spaced from corner to corner, and the indices, (k,), of its corners."""
    corners = end.corners
    corners = corners[np.diff(corners, prepend=corners[-1:] - 2.0 * np.pi) > CORNERS_APART]
    if not corners.size:
        return STEP * np.arange(round(2.0 * np.pi / STEP)), np.empty(0, dtype=np.intp)
    half = 0.5 * CORNERS_APART
    leaps = np.abs(end.face(corners + half) - end.face(corners - half)).max(axis=-1) > LEAP
    corners = np.sort(np.concatenate([corners[~leaps], corners[leaps] - half, corners[leaps] + half]))
    ends = np.append(corners[1:], corners[0] + 2.0 * np.pi)
    # What leaps goes straight from one side of its corner to the other.
    fewest = np.where(ends - corners > 1.5 * CORNERS_APART, FEWEST_STEPS, 1)
    counts = np.maximum(np.ceil((ends - corners) / STEP).astype(np.intp), fewest)
    theta = [
        np.linspace(start, end, count, endpoint=False) for start, end, count in zip(corners, ends, counts, strict=True)
    ]
    return np.concatenate(theta), np.cumsum(counts) - counts


def parts(layout: Layout, joints: Sequence[Joint]) -> Iterator[Part]:
    """Yield every part of `layout` with its body, name, colour and run. Raises KernelError."""
    targets = {joint.target.run for joint in joints if isinstance(joint, Cope)}
    for piece in layout.pieces():
        if isinstance(piece, Spike):
            group = f"collector.{piece.collector}"
        else:
            group = PLATES if isinstance(piece, Plate) else f"run.{piece.run}"
        if isinstance(piece, Flat | Spike):
            color = PLATE
        elif isinstance(piece, Straight | Half):
            color = TARGET if piece.run in targets else BRANCH
        else:
            color = FITTING
        yield Part(piece.id, body(piece, joints), color, group, body_key(piece, joints))


def envelope_parts(layout: Layout) -> Iterator[Part]:
    """Yield every hull of the envelopes of `layout`, which are drawn and never cut. Raises KernelError."""
    for envelope in layout.envelopes:
        for hull in envelope.hulls:
            made = BODIES.get(fingerprint(hull), partial(_hull, hull))
            yield Part(hull.id, made, HOT if hull.hot else COLD, envelope.id, fingerprint(hull))


def _hull(hull: Hull) -> cq.Shape:
    if isinstance(hull.body, Rod):
        lag = hull.body.end - hull.body.start
        frame, length = Frame.looking(hull.body.start, lag), float(np.linalg.norm(lag))
        outside, bore = hull.body.radius, hull.bore
        made = bodies.straight(frame, length, outside, bore) if bore else bodies.rod(frame, 0.0, length, outside)
        volume = np.pi * (outside**2 - (bore or 0.0) ** 2) * length
    else:
        bend = hull.body
        made = bodies.bent_rod(bend.frame, bend.radius, bend.angle, bend.clock, bend.r_out)
        volume = np.pi * bend.r_out**2 * bend.radius * np.radians(bend.angle)
    return bodies.checked(made, hull.id, float(volume))


def solid_assembly(layout: Layout, joints: Sequence[Joint]) -> cq.Assembly:
    """Return every part of `layout`, and what stands on its flanges, as an assembly in the engine frame, mm.

    Raises KernelError.
    """
    return assembly(layout.name, [*parts(layout, joints), *envelope_parts(layout)])


def fixture_parts(fixtures: Sequence[Fixture]) -> Iterator[Part]:
    """Yield every plate of `fixtures`. Raises KernelError."""
    for fixture in fixtures:
        for plate in fixture.plates:
            yield Part(plate.id, body(plate, ()), FIXTURE, fixture.mark, body_key(plate, ()))


def fixture_assembly(layout: Layout, fixtures: Sequence[Fixture]) -> cq.Assembly:
    """Return `fixtures` of `layout` as an assembly in the engine frame, mm. Raises KernelError."""
    return assembly(f"{layout.name}-fixture", list(fixture_parts(fixtures)))


def _step(part: Part) -> bytes:
    """Return the bytes of a part's STEP file. Raises KernelError."""
    return STEPS.get(part.key, partial(step_bytes, part.body, part.name))


def _stl(part: Part, mesh: cq.Shape, file: Path) -> bytes:
    """Return the bytes of a part's STL, which the kernel writes to `file`. mesh: its body with a mesh.

    Raises WriteError.
    """

    def make() -> bytes:
        write_stl(mesh, file)
        return file.read_bytes()

    return STLS.get(part.key, make)


def _assembly_step(file: str, name: str, made: Sequence[Part]) -> bytes:
    """Return the bytes of an assembly's STEP file. Raises KernelError."""

    def read(part: Part) -> StepPart:
        return READ.get(part.key, lambda: step_part(_step(part), part.name))

    def template(part: Part, digits: int) -> bytes:
        return TEMPLATES.get(f"{part.key} {digits}", lambda: read(part).template(digits))

    return assembly_step(file, name, made, read, template)


def _meshed(part: Part) -> Part:
    return replace(part, body=MESHES.get(part.key, partial(meshed_body, part.body)))


def write_solids(
    layout: Layout, joints: Sequence[Joint], folder: Path, progress: Progress
) -> Iterator[tuple[str, str, str, str]]:
    """Write the assembly and one STEP and STL a part into `folder`.

    Yields (file, kind, part, units) of each file as it is written. Raises KernelError, WriteError.
    """
    count = sum(1 for _ in layout.pieces())
    steps = 2 * count + 2
    made: list[Part] = []
    for part in parts(layout, joints):
        progress("solids", len(made), steps)
        made.append(part)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise WriteError(str(folder), fault.strerror or str(fault)) from fault
    progress("assembly", count, steps)
    standing = list(envelope_parts(layout))
    write_file(folder / "assembly.step", _assembly_step("assembly.step", layout.name, [*made, *standing]))
    yield "assembly.step", "assembly", layout.name, "mm"
    for fixture in layout.fixtures:
        file, plates = f"{fixture.mark}.step", list(fixture_parts([fixture]))
        write_file(folder / file, _assembly_step(file, f"{layout.name}-{fixture.mark}", plates))
        yield file, "fixture", layout.name, "mm"
    meshes = [_meshed(part) for part in made]
    write_glb(assembly(layout.name, [*meshes, *map(_meshed, standing)], mesh=True), folder / "assembly.glb")
    yield "assembly.glb", "assembly", layout.name, "m"
    for number, (part, mesh) in enumerate(zip(made, meshes, strict=True)):
        progress("parts", count + 2 + number, steps)
        step, stl = folder / f"{part.name}.step", folder / f"{part.name}.stl"
        write_file(step, _step(part))
        yield step.name, "part", part.name, "mm"
        write_file(stl, _stl(part, mesh.body, stl))
        yield stl.name, "part", part.name, "mm"
