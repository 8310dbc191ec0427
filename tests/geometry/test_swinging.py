"""How far a bar swings, against closed forms and against trying every degree."""

from __future__ import annotations

import numpy as np
import pytest

from rootgap.geometry.distance import Ball, Block, Body, HalfSpace
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.swinging import Bar, widest_swing

AT = Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0))


def test_nothing_in_the_way_is_all_round() -> None:
    assert widest_swing(AT, Bar.of(10.0, 200.0, 8.0), ()).angle == 360.0
    far = Ball(vector((0, 900, 0)), 50.0)
    assert widest_swing(AT, Bar.of(10.0, 200.0, 8.0), (far,)).angle == 360.0


@pytest.mark.parametrize("away", [60.0, 100.0, 150.0])
def test_beside_a_wall(away: float) -> None:
    """Closed form: the bar's end meets the wall where reach x cos(angle) + its radius is how far off the wall is."""
    bar = Bar.of(10.0, 200.0, 8.0)
    wall = HalfSpace(vector((away, 0, 0)), vector((-1, 0, 0)))
    swing = widest_swing(AT, bar, (wall,))
    meets = np.degrees(np.arccos((away - bar.radius[-1]) / bar.reach[-1]))
    assert 360.0 - 2.0 * meets - 1.0 < swing.angle <= 360.0 - 2.0 * meets + 1e-6
    assert abs(swing.middle - 180.0) < 1.0
    assert swing.blocks == 0


def test_between_two_walls_there_is_no_turn() -> None:
    slot = (Block.upright((60, 0, 0), (80, 900, 80)), Block.upright((-60, 0, 0), (80, 900, 80)))
    inside = widest_swing(AT, Bar.of(10.0, 200.0, 8.0), slot)
    # The slot is 40 wide and the bar 16: it leans by asin(12 / 200) either way, nearly.
    assert 0.0 < inside.angle <= 2.0 * np.degrees(np.arcsin((20.0 - 8.0) / 200.0)) + 1e-6
    tight = tuple(Block.upright((side * 47, 0, 0), (80, 900, 80)) for side in (1, -1))
    assert widest_swing(AT, Bar.of(10.0, 200.0, 8.0), tight).angle == 0.0


@pytest.mark.parametrize("seed", range(12))
def test_no_place_of_the_told_turn_touches(seed: int) -> None:
    """Brute force: the bar at every quarter of a degree."""
    random = np.random.default_rng(seed)
    bodies: list[Body] = [
        Ball(vector(random.uniform(-220, 220, 3) * (1, 1, 0.2)), float(random.uniform(5, 60))) for _ in range(5)
    ]
    bar = Bar.of(15.0, 190.0, 10.0)
    swing = widest_swing(AT, bar, bodies)
    clocks = np.radians(np.arange(0.0, 360.0, 0.25))
    points = bar.reach[None, :, None] * AT.radial(clocks)[:, None, :]
    room = np.min([body.distance(points.reshape(-1, 3)).reshape(len(clocks), -1) for body in bodies], axis=0)
    free = (room - bar.radius).min(axis=1) > 0.0
    off = np.abs((np.degrees(clocks) - swing.middle + 180.0) % 360.0 - 180.0)
    assert free[off < 0.5 * swing.angle - 1e-6].all()
    # And no turn that there is is much wider.
    if free.all():
        assert swing.angle == 360.0
    else:
        start = int(np.flatnonzero(~free)[0])
        runs = "".join("x" if each else "." for each in np.roll(free, -start)).split(".")
        assert swing.angle >= 0.25 * max(map(len, runs)) - 4.0
