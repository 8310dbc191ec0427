"""Match marks and holes of what leaves a side, turns at a mitre, or lands twice on one pipe."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope, Mitre
from rootgap.patterns import Pattern
from rootgap.patterns.pattern import Label

Load = Callable[[str], rootgap.Manifold]

STOCKS = """
name = "t"
units = "mm"
[stock.primary]
pipe = "1-1/4 sch 40"
material = "A53 B"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[run.log]
stock = "log"
start = { at = [0, 0, 0], along = [1, 0, 0], ref = [0, 1, 0] }
"""
CORNER = """
pieces = [{ straight = 200 }, { mitre = 50, clock = 35 }, { straight = 200 }]
ends = ["cap", "cap"]
"""
#: Out of the log, round, and back into it elsewhere.
LOOP = """
pieces = [{ straight = 400 }]
ends = ["cap", "cap"]
[run.loop]
stock = "primary"
start = { off = "log", station = 80, lean = 75 }
pieces = [
    { straight = 60 }, { elbow = "LR", angle = 75 }, { straight = 100 }, { elbow = "LR" }, { straight = "fill" },
]
end = { cope = "log" }
"""


def marks(pattern: Pattern) -> dict[str, Label]:
    """Return a pattern's lettering by its text."""
    return {label.text: label for label in pattern.labels}


def test_the_same_marks_meet_at_a_mitre(loaded: Load) -> None:
    """Each mark of one pipe's line lies, rolled up, on the other's line where that has the same mark."""
    manifold = loaded(STOCKS + CORNER)
    (mitre,) = (joint for joint in manifold.joints if isinstance(joint, Mitre))
    patterns = {pattern.name: pattern for pattern in manifold.patterns}
    ends = (patterns["log-a.wrap"], patterns["log-b.wrap-start"])
    for letter in "ABCD":
        met = []
        for pattern, cut in zip(ends, mitre.sides, strict=True):
            x, _ = marks(pattern)[f"log{letter}"].at
            # The clock line that the mark stands beside.
            clocks = {int(text): label.at[0] for text, label in marks(pattern).items() if text.isdecimal()}
            # A start's frame points against the gas: there the pipe's own clocks run the other way round.
            turn = -1.0 if pattern.name.endswith("start") else 1.0
            theta = turn * np.radians(min(clocks, key=lambda clock: abs(clocks[clock] - x)))
            frame = cut.tube.frame
            met.append(frame.origin + cut.tube.r_out * frame.radial(theta) + float(cut.cut(theta)) * frame.axis)
        assert met[0] == pytest.approx(met[1], abs=1e-6), letter


def test_a_run_that_leaves_and_ends_on_one_pipe_has_two_holes_of_its_own(tmp_path: Path, loaded: Load) -> None:
    manifold = loaded(STOCKS + LOOP)
    copes = [joint for joint in manifold.joints if isinstance(joint, Cope)]
    assert [joint.id for joint in copes] == ["log+loop", "loop+log"]
    (holes,) = (pattern for pattern in manifold.patterns if pattern.name == "log-a.holes")
    drawn = {item.layer: item.shape for item in holes.drawn if item.layer.startswith("cut.")}
    assert set(drawn) == {"cut.loop", "cut.loop-start"}
    for cope in copes:
        low, high = np.array(drawn[f"cut.{cope.called}"].bounds())[[1, 3]]
        stations = cope.hole(np.radians(np.arange(360)))[:, 1]
        assert (low, high) == pytest.approx((stations.min(), stations.max()), abs=0.02)
    wraps = [marks(pattern).keys() for pattern in manifold.patterns if ".wrap" in pattern.name]
    assert sorted(text for wrap in wraps for text in wrap if text.startswith("loop") and text[4:].isalpha()) == [
        f"loop{letter}" for letter in "ABCDEFGH"
    ]
    assert {f"loop{letter}" for letter in "ABCDEFGH"} < marks(holes).keys()
    manifold.templates(tmp_path / "out")
    content = json.loads(next((tmp_path / "out").rglob("manifest.json")).read_text(encoding="utf-8"))
    ids = [joint["id"] for joint in content["joints"]]
    assert len(ids) == len(set(ids))


def test_the_wrap_of_a_start_says_how_its_clocks_count(loaded: Load) -> None:
    patterns = {pattern.name: pattern for pattern in loaded(STOCKS + LOOP).patterns}
    said = "Clocks are the pipe's own, clockwise looking along the gas: on this end they run from right to left."
    assert any(note.startswith(said) for note in patterns["loop-a.wrap-start"].notes)
    assert said not in patterns["loop-e.wrap"].notes


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (100, "Datum edge on the square end where the gas starts"),
        (255, "The start is cut: datum edge, the upper one, on the square end where the gas leaves"),
    ],
)
def test_the_wrap_of_holes_goes_on_a_square_end(loaded: Load, at: int, said: str) -> None:
    branch = f"""
pieces = [{{ straight = 200 }}, {{ mitre = 20, clock = 180 }}, {{ straight = 200 }}]
ends = ["cap", "cap"]
[run.b]
stock = "primary"
start = {{ at = [{at}, 150, 0], along = [0, -1, 0] }}
pieces = [{{ straight = "fill" }}]
end = {{ cope = "log" }}
"""
    (holes,) = (pattern for pattern in loaded(STOCKS + branch).patterns if pattern.kind == "holes")
    assert holes.notes[0].startswith(said)
    assert ("datum edge, gas comes in here" in marks(holes)) == (at == 100)


def test_a_hole_beside_a_neighbour_as_wide_as_the_pipe_ends_at_its_foot(loaded: Load) -> None:
    """Such a foot touches itself at the pipe's sides."""
    wide = """
pieces = [{ straight = 300 }]
ends = ["cap", "open"]
[run.wide]
stock = "log"
start = { at = [60, 0, 120], along = [0, 0, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log", prep = "square", order = 2 }
[run.b]
stock = "primary"
start = { off = "log", station = 5, lean = 45 }
pieces = [{ straight = 60 }]
"""
    manifold = loaded(STOCKS + wide)
    (holes,) = (pattern for pattern in manifold.patterns if pattern.name == "log-a.holes")
    (shape,) = (item.shape for item in holes.drawn if item.layer == "cut.b-start")
    (cope,) = (joint for joint in manifold.joints if isinstance(joint, Cope) and joint.at == "start")
    (neighbour,) = cope.neighbours
    assert neighbour.piece == "wide-a"
    half = 0.5 * (2.0 * cope.target.r_out + 0.1)
    clock, station = shape.points(0.01).T / [[half], [1.0]]
    assert neighbour.filled(neighbour.r_out).distance(cope.target.rolled(clock, station)).min() > -0.05
