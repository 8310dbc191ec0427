"""Growth of steels when hot.

Source: EN 1993-1-2:2005, 3.4.1.1 (carbon steel) and C.3.1 (stainless steel): growth per length from 20 degrees C.
"""

from __future__ import annotations

import pytest

from rootgap.stock import material


@pytest.mark.parametrize(
    ("name", "hot", "mm_per_m"),
    [
        ("carbon steel", 100, 0.9984),
        ("carbon steel", 200, 2.3184),
        ("carbon steel", 300, 3.7184),
        ("carbon steel", 400, 5.1984),
        ("carbon steel", 500, 6.7584),
        ("carbon steel", 600, 8.3984),
        ("carbon steel", 700, 10.1184),
        ("carbon steel", 860, 11.0),
        ("304L", 100, 1.3173),
        ("304L", 200, 3.0435),
        ("304L", 300, 4.8510),
        ("304L", 400, 6.7325),
        ("304L", 500, 8.6804),
        ("304L", 600, 10.6874),
        ("304L", 700, 12.7459),
        ("304L", 800, 14.8484),
        ("304L", 900, 16.9877),
    ],
)
def test_growth_is_the_standards(name: str, hot: float, mm_per_m: float) -> None:
    assert 1000.0 * material(name).growth(20.0, hot) == pytest.approx(mm_per_m, abs=0.006)


def test_growth_of_321_is_its_makers() -> None:
    """A tube maker's data sheet for 321 and 347: 1.328, 10.962 and 20.09 mm/m to 100, 600 and 1000 degrees C."""
    grown = [1000.0 * material("321").growth(20.0, hot) for hot in (100.0, 600.0, 1000.0)]
    assert grown == pytest.approx([1.328, 10.962, 20.09], abs=0.001)
