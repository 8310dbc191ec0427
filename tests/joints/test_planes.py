"""A pipe's end on planes: what square, bevelled and flat ends do, their corners, lengths and volumes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.errors import GeometryError
from rootgap.geometry.contact import Traced
from rootgap.geometry.distance import HalfSpace, Union
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.tube import Tube
from rootgap.geometry.wall import StraightWall
from rootgap.joints.mitre import Mitre, facing
from rootgap.joints.planes import PlaneCut

TURN = np.radians(np.arange(0.0, 360.0, 1.0))
LENGTH = 500.0


@st.composite
def cuts(draw, prep=None):
    """A pipe along any way, against one to four planes that pass near its far end."""
    frame = Frame.looking((3.0, -7.0, 11.0), (1.0, 2.0, -0.5)).clocked(draw(st.floats(0.0, 360.0)))
    r_out = draw(st.floats(8.0, 60.0))
    r_in = r_out * draw(st.floats(0.6, 0.95))
    planes = []
    for _ in range(draw(st.integers(1, 4))):
        lean, clock = np.radians(draw(st.floats(0.0, 70.0))), draw(st.floats(0.0, 6.2))
        normal = unit(np.sin(lean) * frame.radial(clock) - np.cos(lean) * frame.axis)
        planes.append(HalfSpace(frame.advanced(LENGTH + draw(st.floats(-0.5, 0.5)) * r_out).origin, normal))
    prep = prep or draw(st.sampled_from(["square", "bevel", "flat"]))
    return PlaneCut("pipe", Tube("pipe", "pipe-a", frame, r_out, r_in, LENGTH), tuple(planes), prep)


def clearance(cut: PlaneCut) -> np.ndarray:
    """Return how far the finished end is from passing a plane, mm, (clocks, radii); below nought it does."""
    frame, r_in, r_out = cut.tube.frame, cut.tube.r_in, cut.tube.r_out
    bore, outer = cut.bore_edge(TURN), cut.outer_edge(TURN)
    share = np.linspace(0.0, 1.0, 17)[:, None]
    points = StraightWall(frame).points(
        np.tile(TURN, 17),
        np.repeat(r_in + share.ravel() * (r_out - r_in), len(TURN)),
        (bore + share * (outer - bore)).ravel(),
    )
    return Union(cut.planes).distance(points).reshape(17, -1)


@given(cuts())
def test_no_end_passes_a_plane_and_every_end_touches_one_at_every_clock(cut):
    apart = clearance(cut)
    assert apart.min() > -1e-9
    assert np.minimum(apart[0], apart[-1]).max() < 1e-9


@given(cuts(prep="bevel"))
def test_a_bevels_bore_edge_lies_on_the_planes(cut):
    assert np.abs(clearance(cut)[0]).max() < 1e-9
    assert cut.root_gap_max == pytest.approx(0.0, abs=1e-9)
    assert cut.grind(TURN).min() > -1e-6


@given(cuts(prep="flat"))
def test_a_flat_end_lies_on_the_planes_at_bore_and_outside(cut):
    assert np.abs(clearance(cut)[[0, -1]]).max() < 1e-9
    assert cut.root_gap_max == pytest.approx(0.0, abs=1e-9)


@given(cuts())
def test_edges_are_smooth_between_corners(cut):
    corners = cut.corners
    assert ((corners >= 0.0) & (corners < 2.0 * np.pi)).all()
    assert (np.diff(corners) > 0.0).all()
    theta, step = np.arange(0.0, 2.0 * np.pi, 2e-3), 1e-4
    apart = np.abs((theta[:, None] - corners + np.pi) % (2.0 * np.pi) - np.pi)
    theta = theta[apart.min(axis=1, initial=np.inf) > 2e-4]
    for edge in (cut.cut, cut.bore_edge, cut.outer_edge):
        jump = np.abs(edge(theta + step) - 2.0 * edge(theta) + edge(theta - step)) / step
        assert jump.max(initial=0.0) < 0.1


@given(cuts())
def test_tracing_finds_the_same_heights(cut):
    traced = Traced(StraightWall(cut.tube.frame), Union(cut.planes), 2.0 * LENGTH)
    t = TURN[::15]
    assert traced.height(t, cut.tube.r_out) == pytest.approx(cut.height(t, cut.tube.r_out), abs=1e-6)
    first = traced.first_height(t, cut.tube.r_in, cut.tube.r_out)
    ends = [cut.height(t, rho) for rho in (cut.tube.r_in, cut.tube.r_out)]
    assert first == pytest.approx(np.minimum(*ends), abs=1e-6)


@given(cuts())
def test_length_and_volume_by_brute_force(cut):
    even = np.linspace(0.0, 2.0 * np.pi, 20001)
    t = np.sort(np.concatenate([even, cut.corners]))
    chords = np.hypot(cut.tube.r_out * np.diff(t), np.diff(cut.cut(t)))
    assert cut.weld_length == pytest.approx(chords.sum(), rel=1e-7)
    rho = np.linspace(cut.tube.r_in, cut.tube.r_out, 201)
    middle = 0.5 * (rho[1:] + rho[:-1])
    share = (middle - rho[0]) / (rho[-1] - rho[0])
    t = even[:-1:10]
    ends = cut.bore_edge(t) + share[:, None] * (cut.outer_edge(t) - cut.bore_edge(t))
    volume = (middle * ends.mean(axis=1)).sum() * (rho[1] - rho[0]) * 2.0 * np.pi
    assert cut.branch_volume == pytest.approx(volume, rel=1e-5)
    least, most = cut.cut_range
    edges = np.concatenate([cut.bore_edge(TURN), cut.outer_edge(TURN)])
    assert least <= edges.min() + 1e-9
    assert most >= edges.max() - 1e-9


@given(cuts())
def test_groove_is_the_slope_across_the_root(cut):
    """The face opens away from the plane where the height rises outward, whatever its way round."""
    r_in, step = cut.tube.r_in, 1e-6
    rise = cut.height(TURN, r_in + step) - cut.height(TURN, r_in)
    clear = np.abs(rise) > 1e-3 * step
    assert (np.sign(cut.groove(TURN)) == np.sign(rise))[clear].all()


def test_a_square_cut_mitre_stands_open_at_the_throat_by_the_wall_times_the_lean():
    """By r tan b at each radius: the outside meets first in the throat, the bore on the back."""
    before = Tube("a", "a-a", Frame.looking((-LENGTH, 0, 0), (1, 0, 0), (0, 1, 0)), 30.15, 26.24, LENGTH)
    after = Tube("b", "b-a", Frame.looking((0, LENGTH, 0), (0, -1, 0)), 30.15, 26.24, LENGTH)
    joint = Mitre("a+b", before, after, "square")
    gap = joint.sides[0].root_gap(np.radians([0.0, 90.0, 180.0]))
    assert gap == pytest.approx([30.15 - 26.24, 0.0, 0.0], abs=1e-9)
    assert joint.root_gap_max == pytest.approx(2.0 * (30.15 - 26.24), abs=1e-9)
    assert joint.sides[0].groove(np.radians([0.0, 180.0])) == pytest.approx([-45.0, 45.0])


def mitre(turn=40.0, other=30.15, other_wall=3.91, aside=0.0) -> Mitre:
    on = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn)), 0.0])
    before = Tube("a", "a-a", Frame.looking((-LENGTH, 0, 0), (1, 0, 0)), 30.15, 26.24, LENGTH)
    leaving = Tube("b", "b-a", Frame.looking((0, 0, aside), on), other, other - other_wall, LENGTH)
    return Mitre("a+b", before, facing(leaving, leaving.frame.advanced(LENGTH)))


def test_mates_lie_on_each_other_all_round():
    joint = mitre()
    first, second = joint.sides
    points = first.points(TURN, 30.15)
    x, y, z = joint.after.frame.to_local(points).T
    assert np.hypot(x, y) == pytest.approx(30.15, abs=1e-9)
    assert second.height(np.arctan2(y, x), 30.15) == pytest.approx(z, abs=1e-9)


def test_unequal_pipes_that_overlap_are_told_their_step():
    joint = mitre(other=29.0, other_wall=2.9)
    assert joint.outer_step == pytest.approx(1.15)
    assert joint.step == pytest.approx(30.15 - 3.91 - (29.0 - 2.9))
    assert joint.overlap == pytest.approx(29.0 - 26.24)


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"other": 24.15}, r"walls miss each other by 2\.09 mm; they must .* by at least 1 mm; put a reducer between"),
        ({"other": 26.5}, r"walls lie on each other by 0\.26 mm only; they must .* by at least 1 mm; put a reducer"),
        ({"aside": 2.5}, r"axes pass 2\.50 mm apart; move one of them 2\.50 mm sideways"),
        ({"turn": 0.0}, r"turn by 0\.00 degrees; a mitre turns 0\.01 to 150; join them square"),
        ({"turn": 160.0}, r"turn by 160\.00 degrees; .*share the turn"),
    ],
)
def test_refused(how, said):
    with pytest.raises(GeometryError, match=said):
        mitre(**how)


def test_a_pipe_that_runs_away_from_a_plane_is_refused():
    tube = mitre().before
    with pytest.raises(ValueError, match="does not run towards"):
        PlaneCut("x", tube, (HalfSpace(tube.frame.origin, tube.frame.axis),), "flat")
    with pytest.raises(ValueError, match="needs a plane"):
        PlaneCut("x", tube, (), "flat")
