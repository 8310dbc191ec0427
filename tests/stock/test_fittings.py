"""Elbows, reducers and caps."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from rootgap.errors import StockError, UnitError
from rootgap.stock import Cap, Elbow, Reducer, cap, elbow, elbows, pipe, reducer, reducers
from rootgap.stock.fittings import Series, StockAngle
from rootgap.units import fraction


def test_elbow() -> None:
    assert elbow("1-1/2", "LR", 90) == Elbow("1-1/2", "LR", 90, 57.15, 57.0)
    assert elbow("DN 40", "SR", 90) == Elbow("1-1/2", "SR", 90, 38.1, 38.0)
    assert elbow("1-1/2", "3D", 90) == Elbow("1-1/2", "3D", 90, 114.3, 114.3)
    assert elbow("1-1/2", "LR", 45) == Elbow("1-1/2", "LR", 45, 57.15, 29.0)


@pytest.mark.parametrize(
    "piece", elbows(), ids=lambda piece: f"{piece.nps} {piece.series} {piece.stock_angle}"
)
def test_radius_is_a_multiple_of_the_nominal_inch(piece: Elbow) -> None:
    factor = {"LR": 1.5, "SR": 1.0, "3D": 3.0}[piece.series]
    # Long radius below NPS 1 is bent to the radius of NPS 1: the standard prints 38 for all three.
    nominal = float(fraction(piece.nps)) if piece.series == "3D" else max(float(fraction(piece.nps)), 1.0)
    assert piece.radius == pytest.approx(factor * nominal * 25.4, abs=1e-9)


@pytest.mark.parametrize(
    "piece", elbows(), ids=lambda piece: f"{piece.nps} {piece.series} {piece.stock_angle}"
)
def test_an_elbow_is_at_least_its_arc(piece: Elbow) -> None:
    # Rounding of the printed figure takes half a millimetre at most.
    spare = piece.centre_to_end - piece.slice_centre_to_end
    assert abs(spare) <= 0.51 if piece.stock_angle == 90 or piece.series == "3D" else 0.0 <= spare <= 6.4


@pytest.mark.parametrize(
    ("nps", "series", "stock_angle", "neighbours"),
    [
        ("2", "SR", 45, ("NPS 2 LR 90", "NPS 2 LR 45", "NPS 2 SR 90", "NPS 2 3D 90", "NPS 2 3D 45")),
        ("2", "LR", 60, ("NPS 2 LR 90", "NPS 2 LR 45", "NPS 2 SR 90", "NPS 2 3D 90", "NPS 2 3D 45")),
        ("2", "XR", 90, ("NPS 2 LR 90", "NPS 2 LR 45", "NPS 2 SR 90", "NPS 2 3D 90", "NPS 2 3D 45")),
        ("1/2", "SR", 90, ("NPS 1/2 LR 90", "NPS 1/2 LR 45", "NPS 1 SR 90")),
        ("3/4", "SR", 90, ("NPS 3/4 LR 90", "NPS 3/4 LR 45", "NPS 3/4 3D 90", "NPS 3/4 3D 45", "NPS 1 SR 90")),
    ],
)
def test_elbow_that_is_not_made(
    nps: str, series: Series, stock_angle: StockAngle, neighbours: tuple[str, ...]
) -> None:
    with pytest.raises(StockError) as caught:
        elbow(nps, series, stock_angle)
    assert caught.value.table == "elbow"
    assert caught.value.found == f"NPS {nps} {series} {stock_angle}"
    assert caught.value.neighbours == neighbours


def test_cap_grows_above_the_xs_wall() -> None:
    assert cap("2", 3.91) == Cap("2", 38.0)
    assert cap("2", pipe("2 XS", "A53 B").wall) == Cap("2", 38.0)
    assert cap("2", 8.74) == Cap("2", 44.0)


@pytest.mark.parametrize("wall", [0.0, -1.0, 30.15])
def test_cap_needs_a_wall_and_a_bore(wall: float) -> None:
    with pytest.raises(UnitError, match=r"above 0 mm and below 30\.15 mm"):
        cap("2", wall)


def test_reducer() -> None:
    assert reducer("2-1/2", "NPS 1-1/2") == Reducer("2-1/2", "1-1/2", 89.0)


def test_every_reducer_gets_smaller_and_not_below_a_third() -> None:
    ratios = [float(fraction(piece.small) / fraction(piece.large)) for piece in reducers()]
    assert min(ratios) >= 1 / 3
    assert max(ratios) < 1.0
    assert len(set(reducers())) == len(reducers()) == 42


@pytest.mark.parametrize(
    ("large", "small", "neighbours"),
    [
        ("3", "1", ("NPS 3 x 1-1/4", "NPS 2-1/2 x 1")),
        ("1-1/2", "2", ("NPS 2 x 1-1/2",)),
        ("2", "2", ("NPS 2 x 1-1/2", "NPS 2-1/2 x 2")),
        ("1/2", "6", ("NPS 3/4 x 1/2",)),
    ],
)
def test_reducer_that_is_not_made(large: str, small: str, neighbours: tuple[str, ...]) -> None:
    with pytest.raises(StockError) as caught:
        reducer(large, small)
    assert (caught.value.table, caught.value.neighbours) == ("reducer", neighbours)


@pytest.mark.parametrize(
    "call", [lambda: elbow("7", "LR", 90), lambda: cap("7", 3.0), lambda: reducer("7", "5")]
)
def test_size_beyond_the_tables(call: Callable[[], object]) -> None:
    with pytest.raises(StockError, match=r"NPS 7.*nearest that exist: NPS 6"):
        call()
