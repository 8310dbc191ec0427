"""What stands on flanges: where its bodies are, and how near they come, against the kernel."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.checks.clearance import clearances
from rootgap.checks.envelope import envelope_pieces, envelopes_apart, least_to
from rootgap.checks.gap import covered, nearest_of
from rootgap.geometry.distance import Ball, Bend, Block, Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.skins import skin_of
from rootgap.joints import cut_ends
from rootgap.layout import Envelope, Hull, Keepout
from rootgap.layout.envelope import place_envelopes
from rootgap.manifold import Manifold
from rootgap.solids.whole import body, envelope_parts
from rootgap.spec import StandingWastegate, WastegatePart, load_part
from rootgap.spec.mount import HeatSpec


@pytest.fixture(scope="module")
def manifold(demo: Path) -> Manifold:
    return rootgap.load(demo)


@pytest.fixture(scope="module")
def turbo(manifold: Manifold) -> Envelope:
    return manifold.layout.envelopes[0]


def hull(envelope: Envelope, word: str) -> Hull:
    return next(each for each in envelope.hulls if each.id.endswith(f"-{word}"))


def again(manifold: Manifold, **changes: object) -> Envelope:
    """The same turbo, its use in the file changed."""
    spec = manifold.assembly.turbo["main"].model_copy(update=changes)
    return place_envelopes({"main": spec}, {}, manifold.layout.plates, ())[0]


def test_it_stands_on_the_flange_with_its_shaft_where_the_part_says(manifold: Manifold, turbo: Envelope) -> None:
    face = manifold.layout.plates["turbine"].end
    assert np.allclose(hull(turbo, "foot").body.start, face.origin)
    assert turbo.shaft is not None
    assert np.isclose((turbo.shaft.origin - face.origin) @ face.axis, 84.0)
    assert abs(turbo.shaft.axis @ face.axis) < 1e-12
    # This flange faces down, so that the drain at clock 0, along the gas, points down.
    assert turbo.drain is not None
    assert np.allclose(turbo.drain.axis, (0, -1, 0))


def test_a_turn_of_the_flange_turns_it_all(manifold: Manifold, turbo: Envelope) -> None:
    other = again(manifold, turn=0.0)
    assert turbo.shaft is not None
    assert other.shaft is not None
    assert np.allclose(other.shaft.axis, -turbo.shaft.axis)


def test_a_clocked_housing_turns_about_the_shaft_alone(manifold: Manifold, turbo: Envelope) -> None:
    """Ninety degrees of the compressor's clock, from its definition; the turbine stays."""
    other = again(manifold, compressor=180.0)
    assert turbo.shaft is not None
    before, after = (hull(each, "blow").body for each in (turbo, other))
    ahead, then = (unit_of(rod) for rod in (before, after))
    assert np.allclose(np.cross(ahead, then), turbo.shaft.axis)
    assert np.allclose(hull(other, "turbine").body.start, hull(turbo, "turbine").body.start)


def unit_of(rod: Rod | Bend) -> np.ndarray:
    assert isinstance(rod, Rod)
    return (rod.end - rod.start) / np.linalg.norm(rod.end - rod.start)


def test_the_outlet_lies_its_offset_beside_the_shaft(turbo: Envelope) -> None:
    blow = hull(turbo, "blow").body
    assert turbo.shaft is not None
    lag = blow.start - turbo.shaft.origin
    across = lag - (lag @ turbo.shaft.axis) * turbo.shaft.axis
    assert np.isclose(np.linalg.norm(across), 50.0)
    assert abs(across @ unit_of(blow)) < 1e-9


def test_a_filter_behind_an_elbow_points_where_the_elbow_turns(manifold: Manifold) -> None:
    room = manifold.assembly.turbo["main"].filter
    assert room is not None
    elbow = {"angle": 90.0, "clock": 90.0, "radius": 80.0}
    other = again(manifold, filter=type(room).model_validate({"diameter": 125.0, "length": 160.0, "elbow": elbow}))
    assert other.shaft is not None
    assert np.allclose(unit_of(hull(other, "filter").body), other.shaft.side)


@pytest.mark.parametrize(
    "shape",
    [
        Rod(vector((1, 2, 3)), vector((4, 9, -2)), 3.5),
        Bend(Frame.looking((5, 1, 2), (1, 1, 0)), 40.0, 75.0, 30.0, 9.0),
    ],
)
def test_a_skin_lies_on_its_body(shape: Rod | Bend) -> None:
    """A bend's figure inside is that to its side alone, so that its end faces count as inside."""
    u, v = np.random.default_rng(4).random((2, 500))
    off = shape.distance(skin_of(shape)(u, v))
    assert off.max() < 1e-9
    assert (off > -1e-9).mean() > (0.99 if isinstance(shape, Rod) else 0.5)


def test_distances_to_the_pipes_are_the_kernels(manifold: Manifold, turbo: Envelope) -> None:
    """The least over all pieces: a pipe's end face belongs to what it is welded to."""
    cuts = cut_ends(manifold.joints)
    solids = {part.name: part.body for part in envelope_parts(manifold.layout)}
    pieces = [piece for piece in manifold.layout.pieces() if piece.id.startswith(("log", "outlet", "flange.turbine"))]
    covers = {piece.id: covered(piece, cuts) for piece in pieces}
    metal = [body(piece, manifold.joints) for piece in pieces]
    for each in turbo.hulls:
        if each.bore is None and each is not turbo.foot:
            exact = min(other.distance(solids[each.id]) for other in metal)
            assert abs(nearest_of(covers, each.body)[1] - exact) < 0.05, each.id


def test_the_drawn_hulls_are_the_judged_ones(manifold: Manifold) -> None:
    """The kernel's bodies and the signed distances tell the same points from each other."""
    solids = {part.name: part.body for part in envelope_parts(manifold.layout)}
    for each in manifold.layout.envelopes[0].hulls:
        box = solids[each.id].BoundingBox()
        low, high = np.array((box.xmin, box.ymin, box.zmin)), np.array((box.xmax, box.ymax, box.zmax))
        assert np.abs(each.body.distance(np.array([solids[each.id].Center().toTuple()]))).max() < high.max() - low.min()
        skin = each.skin(*np.random.default_rng(1).random((2, 4000)))
        assert np.allclose(skin.min(axis=0), low, atol=0.5)
        assert np.allclose(skin.max(axis=0), high, atol=0.5)


def test_a_keepout_beside_within_and_around_a_hull(manifold: Manifold, turbo: Envelope) -> None:
    compressor = hull(turbo, "compressor")
    middle = 0.5 * (compressor.body.start + compressor.body.end)
    assert least_to(compressor, Ball(vector(middle), 5.0)) < 0.0
    assert least_to(compressor, Block.upright(middle, (500, 500, 500))) < 0.0
    # A wall 12 mm off the round side, square to it.
    wall = Block.upright(middle + np.array((0.0, -73.0 - 12.0 - 5.0, 0.0)), (400, 10, 400))
    assert abs(least_to(compressor, wall) - 12.0) < 0.02


def test_keepouts_are_judged_by_what_is_hot_and_what_is_not(manifold: Manifold, turbo: Envelope) -> None:
    layout = manifold.layout
    for word, room, limit, check in (
        ("turbine", 30.0, 25.0, "clearance"),
        ("filter", 6.0, 10.0, "envelope beside keep-outs"),
    ):
        middle = 0.5 * (hull(turbo, word).body.start + hull(turbo, word).body.end)
        radius = max(each.body.radius for each in turbo.hulls if each.id.endswith((word, "shield")[: 1 + (limit > 20)]))
        ball = Ball(vector(middle + np.array((0.0, -radius - room - 8.0, 0.0))), 8.0)
        wall, still = Keepout(ball, 25.0, side="engine"), HeatSpec(pipe=20, flange=20)
        beside = replace(layout, keepouts={"wall": wall}, heat=still)
        found = next(each for each in clearances(beside, manifold.joints) if each.check == check)
        assert (found.limit, found.verdict) == (limit, "pass" if room >= limit else "fail")
        assert abs(found.value - room) < 0.05


def test_a_turbo_turned_into_the_log_is_refused(manifold: Manifold) -> None:
    """With the part's shaft lifted into the pipe, the same questions fail."""
    spec = manifold.assembly.turbo["main"]
    shaft = spec.part.shaft.model_copy(update={"at": (0.0, 0.0, 30.0)})
    near = again(manifold, part=spec.part.model_copy(update={"shaft": shaft}))
    layout = replace(manifold.layout, envelopes=(near,))
    assert any(each.verdict == "fail" for each in envelope_pieces(layout, manifold.joints))


def test_a_gate_stands_along_the_gas_and_its_dump_square_to_it(manifold: Manifold) -> None:
    """38 mm gate: 116 long over its flange, its dump's axis 26 over the face, turned by 90 degrees."""
    part = load_part(Path(__file__).parents[2] / "parts" / "wastegate-38.toml")
    assert isinstance(part, WastegatePart)
    use = StandingWastegate.model_construct(use="", on="turbine", turn=90.0, cold=10.0, part=part)
    (gate,) = place_envelopes({}, {"main": use}, manifold.layout.plates, ())
    face = manifold.layout.plates["turbine"].end
    assert np.allclose(gate.foot.body.end - gate.foot.body.start, 116.0 * face.axis)
    dump = hull(gate, "dump").body
    assert np.isclose((dump.start - face.origin) @ face.axis, 26.0)
    assert np.allclose(unit_of(dump), face.side)
    assert all(each.hot for each in gate.hulls)


def test_a_shield_stands_off_its_housing_by_its_gap(manifold: Manifold, turbo: Envelope) -> None:
    shield, housing = hull(turbo, "shield"), hull(turbo, "turbine")
    assert shield.bore == housing.body.radius + 8.0
    assert shield.body.radius == shield.bore + 1.0
    wide = again(manifold, shield=manifold.assembly.turbo["main"].shield.model_copy(update={"gap": 30.0}))
    layout = replace(manifold.layout, envelopes=(wide,))
    finding = next(envelope_pieces(layout, manifold.joints))
    assert (finding.verdict, "shield" in finding.subject) == ("fail", True)


def test_two_turbos_in_one_place_meet(manifold: Manifold, turbo: Envelope) -> None:
    one = replace(turbo, hulls=turbo.hulls[:3])
    layout = replace(manifold.layout, envelopes=(one, replace(one, id="turbo.second")))
    assert next(envelopes_apart(layout, ())).verdict == "fail"
