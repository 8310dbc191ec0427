"""Least distances from pieces to keep-outs, held against the kernel's own."""

from __future__ import annotations

import re
from dataclasses import replace

import cadquery as cq
import numpy as np
import pytest

from rootgap.checks.clearance import Space, clearances
from rootgap.checks.finding import Finding
from rootgap.checks.gap import covered
from rootgap.checks.stack import chains
from rootgap.geometry.distance import Ball, Block, HalfSpace, Rod
from rootgap.geometry.frames import vector
from rootgap.layout import Keepout
from rootgap.solids.whole import parts


@pytest.fixture(scope="module")
def bodies(manifold) -> dict[str, cq.Solid]:
    return {part.name: part.body for part in parts(manifold.layout, manifold.joints)}


def rod(start, end, radius) -> tuple[Rod, cq.Solid]:
    along = np.subtract(end, start)
    solid = cq.Solid.makeCylinder(radius, float(np.linalg.norm(along)), cq.Vector(*start), cq.Vector(*along))
    return Rod(vector(start), vector(end), radius), solid


def ball(center, radius) -> tuple[Ball, cq.Solid]:
    return Ball(vector(center), radius), cq.Solid.makeSphere(radius, cq.Vector(*center), angleDegrees1=-90)


def block(center, size) -> tuple[Block, cq.Solid]:
    corner = cq.Vector(*np.subtract(center, np.divide(size, 2)))
    return Block.upright(center, size), cq.Solid.makeBox(*size, pnt=corner)


def cases():
    rng = np.random.default_rng(7)
    middle = np.array([160.0, 60.0, 90.0])
    for _ in range(4):
        away = rng.normal(size=3)
        away /= np.linalg.norm(away)
        place = middle + away * (250, 200, 200)
        yield rod(place, place + rng.normal(size=3) * 60, rng.uniform(10, 60))
        yield ball(place, rng.uniform(10, 60))
        yield block(place, rng.uniform(20, 120, size=3))


@pytest.mark.parametrize(("body", "solid"), cases())
def test_the_nearest_piece_and_its_distance_are_the_kernels(manifold, bodies, body, solid):
    layout = replace(manifold.layout, keepouts={"thing": Keepout(body, 10.0)})
    finding = next(iter(clearances(layout, manifold.joints)))
    kernel = {name: solid.distance(part) for name, part in bodies.items()}
    nearest = min(kernel.values())
    assert finding.check == "clearance"
    assert finding.value == pytest.approx(nearest, abs=0.05) or (nearest == 0 and finding.value <= 0)
    if finding.value > 0:
        assert kernel[finding.subject.split()[-1]] == pytest.approx(min(kernel.values()), abs=0.1)
    assert finding.verdict == ("pass" if finding.value >= 10.0 else "fail")


def found(layout, joints, **keepout: Keepout) -> dict[str, Finding]:
    """What is found of one keep-out, by check."""
    return {finding.check: finding for finding in clearances(replace(layout, keepouts=keepout), joints)}


#: A wall beside the demo's closed end of the log, 30 mm off.
def beside_the_log(manifold, **more) -> Keepout:
    cap = manifold.layout.runs["log"].first_cap
    low = float(covered(cap, {}).middles[:, 0].min())
    return Keepout(HalfSpace(vector((low - 30.0, 0, 0)), vector((1.0, 0, 0))), 10.0, **more)


def test_growth_is_the_pieces_own_from_the_heads_datum(manifold):
    """The cap's far end, x mm from the datum of the flange, comes x alpha dT nearer: by hand."""
    layout, wall = manifold.layout, beside_the_log(manifold, side="engine")
    findings = found(layout, manifold.joints, wall=wall)
    datum = layout.plates["head"].start.origin[0]
    reach = datum - (wall.body.point[0] + 30.0)
    grown = reach * layout.runs["log"].first_cap.stock.material.growth(20.0, 600.0)
    assert findings["clearance"].value == pytest.approx(30.0, abs=0.05)
    assert findings["hot clearance"].value == pytest.approx(30.0 - grown, abs=0.05)
    assert 0.3 < grown < 3.0


def test_the_chassis_is_met_by_the_engines_roll_and_the_engine_is_not(manifold):
    """A hood over the log: rolling about an axis along x, the far side of the log rises by angle times its z. The
    highest of a skin's cells is 0.2 mm below its top."""
    layout = manifold.layout
    top = max(float(cover.middles[:, 1].max()) for cover in Space(layout, manifold.joints).cold.values())
    hood = Keepout(HalfSpace(vector((0, top + 40.0, 0)), vector((0, -1.0, 0))), 5.0)
    still = replace(layout, heat=layout.heat.model_copy(update={"pipe": 20.0, "flange": 20.0}))
    by_side = {
        side: found(still, manifold.joints, hood=replace(hood, side=side))["hot clearance"].value
        for side in ("engine", "chassis")
    }
    motion = layout.motion
    skins = np.concatenate([cover.middles for cover in Space(layout, manifold.joints).cold.values()]) - motion.at
    risen = [
        (np.cos(angle) * skins[:, 1] - np.sin(angle) * skins[:, 2]).max() + motion.at[1]
        for angle in np.linspace(-motion.angle, motion.angle, 33)
    ]
    assert by_side["engine"] == pytest.approx(40.0, abs=0.3)
    assert by_side["chassis"] == pytest.approx(top + 40.0 - max(risen), abs=0.3)
    assert max(risen) - top > 1.0
    shifted = replace(still, motion=replace(motion, shift=4.0))
    moved = found(shifted, manifold.joints, hood=hood)["hot clearance"].value
    assert moved == pytest.approx(by_side["chassis"] - 4.0, abs=0.01)


def test_what_lies_wholly_inside_a_pipe_is_met(manifold):
    """A line that ends in the log's bore touches no skin, and is in the way."""
    log = manifold.layout.members["log-a"]
    plug = Keepout(Ball(log.start.advanced(0.5 * log.length).origin, 8.0), 5.0, side="engine")
    findings = found(manifold.layout, manifold.joints, plug=plug)
    assert findings["clearance"].verdict == findings["hot clearance"].verdict == "fail"
    assert findings["clearance"].value < 0.0
    assert findings["clearance"].subject == "keepout.plug to log-a"


def test_what_lies_wholly_inside_a_cap_is_met(manifold):
    cap = next(piece for piece in manifold.layout.pieces() if piece.id == "log-cap")
    plug = Keepout(Ball(cap.start.advanced(0.7 * cap.length).origin, 4.0), 5.0, side="engine")
    findings = found(manifold.layout, manifold.joints, plug=plug)
    assert findings["clearance"].verdict == "fail"
    assert findings["clearance"].subject == "keepout.plug to log-cap"


def test_what_grows_away_counts_where_it_was_cold(manifold):
    """Beside two primaries on the engine: the one that is nearest hot is not the one that is nearest cold."""
    ball = Keepout(Ball(vector((270.1, 10.9, 108.3)), 8.0), 10.0, side="engine")
    space = Space(replace(manifold.layout, keepouts={"ball": ball}), manifold.joints)
    rows = [space.beside("ball", mark) for mark in ("primary.3-c", "primary.4-b")]
    assert rows[1].worst is rows[1].cold
    assert space.nearest("ball", space.cold).margin == pytest.approx(min(row.margin for row in rows), abs=0.02)


def test_room_for_a_hand_is_asked_for_cold_alone(manifold):
    findings = found(manifold.layout, manifold.joints, wall=beside_the_log(manifold, reason="service"))
    assert set(findings) == {"clearance", "envelope beside keep-outs", "clearance margin"}


def test_a_fuel_line_that_a_file_lets_too_near_is_warned_of(manifold):
    wall = beside_the_log(manifold, reason="fuel_or_brake", side="engine")
    findings = found(manifold.layout, manifold.joints, wall=wall)
    assert (findings["clearance"].verdict, findings["clearance to pass"].verdict) == ("pass", "warn")
    assert findings["clearance to pass"].limit == 38.0
    shielded = found(manifold.layout, manifold.joints, wall=replace(wall, shielded=True))
    assert "clearance to pass" not in shielded


def test_the_advice_mends_it(manifold):
    """The figure that the advice names is tried: moved by so much, the piece keeps its clearance."""
    wall = replace(beside_the_log(manifold, side="engine"), clearance=42.0)
    finding = found(manifold.layout, manifold.joints, wall=wall)["hot clearance"]
    assert finding.verdict == "fail"
    by = float(re.search(r"move run.log start at by [+]([0-9.]+) in x", finding.advice)[1])
    moved = replace(wall, body=HalfSpace(vector(wall.body.point - (by, 0, 0)), wall.body.normal))
    assert found(manifold.layout, manifold.joints, wall=moved)["hot clearance"].verdict == "pass"


@pytest.mark.parametrize("wide", [30.0, 300.0])
def test_the_advice_gets_it_out_of_a_body_that_it_goes_through(manifold, wide):
    """A slab across the log, deeper than any place of its skin tells: moved as advised, the keep-out is clear."""
    middle = manifold.layout.members["log-a"].start.origin + np.array((200.0, 0.0, 0.0))
    slab = Keepout(Block.upright(middle, (60.0, wide, 500.0)), 10.0, side="engine")
    finding = found(manifold.layout, manifold.joints, slab=slab)["hot clearance"]
    by, word = re.search(r"move keepout.slab ([0-9.]+) mm in ([+-][xyz])", finding.advice).groups()
    step = float(by) * np.eye(3)["xyz".index(word[1])] * (1 if word[0] == "+" else -1)
    moved = replace(slab, body=Block.upright(middle + step, (60.0, wide, 500.0)))
    space = Space(replace(manifold.layout, keepouts={"slab": moved}), manifold.joints)
    mark = finding.subject.rpartition(" ")[2]
    assert 10.0 - 1e-6 <= space.beside("slab", mark).hot.distance < 10.3


def test_what_is_cool_is_met_by_the_engines_roll_and_moved_with_its_flange(manifold):
    """A floor under the air filter: it sinks by the roll's angle times its way from the axis, in closed form, and by
    the growth from the head to its flange."""
    layout = manifold.layout
    space = Space(layout, manifold.joints)
    skin = space.cold["turbo.main-filter"].skin(*np.random.default_rng(3).random((2, 20000)))
    low = float(skin[:, 1].min())
    floor = Keepout(HalfSpace(vector((0.0, low - 60.0, 0.0)), vector((0.0, 1.0, 0.0))), 200.0)
    layout = replace(layout, keepouts={"floor": floor, "engine-floor": replace(floor, side="engine")})
    space = Space(layout, manifold.joints)
    row, still = (space.beside(name, "turbo.main-filter") for name in layout.keepouts)
    lag, motion = skin - layout.motion.at, layout.motion
    sunk = min(
        (np.cos(angle) * lag[:, 1] - np.sin(angle) * lag[:, 2]).min() + motion.at[1]
        for angle in (-motion.angle, motion.angle)
    )
    flange, head = layout.plates["turbine"], layout.plates["head"]
    # ASME B31.3 Table C-1 and EN 1993-1-2 are held elsewhere: here only that it goes where its flange goes.
    share = space.hot["flange.turbine"].middles[0] - space.cold["flange.turbine"].middles[0]
    share = share / (space.cold["flange.turbine"].middles[0] - head.start.origin)
    grown = float(share[1] * (flange.end.origin - head.start.origin)[1])
    assert still.hot.distance == pytest.approx(60.0 + grown, abs=0.05)
    assert row.hot.distance == pytest.approx(60.0 + min(grown + sunk - low, sunk - low), abs=0.2)
    assert sunk - low < -5.0
    assert (row.limit, row.cool) == (10.0, True)
    assert any(each.piece == "turbo.main-filter" for each in space.rows())


def test_tolerances_add_up_along_the_way_from_the_head(manifold):
    chain = chains(manifold.layout, manifold.joints)
    assert chain["flange.head"].stack == 0.0
    # Flange weld, elbow after a butt, another butt, and the cope onto the log.
    assert (chain["log-a"].elbows, chain["log-a"].butts, chain["log-a"].fillets) == (1, 2, 2)
    assert chain["log-a"].stack == pytest.approx(2.0 + 2 * 1.5 + 2 * 0.8)
    assert chain["log-a"].likely == pytest.approx(np.sqrt(4.0 + 2 * 1.5**2 + 2 * 0.8**2))


def test_a_body_far_from_all_is_perhaps_in_another_unit(manifold):
    """A ball of 100 mm at the log, and the same as if its inches were millimetres."""
    middle = manifold.layout.members["log-a"].start.origin + (0.0, 200.0, 100.0)
    told = [
        found(manifold.layout, manifold.joints, ball=Keepout(Ball(scale * middle, scale * 50.0), 5.0))["keep-out near"]
        for scale in (1.0, 25.4)
    ]
    assert [finding.verdict for finding in told] == ["pass", "warn"]
    wall = found(manifold.layout, manifold.joints, wall=beside_the_log(manifold))
    assert "keep-out near" not in wall
