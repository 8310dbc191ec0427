"""Branches on elbows, elbows as branches, and crowded branches, built whole."""

from __future__ import annotations

import itertools
import json
from pathlib import Path

import ezdxf
import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope
from rootgap.solids.bodies import common_volume, is_sound
from rootgap.solids.whole import parts

FILE = Path(__file__).with_name("curved.toml")
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


@pytest.mark.parametrize(
    ("one", "other"), [("a-a", "log-b"), ("b-b", "log-a"), ("c-a", "log-a"), ("d-a", "log-a"), ("d-a", "c-a")]
)
def test_what_is_welded_touches(bodies, one, other):
    assert bodies[one].distance(bodies[other]) < 0.01


def test_a_branch_on_an_elbow_has_its_bore_edge_on_the_torus(copes):
    """The torus by its own equation: (sqrt(x^2 + y^2) - R)^2 + z^2 = r^2 about the bend's axis."""
    cope = copes["a"]
    points = cope.outside.points(TURN, cope.branch.r_in)
    bend, frame = cope.target.bending, cope.target.frame
    towards = frame.radial(np.radians(bend.clock))
    normal = np.cross(frame.axis, towards)
    lag = points - (frame.origin + bend.radius * towards)
    z = lag @ normal
    ring = np.linalg.norm(lag - z[:, None] * normal, axis=1)
    assert np.hypot(ring - bend.radius, z) == pytest.approx(cope.target.r_out, abs=1e-7)


def test_an_elbows_own_end_lies_on_the_log(copes):
    cope = copes["b"]
    points = cope.branch.wall.points(TURN, np.full(TURN.shape, cope.branch.r_in), cope.bore_edge(TURN))
    local = cope.target.frame.to_local(points)
    assert np.hypot(local[:, 0], local[:, 1]) == pytest.approx(cope.target.r_out, abs=1e-7)


def test_a_crowded_branch_lies_on_the_log_or_on_its_neighbour(copes):
    cope = copes["d"]
    assert [other.run for other in cope.neighbours] == ["c"]
    points = cope.outside.points(TURN, cope.branch.r_in)
    local, beside = cope.target.frame.to_local(points), cope.neighbours[0].frame.to_local(points)
    on_log = np.abs(np.hypot(local[:, 0], local[:, 1]) - cope.target.r_out)
    on_neighbour = np.abs(np.hypot(beside[:, 0], beside[:, 1]) - cope.neighbours[0].r_out)
    assert np.minimum(on_log, on_neighbour).max() < 1e-6
    assert (on_log < 1e-6).any()
    assert (on_neighbour < 1e-6).any()


def test_the_comb_carries_the_arcs_along_the_elbows_outside(manifold, tmp_path):
    """Each finger's tip, laid along its meridian on the elbow, is a point of the cut."""
    folder = manifold.templates(tmp_path).folder
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    joint = next(joint for joint in manifest["joints"] if joint["id"] == "b+log")
    branch = joint["branch"]
    origin, axis, ref = (np.array(branch[key]) for key in ("origin", "axis", "ref"))
    clock = np.radians(branch["bend_clock"])
    towards = np.cos(clock) * ref + np.sin(clock) * np.cross(axis, ref)
    center = origin + branch["bend_radius"] * towards
    for degrees, arc in joint["cut"]["meridians"]:
        t = np.radians(degrees)
        start = origin + branch["r_out"] * (np.cos(t) * ref + np.sin(t) * np.cross(axis, ref))
        out = (start - center) @ -towards
        turn = arc / out
        lag = start - center + out * towards
        point = center + lag - out * (np.cos(turn) * towards - np.sin(turn) * axis)
        # A bevelled end: the bore at this clock and turn is on the log.
        inwards = point - (center + branch["bend_radius"] * (np.sin(turn) * axis - np.cos(turn) * towards))
        bore = point - inwards * (1.0 - branch["r_in"] / branch["r_out"])
        off = bore - np.array(joint["target"]["origin"])
        along = np.array(joint["target"]["axis"])
        distance = np.linalg.norm(off - (off @ along) * along)
        assert distance == pytest.approx(joint["target"]["r_out"], abs=0.01)
    space = ezdxf.readfile(folder / joint["cut"]["file"]).modelspace()
    tips = sorted(max(y for _, y in e.get_points("xy")) for e in space.query("LWPOLYLINE") if e.dxf.layer == "cut")
    assert tips == pytest.approx(sorted(arc for _, arc in joint["cut"]["meridians"]), abs=1e-6)


def test_the_templates_say_who_is_fitted_first(tmp_path):
    """As the file has it, c before d; with an order, d before c."""
    for order, first, second in (("", "c", "d"), (", order = 1", "d", "c")):
        text = FILE.read_text(encoding="utf-8").replace('"log", prep = "bevel" }', f'"log", prep = "bevel"{order} }}')
        file = tmp_path / "curved.toml"
        file.write_text(text, encoding="utf-8")
        facts = {pattern.name: dict(pattern.facts) for pattern in rootgap.load(file).patterns}
        assert facts[f"{second}-a.wrap"]["Fitted after"] == first
        assert "Fitted after" not in facts[f"{first}-a.wrap"]
        fitted = facts["log-a.holes"]["Fit in this order"].split(", ")
        assert sorted(fitted) == ["b", "c", "d"]
        assert fitted.index(first) < fitted.index(second)
        assert "Fit in this order" not in facts["log-b.comb"], "one hole alone"


HEAVY = """
name = "heavy"
units = "mm"
[stock.primary]
pipe = "2 sch 80"
material = "304L"
[stock.log]
pipe = "3 sch 80"
material = "304L"
[run.log]
stock = "log"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 100 }, { elbow = "LR", angle = 90, clock = 180 }, { straight = 60 }]
[run.e]
stock = "primary"
start = { at = [158, 70, -88], along = [0, 0, 1], ref = [0, -1, 0] }
pieces = [{ straight = 20 }, { elbow = "LR", angle = 90, clock = 0 }]
end = { cope = "log" }
"""


def test_a_heavy_elbow_on_an_elbow_is_ground_back_by_lengths_not_by_stations(tmp_path):
    """Round a bend a straight face from the root goes farther along the throat than its stations tell."""
    file = tmp_path / "heavy.toml"
    file.write_text(HEAVY, encoding="utf-8")
    made = rootgap.load(file)
    (cope,) = (joint for joint in made.joints if isinstance(joint, Cope))
    assert cope.grind(TURN).max() > 5.0
    assert cope.finished_groove(TURN).min() > -1e-3, "no face is ground into the other elbow"
    metal = {part.name: part.body for part in parts(made.layout, made.joints)}
    assert common_volume(metal["e-b"], metal["log-b"]) < 0.6, "mm3: a ruled face bulges a little between clocks"
