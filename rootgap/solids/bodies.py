"""Solid bodies of pieces: frames and sizes in, cadquery solids out, mm, in the engine frame.

Terminology: the *seam* is the line along a pipe where the kernel closes its faces; keep it
off joints, where an edge that runs into an intersection makes the kernel work for nothing.
The *wall* of a pipe lies between its bore (r_in) and its outside (r_out).

Booleans are never cleaned: the kernel's cleaning makes tangent cases invalid. A body is as the
kernel made it; `checked` says whether it is one valid, closed solid of the volume that it must have.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import cadquery as cq
import numpy as np
from numpy.typing import ArrayLike
from OCP.Bnd import Bnd_Box
from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_BooleanOperation, BRepAlgoAPI_Common, BRepAlgoAPI_Cut
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Circ, gp_Dir, gp_Elips, gp_Pnt
from OCP.TopTools import TopTools_ListOfShape

from rootgap.errors import KernelError
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.geometry.wall import Wall
from rootgap.solids.boundary import EndFace, pipe_solid
from rootgap.solids.holes import Hole, Pierced

VOLUME_TOLERANCE = 1e-9
"""Relative tolerance of the kernel's volume integrals; its default is off by up to 1e-3."""

CHECK_TOLERANCE = 1e-6
"""The same where a body is only checked: errors below 1e-5, in three quarters of the time."""

FUZZ = (1e-5, 1e-4, 1e-3)
"""Distances, mm, tried in turn within which faces of two bodies count as one: without, the
kernel fails on some bodies that only touch."""

NO_METAL, SHARE = 0.01, 1e-3
"""A volume, mm3, and a share of one, that bodies which only touch may be off by."""

CROWN_FLAT = 0.1
"""Radius, mm, of the flat in the middle of a cap's crown. Where a dish closes in a point, its
STEP file is read back with less than half the volume, and its mesh is not closed."""


Body = TypeVar("Body", bound=cq.Shape)


def straight(frame: Frame, length: float, r_out: float, r_in: float, *, seam: float = 180.0) -> cq.Solid:
    """Return a pipe of `length` mm from `frame` along its axis.

    r_out, r_in: mm; seam: clock of the seam, degrees.

    >>> pipe = straight(Frame.looking((0, 0, 0), (1, 0, 0)), 100.0, 30.15, 26.24)
    >>> round(volume(pipe), 3)
    69267.374
    """
    outer, inner = _rings(frame.clocked(seam), r_out, r_in)
    return cq.Solid.extrudeLinear(outer, [inner], cq.Vector(*(length * frame.axis)))


def elbow(frame: Frame, radius: float, angle: float, clock: float, r_out: float, r_in: float) -> cq.Solid:
    """Return a pipe bend from `frame` through `angle` degrees of centre-line `radius` mm
    towards `clock` degrees; its far end is `frame.bent(radius, angle, clock)`.

    r_out, r_in: mm. The seam lies on the inside of the bend.
    """
    inside = frame.clocked(clock)
    outer, inner = _rings(inside, r_out, r_in)
    pivot = cq.Vector(*(frame.origin + radius * inside.ref))
    return cq.Solid.revolve(outer, [inner], angle, pivot, pivot + cq.Vector(*inside.side))


def mitred(frame: Frame, corners: ArrayLike, r_out: float, r_in: float, *, part: str = "mitred pipe") -> cq.Solid:
    """Return a pipe from `frame` along the straights between `corners`, (n, 3), mm, each corner mitred.

    r_out, r_in: mm. The seam lies at the frame's ref. Raises KernelError naming `part` where the result
    is not one solid.
    """
    outer, inner = _rings(frame, r_out, r_in)
    line = cq.Wire.makePolygon([cq.Vector(*corner) for corner in np.asarray(corners, dtype=np.float64)])
    solids = cq.Solid.sweep(outer, [inner], line, transitionMode="right").Solids()
    if len(solids) != 1:
        raise KernelError(part, f"a sweep left {len(solids)} solids where one is expected")
    return solids[0]


def dish_cap(frame: Frame, length: float, r_out: float, r_in: float) -> cq.Solid:
    """Return a butt-weld cap of overall `length` mm, open at `frame` and closing along its axis.

    r_out, r_in: mm. The bore ends in a 2:1 semi-ellipse, r_in / 2 deep; the outside in a
    semi-ellipse with the same wall at the crown; a straight skirt makes up the length. The
    middle of the crown is flat over a radius of CROWN_FLAT: less than 0.001 mm deep.
    Source: ASME B16.9 (caps: ellipsoidal, inside depth not less than a quarter of the bore).

    Raises ValueError where `length` leaves no skirt.
    """
    depth = 0.5 * r_in
    height = depth + (r_out - r_in)
    skirt = length - height
    if skirt <= 0.0:
        raise ValueError(
            f"a cap of {r_out=} mm and {r_in=} mm needs a length over {height:.3f} mm, not {length}"
        )
    rim = frame.advanced(skirt)
    outside, inside = _dish_edge(rim, r_out, height), _dish_edge(rim, r_in, depth)
    center = cq.Vector(*frame.origin)
    along = cq.Vector(*frame.axis)
    crowns = [center + along * (edge.endPoint() - center).dot(along) for edge in (outside, inside)]

    def side(radius: float, station: float) -> cq.Vector:
        return cq.Vector(*(frame.origin + radius * frame.ref + station * frame.axis))

    profile = cq.Wire.assembleEdges(
        [
            cq.Edge.makeLine(side(r_in, 0.0), side(r_out, 0.0)),
            cq.Edge.makeLine(side(r_out, 0.0), side(r_out, skirt)),
            outside,
            cq.Edge.makeLine(outside.endPoint(), crowns[0]),
            cq.Edge.makeLine(crowns[0], crowns[1]),
            cq.Edge.makeLine(crowns[1], inside.endPoint()),
            inside,
            cq.Edge.makeLine(side(r_in, skirt), side(r_in, 0.0)),
        ]
    )
    return cq.Solid.revolve(profile, [], 360.0, center, center + along)


def turned(frame: Frame, profile: ArrayLike) -> cq.Solid:
    """Return the body that a closed `profile`, (n, 2), mm, station along the frame's axis and radius above nought,
    makes when it is turned about that axis.

    >>> ring = turned(Frame.looking((0, 0, 0), (1, 0, 0)), [(0, 10), (0, 12), (5, 12), (5, 10)])
    >>> round(volume(ring) / (2 * np.pi * 11 * 2 * 5), 9)
    1.0
    """
    corners = [frame.origin + station * frame.axis + radius * frame.ref for station, radius in np.asarray(profile)]
    wire = cq.Wire.makePolygon([cq.Vector(*corner) for corner in corners], close=True)
    origin = cq.Vector(*frame.origin)
    return cq.Solid.revolve(wire, [], 360.0, origin, origin + cq.Vector(*frame.axis))


def plate(frame: Frame, outline: Shape, openings: Sequence[Shape], thickness: float) -> cq.Solid:
    """Return a plate of `thickness` mm from `frame` along its axis.

    outline: closed, mm, and openings lie in the plate's own x and y: y is the frame's ref and
    x = ref x axis, so that x, y and the axis are right-handed. Arcs stay true arcs.
    Raises ValueError where the outline is open.
    """
    if isinstance(outline, Path) and not outline.closed:
        raise ValueError("a plate's outline must be closed")
    x_axis = np.cross(frame.ref, frame.axis)
    plane = cq.Plane(tuple(frame.origin), xDir=tuple(x_axis), normal=tuple(frame.axis))
    holes = [_loop(plane, opening) for opening in openings]
    return cq.Solid.extrudeLinear(_loop(plane, outline), holes, cq.Vector(*(thickness * frame.axis)))


def cut_pipe(
    pipe: Wall,
    near: EndFace | None,
    far: EndFace | None,
    length: float,
    r_out: float,
    r_in: float,
    holes: Sequence[Pierced] = (),
) -> cq.Solid:
    """Return a pipe with either end cut, and with holes that have room in it.

    near, far: the faces of its ends, or None where the end is square: near at station 0, far at `length`, mm, of the
    centre line; r_out, r_in: mm.
    Raises ValueError where a face is not of these radii, or the ends reach into each other.
    """
    return cq.Solid(pipe_solid(pipe, near, far, length, (r_in, r_out), holes))


def drilled(
    body: cq.Solid, holes: Sequence[Hole], target: Frame, target_r_out: float, *, part: str = "drilled pipe"
) -> cq.Solid:
    """Return a straight pipe's body with the holes that straight branches make in its near wall.

    target: a frame on the pipe's axis; target_r_out: mm. Each hole follows its branch's
    cylinder from where the branch comes from up to the plane through the pipe's axis, so that
    the far wall stays whole. Branches meet the axis at 25 to 155 degrees; they may be offset.

    Raises ValueError for a branch along the pipe, and KernelError naming `part` where the
    result is not one solid.
    """
    if not holes:
        return body
    return bored(body, [drill(hole, target, target_r_out) for hole in holes], part=part)


def several(solids: Sequence[cq.Solid]) -> cq.Solid | cq.Compound:
    """Return solids that lie apart as one body: the one itself where it is alone."""
    return solids[0] if len(solids) == 1 else cq.Compound.makeCompound(solids)


def bored(body: cq.Shape, tools: Sequence[cq.Shape], *, part: str = "bored body") -> cq.Solid:
    """Return a body less the `tools`. Raises KernelError naming `part` where that leaves not one solid."""
    solids = _boolean(BRepAlgoAPI_Cut(), body, list(tools))
    if solids is None or len(solids) != 1:
        raise KernelError(part, f"a boolean left {len(solids or ())} solids where one is expected")
    return solids[0]


def rod(frame: Frame, start: float, length: float, radius: float) -> cq.Solid:
    """Return a solid cylinder of `radius` mm from station `start` to `length`, mm, along a frame."""
    axes = _axes(frame.advanced(start).origin, frame.axis, -frame.ref)
    return cq.Solid(BRepPrimAPI_MakeCylinder(axes, radius, length - start).Solid())


def bent_rod(frame: Frame, radius: float, angle: float, clock: float, r_out: float) -> cq.Solid:
    """Return a solid bend of centre-line `radius` mm through `angle` degrees towards `clock` degrees, r_out mm."""
    inside = frame.clocked(clock)
    outer, _ = _rings(inside, r_out, 0.5 * r_out)
    pivot = cq.Vector(*(frame.origin + radius * inside.ref))
    return cq.Solid.revolve(outer, [], angle, pivot, pivot + cq.Vector(*inside.side))


def volume(body: cq.Shape, tolerance: float = VOLUME_TOLERANCE) -> float:
    """Return the volume of a body, mm3, to about the relative `tolerance`."""
    return body.Volume(tol=tolerance)


def common_volume(a: cq.Shape, b: cq.Shape) -> float:
    """Return the volume that two bodies share, mm3: 0.0 where their boxes do not meet.

    What is shared is believed only where the rest makes up the whole: now and then the kernel takes all of a body that
    another one touches for shared. Raises KernelError where the kernel cannot tell.
    """
    if _box(a).IsOut(_box(b)):
        return 0.0
    for fuzz in FUZZ:
        both = _boolean(BRepAlgoAPI_Common(), a, [b], fuzz)
        if both is None:
            continue
        shared = sum((volume(solid) for solid in both), 0.0)
        if abs(shared) < NO_METAL:
            return shared
        rest = _boolean(BRepAlgoAPI_Cut(), a, [b], fuzz)
        if rest is not None:
            missing = volume(a) - shared - sum(volume(solid) for solid in rest)
            if abs(missing) < max(NO_METAL, SHARE * shared):
                return shared
    raise KernelError("common volume", "the kernel cannot tell whether two bodies share any")


def is_sound(body: cq.Shape, count: int = 1) -> bool:
    """Return whether a body is `count` valid solids in closed shells."""
    solids = body.Solids()
    shells = [shell for solid in solids for shell in solid.Shells()]
    return len(solids) == count and body.isValid() and all(BRep_Tool.IsClosed_s(shell.wrapped) for shell in shells)


def checked(
    body: Body, part: str, expected: float | None = None, *, tolerance: float = 1e-3, count: int = 1
) -> Body:
    """Return `body` if it is `count` sound solids and, where given, has the `expected` volume, mm3, within the
    relative `tolerance`. Raises KernelError naming `part` otherwise."""
    if not is_sound(body, count):
        solids = "one valid, closed solid" if count == 1 else f"{count} valid, closed solids"
        raise KernelError(part, f"the kernel's result is not {solids}")
    if expected is not None:
        found = volume(body, CHECK_TOLERANCE)
        if abs(found - expected) > tolerance * abs(expected):
            raise KernelError(part, f"its volume is {found:.1f} mm3 where {expected:.1f} mm3 are expected")
    return body


def _box(body: cq.Shape) -> Bnd_Box:
    """Return a box that holds the body, from its surfaces and never from a coarse mesh of it."""
    box = Bnd_Box()
    BRepBndLib.Add_s(body.wrapped, box, False)
    return box


def _boolean(
    operation: BRepAlgoAPI_BooleanOperation, body: cq.Shape, tools: Sequence[cq.Shape], fuzz: float = 0.0
) -> list[cq.Solid] | None:
    """Return the solids that a boolean gives, or None where the kernel fails. fuzz: mm."""
    for shapes, take in (([body], operation.SetArguments), (tools, operation.SetTools)):
        listed = TopTools_ListOfShape()
        for shape in shapes:
            listed.Append(shape.wrapped)
        take(listed)
    # Otherwise the kernel widens the tolerances of the very bodies that it is given.
    operation.SetNonDestructive(True)
    operation.SetRunParallel(True)
    operation.SetFuzzyValue(fuzz)
    operation.Build()
    result = operation.Shape()
    return None if result.IsNull() else cq.Shape.cast(result).Solids()


def _axes(origin: ArrayLike, axis: ArrayLike, ref: ArrayLike) -> gp_Ax2:
    """Return the kernel's axes at `origin`, mm, with z along `axis` and x along `ref`."""
    return gp_Ax2(gp_Pnt(*vector(origin)), gp_Dir(*vector(axis)), gp_Dir(*vector(ref)))


def _rings(frame: Frame, r_out: float, r_in: float) -> tuple[cq.Wire, cq.Wire]:
    """Return the circles of a pipe's outside and bore, with their seam at the frame's ref."""
    axes = _axes(frame.origin, frame.axis, frame.ref)
    outer, inner = (
        cq.Wire.assembleEdges([cq.Edge(BRepBuilderAPI_MakeEdge(gp_Circ(axes, radius)).Edge())])
        for radius in (r_out, r_in)
    )
    return outer, inner


def _dish_edge(rim: Frame, across: float, along: float) -> cq.Edge:
    """Return the arc of an ellipse of half axes `across` (the longer) and `along`, mm, from the
    rim at clock 0 to the edge of the crown's flat."""
    ellipse = gp_Elips(_axes(rim.origin, -rim.side, rim.ref), across, along)
    return cq.Edge(BRepBuilderAPI_MakeEdge(ellipse, 0.0, np.arccos(CROWN_FLAT / across)).Edge())


def _loop(plane: cq.Plane, shape: Shape) -> cq.Wire:
    """Return a closed shape of the plane's own x and y as a wire of lines and true arcs."""
    if isinstance(shape, Circle):
        center = plane.toWorldCoords(shape.center)
        return cq.Wire.assembleEdges([cq.Edge.makeCircle(shape.radius, center, plane.zDir)])
    edges = []
    for start, end, bulge in shape.segments():
        a, b = plane.toWorldCoords(start), plane.toWorldCoords(end)
        if bulge:
            # The middle of an arc lies bulge times half the chord to the right of the chord.
            dx, dy = end[0] - start[0], end[1] - start[1]
            middle = (0.5 * (start[0] + end[0] + bulge * dy), 0.5 * (start[1] + end[1] - bulge * dx))
            edges.append(cq.Edge.makeThreePointArc(a, plane.toWorldCoords(middle), b))
        else:
            edges.append(cq.Edge.makeLine(a, b))
    return cq.Wire.assembleEdges(edges)


def drill(hole: Hole, target: Frame, target_r_out: float) -> cq.Shape:
    """Return a straight branch's cylinder from outside a straight target, of outside radius target_r_out, mm, up to the
    plane through its axis."""
    branch, radius = hole.branch.frame, hole.radius
    axis = branch.axis
    cos = float(axis @ target.axis)
    across = axis - cos * target.axis
    sin = float(np.linalg.norm(across))
    if sin < 1e-6:
        raise ValueError("a branch may not run along the pipe that it drills")
    back = -across / sin
    hit = branch.origin + float((branch.origin - target.origin) @ back) / sin * axis
    slant = radius * abs(cos) / sin
    reach, past = target_r_out / sin + slant + 1.0, slant + 1.0
    # The seam in the plane of the two axes, where the surfaces cross most squarely.
    seam = target.axis - cos * axis if abs(cos) < 1.0 - 1e-9 else branch.ref
    cylinder = BRepPrimAPI_MakeCylinder(_axes(hit - reach * axis, axis, seam), radius, reach + past)
    size = 4.0 * (reach + past + radius)
    plane = cq.Plane(tuple(hit), xDir=tuple(target.axis), normal=tuple(back))
    side = cq.Solid.makeBox(size, size, size, pnt=(-0.5 * size, -0.5 * size, 0.0)).moved(cq.Location(plane))
    return cq.Solid(cylinder.Solid()).intersect(side)
