"""Mitres and merges as bodies: sound, without common volume, touching along every seam."""

from __future__ import annotations

from itertools import combinations, product

import cadquery as cq
import numpy as np
import pytest

from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.joints.merge import Merge
from rootgap.joints.mitre import Mitre
from rootgap.joints.planes import PlaneCut
from rootgap.solids.bodies import common_volume, is_sound, volume
from rootgap.solids.plane_cut import cut_straight

PREPS = ["square", "bevel", "flat"]
HALF_ANGLES = [5.0, 8.0, 12.0, 16.0, 20.0]
FRAME = Frame.looking((12.0, -5.0, 40.0), (1.0, 2.0, 3.0))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Every leg and every mitre there may be with --sweep; without, a few of them, every end preparation among them."""
    whole = metafunc.config.getoption("--sweep")
    if "leg" in metafunc.fixturenames:
        metafunc.parametrize("leg", list(product([2, 3, 4], HALF_ANGLES, PREPS))[:: 1 if whole else 7])
    if "mitre" in metafunc.fixturenames:
        metafunc.parametrize("mitre", list(product([5.0, 30.0, 90.0, 140.0], PREPS))[:: 1 if whole else 2])


def merge(count: int, half_angle: float, prep: str, share: float) -> Merge:
    """Return legs of 48.3 x 2.77 mm whose outlet lies at a share of the way from the apex to the crotch."""
    sin = np.sin(np.radians(half_angle))
    return Merge("collector", FRAME, count, half_angle, 24.15, 21.38, 40.0 + 55.0 / sin, prep, -share * 21.38 / sin)


def held(cuts: tuple[PlaneCut, ...]) -> list[cq.Solid]:
    """Return the bodies of cuts, each held to soundness and to its closed form's volume."""
    bodies = [cut_straight(cut) for cut in cuts]
    for cut, body in zip(cuts, bodies, strict=True):
        assert is_sound(body)
        assert volume(body) == pytest.approx(cut.branch_volume, rel=1e-5)
    return bodies


@pytest.mark.sweep
def test_legs_are_sound_share_nothing_and_touch(leg):
    count, half_angle, prep = leg
    joint = merge(count, half_angle, prep, 0.5)
    bodies = held(joint.legs)
    for (i, first), (j, second) in combinations(enumerate(bodies), 2):
        assert common_volume(first, second) < 1.0
        if (j - i) in {1, count - 1}:
            assert first.distance(second) < 0.01


@pytest.mark.parametrize("prep", ["bevel", "flat"])
@pytest.mark.parametrize("count", [2, 3, 4])
def test_neighbours_touch_all_along_their_seam(count, prep):
    """From points of the bore's seam: bevelled and flat ends close at the root."""
    joint = merge(count, 10.0, prep, 0.5)
    bodies = held(joint.legs)
    leg = joint.legs[1]
    t = np.radians(np.arange(0.0, 360.0, 5.0))
    on_seam = np.array(leg.planes[0].distance(leg.points(t, joint.r_in))) < 1e-9
    assert on_seam.sum() > 10
    for point in leg.points(t, joint.r_in)[on_seam]:
        vertex = cq.Vertex.makeVertex(*map(float, point))
        assert vertex.distance(bodies[0]) < 0.001
        assert vertex.distance(bodies[1]) < 0.001


def test_nothing_passes_the_outlet():
    joint = merge(3, 10.0, "square", 0.4)
    for body in held(joint.legs):
        tops = [(np.array(vertex.toTuple()) - FRAME.origin) @ FRAME.axis for vertex in body.Vertices()]
        assert max(tops) == pytest.approx(joint.outlet, abs=1e-6)


def test_legs_without_an_outlet_run_to_their_points():
    sin = np.sin(np.radians(12.0))
    joint = Merge("collector", FRAME, 4, 12.0, 24.15, 21.38, 40.0 + 55.0 / sin, "bevel", None)
    bodies = held(joint.legs)
    assert max(common_volume(a, b) for a, b in combinations(bodies, 2)) < 1.0


def test_the_opening_is_the_kernels_section():
    joint = merge(4, 10.0, "flat", 0.5)
    sin = np.sin(np.radians(10.0))
    plane = cq.Plane(tuple(FRAME.advanced(joint.outlet).origin), xDir=tuple(FRAME.ref), normal=tuple(FRAME.axis))
    sheet = cq.Face.makePlane(400.0, 400.0, plane.origin, plane.zDir)
    for radius in (joint.r_in, joint.r_out):
        rods = []
        for number in range(4):
            leg = joint.leg(number)
            rod = cq.Solid.makeCylinder(radius, 60.0 / sin + 400.0, cq.Vector(*leg.origin), cq.Vector(*leg.axis))
            rods.append(sheet.intersect(rod))
        whole = rods[0].fuse(*rods[1:])
        assert whole.Area() == pytest.approx(joint.opening_area(joint.outlet, radius), rel=1e-6)


@pytest.mark.sweep
def test_mitred_pipes(mitre):
    turn, prep = mitre
    on = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn)), 0.0])
    tubes = [
        Tube(name, name, frame, 30.15, 26.24, 300.0)
        for name, frame in (("a", Frame.looking((-300, 0, 0), (1, 0, 0))), ("b", Frame.looking(300 * on, -on)))
    ]
    first, second = held(Mitre("a+b", tubes[0], tubes[1], prep).sides)
    assert common_volume(first, second) < 1.0
    assert first.distance(second) < 0.01
