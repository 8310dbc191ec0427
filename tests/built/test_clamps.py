"""A log that its own elbow closes, with a slip joint, V-bands and discs, built whole and read back."""

from __future__ import annotations

import csv
import itertools
import json
import math
from pathlib import Path

import cadquery as cq
import ezdxf
import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope
from rootgap.layout import Elbow, Port
from rootgap.solids.bodies import common_volume, is_sound, volume

FILE = Path(__file__).with_name("clamps.toml")
#: NPS 2-1/2 and 1-1/4, ASME B36.10M / B36.19M: outside radii, mm.
R_LOG, R_PRIMARY = 73.0 / 2.0, 42.2 / 2.0


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


@pytest.fixture(scope="module")
def folder(manifold, tmp_path_factory) -> Path:
    return manifold.build(tmp_path_factory.mktemp("clamps")).folder


@pytest.fixture(scope="module")
def manifest(folder) -> dict:
    return json.loads((folder / "manifest.json").read_text(encoding="utf-8"))


def test_all_bodies_are_sound_and_none_share_metal(bodies):
    for body in bodies.values():
        assert is_sound(body)
    for a, b in itertools.combinations(bodies.values(), 2):
        assert common_volume(a, b) < 0.01


@pytest.mark.parametrize(
    ("one", "other", "apart"),
    [
        ("outlet-a", "outlet-b", 0.0),  # metal on metal
        ("outlet-d", "outlet-e", 1.5),  # a gasket between
        ("outlet-c", "outlet-d", 0.0),  # at the pocket's bottom
        ("log-c", "log-d", 0.25),  # the sleeve's clearance
        ("log-d", "log-e", 0.25),
        ("log-c", "log-e", 4.0),  # the gap
        ("outlet-f", "outlet-end", 0.0),
        ("blind-cap", "blind-a", 0.0),
    ],
)
def test_what_is_joined_is_as_far_apart_as_it_says(bodies, one, other, apart):
    assert bodies[one].distance(bodies[other]) == pytest.approx(apart, abs=1e-5)


def test_every_check_passes_but_that_a_disc_lets_no_gas_out(manifold):
    failed = {(finding.check, finding.verdict) for finding in manifold.checks() if finding.verdict != "pass"}
    assert failed == {("gas gets out", "fail")}


def test_an_elbow_closes_the_logs_end(manifold):
    """The first port's run turns along the head; the others' copes lie on its straights; no cap anywhere on it."""
    log = manifold.layout.runs["log"]
    assert isinstance(log.begins, Port)
    assert isinstance(log.pieces[1], Elbow)
    assert (log.first_cap, log.last_cap) == (None, None)
    copes = [joint for joint in manifold.joints if isinstance(joint, Cope)]
    assert [cope.target.piece for cope in copes] == ["log-c", "log-e"]
    turn = np.radians(np.arange(0.0, 360.0, 2.0))
    for cope in copes:
        local = cope.target.frame.to_local(cope.outside.points(turn, cope.branch.r_in))
        assert np.hypot(local[:, 0], local[:, 1]) == pytest.approx(R_LOG, abs=1e-9)


def test_the_steps_read_back_with_their_volumes(folder, bodies):
    for name in ("outlet-a", "outlet-b", "outlet-d", "log-d", "outlet-end", "blind-cap"):
        (read,) = cq.importers.importStep(str(folder / f"solids/{name}.step")).solids().vals()
        assert volume(read) == pytest.approx(volume(bodies[name]), rel=1e-9)


@pytest.mark.parametrize(
    ("name", "radius"), [("outlet-end", R_LOG), ("blind-cap", R_PRIMARY), ("blind-end", R_PRIMARY)]
)
def test_a_discs_drawing_is_one_circle(folder, name, radius):
    space = ezdxf.readfile(folder / f"flat/{name}.dxf").modelspace()
    (circle,) = space.query("CIRCLE")
    assert circle.dxf.radius == pytest.approx(radius, abs=1e-9)
    assert circle.dxf.layer == "cut.outer"
    assert {entity.dxf.layer for entity in space.query("LWPOLYLINE")} == {"etch"}


def test_the_manifest_tells_the_joints(manifest):
    joints = {joint["id"]: joint for joint in manifest["joints"]}
    clamp = joints["outlet-a+outlet-b"]
    assert (clamp["kind"], clamp["weld_length"], clamp["groove"], clamp["gap"]) == ("clamp", 0.0, 20.0, 0.0)
    assert clamp["pilot"] == {"diameter": 76.0, "height": 2.0, "clearance": 0.15}
    assert clamp["clamp"] == {"outside": 104.0, "width": 20.0}
    slip = joints["log-c+log-e"]
    assert (slip["kind"], slip["gap"], slip["overlap"], slip["clearance"]) == ("slip", 4.0, 75.0, 0.25)
    assert slip["weld_length"] == pytest.approx(math.pi * 73.0)
    assert joints["outlet-c+outlet-d"]["kind"] == "pocket weld"
    assert joints["outlet-f+outlet-end"]["kind"] == "disc weld"
    kinds = {entry["path"]: entry["kind"] for entry in manifest["files"]}
    assert kinds["flat/outlet-end.dxf"] == "disc"
    assert kinds["flat/flange.head.dxf"] == "flange"


def test_a_stranger_turns_each_ring_from_its_profile(manifest, bodies):
    """The manifest's corners, revolved by the shoelace rule about the axis, weigh what the bodies do."""
    rings = [piece for piece in manifest["pieces"] if piece["kind"] == "vband ring"]
    assert [ring["male"] for ring in rings] == [True, False, False, False]
    for ring in rings:
        x, r = np.array(ring["profile"]).T
        cross = x * np.roll(r, -1) - np.roll(x, -1) * r
        # Pappus: 2 pi times the section's first moment about the axis.
        moment = np.sum(cross * (r + np.roll(r, -1))) / 6.0
        assert volume(bodies[ring["id"]]) == pytest.approx(2.0 * math.pi * abs(moment), rel=1e-7)


def test_the_cut_list_weighs_what_the_bodies_do(folder, bodies):
    text = (folder / "cutlist.csv").read_text(encoding="utf-8")
    rows = {row["mark"]: row for row in csv.DictReader(text.splitlines())}
    assert set(rows) == set(bodies)
    for name in ("outlet-a", "outlet-d", "log-d", "outlet-end", "blind-cap"):
        # ASME B36.10M: 7.85 kg/dm3 of carbon steel; B36.19M: austenitic is 1.6 to 2 percent heavier. To a gram.
        assert float(rows[name]["mass_kg"]) == pytest.approx(volume(bodies[name]) * 7.9e-6, rel=0.01, abs=1e-3)
    assert "male ring" in rows["outlet-a"]["make"]
    assert "female ring" in rows["outlet-b"]["make"]
    assert rows["outlet-a"]["length_mm"] == "20.0"
