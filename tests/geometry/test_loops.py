"""Drawn loops: what is simple and what is not, which way round, and hollow ones beside each other."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from rootgap.geometry.loops import anticlockwise, farthest, fault_of, overlap, reversed_loop, tangent_corner
from rootgap.geometry.openings import Freeform, Oval
from rootgap.geometry.outlines import hull
from rootgap.geometry.paths import Path

#: A bean: hollow below.
BEAN = Path(((-20, -12, 0.6), (0, -2, 0.3), (20, -12, 0), (20, 12, 0), (-20, 12, 0)), closed=True)


def test_a_reversed_loop_is_the_same_line_run_the_other_way() -> None:
    loop = Oval(50, 30).shape()
    assert isinstance(loop, Path)
    other = reversed_loop(loop)
    assert other.area == pytest.approx(-loop.area)
    assert other.length == pytest.approx(loop.length)
    assert Polygon(other.points(1e-3)).symmetric_difference(Polygon(loop.points(1e-3))).area < 0.2
    assert anticlockwise(other).area > 0
    assert reversed_loop(other) == loop


@pytest.mark.parametrize(
    ("vertices", "said"),
    [
        (((0, 0, 0), (10, 0, 0), (10, 10, 0), (0, 10, 0)), ""),
        (((0, 0, 1), (10, 0, 1)), ""),
        (((0, 0, 1), (10, 0, 0.999)), ""),
        (((0, 0, 0), (10, 0, 0)), "encloses nothing: give three corners or more, or arcs between two"),
        (((0, 0, 0), (10, 0, 0), (10, 10, 0), (10, 0, 0)), "turns back on itself at (10, 10)"),
        (((0, 0, 0), (10, 0, 0), (10, 0, 0), (5, 5, 0)), "vertices 2 and 3 are the same point; leave one out"),
        # An arc that reaches over the opposite side.
        (((0, 0, -0.8), (40, 0, 0), (40, 10, 0), (0, 10, 0)), "crosses itself near (5.51, 10)"),
        # A loop that touches itself in one corner.
        (((0, 0, 0), (10, 0, 0), (5, 5, 0), (10, 10, 0), (0, 10, 0), (5, 5, 0)), "crosses itself near (5, 5)"),
    ],
)
def test_what_is_simple_and_what_is_not(vertices: tuple[tuple[float, float, float], ...], said: str) -> None:
    assert fault_of(Path(vertices, closed=True)).partition(" near")[0] == said.partition(" near")[0]
    assert fault_of(Path(vertices, closed=True)) == said


# On whole mm two directions are one or differ by far more than what is taken for a fold.
@given(st.lists(st.tuples(st.integers(-50, 50), st.integers(-50, 50)), min_size=3, max_size=9, unique=True))
def test_straight_loops_are_simple_where_shapely_says_so(points: list[tuple[int, int]]) -> None:
    ring = Polygon(points)
    if ring.area > 1.0:
        assert (fault_of(Path.through(points, closed=True)) == "") == ring.is_valid


#: Its last side is an arc of more than half a turn, with hollow corners at both ends.
BULB = Path(((-20, -15, 0.2), (20, -15, 0.3), (20, 15, 1.4), (-20, 15, 0.1)), closed=True)


@pytest.mark.parametrize("loop", [BEAN, BULB, reversed_loop(BULB)])
def test_a_hollow_opening_grows_from_its_hull(loop: Path) -> None:
    """The plate bridges the hollow: its edge is that of the convex hull, found by another library."""
    opening = Freeform(loop.vertices)
    truth = Polygon(opening.shape().points(1e-4))
    assert opening.area == pytest.approx(truth.area, rel=1e-5)
    assert opening.girth == pytest.approx(truth.length, rel=1e-5)
    assert hull(opening.discs()).area == pytest.approx(truth.convex_hull.area, rel=1e-5)
    grown = hull([disc.grown(9.0) for disc in opening.discs()])
    assert grown.area == pytest.approx(truth.convex_hull.buffer(9.0, quad_segs=512).area, rel=1e-5)
    assert opening.reach == pytest.approx(np.hypot(*opening.shape().points(1e-4).T).max(), abs=2e-4)


def test_the_farthest_point_of_an_arc_counts_where_it_lies_on_it() -> None:
    assert farthest(Path(((20, -15, 1.0), (20, 15, 0), (-20, 0, 0)), closed=True)) == pytest.approx(35.0)
    assert farthest(Path(((20, -15, -0.5), (20, 15, 0), (-20, 0, 0)), closed=True)) == pytest.approx(25.0)


def test_the_tangents_of_a_quarter_meet_in_its_corner() -> None:
    assert tangent_corner((10, 0), (0, 10), np.tan(np.pi / 8)) == pytest.approx((10, 10))
    assert tangent_corner((10, 0), (-10, 0), 1.0) is None


def test_two_that_fit_into_each_others_hollows_do_not_overlap() -> None:
    hook = np.array([[0, 0], [30, 0], [30, 30], [20, 30], [20, 10], [0, 10.0]])
    ring = np.array([[5, 15], [15, 15], [15, 25], [5, 25.0]])
    assert not overlap(hook, ring)
    assert not overlap(ring, hook)
    assert overlap(hook, ring + (6.0, 0.0))
    assert overlap(hook, ring * 0.1 + (20.0, 2.0))
