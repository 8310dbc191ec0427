"""Pipe, tube and custom stock."""

from __future__ import annotations

import math
from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.errors import StockError, UnitError
from rootgap.stock import PipeStock, custom, pipe, tube
from rootgap.units import length


@pytest.mark.parametrize(
    ("text", "od", "wall", "label"),
    [
        ("1-1/2 sch 10", 48.3, 2.77, "NPS 1-1/2 sch 10"),
        ("1 1/2 sch 10", 48.3, 2.77, "NPS 1-1/2 sch 10"),
        ("2½ Sched. 80", 73.0, 7.01, "NPS 2-1/2 sch 80"),
        ("2-1/2 sch 40", 73.0, 5.16, "NPS 2-1/2 sch 40"),
        ("NPS 2 STD", 60.3, 3.91, "NPS 2 STD"),
        ("2 xs", 60.3, 5.54, "NPS 2 XS"),
        ("2 sch XS", 60.3, 5.54, "NPS 2 XS"),
        ("2 in sch 40", 60.3, 3.91, "NPS 2 sch 40"),
        ('2" sch40', 60.3, 3.91, "NPS 2 sch 40"),
        ("DN 50 schedule 5s", 60.3, 1.65, "NPS 2 sch 5S"),
    ],
)
def test_pipe_by_name(text: str, od: float, wall: float, label: str) -> None:
    stock = pipe(text, "A53 B")
    assert (stock.od, stock.wall, stock.label, stock.kind) == (od, wall, label, "pipe")
    assert label == f"NPS {stock.nps} " + label.split(" ", 2)[2]
    assert stock.schedule is not None
    assert label.endswith(stock.schedule)
    assert pipe(stock.label, "A53 B") == stock


def test_pipe_od_tolerance() -> None:
    # ASTM A53: 1/64 in (0.4 mm) up to NPS 1-1/2, 1 % from NPS 2.
    assert pipe("1-1/2 sch 40", "A53 B").od_tolerance == 0.4
    assert pipe("2 sch 40", "A53 B").od_tolerance == pytest.approx(0.603, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "table", "neighbours"),
    [
        ("7 sch 40", "pipe size", ("NPS 6",)),
        ("2-1/4 sch 40", "pipe size", ("NPS 2", "NPS 2-1/2")),
        ("2 sch 60", "schedule of NPS 2 pipe", ("sch 40", "sch 80")),
        ("2 sch 160", "schedule of NPS 2 pipe", ("sch 80",)),
        ("2 sch 20S", "schedule of NPS 2 pipe", ("sch 10", "sch 40")),
        ("2 XXS", "schedule of NPS 2 pipe", ("XS",)),
    ],
)
def test_pipe_that_does_not_exist(text: str, table: str, neighbours: tuple[str, ...]) -> None:
    with pytest.raises(StockError) as caught:
        pipe(text, "A53 B")
    assert (caught.value.table, caught.value.neighbours) == (table, neighbours)
    assert all(name in str(caught.value) for name in neighbours)


@pytest.mark.parametrize("text", ["", "2-1/2", "2 in", "2 40", "sch 40", "2 sch", "48.3 x 3.68"])
def test_pipe_that_cannot_be_read(text: str) -> None:
    with pytest.raises(UnitError, match="the schedule is missing or cannot be read") as caught:
        pipe(text, "A53 B")
    assert caught.value.found == text


@pytest.mark.parametrize(
    ("text", "od", "wall", "label"),
    [
        ("1.75 in x 0.065 in", 44.45, 1.651, "tube 44.45 x 1.65 mm"),
        ("1-3/4 x 16 ga", 44.45, 1.651, "tube 44.45 x 1.65 mm, BWG 16"),
        ("1-3/4 in OD x BWG 16 wall", 44.45, 1.651, "tube 44.45 x 1.65 mm, BWG 16"),
        ("1¾″ \u00d7 16ga", 44.45, 1.651, "tube 44.45 x 1.65 mm, BWG 16"),
        ("1.75 x .065 in", 44.45, 1.651, "tube 44.45 x 1.65 mm"),
        ("45 mm x 1.5 mm", 45.0, 1.5, "tube 45 x 1.5 mm"),
        ("45x1.5mm", 45.0, 1.5, "tube 45 x 1.5 mm"),
        ("50 mm x 16 gauge", 50.0, 1.651, "tube 50 x 1.65 mm, BWG 16"),
    ],
)
def test_tube_by_name(text: str, od: float, wall: float, label: str) -> None:
    stock = tube(text, "304")
    assert (stock.od, stock.wall, stock.label) == (od, wall, label)
    assert (stock.kind, stock.nps, stock.schedule, stock.od_tolerance) == ("tube", None, None, 0.13)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1-3/4 in", "the x between diameter and wall is missing"),
        ("45 mm x 1.5", "the wall needs mm, in or ga"),
        ("50 x 16 ga", "is 50 in mm or in? write its unit"),
        ("x 16 ga", "the x between diameter and wall is missing"),
        ("fish x 16 ga", "it does not begin with a number"),
    ],
)
def test_tube_that_cannot_be_read(text: str, reason: str) -> None:
    with pytest.raises(UnitError) as caught:
        tube(text, "304")
    assert caught.value.reason == reason


@pytest.mark.parametrize(
    ("gauge", "neighbours"),
    [(9, ("BWG 10 (3.404 mm)",)), (24, ("BWG 20 (0.889 mm)",)), (0, ("BWG 10 (3.404 mm)",))],
)
def test_tube_gauge_that_does_not_exist(gauge: int, neighbours: tuple[str, ...]) -> None:
    with pytest.raises(StockError) as caught:
        tube(f"2 in x {gauge} ga", "304")
    assert (caught.value.table, caught.value.neighbours) == ("tube gauge", neighbours)


def test_unknown_material_is_the_stock_error_of_the_material() -> None:
    with pytest.raises(StockError, match="mild steel"):
        pipe("2 STD", "mild stel")


def test_custom() -> None:
    stock = custom(48.3, 2.8, "304L")
    assert (stock.kind, stock.label, stock.od_tolerance) == ("custom", "pipe 48.3 x 2.8 mm", 0.0)
    assert stock.bore == pytest.approx(42.7, abs=1e-12)


@pytest.mark.parametrize(
    ("od", "wall", "found", "figure"),
    [
        (48.3, 0.0, "wall 0 mm", "below 24.15 mm"),
        (48.3, -1.0, "wall -1 mm", "below 24.15 mm"),
        (48.3, 24.15, "wall 24.15 mm", "below 24.15 mm"),
        (48.3, 30.0, "wall 30 mm", "below 24.15 mm"),
        (48.3, math.nan, "wall nan mm", "below 24.15 mm"),
        (0.0, 1.0, "od 0 mm", "above 0 mm"),
        (-48.3, 1.0, "od -48.3 mm", "above 0 mm"),
        (math.inf, 1.0, "od inf mm", "above 0 mm"),
    ],
)
def test_custom_needs_a_wall_and_a_bore(od: float, wall: float, found: str, figure: str) -> None:
    with pytest.raises(UnitError, match=figure) as caught:
        custom(od, wall, "304L")
    assert caught.value.found == found


def test_as_measured() -> None:
    stock = pipe("2 STD", "A53 B")
    both = stock.as_measured(60.6, 3.7)
    assert (both.od, both.wall, both.measured, both.od_tolerance) == (60.6, 3.7, True, 0.0)
    assert both.label == "NPS 2 STD (measured 60.6 x 3.7 mm)"
    assert (both.nps, both.schedule, both.material) == (stock.nps, stock.schedule, stock.material)
    assert not stock.measured


def test_as_measured_in_part() -> None:
    stock = pipe("2 STD", "A53 B")
    wall_only = stock.as_measured(wall=3.5)
    assert (wall_only.od, wall_only.wall, wall_only.od_tolerance) == (60.3, 3.5, stock.od_tolerance)
    assert stock.as_measured(od=60.5).wall == 3.91
    assert stock.as_measured() is stock
    assert wall_only.as_measured(od=60.5).label == "NPS 2 STD (measured 60.5 x 3.5 mm)"


def test_as_measured_is_checked_too() -> None:
    with pytest.raises(UnitError, match=r"wall 31 mm.*below 30\.15 mm"):
        pipe("2 STD", "A53 B").as_measured(wall=31.0)


def test_stock_is_frozen_and_hashable() -> None:
    stock = pipe("2 STD", "A53 B")
    assert len({stock, pipe("NPS 2 std", "A53 B")}) == 1
    with pytest.raises(FrozenInstanceError):
        stock.od = 1.0  # type: ignore[misc]


@given(od=st.floats(5.0, 400.0), share=st.floats(0.001, 0.499))
def test_circles_add_up(od: float, share: float) -> None:
    stock: PipeStock = custom(od, od * share, "carbon steel")
    assert stock.r_out - stock.r_in == pytest.approx(stock.wall, rel=1e-9)
    assert 2.0 * stock.r_in == pytest.approx(stock.bore, rel=1e-9)
    ring = math.pi * (stock.r_out**2 - stock.r_in**2)
    assert stock.area == pytest.approx(ring, rel=1e-9)
    assert stock.mass_per_m == pytest.approx(ring * 7850e-6, rel=1e-9)


def test_inch_pipe_wall_to_a_hundredth() -> None:
    # A53 table, inch: NPS 2 STD wall 0.154 in (from memory); the mm of the standard is its rounding.
    assert pipe("2 STD", "A53 B").wall == round(length("0.154 in", "in"), 2)
