"""Plane paths: bulges, lengths and areas against closed forms and against ezdxf."""

from __future__ import annotations

import math

import pytest
from ezdxf import math as dxf
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.paths import Circle, Path, arc_center

QUARTER = math.tan(math.pi / 8)


def test_bulge_of_quarter_circle_and_semicircle() -> None:
    """Source: DXF reference, LWPOLYLINE group code 42: bulge = tan(included angle / 4)."""
    assert pytest.approx(0.41421356, abs=5e-9) == QUARTER
    assert dxf.arc_to_bulge((0, 0), 0, math.pi / 2, 10)[2] == pytest.approx(QUARTER)
    assert dxf.arc_to_bulge((0, 0), 0, math.pi, 10)[2] == pytest.approx(1)


@pytest.mark.parametrize(
    ("bulge", "sweep"), [(QUARTER, math.pi / 2), (1.0, math.pi), (-QUARTER, math.pi / 2)]
)
def test_arc_length_is_radius_times_sweep(bulge: float, sweep: float) -> None:
    chord = 2 * 10 * math.sin(sweep / 2)
    assert Path(((0, 0, bulge), (chord, 0, 0))).length == pytest.approx(10 * sweep)


@given(
    st.floats(-100, 100), st.floats(1, 100), st.floats(0, 6), st.floats(0.05, 1.0), st.sampled_from([1, -1])
)
def test_arc_center_agrees_with_ezdxf(x: float, chord: float, turn: float, bulge: float, sign: int) -> None:
    start, end = (x, -x / 3), (x + chord * math.cos(turn), -x / 3 + chord * math.sin(turn))
    reference = dxf.bulge_center(start, end, sign * bulge)
    assert arc_center(start, end, sign * bulge) == pytest.approx((reference.x, reference.y), abs=1e-6)


def test_oval_of_semicircles() -> None:
    """50 x 30: perimeter 2 x 20 + 30 pi, area 20 x 30 + 225 pi."""
    oval = Path(((10, -15, 1), (10, 15, 0), (-10, 15, 1), (-10, -15, 0)), closed=True)
    assert oval.length == pytest.approx(134.247780, abs=1e-6)
    assert oval.area == pytest.approx(600 + 225 * math.pi, rel=1e-14)
    assert oval.area == pytest.approx(1306.858348, abs=1e-6)


def test_area_is_negative_clockwise_and_concave_arcs_take_away() -> None:
    square = ((0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0))
    assert Path(square, closed=True).area == pytest.approx(100)
    assert Path(square[::-1], closed=True).area == pytest.approx(-100)
    bitten = Path(((0, 0, -1.0), *square[1:]), closed=True)
    assert bitten.area == pytest.approx(100 - math.pi * 25 / 2)


@pytest.mark.parametrize("tolerance", [1.0, 1e-2, 1e-4])
def test_points_stay_within_tolerance(tolerance: float) -> None:
    """The sagitta of a chord over the angle t is R (1 - cos(t / 2))."""
    semicircle = Path(((20, 0, 1.0), (-20, 0, 0)))
    points = semicircle.points(tolerance)
    middles = (points[1:] + points[:-1]) / 2
    for xy in middles:
        assert 0 <= 20 - math.hypot(*xy) <= tolerance * (1 + 1e-9)
    assert tuple(points[-1]) == (-20, 0)


@pytest.mark.parametrize("closed", [True, False])
@given(
    st.lists(
        st.tuples(st.floats(-9, 9), st.floats(-9, 9), st.floats(-3, 3)),
        min_size=3,
        max_size=6,
        unique_by=lambda vertex: vertex[:2],
    )
)
def test_bounds_are_those_of_ezdxfs_arcs(closed: bool, vertices: list[tuple[float, float, float]]) -> None:
    vertices = [(x, y, bulge if abs(bulge) > 0.01 else 0.0) for x, y, bulge in vertices]
    ends = list(zip(vertices, [*vertices[1:], vertices[0]], strict=True))[: None if closed else -1]
    xs, ys = [x for x, _, _ in vertices], [y for _, y, _ in vertices]
    for (*start, bulge), (*end, _) in ends:
        if bulge:
            box = dxf.ConstructionArc(*_degrees(dxf.bulge_to_arc(start, end, bulge))).bounding_box
            xs += [box.extmin.x, box.extmax.x]
            ys += [box.extmin.y, box.extmax.y]
    assert Path(tuple(vertices), closed).bounds() == pytest.approx((min(xs), min(ys), max(xs), max(ys)), abs=1e-6)


def test_an_open_path_ends_at_its_last_vertex() -> None:
    """DXF lets a bulge stand there; no segment leaves it."""
    open_path = Path(((0, 0, 0), (4, 0, 1.0)))
    assert open_path.bounds() == (0, 0, 4, 0)
    assert open_path.points(0.1).tolist() == [[0, 0], [4, 0]]


def _degrees(arc: tuple) -> tuple:
    center, start, end, radius = arc
    return center, radius, math.degrees(start), math.degrees(end)


def test_circle_measures_and_bounds() -> None:
    circle = Circle((3, 4), 5)
    assert (circle.length, circle.area) == pytest.approx((10 * math.pi, 25 * math.pi))
    assert circle.bounds() == (-2, -1, 8, 9)
    assert circle.moved(1, -1) == Circle((4, 3), 5)


def test_closed_path_does_not_repeat_its_first_point() -> None:
    ring = Path.through([(0, 0), (4, 0), (4, 3)], closed=True)
    assert len(ring.points(0.1)) == 3
    assert len(list(ring.segments())) == 3
    assert ring.length == pytest.approx(12)
    assert ring.moved(1, 2).bounds() == (1, 2, 5, 5)
