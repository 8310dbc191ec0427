"""Quantities as people write them."""

from __future__ import annotations

import pickle
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.errors import RootgapError, UnitError
from rootgap.units import LENGTH, angle, fraction, length, mm_text, plain, short

GAUGE = (
    "a gauge number is not a length: it differs by metal and trade; give the wall in mm or in, "
    'or write it in the tube of a stock, such as "1-3/4 x 16 ga"'
)
SHAPE = "the number is not a decimal, a fraction or a mixed number"


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("63 mm", 63.0),
        ("63mm", 63.0),
        (" 63  MM ", 63.0),
        ("6.3 cm", 63.0),
        ("0.063 m", 63.0),
        ("2-1/2 in", 63.5),
        ("2 1/2 in", 63.5),
        ("2½ in", 63.5),
        ("2-½″", 63.5),
        ("2.5 inches", 63.5),
        ("1 inch", 25.4),
        ('1.25"', 31.75),
        ('1/2"', 12.7),
        ("1 ft", 304.8),
        ("-3 mm", -3.0),
        ("\u22123 mm", -3.0),
        ("+3 mm", 3.0),
        ("-2-1/2 in", -63.5),
        ("-½ in", -12.7),
        ("1e2 mm", 100.0),
        (".065 in", 1.651),
        ("2. in", 50.8),
        ("0 mm", 0.0),
    ],
)
def test_text_carries_its_own_unit(text: str, mm: float) -> None:
    assert length(text, "mm") == mm
    assert length(text, "in") == mm


def test_bare_number_is_in_the_units_given() -> None:
    assert length(63, "mm") == 63.0
    assert length(63.5, "mm") == 63.5
    assert length(1, "in") == 25.4
    assert isinstance(length(63, "mm"), float)


def test_bare_decimal_inch_is_rounded_once() -> None:
    # 4.35 x 25.4 in floats is 110.48999999999998; the decimal product is 110.49.
    assert 4.35 * 25.4 != 110.49
    assert length(4.35, "in") == 110.49 == length("4.35 in", "mm")


@given(whole=st.integers(0, 40), top=st.integers(1, 63), sign=st.sampled_from(["", "-"]))
def test_sixty_fourths_are_exact(whole: int, top: int, sign: str) -> None:
    exact = (whole + Fraction(top, 64)) * Fraction(127, 5) * (-1 if sign else 1)
    mixed = f"{whole}-{top}/64" if whole else f"{top}/64"
    assert length(f"{sign}{mixed} in", "mm") == float(exact)


@given(st.floats(min_value=-1e6, max_value=1e6, allow_nan=False))
def test_bare_mm_is_kept_to_the_bit(value: float) -> None:
    assert length(value, "mm") == value


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("63", "write 63 without quotes or add a unit"),
        ("-6.3", "write -6.3 without quotes or add a unit"),
        ("2-1/2", "add a unit to 2-1/2"),
        ("12 ga", GAUGE),
        ("12ga.", GAUGE),
        ("12 gauge", GAUGE),
        ("gauge 12", GAUGE),
        ("16 BWG", GAUGE),
        ("6,3 mm", "write a decimal point, not a comma"),
        ("63 mn", "unit 'mn' is none of mm, cm, m, in, inch, inches, \", ft"),
        ("3 mm 4", "unit 'mm 4' is none of mm, cm, m, in, inch, inches, \", ft"),
        ("1/0 in", "a fraction may not have 0 below its line"),
        ("2 5/4 in", "the fraction of a mixed number must be below 1"),
        ("5 - 1/2 in", SHAPE),
        ("2.5.1 mm", SHAPE),
        ("1e999 mm", SHAPE),
        ("9" * 5000 + " mm", SHAPE),
        ("", "it does not begin with a number"),
        ("mm", "it does not begin with a number"),
        ("nan mm", "it does not begin with a number"),
        (True, "this is not a number"),
        (None, "this is not a number"),
        ([63], "this is not a number"),
        (float("nan"), "the number must be finite"),
        (float("inf"), "the number must be finite"),
        (-float("inf"), "the number must be finite"),
        (10**400, "the number must be finite"),
        (1.7e308, "the number must be finite"),
    ],
)
def test_refusals_say_why(value: object, reason: str) -> None:
    with pytest.raises(UnitError) as caught:
        LENGTH.read(value, "in")
    assert caught.value.reason == reason
    assert caught.value.found is value
    assert reason in str(caught.value)


def test_refusal_says_what_is_allowed() -> None:
    with pytest.raises(UnitError, match="63") as caught:
        length("63", "mm")
    assert caught.value.allowed == (
        'a bare length (mm), or text with its own unit such as "63 mm", "6.3 cm", "2-1/2 in"'
    )
    assert isinstance(caught.value, RootgapError)
    assert isinstance(caught.value, ValueError)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


@pytest.mark.parametrize(
    ("value", "degrees"),
    [(45, 45.0), (22.5, 22.5), ("45 deg", 45.0), ("45°", 45.0), ("45º", 45.0), ("-22-1/2 degrees", -22.5)],
)
def test_angle(value: float | str, degrees: float) -> None:
    assert angle(value) == degrees


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("45", "write 45 without quotes or add a unit"),
        ("1 rad", "unit 'rad' is none of deg, degree, degrees, °"),
        ("45 mm", "unit 'mm' is none of deg, degree, degrees, °"),
        (False, "this is not a number"),
        (float("nan"), "the number must be finite"),
    ],
)
def test_angle_refusals(value: float | str, reason: str) -> None:
    with pytest.raises(UnitError) as caught:
        angle(value)
    assert caught.value.reason == reason
    assert caught.value.allowed == 'a bare angle (deg), or text with its own unit such as "45 deg", "45°"'


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("2-1/2", Fraction(5, 2)),
        ("1¾", Fraction(7, 4)),
        ("0.065", Fraction(13, 200)),
        ("3/8", Fraction(3, 8)),
    ],
)
def test_fraction(text: str, number: Fraction) -> None:
    assert fraction(text) == number


def test_plain_leaves_plain_text_alone() -> None:
    assert plain("2-1/2 in") == "2-1/2 in"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (63.5, "63.5 mm"),
        (63.0, "63 mm"),
        (100.0, "100 mm"),
        (0.126, "0.13 mm"),
        (-0.001, "0 mm"),
        (-3.0, "-3 mm"),
    ],
)
def test_mm_text(value: float, text: str) -> None:
    assert mm_text(value) == text
    assert short(value) == text.removesuffix(" mm")
