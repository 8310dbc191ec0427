"""Combs: meridian marks for what does not unroll, put back on the elbow or the cone that they were made for."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.geometry.frames import Frame
from rootgap.joints import Cope
from rootgap.patterns.marks import holes_comb
from rootgap.patterns.wrap import PAPER

Load = Callable[[str], rootgap.Manifold]

ASSEMBLY = """
name = "t"
units = "mm"
[stock.primary]
pipe = "1-1/4 sch 40"
material = "A53 B"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[stock.wide]
pipe = "3-1/2 sch 40"
material = "A53 B"
[run.log]
stock = "log"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 130 }, { elbow = "LR", angle = 90, clock = 180 }, { cone = "wide", length = 140 }]
[run.elbow]
stock = "primary"
start = { at = [60, 40, 82], along = [0, 0, -1], ref = [0, -1, 0] }
pieces = [{ straight = 30 }, { elbow = "LR", angle = 90, clock = 0 }]
end = { cope = "log", prep = "bevel"MORE }
[run.onto-elbow]
stock = "primary"
start = { at = [190, 160, 10], along = [0.15, -1, 0] }
pieces = [{ straight = "fill" }]
end = { cope = "log" }
[run.onto-cone]
stock = "primary"
start = { at = [400, -165, 5], along = [-1, 0, 0] }
pieces = [{ straight = "fill" }]
end = { cope = "log" }
"""


@pytest.mark.parametrize("count", [12, 16, 24])
def test_an_elbows_own_end_is_marked_on_as_many_meridians_as_asked(tmp_path: Path, count: int, loaded: Load) -> None:
    """Each arc bent back along the elbow, at the bore: its point lies on the log's outside."""
    made = loaded(ASSEMBLY.replace("MORE", f", meridians = {count}"))
    (cope,) = (joint for joint in made.joints if isinstance(joint, Cope) and joint.branch.run == "elbow")
    (comb,) = (pattern for pattern in made.patterns if pattern.name == "elbow-b.comb")
    facts = dict(comb.facts)
    told = {name: text for name, text in facts.items() if name.startswith("Clock ")}
    rows = {float(name.removeprefix("Clock ")): float(text.removesuffix(" mm")) for name, text in told.items()}
    assert list(rows) == [360.0 * k / count for k in range(count)]
    assert facts["Throat lies at"] == "clock 0"
    lengths = f"{min(rows.values()):.1f} to {max(rows.values()):.1f} mm along the outside"
    assert facts["Cut from the factory end"] == lengths
    assert "Datum edge" not in facts
    radius, tube = 1.25 * 1.5 * 25.4, cope.branch
    for clock, arc in rows.items():
        # ASME B16.9: the centre line of a long-radius elbow is 1.5 x NPS.
        turned = np.degrees(arc / (radius - tube.r_out * np.cos(np.radians(clock))))
        frame = tube.frame.bent(radius, turned, 0.0)
        point = frame.origin + tube.r_in * frame.radial(np.radians(clock))
        assert np.hypot(point[1], point[2]) == pytest.approx(cope.target.r_out, abs=0.06), "printed to 0.1 mm"
    numbered = {label.text for label in comb.labels if re.fullmatch(r"\d+", label.text)}
    assert numbered == {f"{clock:.0f}" for clock in rows if clock % 30 == 0}
    assert sum(drawn.layer == "cut" for drawn in comb.drawn) == count
    folder = made.templates(tmp_path / "out").folder
    records = {joint["id"]: joint for joint in json.loads((folder / "manifest.json").read_text())["joints"]}
    assert [mark[0] for mark in records["elbow+log"]["cut"]["meridians"]] == pytest.approx(list(rows))


@pytest.mark.parametrize(("name", "run"), [("log-b.comb", "onto-elbow"), ("log-c.comb", "onto-cone")])
def test_a_hole_is_met_by_enough_meridians_and_each_mark_lies_on_its_edge(loaded: Load, name: str, run: str) -> None:
    made = loaded(ASSEMBLY.replace("MORE", ""))
    (cope,) = (joint for joint in made.joints if isinstance(joint, Cope) and joint.branch.run == run)
    (comb,) = (pattern for pattern in made.patterns if pattern.name == name)
    rows = {key: text for key, text in comb.facts if key.startswith(f"{run}, clock ")}
    assert len(rows) >= 5
    outline = cope.target.rolled(*cope.hole(np.linspace(0.0, 2.0 * np.pi, 7200)).T)
    for key, text in rows.items():
        clock = np.radians([float(key.rsplit(" ", 1)[1])])
        for arc in map(float, text.removesuffix(" mm").split(" and ")):
            station = arc / cope.target.meridian_arcs(clock, np.ones(1))
            (point,) = cope.target.rolled(clock, station)
            assert np.linalg.norm(outline - point, axis=1).min() < 0.12, "printed to 0.1 mm"


def test_a_comb_leaves_the_foot_of_what_was_fitted_before_whole(loaded: Load) -> None:
    """A second branch beside the first on the elbow: no mark of its hole lies in the first one's metal."""
    made = loaded(ASSEMBLY.replace("MORE", ""))
    (first,) = (joint for joint in made.joints if isinstance(joint, Cope) and joint.branch.run == "onto-elbow")
    frame, axis = first.branch.frame, first.branch.frame.axis
    beside = Frame(frame.origin + 30.0 * np.cross(axis, (0.0, 0.0, 1.0)), axis, frame.ref)
    standing = replace(first.branch, length=first.branch.length + first.target.r_out)
    branch = replace(first.branch, run="b", piece="b-a", frame=beside)
    other = replace(first, id="b", branch=branch, neighbours=(standing,))
    comb = holes_comb([first, other], made.layout.members["log-b"].stock, PAPER)
    marks = []
    for key, text in comb.facts:
        if key.startswith("b, clock "):
            clock = np.radians([float(key.rsplit(" ", 1)[1])])
            arcs = map(float, text.removesuffix(" mm").split(" and "))
            pace = first.target.meridian_arcs(clock, np.ones(1))
            marks += [first.target.rolled(clock, arc / pace)[0] for arc in arcs]
    x, y, _ = standing.frame.to_local(np.array(marks)).T
    clear = np.hypot(x, y) - standing.r_out
    assert clear.min() > -0.12, "printed to 0.1 mm"
    assert clear.min() < 0.12, "and some lie at its foot"


def test_a_comb_says_nothing_of_hatching_and_a_cones_nothing_of_elbows(loaded: Load) -> None:
    combs = {
        pattern.name: pattern for pattern in loaded(ASSEMBLY.replace("MORE", "")).patterns if pattern.kind == "comb"
    }
    assert combs.keys() == {"elbow-b.comb", "log-b.comb", "log-c.comb"}
    assert not any("hatched" in note for comb in combs.values() for note in comb.notes)
    cone = combs["log-c.comb"]
    assert not any("elbow" in text for text in (*cone.notes, *(label.text for label in cone.labels)))
