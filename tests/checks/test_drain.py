"""The oil's way down: drains at known angles, level, rising, under the oil; and the vehicle's rake in it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.checks.drain import corners, falls, oil_drains
from rootgap.checks.finding import Finding
from rootgap.geometry.frames import vector
from rootgap.layout.access import standing_up
from rootgap.manifold import Manifold
from rootgap.spec.drain import VehicleSpec

UP = np.array((0.0, 1.0, 0.0))


@pytest.fixture(scope="module")
def manifold(demo: Path) -> Manifold:
    return rootgap.load(demo)


def judged(
    manifold: Manifold, points: list[tuple[float, float, float]] | None = None, **changes: object
) -> dict[str, Finding]:
    access = manifold.layout.access
    drain = access.drains[0]
    if points is not None:
        drain = replace(drain, points=np.array(points, dtype=float))
    up = changes.pop("up", access.up)
    drain = replace(drain, **changes)
    layout = replace(manifold.layout, access=replace(access, drains=(drain,), up=up))
    return {finding.check: finding for finding in oil_drains(layout, ())}


@pytest.mark.parametrize("angle", [0.0, 3.0, 30.0, 90.0, -10.0])
def test_the_fall_of_a_line_at_a_known_angle(angle: float) -> None:
    end = 200.0 * np.array((np.cos(np.radians(angle)), -np.sin(np.radians(angle)), 0.0))
    assert np.isclose(falls(np.array([np.zeros(3), end]), UP)[0], angle)


def test_corners_turn_by_what_lies_between_two_stretches() -> None:
    points = np.array([(0, 0, 0), (0, -50, 0), (50, -100, 0), (100, -100, 0.0)])
    assert np.allclose(corners(points), (45.0, 45.0))


def test_a_drain_that_falls_to_a_fitting_over_the_oil_passes(manifold: Manifold) -> None:
    assert {finding.verdict for finding in judged(manifold).values()} == {"pass"}


@pytest.mark.parametrize(
    ("down", "verdict"), [(-20.0, "pass"), (-4.0, "warn"), (0.0, "fail"), (5.0, "fail")]
)
def test_a_flat_or_rising_stretch_is_refused(manifold: Manifold, down: float, verdict: str) -> None:
    """100 mm along, and so far down or up; the vehicle level."""
    found = judged(manifold, [(0, 0, 0), (20, -100, 0), (120, -100 + down, 0), (125, -200, 0)], up=UP)["drain falls"]
    assert (found.verdict, "stretch 2" in found.subject) == (verdict, True)
    assert np.isclose(found.value, np.degrees(np.arctan2(-down, 100.0)), atol=1e-6)


def test_the_lift_that_is_told_makes_the_fall_enough(manifold: Manifold) -> None:
    points = [(0.0, 0.0, 0.0), (100.0, -2.0, 0.0)]
    advice = judged(manifold, points, up=UP)["drain falls"].advice
    lift = float(advice.rpartition("turbo ")[2].split()[0])
    again = judged(manifold, [(0.0, lift, 0.0), (100.0, -2.0, 0.0)], up=UP)["drain falls"]
    assert again.verdict == "pass"
    assert again.value < 5.1


def test_a_rake_that_takes_the_fall_away_is_seen(manifold: Manifold) -> None:
    """A line that falls 4 degrees forward, in a vehicle whose nose stands up by 6."""
    points = [(0.0, 0.0, 0.0), (200.0, -200.0 * float(np.tan(np.radians(4.0))), 0.0)]
    nose_up = standing_up(VehicleSpec(pitch=6.0))
    assert np.isclose(judged(manifold, points, up=UP)["drain falls"].value, 4.0)
    raked = judged(manifold, points, up=nose_up)["drain falls"]
    assert np.isclose(raked.value, -2.0)
    assert raked.verdict == "fail"


def test_a_roll_to_the_right_lowers_the_right(manifold: Manifold) -> None:
    """Forward is x and up is y, so that right is z."""
    up = standing_up(VehicleSpec(roll=10.0))
    assert np.isclose(np.degrees(np.arcsin(-up[2])), 10.0)


@pytest.mark.parametrize(("turn", "verdict"), [(14.0, "pass"), (16.0, "fail")])
def test_a_drain_out_of_vertical(manifold: Manifold, turn: float, verdict: str) -> None:
    """By the centre section's clock."""
    drain = manifold.layout.access.drains[0]
    turned = replace(drain.envelope, drain=drain.envelope.drain.bent(0.0, turn, 90.0))
    found = judged(manifold, envelope=turned, up=UP)["drain from vertical"]
    assert np.isclose(found.value, turn)
    assert found.verdict == verdict
    assert judged(manifold, envelope=turned, up=UP, tilt=35.0)["drain from vertical"].verdict == "pass"


def test_a_shaft_out_of_level(manifold: Manifold) -> None:
    drain = manifold.layout.access.drains[0]
    tilted = replace(drain.envelope, shaft=drain.envelope.shaft.bent(0.0, 20.0, 0.0))
    found = judged(manifold, envelope=tilted, up=UP)["shaft from level"]
    assert np.isclose(found.value, 20.0)
    assert found.verdict == "fail"


def test_a_fitting_under_the_oil_and_a_narrow_line(manifold: Manifold) -> None:
    end = manifold.layout.access.drains[0].points[-1]
    found = judged(manifold, oil=vector(end + (0.0, 7.0, 0.0)), bore=12.0, up=UP)
    assert np.isclose(found["drain over the oil"].value, -7.0)
    assert found["drain over the oil"].verdict == "fail"
    assert found["drain bore"].verdict == "fail"
