"""Branches that land on cones, built whole."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope
from rootgap.solids.bodies import common_volume, is_sound
from rootgap.writers.sheets.labels import label_box, meets

FILE = Path(__file__).with_name("cones.toml")
TURN = np.radians(np.arange(0.0, 360.0, 2.0))


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


@pytest.fixture(scope="module")
def copes(manifold) -> dict[str, Cope]:
    return {joint.branch.run: joint for joint in manifold.joints if isinstance(joint, Cope)}


def test_all_bodies_are_sound_and_none_share_metal(bodies):
    for body in bodies.values():
        assert is_sound(body)
    for a, b in itertools.combinations(bodies.values(), 2):
        assert common_volume(a, b) < 1.0


@pytest.mark.parametrize(("one", "other"), [("a-a", "log-b"), ("b-a", "log-d")])
def test_what_is_welded_touches(bodies, one, other):
    assert bodies[one].distance(bodies[other]) < 0.01


@pytest.mark.parametrize("run", ["a", "b"])
def test_the_root_lies_on_the_cone(copes, run):
    """A cone's outside at a station is its radius there: a straight line from end to end."""
    cope = copes[run]
    target = cope.target
    wall = np.array([cope.branch.r_in, cope.branch.r_out])
    heights = cope.outside.height(TURN[:, None], wall)
    frame = cope.branch.frame
    for radius, height in zip(wall, heights.T, strict=True):
        points = frame.origin + radius * frame.radial(TURN) + height[:, None] * frame.axis
        across, aside, along = target.frame.to_local(points).T
        outside = target.r_out + target.taper.out * along / target.length
        assert np.hypot(across, aside) == pytest.approx(outside, abs=1e-5)
    assert (cope.cut(TURN) <= heights.min(axis=1) + 1e-5).all() or cope.prep == "bevel"


def test_the_words_of_a_narrow_pipes_wrap_lie_clear_of_each_other(manifold):
    """NPS 1: 26 mm between two clock lines."""
    wraps = [pattern for pattern in manifold.patterns if pattern.kind == "wrap"]
    assert len(wraps) == 3
    for wrap in wraps:
        assert not any(meets(label_box(one), label_box(other)) for one, other in itertools.combinations(wrap.labels, 2))


def test_the_holes_comb_measures_along_the_slant(manifold, copes):
    """Pythagoras: an arc along the outside is the station times slant over length."""
    target = copes["a"].target
    slant = np.hypot(target.length, target.taper.out) / target.length
    names = {pattern.name: pattern for pattern in manifold.patterns}
    assert {"log-b.comb", "log-d.comb"} <= names.keys()
    clock, station = copes["a"].hole(np.radians([0.0])).T
    assert target.meridian_arcs(clock, station) == pytest.approx(station * slant)


def test_the_manifest_says_how_the_target_widens(manifold, tmp_path):
    folder = manifold.templates(tmp_path).folder
    joints = {joint["id"]: joint for joint in json.loads((folder / "manifest.json").read_text())["joints"]}
    target = joints["b+log"]["target"]
    assert target["kind"] == "cone"
    # NPS 3-1/2 and 2-1/2, schedule 40 (ASME B36.10M): outside 101.6 and 73.0 mm, walls 5.74 and 5.16 mm.
    assert [target["r_out"], target["r_out_end"]] == pytest.approx([50.8, 36.5], abs=0.03)
    assert [target["r_in"], target["r_in_end"]] == pytest.approx([50.8 - 5.74, 36.5 - 5.16], abs=0.03)
