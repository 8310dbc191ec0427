"""Pipe and tube measures against the standards.

Sources: ASME B36.10M / B36.19M schedules and the Birmingham wire gauge, as carried by the `fluids`
library (fluids.piping); ASME B1.20.1 outside diameters; ISO 4200 / EN 10220 series 1; the mass
formulas of ASME B36.10M.
"""

from __future__ import annotations

import math

import pytest
from fluids.piping import schedule_lookup, t_from_gauge

from rootgap.stock import pipe, pipe_size, pipe_sizes, tube
from rootgap.units import fraction

SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6")


@pytest.mark.parametrize("nps", SIZES)
@pytest.mark.parametrize("schedule", ["5", "10", "40", "80", "5S", "10S", "40S", "80S", "STD", "XS"])
def test_schedules_as_fluids_carries_them(nps: str, schedule: str) -> None:
    sizes, bores, ods, walls = schedule_lookup[schedule]
    at = sizes.index(float(fraction(nps)))
    stock = pipe(f"{nps} {'' if schedule.isalpha() else 'sch '}{schedule}", "A53 B")
    assert (stock.od, stock.wall) == (ods[at], walls[at])
    assert stock.bore == pytest.approx(bores[at], abs=1e-9)


@pytest.mark.parametrize(
    ("nps", "walls", "bore_40"),
    [
        ("1/2", (1.65, 2.11, 2.77, 3.73), 15.76),
        ("3/4", (1.65, 2.11, 2.87, 3.91), 20.96),
        ("1", (1.65, 2.77, 3.38, 4.55), 26.64),
        ("1-1/4", (1.65, 2.77, 3.56, 4.85), 35.08),
        ("1-1/2", (1.65, 2.77, 3.68, 5.08), 40.94),
        ("2", (1.65, 2.77, 3.91, 5.54), 52.48),
        ("2-1/2", (2.11, 3.05, 5.16, 7.01), 62.68),
        ("3", (2.11, 3.05, 5.49, 7.62), 77.92),
        ("3-1/2", (2.11, 3.05, 5.74, 8.08), 90.12),
        ("4", (2.11, 3.05, 6.02, 8.56), 102.26),
        ("5", (2.77, 3.40, 6.55, 9.53), 128.20),
        ("6", (2.77, 3.40, 7.11, 10.97), 154.08),
    ],
)
def test_walls_of_b36(nps: str, walls: tuple[float, ...], bore_40: float) -> None:
    found = [pipe(f"{nps} sch {schedule}", "A53 B") for schedule in ("5S", "10S", "40", "80")]
    assert tuple(stock.wall for stock in found) == walls
    assert found[2].bore == pytest.approx(bore_40, abs=1e-9)


def test_exact_inch_diameters() -> None:
    # ASME B1.20.1, inch, times 25.4.
    exact = (
        21.336,
        26.670,
        33.401,
        42.164,
        48.260,
        60.325,
        73.025,
        88.900,
        101.600,
        114.300,
        141.3002,
        168.275,
    )
    assert tuple(size.od_exact for size in pipe_sizes()) == exact
    # The mm that B36.10M prints are these to a tenth, ties either way.
    assert all(abs(size.od - size.od_exact) <= 0.05 for size in pipe_sizes())


def test_exact_inch_diameters_as_fluids_carries_them() -> None:
    sizes, _, ods, _ = schedule_lookup["40D1785"]  # ASTM D1785 shares the iron-pipe diameters
    carried = dict(zip(sizes, ods, strict=True))
    assert [size.od_exact for size in pipe_sizes() if size.nps != "3-1/2"] == [
        pytest.approx(carried[float(fraction(size.nps))], abs=1e-9)
        for size in pipe_sizes()
        if size.nps != "3-1/2"
    ]


def test_wrap_length_rounded_and_exact() -> None:
    # pi OD at NPS 2: 189.438 and 189.517 mm.
    size = pipe_size("2")
    assert math.pi * size.od == pytest.approx(189.438, abs=5e-4)
    assert math.pi * size.od_exact == pytest.approx(189.517, abs=5e-4)


def test_metric_series_differs_in_five_sizes() -> None:
    # ISO 4200 / EN 10220 series 1, from two fitting makers' tables.
    series_1 = {
        15: 21.3, 20: 26.9, 25: 33.7, 32: 42.4, 40: 48.3, 50: 60.3, 65: 76.1, 80: 88.9, 90: 101.6, 100: 114.3,
        125: 139.7, 150: 168.3,
    }  # fmt: skip
    assert {size.dn for size in pipe_sizes()} == set(series_1)
    assert {size.dn for size in pipe_sizes() if size.od != series_1[size.dn]} == {20, 25, 32, 65, 125}


@pytest.mark.parametrize(
    ("nps", "kg_per_m", "printed"),
    [
        ("1", 2.502, 2.50),
        ("1-1/4", 3.392, 3.39),
        ("1-1/2", 4.049, 4.05),
        ("2", 5.437, 5.44),
        ("2-1/2", 8.633, 8.63),
        ("3", 11.293, 11.29),
        ("4", 16.076, 16.07),
    ],
)
def test_mass_per_metre(nps: str, kg_per_m: float, printed: float) -> None:
    # ASME B36.10M: 0.0246615 (D - t) t, kg/m; `printed` is the standard's own table, from memory.
    stock = pipe(f"{nps} sch 40", "A53 B")
    assert stock.mass_per_m == pytest.approx(0.0246615 * (stock.od - stock.wall) * stock.wall, rel=1e-6)
    assert stock.mass_per_m == pytest.approx(kg_per_m, abs=5.1e-4)
    assert stock.mass_per_m == pytest.approx(printed, abs=0.0101)


@pytest.mark.parametrize(
    ("nps", "lb_per_ft"), [("1-1/4", 2.275), ("1-1/2", 2.720), ("2", 3.656), ("3", 7.583), ("4", 10.800)]
)
def test_mass_per_foot(nps: str, lb_per_ft: float) -> None:
    # ASME B36.10M, inch form: 10.69 (D - t) t, with inch diameter and wall; 1 lb/ft = 1.488164 kg/m.
    # The mm diameters and walls are rounded, which moves the mass by up to 0.3 %.
    assert pipe(f"{nps} sch 40", "A53 B").mass_per_m / 1.488164 == pytest.approx(lb_per_ft, rel=3e-3)


@pytest.mark.parametrize(
    ("nps", "area"), [("1-1/4", 966.5), ("1-1/2", 1316.4), ("2", 2163.1), ("2-1/2", 3085.7), ("3", 4768.6)]
)
def test_bore_area(nps: str, area: float) -> None:
    stock = pipe(f"{nps} sch 40", "A53 B")
    assert math.pi * stock.r_in**2 == pytest.approx(area, abs=0.05)
    assert math.pi * stock.r_out**2 - stock.area == pytest.approx(area, abs=0.05)


@pytest.mark.parametrize("gauge", range(10, 21))
def test_tube_gauges_as_fluids_carries_them(gauge: int) -> None:
    stock = tube(f"2 in x {gauge} ga", "304L")
    assert stock.wall == pytest.approx(t_from_gauge(gauge, SI=False, schedule="BWG") * 25.4, abs=1e-12)
