"""The spike's pyramid: on the bores, in the seam planes, one fan when it is laid flat."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from rootgap.geometry.frames import Frame
from rootgap.geometry.merging import leg_frame
from rootgap.geometry.pyramid import Pyramid
from rootgap.joints.merge import Merge

APEX = Frame.looking((12.0, -5.0, 40.0), (1.0, 2.0, 3.0))


def pyramid(count=4, half_angle=15.0, length=25.0, thickness=2.0) -> Pyramid:
    return Pyramid(APEX, count, half_angle, 21.38, length, thickness)


@st.composite
def pyramids(draw):
    made = pyramid(
        draw(st.sampled_from([3, 4])), draw(st.floats(4.0, 45.0)), draw(st.floats(2.0, 80.0)), draw(st.floats(0.8, 4.0))
    )
    # As in a layout its tip, outside, lies before the axes cross.
    assume(made.stands and made.crotch + made.length + made.outside_tip < 0.0)
    return made


@given(pyramids())
def test_facets_end_on_the_bores_and_meet_in_the_seam_planes(made):
    joint = Merge("c", APEX, made.count, made.half_angle, 24.15, made.r_in, 5000.0, "bevel", None)
    facets = [made.facet(k) for k in range(made.count)]
    tip = made.tip.origin
    for k, facet in enumerate(facets):
        x, y, _ = leg_frame(APEX, made.count, made.half_angle, k, 0.0).to_local(facet[1:]).T
        assert np.hypot(x, y) == pytest.approx(made.r_in, abs=1e-7)
        assert np.min([plane.distance(facet) for plane in joint.planes(k)]) > -1e-7
        normal = np.cross(facet[1] - tip, facet[-1] - tip)
        assert (facet - tip) @ normal / np.linalg.norm(normal) == pytest.approx(0.0, abs=1e-7)
        assert facets[(k + 1) % made.count][-1] == pytest.approx(facet[1], abs=1e-7), "neighbours share a foot"
    assert ((facets[0][1:] - tip) @ APEX.axis).max() < -made.length, "all of the rim lies before the crotch"


@given(pyramids())
def test_the_sheet_lies_in_the_bores_and_its_mitres_in_the_seam_planes(made):
    joint = Merge("c", APEX, made.count, made.half_angle, 24.15, made.r_in, 5000.0, "bevel", None)
    outer = made.placed(0, np.vstack([made.flat()[1:], made.mitred]), made.thickness)
    x, y, _ = leg_frame(APEX, made.count, made.half_angle, 0, 0.0).to_local(outer).T
    assert np.hypot(x, y).max() < made.r_in + 1e-7
    seams = np.array([plane.distance(outer) for plane in joint.planes(0)])
    assert seams.min() > -1e-7
    assert seams[:, -3] == pytest.approx(0.0, abs=1e-7), "its point is in both"
    assert np.abs(seams[:, -2:]).min(axis=0) == pytest.approx(0.0, abs=1e-7)
    assert outer[-3] == pytest.approx(made.tip.advanced(made.outside_tip).origin, abs=1e-7)


@given(pyramids())
def test_the_fan_is_the_facets_side_by_side(made):
    flat = [made.fan(k, made.flat()) for k in range(made.count)]
    for k, facet in enumerate(flat):
        steps = np.linalg.norm(np.diff(made.facet(k, points=257), axis=0), axis=1)
        assert np.linalg.norm(np.diff(facet, axis=0), axis=1) == pytest.approx(steps, abs=1e-7)
    for right, left in pairwise(flat):
        assert right[1] == pytest.approx(left[-1], abs=1e-7)
        assert right[-1, 0] * right[1, 1] > right[-1, 1] * right[1, 0], "facet 0 is the one on the right"
    assert [fold.vertices[1][:2] for fold in made.folds()] == [pytest.approx(facet[1], abs=1e-7) for facet in flat[:-1]]
    outline = made.outline(0.005)
    assert abs(outline.area) == pytest.approx(
        sum(0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) for x, y in (facet.T for facet in flat)), rel=1e-3
    )
    # The drawn outline, arcs and all, against the true rims in the fan.
    rims = np.vstack([facet[1:] for facet in flat])
    drawn = outline.points(0.0005)
    chord = np.roll(drawn, -1, axis=0) - drawn
    lag = rims[::8, None] - drawn
    share = np.clip((lag * chord).sum(-1) / np.maximum((chord * chord).sum(-1), 1e-12), 0.0, 1.0)
    assert np.linalg.norm(lag - share[..., None] * chord, axis=-1).min(axis=1).max() < 0.01


def test_the_fold_is_the_angle_between_two_facets():
    made = pyramid()
    normals = []
    for k in (0, 1):
        a, b, c = made.facet(k)[[0, 1, -1]]
        normals.append(np.cross(b - a, c - a) / np.linalg.norm(np.cross(b - a, c - a)))
    assert made.fold == pytest.approx(np.degrees(np.arccos(normals[0] @ normals[1])), abs=1e-9)


def test_a_blunt_one_runs_along_its_legs_and_says_how_long_it_must_be():
    blunt = pyramid(4, 6.0, 10.0)
    assert not blunt.stands
    assert not pyramid(4, 6.0, blunt.least_length - 0.01).stands
    assert pyramid(4, 6.0, blunt.least_length + 0.01).stands


@pytest.mark.parametrize("how", [{"count": 2}, {"length": 0.0}, {"thickness": 0.0}])
def test_refused(how):
    with pytest.raises(ValueError, match=r"two legs meet in an edge|above 0 mm"):
        pyramid(**how)
