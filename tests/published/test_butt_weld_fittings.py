"""Butt-weld fittings against ASME B16.9 (short radius formerly B16.28).

Sources: the standard's tables in mm as transcribed by fitting makers and public reference pages;
the standard itself was not read. The unrounded 45 degree figures are a maker's, mm.
"""

from __future__ import annotations

import math

import pytest

from rootgap.checks import step
from rootgap.geometry.frames import Frame
from rootgap.layout import Straight
from rootgap.stock import cap, elbow, elbows, pipe, reducer, reducers
from rootgap.writers.cutlist import _prep

SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6")
LR90 = (38, 38, 38, 48, 57, 76, 95, 114, 133, 152, 190, 229)
LR45 = (16, 19, 22, 25, 29, 35, 44, 51, 57, 64, 79, 95)
LR45_UNROUNDED = (15.7, 19.1, 22.4, 25.4, 28.4, 35.1, 44.4, 50.8, 57.2, 63.5, 79.2, 95.2)
LR45_SLICED = (15.8, 15.8, 15.8, 19.7, 23.7, 31.6, 39.5, 47.3, 55.2, 63.1, 78.9, 94.7)
SR90 = (25, 32, 38, 51, 64, 76, 89, 102, 127, 152)
RETURN_O = (76, 76, 76, 95, 114, 152, 190, 229, 267, 305, 381, 457)
RETURN_K = (48, 51, 56, 70, 83, 106, 132, 159, 184, 210, 262, 313)
CAP = (25, 25, 38, 38, 38, 38, 38, 51, 64, 64, 76, 89)
CAP_THICK = (25, 25, 38, 38, 38, 44, 51, 64, 76, 76, 89, 102)
REDUCER_LARGE = ("3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6")
REDUCER = (38, 51, 51, 64, 76, 89, 89, 102, 102, 127, 140)


def test_long_radius() -> None:
    assert tuple(elbow(nps, "LR", 90).centre_to_end for nps in SIZES) == LR90
    assert tuple(elbow(nps, "LR", 45).centre_to_end for nps in SIZES) == LR45


def test_short_radius() -> None:
    assert tuple(elbow(nps, "SR", 90).centre_to_end for nps in SIZES[2:]) == SR90
    assert sum(piece.series != "3D" for piece in elbows()) == 12 + 12 + 10


def test_short_radius_is_not_the_series_that_one_web_table_prints() -> None:
    # That table gives 38, 51, 64, 89 for NPS 1, 1-1/2, 2, 3; four others agree with the radius.
    assert [elbow(nps, "SR", 90).centre_to_end for nps in ("1", "1-1/2", "2", "3")] == [25, 38, 51, 76]


@pytest.mark.parametrize(("nps", "unrounded"), list(zip(SIZES, LR45_UNROUNDED, strict=True)))
def test_printed_45_is_the_unrounded_one(nps: str, unrounded: float) -> None:
    assert elbow(nps, "LR", 45).centre_to_end == pytest.approx(unrounded, abs=0.61)


@pytest.mark.parametrize(("nps", "sliced"), list(zip(SIZES, LR45_SLICED, strict=True)))
def test_the_other_45_series(nps: str, sliced: float) -> None:
    # R tan 22.5: an elbow sliced from a 90.
    assert elbow(nps, "LR", 45).slice_centre_to_end == pytest.approx(sliced, abs=0.05)


def test_radius_is_one_and_a_half_times_the_nominal_size_not_the_diameter() -> None:
    assert elbow("1-1/4", "LR", 90).radius == 47.625
    assert elbow("1-1/4", "LR", 90).radius != pytest.approx(1.5 * 42.2, abs=10.0)


@pytest.mark.parametrize(("nps", "o"), list(zip(SIZES, RETURN_O, strict=True)))
def test_return_is_two_elbows_across(nps: str, o: float) -> None:
    # 180 degree long-radius return: O, centre to centre, is 2 A.
    assert 2.0 * elbow(nps, "LR", 90).radius == pytest.approx(o, abs=0.51)


@pytest.mark.parametrize(("nps", "k"), list(zip(SIZES, RETURN_K, strict=True)))
def test_return_is_an_elbow_and_half_a_diameter_high(nps: str, k: float) -> None:
    # K, back to face, is A + OD/2; the table is up to 1.7 mm off that (NPS 1-1/2: 81.3 against 83).
    assert elbow(nps, "LR", 90).radius + pipe(f"{nps} STD", "A53 B").r_out == pytest.approx(k, abs=1.75)


def test_caps() -> None:
    assert tuple(cap(nps, pipe(f"{nps} XS", "A53 B").wall).length for nps in SIZES) == CAP
    assert tuple(cap(nps, pipe(f"{nps} XS", "A53 B").wall + 0.5).length for nps in SIZES) == CAP_THICK


def test_bores_and_walls_may_be_off_as_the_standard_says() -> None:
    # B16.9: bore +/- 0.8 to NPS 2-1/2 and 1.6 up to 8 (transcribed); pipe wall 12.5 % thinner (ASTM A53).
    assert (step.FITTING_BORE, step.UP_TO, step.LARGER_FITTING_BORE) == (0.8, "2-1/2", 1.6)
    assert step.THINNER == 1.0 - 0.875


@pytest.mark.parametrize(
    ("size", "end"),
    [
        # B16.25-2017 3.1 and 3.2: up to 3 mm square or slightly chamfered, then 37.5 +/- 2.5 degrees; the land
        # of 1.6 +/- 0.8 is its figure 2, from memory.
        ("1-1/2 sch 10", "square, light chamfer"),
        ("2-1/2 sch 10", "bevel 37.5 +/- 2.5 deg, land 1.6 +/- 0.8"),
        ("2 sch 40", "bevel 37.5 +/- 2.5 deg, land 1.6 +/- 0.8"),
    ],
)
def test_weld_ends_by_wall(size: str, end: str) -> None:
    stock = pipe(size, "A53 B")
    frame = Frame.looking((0, 0, 0), (1, 0, 0))
    first, second = (
        Straight(f"a-{mark}", "a", stock, frame.advanced(at), 60.0, fills=False) for mark, at in (("a", 0), ("b", 60))
    )
    assert _prep(first, stock, square=False) == _prep(second, stock, square=False) == end


def test_reducers() -> None:
    assert {(piece.large, piece.length) for piece in reducers()} == set(
        zip(REDUCER_LARGE, REDUCER, strict=True)
    )
    assert reducer("6", "2-1/2").length == 140
    assert reducer("2", "3/4").length == 76
    assert reducer("1-1/2", "1/2").length == 64


@pytest.mark.parametrize(
    ("nps", "metal", "bore", "outer", "kg"),
    [
        ("1-1/4", 32329, 72304, 9917.8, 0.254),
        ("1-1/2", 46309, 118174, 13621.8, 0.364),
        ("2", 82909, 258912, 22674.7, 0.651),
        ("3", 258289, 856158, 50143.9, 2.03),
    ],
)
def test_long_radius_elbow_by_pappus(nps: str, metal: float, bore: float, outer: float, kg: float) -> None:
    # Pappus-Guldin: section times the path of its centre, a quarter turn at R; schedule 40, steel at 7.85.
    stock = pipe(f"{nps} sch 40", "A53 B")
    path = 0.5 * math.pi * elbow(nps, "LR", 90).radius
    assert stock.area * path == pytest.approx(metal, abs=0.5)
    assert math.pi * stock.r_in**2 * path == pytest.approx(bore, abs=0.5)
    assert 2.0 * math.pi * stock.r_out * path == pytest.approx(outer, abs=0.05)
    assert stock.mass_per_m * path / 1000.0 == pytest.approx(kg, abs=0.005)
