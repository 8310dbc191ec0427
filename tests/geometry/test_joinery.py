"""Slots, reliefs and seats, against brute force and sums done by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from rootgap.geometry.distance import Prism
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.joinery import relief_radius, rounded, seat_edge, section_metric, slot
from rootgap.geometry.paths import Path


def cylinder(axis: np.ndarray, radius: float) -> np.ndarray:
    """Points all over a cylinder through the origin."""
    frame = Frame.looking((0, 0, 0), axis, (0.3, 0.5, 0.8))
    theta, along = np.meshgrid(np.linspace(0, 2 * np.pi, 721), np.linspace(-150, 150, 601))
    return (along[..., None] * frame.axis + radius * frame.radial(theta)).reshape(-1, 3)


class TestSlot:
    def test_measures_what_was_asked_between_its_sides(self):
        hole = slot((40.0, -7.0), (0.6, 0.8), 30.0, 7.6)
        xy = np.array(hole.vertices)[:, :2] - (40.0, -7.0)
        assert np.ptp(xy @ (0.6, 0.8)) == pytest.approx(30.0)
        assert np.ptp(xy @ (-0.8, 0.6)) == pytest.approx(7.6)

    def test_reliefs_take_a_half_disc_less_the_corner_each(self):
        """Half a disc over the diameter that joins the sides, less the right triangle r high over it."""
        r = relief_radius(7.6)
        assert r == 1.5
        assert slot((0, 0), (1.0, 0.0), 30.0, 7.6).area == pytest.approx(30 * 7.6 + 4 * (np.pi / 2 - 1) * r**2)

    def test_square_corners_go_in(self):
        """The very corner of a tab of the slot's own size lies on the edge, not in the metal."""
        loop = slot((0, 0), (1.0, 0.0), 30.0, 7.6).points(1e-4)
        for corner in ((15, 3.8), (-15, 3.8), (15, -3.8), (-15, -3.8)):
            assert np.linalg.norm(loop - corner, axis=1).min() < 0.05

    def test_reliefs_of_a_narrow_slot_do_not_meet(self):
        assert 2 * np.sqrt(2) * relief_radius(2.5) < 2.5


def test_rounded_rectangle_loses_its_corners():
    assert rounded((-3.0, 0.0), (97.0, 40.0), 10.0).area == pytest.approx(100 * 40 - (4 - np.pi) * 100)


class TestSection:
    @pytest.mark.parametrize("degrees", [90, 75, 60, 40])
    def test_half_axes_of_an_oblique_section(self, degrees):
        """The radius across, and the radius over the sine of the angle to the plane along (descriptive geometry)."""
        angle = np.radians(degrees)
        lean = np.cos(angle) * np.array([0.6, 0.8])
        axes = np.sqrt(1 / np.linalg.eigvalsh(section_metric(lean, 24.15)))
        assert axes == pytest.approx([24.15 / np.sin(angle), 24.15])

    def test_is_where_the_plane_meets_the_cylinder(self):
        axis = np.asarray(unit((0.4, 0.8, 0.5)))
        points = cylinder(axis, 24.15)
        # x and z of the plane y = 0.
        flat = points - (points[:, 1] / axis[1])[:, None] * axis
        metric = section_metric(axis[[0, 2]], 24.15)
        assert np.einsum("ni,ij,nj->n", flat[:, [0, 2]], metric, flat[:, [0, 2]]) == pytest.approx(1.0)


class TestSeat:
    def test_of_a_square_pipe_is_a_half_circle(self):
        edge = seat_edge(section_metric(np.zeros(2), 37.0), np.zeros(2), 0.005)
        assert edge[0][:2] == pytest.approx((37.0, 0.0))
        assert edge[-1] == pytest.approx((-37.0, 0.0, 0.0))
        assert abs(Path(tuple(edge), closed=True).area) == pytest.approx(np.pi * 37.0**2 / 2)

    @given(
        st.floats(-0.7, 0.7),
        st.floats(-0.8, 0.8),
        st.floats(2.0, 25.0),
    )
    # A pipe that leans square to the plate but for the last digit.
    @example(1e-13, 0.5, 2.0)
    @example(-1e-13, -0.5, 2.0)
    @example(0.5, 1e-13, 2.0)
    def test_clears_the_pipe_through_the_plate_and_no_more(self, aside, up, thickness):
        """Every point of the pipe within the plate lies on the seat's edge or above it, and some lie on it."""
        axis = np.asarray(unit((aside, 1.0, up)))
        lean, across, radius = axis[[0, 2]], axis[1], 24.15
        edge = seat_edge(section_metric(lean, radius), 0.5 * thickness * lean / across, 0.005)
        high = 400.0
        low_x, high_x = edge[-1][0], edge[0][0]
        outline = Path(
            (
                (low_x - 20, -high, 0.0),
                (high_x + 20, -high, 0.0),
                (high_x + 20, high, 0.0),
                (high_x, high, 0.0),
                *edge,
                (low_x, high, 0.0),
                (low_x - 20, high, 0.0),
            ),
            closed=True,
        )
        # The drawing's x is the engine's, its y is z, and the plate is square to y.
        frame = Frame(np.array((0.0, 0.5 * thickness, 0.0)), np.array((0.0, -1.0, 0.0)), np.array((0.0, 0.0, 1.0)))
        plate = Prism(frame, outline.points(0.002), (), thickness)
        # Every generator of the pipe where it goes through the plate, from one face to the other.
        frame = Frame.looking((0, 0, 0), axis, (0.3, 0.5, 0.8))
        rim = radius * frame.radial(np.linspace(0, 2 * np.pi, 721))
        levels = np.linspace(-0.5, 0.5, 9) * thickness
        along = (levels - rim[:, 1, None]) / across
        points = (rim[:, None] + along[..., None] * axis).reshape(-1, 3)
        gaps = plate.distance(points)
        assert gaps.min() > -0.012
        assert gaps.min() < 0.3


class TestPrism:
    def test_distances_to_a_plate_with_a_hole(self):
        square = np.array([[0, 0], [100, 0], [100, 60], [0, 60.0]])
        hole = np.array([[40, 20], [60, 20], [60, 40], [40, 40.0]])
        frame = Frame(np.zeros(3), np.array((0.0, 0.0, 1.0)), np.array((0.0, 1.0, 0.0)))
        plate = Prism(frame, square, (hole,), 8.0)
        points = np.array([[50, 30, 4], [20, 30, 4], [20, 30, 11], [103, 64, 4], [20, 30, 7.5], [-3, 30, 12.0]])
        assert plate.distance(points).tolist() == pytest.approx([10.0, -4.0, 3.0, 5.0, -0.5, 5.0])
        assert plate.near(points, 4.5).tolist() == [True, True, True, True, True, True]
        assert plate.near(points, 2.5).tolist() == [True, True, False, False, True, False]
