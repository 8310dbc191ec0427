"""The closed forms of the cope against the solid kernel, over everything that a cope may be.

Cases come from a fixed seed: 16 in a row cover set-on and set-in, square and bevelled, each with
the largest branch on the middle, a branch that all but grazes, one anywhere, and one square or
leaning over the middle. A few run by default, hundreds with --sweep.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property

import cadquery as cq
import numpy as np
import pytest
from numpy.typing import NDArray
from OCP.BRep import BRep_Tool
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
from OCP.Geom import Geom_CylindricalSurface, Geom_Line
from OCP.GeomAPI import GeomAPI_IntCS
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt

from rootgap import stock
from rootgap.geometry.frames import Frame
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.joints import Cope
from rootgap.joints.refusals import GRAZE
from rootgap.layout import Straight
from rootgap.solids.bodies import common_volume, is_sound, straight, volume
from rootgap.solids.whole import body

pytestmark = pytest.mark.sweep
Array = NDArray[np.float64]

FEW, MANY = 16, 208
#: What the kernel takes for the same place, mm.
KERNEL = 1e-7
#: Nearer to a tangent than this, mm, the kernel's own curves lose digits.
NEAR_TANGENT = 0.1


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A case for every number; `number` picks set and preparation in turn."""
    if "number" in metafunc.fixturenames:
        metafunc.parametrize("number", range(MANY if metafunc.config.getoption("--sweep") else FEW))


@dataclass(frozen=True, eq=False)
class Case:
    """A cope with its two pieces as a layout places them."""

    joint: Cope
    branch: Straight
    log: Straight

    @property
    def saddle(self) -> Saddle:
        """The surface of the target that the branch ends on."""
        return self.joint.outside if self.joint.set_ == "on" else self.joint.inside

    @cached_property
    def branch_body(self) -> cq.Solid:
        """The branch, as a build makes and checks it."""
        return body(self.branch, [self.joint])

    @cached_property
    def log_body(self) -> cq.Solid:
        """The target with its hole, as a build makes and checks it."""
        return body(self.log, [self.joint])

    def rod(self) -> cq.Solid:
        """The target's outside, filled."""
        frame, joint = self.log.start, self.joint
        axis = cq.Vector(*frame.axis)
        return cq.Solid.makeCylinder(joint.target.r_out, self.log.length, cq.Vector(*frame.origin), axis)


@cache
def drawn(number: int, set_: str | None = None, prep: str | None = None) -> Case:
    random = np.random.default_rng([20_500, number])
    share = random.uniform
    set_ = set_ or ("on", "in")[number % 2]
    prep = prep or ("square", "bevel")[number // 2 % 2]
    log_out = share(15.0, 85.0)
    log_wall = share(1.5, 0.3 * log_out)
    clearance = share(0.1, 1.5)
    limit = log_out if set_ == "on" else log_out - log_wall - clearance
    where = ("largest", "grazing", "anywhere", "middle")[number // 4 % 4]
    r_out = limit if where == "largest" else share(6.0, limit - 0.5)
    wall = share(1.0, 0.4 * r_out)
    room = limit - r_out
    offset = {"largest": 0.0, "grazing": room - 1.1 * GRAZE, "anywhere": share(-1.0, 1.0) * room, "middle": 0.0}[where]
    lean = 90.0 if share(0.0, 1.0) < 0.15 else share(25.0, 155.0)
    spins = share(0.0, 360.0), share(0.0, 360.0)
    return made(f"case {number}", (r_out, wall), (log_out, log_wall), lean, offset, spins, set_, prep, clearance)


def made(
    name: str,
    branch: tuple[float, float],
    log: tuple[float, float],
    lean: float,
    offset: float,
    spins: tuple[float, float],
    set_: str,
    prep: str,
    clearance: float,
) -> Case:
    """A branch over the middle of a log along x. branch, log: outside radius and wall, mm; spins: of
    the reference lines, degrees."""
    (r_out, wall), (log_out, log_wall) = branch, log
    sin, cos = np.sin(np.radians(lean)), np.cos(np.radians(lean))
    axis = np.array([-cos, 0.0, -sin])
    length = 2.5 * (log_out + r_out) / sin + 40.0
    start = Frame.looking(-length * axis + np.array([0.0, offset, 0.0]), axis, (1, 0, 0)).clocked(spins[0])
    half = 1.5 * (log_out + r_out) / sin + 60.0
    log_start = Frame.looking((-half, 0.0, 0.0), (1, 0, 0), (0, 0, 1)).clocked(spins[1])
    branch_stock, log_stock = (
        stock.custom(2.0 * r, w, "carbon steel") for r, w in ((r_out, wall), (log_out, log_wall))
    )
    joint = Cope(
        name,
        Tube("branch", "branch-a", start, branch_stock.r_out, branch_stock.r_in, length),
        Tube("log", "log-a", log_start, log_stock.r_out, log_stock.r_in, 2.0 * half),
        set_,
        prep,
        clearance,
    )
    return Case(
        joint,
        Straight("branch-a", "branch", branch_stock, start, length, fills=True),
        Straight("log-a", "log", log_stock, log_start, 2.0 * half, fills=False),
    )


def cylinder(frame: Frame, radius: float, seam: float) -> Geom_CylindricalSurface:
    """The kernel's own cylinder round a frame's axis. seam: radians."""
    point, along, across = frame.origin, frame.axis, frame.radial(seam)
    axes = gp_Ax3(gp_Pnt(*map(float, point)), gp_Dir(*map(float, along)), gp_Dir(*map(float, across)))
    return Geom_CylindricalSurface(axes, radius)


def face(frame: Frame, radius: float, length: float, seam: float) -> cq.Face:
    surface = cylinder(frame, radius, seam)
    return cq.Face(BRepBuilderAPI_MakeFace(surface, 0.0, 2.0 * np.pi, 0.0, length, KERNEL).Face())


def along(edge: cq.Edge, count: int) -> Array:
    """Points of an edge, (count, 3), even in its parameter."""
    curve = BRepAdaptor_Curve(edge.wrapped)
    at = np.linspace(curve.FirstParameter(), curve.LastParameter(), count)
    points = [curve.Value(float(u)) for u in at]
    return np.array([(point.X(), point.Y(), point.Z()) for point in points])


def section(case: Case, rho: float, seam: float) -> tuple[Array, float]:
    """The kernel's own curve between the branch's cylinder of radius `rho` and the target's surface:
    points on the side that the branch comes from, and the tolerance that the kernel gives them."""
    joint, saddle = case.joint, case.saddle
    ours = face(joint.branch.frame, rho, 2.0 * joint.branch.length, seam)
    theirs = face(joint.target.frame, saddle.radius, joint.target.length, 0.0)
    operation = BRepAlgoAPI_Section(ours.wrapped, theirs.wrapped, False)
    # Without this the curve is a polygon, out by up to 0.001 mm.
    operation.Approximation(True)
    operation.Build()
    edges = cq.Shape.cast(operation.Shape()).Edges()
    points = np.concatenate([along(edge, 600) for edge in edges])
    target, gas = joint.target.frame, joint.branch.frame.axis
    ahead = (points - target.origin) @ (gas - (gas @ target.axis) * target.axis)
    return points[ahead < -1e-6], max(BRep_Tool.Tolerance_s(edge.wrapped) for edge in edges)


def local(frame: Frame, points: Array) -> tuple[Array, Array, Array]:
    """Clock, radius and station of points about a frame's axis."""
    x, y, z = frame.to_local(points).T
    return np.arctan2(y, x), np.hypot(x, y), z


def test_the_kernels_section_curve_is_the_closed_form(number: int) -> None:
    """Measured: within 1e-6 mm, for curves that the kernel itself gives to 1e-7 mm. Towards a tangent
    the two cylinders hardly cross and the kernel's curve drifts along them: there it is only asked
    that it drifts no farther than its own distance from the two surfaces explains."""
    case = drawn(number)
    joint, saddle = case.joint, case.saddle
    for rho in (joint.branch.r_in, joint.branch.r_out):
        points, tolerance = section(case, rho, 0.3)
        clock, radius, station = local(joint.branch.frame, points)
        apart = station - saddle.height(clock, rho)
        clocks = np.sort(clock)
        assert np.diff(clocks, append=clocks[0] + 2.0 * np.pi).max() < np.radians(6.0), "all round"
        room = saddle.radius - abs(saddle.offset) - rho
        if room > NEAR_TANGENT or room < 1e-9:
            assert tolerance <= 1.01 * KERNEL
            assert np.abs(apart).max() < 1e-4
        else:
            _, on_log, _ = local(joint.target.frame, points)
            off = np.abs(radius - rho) + np.abs(on_log - saddle.radius)
            normals = saddle.normals(points)
            crossing = np.linalg.norm(np.cross(normals, joint.branch.frame.radial(clock)), axis=1)
            lean = np.abs(normals @ joint.branch.frame.axis)
            assert (np.abs(apart) * np.minimum(1.0, lean / crossing) < 1e-4 + 2.0 * off / crossing).all()


def test_the_kernels_lines_meet_its_cylinder_where_the_closed_form_says(number: int) -> None:
    """Generator by generator, so that grazing costs no digits."""
    case = drawn(number)
    frame, saddle = case.joint.branch.frame, case.saddle
    surface = cylinder(case.joint.target.frame, saddle.radius, 0.4)
    clocks = np.linspace(0.0, 2.0 * np.pi, 37)
    for rho in (case.joint.branch.r_in, case.joint.branch.r_out):
        for clock in clocks:
            start = frame.origin + rho * frame.radial(clock)
            line = Geom_Line(gp_Pnt(*map(float, start)), gp_Dir(*map(float, frame.axis)))
            hits = GeomAPI_IntCS(line, surface)
            stations = [hits.Parameters(k + 1)[2] for k in range(hits.NbPoints())]
            assert min(stations) == pytest.approx(float(saddle.height(clock, rho)), abs=1e-6)


def test_finished_bodies_touch_and_share_nothing(number: int) -> None:
    case = drawn(number)
    branch, log = case.branch_body, case.log_body
    assert is_sound(branch)
    assert is_sound(log)
    assert common_volume(branch, log) < min(1.0, 1e-6 * volume(branch))
    edges = cq.Compound.makeCompound([edge for edge in branch.Edges() if edge.geomType() == "BSPLINE"])
    gap = edges.distance(log)
    if case.joint.set_ == "on":
        assert gap < 1e-6
    else:
        assert gap == pytest.approx(case.joint.clearance, abs=1e-5)


def test_a_touching_pair_at_which_a_plain_boolean_fails() -> None:
    """The kernel's common of these two is nothing at all, not even an empty shape."""
    case = made("touching", (13.435, 1.631), (24.077, 5.182), 129.35, -0.011, (180.0, 180.0), "on", "bevel", 0.5)
    assert common_volume(case.branch_body, case.log_body) == 0.0


def test_a_square_end_does_not_enter_a_solid_log(number: int) -> None:
    case = drawn(number, "on", "square")
    assert common_volume(case.branch_body, case.rod()) < 1e-3


def test_a_square_end_pushed_in_enters_by_what_the_closed_form_says(number: int) -> None:
    """That the kernel can tell: half a millimetre farther, and it finds the volume to 1 %."""
    case = drawn(number, "on", "square")
    joint, push = case.joint, 0.5
    pushed = case.branch_body.translate(cq.Vector(*(push * joint.branch.frame.axis)))
    theta = 2.0 * np.pi * np.arange(1440) / 1440
    rho = np.linspace(joint.branch.r_in, joint.branch.r_out, 401)
    past = joint.cut(theta)[:, None] + push - joint.outside.height(theta[:, None], rho)
    inside = np.clip(past, 0.0, None) * rho
    step = np.diff(rho)[0]
    over_wall = step * (inside.sum(axis=1) - 0.5 * (inside[:, 0] + inside[:, -1]))
    expected = 2.0 * np.pi * over_wall.mean()
    assert expected > 1.0
    assert common_volume(pushed, case.rod()) == pytest.approx(expected, rel=0.01)


def test_a_bevelled_bodys_bore_edge_lies_on_the_log(number: int) -> None:
    """From the edges of the body itself: on the log's outside set on, on its bore set in."""
    case = drawn(number, prep="bevel")
    joint = case.joint
    found = 0
    for edge in case.branch_body.Edges():
        if edge.geomType() != "BSPLINE":
            continue
        points = along(edge, 400)
        _, radius, _ = local(joint.branch.frame, points)
        if np.abs(radius - joint.branch.r_in).max() < 1e-3:
            _, on_log, _ = local(joint.target.frame, points)
            assert on_log == pytest.approx(case.saddle.radius, abs=0.002)
            found += 1
    assert found >= 2


def test_every_edge_of_a_bodys_end_is_the_closed_form(number: int) -> None:
    """Corners and all: the cubic splines between samples a degree apart."""
    case = drawn(number)
    joint = case.joint
    for edge in case.branch_body.Edges():
        if edge.geomType() != "BSPLINE":
            continue
        clock, radius, station = local(joint.branch.frame, along(edge, 400))
        outer = abs(radius[0] - joint.branch.r_out) < 1e-3
        wanted = joint.outer_edge(clock) if outer else joint.bore_edge(clock)
        slope = np.gradient(wanted, radius[0] * np.unwrap(clock))
        assert (np.abs(station - wanted) / np.hypot(1.0, slope)).max() < 0.001


def test_volumes_of_branch_and_hole(number: int) -> None:
    case = drawn(number)
    joint = case.joint
    whole = straight(case.log.start, case.log.length, joint.target.r_out, joint.target.r_in)
    assert volume(case.branch_body) == pytest.approx(joint.branch_volume, rel=1e-4)
    assert volume(whole) - volume(case.log_body) == pytest.approx(joint.hole_volume, rel=1e-4)
