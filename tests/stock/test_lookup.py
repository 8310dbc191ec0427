"""Rows of all tables, found by words."""

from __future__ import annotations

import pytest

from rootgap.stock import search


def labels(words: str) -> list[str]:
    return [f"{row[0]} {row[1]}" for row in search(words)]


def test_size_finds_every_table_that_has_it() -> None:
    found = search("1-1/2")
    assert {row[0] for row in found} == {"pipe", "elbow", "reducer", "cap"}
    assert len(found) == 4 + 5 + 4 + 5 + 1  # walls, elbows, reducers from it, reducers to it, cap
    assert all("1-1/2" in row[1] for row in found)


@pytest.mark.parametrize("words", ["1 1/2", '1-1/2"', "1.5", "1½", "DN 40", "dn40", "NPS 1-1/2"])
def test_one_size_in_many_spellings(words: str) -> None:
    assert search(words) == search("1-1/2")


@pytest.mark.parametrize("words", ["1-1/2 sch 40", "1-1/2 schedule 40S", "STD 1-1/2", "1.5 sch40"])
def test_schedule_is_not_a_size(words: str) -> None:
    (row,) = search(words)
    assert row[1] == "NPS 1-1/2 sch 40 = 40S = STD"
    assert row[2] == "OD 48.3 mm, wall 3.68 mm, bore 40.94 mm, 4.05 kg/m in carbon steel"


def test_all_words_must_match() -> None:
    assert labels("elbow 2 short") == ["elbow NPS 2 SR 90"]
    assert labels("reducer 2 x 1-1/2") == ["reducer NPS 2 x 1-1/2"]
    assert labels("cap 2-1/2") == ["cap NPS 2-1/2"]
    assert labels("16 ga") == ["tube gauge BWG 16"]
    assert search("elbow cap") == []


def test_material_by_alias() -> None:
    (row,) = search("a53 b")
    assert row[0] == "material"
    assert row[1].startswith("carbon steel (")
    assert row[2] == "7850 kg/m3"


def test_forty_five_elbow_warns_of_the_two_series() -> None:
    (row,) = search("1-1/2 LR 45")
    assert row[2] == "radius 57.15 mm, centre to end 29 mm (a slice of the 90: 23.67 mm; measure yours)"


def test_no_words_is_everything_and_every_row_has_a_source() -> None:
    everything = search("")
    assert len(everything) == 12 * 4 + 11 + (12 + 12 + 10 + 2 * 11) + 42 + 12 + 6 + 16 * 5 + 32
    assert all(len(row) == 4 and all(row) for row in everything)
    assert len(set(everything)) == len(everything)
