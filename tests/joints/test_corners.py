"""The clocks at which a finished end has corners."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.joints import Cope


def cope(log_out=36.5, log_wall=5.16, r_out=24.15, wall=2.77, lean=62.0, offset=0.0, spin=0.0, set_="on", prep="bevel"):
    """Return a branch over the middle of a log along x; spin: its reference line, degrees."""
    angle = np.radians(lean)
    axis = np.array([-np.cos(angle), 0.0, -np.sin(angle)])
    branch = Frame.looking(-600.0 * axis + np.array([0.0, offset, 0.0]), axis, (1, 0, 0)).clocked(spin)
    log = Frame.looking((-500.0, 0, 0), (1, 0, 0), (0, 0, 1))
    return Cope(
        "branch+log",
        Tube("branch", "branch-a", branch, r_out, r_out - wall, 600.0),
        Tube("log", "log-a", log, log_out, log_out - log_wall, 1000.0),
        set_,
        prep,
        0.5,
    )


def jump(joint: Cope, theta: np.ndarray) -> np.ndarray:
    """Return how much the slope of the outer edge jumps at `theta`, mm/rad, from points 1e-4 rad away."""
    step = 1e-4
    here = joint.outer_edge(theta)
    return np.abs(joint.outer_edge(theta + step) - 2.0 * here + joint.outer_edge(theta - step)) / step


leans, offsets, spins = st.floats(25.0, 155.0), st.floats(-6.0, 6.0), st.floats(0.0, 360.0)


@given(leans, offsets, spins)
def test_a_bevelled_end_has_a_corner_where_the_logs_slope_at_the_root_is_nought(lean, offset, spin):
    joint = cope(lean=lean, offset=offset, spin=spin)
    corners = joint.corners
    assert joint.outside.slope(corners, joint.branch.r_in) == pytest.approx(0.0, abs=1e-9)
    assert ((corners >= 0.0) & (corners < 2.0 * np.pi)).all()
    assert (np.diff(corners) > 0.0).all()
    assert corners.size % 2 == 0, "as often up as down"


@given(leans, offsets, spins, st.sampled_from([("on", "bevel"), ("in", "square")]))
def test_the_edge_is_smooth_everywhere_else(lean, offset, spin, end):
    joint = cope(lean=lean, offset=offset, spin=spin, set_=end[0], prep=end[1])
    theta = np.arange(0.0, 2.0 * np.pi, 2e-3)
    apart = np.abs((theta[:, None] - joint.corners + np.pi) % (2.0 * np.pi) - np.pi)
    clear = apart.min(axis=1, initial=np.inf) > 2e-4
    assert jump(joint, theta[clear]).max() < 0.1


def test_corners_turn_with_the_reference_line():
    plain, turned = (cope(spin=spin).corners for spin in (0.0, 40.0))
    assert np.sort((turned + np.radians(40.0)) % (2.0 * np.pi)) == pytest.approx(plain, abs=1e-12)


@pytest.mark.parametrize("end", [("on", "bevel"), ("in", "square")])
def test_the_edge_does_turn_a_corner_there(end):
    joint = cope(set_=end[0], prep=end[1])
    assert joint.corners.size == 2
    assert jump(joint, joint.corners).min() > 1.0


@pytest.mark.parametrize(
    ("end", "how"),
    [
        ({"lean": 90.0}, "square over the log's middle the log falls away on both sides: no corner"),
        ({"lean": 90.0, "spin": 33.0}, "the same from any reference line"),
        ({"lean": 90.0, "prep": "square"}, "nor on a square end"),
        ({"set_": "in", "prep": "bevel"}, "a set-in bevel follows the log's bore"),
    ],
)
def test_none(end, how):
    assert cope(**end).corners.size == 0, how


def test_a_square_end_at_90_degrees_beside_the_middle_has_two():
    """The wall's first radius to meet jumps where the generators pass at the branch's own middle."""
    joint = cope(lean=90.0, offset=6.0, prep="square", spin=10.0)
    sharp = joint.corners[jump(joint, joint.corners) > 0.1]
    assert np.unique(np.round(np.degrees(sharp), 6)).tolist() == [170.0, 350.0]
