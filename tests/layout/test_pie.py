"""Pie-cut bends: placed, made solid, unrolled, refused."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError, InputErrors
from rootgap.layout import Pie
from rootgap.patterns.pie import pie_wrap
from rootgap.solids.bodies import volume
from rootgap.solids.whole import body
from rootgap.writers.cutlist import cut_rows

FILE = """
name = "case"
units = "mm"
[stock.a]
pipe = "1-1/2 sch 10"
material = "304L"
[run.a]
stock  = "a"
start  = {{ at = [5, 6, 7], along = [0, 0, 1], ref = [0, 1, 0] }}
pieces = [{{ straight = 40 }}, {{ {piece} }}, {{ straight = 30 }}]
"""

CASES = [
    (radius, angle, cuts, clock)
    for radius, angle, cuts in ((95, 90, 3), (95, 90, 1), (60, 180, 4), (200, 45, 8), (40, 90, 2), (95, 30, 5))
    for clock in (0, 37, -120)
]


def manifold(tmp_path: Path, piece: str) -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(FILE.format(piece=piece), encoding="utf-8")
    return rootgap.load(file)


def pie(tmp_path: Path, radius: float, angle: float, cuts: int, clock: float = 0) -> Pie:
    words = f"pie = {radius}, angle = {angle}, cuts = {cuts}, clock = {clock}"
    found = manifold(tmp_path, words).layout.runs["a"].pieces[1]
    assert isinstance(found, Pie)
    return found


@pytest.mark.parametrize(("radius", "angle", "cuts", "clock"), CASES)
def test_its_body_is_exact_and_ends_at_its_end(tmp_path: Path, radius: float, angle: float, cuts: int, clock: float):
    piece = pie(tmp_path, radius, angle, cuts, clock)
    solid = body(piece, ())
    # Straights between the corners, each mitre taking as much as it leaves.
    length = np.linalg.norm(np.diff(piece.corners, axis=0), axis=1).sum()
    assert piece.length == pytest.approx(length)
    assert volume(solid) == pytest.approx(piece.stock.area * length, rel=1e-9)
    ends = [np.array(face.Center().toTuple()) for face in solid.Faces() if face.geomType() == "PLANE"]
    assert len(ends) == 2
    assert min(np.linalg.norm(center - piece.end.origin) for center in ends) < 1e-6
    # An outside and a bore for each segment.
    assert len([face for face in solid.Faces() if face.geomType() == "CYLINDER"]) == 2 * (cuts + 1)


@pytest.mark.parametrize(("radius", "angle", "cuts", "clock"), CASES)
def test_segments_touch_the_arc_and_corners_lie_outside(
    tmp_path: Path, radius: float, angle: float, cuts: int, clock: float
):
    piece = pie(tmp_path, radius, angle, cuts, clock)
    center = piece.start.origin + radius * piece.start.radial(np.radians(clock))
    corners = piece.corners
    middles = 0.5 * (corners[1:-2] + corners[2:-1])
    assert np.linalg.norm(middles - center, axis=1) == pytest.approx(radius)
    assert np.linalg.norm(corners[[0, -1]] - center, axis=1) == pytest.approx(radius)
    outside = radius / np.cos(np.radians(piece.saw))
    assert np.linalg.norm(corners[1:-1] - center, axis=1) == pytest.approx(outside)
    # All mitres turn the pipe alike.
    legs = np.diff(corners, axis=0)
    legs /= np.linalg.norm(legs, axis=1, keepdims=True)
    turns = np.degrees(np.arccos(np.clip((legs[:-1] * legs[1:]).sum(axis=1), -1, 1)))
    assert turns == pytest.approx(2 * piece.saw, abs=1e-6)


def test_its_skin_lies_on_the_body_to_the_mitres(tmp_path: Path):
    piece = pie(tmp_path, 95, 90, 3, 37)
    u, v = np.random.default_rng(3).random((2, 500))
    points = piece.skin()(u, v)
    corners = piece.corners
    legs = list(pairwise(corners))
    off = []
    for a, b in legs:
        axis = (b - a) / np.linalg.norm(b - a)
        lag = points - a
        off.append(np.linalg.norm(lag - (lag @ axis)[:, None] * axis, axis=1))
    assert np.min(np.abs(np.array(off) - piece.stock.r_out), axis=0).max() < 1e-9
    # Both segments at a mitre have the same edge there.
    u = np.linspace(0, 1, 50)
    for mitre in (1, 2, 3):
        before, after = (piece.skin()(u, np.full_like(u, mitre / 4 + by)) for by in (-1e-12, 0))
        assert before == pytest.approx(after, abs=1e-6)


@pytest.mark.parametrize("cuts", [1, 3])
def test_the_wrap_laid_round_the_pipe_lies_on_the_mitres_planes(tmp_path: Path, cuts: int):
    piece = pie(tmp_path, 95, 60, cuts, 0)
    pattern = pie_wrap(piece, paper=0.1)
    cuts_drawn = [np.array(item.shape.vertices)[:, :2] for item in pattern.drawn if item.layer == "cut"]
    assert len(cuts_drawn) == (1 if cuts == 1 else 2)
    developed, slope = piece.stock.od + 0.1, np.tan(np.radians(piece.saw))
    tops = {}
    for line in cuts_drawn:
        assert line[-1, 0] - line[0, 0] == pytest.approx(np.pi * developed)
        assert line[-1, 1] == line[0, 1]
        share = np.linspace(0, 1, 7)[:, None]
        uv = np.vstack([a + share * (b - a) for a, b in pairwise(line)])
        across = piece.stock.r_out * np.cos(2 * uv[:, 0] / developed)
        # A plane: the height is a straight function of how far towards the throat it is.
        for sign in (1, -1):
            flat = uv[:, 1] + sign * slope * across
            if np.ptp(flat) < 0.02:
                tops[sign] = flat.mean()
    if cuts == 1:
        assert tops[1] == pytest.approx(95 * slope, abs=0.01)
    else:
        assert tops[1] - tops[-1] == pytest.approx(2 * 95 * slope, abs=0.01)


def test_the_cut_list_and_the_files_have_it(tmp_path: Path):
    made = manifold(tmp_path, "pie = 95, angle = 90, cuts = 3")
    row = cut_rows(made.layout, made.joints, made.patterns)[1]
    assert row.make == (
        "pie-cut bend of 4 segments, 2 whole (throat 38.0, centre 50.9, back 63.9 mm) and 2 half (throat 19.0, "
        "centre 25.5, back 31.9 mm); saw at 15.00 deg, pipe turned 180 deg after each cut; 152.7 mm of pipe and 3 kerfs"
    )
    assert row.template == "flat/a-b.pie.dxf"
    files = made.build(tmp_path / "out").files
    assert {"flat/a-b.pie.dxf", "solids/a-b.step"} <= set(files)


@pytest.mark.parametrize(
    ("piece", "said"),
    [
        ("pie = 95, angle = 180, cuts = 1", r"cuts: found 1; allowed: at least 2, so that the saw stands at most 45"),
        ("pie = 95, angle = 90, cuts = 0", r"cuts: found 0; allowed: a whole number from 1 to 24$"),
        ("pie = 95, angle = 90, cuts = 2.5", r"cuts: found 2\.5; allowed: a whole number from 1 to 24$"),
        ("pie = 95, angle = 200, cuts = 5", r"angle: found 200; allowed: 1 to 180 degrees"),
        ("pie = 95, angle = 90", r"cuts: this key is missing; for example: cuts = 3"),
    ],
)
def test_what_is_refused(tmp_path: Path, piece: str, said: str):
    with pytest.raises(InputErrors, match=said):
        manifold(tmp_path, piece)


def test_cuts_that_meet_in_the_throat_are_refused_with_the_radius_that_would_do(tmp_path: Path):
    with pytest.raises(GeometryError, match=r"0\.2 mm long in its throat.*at least 29\.8 mm"):
        pie(tmp_path, 25, 90, 3)
    assert pie(tmp_path, 29.8, 90, 3)
