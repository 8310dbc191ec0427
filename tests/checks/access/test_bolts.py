"""Tools on hexagons: beside walls at known distances, and against the kernel's bodies of a whole manifold."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap.checks.access.bolting import Back, Bolt, bolts, hexagons, unsized
from rootgap.checks.access.bolts import (
    BoltAccess,
    bolt_access,
    bolt_findings,
    come_at,
    drawn_out,
    unsized_findings,
)
from rootgap.checks.access.obstacles import Obstacle, Space, obstacles
from rootgap.checks.access.plugs import plug_access, plug_findings, service_access, service_findings
from rootgap.checks.access.told import bolt_rows
from rootgap.checks.access.tools import Nut, column, with_socket, with_spanner
from rootgap.checks.gap import cover_of
from rootgap.geometry.distance import Block, Body, HalfSpace, Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.skins import skin_of
from rootgap.geometry.swinging import Bar
from rootgap.layout import Keepout
from rootgap.manifold import Manifold
from rootgap.solids import bodies
from rootgap.solids.whole import body
from rootgap.spec.access import ServiceSpec
from rootgap.stock import fastener
from rootgap.stock.handtools import hand_tools

M8 = fastener("M8")
AT = Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0))
NUT = Nut("plate", AT, M8.washer.thickness + M8.head.height, M8.washer.thickness, M8.tools, 13.0, 30.0)


def among(*things: Body) -> Space:
    return Space(tuple(Obstacle(f"keepout.{number}", body) for number, body in enumerate(things)))


def wall(away: float) -> HalfSpace:
    return HalfSpace(vector((away, 0, 0)), vector((-1, 0, 0)))


def test_a_ratchet_beside_a_wall_needs_its_heads_radius() -> None:
    half = 0.5 * hand_tools().ratchet_head
    assert not with_socket(NUT, 0.0, among(wall(half - 0.2))).works
    tried = with_socket(NUT, 0.0, among(wall(half + 0.2)))
    assert tried.works
    assert abs(tried.room - 0.2) < 0.02


def test_the_swing_beside_a_wall_is_the_closed_form() -> None:
    """The hand on the handle meets it first: acos((wall - hand) / reach), either way."""
    table = hand_tools()
    held = table.ratchet_reach - table.hand_length
    hand = Bar.of(held, table.ratchet_reach, 0.5 * table.hand)
    away = 120.0
    meets = np.degrees(np.arccos((away - hand.radius) / hand.reach).max())
    tried = with_socket(NUT, 0.0, among(wall(away)))
    assert abs(tried.swing - (360.0 - 2.0 * meets)) < 1.5


def test_a_roof_over_the_bolt_stops_sockets_that_are_taller() -> None:
    """A socket of 30, a ratchet of 32 and the lift off the head; and then the hand round the handle needs its own."""
    table = hand_tools()
    needs = NUT.seat + NUT.socket + table.ratchet_height + NUT.lift
    hand = NUT.seat + NUT.socket + 0.5 * table.ratchet_height + 0.5 * table.hand
    for height, room, works in ((needs - 0.5, -0.5, False), (needs + 0.5, 0.5, False), (hand + 1.5, 10.0, True)):
        roof = HalfSpace(vector((0, 0, height)), vector((0, 0, -1)))
        tried = with_socket(NUT, 0.0, among(roof))
        assert abs(tried.room - room) < 1e-6
        assert tried.works is works
        assert not with_socket(NUT, 75.0, among(roof)).works
    low = HalfSpace(vector((0, 0, 34)), vector((0, 0, -1)))
    assert with_spanner(NUT, "ring spanner", 20.5, 30.0, among(low)).works


def test_a_spanner_in_a_pit_lacks_its_swing() -> None:
    walls = [Block.upright((x, y, 0), (sx, sy, 120)) for x, y, sx, sy in (
        (45, 0, 20, 200), (-45, 0, 20, 200), (0, 45, 200, 20), (0, -45, 200, 20))]
    tried = with_spanner(NUT, "ring spanner", 20.5, 30.0, among(*walls))
    assert not tried.works
    assert "ring spanner: swings 0 of 30 deg beside keepout." in tried.told


def test_a_small_thing_inside_the_socket_is_in_the_way() -> None:
    """It meets no skin of the tool."""
    speck = Block.upright((0, 0, 40), (1, 1, 1))
    assert not with_socket(NUT, 75.0, among(speck)).works


def test_a_tool_that_is_all_inside_a_housing_is_in_the_way() -> None:
    """It meets no skin of the housing."""
    housing = Rod(vector((0, 0, -200)), vector((0, 0, 400)), 300.0)
    space = Space((Obstacle("turbo.big-turbine", housing, cover_of(skin_of(housing)), "turbo.big"),))
    tried = with_socket(NUT, 75.0, space)
    assert not tried.works
    assert "turbo.big-turbine is " in tried.told
    assert space.room(Rod(vector((0, 0, 450)), vector((0, 0, 480)), 10.0))[0] == pytest.approx(50.0, abs=0.02)


@pytest.fixture(scope="module")
def manifold(demo: Path) -> Manifold:
    return rootgap.load(demo)


@pytest.fixture(scope="module")
def space(manifold: Manifold) -> Space:
    return Space(obstacles(manifold.layout, manifold.joints))


@pytest.fixture(scope="module")
def found(manifold: Manifold, space: Space) -> tuple[BoltAccess, ...]:
    return bolt_access(manifold.layout, space)


def test_every_bolt_of_the_demo_can_be_turned_and_drawn(found: tuple[BoltAccess, ...]) -> None:
    assert len(found) == 14
    assert all(each.verdict == "pass" for each in bolt_findings(found))


def test_a_bolt_stands_on_its_flange_and_points_away_from_the_head(manifold: Manifold) -> None:
    standing = {each.id: each for each in bolts(manifold.layout)}
    assert np.allclose(standing["flange.head, bolt 1"].frame.origin, (-34, 20, 12))
    assert np.allclose(standing["flange.head, bolt 1"].frame.axis, (0, 0, 1))
    turbine = manifold.layout.plates["turbine"]
    for each in standing.values():
        if each.on == turbine.id:
            assert np.allclose(each.frame.axis, -turbine.start.axis)
            assert abs((each.frame.origin - turbine.start.origin) @ turbine.start.axis) < 1e-9


def solid(rod: Rod) -> cq.Solid:
    lag = rod.end - rod.start
    return bodies.rod(Frame.looking(rod.start, lag), 0.0, float(np.linalg.norm(lag)), rod.radius)


def _near(rods: Sequence[cq.Solid], others: Iterable[cq.Shape]) -> Iterator[float]:
    """How far apart rods and others are, those left out whose boxes are farther apart than 40."""
    for rod in rods:
        box = rod.BoundingBox().enlarge(40.0)
        for other in others:
            its = other.BoundingBox()
            if all(getattr(box, f"{at}min") <= getattr(its, f"{at}max")
                   and getattr(its, f"{at}min") <= getattr(box, f"{at}max") for at in "xyz"):
                yield rod.distance(other)


def test_the_kernel_finds_the_same_tools_clear(manifold: Manifold, found: tuple[BoltAccess, ...]) -> None:
    """Its own solids of each socket's column against those of all pieces that come near."""
    pieces = [piece for piece in manifold.layout.pieces() if piece.id not in ("flange.head", "flange.turbine")]
    metal = {piece.id: body(piece, manifold.joints) for piece in pieces}
    for access in found[:1] + found[12:13]:
        for each in access.tries:
            if not each.tool.startswith("socket"):
                continue
            extension = float(each.tool.removeprefix("socket").strip(", mextnsio") or 0.0)
            rods = [solid(rod) for rod in column(access.bolt.head, extension)]
            near = min(_near(rods, metal.values()))
            if each.room >= 0.0:
                assert near > 0.0 and (each.room >= 10.0 or abs(near - each.room) < 0.05), (access.bolt.id, each)
            else:
                assert near < 1e-9, (access.bolt.id, each)


@pytest.fixture(scope="module")
def pair() -> Manifold:
    """Two runs bolted together, face to face."""
    return rootgap.load(Path(__file__).parent / "flanges.toml")


def test_flanges_that_lie_on_each_other_share_their_bolts(pair: Manifold) -> None:
    """Heads before the first, nuts behind the second: 16 of plate between them, the pipes on both sides."""
    (one, *_), others = (
        [each for each in bolts(pair.layout) if each.id.startswith(f"flange.{name},")] for name in ("leaves", "comes")
    )
    assert not others
    assert (one.holds, one.back.name if one.back else "") == ("nut on flange.comes", "flange.comes")
    assert np.allclose([one.frame.origin, one.frame.axis], [(0, 40, 108), (0, 0, -1)])
    assert one.nut is not None
    assert np.allclose([one.nut.frame.origin, one.nut.frame.axis], [(0, 40, 124), (0, 0, 1)])
    # Two plates, two washers of 1.6, a nut of 6.8 and two turns of 1.25.
    assert abs(one.length - (16 + 3.2 + 6.8 + 2.5)) < 1e-9
    assert {each.holds for each in bolts(pair.layout)} == {
        "thread or stud in the head", "nut on flange.comes", "nut on a flange like it"}


def test_what_holds_bolts_is_said_beside_the_use_of_a_flange(tmp_path: Path) -> None:
    here = Path(__file__).parent
    text = (here / "flanges.toml").read_text(encoding="utf-8").replace("../../../parts/", "")
    shutil.copy(here.parents[2] / "parts" / "outlet-three-bolt.toml", tmp_path)
    text = text.replace("[flange.last]", '[flange.last]\nheld = "thread"')
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    layout = rootgap.load(tmp_path / "case.toml").layout
    holds = {each.holds for each in bolts(layout) if each.on == "flange.last"}
    assert holds == {"thread or stud in what it is bolted to"}
    assert layout.plates["comes"].part.held is None


def test_what_keeps_tools_off_a_nut_is_told_though_its_head_is_free(pair: Manifold) -> None:
    bolt = next(each for each in bolts(pair.layout) if each.id == "flange.leaves, bolt 1")
    pipes = [thing for thing in obstacles(pair.layout, pair.joints) if thing.name in ("one-a", "two-a")]
    # 7 behind the flange: no spanner end of 9 goes on, nor does the nut itself.
    rail = Obstacle("keepout.rail", Block.upright((0, 60, 124 + 7 + 10), (60, 40, 20)))
    access = come_at(bolt, pair.layout, Space((*pipes, rail)))
    finding = next(bolt_findings((access,)))
    assert (access.best.works, access.verdict, access.stopper) == (True, "fail", "keepout.rail")
    assert "no tool holds its nut" in finding.advice and "keepout.rail" in finding.advice


def test_a_head_in_a_slot_is_held_while_its_nut_is_turned(pair: Manifold) -> None:
    """Walls 17 off the head on both sides leave a ring spanner, fingers 24 thick, a turn of 2 asin(5 / 157) or so."""
    back = Back("back", Frame.looking((0, 0, -20), (0, 0, -1), (1, 0, 0)))
    bolt = Bolt("bolt", "plate", AT, M8, 30.0, 0.0, "nut on back", back)
    walls = among(*(Block.upright((0, side * 27, 200), (600, 20, 400)) for side in (1, -1)))
    access = come_at(bolt, pair.layout, walls)
    assert (access.works, access.nut, access.turned, access.still) == (True, True, bolt.nut, bolt.head)
    assert access.holder is not None
    assert (access.holder.tool, access.holder.swing < 30.0) == ("ring spanner", True)
    # Without the nut its head cannot be turned at all.
    assert not come_at(replace(bolt, back=None), pair.layout, walls).works


@pytest.mark.parametrize(("pitch", "works"), [(22.0, True), (16.5, False)])
def test_a_neighbour_is_beside_the_socket(pitch: float, works: bool) -> None:
    """The room is the pitch less half the socket, 18.5, and half the washer, 16; heads are 15 over their corners."""
    other = Bolt("other", "plate", replace(AT, origin=vector((pitch, 0, 0))), M8, 20.0, 12.0, "thread")
    tried = with_socket(NUT, 75.0, Space(hexagons((other,))))
    assert tried.works is works
    assert tried.room < 0.0 or abs(tried.room - (pitch - 9.25 - 8.0)) < 0.02


def test_a_turbos_bolts_are_in_threads_unless_the_file_says_nuts(manifold: Manifold) -> None:
    """Then they go through the housing's flange, taken to be as thick as this one; a canister there is in the way."""
    turbine = manifold.layout.plates["turbine"]
    held = {name: replace(turbine, part=turbine.part.model_copy(update={"held": name})) for name in ("thread", "nut")}
    found = {
        name: next(
            bolt
            for bolt in bolts(replace(manifold.layout, plates={**manifold.layout.plates, "turbine": plate}))
            if bolt.on == turbine.id
        )
        for name, plate in held.items()
    }
    assert (found["thread"].holds, found["thread"].nut) == ("thread or stud in turbo.main", None)
    assert found["nut"].holds == "nut on the flange of turbo.main"
    behind = found["nut"].nut
    assert behind is not None
    assert abs((behind.frame.origin - turbine.end.origin) @ turbine.end.axis - turbine.thickness) < 1e-9
    # A spanner's end of 9 over a washer of 2, and its lift off washer, nut and thread, 2, 8.4 and 3: 24.4, and some.
    over = behind.frame.advanced(28.0).origin
    canister = Obstacle("turbo.main-canister", Rod(over, over + 80.0 * behind.frame.axis, 29.0), None, "turbo.main")
    access = come_at(found["nut"], manifold.layout, Space((canister,)))
    assert (access.best.works, access.works, access.stopper) == (True, True, "")
    near = replace(canister, body=Rod(behind.frame.advanced(8.0).origin, over, 29.0))
    access = come_at(found["nut"], manifold.layout, Space((near,)))
    assert (access.best.works, access.works, access.stopper) == (True, False, "turbo.main-canister")


def test_a_bolt_of_no_known_size_has_a_row_too(pair: Manifold) -> None:
    plate = pair.layout.plates["head"]
    sizes = {"": "no thread is given", "M7": "no table has M7"}
    for thread, why in sizes.items():
        sets = tuple(group.model_copy(update={"thread": thread}) for group in plate.part.bolts)
        other = replace(plate, part=plate.part.model_copy(update={"bolts": sets}))
        layout = replace(pair.layout, plates={**pair.layout.plates, "head": other})
        found = tuple(unsized(layout))
        assert [(each.id, each.why) for each in found] == [(f"flange.head, bolt {k}", why) for k in (1, 2, 3)]
        assert bolt_rows((), found)[1][:3] == ("flange.head, bolt 1", "warn", f"not tried: {why}")
        assert {each.verdict for each in unsized_findings(found)} == {"warn"}


def test_a_keepout_over_a_bolt_is_what_is_told(manifold: Manifold, space: Space) -> None:
    bolt = next(bolts(manifold.layout))
    roof = Block.upright(bolt.frame.origin + np.array((0, 0, 40)), (200, 200, 40))
    blocked = Space((*space.things, Obstacle("keepout.rail", roof)))
    access = come_at(bolt, manifold.layout, blocked)
    finding = next(bolt_findings((access,)))
    assert finding.verdict == "fail"
    assert "keepout.rail" in finding.advice


def test_a_bolt_that_hits_a_wall_is_drawn_out_so_far(manifold: Manifold) -> None:
    bolt = next(bolts(manifold.layout))
    head = bolt.size.washer.thickness + bolt.size.head.height
    for gap in (5.0, 15.0):
        roof = HalfSpace(bolt.frame.advanced(head + gap).origin, vector(-bolt.frame.axis))
        travel, blocks = drawn_out(bolt, Space((Obstacle("keepout.roof", roof),)))
        assert gap - 0.2 < travel <= gap
        assert blocks == "keepout.roof"
    assert drawn_out(bolt, Space(())) == (bolt.length, "")


@pytest.mark.parametrize("name", ["turbo.main", "turbo.main-filter"])
def test_a_turbo_in_front_of_a_bolt_is_told_to_go_on_later(manifold: Manifold, name: str) -> None:
    """A hull of the turbo, or its filter, over a head bolt: with that off it can be turned."""
    bolt = next(bolts(manifold.layout))
    over = Block.upright(bolt.frame.origin + np.array((0, 0, 60)), (300, 300, 60))
    hull = Obstacle("turbo.main-compressor", over, None, name)
    access = come_at(bolt, manifold.layout, Space((hull,)))
    assert access.before == name
    finding = next(bolt_findings((access,)))
    assert (finding.verdict, f"before {name} is on" in finding.advice) == ("warn", True)


def test_plugs_are_reached_and_a_pipe_over_one_is_told(manifold: Manifold, space: Space) -> None:
    found = plug_access(manifold.layout, space)
    assert len(found) == 4
    assert all(each.verdict == "pass" for each in plug_findings(found))
    plug = manifold.layout.access.plugs[0]
    over = plug.frame.advanced(60).origin
    bar = Rod(over - 200 * plug.frame.ref, over + 200 * plug.frame.ref, 20)
    other = plug_access(manifold.layout, Space((*space.things, Obstacle("keepout.bar", bar))))[0]
    finding = next(plug_findings((other,)))
    assert finding.verdict == "fail"
    assert "keepout.bar" in finding.advice


def test_an_oil_filter_comes_off_as_far_as_there_is_room(manifold: Manifold, space: Space) -> None:
    """Over the log, going down: it stops at the log's side."""
    log = next(piece for piece in manifold.layout.members.values() if piece.id == "log-a")
    middle = log.start.origin + 170.0 * log.start.axis
    foot = middle + np.array((0.0, log.stock.r_out + 30.0, 0.0))
    can = Rod(vector(foot), vector(foot + (0, 80, 0)), 10.0)
    keepouts = {"oil-filter": Keepout(can, 10.0)}
    for along, free in (((0.0, -1.0, 0.0), 30.0), ((0.0, 0.0, 1.0), 60.0)):
        service = {"oil-filter": ServiceSpec(keepout="oil-filter", along=along, travel=60.0)}
        layout = replace(
            manifold.layout, keepouts=keepouts, access=replace(manifold.layout.access, services=service)
        )
        found = service_access(layout, space)
        assert free - 1.5 < found[0].travel <= free
        verdict = next(service_findings(found)).verdict
        assert verdict == ("pass" if free == 60.0 else "fail")
