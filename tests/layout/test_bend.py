"""Bent pipe and tube: placed, made solid, refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError, InputErrors
from rootgap.layout import Bend
from rootgap.solids.bodies import volume
from rootgap.solids.whole import body
from rootgap.writers.cutlist import cut_rows

FILE = """
name = "case"
units = "mm"
[stock.a]
{stock}
material = "304L"
[run.a]
stock  = "a"
start  = {{ at = [0, 0, 0], along = [0, 0, 1], ref = [0, 1, 0] }}
pieces = [{{ straight = 40 }}, {piece}, {{ straight = 30 }}]
"""


def bent(tmp_path: Path, piece: str, stock: str = 'tube = "1-3/4 x 16 ga"') -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(FILE.format(stock=stock, piece=piece), encoding="utf-8")
    return rootgap.load(file)


def test_a_bend_of_tube_ends_where_its_arc_ends(tmp_path: Path):
    manifold = bent(tmp_path, "{ bend = 95, angle = 60 }")
    piece = manifold.layout.runs["a"].pieces[1]
    assert isinstance(piece, Bend)
    c, s = np.cos(np.pi / 3), np.sin(np.pi / 3)
    assert piece.end.origin == pytest.approx([0, 95 * (1 - c), 40 + 95 * s])
    assert piece.end.axis == pytest.approx([0, s, c])
    # The next piece leaves along the tangent.
    assert manifold.layout.runs["a"].end.origin == pytest.approx(piece.end.origin + 30 * piece.end.axis)


@pytest.mark.parametrize("angle", [12.5, 60, 90, 135, 180])
@pytest.mark.parametrize("clock", [0, 45, -100])
def test_its_body_has_the_volume_of_pappus_and_ends_at_its_end(tmp_path: Path, angle: float, clock: float):
    piece = bent(tmp_path, f"{{ bend = 60, angle = {angle}, clock = {clock} }}").layout.runs["a"].pieces[1]
    solid = body(piece, ())
    area = np.pi * (piece.stock.r_out**2 - piece.stock.r_in**2)
    assert volume(solid) == pytest.approx(area * 60 * np.radians(angle), rel=1e-6)
    ends = [np.array(face.Center().toTuple()) for face in solid.Faces() if face.geomType() == "PLANE"]
    assert len(ends) == 2
    gap = min(np.linalg.norm(center - piece.end.origin) for center in ends)
    assert gap < 1e-6


def test_its_outside_is_as_far_from_the_centre_line_as_the_tube_is_thick(tmp_path: Path):
    piece = bent(tmp_path, "{ bend = 60, angle = 100, clock = 30 }").layout.runs["a"].pieces[1]
    u, v = np.random.default_rng(5).random((2, 400))
    towards = piece.start.radial(np.radians(30))
    lag = piece.skin()(u, v) - (piece.start.origin + 60 * towards)
    across = lag @ np.cross(piece.start.axis, towards)
    ring = np.sqrt(np.maximum((lag**2).sum(axis=1) - across**2, 0)) - 60
    assert np.hypot(ring, across) == pytest.approx(piece.stock.r_out)


def test_the_cut_list_says_how_to_bend_it(tmp_path: Path):
    manifold = bent(tmp_path, "{ bend = 95, angle = 60 }")
    row = cut_rows(manifold.layout, manifold.joints, manifold.patterns)[1]
    assert row.make == "bend 60 deg at 95.0 mm on the centre line, 99.5 mm of arc"
    assert row.length_mm == "99.5"


def test_a_radius_without_a_throat_is_refused_with_the_least(tmp_path: Path):
    with pytest.raises(GeometryError, match=r"leaves no throat on 44\.5 mm.*at least 23\.3 mm"):
        _ = bent(tmp_path, "{ bend = 22, angle = 60 }").layout
    assert bent(tmp_path, "{ bend = 23.3, angle = 60 }").layout


@pytest.mark.parametrize("angle", [0, -30, 181])
def test_an_angle_that_is_no_bend_is_refused(tmp_path: Path, angle: float):
    with pytest.raises(InputErrors, match=r"angle: found .*allowed: 1 to 180 degrees"):
        bent(tmp_path, f"{{ bend = 95, angle = {angle} }}")


def test_a_whole_build_with_a_bend(tmp_path: Path):
    built = bent(tmp_path, "{ bend = 95, angle = 60 }").build(tmp_path / "out")
    assert "solids/a-b.step" in built.files
