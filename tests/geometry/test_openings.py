"""Port openings: closed forms against their own rims, and the rims against the discs' hulls."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Polygon

from rootgap.geometry.openings import Dee, Freeform, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.outlines import hull
from rootgap.geometry.paths import Circle, Path

OPENINGS: list[Opening] = [
    Round(40),
    RoundedRectangle(36, 30, 8),
    RoundedRectangle(30, 36, 15),
    RoundedRectangle(30, 30, 15),
    RoundedRectangle(30, 20, 0),
    Oval(50, 30),
    Oval(30, 50),
    Oval(30, 30),
    Dee(40, 60, 5),  # straights between corners and semicircle
    Dee(40, 35, 5),  # the same, lower than wide
    Dee(40, 25, 5),  # semicircle straight on the corners
    Dee(40, 14, 5),  # flatter than a semicircle
    Dee(40, 20, 0),  # a half disc
    Dee(40, 60, 20),
]
#: Convex ones that somebody drew: a D, one drawn clockwise with a round side, a circle of two arcs.
DRAWN: list[Opening] = [
    Freeform(Dee(40, 35, 5).shape().vertices),
    Freeform(((-20, -15, 0), (-20, 15, 0), (20, 15, -0.4), (20, -15, 0))),
    Freeform(((-20, 0, 1), (20, 0, 1))),
]
SIZE = st.floats(5, 100)
SHARE = st.floats(0, 1)


@st.composite
def openings(draw: st.DrawFn) -> Opening:
    width, height, share = draw(SIZE), draw(SIZE), draw(SHARE)
    kinds: tuple[Opening, ...] = (
        Round(width),
        RoundedRectangle(width, height, share * min(width, height) / 2),
        Oval(width, height),
        Dee(width, height, 0.98 * share * min(width, height) / 2),
    )
    return draw(st.sampled_from(kinds))


def check(opening: Opening) -> None:
    rim = opening.shape()
    assert rim.area == pytest.approx(opening.area, rel=1e-9)
    assert rim.length == pytest.approx(opening.girth, rel=1e-9)
    points = rim.points(1e-4)
    assert np.hypot(*points.T).max() == pytest.approx(opening.reach, abs=2e-4)
    assert Polygon(points).is_valid

    # The hull of the discs is the opening; grown by e it obeys Steiner's formula for convex sets.
    for grow in (0.0, 7.0):
        plate = hull([disc.grown(grow) for disc in opening.discs()])
        assert plate.area == pytest.approx(opening.area + grow * opening.girth + math.pi * grow**2, rel=1e-6)
        assert plate.length == pytest.approx(opening.girth + 2 * math.pi * grow, rel=1e-6)
    inner = Polygon(points)
    assert inner.symmetric_difference(Polygon(hull(opening.discs()).points(1e-4))).area < 4e-4 * opening.girth


@pytest.mark.parametrize("opening", OPENINGS + DRAWN, ids=str)
def test_closed_forms_rim_and_discs_agree(opening: Opening) -> None:
    check(opening)


@given(openings())
def test_closed_forms_rim_and_discs_agree_for_any_size(opening: Opening) -> None:
    check(opening)


@pytest.mark.parametrize("opening", OPENINGS, ids=str)
def test_rim_fills_its_box_about_the_origin(opening: Opening) -> None:
    if isinstance(opening, Round):
        width = height = opening.diameter
    else:
        width, height = opening.width, opening.height
    box = np.array([-width, -height, width, height]) / 2
    assert opening.shape().bounds() == pytest.approx(box, abs=2e-3)


@pytest.mark.parametrize("opening", OPENINGS + DRAWN, ids=str)
def test_rim_is_closed_anticlockwise_and_has_no_point_twice(opening: Opening) -> None:
    rim = opening.shape()
    if isinstance(rim, Path):
        assert rim.closed
        assert rim.area > 0
        assert min(math.dist(start, end) for start, end, _ in rim.segments()) > 1e-6


def test_published_figures_of_simple_shapes() -> None:
    """Oval 50 x 30: 2 x 20 + 30 pi and 20 x 30 + 225 pi; rounded rectangle: w h - (4 - pi) r^2."""
    assert Oval(50, 30).girth == pytest.approx(134.247780, abs=1e-6)
    assert Oval(50, 30).area == pytest.approx(1306.858348, abs=1e-6)
    assert RoundedRectangle(36, 30, 8).area == pytest.approx(36 * 30 - (4 - math.pi) * 64)
    assert RoundedRectangle(36, 30, 8).girth == pytest.approx(2 * 66 - 64 + 16 * math.pi)
    assert Dee(40, 20, 0).area == pytest.approx(math.pi * 200)


def test_dee_is_a_semicircle_on_straights_where_it_is_high_enough() -> None:
    assert Dee(40, 25, 5).crown == pytest.approx(20)
    assert Dee(40, 25 + 1e-9, 5).crown == pytest.approx(Dee(40, 25 - 1e-9, 5).crown, abs=1e-6)
    assert Dee(40, 10, 0).crown == pytest.approx((20**2 + 10**2) / 20)  # chord 40, sagitta 10
    assert len(Dee(40, 60, 5).shape().vertices) == 6


def test_placed_turns_before_it_moves() -> None:
    assert placed(Circle((10, 0), 4), at=(1, 2), angle=90) == Circle((1, 12), 4)
    turned = placed(Oval(50, 30).shape(), at=(100, 20), angle=30)
    ends = MultiPoint(turned.points(1e-4)).bounds
    half = 10 * math.cos(math.pi / 6) + 15
    assert (ends[0], ends[2]) == pytest.approx((100 - half, 100 + half), abs=2e-4)
    assert turned.area == pytest.approx(Oval(50, 30).area)


@given(openings(), st.floats(-400, 400))
def test_discs_are_placed_as_the_rim_is(opening: Opening, angle: float) -> None:
    rim = placed(opening.shape(), at=(31, -17), angle=angle)
    other = hull([disc.placed((31, -17), angle) for disc in opening.discs()])
    assert (
        Polygon(rim.points(1e-4)).symmetric_difference(Polygon(other.points(1e-4))).area
        < 4e-4 * opening.girth
    )


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: Round(0), r"round opening: diameter is 0 mm; allowed: more than 0"),
        (lambda: Round(math.nan), r"round opening: diameter is nan mm"),
        (lambda: Oval(50, -3), r"oval: height is -3 mm; allowed: more than 0"),
        (
            lambda: RoundedRectangle(36, 30, 15.5),
            r"corner radius is 15.5 mm; allowed: 0 to half of the smaller side of 36 x 30, 15 mm",
        ),
        (lambda: RoundedRectangle(36, 30, -1), r"corner radius is -1 mm"),
        (lambda: RoundedRectangle(-36, 30, 1), r"rounded rectangle: width is -36 mm"),
        (lambda: Dee(40, 0, 1), r"dee: height is 0 mm"),
        (lambda: Dee(20, 60, 11), r"dee: corner radius is 11 mm"),
        (lambda: Dee(40, 10, 5), r"radius 5 mm leaves no room for the top arc; allowed: less than .* 5 mm"),
    ],
)
def test_wrong_sizes_are_refused_with_figures(make: object, message: str) -> None:
    assert callable(make)
    with pytest.raises(ValueError, match=message):
        make()
