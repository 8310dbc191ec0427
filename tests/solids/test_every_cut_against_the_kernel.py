"""Every kind of cut line against the kernel's own section curves, hundreds of cases a kind with --sweep.

A case is a pipe, straight or bent, and the faces that its wall runs into, both made by the kernel from where
the pieces stand. Held against the curve in which they meet are the joint's own heights, over bore and
outside, and the line as it is drawn on the template, rolled back onto the pipe: no point of either may lie
farther than 0.01 mm from the kernel's curve, and the kernel may find no metal before it.
Cases come from a fixed seed; every fourth is all but tangent where the kind can be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import cadquery as cq
import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.Geom import Geom_ConicalSurface, Geom_CylindricalSurface, Geom_Plane, Geom_ToroidalSurface
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt
from scipy.spatial import cKDTree

from rootgap import stock
from rootgap.geometry.contact import Traced
from rootgap.geometry.distance import Frustum, HalfSpace
from rootgap.geometry.frames import Array, Frame, unit
from rootgap.geometry.tube import Bending, Tube
from rootgap.joints import Cope, Merge, Mitre
from rootgap.joints.cope import Share
from rootgap.joints.mitre import bisector, facing
from rootgap.layout import Elbow, Half, Pie, Straight
from rootgap.patterns.half import half_wrap
from rootgap.patterns.holes import holes_wrap
from rootgap.patterns.pie import pie_wrap
from rootgap.patterns.plane_wrap import leg_wrap, mitre_wraps
from rootgap.patterns.wrap import cope_wrap, datum_station, developed_diameter

pytestmark = pytest.mark.sweep
FEW, MANY = 4, 208
#: As many again as are drawn where a layout would refuse them.
MORE = {
    "test_elbows_own_ends_on_straights": 72,
    "test_copes_on_elbows": 8,
    "test_crowded_branches": 88,
    "test_branches_that_share_a_plane": 48,
}
#: What is promised of a cut line, and what the closed forms and traced curves are held to, mm: where two surfaces
#: all but touch, the kernel's own curve drifts along them by as much as 0.006 mm.
PROMISED, EXACT = 0.01, 0.002
#: Points of a kernel's edge.
DENSE = 1500
#: Clocks, radians, between which a drawn line that rises is a step.
STEP = 1e-3
#: Nearer to a tangent than this, mm, the kernel's own curves lose digits.
NEAR_TANGENT = 0.1
TURN = np.linspace(0.0, 2.0 * np.pi, 181)[:-1]
FINE = np.linspace(0.0, 2.0 * np.pi, 721)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A case for every number."""
    if "number" in metafunc.fixturenames:
        many = MANY + MORE.get(metafunc.function.__name__, 0)
        metafunc.parametrize("number", range(many if metafunc.config.getoption("--sweep") else FEW))


def axes(origin: Array, along: Array, across: Array) -> gp_Ax3:
    return gp_Ax3(gp_Pnt(*map(float, origin)), gp_Dir(*map(float, along)), gp_Dir(*map(float, across)))


def tube_face(tube: Tube, radius: float, *, spin: float = 0.3, longer: float = 0.0) -> cq.Face:
    """The kernel's face of a tube's wall at `radius`, mm. spin: of its seam; longer: at its far end, mm."""
    if tube.bending is None:
        surface = Geom_CylindricalSurface(axes(tube.frame.origin, tube.frame.axis, tube.frame.radial(spin)), radius)
        return cq.Face(BRepBuilderAPI_MakeFace(surface, 0.0, 2.0 * np.pi, 0.0, tube.length + longer, 1e-7).Face())
    towards = tube.frame.radial(np.radians(tube.bending.clock))
    center = tube.frame.origin + tube.bending.radius * towards
    place = axes(center, np.cross(tube.frame.axis, -towards) * -1.0, -towards)
    surface = Geom_ToroidalSurface(place, tube.bending.radius, radius)
    angle = (tube.length + longer) / tube.bending.radius
    return cq.Face(BRepBuilderAPI_MakeFace(surface, 0.0, angle, spin, spin + 2.0 * np.pi, 1e-7).Face())


def plane_face(plane: HalfSpace, size: float = 1500.0) -> cq.Face:
    across = unit(np.cross(plane.normal, plane.normal[[1, 2, 0]] + (0.3, 0.1, -0.2)))
    surface = Geom_Plane(axes(plane.point, plane.normal, across))
    return cq.Face(BRepBuilderAPI_MakeFace(surface, -size, size, -size, size, 1e-7).Face())


def disc_faces(tube: Tube) -> list[cq.Face]:
    """The kernel's faces of a straight tube's two filled ends."""
    wires = [
        cq.Wire.makeCircle(tube.r_out, cq.Vector(*tube.at(station).origin), cq.Vector(*tube.frame.axis))
        for station in (0.0, tube.length)
    ]
    return [cq.Face.makeFromWires(wire) for wire in wires]


def cone_face(cone: Frustum) -> cq.Face:
    along = unit(cone.end - cone.start)
    length = float(np.linalg.norm(cone.end - cone.start))
    lean = float(np.arctan2(cone.r_end - cone.r_start, length))
    surface = Geom_ConicalSurface(axes(cone.start, along, Frame.looking(cone.start, along).ref), lean, cone.r_start)
    slant = length / np.cos(lean)
    return cq.Face(BRepBuilderAPI_MakeFace(surface, 0.0, 2.0 * np.pi, 0.0, slant, 1e-7).Face())


def crossings(one: cq.Face, others: tuple[cq.Face, ...]) -> list[Array]:
    """The curves, (n, 3) each, mm, in which the kernel says that `one` meets the `others`."""
    found = []
    for other in others:
        operation = BRepAlgoAPI_Section(one.wrapped, other.wrapped, False)
        # Without this the curve is a polygon, out by up to 0.001 mm.
        operation.Approximation(True)
        operation.Build()
        for edge in cq.Shape.cast(operation.Shape()).Edges():
            curve = BRepAdaptor_Curve(edge.wrapped)
            at = [curve.Value(float(u)) for u in np.linspace(curve.FirstParameter(), curve.LastParameter(), DENSE)]
            found.append(np.array([(p.X(), p.Y(), p.Z()) for p in at]))
    return found


def off(points: Array, curves: list[Array]) -> Array:
    """How far, (n,), mm, points, (n, 3), lie from the curves, chords and all."""
    least = np.full(len(points), np.inf)
    for chain in curves:
        closed = np.linalg.norm(chain[0] - chain[-1]) < 1e-6
        curve = chain[:-1] if closed else chain
        nearest = cKDTree(curve).query(points)[1]
        for before in (nearest - 1, nearest):
            low = before % len(curve) if closed else np.clip(before, 0, len(curve) - 2)
            a = curve[low]
            chord = curve[(low + 1) % len(curve)] - a
            share = np.einsum("ij,ij->i", points - a, chord) / np.maximum(np.einsum("ij,ij->i", chord, chord), 1e-30)
            foot = a + np.clip(share, 0.0, 1.0)[:, None] * chord
            least = np.minimum(least, np.linalg.norm(points - foot, axis=1))
    return least


@dataclass
class Case:
    """A pipe and what it runs into. tube: its frame points at the cut; height: of clocks and a radius; faces: the
    kernel's; drawn: clocks and stations, (n, 2), of the line on the template, and the radius that it is true at;
    alone: whether every curve that the kernel finds must lie past the cut; exact: what the formula is held to, mm."""

    tube: Tube
    height: Callable[[Array, float], Array]
    faces: tuple[cq.Face, ...]
    drawn: tuple[Array, float] | None = None
    alone: bool = True
    exact: float = EXACT
    worst: dict[str, float] = field(default_factory=dict)

    def points(self, clocks: Array, rho: float, stations: Array) -> Array:
        return self.tube.wall.points(clocks, np.full(len(clocks), rho), stations)

    def held(self) -> dict[str, float]:
        """Hold everything against the kernel; return the worst distances, mm."""
        radii = (self.tube.r_in, self.tube.r_out)
        for rho in radii:
            curves = crossings(tube_face(self.tube, rho, longer=self.longer), self.faces)
            ours = self.points(TURN, rho, self.height(TURN, rho))
            self.note("formula", off(ours, curves), self.exact)
            if self.alone:
                found = np.vstack(curves)[::7]
                clock, station = self.tube.unrolled(found).T
                before = station < self.height(clock, rho) - EXACT
                if before.any():
                    fine = np.sort((clock[before][:, None] + np.linspace(-0.005, 0.005, 41)).ravel())
                    line = [self.points(fine, rho, self.height(fine, rho))]
                    self.note("before", off(found[before], line), PROMISED)
            if self.drawn is not None and abs(self.drawn[1] - rho) < 1e-9:
                line = self.drawn[0]
                share = np.linspace(0.0, 1.0, 4)[:-1]
                # Where a neighbour's side ends, the cut steps straight on to what lies behind it.
                runs = [(a, b) for a, b in pairwise(line) if b[0] - a[0] > STEP or abs(b[1] - a[1]) < PROMISED]
                chords = np.vstack([a + share[:, None] * (b - a) for a, b in runs])
                self.note("drawn", off(self.points(chords[:, 0], rho, chords[:, 1]), curves), PROMISED)
        return self.worst

    @property
    def longer(self) -> float:
        return 0.0 if self.tube.bending else 400.0

    def note(self, what: str, apart: Array, limit: float) -> None:
        self.worst[what] = max(self.worst.get(what, 0.0), float(apart.max()))
        assert apart.max() < limit, what


def rolled(pattern, end, pipe, layer: str = "cut") -> Array:
    """The line of a wrap, (n, 2): clock of the end's own frame, radians, and station, mm."""
    (line,) = [item.shape for item in pattern.drawn if item.layer == layer]
    half, vertices = 0.5 * developed_diameter(pipe, 0.1), np.array(line.vertices)
    assert not vertices[:, 2].any(), "lines only"
    return np.column_stack([vertices[:, 0] / half, vertices[:, 1] + datum_station(end)])


def anyhow(random) -> Frame:
    return Frame.looking(random.uniform(-50, 50, 3), random.normal(size=3), random.normal(size=3))


def coped(random, number: int, set_: str, at: str = "end", target=None) -> tuple[Cope, Straight]:
    """A cope of a straight on a straight, its wall all but tangent in every fourth case."""
    r_target = random.uniform(15.0, 60.0)
    wall = random.uniform(0.05, 0.2) * r_target
    clearance = random.uniform(0.2, 1.0)
    limit = r_target if set_ == "on" else r_target - wall - clearance
    r_out = random.uniform(0.3, 0.95) * limit
    pipe = stock.custom(2.0 * r_out, random.uniform(0.05, 0.25) * r_out, "304L")
    offset = {0: limit - r_out - 0.011, 1: 0.0}.get(number % 4, random.uniform(-1, 1) * (limit - r_out - 0.011))
    lean = np.radians(random.uniform(25.0, 155.0))
    onto = anyhow(random)
    away = np.cos(lean) * onto.axis + np.sin(lean) * onto.radial(random.uniform(0.0, 6.28))
    aside = unit(np.cross(onto.axis, away))
    reach = (2.5 * r_target + 2.0 * r_out) / np.sin(lean) + 30.0
    start = Frame.looking(onto.origin + reach * away + offset * aside, -away, random.normal(size=3))
    half = 3.0 * (r_target + r_out) / np.sin(lean) + 80.0
    log = Tube("log", "log-a", onto.advanced(-half), r_target, r_target - wall, 2.0 * half)
    if at == "start":
        # Its gas leaves the target: it is placed along that, and the joint turns it round.
        placed = Frame.looking(onto.origin + offset * aside, away, random.normal(size=3))
        piece = Straight("a-a", "a", pipe, placed, reach, fills=False)
        branch = facing(piece.tube, piece.end)
    else:
        piece = Straight("a-a", "a", pipe, start, reach, fills=True)
        branch = piece.tube
    prep = ("bevel", "square")[number // 2 % 2]
    return Cope("a+log", branch, log, set_, prep, clearance, at=at), piece


def of_cope(
    joint: Cope, piece: Straight, others: tuple[cq.Face, ...] = (), *, drawn: bool = True, spin: float = 0.3
) -> Case:
    contact = joint.outside if joint.set_ == "on" else joint.inside
    radius = joint.target.r_out if joint.set_ == "on" else joint.target.r_in
    faces = (tube_face(joint.target, radius, spin=spin), *others)
    exact = EXACT if isinstance(contact, Traced) or _room(joint) > NEAR_TANGENT else PROMISED
    if not drawn or (joint.set_, joint.prep) != ("on", "bevel"):
        return Case(joint.branch, contact.height, faces, exact=exact)
    line = rolled(cope_wrap(joint, piece.stock), joint, piece.stock)
    return Case(joint.branch, contact.height, faces, (line, joint.branch.r_in), exact=exact)


def _room(joint: Cope) -> float:
    """How far the branch's outside stays within the target's side, mm."""
    radius = joint.target.r_out if joint.set_ == "on" else joint.target.r_in
    return radius - joint.offset - joint.branch.r_out


def hole_held(joint: Cope, line: Array) -> float:
    """Hold the hole's outline, (n, 2), clock and station of the target, against the kernel; the worst, mm."""
    cutter = tube_face(joint.branch, joint.hole_radius, longer=0.0 if joint.branch.bending else 400.0)
    curves = crossings(cutter, (tube_face(joint.target, joint.target.r_out),))
    share = np.linspace(0.0, 1.0, 4)[:-1]
    chords = np.vstack([a + share[:, None] * (b - a) for a, b in pairwise(line)])
    worst = float(off(joint.target.rolled(*chords.T), curves).max())
    assert worst < PROMISED
    return worst


def hole_line(pattern, joint: Cope, pipe) -> Array:
    half = 0.5 * developed_diameter(pipe, 0.1)
    (ring,) = [item.shape for item in pattern.drawn if item.layer == f"cut.{joint.called}"]
    vertices = np.array(ring.vertices)
    assert not vertices[:, 2].any(), "lines only"
    closed = np.vstack([vertices, vertices[:1]])[:, :2]
    return closed / (half, 1.0)


def least_of(joint: Cope, number: int) -> None:
    """A square end, a set-in one too, lies where the kernel's first curve over the wall does."""
    wall = joint.branch.r_out - joint.branch.r_in
    radius = joint.target.r_out if joint.set_ == "on" else joint.target.r_in
    target = tube_face(joint.target, radius)
    rho = joint.branch.r_in + wall * np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    clocks = TURN[number % 5 :: 5]
    cut = joint.cut(clocks)
    for r in rho:
        found = np.vstack(crossings(tube_face(joint.branch, r, longer=400.0), (target,)))
        clock, station = joint.branch.unrolled(found).T
        near = station < np.interp(clock % (2.0 * np.pi), *_closed(TURN, joint.outside.level(TURN, r)))
        # Square: the cut lies before every curve.
        if joint.set_ == "on":
            assert (station[near] - joint.cut(clock[near])).min() > -EXACT
    assert np.isfinite(cut).all()


def _closed(clocks: Array, values: Array) -> tuple[Array, Array]:
    return np.append(clocks, 2.0 * np.pi), np.append(values, values[0])


@pytest.mark.parametrize("at", ["end", "start"])
@pytest.mark.parametrize("set_", ["on", "in"])
def test_copes(number, set_, at, record_property):
    random = np.random.default_rng([41, number, set_ == "in", at == "start"])
    joint, piece = coped(random, number, set_, at)
    record_property("worst", of_cope(joint, piece).held())
    if joint.prep == "square" and set_ == "on":
        least_of(joint, number)
    log = stock.custom(2.0 * joint.target.r_out, joint.target.r_out - joint.target.r_in, "304L")
    target = Straight("log-a", "log", log, joint.target.frame, joint.target.length, fills=False)
    record_property("hole", hole_held(joint, hole_line(holes_wrap(target, [joint]), joint, log)))


def test_a_half_pipe_as_target(number, record_property):
    """Where the branch stands on what is kept; the split's lines are half a turn apart."""
    random = np.random.default_rng([42, number])
    joint, piece = coped(random, number, "on")
    log = stock.custom(2.0 * joint.target.r_out, joint.target.r_out - joint.target.r_in, "304L")
    clock = float(np.degrees(joint.middle_clock))
    half = Half("log-a", "log", log, joint.target.frame, joint.target.length, clock, 6.0, 6.0)
    assert half.tube.frame is joint.target.frame
    record_property("worst", of_cope(joint, piece).held())
    pattern = half_wrap(half, [joint])
    record_property("hole", hole_held(joint, hole_line(pattern, joint, log)))
    width = 0.5 * developed_diameter(log, 0.1)
    split = sorted(item.shape.vertices[0][0] for item in pattern.drawn if item.layer == "cut")
    assert np.diff(split) == pytest.approx([np.pi * width], abs=1e-6)
    edges = half.facing.radial(np.array([-0.5, 0.5]) * np.pi)
    turned = np.array([half.start.radial(u / width) for u in split])
    assert min(off(turned, [edges]).max(), off(turned[::-1], [edges]).max()) < 1e-6


def onto_elbow(random, number: int, set_: str) -> tuple[Cope, Straight]:
    r_out = random.uniform(15.0, 50.0)
    radius, angle = random.uniform(1.4, 3.0) * r_out, random.uniform(60.0, 120.0)
    bending = Bending(radius, random.uniform(0.0, 360.0))
    target = Tube("log", "log-b", anyhow(random), r_out, 0.88 * r_out, radius * np.radians(angle), bending)
    middle = target.at(0.5 * target.length)
    limit = r_out if set_ == "on" else 0.88 * r_out - 0.5
    branch_out = random.uniform(0.3, 0.6) * limit
    away = middle.radial(np.radians(bending.clock) + np.pi + random.uniform(-1.0, 1.0))
    away = unit(away + random.uniform(-0.3, 0.3) * middle.axis)
    aside = unit(np.cross(away, middle.axis))
    offset = (0.99 if number % 4 == 0 else random.uniform(-0.9, 0.9)) * (limit - branch_out)
    length = 4.0 * r_out
    start = Frame.looking(middle.origin + length * away + offset * aside, -away, random.normal(size=3))
    pipe = stock.custom(2.0 * branch_out, 0.1 * branch_out, "304L")
    piece = Straight("a-a", "a", pipe, start, length, fills=True)
    return Cope("a+log", piece.tube, target, set_, ("bevel", "square")[number % 2], 0.5), piece


@pytest.mark.parametrize("set_", ["on", "in"])
def test_copes_on_elbows(number, set_, record_property):
    random = np.random.default_rng([43, number, set_ == "in"])
    joint, piece = onto_elbow(random, number, set_)
    # The target's seam in its throat: in the crossing itself it costs the kernel part of the curve, once in 200.
    case = of_cope(joint, piece, spin=np.pi)
    if np.isnan(case.height(TURN[:, None], np.array([joint.branch.r_in, joint.branch.r_out]))).any():
        pytest.skip("its wall passes the bend; a layout refuses it")
    ends = joint.target.unrolled(joint.on_target.points(TURN, joint.branch.r_out))[:, 1]
    if ends.min() < 1e-3 or ends.max() > joint.target.length - 1e-3:
        pytest.skip("its foot runs off the bend; a layout refuses it")
    record_property("worst", case.held())
    record_property("hole", hole_held(joint, joint.hole(FINE)))


def test_elbows_own_ends_on_straights(number, record_property):
    random = np.random.default_rng([44, number])
    r_out = random.uniform(20.0, 50.0)
    branch_out = random.uniform(0.35, 0.75) * r_out
    radius, clock = random.uniform(2.2, 3.5) * branch_out, random.uniform(0.0, 360.0)
    branch = Tube(
        "b", "b-b", anyhow(random), branch_out, 0.88 * branch_out, radius * np.radians(170.0), Bending(radius, clock)
    )
    meets = branch.at(radius * np.radians(random.uniform(60.0, 90.0)))
    across = meets.radial(random.uniform(0.0, 2.0 * np.pi))
    offset = (0.98 if number % 4 == 0 else random.uniform(-0.8, 0.8)) * (r_out - branch_out)
    place = meets.origin + r_out * meets.axis + offset * np.cross(meets.axis, across)
    target = Tube("log", "log-a", Frame.looking(place - 300.0 * across, across), r_out, 0.85 * r_out, 600.0)
    joint = Cope("b+log", branch, target, "on", ("bevel", "square")[number % 2], 0.0)
    exact = EXACT if number % 4 else PROMISED
    case = Case(branch, joint.outside.height, (tube_face(target, r_out),), exact=exact)
    if np.isnan(case.height(TURN[:, None], np.array([branch.r_in, branch.r_out]))).any():
        pytest.skip("its wall passes the target; a layout refuses it")
    record_property("worst", case.held())
    record_property("hole", hole_held(joint, joint.hole(FINE)))


def test_copes_on_cones(number, record_property):
    random = np.random.default_rng([45, number])
    r_start, r_end = random.uniform(15.0, 50.0, 2)
    length = random.uniform(1.5, 4.0) * abs(r_end - r_start) + random.uniform(60.0, 120.0)
    frame = anyhow(random)
    cone = Frustum(frame.origin, frame.advanced(length).origin, r_start, r_end)
    station = 0.5 * length
    r_there = 0.5 * (r_start + r_end)
    r_out = random.uniform(0.2, 0.4) * min(r_there, 0.5 * length)
    away = unit(frame.radial(random.uniform(0.0, 6.28)) + random.uniform(-0.3, 0.3) * frame.axis)
    offset = (0.95 if number % 4 == 0 else random.uniform(-0.9, 0.9)) * (min(r_start, r_end) - r_out)
    start = frame.advanced(station).origin + 200.0 * away + offset * unit(np.cross(away, frame.axis))
    branch = Tube("a", "a-a", Frame.looking(start, -away, random.normal(size=3)), r_out, 0.88 * r_out, 200.0)
    contact = Traced(branch.wall, cone, 400.0)
    if np.isnan(contact.height(TURN, r_out)).any():
        pytest.skip("its wall passes the cone")
    on = contact.points(TURN, r_out)
    places = (on - frame.origin) @ frame.axis
    if not ((places > 1e-3) & (places < length - 1e-3)).all():
        pytest.skip("its foot runs off the cone")
    record_property("worst", Case(branch, contact.height, (cone_face(cone),)).held())


def test_crowded_branches(number, record_property):
    """On the target, and on the side and the far end of the branch that was fitted before it."""
    random = np.random.default_rng([46, number])
    joint, piece = coped(random, 1 + number % 3, "on")
    log, r_out = joint.target, joint.branch.r_out
    up = -unit(joint.branch.frame.axis - (joint.branch.frame.axis @ log.frame.axis) * log.frame.axis)
    station = float((joint.on_target.points(0.0, 0.0) - log.frame.origin) @ log.frame.axis)
    station += random.uniform(0.6, 1.4) * r_out * random.choice([-1, 1])
    lean = unit(up + random.uniform(-0.3, 0.3) * log.frame.axis)
    reach = log.r_out + 2.0 * joint.branch.length
    start = Frame.looking(log.frame.advanced(station).origin + reach * lean, -lean)
    # As in a layout it goes on to the middle of the target.
    neighbour = Tube("b", "b-a", start, random.uniform(0.6, 1.0) * r_out, 0.4 * r_out, reach)
    joint = Cope(joint.id, joint.branch, log, "on", joint.prep, 0.0, (neighbour,))
    others = (tube_face(neighbour, neighbour.r_out), *disc_faces(neighbour))
    case = of_cope(joint, piece, others, drawn=number % 4 == 0)
    if case.height(TURN, joint.branch.r_out).min() < 1.0:
        pytest.skip("it starts in its neighbour")
    record_property("worst", case.held())


def test_branches_that_share_a_plane(number, record_property):
    random = np.random.default_rng([47, number])
    first, piece = coped(random, 1, "on")
    log, a = first.target, first.branch
    up = -unit(a.frame.axis - (a.frame.axis @ log.frame.axis) * log.frame.axis)
    foot = log.frame.origin + ((a.frame.origin - log.frame.origin) @ log.frame.axis) * log.frame.axis
    apart = random.uniform(0.3, 0.8) * a.r_out
    one = unit(up + random.uniform(0.02, 0.6) * log.frame.axis)
    other = unit(up - random.uniform(-0.01, 0.6) * log.frame.axis)
    reach = 3.0 * log.r_out + 4.0 * a.r_out
    tubes = []
    for lean, sign, name in ((one, 1.0, "a"), (other, -1.0, "b")):
        frame = Frame.looking(foot + sign * apart * log.frame.axis + reach * lean, -lean, random.normal(size=3))
        tubes.append(Tube(name, f"{name}-a", frame, a.r_out, a.r_in, reach))
    plane = bisector(*tubes)
    for tube, mate, side in ((tubes[0], tubes[1], plane), (tubes[1], tubes[0], plane.turned)):
        share = Share(mate.run, mate.piece, side)
        joint = Cope("c", tube, log, "on", first.prep, 0.0, shares=(share,))
        if side.distance(tube.frame.origin[None])[0] < 2.0 * tube.r_out:
            pytest.skip("it starts in its mate")
        # The plane half way lies in the mate's own wall: the kernel's curve of both pipes is on it.
        pipe = Straight(tube.piece, tube.run, piece.stock, tube.frame, tube.length, fills=True)
        case = of_cope(joint, pipe, (plane_face(side),))
        if case.height(TURN, tube.r_out).min() < 0.0:
            pytest.skip("the cut runs off its start")
        record_property("worst", case.held())
        on_plane = joint.outside.points(TURN, tube.r_out)
        on_plane = on_plane[np.abs(side.distance(on_plane)) < 1e-7]
        x, y, _ = mate.frame.to_local(on_plane).T
        assert np.hypot(x, y) == pytest.approx(mate.r_out, abs=1e-5)


@pytest.mark.parametrize("equal", [True, False])
def test_mitres(number, equal, record_property):
    random = np.random.default_rng([48, number, equal])
    frame = anyhow(random)
    r_out = random.uniform(10.0, 60.0)
    wall = max(1.5, random.uniform(0.08, 0.2) * r_out)
    # Walls of unlike pipes still lie on each other by a millimetre.
    other = r_out if equal else r_out + random.choice([-1.0, random.uniform(-1, 1), 1.0]) * (wall - 1.001)
    low, high = ((0.02, 1.0), (5.0, 90.0), (90.0, 130.0))[number // 3 % 3]
    turn = np.radians(random.uniform(low, high))
    length = 30.0 + 2.0 * r_out * (1.0 + np.tan(0.5 * turn))
    on = np.cos(turn) * frame.axis + np.sin(turn) * frame.radial(random.uniform(0.0, 6.28))
    pipes = [stock.custom(2.0 * r, wall, "304L") for r in (r_out, other)]
    start = frame.advanced(-length).clocked(random.uniform(0, 360))
    before = Straight("a-a", "a", pipes[0], start, length, fills=False)
    after = Straight("a-b", "a", pipes[1], Frame.looking(frame.origin, on, random.normal(size=3)), length, fills=False)
    prep = ("flat", "bevel", "square")[number % 3]
    joint = Mitre("a+b", before.tube, facing(after.tube, after.end), prep)
    patterns = mitre_wraps(joint, *pipes)
    halving = HalfSpace(frame.origin, unit(on + frame.axis))
    for side, pattern, piece in zip(joint.sides, patterns, (before, after), strict=True):
        line = rolled(pattern, side, piece.stock)
        radius = side.tube.r_out if prep == "flat" else side.tube.r_in
        drawn = (line, radius) if prep != "square" else None
        record_property("worst", Case(side.tube, side.height, (plane_face(halving),), drawn).held())
    if equal:
        # The plane is where the two outsides meet: the kernel's curve of both cylinders.
        first, second = joint.sides
        curves = crossings(
            tube_face(first.tube, r_out, longer=400.0), (tube_face(second.tube, r_out, longer=400.0, spin=1.1),)
        )
        if np.degrees(turn) > 5.0:
            record_property("seam", float(off(first.points(TURN, r_out), curves).max()))
            assert off(first.points(TURN, r_out), curves).max() < EXACT


@pytest.mark.parametrize("count", [2, 3, 4])
def test_merges(number, count, record_property):
    """Each leg against its neighbours' own cylinders, not the planes between them, and the outlet's plane."""
    random = np.random.default_rng([49, number, count])
    r_out = random.uniform(12.0, 40.0)
    wall = random.uniform(0.05, 0.2) * r_out
    half_angle = random.choice([random.uniform(3.0, 6.0), random.uniform(6.0, 30.0), random.uniform(30.0, 55.0)])
    closed = (r_out - wall) / np.sin(np.radians(half_angle))
    outlet = random.uniform(-0.9, 0.5) * closed
    if number % 4 == 0:
        outlet = -0.99 * closed
    pipe = stock.custom(2.0 * r_out, wall, "304L")
    length = 4.0 * r_out / np.sin(np.radians(half_angle)) + 40.0
    prep = ("flat", "bevel", "square")[number % 3]
    joint = Merge("c", anyhow(random), count, half_angle, r_out, pipe.r_in, length, prep, outlet)
    plane = HalfSpace(joint.frame.advanced(outlet).origin, -joint.frame.axis)
    for k, leg in enumerate(joint.legs[:2]):
        mates = [joint.legs[(k + step) % count].tube for step in ((1,) if count == 2 else (1, -1))]
        line = rolled(leg_wrap(joint, leg, pipe), leg, pipe)
        for rho in (pipe.r_in, r_out):
            faces = tuple(tube_face(mate, rho, spin=1.0, longer=600.0) for mate in mates)
            drawn = (line, rho) if rho == {"flat": r_out, "bevel": pipe.r_in}.get(prep) else None
            tube = Tube(leg.tube.run, leg.tube.piece, leg.tube.frame, rho, rho, leg.tube.length)
            case = Case(tube, leg.height, (*faces, plane_face(plane)), drawn, alone=False)
            record_property("worst", case.held())


def test_pie_cut_bends(number, record_property):
    """Each segment's edges against the cylinders of the segments beside it."""
    random = np.random.default_rng([50, number])
    pipe = stock.custom(random.uniform(20.0, 120.0), random.uniform(1.5, 4.0), "304L")
    cuts = 1 + number % 4
    angle = random.uniform(20.0, 60.0 if cuts == 1 else 120.0)
    radius = random.uniform(1.2, 3.0) * pipe.od
    piece = Pie("a-b", "a", pipe, anyhow(random), radius, angle, cuts, random.uniform(0.0, 360.0))
    pattern = pie_wrap(piece)
    lines = [np.array(item.shape.vertices) for item in pattern.drawn if item.layer == "cut"]
    half = 0.5 * developed_diameter(pipe, 0.1)
    middle = piece.half(pipe.r_out) if cuts > 1 else 0.0
    for k in range(cuts):
        frames = [piece.touch(k + step).clocked(piece.clock) for step in (0, 1)]
        # Each from well behind its middle, towards the mitre.
        reach = piece.half(pipe.r_out) + 200.0
        one = Tube("", "", frames[0].advanced(-reach), pipe.r_out, pipe.r_in, 2.0 * reach)
        other = Tube("", "", frames[1].advanced(-reach), pipe.r_out, pipe.r_in, 2.0 * reach)
        curves = crossings(tube_face(one, pipe.r_out), (tube_face(other, pipe.r_out, spin=1.2),))
        for frame, tops in ((frames[0], lines[0]), (frames[1], lines[-1])):
            sign = 1.0 if frame is frames[0] else -1.0
            stations = (tops[:, 1] - middle) * (1.0 if cuts > 1 or sign > 0 else -1.0)
            share = np.linspace(0.0, 1.0, 4)[:-1]
            line = np.column_stack([tops[:, 0] / half, stations])
            chords = np.vstack([a + share[:, None] * (b - a) for a, b in pairwise(line)])
            points = frame.origin + pipe.r_out * frame.radial(chords[:, 0]) + chords[:, 1:] * frame.axis
            worst = float(off(points, curves).max())
            record_property("drawn", worst)
            assert worst < PROMISED


def saw_cuts(piece: Elbow) -> Iterator[tuple[float, Frame]]:
    for angle in piece.cuts:
        yield angle, piece.start.bent(piece.radius, angle, piece.clock)


def test_trimmed_elbows(number, record_property):
    """The four arcs of every cut against those of the kernel's torus, and the cut's circle against its section."""
    random = np.random.default_rng([51, number])
    size = ("1-1/4", "1-1/2", "2", "2-1/2", "3")[number % 5]
    trim = ("end", "start", "both")[number % 3]
    pipe = stock.pipe(f"{size} sch 40", "A53 B")
    angle = random.choice([random.uniform(1.0, 5.0), random.uniform(5.0, 85.0), 89.9])
    clock = random.uniform(0.0, 360.0)
    radius = stock.elbow(size, "LR", 90).radius
    piece = Elbow("a-b", "a", pipe, anyhow(random), radius, angle, clock, "LR", 90.0, trim)
    whole = Tube("a", "a-b", piece.start, pipe.r_out, pipe.r_in, radius * np.pi / 2.0, Bending(radius, clock))
    for saw, frame in saw_cuts(piece):
        curves = crossings(tube_face(whole, pipe.r_out), (plane_face(HalfSpace(frame.origin, frame.axis)),))
        circle = frame.origin + pipe.r_out * frame.radial(TURN)
        worst = off(circle, curves).max()
        for turn in (0.0, 90.0, 180.0, 270.0):
            # The kernel's own meridian, from the factory end to the cut.
            towards = piece.start.radial(np.radians(clock))
            normal = np.cross(piece.start.axis, towards)
            center = piece.start.origin + radius * towards
            out = -pipe.r_out * np.cos(np.radians(turn))
            side = pipe.r_out * np.sin(np.radians(turn)) * normal
            edge = cq.Edge.makeCircle(
                radius + out, cq.Vector(*(center + side)), cq.Vector(*normal), 0.0, saw
            )
            worst = max(worst, abs(edge.Length() - piece.arc(out, saw)))
        record_property("worst", float(worst))
        assert worst < EXACT
