"""Edges of thermal cuts against figures that were printed."""

from __future__ import annotations

import pytest

from rootgap.errors import StockError
from rootgap.stock import expected, squareness

INCH = 25.4


@pytest.mark.parametrize(("number", "inch"), [(1, 0.0031), (2, 0.0085), (3, 0.0195), (4, 0.0390), (5, 0.0604)])
def test_squareness_of_a_cut_of_9_5_mm(number: int, inch: float) -> None:
    """Source: ISO 9013 ranges 1 to 5, as a cutting shop's sheet tabulates them in inches for 9.5 mm."""
    assert squareness(number, 9.5) / INCH == pytest.approx(inch, abs=1.0e-4)


@pytest.mark.parametrize(
    ("thickness", "limits"), [(6.0, (0.46, 0.92, 1.41)), (10.0, (0.50, 1.00, 1.55)), (12.0, (0.52, 1.04, 1.62))]
)
def test_ranges_that_plasma_keeps_to(thickness: float, limits: tuple[float, ...]) -> None:
    """Source: ISO 9013 formulas of ranges 3 to 5, worked out."""
    assert [squareness(number, thickness) for number in (3, 4, 5)] == pytest.approx(limits, abs=0.0051)
    assert expected("plasma").squareness(thickness) == pytest.approx((limits[0], limits[2]), abs=0.0051)


def test_what_there_is_not() -> None:
    with pytest.raises(StockError, match="1, 2, 3, 4, 5"):
        squareness(6, 10.0)
    with pytest.raises(StockError, match="plasma"):
        expected("plasme")
