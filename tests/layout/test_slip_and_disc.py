"""Slip joints, and ends closed by a flat disc."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.joints import DiscWeld, Slip
from rootgap.layout import Disc, Sleeve
from rootgap.solids.bodies import common_volume, volume
from rootgap.solids.whole import body
from rootgap.writers.cutlist import cut_rows

FILE = """
name = "case"
units = "mm"
[stock.a]
pipe = {{ od = 50, wall = 2 }}
material = "304"
[run.a]
stock  = "a"
start  = {{ at = [0, 0, 0], along = [0, 0, 1] }}
pieces = [{{ straight = 90 }}, {slip}, {{ straight = 60{measured} }}]
ends   = [{{ disc = 6 }}, {{ disc = 4, material = "carbon steel" }}]
"""
SLIP = "{ slip = 80, overlap = 55, clearance = 0.25, gap = 3 }"


def slipped(tmp_path: Path, slip: str = SLIP, measured: str = "") -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(FILE.format(slip=slip, measured=measured), encoding="utf-8")
    return rootgap.load(file)


def sleeve(manifold: rootgap.Manifold) -> Sleeve:
    (found,) = (piece for piece in manifold.layout.pieces() if isinstance(piece, Sleeve))
    return found


@pytest.mark.parametrize(("wall", "thick"), [("", 2.0), (", wall = 3", 3.0)])
def test_the_sleeve_stands_round_both_ends(tmp_path: Path, wall: str, thick: float):
    manifold = slipped(tmp_path, SLIP.replace(" }", f"{wall} }}"))
    run, found = manifold.layout.runs["a"], sleeve(manifold)
    # The axis goes on by the gap alone.
    assert run.length == pytest.approx(90 + 3 + 60)
    solid = body(found, manifold.joints)
    box = solid.BoundingBox(1e-4)
    assert (box.zmin, box.zmax) == (pytest.approx(90 - 55, abs=1e-3), pytest.approx(90 - 55 + 80, abs=1e-3))
    # Pappus: wall times length, round on the middle of the wall. Bore 50 + 2 x 0.25.
    middle = 25.25 + 0.5 * thick
    assert found.volume == pytest.approx(thick * 80.0 * 2.0 * math.pi * middle, rel=1e-12)
    assert volume(solid) == pytest.approx(found.volume, rel=1e-8)


def test_nothing_shares_metal(tmp_path: Path):
    manifold = slipped(tmp_path)
    solids = [body(piece, manifold.joints) for piece in manifold.layout.pieces()]
    assert len(solids) == 5
    for index, one in enumerate(solids):
        for other in solids[index + 1 :]:
            assert common_volume(one, other) < 1e-6


def test_the_slip_joint(tmp_path: Path):
    (joint,) = (joint for joint in slipped(tmp_path).joints if isinstance(joint, Slip))
    assert joint.joined == ("a-a", "a-b", "a-c")
    assert (joint.gap, joint.overlap, joint.seat) == (3.0, 55.0, 22.0)
    assert (joint.clearance, joint.weld_gap) == (pytest.approx(0.25), pytest.approx(0.25))
    assert joint.weld_length == pytest.approx(math.pi * 50)
    assert joint.frame.origin == pytest.approx([0, 0, 90])


def test_no_joint_is_left_between_the_pipes(tmp_path: Path):
    kinds = [joint.kind for joint in slipped(tmp_path).joints]
    assert kinds == ["disc weld", "slip", "disc weld"]


def verdict(manifold: rootgap.Manifold, check: str) -> str:
    (found,) = (finding.verdict for finding in manifold.checks() if finding.check == check)
    return found


@pytest.mark.parametrize(
    ("change", "check", "wanted"),
    [
        (("", ""), "slip overlap", "pass"),
        (("overlap = 55", "overlap = 49.9"), "slip overlap", "warn"),
        (("0.25", "0.05"), "slip clearance", "warn"),
        (("0.25", "0"), "slip clearance", "fail"),
        (("gap = 3", "gap = 0.4"), "slip gap, cold", "warn"),
        (("", ""), "slip gap, cold", "pass"),
    ],
)
def test_what_the_checks_say(tmp_path: Path, change: tuple[str, str], check: str, wanted: str):
    assert verdict(slipped(tmp_path, SLIP.replace(*change) if change[0] else SLIP), check) == wanted


def test_who_takes_the_advice_on_the_overlap_is_not_warned_again(tmp_path: Path):
    file = tmp_path / "case.toml"
    text = FILE.replace("od = 50,", "od = 50.04,")
    file.write_text(text.format(slip=SLIP.replace("overlap = 55", "overlap = 40"), measured=""), encoding="utf-8")
    (found,) = (finding for finding in rootgap.load(file).checks() if finding.check == "slip overlap")
    assert float(found.advice.split("at least ")[1].split(" mm")[0]) >= found.limit


def test_a_pipe_that_measures_larger_than_the_sleeve_fails(tmp_path: Path):
    manifold = slipped(tmp_path, measured=", measured = { od = 50.6 }")
    assert verdict(manifold, "slip clearance") == "fail"


def test_the_gap_check_claims_nothing_about_heat(tmp_path: Path):
    (found,) = (finding for finding in slipped(tmp_path).checks() if finding.check == "slip gap, cold")
    assert "hot is not in it" in found.source


def test_discs_stand_on_the_ends(tmp_path: Path):
    manifold = slipped(tmp_path)
    first, last = (piece for piece in manifold.layout.pieces() if isinstance(piece, Disc))
    assert (first.id, last.id) == ("a-cap", "a-end")
    for disc, low, thick in ((first, -6.0, 6.0), (last, 153.0, 4.0)):
        solid = body(disc, manifold.joints)
        box = solid.BoundingBox(1e-4)
        assert (box.zmin, box.zmax) == (pytest.approx(low, abs=1e-3), pytest.approx(low + thick, abs=1e-3))
        assert volume(solid) == pytest.approx(math.pi / 4.0 * 50.0**2 * thick, rel=1e-8)
        assert disc.volume == pytest.approx(math.pi / 4.0 * 50.0**2 * thick, rel=1e-12)
    assert (first.metal.grade, last.metal.grade) == ("304", "carbon steel")
    welds = [joint for joint in manifold.joints if isinstance(joint, DiscWeld)]
    assert [(weld.pipe, weld.disc, weld.at) for weld in welds] == [("a-a", "a-cap", "start"), ("a-c", "a-end", "end")]
    assert [weld.weld_length for weld in welds] == pytest.approx([math.pi * 50] * 2)


def test_a_discs_skin_is_its_own(tmp_path: Path):
    disc = next(piece for piece in slipped(tmp_path).layout.pieces() if isinstance(piece, Disc))
    u, v = np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 33))
    gaps = disc.filled.distance(disc.skin()(u.ravel(), v.ravel()))
    assert np.abs(gaps).max() < 1e-9


def test_the_cut_list_says_how_they_are_made(tmp_path: Path):
    manifold = slipped(tmp_path)
    rows = {row.mark: row for row in cut_rows(manifold.layout, manifold.joints, manifold.patterns)}
    assert (rows["a-cap"].stock, rows["a-cap"].template) == ("plate 6 mm", "flat/a-cap.dxf")
    assert float(rows["a-cap"].mass_kg) == pytest.approx(math.pi / 4 * 5**2 * 0.6 * 7.93e-3, rel=0.02)
    made = rows["a-b"]
    assert (made.length_mm, made.stock) == ("80.0", "sleeve 54.5 mm x 2 mm")
    assert "leaks" in made.make
    assert (rows["a-a"].start_end, rows["a-a"].gas_end, rows["a-c"].start_end) == ("square, deburred",) * 3
