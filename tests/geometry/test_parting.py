"""Outlines of dividers: held against the cylinders that they must go into, and closed-form areas."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.parting import Disc, half_width, tongue
from rootgap.geometry.paths import Circle

SQUARE = np.zeros(2)


def from_axis(disc: Disc, points: np.ndarray, z: float) -> np.ndarray:
    """Distance of points of the plate, z off its middle, from the bore's axis, by a cross product."""
    axis = np.array([*disc.lean, np.sqrt(1.0 - disc.lean @ disc.lean)])
    return np.linalg.norm(np.cross(np.column_stack([points, np.full(len(points), z)]), axis), axis=1)


def test_the_corners_of_a_tongue_lie_a_gap_off_the_bore():
    half = half_width(31.355, 0.5, 3.0)
    assert np.hypot(half, 1.5) == pytest.approx(31.355 - 0.5, abs=1e-12)


@pytest.mark.parametrize(("r_in", "gap", "thickness"), [(20.0, 0.5, 39.0), (20.0, 20.0, 1.0), (20.0, 21.0, 1.0)])
def test_what_does_not_go_in_has_no_width(r_in, gap, thickness):
    assert np.isnan(half_width(r_in, gap, thickness))


def test_a_square_disc_is_a_circle():
    assert Disc(30.0, SQUARE, 3.0).outline() == Circle((0.0, 0.0), 30.0)


@given(
    st.floats(0.0, 0.85),
    st.floats(0.0, 2.0 * np.pi),
    st.floats(0.5, 8.0),
)
def test_both_faces_of_a_leaning_disc_stay_in_the_bore_and_one_touches_it(lean, turn, thickness):
    disc = Disc(30.0, lean * np.array([np.cos(turn), np.sin(turn)]), thickness)
    points = disc.points(np.linspace(0.0, 2.0 * np.pi, 361))
    off = np.array([from_axis(disc, points, side * 0.5 * thickness) for side in (-1, 1)])
    assert off.max(axis=0) == pytest.approx(np.full(361, 30.0), abs=1e-9)


def test_a_thin_leaning_disc_is_an_ellipse():
    disc = Disc(30.0, np.array([0.0, 0.5]), 1e-9)
    assert abs(disc.outline().area) == pytest.approx(np.pi * 30.0**2 / np.sqrt(0.75), rel=2e-5)


@pytest.mark.parametrize("lean", [SQUARE, np.array([0.0, 0.5]), np.array([0.2, -0.4])])
@pytest.mark.parametrize("half", [8.0, 20.0, 29.2])
def test_disc_and_tongue_in_one_outline_are_their_union(lean, half):
    disc = Disc(30.0, lean, 3.0)
    made = disc.with_tongue(half, 120.0)
    whole = shapely.union(
        shapely.Polygon(disc.points(np.linspace(0.0, 2.0 * np.pi, 20_000))),
        shapely.Polygon(tongue(half, 0.0, 120.0).points(0.01)),
    )
    one = shapely.Polygon(made.points(1e-4))
    assert one.is_valid
    assert one.symmetric_difference(whole).area < 2e-4 * whole.area
    assert made.area == pytest.approx(whole.area, rel=2e-5)
    assert one.hausdorff_distance(whole) < 0.01
    assert made.area > 0.0


def test_a_square_disc_with_a_tongue_has_true_arcs():
    made = Disc(30.0, SQUARE, 3.0).with_tongue(10.0, 90.0)
    segment = 30.0**2 * np.arcsin(10.0 / 30.0) - 10.0 * np.sqrt(30.0**2 - 10.0**2)
    closed_form = np.pi * 30.0**2 - segment + 20.0 * (90.0 - np.sqrt(30.0**2 - 10.0**2))
    assert made.area == pytest.approx(closed_form, rel=1e-12)
    assert sum(1 for *_, bulge in made.segments() if bulge) == 2


def test_the_rim_beside_a_tongue():
    disc = Disc(30.0, SQUARE, 3.0)
    assert disc.rim_length(0.0) == pytest.approx(2.0 * np.pi * 30.0, rel=1e-6)
    assert disc.rim_length(15.0) == pytest.approx(30.0 * (2.0 * np.pi - np.pi / 3.0), rel=1e-6)


def test_a_tongue_wider_than_its_disc_is_refused():
    with pytest.raises(ValueError, match="wider than the disc"):
        Disc(30.0, SQUARE, 3.0).with_tongue(30.5, 90.0)
    with pytest.raises(ValueError, match="ends inside the disc"):
        Disc(30.0, SQUARE, 3.0).with_tongue(10.0, 20.0)
