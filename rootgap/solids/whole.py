"""The bodies of a whole layout, and their files.

Every coped and drilled body is held against the volume that the closed forms of its joint
give: two ways to one number, in every build.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import cadquery as cq
import numpy as np

from rootgap.errors import WriteError
from rootgap.joints import Cope, Joint
from rootgap.layout import Cap, Elbow, Layout, Piece, Plate, Straight
from rootgap.patterns.plate import bolt_holes, openings
from rootgap.solids import bodies
from rootgap.solids.export import Part, assembly, write_glb, write_step, write_stl

#: Clocks, radians, that a coped end is built through.
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360

#: What parts look like: plate, log-like pipe that others end on, other pipe; red, green, blue.
PLATE = (0.42, 0.45, 0.50)
TARGET = (0.71, 0.43, 0.27)
BRANCH = (0.80, 0.74, 0.62)
FITTING = (0.62, 0.58, 0.52)
#: The group of all flanges in the assembly.
PLATES = "flanges"

Progress = Callable[[str, int, int], None]


def body(piece: Piece, copes: Sequence[Cope]) -> cq.Solid:
    """Return the finished body of `piece`, mm, in the engine frame.

    Raises KernelError where it is not sound or not of the volume that it must have.
    """
    if isinstance(piece, Plate):
        part = piece.part
        shapes = (*openings(part), *bolt_holes(part))
        made = bodies.plate(piece.start, part.edge(), shapes, part.thickness)
        area = part.edge().area - sum(abs(shape.area) for shape in shapes)
        return bodies.checked(made, piece.id, area * part.thickness)
    stock = piece.stock
    if isinstance(piece, Cap):
        made = bodies.dish_cap(piece.start, piece.length, stock.r_out, stock.r_in)
        return bodies.checked(made, piece.id, piece.volume)
    if isinstance(piece, Elbow):
        made = bodies.elbow(piece.start, piece.radius, piece.angle, piece.clock, stock.r_out, stock.r_in)
        return bodies.checked(made, piece.id, stock.area * piece.length)
    return _straight(piece, copes)


def _straight(piece: Straight, copes: Sequence[Cope]) -> cq.Solid:
    stock = piece.stock
    own = next((cope for cope in copes if cope.branch.piece == piece.id), None)
    onto = [cope for cope in copes if cope.target.piece == piece.id]
    if own:
        inner, outer = own.bore_edge(_CLOCKS), own.outer_edge(_CLOCKS)
        made = bodies.coped_straight(piece.start, _CLOCKS, inner, outer, stock.r_out, stock.r_in, part=piece.id)
        expected = own.branch_volume
    else:
        made = bodies.straight(piece.start, piece.length, stock.r_out, stock.r_in)
        expected = stock.area * piece.length
    holes = [bodies.Hole(cope.branch.frame, cope.hole_radius) for cope in onto]
    made = bodies.drilled(made, holes, piece.start, stock.r_out, part=piece.id)
    return bodies.checked(made, piece.id, expected - sum(cope.hole_volume for cope in onto))


def parts(layout: Layout, joints: Sequence[Joint]) -> Iterator[Part]:
    """Yield every part of `layout` with its body, name, colour and run. Raises KernelError."""
    copes = [joint for joint in joints if isinstance(joint, Cope)]
    targets = {cope.target.run for cope in copes}
    for piece in layout.pieces():
        if isinstance(piece, Plate):
            color, group = PLATE, PLATES
        elif isinstance(piece, Straight):
            color, group = TARGET if piece.run in targets else BRANCH, f"run.{piece.run}"
        else:
            color, group = FITTING, f"run.{piece.run}"
        yield Part(piece.id, body(piece, copes), color, group)


def solid_assembly(layout: Layout, joints: Sequence[Joint]) -> cq.Assembly:
    """Return every part of `layout` as an assembly in the engine frame, mm. Raises KernelError."""
    return assembly(layout.name, list(parts(layout, joints)))


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
    whole = assembly(layout.name, made)
    progress("assembly", count, steps)
    write_step(whole, folder / "assembly.step")
    yield "assembly.step", "assembly", layout.name, "mm"
    write_glb(whole, folder / "assembly.glb")
    yield "assembly.glb", "assembly", layout.name, "m"
    for number, part in enumerate(made):
        progress("parts", count + 2 + number, steps)
        write_step(part.body, folder / f"{part.name}.step")
        yield f"{part.name}.step", "part", part.name, "mm"
        write_stl(part.body, folder / f"{part.name}.stl")
        yield f"{part.name}.stl", "part", part.name, "mm"
