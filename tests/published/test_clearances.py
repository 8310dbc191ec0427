"""Distances of hot exhaust from its neighbours.

Source: a heavy-truck body builder's manual (2010), table 9-1, exhaust system clearance: hoses and wiring 2 in shielded
and 3 in bare; COMAR 11.22.02.11, one state's vehicle inspection: 1-1/2 in from fuel, brakes and anything that burns.
"""

from __future__ import annotations

import pytest

from rootgap.stock.keepouts import clearance_rule

INCH = 25.4


def test_hoses_and_wiring_keep_the_manuals_distances() -> None:
    rule = clearance_rule("hose_or_wiring")
    assert rule.least(shielded=False) == pytest.approx(3.0 * INCH, abs=0.5)
    assert rule.least(shielded=True) == pytest.approx(2.0 * INCH, abs=0.5)
    assert rule.support == "published article"


def test_fuel_and_brakes_have_an_inspections_floor() -> None:
    rule = clearance_rule("fuel_or_brake")
    assert rule.floor == pytest.approx(1.5 * INCH, abs=0.5)
    assert rule.floor_support == "standard"
