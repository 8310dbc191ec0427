"""Developments: the closed form of a right cone, and triangles that keep their sides and converge."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely.geometry import LineString, Point

from rootgap.geometry.development import Development, developed, right_cone, smoothed

RADIUS = st.floats(5, 100)


def ring(radius: float, height: float, count: int, x: float = 0.0) -> np.ndarray:
    t = 2 * np.pi * np.arange(count) / count
    return np.column_stack([x + radius * np.cos(t), radius * np.sin(t), np.full(count, height)])


def oblique_area(low: float, high: float, height: float, offset: float) -> float:
    """The strip between two circles joined at equal angles, by quadrature of half the cross
    product of its ruling with each rim: the panels are parts of triangles with one apex."""

    def density(t: float) -> float:
        ruling = np.array([offset + (high - low) * np.cos(t), (high - low) * np.sin(t), height])
        return (low + high) / 2 * float(np.linalg.norm(np.cross([-np.sin(t), np.cos(t), 0], ruling)))

    return quad(density, 0, 2 * np.pi, epsabs=1e-9)[0]


def solid_triangles(low: np.ndarray, high: np.ndarray, flat: Development) -> np.ndarray:
    low, high = np.vstack([low, low[:1]]), np.vstack([high, high[:1]])
    i = j = 0
    out = []
    for shares_lower in flat.shares_lower:
        third = high[j + 1] if shares_lower else low[i + 1]
        out.append([low[i], third, high[j]])
        i, j = (i, j + 1) if shares_lower else (i + 1, j)
    assert i == j == len(low) - 1
    return np.array(out)


def sides(triangles: np.ndarray) -> np.ndarray:
    return np.linalg.norm(triangles - np.roll(triangles, 1, axis=1), axis=2)


class TestRightCone:
    #: Worked from the closed form with 20 digits (mpmath), apart from this code.
    @pytest.mark.parametrize(
        ("sizes", "expected"),
        [
            ((60.3, 48.3, 76), (76.236474, 383.088283, 306.851809, 28.332895, 13005.064)),
            ((76.2, 50.8, 50), (51.587692, 154.763077, 103.175385, 88.625790, 10291.287)),
            ((100, 50, 100), (103.077641, 206.155281, 103.077641, 87.312825, 24287.097)),
            ((80, 40, 60), (63.245553, 126.491106, 63.245553, 113.841996, 11921.506)),
        ],
    )
    def test_frusta(self, sizes, expected):
        cone = right_cone(sizes[0] / 2, sizes[1] / 2, sizes[2])
        found = (cone.slant, cone.r_outer, cone.r_inner, cone.angle, cone.area)
        assert found[:4] == pytest.approx(expected[:4], abs=6e-7)
        assert found[4] == pytest.approx(expected[4], abs=6e-4)

    @given(RADIUS, RADIUS, st.floats(1, 200))
    def test_outline_has_the_cones_area_and_edges(self, first, last, height):
        if abs(first - last) < 0.1:
            return
        cone = right_cone(first, last, height)
        slant = np.hypot(height, first - last)
        assert cone.area == pytest.approx(np.pi * (first + last) * slant, rel=1e-9)
        assert cone.outline.area == pytest.approx(cone.area, rel=1e-6)
        assert cone.outline.length == pytest.approx(2 * np.pi * (first + last) + 2 * slant, rel=1e-6)
        assert np.radians(cone.angle) * cone.r_outer == pytest.approx(2 * np.pi * max(first, last), rel=1e-9)

    @pytest.mark.parametrize("turn", [False, True])
    def test_start_lies_below(self, turn):
        cone = right_cone(*((30, 20) if turn else (20, 30)), 50)
        assert cone.at(0, 0 if turn else 1)[1] > cone.at(0, 1 if turn else 0)[1]

    def test_to_a_point(self):
        cone = right_cone(15, 0, 40)
        assert cone.outline.area == pytest.approx(np.pi * 15 * np.hypot(15, 40), rel=1e-9)

    @pytest.mark.parametrize("sizes", [(20, 20, 50), (20, 30, 0), (-1, 20, 30), (20, 30, np.nan)])
    def test_refuses_what_is_no_cone(self, sizes):
        with pytest.raises(ValueError, match="cone"):
            right_cone(*sizes)


class TestDeveloped:
    @given(st.integers(3, 40), st.integers(0, 2**32 - 1))
    def test_every_edge_keeps_its_length(self, count, seed):
        """Whatever the curves: also where the surface is twisted."""
        random = np.random.default_rng(seed)
        low = ring(30, 0, count) + random.normal(0, 2, (count, 3))
        high = ring(20, 60, count, 10) + random.normal(0, 2, (count, 3))
        flat = developed(low, high)
        assert sides(flat.triangles) == pytest.approx(sides(solid_triangles(low, high, flat)), abs=1e-9)
        assert flat.lower[0] == pytest.approx((0, 0), abs=1e-9)
        assert flat.lower[-1, 1] == pytest.approx(0, abs=1e-9)
        assert [seam.length for seam in flat.seams] == pytest.approx([flat.seam_length] * 2, abs=1e-9)

    def test_triangles_lie_beside_each_other_the_outside_up(self):
        flat = developed(ring(30, 0, 60), ring(20, 60, 60, 10))
        first, second = (np.diff(flat.triangles[:, [0, k]], axis=1)[:, 0] for k in (1, 2))
        areas = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2
        assert areas.min() > 0
        assert areas.sum() == pytest.approx(flat.area, rel=1e-12)
        chords = np.vstack([flat.lower, flat.upper[::-1]])
        x, y = chords.T
        assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2 == pytest.approx(flat.area, rel=1e-12)

    @pytest.mark.parametrize(
        ("low", "high", "height", "offset"),
        [(30.15, 24.15, 76, 0), (40, 20, 60, 0), (50, 25, 100, 25), (30, 30, 50, 20)],
    )
    def test_area_converges_with_the_square_of_the_spacing(self, low, high, height, offset):
        counts = np.array([45, 90, 180, 360])
        true = oblique_area(low, high, height, offset)
        misses = [
            abs(developed(ring(low, 0, n), ring(high, height, n, offset)).area / true - 1) for n in counts.tolist()
        ]
        orders = np.log2(np.array(misses[:-1]) / misses[1:])
        assert orders == pytest.approx(2, abs=0.05)
        assert misses[-1] < 1e-4
        assert misses[1] < 1e-3

    def test_flat_of_a_right_cone_is_its_sector(self):
        cone = right_cone(40, 20, 60)
        misses = []
        for count in (90, 180, 360):
            flat = developed(ring(40, 0, count), ring(20, 60, count))
            chord = 2 * cone.r_outer * np.sin(np.radians(cone.angle) / 2)
            misses.append(abs(flat.lower[-1, 0] - chord))
        assert misses[-1] < 5e-3
        assert np.log2(np.array(misses[:-1]) / misses[1:]) == pytest.approx(2, abs=0.05)

    def test_folds_of_a_right_cone(self):
        """All normals lie on a cone: the sum of the folds tends to 2 pi times the cosine of the half angle."""
        flat = developed(ring(40, 0, 360), ring(20, 60, 360))
        assert flat.folds.sum() == pytest.approx(360 * np.cos(np.arctan(20 / 60)), rel=1e-4)
        assert flat.folds[1:-1] == pytest.approx(flat.folds[1], rel=1e-6)
        assert flat.folds[0] == pytest.approx(flat.folds[1] / 2, rel=1e-6)

    def test_repeated_corners_do_no_harm(self):
        """A square to a square turned by an eighth: eight triangles."""
        corners = np.array([(20, 20, 0), (-20, 20, 0), (-20, -20, 0), (20, -20, 0)], dtype=float)
        turned = np.array([(0, 28, 50), (-28, 0, 50), (0, -28, 50), (28, 0, 50)], dtype=float)
        low = np.repeat(corners, 2, axis=0)
        high = np.roll(np.repeat(turned, 2, axis=0), 1, axis=0)
        flat = developed(low, high)
        solid = solid_triangles(low, high, flat)
        cross = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0])
        assert flat.area == pytest.approx(np.linalg.norm(cross, axis=1).sum() / 2, rel=1e-12)
        assert np.isfinite(flat.folds).all()

    def test_refusals(self):
        with pytest.raises(ValueError, match=r"both \(n, 3\)"):
            developed(ring(30, 0, 10), ring(20, 50, 11))
        with pytest.raises(ValueError, match="touch"):
            developed(ring(30, 0, 10), ring(30, 0, 10))


class TestSmoothed:
    def test_few_arcs_stay_near(self):
        t = np.linspace(0, np.pi, 720)
        points = np.column_stack([60 * np.cos(t), 20 * np.sin(t)])
        path = smoothed(points, 0.005)
        assert len(path.vertices) < 40
        drawn = LineString(path.points(1e-5))
        assert max(drawn.distance(Point(point)) for point in points) < 0.0051
        assert path.length == pytest.approx(np.hypot(*np.diff(points, axis=0).T).sum(), rel=1e-5)

    def test_corners_stay(self):
        path = smoothed([(0, 0), (10, 0), (20, 0), (20, 10), (20, 20)], 0.001)
        assert path.vertices == ((0, 0, 0), (20, 0, 0), (20, 20, 0))

    @pytest.mark.parametrize("sense", [1, -1])
    def test_an_arc_is_found_whole(self, sense):
        t = np.linspace(0.3, 2.1, 200)
        path = smoothed(50 * np.column_stack([np.cos(t), sense * np.sin(t)]), 0.001)
        assert len(path.vertices) == 2
        assert path.vertices[0][2] == pytest.approx(sense * np.tan(1.8 / 4), rel=1e-9)
