"""What a printed template and the manifest say of bevels, from the parameter file on."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

import rootgap
from rootgap.joints import Cope
from rootgap.joints.bevel import Bevel, Ground
from rootgap.patterns.wrap import bevel_facts

Load = Callable[[str], rootgap.Manifold]

ASSEMBLY = """
name = "t"
units = "mm"
[stock.primary]
pipe = "1-1/2 sch 40"
material = "A53 B"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[run.log]
stock = "log"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 300 }]
[run.a]
stock = "primary"
start = { at = [100, 0, 150], along = [0.4, 0, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log"END }
[run.b]
stock = "primary"
start = { at = [240, 52, 66], along = [0, 0, -1], ref = [0, -1, 0] }
pieces = [{ elbow = "LR", angle = 90, clock = 0 }]
end = { cope = "log"END }
"""


def test_a_wanted_bevel_is_on_wrap_and_comb_and_in_the_manifest(tmp_path: Path, loaded: Load) -> None:
    made = loaded(ASSEMBLY.replace("END", ', bevel = { land = "1/16 in", angle = "45 deg" }'))
    copes = {joint.branch.run: joint for joint in made.joints if isinstance(joint, Cope)}
    assert {cope.bevel for cope in copes.values()} == {Bevel(1.5875, 45.0)}
    patterns = {pattern.name: dict(pattern.facts) for pattern in made.patterns}
    for run, name in (("a", "a-a.wrap"), ("b", "b-a.comb")):
        facts = patterns[name]
        assert facts["Bevel"] == "groove at least 45 deg, land 1.59 mm"
        grinds = [round(row.grind) for row in copes[run].bevel_schedule]
        assert facts["Bevel at 0, 45, ... 315"] == ", ".join(map(str, grinds)) + " deg"
        assert facts["Groove that it leaves"].endswith(" deg")
    made.templates(tmp_path / "out")
    content = json.loads(next((tmp_path / "out").rglob("manifest.json")).read_text(encoding="utf-8"))
    (record,) = (joint for joint in content["joints"] if joint["id"] == "a+log")
    assert record["bevel"] == {"land": 1.5875, "angle": 45.0}
    assert [row["clock"] for row in record["bevel_schedule"]] == [45.0 * k for k in range(8)]
    assert record["bevel_schedule"][2]["grind"] == pytest.approx(copes["a"].bevel_schedule[2].grind)


def test_without_one_what_clears_is_said(loaded: Load) -> None:
    made = loaded(ASSEMBLY.replace("END", ""))
    facts = {pattern.name: dict(pattern.facts) for pattern in made.patterns}["a-a.wrap"]
    assert facts["Bevel"] == "just to clear"
    assert len(facts["Bevel at 0, 45, ... 315"].split(",")) == 8


def test_nothing_to_grind() -> None:
    schedule = tuple(Ground(45.0 * k, -0.0, 20.0) for k in range(8))
    assert bevel_facts(schedule, None, "end") == (("Bevel", "none to clear"),)
