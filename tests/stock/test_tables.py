"""The data files, and the sizes that are named when one is missing."""

from __future__ import annotations

import pytest

from rootgap.errors import StockError, UnitError
from rootgap.stock.tables import load, nearest_sizes, nearest_words, nominal

TABLES = ("pipe", "tube", "elbows", "reducers", "caps", "materials", "clearance")
SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6")


@pytest.mark.parametrize("table", TABLES)
def test_every_table_names_its_source(table: str) -> None:
    assert load(table)["source"]
    assert load(table)["note"]


@pytest.mark.parametrize("table", ["pipe", "elbows", "caps"])
def test_every_size_once_and_in_order(table: str) -> None:
    assert tuple(row["nps"] for row in load(table)["sizes"]) == SIZES


@pytest.mark.parametrize(
    ("text", "nps"),
    [
        ("1-1/2", "1-1/2"),
        ("1 1/2", "1-1/2"),
        ("1½", "1-1/2"),
        ("1.5", "1-1/2"),
        ('1-1/2"', "1-1/2"),
        ("NPS 1-1/2", "1-1/2"),
        ("nps2", "2"),
        ("2 in", "2"),
        ("DN 50", "2"),
        ("dn65", "2-1/2"),
    ],
)
def test_nominal(text: str, nps: str) -> None:
    assert nominal(text) == nps


@pytest.mark.parametrize(
    ("text", "neighbours"),
    [
        ("2-1/4", ("NPS 2", "NPS 2-1/2")),
        ("7", ("NPS 6",)),
        ("1/8", ("NPS 1/2",)),
        ("DN 60", ("DN 50", "DN 65")),
        ("DN 200", ("DN 150",)),
    ],
)
def test_nominal_names_its_neighbours(text: str, neighbours: tuple[str, ...]) -> None:
    with pytest.raises(StockError) as caught:
        nominal(text)
    assert caught.value.table == "pipe size"
    assert caught.value.neighbours == neighbours


@pytest.mark.parametrize("text", ["", "fish", "48.3 mm", "0", "-2", "2 5/4", "in"])
def test_nominal_refuses_what_is_no_size(text: str) -> None:
    with pytest.raises(UnitError, match="nominal pipe size") as caught:
        nominal(text)
    assert caught.value.found == text


def test_nearest_sizes() -> None:
    assert nearest_sizes("2", ["3", "1", "1-1/2", "4"]) == ("1-1/2", "3")
    assert nearest_sizes("2", ["2", "3"]) == ("3",)
    assert nearest_sizes("2", []) == ()


def test_nearest_words_falls_back_to_all() -> None:
    assert nearest_words("qqq", ["XS", "STD"]) == ("XS", "STD")
    assert nearest_words("stf", ["XS", "STD"]) == ("STD",)
