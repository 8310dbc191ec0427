"""Ways out: slots that let a part go only one way, tunnels with a bend, and places that nothing leaves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap.checks.access.install import (
    CLOSE,
    Contact,
    Stage,
    Unit,
    Way,
    first_out,
    install_findings,
    order_out,
    units,
    way_out,
)
from rootgap.checks.access.obstacles import Obstacle, Space, obstacles
from rootgap.checks.access.told import install_rows
from rootgap.checks.gap import cover_of
from rootgap.geometry.distance import Block, Body, HalfSpace, Rod
from rootgap.geometry.frames import unit, vector
from rootgap.geometry.skins import rod_skin
from rootgap.geometry.sweeping import FINE, LEAST_STEP
from rootgap.layout import Keepout, Layout
from rootgap.manifold import Manifold
from rootgap.solids.whole import body

SIDES = {"+x": (1, 0, 0), "-x": (-1, 0, 0), "+y": (0, 1, 0), "-y": (0, -1, 0), "+z": (0, 0, 1), "-z": (0, 0, -1)}


def rod(start: tuple[float, ...], end: tuple[float, ...], radius: float, name: str = "pipe") -> Obstacle:
    made = Rod(vector(start), vector(end), radius)
    return Obstacle(name, made, cover_of(rod_skin(made)), "manifold")


def keepout(name: str, middle: tuple[float, ...], size: tuple[float, ...]) -> Obstacle:
    return Obstacle(f"keepout.{name}", Block.upright(middle, size))


PIPE = Unit("the manifold", (rod((-30, 0, 0), (30, 0, 0), 10.0),), ())


def box(*open_: str, room: float = 10.0) -> list[Obstacle]:
    """Walls 20 thick round the pipe, `room` off it, with some sides open."""
    half = np.array((30.0, 10.0, 10.0)) + room
    walls = []
    for word, side in SIDES.items():
        if word not in open_:
            way = np.array(side, dtype=float)
            size = np.where(way != 0.0, 20.0, 2.0 * half + 40.0)
            walls.append(keepout(word, tuple(way * (half + 10.0)), tuple(size)))
    return walls


@pytest.mark.parametrize("word", SIDES)
def test_a_box_with_one_side_open_lets_it_out_there(word: str) -> None:
    way = way_out(PIPE, Space((*PIPE.things, *box(word))), 2.0)
    assert way.clear
    assert len(way.stages) == 1
    assert unit(way.stages[0].direction) @ np.array(SIDES[word]) > np.cos(np.radians(25.0))


def test_a_closed_box_lets_nothing_out_and_says_what_stops_it() -> None:
    way = way_out(PIPE, Space((*PIPE.things, *box())), 2.0)
    assert not way.clear
    assert way.blocks.startswith("keepout.")
    finding = next(install_findings((way,)))
    assert finding.verdict == "fail"
    assert finding.value < finding.limit
    assert way.blocks in finding.advice


@pytest.mark.parametrize(("room", "clear"), [(2.0, True), (9.0, True), (10.5, False)])
def test_the_room_that_is_asked_for_is_kept(room: float, clear: bool) -> None:
    way = way_out(PIPE, Space((*PIPE.things, *box("+z"))), room)
    assert way.clear is clear
    if clear:
        assert room <= way.room <= 10.0


def test_the_best_way_is_leant_away_from_what_is_beside_it() -> None:
    """Beside one wall, 6 off it, the straight way keeps 6, and none keeps more at its start."""
    wall = keepout("wall", (0.0, 26.0, 100.0), (400.0, 20.0, 400.0))
    way = way_out(PIPE, Space((*PIPE.things, wall)), 2.0)
    assert way.clear
    # Less what the smallest ball, the least step and the search for it leave open.
    assert 6.0 - FINE - LEAST_STEP - CLOSE <= way.room <= 6.0


def elbow_tunnel() -> list[Obstacle]:
    """Up 120 in a shaft, then along +x under a roof: straight on nothing comes out."""
    walls = box("+z")
    tall = [replace(each, body=Block.upright(each.body.frame.origin + (0, 0, 20), each.body.size + (0, 0, 40)))
            for each in walls if each.name != "keepout.-z"]
    return [*tall, keepout("-z", (0, 0, -30), (120, 80, 20)), keepout("roof", (0, 0, 130), (900, 900, 20))]


def test_up_a_shaft_and_along_under_a_roof_takes_two_stages() -> None:
    space = Space((*PIPE.things, *elbow_tunnel()))
    way = way_out(PIPE, space, 2.0, 400.0)
    assert way.clear
    assert len(way.stages) == 2
    # Checked against places on the way: nothing nearer than the room.
    things = [each for each in space.things if each.name.startswith("keepout.")]
    skin = rod_skin(PIPE.things[0].body)(*np.random.default_rng(0).random((2, 3000)))
    at = np.zeros(3)
    for stage in way.stages:
        for share in np.linspace(0.0, 1.0, 60):
            here = at + share * stage.length * np.array(stage.direction)
            assert min(each.body.distance(skin + here).min() for each in things) >= 2.0
        at = at + stage.length * np.array(stage.direction)


def test_a_contact_is_left_away_from_it() -> None:
    """On a plate that it lies on, it may not go through it, and slides or lifts off."""
    plate = keepout("face", (0, 0, -20), (500, 500, 20))
    contact = Contact("pipe", "keepout.face", vector((0, 0, -10)), vector((0, 0, 1)))
    lying = replace(PIPE, contacts=(contact,))
    way = way_out(lying, Space((*lying.things, plate)), 2.0)
    assert way.clear
    assert way.stages[0].direction[2] >= -1e-9


def test_a_pilot_is_first_lifted_out_of_and_two_across_never() -> None:
    up = Contact("pipe", "other", vector((0, 0, -10)), vector((0, 0, 1)), 3.0)
    others = rod((-30, 0, -20), (30, 0, -20), 9.0, "other"), rod((45, 0, 0), (50, 0, 0), 9.0, "third")
    space = Space((*PIPE.things, *others))
    way = way_out(replace(PIPE, contacts=(up,)), space, 2.0)
    assert way.clear
    assert way.stages[0] == Stage((0.0, 0.0, 1.0), 3.0)
    across = Contact("pipe", "third", vector((30, 0, 0)), vector((1, 0, 0)), 3.0)
    stuck = way_out(replace(PIPE, contacts=(up, across)), space, 2.0)
    assert (stuck.clear, stuck.blocks) == (False, "third")
    assert way_out(replace(PIPE, contacts=(up, across)), space.without("third"), 2.0).clear


def test_off_studs_it_goes_square_first_and_slides_only_where_there_are_none() -> None:
    """A pipe on a face, free to go up; then under a lid, where it can but slide."""
    face = keepout("face", (0, 0, -20), (2000, 2000, 20))
    contact = Contact("pipe", "keepout.face", vector((0, 0, -10)), vector((0, 0, 1)), 25.0, studs=True)
    lying = replace(PIPE, contacts=(contact,))
    way = way_out(lying, Space((*lying.things, face)), 2.0)
    assert (way.clear, way.stages[0], way.note) == (True, Stage((0.0, 0.0, 1.0), 25.0), "")
    lid = keepout("lid", (0, 0, 40), (2000, 2000, 20))
    slid = way_out(lying, Space((*lying.things, face, lid)), 2.0)
    assert (slid.clear, slid.note) == (True, "with its bolts out; studs would hold it")


@pytest.fixture(scope="module")
def manifold(demo: Path) -> Manifold:
    return rootgap.load(demo)


def ways(manifold: Manifold, *, bare: bool = False, **keepouts: Body) -> tuple[Way, ...]:
    layout = replace(manifold.layout, keepouts={name: Keepout(each, 10.0) for name, each in keepouts.items()})
    layout = replace(layout, envelopes=()) if bare else layout
    return order_out(layout, manifold.joints, Space(obstacles(layout, manifold.joints)))


OUT = [
    "turbo.main-filter",
    "turbo.main-air",
    "turbo.main-shield.1",
    "turbo.main-shield.2",
    "turbo.main",
    "the manifold",
]


def test_the_filter_comes_off_first_then_its_pipe_the_turbo_and_the_manifold(manifold: Manifold) -> None:
    found = ways(manifold)
    assert [(way.unit, way.clear, way.takes) for way in found] == [(name, True, ()) for name in OUT]
    assert [way.note for way in found] == ["then its clamp", "then its clamp", "", "", "", ""]


def test_a_shield_parts_in_the_plane_of_shaft_and_foot(manifold: Manifold) -> None:
    """Both halves go square off it by its radius, 64 + 8 + 1; with a wall 40 off one of them, it stays on the turbo."""
    turbo = manifold.layout.envelopes[0]
    found = units(manifold.layout, manifold.joints, Space(obstacles(manifold.layout, manifold.joints)))
    parts = [each for each in found if each.name in ("turbo.main", "turbo.main-shield.1", "turbo.main-shield.2")]
    space = Space(tuple(thing for each in parts for thing in each.things))
    ways_of = {each.name: way_out(each, space, 2.0) for each in parts[1:]}
    first, second = (np.array(ways_of[f"turbo.main-shield.{number}"].stages[0].direction) for number in (1, 2))
    assert np.allclose(first, -second)
    assert abs(abs(first @ np.cross(turbo.shaft.axis, turbo.plate.start.axis)) - 1.0) < 1e-9
    assert {way.stages[0].length for way in ways_of.values()} == {73.0}
    wall = Obstacle("keepout.wall", HalfSpace(vector(turbo.shaft.origin + (73.0 + 40.0) * first), vector(-first)))
    half = next(each for each in parts if each.name == "turbo.main-shield.1")
    fared: dict[str, Way] = {}
    space = Space((*space.without("turbo.main-shield.2").things, wall))
    gone = first_out((half, parts[0]), space, manifold.layout, fared)
    assert [each.name for each in gone] == ["turbo.main", "turbo.main-shield.1"]
    assert (fared[half.name].blocks, fared["turbo.main"].takes) == ("keepout.wall", (half.name,))


def test_the_turbo_is_swept_without_its_filter(manifold: Manifold) -> None:
    """A floor under the filter keeps it from going down, and a roof over it from going up: the turbo goes down."""
    hull = next(each for each in manifold.layout.envelopes[0].hulls if each.id == "turbo.main-filter")
    low, high = sorted((float(hull.body.start[2]), float(hull.body.end[2])))
    middle = hull.body.start + np.array((0, 0, 0.5 * (high + low) - hull.body.start[2]))
    floor, roof = (
        Block.upright(middle + side * np.array((0, hull.body.radius + 30, 0)), (200, 20, high - low - 20))
        for side in (-1, 1)
    )
    found = {way.unit: way for way in ways(manifold, floor=floor, roof=roof)}
    assert list(found) == OUT
    down = found["turbo.main"]
    assert (down.clear, down.takes, down.stages[0].direction) == (True, (), (0.0, -1.0, 0.0))


def test_a_filter_that_cannot_come_off_goes_out_with_what_it_is_on() -> None:
    """In a sleeve that is open at its end only, which a plate closes: but down all of it goes."""
    turbo = Unit("turbo.t", (rod((0, 0, 0), (0, 0, 40), 20.0, "t"),), (), ("turbo.t-filter",))
    contact = Contact("f", "t", vector((0, 0, 40)), vector((0, 0, 1)), 30.0)
    filter_ = Unit("turbo.t-filter", (rod((0, 0, 40), (0, 0, 100), 30.0, "f"),), (contact,), (), "then its clamp")
    stop = keepout("stop", (0, 0, 115), (300, 300, 20))
    space = Space((*turbo.things, *filter_.things, stop))
    layout = Layout("case", "", {}, {}, {}, {})
    found: dict[str, Way] = {}
    gone = first_out((filter_, turbo), space, layout, found)
    assert [each.name for each in gone] == ["turbo.t", "turbo.t-filter"]
    assert (found["turbo.t-filter"].clear, found["turbo.t-filter"].blocks) == (False, "keepout.stop")
    assert (found["turbo.t"].clear, found["turbo.t"].takes) == (True, ("turbo.t-filter",))
    assert install_rows((found["turbo.t"],))[1][1] == "turbo.t with turbo.t-filter on it"
    # With the plate gone it comes off by itself.
    assert first_out((filter_, turbo), space.without("keepout.stop"), layout, {}) == (filter_,)


def test_a_wall_before_the_ports_keeps_it_in_until_it_is_taken_off(manifold: Manifold) -> None:
    """A box all round; with its front off, everything comes out by the front."""
    around = {
        "behind": Block.upright((180, 40, -120), (1200, 1200, 40)),
        "before": Block.upright((180, 40, 400), (1200, 1200, 40)),
        "above": Block.upright((180, 300, 200), (1200, 40, 600)),
        "below": Block.upright((180, -320, 200), (1200, 40, 600)),
        "left": Block.upright((-220, 0, 200), (40, 1200, 600)),
        "right": Block.upright((640, 0, 200), (40, 1200, 600)),
    }
    stuck = ways(manifold, bare=True, **around)
    assert not any(way.clear for way in stuck if way.unit == "the manifold")
    finding = next(each for each in install_findings(stuck) if each.subject == "the manifold")
    assert finding.verdict == "fail"
    del around["before"]
    out = ways(manifold, **around)
    assert [(way.unit, way.clear) for way in out] == [(name, True) for name in OUT]
    assert all(way.stages[-1].direction[2] > 0.5 for way in out)


def test_the_kernel_finds_no_touch_on_the_demos_way(manifold: Manifold) -> None:
    """Past an alternator beside the log, at eight places of the way."""
    alternator = Block.upright((-100, 30, 160), (60, 60, 120))
    found = {way.unit: way for way in ways(manifold, alternator=alternator)}
    way = found["the manifold"]
    assert way.clear
    other = cq.Workplane().box(60, 60, 120).val().moved(cq.Location(cq.Vector(-100, 30, 160)))
    metal = [body(piece, manifold.joints) for piece in manifold.layout.pieces()]
    at = np.zeros(3)
    for stage in way.stages:
        for share in np.linspace(0.0, 1.0, 8):
            here = cq.Location(cq.Vector(*(at + share * stage.length * np.array(stage.direction))))
            assert min(each.moved(here).distance(other) for each in metal) >= 2.0 - 1e-6
        at = at + stage.length * np.array(stage.direction)


def test_parts_that_a_clamp_joins_go_in_one_by_one() -> None:
    kart = rootgap.load(Path(__file__).parents[3] / "assemblies" / "kart-four-collector.toml")
    space = Space(obstacles(kart.layout, kart.joints))
    found = units(kart.layout, kart.joints, space)
    assert [each.name for each in found] == ["the part with primary.1", "the part with outlet"]
    assert sum(len(each.things) for each in found) == len(space.things)
    assert [(way.unit, way.clear) for way in order_out(kart.layout, kart.joints, space)] == [
        ("the part with outlet", True),
        ("the part with primary.1", True),
    ]
