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
from rootgap.solids.boundary import EndFace
from rootgap.solids.export import Part, assembly, meshed_body, step_bytes, write_file, write_glb, write_stl
from rootgap.solids.holes import Hole
from rootgap.solids.spike import pyramid
from rootgap.solids.step import StepPart, assembly_step, step_part

#: Largest step, radians, between the clocks that a coped end is built through.
STEP = np.radians(1.0)
#: Fewest steps between two corners of an end.
FEWEST_STEPS = 4
#: Corners nearer to the one before than this, radians, are left out: there the slope jumps too
#: little to show, and the kernel is spared a face of a few hundredths of a millimetre.
CORNERS_APART = 2e-3
#: How far a hole's tool goes on past the wall, and an end face past either side of it, mm.
THROUGH, OVER = 1.0, 0.5
#: An end face of a bend is steep where it goes further along the pipe than this share of what it goes across its wall;
#: it is then built in so many rings.
STEEP, RINGS = 1.0, 3
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
    plain = [cope for cope in work.copes if isinstance(cope.on_target, Saddle) and not cope.crowd]
    holes = [Hole(cope.branch.frame, cope.hole_radius) for cope in plain]
    made: cq.Shape
    if isinstance(piece, Straight) and (work.ends or (holes and not piece.formed)):
        made = _cut_pipe(piece, work.ends, holes)
    else:
        made = _cut(piece, work.ends)
        if holes and isinstance(piece, Straight | Half):
            made = bodies.drilled(made.Solids()[0], holes, piece.start, piece.stock.r_out, part=piece.id)
    other = [cope for cope in work.copes if cope not in plain]
    if other:
        made = _bored(made, other, piece.id)
    if isinstance(piece, Plate):
        tools = [*_slots(piece, work.slots), *(_socket(weld) for weld in work.sockets)]
        made = bodies.several([bodies.bored(each, tools, part=piece.id) for each in made.Solids()]) if tools else made
    if any(cope.crowd for cope in work.copes) or not all(cope.opens_wholly for cope in other):
        # What a neighbour's foot leaves standing of a hole has no closed form, nor has one beside a bend's bore.
        return made, None
    left = finished_volume({piece.id: work.ends}, piece.id, piece.volume) - milled_volume(
        (*work.slots, *work.sockets), piece.id
    )
    return made, left - sum(cope.hole_volume for cope in work.copes)


def _slots(plate: Plate, ends: Sequence[DividerEnd]) -> list[cq.Solid]:
    """Return what is milled, from the face that its pipes stand on, where dividers end in a flange."""
    above = plate.start.advanced(-THROUGH)
    return [bodies.plate(above, end.pocket, (), THROUGH + end.depth) for end in ends if end.pocket]


def _socket(weld: FlangeWeld) -> cq.Solid:
    """Return what is milled out of a flange for a pipe to go into."""
    low, high = (0.0, weld.sunk + THROUGH) if weld.gas_in else (-weld.sunk - THROUGH, 0.0)
    return bodies.rod(weld.frame, low, high, weld.pocket or 0.0)


def _cut(piece: Piece | FixturePlate, ends: Mapping[Which, CutEnd]) -> cq.Shape:
    """Return a body with its cut ends, before any hole; a straight's are cut with its holes."""
    if not ends:
        return WHOLE[type(piece)](piece)
    end = ends.get("end")
    if isinstance(piece, Elbow | Bend) and isinstance(end, Cope):
        return _coped_bend(piece, end)
    raise KernelError(piece.id, f"no body is made of a {piece.kind} with a cut end")


def _cut_pipe(piece: Straight, ends: Mapping[Which, CutEnd], holes: Sequence[Hole]) -> cq.Solid:
    near = end_face(ends["start"]).facing(piece.length) if "start" in ends else None
    far = end_face(ends["end"]) if "end" in ends else None
    stock = piece.stock
    return bodies.cut_pipe(piece.start, near, far, piece.length, stock.r_out, stock.r_in, holes, part=piece.id)


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
    following = cope.opens_wholly and (follows or not _ends_in_bore(cope))
    made = _following(cope) if following else [_plain_tool(cope)]
    for other in cope.neighbours:
        made = [tool.cut(bodies.rod(other.frame, 0.0, other.length, other.r_out)) for tool in made]
    return made


def _following(cope: Cope) -> list[cq.Shape]:
    """Return a tool whose end follows the target's bore, so that it leaves the far wall whole however close that is:
    a sleeve, and a rod in its middle, which comes out in the bore well clear of the far wall."""
    frame, wall, radius = cope.branch.frame, cope.branch.wall, cope.hole_radius
    theta, radii = TOOL_CLOCKS, radius * SLEEVE
    through = _through(cope, radii)
    core = float(_through(cope, np.array([radius * CORE])).max())
    bend = cope.branch.bending
    if bend is None:
        start = float(np.min(cope.on_target.height(theta[:, None], radii))) - THROUGH
        end = EndFace(theta, radii, through - start, np.empty(0, dtype=np.intp))
        sleeve = bodies.cut_pipe(frame.advanced(start), None, end, 0.0, radius, float(radii[0]))
        return [sleeve, bodies.rod(frame, start, core, radius * CORE)]
    angle = np.degrees((float(through.max()) + THROUGH) / bend.radius)
    whole = bodies.elbow(frame, bend.radius, float(angle), bend.clock, radius, float(radii[0]))
    rings = [wall.points(theta, np.full(theta.shape, ring), at) for ring, at in _carried_on(radii, through)]
    kept = frame.origin + 0.5 * (radii[0] + radius) * frame.ref
    sleeve = bodies.coped_elbow(whole, rings, kept, part=cope.branch.piece)
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


def _finer(radii: Array, face: Array) -> tuple[Array, Array]:
    """Return the radii, (k,), mm, and the stations, (n, k), mm, of the rings of an end face with RINGS parts between
    each two where it is steep: there what is straight in stations round a bend is not straight in space."""
    found_radii, found = [radii[:1]], [face[:, :1]]
    for ring in range(len(radii) - 1):
        low, high = radii[ring], radii[ring + 1]
        steep = np.abs(face[:, ring + 1] - face[:, ring]).max() > STEEP * (high - low)
        share = np.linspace(0.0, 1.0, RINGS + 1 if steep else 2)[1:]
        found_radii.append(low + share * (high - low))
        found.append(face[:, ring, None] + share * (face[:, ring + 1] - face[:, ring])[:, None])
    return np.concatenate(found_radii), np.concatenate(found, axis=1)


def _carried_on(radii: Array, face: Array) -> Iterator[tuple[float, Array]]:
    """Yield the radius, mm, and the stations, (n,), mm, of each ring of an end face, (n, k), the first and the last
    carried on past either side of the wall."""
    for ring in range(len(radii)):
        radius, stations = float(radii[ring]), face[:, ring]
        if ring in (0, len(radii) - 1):
            inwards, over = (1, -OVER) if ring == 0 else (-2, OVER)
            slope = (face[:, ring] - face[:, inwards]) / (radii[ring] - radii[inwards])
            radius, stations = radius + over, stations + slope * over
        yield radius, stations


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
    if cope.branch.bending:
        bend = cope.branch.bending
        return bodies.bent_rod(frame, bend.radius, float(np.degrees(end / bend.radius)), bend.clock, radius)
    first = cope.on_target.height(TOOL_CLOCKS, radius)
    rod = bodies.rod(frame, float(np.min(first)) - THROUGH, end, radius)
    return rod if cope.opens_wholly else rod.cut(_far_half(cope, end))


def _far_half(cope: Cope, size: float) -> cq.Solid:
    """Return a block of `size` mm and more on the far side of a target's axis, where a straight branch meets it: a
    branch nearly as wide as its target runs along the far wall there."""
    ahead = cope.branch.frame.axis
    along = cope.branch.frame.origin + np.linspace(0.0, size, 2001)[:, None] * ahead
    nearest = along[int(np.argmin(cope.target.filled(0.0).distance(along)))]
    on = cope.target.at(float(cope.target.unrolled(nearest)[1]))
    away = unit(ahead - (ahead @ on.axis) * on.axis)
    half = size + cope.target.length
    square = Outline.through([(-half, -half), (half, -half), (half, half), (-half, half)], closed=True)
    return bodies.plate(Frame(on.origin, away, on.axis), square, (), half)


def _coped_bend(piece: Elbow | Bend, cope: Cope) -> cq.Solid:
    theta = STEP * np.arange(round(2.0 * np.pi / STEP))
    r_in, r_out = cope.radii[[0, -1]]
    rings = [
        cope.branch.wall.points(theta, np.full(theta.shape, radius), stations)
        for radius, stations in _carried_on(*_finer(cope.radii, cope.face(theta)))
    ]
    kept = piece.start.origin + 0.5 * (r_in + r_out) * piece.start.ref
    return bodies.coped_elbow(WHOLE[type(piece)](piece), rings, kept, part=piece.id)


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


def end_face(end: CutEnd) -> EndFace:
    """Return the face of a cut end in its own frame."""
    theta, corners = edge_clocks(end)
    return EndFace(theta, end.radii, end.face(theta), corners)


def edge_clocks(end: CutEnd) -> tuple[Array, NDArray[np.intp]]:
    """Return the clocks, (n,), radians, rising over one turn, that a cut end is built
    through, evenly spaced from corner to corner, and the indices, (k,), of its corners."""
    corners = end.corners
    corners = corners[np.diff(corners, prepend=corners[-1:] - 2.0 * np.pi) > CORNERS_APART]
    if not corners.size:
        return STEP * np.arange(round(2.0 * np.pi / STEP)), np.empty(0, dtype=np.intp)
    ends = np.append(corners[1:], corners[0] + 2.0 * np.pi)
    counts = np.maximum(np.ceil((ends - corners) / STEP).astype(np.intp), FEWEST_STEPS)
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
