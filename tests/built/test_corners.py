"""Ends that planes cut, built whole: mitres, a shared plane, a run off another's side, a merge of aimed runs."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope, Merge, Mitre
from rootgap.report import run_rows
from rootgap.solids.bodies import common_volume, is_sound, volume

FILE = Path(__file__).with_name("corners.toml")
TURN = np.radians(np.arange(0.0, 360.0, 2.0))


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


def of_kind(manifold, kind):
    return {joint.id: joint for joint in manifold.joints if isinstance(joint, kind)}


def test_all_bodies_are_sound_and_none_share_metal(bodies):
    for body in bodies.values():
        assert is_sound(body)
    for a, b in itertools.combinations(bodies.values(), 2):
        assert common_volume(a, b) < 1.0


@pytest.mark.parametrize(
    ("one", "other"),
    [("log-a", "log-b"), ("off-a", "log-a"), ("off-a", "off-b"), ("a-a", "b-a"), ("a-a", "log-a"), ("c-d", "d-e")],
)
def test_what_is_welded_touches(bodies, one, other):
    assert bodies[one].distance(bodies[other]) < 0.01


def test_a_mitred_pipe_weighs_what_its_axis_says(manifold, bodies):
    """A mitre through the axis takes as much off one side as it leaves on the other (Pappus-Guldin)."""
    pieces = {piece.id: piece for piece in manifold.layout.pieces()}
    for name in ("log-b", "off-b"):
        piece = pieces[name]
        flat = {joint.after.piece: joint.prep for joint in of_kind(manifold, Mitre).values()}[name] == "flat"
        share = volume(bodies[name]) / (piece.stock.area * piece.length)
        assert share == pytest.approx(1.0, abs=1e-8) if flat else 0.97 < share < 1.0


def test_a_run_off_a_side_has_its_bore_edge_on_the_log(manifold):
    """Its clocks run the other way round, so that a mirrored cut would not lie on the log."""
    cope = of_kind(manifold, Cope)["log+off"]
    assert cope.at == "start"
    piece = next(piece for piece in manifold.layout.pieces() if piece.id == "off-a")
    stations = piece.length - cope.bore_edge(TURN)
    on = piece.start.origin + stations[:, None] * piece.start.axis
    on = on + piece.stock.r_in * piece.start.radial(-TURN)
    log = cope.target
    lag = on - log.frame.origin
    across = np.linalg.norm(lag - (lag @ log.frame.axis)[:, None] * log.frame.axis, axis=1)
    assert across == pytest.approx(np.full(TURN.shape, log.r_out), abs=0.01)


def test_mates_meet_in_the_plane_that_mirrors_them(manifold):
    first, second = (of_kind(manifold, Cope)[name] for name in ("a+log", "b+log"))
    plane = first.shares[0].plane
    assert second.shares[0].plane.normal == pytest.approx(-plane.normal)
    mirrored = first.branch.frame.axis - 2.0 * (first.branch.frame.axis @ plane.normal) * plane.normal
    assert mirrored == pytest.approx(second.branch.frame.axis)
    for cope in (first, second):
        bore = cope.branch.wall.points(TURN, np.full(TURN.shape, cope.branch.r_in), cope.bore_edge(TURN))
        beyond = (bore - plane.point) @ cope.shares[0].plane.normal
        assert beyond.min() == pytest.approx(0.0, abs=0.001)
        assert (beyond < 0.001).mean() > 0.2


def test_aimed_runs_arrive_on_their_collectors_axes(manifold):
    merge = next(iter(of_kind(manifold, Merge).values()))
    for number, leg in enumerate(merge.legs):
        far = leg.tube.frame.advanced(leg.tube.length)
        assert far.origin == pytest.approx(merge.frame.origin, abs=1e-6)
        assert far.axis == pytest.approx(merge.leg(number).axis, abs=1e-9)


def test_every_cut_end_has_a_template_of_its_own(manifold):
    names = {pattern.name for pattern in manifold.patterns}
    ends = {"log-a.wrap", "off-a.wrap", "c-d.wrap", "d-e.wrap"}
    starts = {"log-b.wrap-start", "off-a.wrap-start", "off-b.wrap-start"}
    assert ends | starts <= names


def marked(pattern, text, frame, r_out) -> np.ndarray:
    """The direction, off the axis, of the clock line that bears a label."""
    label = next(label for label in pattern.labels if label.text == text)
    u = label.at[0] + (1.5 if label.anchor == "right" else -1.5)
    return frame.radial(u / (r_out + 0.05))


@pytest.mark.parametrize("mark", ["logA", "logB", "logC", "logD"])
def test_match_marks_of_a_mitre_come_together(manifold, mark):
    """The start's wrap lies the other way round on its pipe, its clocks with it."""
    mitre = of_kind(manifold, Mitre)["log-a+log-b"]
    patterns = {pattern.name: pattern for pattern in manifold.patterns}
    before = marked(patterns["log-a.wrap"], mark, mitre.before.frame, mitre.before.r_out)
    after = marked(patterns["log-b.wrap-start"], mark, mitre.after.frame, mitre.after.r_out)
    turn = np.degrees(np.arccos(np.clip(before @ after, -1.0, 1.0)))
    assert turn <= mitre.turn + 1e-6


@pytest.mark.parametrize("clock", [0, 90, 180, 270])
def test_a_start_wraps_clocks_are_the_pipes_own(manifold, clock):
    cope = next(cope for cope in of_kind(manifold, Cope).values() if cope.branch.run == "off")
    piece = next(piece for piece in manifold.layout.pieces() if piece.id == "off-a")
    wrap = next(pattern for pattern in manifold.patterns if pattern.name == "off-a.wrap-start")
    found = marked(wrap, str(clock), cope.branch.frame, cope.branch.r_out)
    assert found == pytest.approx(piece.start.radial(np.radians(clock)), abs=0.01)


def test_a_hole_is_measured_from_the_end_that_is_square(manifold):
    """The mitre takes the second length's start, so that its gas end is the datum; it has no hole: the first has."""
    holes = next(pattern for pattern in manifold.patterns if pattern.name == "log-a.holes")
    assert any(label.text == "datum edge, gas comes in here" for label in holes.labels)


def test_branches_that_share_a_plane_name_each_other(manifold):
    facts = {pattern.name: dict(pattern.facts) for pattern in manifold.patterns}
    assert (facts["a-a.wrap"]["Shares a plane with"], facts["b-a.wrap"]["Shares a plane with"]) == ("b", "a")


def test_the_list_of_runs_names_every_corner(manifold):
    rows = {row[0]: row[3].split(", ") for row in run_rows(manifold.layout)}
    for run in manifold.layout.runs.values():
        mitres = [word for word in rows[run.name] if word.startswith("mitre ")]
        assert len(rows[run.name]) == len(run.pieces) + len(run.corners)
        assert mitres == [f"mitre {run.corners[number].mitre:g}" for number in sorted(run.corners)]
    assert any(run.corners for run in manifold.layout.runs.values())
