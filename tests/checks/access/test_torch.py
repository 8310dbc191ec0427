"""A torch at welds: in the open, beside a wall by the closed form, in a groove too narrow, and in a whole manifold."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.checks.access.obstacles import Obstacle, Space, obstacles
from rootgap.checks.access.torch import (
    WeldReach,
    _reach,
    cones_free,
    in_order,
    torch_findings,
    torch_reach,
)
from rootgap.geometry.distance import Body, HalfSpace, Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.joints import Butt, Cope
from rootgap.stock.handtools import hand_tools

TORCH = hand_tools().torch
R = 24.0
BUTT = Butt("a+b", "a", "b", Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0)), (R, R), (20.0, 20.0))
CLOCKS = 2.0 * np.pi * np.arange(36) / 36
SEAM = R * BUTT.frame.radial(CLOCKS)
OWN = (
    Obstacle("a", Rod(vector((0, 0, -200)), vector((0, 0, 0)), R)),
    Obstacle("b", Rod(vector((0, 0, 0)), vector((0, 0, 200)), R)),
)


def reach(*others: Body, placed: bool = True) -> WeldReach:
    things = [Obstacle(f"other.{number}", body) for number, body in enumerate(others)]
    return _reach(BUTT, SEAM, OWN, things, {thing.name for thing in things} if placed else set())


def test_two_pipes_in_the_open_are_welded_all_round() -> None:
    found = reach()
    assert (found.alone, found.in_order, found.at_last, found.blocks) == (100.0, 100.0, 100.0, "")
    assert next(torch_findings((found,))).verdict == "pass"


@pytest.mark.parametrize("away", [40.0, 70.0, 110.0])
def test_beside_a_wall_it_reaches_what_the_closed_form_says(away: float) -> None:
    """Leant away from the wall as far as may be, a cone of half angle a and length L is free of it where
    r cos(clock) + L (cos(clock + lean) + sin a) <= the wall's distance; the same the other way round."""
    lean, cup = np.radians((TORCH.lean, TORCH.cup))
    clock = np.linspace(0.0, np.pi, 20001)
    free = R * np.cos(clock) + TORCH.length * (np.cos(np.minimum(clock + lean, np.pi)) + np.sin(cup)) <= away
    found = reach(HalfSpace(vector((away, 0, 0)), vector((-1, 0, 0))))
    # Two places of 36 at either edge, and directions that lie up to 8 degrees apart.
    assert abs(found.in_order - 100.0 * free.mean()) < 12.0
    assert found.in_order <= 100.0 * free.mean() + 100.0 / 36
    assert found.blocks == "other.0"


def test_what_comes_later_counts_only_at_last() -> None:
    wall = HalfSpace(vector((40, 0, 0)), vector((-1, 0, 0)))
    found = reach(wall, placed=False)
    assert found.in_order == 100.0
    assert found.at_last < 80.0
    assert (found.blocks, found.blocks_at_last) == ("", "other.0")


def test_a_weld_that_is_walled_in_fails() -> None:
    sleeve = [HalfSpace(vector(35.0 * way), vector(-way)) for way in BUTT.frame.radial(CLOCKS[::3])]
    found = reach(*sleeve)
    assert found.in_order == 0.0
    assert next(torch_findings((found,))).verdict == "fail"


def test_a_cone_is_as_wide_as_its_angle() -> None:
    """Along a wall at a distance: free while the wall is farther off than length x sin(half angle)."""
    along = np.array([(0.0, 0.0, 1.0)])
    need = TORCH.length * np.sin(np.radians(TORCH.cup))
    asked = np.ones((1, 1), dtype=np.bool_)
    for away, free in ((need + 0.1, True), (need - 0.1, False)):
        wall = HalfSpace(vector((away, 0, 0)), vector((-1, 0, 0)))
        assert cones_free(np.zeros((1, 3)), along, wall, asked)[0, 0] == free


@pytest.mark.parametrize("half", [8.0, 25.0])
def test_a_groove_narrower_than_the_cone_is_not_reached(half: float) -> None:
    """Two faces that open by twice `half`: free where that is more than the cone's angle either side."""
    out, way = np.array((0.0, 0.0, 1.0)), np.radians(half)
    faces = [HalfSpace(vector((0, 0, 0)), vector((side * np.cos(way), 0.0, np.sin(way)))) for side in (1.0, -1.0)]
    free = np.ones((1, 1), dtype=np.bool_)
    for face in faces:
        free &= cones_free(np.zeros((1, 3)), out[None], face, free)
    assert free[0, 0] == (half > TORCH.cup)


@pytest.fixture(scope="module")
def found(demo: Path) -> tuple[WeldReach, ...]:
    manifold = rootgap.load(demo)
    return torch_reach(manifold.layout, manifold.joints, Space(obstacles(manifold.layout, manifold.joints)))


def test_the_demos_welds_can_be_made(found: tuple[WeldReach, ...]) -> None:
    assert len(found) == 20
    assert all(0.0 <= each.at_last <= each.in_order <= each.alone <= 100.0 for each in found)
    assert not any(each.verdict == "fail" for each in torch_findings(found))
    first = found[0]
    assert (first.weld, first.in_order) == ("log-cap+log-a", 100.0)


def test_crowded_copes_come_after_those_that_they_are_fitted_onto(demo: Path) -> None:
    joints = rootgap.load(demo).joints
    order = in_order(joints)
    assert sorted(joint.id for joint in order) == sorted(joint.id for joint in joints)
    counts = [len(joint.neighbours) for joint in order if isinstance(joint, Cope)]
    assert counts == sorted(counts)
