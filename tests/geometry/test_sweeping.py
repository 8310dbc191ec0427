"""How far a thing goes before it meets another: closed forms, and the kernel at places on the way."""

from __future__ import annotations

import cadquery as cq
import numpy as np
import pytest

from rootgap.geometry.distance import Ball, Bend, Block, HalfSpace, Rod
from rootgap.geometry.frames import Frame, unit, vector
from rootgap.geometry.skins import rod_skin, skin_of
from rootgap.geometry.sweeping import Cells, swept
from rootgap.solids import bodies

ROD = Rod(vector((0, 0, 0)), vector((0, 0, 100)), 10.0)
ALONG = np.array((0.0, 1.0, 0.0))


@pytest.fixture(scope="module")
def cells() -> Cells:
    return Cells.over((rod_skin(ROD),))


@pytest.mark.parametrize("room", [0.0, 3.0])
def test_up_to_a_wall(cells: Cells, room: float) -> None:
    """A rod of radius 10 before a wall 190 away goes 180, less the room it keeps."""
    wall = HalfSpace(vector((0, 190, 0)), vector((0, -1, 0)))
    gone = swept(cells, ALONG, 500.0, wall, room)
    assert 180.0 - room - 1.0 < gone <= 180.0 - room


def test_along_a_wall_it_goes_all_the_way(cells: Cells) -> None:
    beside = HalfSpace(vector((16, 0, 0)), vector((-1, 0, 0)))
    assert swept(cells, ALONG, 500.0, beside, 5.0) == 500.0
    assert swept(cells, ALONG, 500.0, beside, 6.0 + 1e-6) == 0.0


def test_a_thin_plate_is_not_passed_over(cells: Cells) -> None:
    """Half a millimetre thick, and no cell or step is as small."""
    plate = Block.upright((0, 150, 50), (8, 0.5, 8))
    gone = swept(cells, ALONG, 500.0, plate, 0.0)
    assert 139.75 - 1.0 < gone <= 139.75


def test_a_slot_as_wide_as_the_rod_and_its_room(cells: Cells) -> None:
    """Clear by more than the smallest ball is told clear."""
    for half, clear in ((13.2, True), (11.9, False)):
        walls = [Block.upright((side * (half + 20), 100, 50), (40, 60, 200)) for side in (1, -1)]
        gone = min(swept(cells, ALONG, 300.0, wall, 2.0) for wall in walls)
        assert (gone == 300.0) is clear


@pytest.mark.parametrize("seed", range(30))
def test_the_kernel_finds_no_touch_on_the_way(seed: int) -> None:
    random = np.random.default_rng(seed)
    start = random.uniform(-20, 20, 3)
    moving = (
        Rod(vector(start), vector(start + random.uniform(20, 60, 3)), float(random.uniform(4, 12)))
        if seed % 2
        else Bend(Frame.looking(start, random.normal(size=3)), 40.0, 90.0, float(random.uniform(0, 360)), 9.0)
    )
    size = random.uniform(10, 60, 3)
    box = Block.upright(random.uniform(80, 160, 3), size)
    direction = unit(random.uniform(0.3, 1.0, 3))
    gone = swept(Cells.over((skin_of(moving),)), direction, 300.0, box, 1.0)
    solid = made(moving)
    other = cq.Workplane().box(*map(float, size)).val().moved(cq.Location(cq.Vector(*box.frame.origin)))
    for share in np.linspace(0.0, 1.0, 13):
        there = solid.moved(cq.Location(cq.Vector(*(share * gone * direction))))
        assert there.distance(other) > 1.0 - 1e-6
    if gone < 300.0:
        beyond = solid.moved(cq.Location(cq.Vector(*((gone + 1.5) * direction))))
        assert beyond.distance(other) < 1.0 + 1.5


def made(body: Rod | Bend) -> cq.Shape:
    if isinstance(body, Rod):
        lag = body.end - body.start
        return bodies.rod(Frame.looking(body.start, lag), 0.0, float(np.linalg.norm(lag)), body.radius)
    return bodies.bent_rod(body.frame, body.radius, body.angle, body.clock, body.r_out)


def test_a_moved_thing_starts_where_it_was_moved_to(cells: Cells) -> None:
    ball = Ball(vector((0, 100, 50)), 5.0)
    assert swept(cells, ALONG, 500.0, ball, 0.0) < 86.0
    assert swept(cells.moved(np.array((30.0, 0.0, 0.0))), ALONG, 500.0, ball, 0.0) == 500.0
