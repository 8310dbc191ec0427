"""The closed form of plane cuts against the kernel's own section curves.

Cases come from a fixed seed: one to four planes, square on to 75 degrees off. A few run by default,
hundreds with --sweep.
"""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepAlgoAPI import BRepAlgoAPI_Section

from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.tube import Tube
from rootgap.joints.planes import PlaneCut
from rootgap.solids.bodies import is_sound, straight, volume
from rootgap.solids.plane_cut import cut_straight

pytestmark = pytest.mark.sweep
FEW, MANY = 16, 208


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "number" in metafunc.fixturenames:
        metafunc.parametrize("number", range(MANY if metafunc.config.getoption("--sweep") else FEW))


def drawn(number: int) -> PlaneCut:
    """Return the case of a number: the same every time."""
    random = np.random.default_rng([2718, number])
    frame = Frame.looking(random.uniform(-50, 50, 3), random.normal(size=3)).clocked(random.uniform(0, 360))
    r_out = random.uniform(10.0, 60.0)
    r_in = r_out * random.uniform(0.7, 0.96)
    planes = []
    for k in range(1 + number % 4):
        lean = np.radians(0.0 if number % 8 == 3 and k == 0 else random.uniform(0.0, 75.0))
        normal = unit(np.sin(lean) * frame.radial(random.uniform(0.0, 6.28)) - np.cos(lean) * frame.axis)
        planes.append(HalfSpace(frame.advanced(500.0 + random.uniform(-0.5, 0.5) * r_out).origin, normal))
    prep = ("square", "bevel", "flat")[number % 3]
    return PlaneCut("pipe", Tube("pipe", "pipe-a", frame, r_out, r_in, 500.0), tuple(planes), prep)


def test_the_kernels_section_curves(number: int) -> None:
    """Each plane's own curve lies on the closed form where that plane decides, beyond it elsewhere; and
    the least of them all is the closed form all round."""
    cut = drawn(number)
    frame = cut.tube.frame
    for rho in (cut.tube.r_in, cut.tube.r_out):
        rod = cq.Solid.makeCylinder(rho, 1000.0, cq.Vector(*frame.origin), cq.Vector(*frame.axis))
        found, seen = 0, []
        for plane in cut.planes:
            sheet = cq.Face.makePlane(2000.0, 2000.0, cq.Vector(*plane.point), cq.Vector(*plane.normal))
            operation = BRepAlgoAPI_Section(rod.wrapped, sheet.wrapped, False)
            operation.Approximation(True)
            operation.Build()
            points = []
            for edge in cq.Shape.cast(operation.Shape()).Edges():
                curve = BRepAdaptor_Curve(edge.wrapped)
                for u in np.linspace(curve.FirstParameter(), curve.LastParameter(), 400):
                    at = curve.Value(float(u))
                    points.append((at.X(), at.Y(), at.Z()))
            x, y, station = frame.to_local(points).T
            assert np.hypot(x, y) == pytest.approx(rho, abs=1e-6)
            clock = np.arctan2(y, x)
            apart = station - cut.height(clock, rho)
            assert apart.min() > -1e-5
            on = apart < 1e-5
            found += on.sum()
            seen.append(clock[on] % (2.0 * np.pi))
        clocks = np.sort(np.concatenate(seen))
        assert np.diff(clocks, append=clocks[0] + 2.0 * np.pi).max() < np.radians(3.0), "all round"
        assert found >= 400


def test_bodies(number: int) -> None:
    cut = drawn(number)
    body = cut_straight(cut)
    assert is_sound(body)
    assert volume(body) == pytest.approx(cut.branch_volume, rel=1e-5)


def test_a_flat_end_is_the_pipe_cut_by_the_kernel(number: int) -> None:
    """One plane only: there the end face is the plane itself."""
    cut = drawn(number - number % 4)
    cut = PlaneCut(cut.id, cut.tube, cut.planes, "flat")
    frame, (plane,) = cut.tube.frame, cut.planes
    pipe = straight(frame, 1000.0, cut.tube.r_out, cut.tube.r_in)
    where = cq.Plane(tuple(plane.point), xDir=None, normal=tuple(-plane.normal))
    box = cq.Solid.makeBox(4000.0, 4000.0, 4000.0, pnt=(-2000.0, -2000.0, 0.0)).moved(cq.Location(where))
    assert volume(pipe.cut(box)) == pytest.approx(cut.branch_volume, rel=1e-8)
