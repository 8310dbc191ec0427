"""Elbows of every series, from either stock angle, trimmed at either end or both."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError, InputErrors
from rootgap.layout import Elbow
from rootgap.patterns.trim import trim_strip
from rootgap.patterns.wrap import TAB
from rootgap.solids.bodies import volume
from rootgap.solids.whole import body
from rootgap.writers.cutlist import cut_rows

FILE = """
name = "case"
units = "mm"
[stock.a]
pipe = "{pipe}"
material = "304L"
[run.a]
stock  = "a"
start  = {{ at = [0, 0, 0], along = [0, 0, 1], ref = [0, 1, 0] }}
pieces = [{{ straight = 40 }}, {{ elbow = "LR", {more} }}]
"""


def manifold(tmp_path: Path, more: str, pipe: str = "1-1/2 sch 10") -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(FILE.format(pipe=pipe, more=more).replace('"LR", elbow = ', ""), encoding="utf-8")
    return rootgap.load(file)


def elbow(tmp_path: Path, more: str, pipe: str = "1-1/2 sch 10") -> Elbow:
    found = manifold(tmp_path, more, pipe).layout.runs["a"].pieces[1]
    assert isinstance(found, Elbow)
    return found


@pytest.mark.parametrize(
    ("more", "radius"),
    [("angle = 90", 57.15), ('elbow = "SR"', 38.1), ('elbow = "3D"', 114.3), ('elbow = "3D", from = 45', 114.3)],
)
def test_a_series_has_its_radius_and_the_stocks_angle_unless_told(tmp_path: Path, more: str, radius: float):
    piece = elbow(tmp_path, more)
    assert piece.radius == pytest.approx(radius)
    assert piece.angle == piece.stock_angle
    assert not piece.trimmed
    assert piece.made_from.endswith("whole")
    assert volume(body(piece, ())) == pytest.approx(piece.stock.area * radius * np.radians(piece.angle), rel=1e-6)


def test_one_cut_leaves_one_piece_two_cuts_two(tmp_path: Path):
    end, start, both = (elbow(tmp_path, f'angle = 37, trim = "{trim}"') for trim in ("end", "start", "both"))
    assert end.cuts == start.cuts == (37,)
    assert both.cuts == (26.5, 63.5)
    assert end.left_over == start.left_over == "a piece of 53 deg less the kerf, usable elsewhere"
    assert both.left_over == "two pieces of 26.5 deg less the kerf, usable elsewhere"
    assert elbow(tmp_path, "angle = 86").left_over == "a piece of 4 deg less the kerf, too little to use"
    # NPS 1-1/2: 13.95 mm from the bend's centre to a short radius elbow's throat, 90.15 to a 3D elbow's.
    for series, angle, serves in (("SR", 58, False), ("SR", 56, True), ("3D", 86, False), ("3D", 84, True)):
        left = elbow(tmp_path, f'elbow = "{series}", angle = {angle}').left_over
        assert left.endswith("usable elsewhere" if serves else "too little to use")
    assert "trim the start to 37 deg: from the factory end 52.5 on the back" in start.made_from
    assert "; then " in both.made_from
    # Which end is cut changes nothing of where it stands.
    assert end.end.origin == pytest.approx(start.end.origin)
    assert end.end.origin == pytest.approx(both.end.origin)


@pytest.mark.parametrize("trim", ["end", "start", "both"])
def test_the_strip_goes_once_round_with_its_four_lines(tmp_path: Path, trim: str):
    pattern = trim_strip(elbow(tmp_path, f'angle = 37, trim = "{trim}"'), paper=0.1)
    assert (pattern.name, pattern.kind) == ("a-b.trim", "trim")
    (cut,), (edge,) = ([item.shape for item in pattern.drawn if item.layer == layer] for layer in ("cut", "edge"))
    assert cut.length == pytest.approx(np.pi * 48.4)
    assert edge.vertices[0] == cut.vertices[0]
    assert edge.vertices[-1] == cut.vertices[-1]
    first = cut.vertices[0][0]
    marks = sorted(item.shape.vertices[0][0] - first for item in pattern.drawn if item.layer == "mark")
    # Throat, side and back; the other side is the seam.
    assert marks == pytest.approx(np.pi * 48.4 * np.array([0.25, 0.5, 0.75]))
    assert {label.text for label in pattern.labels} == {"0 throat", "90 side", "180 back", "270 side", "a-b"}
    at = {label.text: label.at[0] - first for label in pattern.labels}
    assert at["270 side"] < at["0 throat"] < at["90 side"] < at["180 back"]
    least_x, _, most_x, _ = pattern.bounds()
    assert most_x - least_x == pytest.approx(np.pi * 48.4 + TAB)
    # The hatched side is beyond the cut: towards the gas end, or the start where that is cut.
    waste = np.array(pattern.waste[0].vertices)[:, 1].mean() - cut.vertices[0][1]
    assert (waste < 0) == (trim == "start")


def test_only_trimmed_elbows_have_a_strip_and_the_cut_list_names_it(tmp_path: Path):
    whole, cut = (manifold(tmp_path, f"angle = {angle}") for angle in (90, 37))
    assert [pattern.name for pattern in whole.patterns] == []
    assert [pattern.name for pattern in cut.patterns] == ["a-b.trim"]
    assert cut_rows(cut.layout, cut.joints, cut.patterns)[1].template == "flat/a-b.trim.dxf"
    files = cut.templates(tmp_path / "out").files
    assert "flat/a-b.trim.dxf" in files


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("angle = 60, from = 45", r"angle: found 60; allowed: at most 45 degrees, the stock's own angle"),
        ('elbow = "SR", from = 45', r"from: found 45; allowed: 90; short-radius elbows are made in no other angle"),
        ("from = 60", r"from: found 60; allowed: 90, 45$"),
        ('trim = "middle"', r'trim: found "middle"; allowed: "end", "start", "both"'),
    ],
)
def test_what_is_refused(tmp_path: Path, more: str, said: str):
    with pytest.raises(InputErrors, match=said):
        manifold(tmp_path, more)


def test_a_size_that_is_not_made_is_refused_with_those_that_are(tmp_path: Path):
    with pytest.raises(GeometryError, match=r"NPS 1/2 SR 90.*nearest that exist: NPS 1/2 LR 90"):
        _ = manifold(tmp_path, 'elbow = "SR"', "1/2 sch 10").layout
