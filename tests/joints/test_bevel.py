"""Wanted bevels, measured on points of the very face that is made."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Bending, Tube
from rootgap.joints import Cope
from rootgap.joints.bevel import MOST_GRIND, Bevel, Section
from rootgap.joints.mitre import Mitre, facing
from rootgap.joints.planes import PlaneCut

TURN = np.radians(np.arange(0.5, 360.0, 3.0))
STEP = 1e-5
#: What a land that must itself be ground may change of a groove, degrees.
OUT = 3.0


def cope(lean=90.0, offset=0.0, *, bevel=None, r_out=24.15, wall=3.68, log_out=36.5, spin=0.0) -> Cope:
    """Return a bevelled branch over the middle of a log along x; spin: its reference line, degrees."""
    angle = np.radians(lean)
    axis = np.array([-np.cos(angle), 0.0, -np.sin(angle)])
    branch = Frame.looking(-600.0 * axis + np.array([0.0, offset, 0.0]), axis, (1, 0, 0)).clocked(spin)
    log = Tube("log", "log-a", Frame.looking((-500.0, 0, 0), (1, 0, 0), (0, 0, 1)), log_out, log_out - 5.16, 1000.0)
    return Cope(
        "x", Tube("branch", "branch-a", branch, r_out, r_out - wall, 600.0), log, "on", "bevel", 0.5, bevel=bevel
    )


def plane_cut(lean: float, bevel: Bevel | None, prep="bevel") -> PlaneCut:
    frame = Frame.looking((3.0, -2.0, 8.0), (0.2, 1.0, -0.4))
    normal = np.sin(np.radians(lean)) * frame.radial(0.7) - np.cos(np.radians(lean)) * frame.axis
    tube = Tube("pipe", "pipe-a", frame, 30.15, 26.24, 300.0)
    return PlaneCut("cut", tube, (HalfSpace(frame.advanced(300.0).origin, normal),), prep, bevel)


def measured(frame: Frame, joint: Cope | PlaneCut, root, normal) -> np.ndarray:
    """Return the groove angle, degrees, of the outermost part of the end face, square to the root.

    root: gives points of the bore edge at clocks; normal: (n, 3), of the other side there. The face's own
    plane at a clock comes from three of its points.
    """
    low, high = joint.radii[-2:]

    def point(theta, ring, rho):
        return frame.origin + rho * frame.radial(theta) + joint.face(theta)[:, ring, None] * frame.axis

    up = point(TURN, -1, high) - point(TURN, -2, low)
    on = point(TURN + STEP, -2, low) - point(TURN - STEP, -2, low)
    tangent = root(TURN + STEP) - root(TURN - STEP)
    tangent /= np.linalg.norm(tangent, axis=1, keepdims=True)
    seen = np.cross(np.cross(on, up), tangent)
    seen *= np.sign(np.einsum("ij,ij->i", seen, up))[:, None]
    along = np.cross(normal, tangent)
    along *= np.sign(np.einsum("ij,ij->i", along, frame.radial(TURN)))[:, None]
    rise, run = (np.einsum("ij,ij->i", seen, way) for way in (normal, along))
    return np.degrees(np.arctan2(rise, run))


def measured_cope(joint: Cope) -> np.ndarray:
    def root(theta):
        return joint.outside.points(theta, joint.branch.r_in)

    return measured(joint.branch.frame, joint, root, joint.outside.normals(root(TURN)))


bevels = st.builds(Bevel, st.one_of(st.just(0.0), st.floats(0.01, 2.5)), st.floats(10.0, 90.0))
joints = st.builds(
    lambda bevel, lean, offset, log_out, spin: cope(lean, offset, bevel=bevel, log_out=log_out, spin=spin),
    bevels,
    st.floats(30.0, 150.0),
    st.floats(-6.0, 6.0),
    st.floats(31.0, 60.0),
    st.floats(0.0, 360.0),
)


@given(joints)
def test_the_groove_is_that_of_the_face_itself(joint):
    out = np.abs(measured_cope(joint) - joint.finished_groove(TURN))
    square = joint.face(TURN)[:, 0] == joint.face(TURN)[:, 1]
    assert out.max() < OUT + 0.5
    if joint.bevel.land == 0.0:
        assert out.max() < 1e-4
    elif square.any():
        assert out[square].max() < 1e-4


@given(joints)
def test_it_opens_as_wide_as_is_wanted_wherever_the_grinder_gets_there(joint):
    groove, grind = joint.finished_groove(TURN), joint.grind(TURN)
    assert (groove[grind < MOST_GRIND - 1e-6] > joint.bevel.angle - 1e-6).all()
    # No more is taken off than that, or than clears.
    least = replace(joint, bevel=None).grind(TURN)
    more = grind > np.maximum(least, 0.0) + 1e-6
    assert groove[more & (grind < MOST_GRIND - 1e-6)] == pytest.approx(joint.bevel.angle, abs=1e-6)


@given(joints)
def test_it_still_clears_and_takes_less_metal_off_than_none(joint):
    low, high = joint.radii[:-1], joint.radii[1:]
    face, frame = joint.face(TURN), joint.branch.frame
    for j in range(low.size):
        for share in np.linspace(0.0, 1.0, 9):
            rho, station = low[j] + share * (high[j] - low[j]), face[:, j] + share * (face[:, j + 1] - face[:, j])
            points = frame.origin + rho * frame.radial(TURN) + station[:, None] * frame.axis
            local = joint.target.frame.to_local(points)
            assert np.hypot(local[:, 0], local[:, 1]).min() > joint.target.r_out - 1e-6
    assert joint.branch_volume <= replace(joint, bevel=None).branch_volume + 1e-6
    assert joint.root_gap_max < 1e-9


@given(joints)
def test_the_outer_edge_is_whole_and_smooth_between_corners(joint):
    theta = np.arange(0.0, 2.0 * np.pi, 4e-3)
    step, here = 1e-4, joint.outer_edge(theta)
    jumps = np.abs(joint.outer_edge(theta + step) - 2.0 * here + joint.outer_edge(theta - step)) / step
    apart = np.abs((theta[:, None] - joint.corners + np.pi) % (2.0 * np.pi) - np.pi).min(axis=1, initial=np.inf)
    assert jumps.max() < 60.0, "no step anywhere"
    assert jumps[apart > 2e-4].max() < 0.1


def test_by_hand_square_on_a_flat_side():
    """At the sides of a square joint the target's tangent is square to the branch: there the section is the
    plane through the axis, and grind and groove differ by the target's slope alone."""
    joint = cope(bevel=Bevel(1.6, 45.0))
    side = np.radians([90.0, 270.0])
    slope = np.degrees(np.arcsin(joint.branch.r_in / joint.target.r_out))
    assert joint.grind(side) == pytest.approx(45.0 - slope)
    # Over the log's crown the target lies level: the grinder is set to the groove itself.
    assert joint.grind(np.radians([0.0, 180.0])) == pytest.approx(45.0)


def test_the_schedule_goes_round_in_eighths():
    joint = cope(60.0, bevel=Bevel(1.6, 45.0))
    assert [row.clock for row in joint.bevel_schedule] == [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0]
    theta = np.radians([row.clock for row in joint.bevel_schedule])
    assert [row.grind for row in joint.bevel_schedule] == pytest.approx(joint.grind(theta))
    assert [row.groove for row in joint.bevel_schedule] == pytest.approx(joint.finished_groove(theta))
    # The heel leans 60 degrees over the log: a groove of 45 there is a grind of 75, which is held back.
    assert joint.bevel_schedule[0].grind == MOST_GRIND
    assert joint.bevel_schedule[0].groove == pytest.approx(40.0)


def test_without_a_wanted_bevel_the_schedule_is_what_clears():
    joint = cope(60.0)
    toe, heel = joint.bevel_schedule[0], joint.bevel_schedule[4]
    assert (toe.grind, toe.groove) == pytest.approx((30.0, 0.0))
    assert (heel.grind, heel.groove) == pytest.approx((0.0, 30.0))
    assert joint.radii.size == 2


def test_the_land_stays_square_where_it_clears():
    joint = cope(75.0, bevel=Bevel(1.6, 45.0))
    face = joint.face(np.radians([180.0, 0.0]))
    assert face[0, 1] == face[0, 0]
    assert face[1, 0] - face[1, 1] == pytest.approx(1.6 * np.tan(np.radians(15.0)))
    assert joint.radii == pytest.approx([20.47, 22.07, 24.15])


@given(st.floats(0.0, 60.0), bevels)
def test_a_mitre_shares_the_angle(lean, bevel):
    cut = plane_cut(lean, bevel)

    def root(theta):
        return cut.points(theta, cut.tube.r_in)

    normal = np.broadcast_to(cut.planes[0].normal, (TURN.size, 3))
    out = np.abs(measured(cut.tube.frame, cut, root, normal) - cut.finished_groove(TURN))
    square = cut.face(TURN)[:, 0] == cut.face(TURN)[:, 1]
    assert out[square].max(initial=0.0) < 1e-4
    assert out.max() < OUT + 0.5
    reached = cut.grind(TURN) < MOST_GRIND - 1e-6
    assert (cut.finished_groove(TURN)[reached] > 0.5 * bevel.angle - 1e-6).all()
    # Volume by trapezoids, over both parts of the face.
    theta = 2.0 * np.pi * np.arange(20000) / 20000
    face, radii = cut.face(theta), cut.radii
    volume = 0.0
    for j, (low, high) in enumerate(pairwise(radii)):
        slope = (face[:, j + 1] - face[:, j]) / (high - low)
        level = face[:, j] - slope * low
        volume += 2 * np.pi * np.mean(level * (high**2 - low**2) / 2 + slope * (high**3 - low**3) / 3)
    assert cut.branch_volume == pytest.approx(volume, rel=1e-7)
    least, most = cut.cut_range
    assert least == pytest.approx(face.min(), abs=1e-3)
    assert most == pytest.approx(face.max(), abs=1e-3)


def test_a_butt_is_the_mitre_that_does_not_turn():
    """Square ends of 37.5 degrees each, land 1.6 mm: the weld end of ASME B16.25 figure 2."""
    cut = plane_cut(0.0, Bevel(1.6, 75.0))
    assert cut.grind(TURN) == pytest.approx(37.5)
    assert cut.corners.size == 0
    assert np.ptp(cut.face(TURN), axis=0) == pytest.approx(0.0, abs=1e-9)


def test_both_ends_of_a_mitre_are_given_the_bevel():
    a = Tube("run", "run-a", Frame.looking((0, 0, 0), (1, 0, 0)), 24.15, 20.47, 100.0)
    b = Tube("run", "run-b", Frame.looking((100, 0, 0), (1, 1, 0)), 24.15, 20.47, 100.0)
    joint = Mitre("m", a, facing(b, b.frame.advanced(100.0)), "bevel", Bevel(1.6, 60.0))
    first, second = ([row.groove for row in cut.bevel_schedule] for cut in joint.sides)
    assert min(first) >= 30.0 - 1e-9
    assert sorted(first) == pytest.approx(sorted(second), abs=1e-6)


def test_an_elbows_end():
    """Traced, its generators arcs: the land is a ring of its own, and what is wanted is got."""
    plain = cope(70.0)
    branch = replace(plain.branch, frame=plain.branch.frame.advanced(520.0), length=170.0, bending=Bending(114.0, 0.0))
    joint = replace(plain, branch=branch, bevel=Bevel(1.6, 40.0))
    theta = TURN[::8]
    assert joint.face(theta).shape == (theta.size, 3)
    assert (joint.finished_groove(theta) > 40.0 - 1e-6).all()
    assert joint.branch_volume < replace(joint, bevel=None).branch_volume


def test_a_section_at_90_degrees_is_the_pipes_own_outside():
    section = Section(np.array([np.cos(0.3), np.sin(0.3)]), np.array([np.sin(0.3), -np.cos(0.3)]))
    assert section.groove([0.0, 90.0]) == pytest.approx([np.degrees(0.3), np.degrees(0.3) + 90.0])
    for grind in (-40.0, 0.0, 20.0, 80.0):
        assert section.grind(float(section.groove(grind))) == pytest.approx(grind)
    assert section.grind(120.0) > 90.0


@pytest.mark.parametrize(
    ("land", "angle", "what"),
    [
        (-0.1, 45.0, "0, or at least"),
        (0.001, 45.0, "0, or at least"),
        (1.0, 9.0, "10 to 90"),
        (1.0, 91.0, "10 to 90"),
    ],
)
def test_bevels_that_cannot_be(land, angle, what):
    with pytest.raises(ValueError, match=what):
        Bevel(land, angle)


def test_ends_that_cannot_have_one():
    bevel = Bevel(1.6, 45.0)
    with pytest.raises(ValueError, match="not set on and bevelled"):
        replace(cope(), prep="square", bevel=bevel)
    with pytest.raises(ValueError, match="leaves nothing of the wall"):
        cope(bevel=Bevel(3.68, 45.0))
    with pytest.raises(ValueError, match="not bevelled against one plane"):
        plane_cut(20.0, bevel, "flat")
    with pytest.raises(ValueError, match="leaves nothing of the wall"):
        plane_cut(20.0, Bevel(4.0, 45.0))
