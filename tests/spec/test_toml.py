"""Values as a person would have written them: what the text says is read back as the same value."""

from __future__ import annotations

import tomllib
from datetime import UTC, date, datetime, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.spec.toml import LONGEST_SHOWN, cut_short, dotted, printable, toml_text


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (True, "true"),
        (-3, "-3"),
        (0.1, "0.1"),
        (float("inf"), "inf"),
        (float("nan"), "nan"),
        ('2-1/2"', '"2-1/2\\""'),
        ("a\nb", '"a\\nb"'),
        ("\x1b[2J", '"\\u001b[2J"'),
        (date(2026, 11, 25), "2026-11-25"),
        (time(7, 32), "07:32:00"),
        (datetime(2026, 11, 25, 7, 32, tzinfo=UTC), "2026-11-25T07:32:00+00:00"),
        ([], "[]"),
        ({}, "{}"),
        ({"a b": [1, "x"]}, '{ "a b" = [1, "x"] }'),
    ],
)
def test_text(value: object, text: str) -> None:
    assert toml_text(value) == text


small = st.one_of(
    st.booleans(), st.integers(-(10**17), 10**17), st.text(max_size=8), st.floats(allow_nan=False), st.dates()
)


@given(st.recursive(small, lambda below: st.lists(below, max_size=3) | st.dictionaries(st.text(max_size=3), below)))
def test_what_is_not_cut_short_reads_back(value: object) -> None:
    text = toml_text(value)
    assert len(text) <= LONGEST_SHOWN
    assert text.isprintable()
    if not text.endswith("…"):
        assert tomllib.loads(f"value = {text}")["value"] == value


def test_endless_values_are_cut_short_at_once() -> None:
    assert toml_text(["x"] * 10**6) == toml_text(["x"] * 100)
    assert toml_text("x" * 10**6) == '"' + "x" * (LONGEST_SHOWN - 2) + "…"


@given(st.lists(st.one_of(st.text(max_size=4), st.integers(0, 5)), min_size=1).map(lambda key: ("top", *key)))
def test_a_key_reads_back(key: tuple[str | int, ...]) -> None:
    words = tuple(part for part in key if isinstance(part, str))
    values = tomllib.loads(f"{dotted(words)} = 1")
    for word in words:
        values = values[word]
    assert values == 1


def test_long_keys_are_cut_short() -> None:
    assert dotted(("run", "x" * 300)) == 'run."' + "x" * (LONGEST_SHOWN - 2) + "…"
    assert cut_short("x" * LONGEST_SHOWN) == "x" * LONGEST_SHOWN


def test_printable_leaves_the_worlds_letters() -> None:
    assert printable("Krümmer ½ 管") == "Krümmer ½ 管"
    assert printable("a\u202eb\udcff") == "a\\u202eb\\udcff"


def test_an_integer_without_a_text_is_told_by_its_length() -> None:
    assert toml_text(10**5000) == "an integer of about 5000 digits"
