"""Checks of what only a whole layout shows: metal through metal, open ports, bores beside bores."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import rootgap
from rootgap.checks.gap import covered, gap
from rootgap.geometry.distance import Ball
from rootgap.geometry.frames import vector

WG = """
[run.wg]
stock = "primary"
start = {{ at = {at}, along = {along} }}
pieces = [{pieces}]
ends = ["cap", {end}]
"""


def findings(demo: Path, tmp_path: Path, more: str, **changes: str) -> dict[str, list]:
    """The findings of the demo with a run more, by check."""
    text = demo.read_text(encoding="utf-8") + more
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    # The parts are copied: a link out of the workspace would be refused.
    shutil.copytree(demo.parent.parent / "parts", tmp_path / "parts")
    (tmp_path / "assemblies").mkdir()
    file = tmp_path / "assemblies" / "demo.toml"
    file.write_text(text, encoding="utf-8")
    found: dict[str, list] = {}
    for finding in rootgap.load(file).checks():
        found.setdefault(finding.check, []).append(finding)
    return found


def test_the_demo_has_no_metal_through_metal(manifold):
    assert all(finding.verdict == "pass" for finding in manifold.checks())


def test_a_run_through_the_primaries_fails(demo, tmp_path):
    more = WG.format(at="[-60, 40, 70]", along="[1, 0, 0]", pieces="{ straight = 400 }", end='"cap"')
    (finding,) = findings(demo, tmp_path, more)["overlap"]
    assert finding.verdict == "fail"
    assert finding.value < -20.0
    assert "wg-a" in finding.subject
    assert "primary." in finding.subject


def test_a_branch_that_crowds_its_neighbours_elbow_fails(demo, tmp_path):
    end = '{ cope = "log", set = "on" }'
    more = WG.format(at="[45, 5, 60]", along="[0, 0.84, 0.55]", pieces='{ straight = "fill" }', end=end)
    (finding,) = findings(demo, tmp_path, more)["overlap"]
    assert finding.verdict == "fail"
    assert finding.subject == "wg-a and primary.1-b"


def test_ports_without_a_run_are_open(demo, tmp_path):
    text = demo.read_text(encoding="utf-8")
    start = text.index("# The last one leans less")
    override = text[start : text.index("[run.outlet]")]
    found = findings(
        demo, tmp_path, "", one=(override, ""), each=('each   = "head.port"', 'start  = "head.port.2"')
    )
    (finding,) = found["open ports"]
    assert (finding.value, finding.verdict) == (3.0, "fail")


def test_a_small_body_by_a_plates_edge_is_found(manifold):
    """A ball of 1 mm radius 2.47 mm from the head flange's rim, by the kernel's own distance."""
    ball = Ball(vector((199.0, -30.3, 14.0)), 1.0)
    plate = manifold.layout.plates["head"]
    assert gap(covered(plate, {}), ball) == pytest.approx(2.47, abs=0.02)
