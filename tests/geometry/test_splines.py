"""Splines against scipy's, against cubics that they must give back, and by their own definition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import BSpline, CubicSpline

from rootgap.geometry.splines import clamped_slopes, evaluated, free_slopes, periodic_slopes, poles

TURN = np.linspace(0.0, 2.0 * np.pi, 361)


@st.composite
def nodes(draw, least=2, closed=False):
    """Uneven nodes, spans from 0.001 to 1, with values (n, 3)."""
    count = draw(st.integers(least, 400))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    t = random.uniform(-5.0, 5.0) + np.append(0.0, np.cumsum(10.0 ** random.uniform(-3.0, 0.0, count - 1)))
    y = random.normal(size=(count, 3)) * 10.0 ** random.uniform(-3.0, 3.0)
    if closed:
        y[-1] = y[0]
    return t, y


def near(found, wanted):
    """Equal to 1e-12 of the largest."""
    assert found.shape == wanted.shape
    assert np.abs(found - wanted).max() <= 1e-12 * max(np.abs(wanted).max(), 1e-300)


@given(nodes(4, closed=True))
def test_periodic_slopes_are_those_of_scipy(given_nodes):
    t, y = given_nodes
    near(periodic_slopes(t, y), CubicSpline(t, y, bc_type="periodic")(t, 1))


@given(nodes())
def test_free_slopes_are_those_of_scipys_not_a_knot(given_nodes):
    t, y = given_nodes
    near(free_slopes(t, y), CubicSpline(t, y)(t, 1))


@given(nodes(), st.floats(0.1, 10.0), st.floats(-10.0, -0.1))
def test_clamped_slopes_are_those_of_scipy(given_nodes, first, last):
    t, y = given_nodes
    steep = np.abs(np.diff(y, axis=0)).max() / np.diff(t).min()
    ends = steep * np.array([np.full(3, first), np.full(3, last)])
    near(clamped_slopes(t, y, ends), CubicSpline(t, y, bc_type=((1, ends[0]), (1, ends[1])))(t, 1))


@given(nodes(4, closed=True), st.lists(st.floats(0.0, 1.0), min_size=1, max_size=50))
def test_values_between_the_nodes_are_those_of_scipy(given_nodes, shares):
    t, y = given_nodes
    at = np.concatenate([t, t[0] + (t[-1] - t[0]) * np.array(shares)])
    near(evaluated(t, y, periodic_slopes(t, y), at), CubicSpline(t, y, bc_type="periodic")(at))


@given(nodes())
def test_poles_give_the_spline_by_the_basis_functions(given_nodes):
    """Cox and de Boor's recurrence on the poles, as scipy runs it, is the spline again."""
    t, y = given_nodes
    slopes = free_slopes(t, y)
    knots = np.concatenate([np.repeat(t[0], 3), t, np.repeat(t[-1], 3)])
    curve = BSpline(knots, poles(t, y, slopes), 3)
    at = np.linspace(t[0], t[-1], 257)
    size = max(np.abs(evaluated(t, y, slopes, at)).max(), np.abs(y).max())
    assert np.abs(curve(t) - y).max() <= 1e-12 * size
    assert np.abs(curve(at) - evaluated(t, y, slopes, at)).max() <= 1e-12 * size


@pytest.mark.parametrize("count", [2, 3, 4, 5, 30])
def test_a_cubic_is_given_back(count):
    """A line through 2 nodes, a parabola through 3, a cubic through 4 or more."""
    t = (np.arange(count) + np.random.default_rng(count).uniform(-0.3, 0.3, count)) / count
    powers = np.arange(min(count, 4))
    y = (t[:, None] ** powers).sum(axis=1)
    steep = (powers[1:] * t[:, None] ** (powers[1:] - 1)).sum(axis=1)
    near(free_slopes(t, y), steep)
    near(clamped_slopes(t, y, steep[[0, -1]]), steep)


def test_one_row_of_values_stays_flat():
    slopes = periodic_slopes(TURN, np.cos(TURN))
    assert slopes.shape == TURN.shape
    assert poles(TURN, np.cos(TURN), slopes).shape == (363,)
    assert evaluated(TURN, np.cos(TURN), slopes, [0.5]).shape == (1,)


@pytest.mark.parametrize("count", [30, 60, 120])
def test_error_on_a_circle_is_the_known_one(count):
    """h^4 / 384 of the fourth derivative. Source: de Boor, chapter V, after Hall and Meyer."""
    t = np.linspace(0.0, 2.0 * np.pi, count + 1)
    y = np.column_stack([np.cos(t), np.sin(t)])
    y[-1] = y[0]
    points = evaluated(t, y, periodic_slopes(t, y), np.linspace(0.0, 2.0 * np.pi, 20 * count + 1))
    bulge = np.abs(np.hypot(*points.T) - 1.0).max()
    assert bulge == pytest.approx((2.0 * np.pi / count) ** 4 / 384.0, rel=0.02)


@pytest.mark.parametrize(
    ("t", "y", "what"),
    [
        ([0.0, 1.0, 1.0, 2.0], [0.0, 1.0, 2.0, 3.0], "must strictly increase"),
        ([0.0, 1.0, np.nan, 2.0], [0.0, 1.0, 2.0, 3.0], "must strictly increase"),
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0, 3.0], r"nodes must be \(n,\) and values"),
        ([0.0], [0.0], "n at least 2"),
    ],
)
def test_bad_nodes_are_refused(t, y, what):
    with pytest.raises(ValueError, match=what):
        free_slopes(t, y)
