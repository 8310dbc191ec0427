"""First hits of generators, against closed forms and against brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.distance import Bend, Frustum, HalfSpace, Rod, Union
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tracing import first_hits

TURN = np.radians(np.arange(0.0, 360.0, 6.0))
REACH = 900.0


def lines(frame: Frame, rho: float):
    radial = frame.radial(TURN)
    return lambda which, travel: frame.origin + rho * radial[which] + travel[:, None] * frame.axis


def hits(frame: Frame, rho: float, body) -> np.ndarray:
    return first_hits(lines(frame, rho), body, np.zeros(len(TURN)), np.full(len(TURN), REACH))


@given(
    st.floats(15.0, 80.0), st.floats(0.1, 0.999), st.floats(-1.0, 1.0), st.floats(25.0, 155.0), st.floats(0.0, 360.0)
)
def test_lines_on_a_cylinder_are_the_saddle(run, share, over, lean, spin):
    branch = share * run
    offset = over * (run - branch)
    angle = np.radians(lean)
    axis = np.array([-np.cos(angle), 0.0, -np.sin(angle)])
    frame = Frame.looking(-400.0 * axis + np.array([0.0, offset, 0.0]), axis, (1, 0, 0)).clocked(spin)
    target = Frame.looking((-3000.0, 0, 0), (1, 0, 0), (0, 0, 1))
    body = Rod(vector((-3000.0, 0, 0)), vector((3000.0, 0, 0)), run)
    expected = Saddle(frame, target, run).height(TURN, branch)
    # A tangent is found to the root of the tangent's own tolerance; anything else to rounding.
    tangent = min(1.0 - share, 1.0 - abs(over)) < 1e-6
    assert hits(frame, branch, body) == pytest.approx(expected, abs=0.01 if tangent else 1e-6)


def test_lines_on_a_plane_and_a_cone_are_closed_forms():
    frame = Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0))
    plane = HalfSpace(vector((0, 0, 100)), vector(np.array([0.6, 0.0, -0.8])))
    # 0.6 x - 0.8 (z - 100) = 0 on the plane.
    assert hits(frame, 20.0, plane) == pytest.approx(100.0 + 0.75 * 20.0 * np.cos(TURN), abs=1e-8)
    cone = Frustum(vector((200.0, 0, 300)), vector((-200.0, 0, 300)), 40.0, 60.0)
    x, y = 20.0 * np.cos(TURN), 20.0 * np.sin(TURN)
    radius = 50.0 - x / 20.0
    assert hits(frame, 20.0, cone) == pytest.approx(300.0 - np.sqrt(radius**2 - y**2), abs=1e-7)


@given(st.floats(-60.0, 60.0), st.floats(-40.0, 40.0), st.floats(-0.4, 0.4), st.floats(3.0, 30.0))
def test_lines_on_a_bend_are_never_past_the_first_hit(y, z, tilt, rho):
    """Brute force: no point before the hit is inside the torus, and the hit is on it."""
    bend = Bend(Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0)), 76.2, 90.0, 0.0, 30.15)
    frame = Frame.looking((-200.0, y, 40.0 + z), (1.0, 0.0, tilt), (0, 1, 0))
    found = hits(frame, rho, bend)
    travel = np.linspace(0.0, 450.0, 1501)
    for k, hit in list(enumerate(found))[::4]:
        start = frame.origin + rho * frame.radial(TURN[k])
        gaps = bend.distance(start + travel[:, None] * frame.axis)
        before = gaps[travel < (np.inf if np.isnan(hit) else hit - 1e-6)]
        assert before.min() > -1e-6
        if not np.isnan(hit):
            assert abs(bend.distance((start + hit * frame.axis)[None])[0]) < 1e-6


def test_the_nearer_of_two_bodies_counts():
    frame = Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0))
    far = HalfSpace(vector((0, 0, 100)), vector((0, 0, -1.0)))
    near = HalfSpace(vector((0, 0, 90)), vector(np.array([0.6, 0.0, -0.8])))
    both = hits(frame, 30.0, Union((far, near)))
    assert both == pytest.approx(np.minimum(hits(frame, 30.0, far), hits(frame, 30.0, near)), abs=1e-9)


def test_a_generator_that_passes_has_no_hit():
    frame = Frame.looking((0, 100, 0), (0, 0, 1), (1, 0, 0))
    assert np.isnan(hits(frame, 10.0, Rod(vector((-99, 0, 300)), vector((99, 0, 300)), 50.0))).all()


@pytest.mark.parametrize("angle", [30.0, 90.0, 180.0])
def test_a_bends_distance_is_the_nearest_of_its_skin(angle):
    """Against a dense cloud of points on the bend's skin and ends."""
    frame = Frame.looking((5, -3, 8), (0.2, 0.3, 1.0), (1, 0, 0))
    bend = Bend(frame, 60.0, angle, 35.0, 20.0)
    turn, theta = np.meshgrid(np.linspace(0, angle, 361), np.linspace(0, 360, 361))
    skin = []
    for radius in (20.0, 15.0, 10.0, 5.0, 0.0):
        where = np.isin(turn, (0.0, angle)) | (radius == 20.0)
        for a in np.unique(turn[where]):
            end = frame.bent(60.0, a, 35.0)
            skin.append(end.origin + radius * end.radial(np.radians(theta[:, 0])))
    cloud = np.vstack(skin)
    points = np.random.default_rng(3).uniform(-150, 150, size=(60, 3)) + frame.origin
    nearest = np.array([np.linalg.norm(cloud - p, axis=1).min() for p in points])
    outside = bend.distance(points) > 0
    assert bend.distance(points)[outside] == pytest.approx(nearest[outside], abs=0.4)
    assert (bend.distance(points)[outside] <= nearest[outside] + 1e-9).all()
