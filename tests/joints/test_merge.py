"""The merge: seams that are one curve to both neighbours, its opening, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.merging import outlet_station
from rootgap.joints.merge import Merge

APEX = Frame.looking((12.0, -5.0, 40.0), (1.0, 2.0, 3.0))
TURN = np.radians(np.arange(0.0, 360.0, 1.0))


def merge(count=4, half_angle=10.0, outlet=-60.0, prep="bevel", length=500.0) -> Merge:
    return Merge("collector", APEX, count, half_angle, 24.15, 21.38, length, prep, outlet)


@st.composite
def merges(draw):
    count, half_angle = draw(st.sampled_from([2, 3, 4])), draw(st.floats(4.0, 45.0))
    share = draw(st.floats(-0.98, 0.98))
    outlet = share * 21.38 / np.sin(np.radians(half_angle))
    prep = draw(st.sampled_from(["square", "bevel", "flat"]))
    return merge(count, half_angle, outlet, prep, length=3000.0)


@given(merges())
def test_seams_lie_on_both_neighbours(joint):
    """What a leg's outside meets on a seam plane is on the next leg's outside too."""
    first, second = joint.legs[:2]
    points = first.points(TURN, joint.r_out)
    x, y, z = second.tube.frame.to_local(points).T
    between = np.abs((points - joint.frame.origin) @ joint.planes(1)[0].normal)
    on_seam = between < 1e-9
    assert np.hypot(x, y)[on_seam] == pytest.approx(joint.r_out, abs=1e-6)
    assert second.height(np.arctan2(y, x), joint.r_out)[on_seam] == pytest.approx(z[on_seam], abs=1e-6)


@given(merges())
def test_cuts_are_the_closed_form_up_to_the_outlet(joint):
    phi = TURN
    for leg in joint.legs:
        for rho in (joint.r_in, joint.r_out):
            across = leg.tube.frame.origin + rho * leg.tube.frame.radial(phi) - joint.frame.origin
            to_outlet = (joint.outlet - across @ joint.frame.axis) / (leg.tube.frame.axis @ joint.frame.axis)
            wanted = np.minimum(joint.length - joint.back(phi, rho), to_outlet)
            assert leg.height(phi, rho) == pytest.approx(wanted, abs=1e-6)


@given(merges())
def test_all_legs_meet_on_the_axis_at_the_crotch(joint):
    for leg in joint.legs:
        for rho, station in ((joint.r_out, joint.crotch), (joint.r_in, joint.crotch_bore)):
            assert leg.points(np.pi, rho) == pytest.approx(joint.frame.advanced(station).origin, abs=1e-6)


@given(merges())
def test_the_opening_by_brute_force(joint):
    psi = np.linspace(0.0, 2.0 * np.pi, 24 * 3000 + 1)
    for radius in (joint.r_in, joint.r_out):
        rho = joint.outline(joint.outlet, radius, psi)
        assert joint.opening_area(joint.outlet, radius) == pytest.approx(0.5 * np.mean(rho**2) * 2.0 * np.pi, rel=2e-3)
        rim = np.column_stack([rho * np.cos(psi), rho * np.sin(psi)])
        chords = np.linalg.norm(np.diff(rim, axis=0), axis=1).sum()
        assert joint.girth(joint.outlet, radius) == pytest.approx(chords, rel=1e-4)
        if joint.outlet <= 0.0 and radius == joint.r_out:
            assert 2.0 * rho.max() == pytest.approx(joint.enclosing_diameter(joint.outlet), rel=1e-6)
            back = outlet_station(2.0 * rho.max(), joint.r_out, joint.half_angle)
            assert back == pytest.approx(joint.outlet, abs=1e-3)


def test_upstream_of_the_first_touch_the_opening_is_whole_ellipses_and_changes_steadily():
    for count in (2, 3, 4):
        joint = merge(count)
        whole = count * np.pi * joint.r_out**2 / np.cos(np.radians(10.0))
        assert joint.opening_area(joint.first_touch - 1.0, joint.r_out) == pytest.approx(whole, rel=1e-12)
        z = np.linspace(joint.first_touch - 5.0, -1.0, 2000)
        areas = np.array([joint.opening_area(station, joint.r_out) for station in z])
        assert (np.diff(areas) <= 1e-9).all()
        assert np.abs(np.diff(areas)).max() < 60.0


def test_at_the_apex_the_opening_is_little_more_than_one_pipe():
    joint = merge(outlet=0.0)
    assert 1.0 < joint.opening_area(0.0, joint.r_in) / (np.pi * joint.r_in**2) < 1.03


def test_the_girths_of_a_round_one():
    """With its plane at the apex and hardly any lean every leg is the same circle."""
    joint = merge(half_angle=2.0, outlet=0.0, length=2000.0)
    assert joint.girth(0.0, joint.r_out) == pytest.approx(2.0 * np.pi * joint.r_out, rel=1e-3)


def test_seam_lengths_add_up():
    for count in (2, 3, 4):
        joint = merge(count)
        leg = joint.legs[0]
        per_leg = 1 if count == 2 else 2
        assert leg.weld_lengths[:per_leg] == pytest.approx([joint.seam_length] * per_leg, rel=1e-12)
        assert joint.weld_length == pytest.approx(count * sum(leg.weld_lengths[:per_leg]) / 2.0, rel=1e-12)
        t = np.linspace(0.0, 2.0 * np.pi, 40001)
        rim = leg.points(t, joint.r_out)
        at_outlet = np.abs((rim[1:] - joint.frame.origin) @ joint.frame.axis - joint.outlet) < 1e-6
        chords = np.linalg.norm(np.diff(joint.legs[0].tube.frame.to_local(rim), axis=0), axis=1)
        bevel_free = merge(count, prep="flat").legs[0]
        assert bevel_free.weld_lengths[-1] == pytest.approx(chords[at_outlet].sum(), rel=1e-3)


@pytest.mark.parametrize(
    ("how", "said"),
    [
        ({"count": 5}, "collector: 5 legs; a merge has 2, 3 or 4; merge them in pairs"),
        ({"half_angle": 1.0}, "collector: half-angle 1 degrees; allowed 2 to 60; lean the legs differently"),
        ({"outlet": -130.0}, r"outlet lies at -130\.0 mm; the legs have met from -123\.1 mm and have closed at 123\.1"),
        ({"length": 120.0}, r"runs off the legs' start: -75\.2 mm left, at least 3 needed; make the legs 79 mm longer"),
    ],
)
def test_refused(how, said):
    with pytest.raises(GeometryError, match=said):
        merge(**how)
