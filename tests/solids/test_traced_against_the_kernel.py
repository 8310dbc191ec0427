"""Traced generators against the kernel's own curve-on-surface intersections.

A straight branch on an elbow (its generators are lines, the elbow a torus) or on a cone, and an elbow branch
on a straight target (arcs, a cylinder) or on another elbow (arcs, a torus). The kernel is asked for every
point that a generator has in common with the target's surface; the first of them must be the traced one.
Cases come from a fixed seed: a few by default, 208 a kind with --sweep.
"""

from __future__ import annotations

import numpy as np
import pytest
from OCP.Geom import Geom_Circle, Geom_ConicalSurface, Geom_CylindricalSurface, Geom_Line, Geom_ToroidalSurface
from OCP.GeomAPI import GeomAPI_IntCS
from OCP.gp import gp_Ax2, gp_Ax3, gp_Dir, gp_Pnt

from rootgap.geometry.contact import Traced
from rootgap.geometry.distance import Frustum
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Bending, Tube

pytestmark = pytest.mark.sweep
FEW, MANY = 12, 208
CLOCKS = np.radians(np.arange(0.0, 360.0, 30.0))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A case for every number."""
    if "number" in metafunc.fixturenames:
        metafunc.parametrize("number", range(MANY if metafunc.config.getoption("--sweep") else FEW))


def point(at) -> gp_Pnt:
    return gp_Pnt(*map(float, at))


def direction(along) -> gp_Dir:
    return gp_Dir(*map(float, along))


def surface(tube: Tube, radius: float):
    """The kernel's own surface of a tube, endless or all the way round."""
    if tube.bending is None:
        axes = gp_Ax3(point(tube.frame.origin), direction(tube.frame.axis), direction(tube.frame.ref))
        return Geom_CylindricalSurface(axes, radius)
    towards = tube.frame.radial(np.radians(tube.bending.clock))
    center = tube.frame.origin + tube.bending.radius * towards
    axes = gp_Ax3(point(center), direction(np.cross(tube.frame.axis, towards)), direction(-towards))
    return Geom_ToroidalSurface(axes, tube.bending.radius, radius)


def kernel_travels(branch: Tube, theta: float, rho: float, target) -> list[float]:
    """Every station, mm, at which the kernel finds the generator on the target's surface."""
    start = branch.frame.origin + rho * branch.frame.radial(theta)
    if branch.bending is None:
        line = Geom_Line(point(start), direction(branch.frame.axis))
        found = GeomAPI_IntCS(line, target)
        return [found.Parameters(i)[2] for i in range(1, found.NbPoints() + 1)]
    towards = branch.frame.radial(np.radians(branch.bending.clock))
    normal = np.cross(branch.frame.axis, towards)
    center = branch.frame.origin + branch.bending.radius * towards
    foot = center + ((start - center) @ normal) * normal
    circle = Geom_Circle(gp_Ax2(point(foot), direction(normal), direction(start - foot)), np.linalg.norm(start - foot))
    found = GeomAPI_IntCS(circle, target)
    turns = [found.Parameters(i)[2] for i in range(1, found.NbPoints() + 1)]
    return [branch.bending.radius * (turn % (2.0 * np.pi)) for turn in turns]


def compare(branch: Tube, target: Tube, reach: float) -> int:
    """Hold every generator's traced height against the kernel's first; return how many were met."""
    contact = Traced(branch.wall, target.filled(target.r_out), reach)
    shape = surface(target, target.r_out)
    met = 0
    for rho in (branch.r_in, branch.r_out):
        for theta, height in zip(CLOCKS, contact.height(CLOCKS, rho), strict=True):
            travels = kernel_travels(branch, theta, rho, shape)
            points = branch.wall.points(np.full(len(travels), theta), np.full(len(travels), rho), np.array(travels))
            # The kernel's surface goes on where the piece has ended: only what lies on the piece counts.
            places = target.unrolled(points)[:, 1] if travels else np.empty(0)
            on_piece = [
                travel
                for travel, place in zip(travels, places, strict=True)
                if -1e-6 <= place <= target.length + 1e-6 and 0.0 <= travel <= reach
            ]
            if np.isnan(height):
                assert not on_piece
            elif on_piece and abs(min(on_piece) - height) < 1.0:
                assert height == pytest.approx(min(on_piece), abs=1e-5)
                met += 1
            else:
                # It lands on the piece's flat end, which the kernel's surface has not.
                at = branch.wall.points(np.array([theta]), np.array([rho]), np.array([height]))
                station = target.unrolled(at)[0, 1]
                assert min(abs(station), abs(station - target.length)) < 1e-5
                assert not on_piece or height <= min(on_piece)
    return met


def test_a_straight_branch_on_an_elbow(number):
    random = np.random.default_rng([31, number])
    r_out = random.uniform(15.0, 50.0)
    radius = random.uniform(1.3, 3.0) * r_out
    angle = random.uniform(60.0, 120.0)
    frame = Frame.looking(random.uniform(-50, 50, 3), random.normal(size=3), random.normal(size=3))
    bending = Bending(radius, random.uniform(0.0, 360.0))
    target = Tube("log", "log-b", frame, r_out, 0.85 * r_out, radius * np.radians(angle), bending)
    # Aimed at the middle of the bend, from anywhere outside its plane or in it, near-tangent ones included.
    middle = target.at(0.5 * target.length)
    branch_out = random.uniform(0.3, 0.8) * r_out
    # From the back and the sides: out of the throat a long branch has no room.
    away = middle.radial(np.radians(bending.clock) + np.pi + random.uniform(-1.8, 1.8)) + random.uniform(-0.6, 0.6) * (
        middle.axis
    )
    away /= np.linalg.norm(away)
    aside = np.cross(away, random.normal(size=3))
    offset = random.choice([random.uniform(-1, 1), 0.99]) * (r_out - branch_out)
    start = middle.origin + 6.0 * r_out * away + offset * aside / np.linalg.norm(aside)
    branch = Tube("a", "a-a", Frame.looking(start, -away, random.normal(size=3)), branch_out, 0.85 * branch_out, 400.0)
    assert compare(branch, target, 12.0 * r_out) >= 6


@pytest.mark.parametrize("onto", ["straight", "elbow"])
def test_an_elbow_branch(number, onto):
    random = np.random.default_rng([32, number])
    r_out = random.uniform(20.0, 50.0)
    branch_out = random.uniform(0.35, 0.75) * r_out
    radius = random.uniform(2.2, 3.5) * branch_out
    frame = Frame.looking(random.uniform(-50, 50, 3), random.normal(size=3), random.normal(size=3))
    clock = random.uniform(0.0, 360.0)
    branch = Tube(
        "b", "b-b", frame, branch_out, 0.85 * branch_out, radius * np.radians(170.0), Bending(radius, clock)
    )
    # The target lies square across the branch some way round its bend, a little off its axis.
    meets = branch.at(radius * np.radians(random.uniform(50.0, 100.0)))
    across = meets.radial(random.uniform(0.0, 2.0 * np.pi))
    offset = random.uniform(-0.6, 0.6) * (r_out - branch_out)
    place = meets.origin + r_out * meets.axis + offset * np.cross(meets.axis, across)
    if onto == "straight":
        start = Frame.looking(place - 200.0 * across, across, meets.axis)
        target = Tube("log", "log-a", start, r_out, 0.8 * r_out, 400.0)
    else:
        big = Bending(4.0 * r_out, 0.0)
        start = Frame.looking(place, across, meets.axis).bent(4.0 * r_out, -45.0, 0.0)
        target = Tube("log", "log-b", start, r_out, 0.8 * r_out, 4.0 * r_out * np.radians(90.0), big)
    assert compare(branch, target, branch.length) >= 1


def test_a_straight_branch_on_a_cone(number):
    """Concentric reducers and cones, wide and narrow ones, met at any lean and up to near the side."""
    random = np.random.default_rng([33, number])
    r_start, r_end = random.uniform(15.0, 50.0, 2)
    length = random.uniform(1.5, 4.0) * abs(r_end - r_start) + random.uniform(30.0, 90.0)
    frame = Frame.looking(random.uniform(-50, 50, 3), random.normal(size=3), random.normal(size=3))
    target = Frustum(frame.origin, frame.advanced(length).origin, r_start, r_end)
    axes = gp_Ax3(point(frame.origin), direction(frame.axis), direction(frame.ref))
    shape = Geom_ConicalSurface(axes, np.arctan2(r_end - r_start, length), r_start)
    station = random.uniform(0.3, 0.7) * length
    r_there = r_start + (r_end - r_start) * station / length
    branch_out = random.uniform(0.2, 0.5) * min(r_there, 0.5 * length)
    away = frame.radial(random.uniform(0.0, 2.0 * np.pi)) + random.uniform(-0.6, 0.6) * frame.axis
    away /= np.linalg.norm(away)
    aside = np.cross(away, frame.axis)
    offset = random.choice([random.uniform(-1, 1), 0.97]) * (r_there - branch_out)
    start = frame.advanced(station).origin + 200.0 * away + offset * aside / np.linalg.norm(aside)
    branch = Tube("a", "a-a", Frame.looking(start, -away, random.normal(size=3)), branch_out, 0.85 * branch_out, 400.0)
    contact = Traced(branch.wall, target, 400.0)
    met = 0
    for rho in (branch.r_in, branch.r_out):
        for theta, height in zip(CLOCKS, contact.height(CLOCKS, rho), strict=True):
            travels = np.array(kernel_travels(branch, theta, rho, shape))
            points = branch.wall.points(np.full(travels.size, theta), np.full(travels.size, rho), travels)
            places = (points - frame.origin) @ frame.axis
            # The kernel's cone goes on past both ends, and past its point.
            on_cone = travels[(places >= -1e-6) & (places <= length + 1e-6) & (travels >= 0.0)]
            if on_cone.size and not np.isnan(height) and abs(on_cone.min() - height) < 1.0:
                assert height == pytest.approx(on_cone.min(), abs=1e-5)
                met += 1
            elif np.isnan(height):
                assert not on_cone.size
            else:
                at = branch.wall.points(np.array([theta]), np.array([rho]), np.array([height]))
                place = float((at[0] - frame.origin) @ frame.axis)
                assert min(abs(place), abs(place - length)) < 1e-5
                assert not on_cone.size or height <= on_cone.min()
    assert met >= 6
