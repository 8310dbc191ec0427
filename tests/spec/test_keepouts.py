"""Keep-outs as a file says them, and as they come out placed."""

from __future__ import annotations

import shutil
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest
import trimesh

import rootgap
from rootgap.geometry.distance import Ball, Block, HalfSpace, Rod
from rootgap.geometry.mesh import TOLERANCE, Mesh
from rootgap.layout import Keepout
from rootgap.spec.meshes import stl_triangles
from rootgap.stock.keepouts import clearance_rules

RIGHT = Path(__file__).parent.parent / "wrong" / "right"


@pytest.fixture
def placed(tmp_path: Path):
    """Write keep-outs into a right file, and return them as the layout has them."""

    def made(text: str) -> dict[str, Keepout]:
        shutil.copytree(RIGHT, tmp_path, dirs_exist_ok=True)
        file = tmp_path / "case.toml"
        file.write_text(file.read_text(encoding="utf-8") + text, encoding="utf-8")
        return dict(rootgap.load(file).layout.keepouts)

    return made


def test_every_shape_has_its_body(placed, tmp_path: Path) -> None:
    box = trimesh.creation.box((100.0, 40.0, 60.0))
    (tmp_path / "box.stl").write_bytes(trimesh.exchange.stl.export_stl(box))
    cq.exporters.export(cq.Workplane().box(100, 40, 60), str(tmp_path / "box.step"))
    keepouts = placed(
        """
        [keepout.rod]
        cylinder  = { from = [0, 0, 400], to = [90, 0, 400], diameter = 30 }
        clearance = 12
        [keepout.ball]
        sphere = { at = [0, 0, 400], diameter = 30 }
        reason = "touch"
        side   = "engine"
        [keepout.box]
        box      = { at = [10, 20, 400], size = [100, 40, 60], turn = [10, 20, 30] }
        reason   = "hose_or_wiring"
        shielded = true
        [keepout.hood]
        plane  = { at = [0, 400, 0], normal = [0, -2, 0] }
        reason = "paint_or_plastic"
        [keepout.scan]
        stl    = { file = "box.stl", units = "mm", at = [10, 20, 400], turn = [10, 20, 30] }
        reason = "fuel_or_brake"
        [keepout.drawn]
        step      = { file = "box.step", at = [10, 20, 400], turn = [10, 20, 30] }
        reason    = "fuel_or_brake"
        clearance = "2 in"
        """
    )
    kinds = [type(keepout.body) for keepout in keepouts.values()]
    assert kinds == [Rod, Ball, Block, HalfSpace, Mesh, Mesh]
    figures = [(each.clearance, each.side, each.support) for each in keepouts.values()]
    assert figures == [
        (12.0, "chassis", "the parameter file"),
        (10.0, "engine", "published article"),
        (51.0, "chassis", "published article"),
        (76.0, "chassis", "common practice, no source"),
        (76.0, "chassis", "common practice, no source"),
        (50.8, "chassis", "the parameter file"),
    ]
    points = np.random.default_rng(1).uniform((-200, -200, 200), (200, 200, 600), (300, 3))
    block = keepouts["box"].body.distance(points)
    for name in ("scan", "drawn"):
        assert keepouts[name].body.distance(points) == pytest.approx(block, abs=TOLERANCE)
    assert keepouts["hood"].body.distance(np.array([[5.0, 390.0, 7.0]])) == pytest.approx([10.0])


def test_what_was_found_about_a_mesh_is_noted(placed, tmp_path: Path) -> None:
    box = trimesh.creation.box((60.0, 40.0, 50.0))
    box.faces = box.faces[:, ::-1]
    (tmp_path / "inside-out.stl").write_bytes(trimesh.exchange.stl.export_stl(box))
    holed = trimesh.Trimesh(5 * box.vertices, box.faces[1:])
    (tmp_path / "open.stl").write_bytes(trimesh.exchange.stl.export_stl(holed))
    keepouts = placed(
        """
        [keepout.inside-out]
        stl       = { file = "inside-out.stl", units = "mm", at = [0, 0, 400] }
        clearance = 5
        [keepout.open]
        stl       = { file = "open.stl", units = "mm", at = [0, 0, 700] }
        clearance = 5
        """
    )
    assert keepouts["inside-out"].notes == (
        '60 mm across; in inches it would be 1524 mm: units = "in"',
        "was inside out, and is turned round",
    )
    assert (keepouts["inside-out"].likelier != "", keepouts["open"].likelier) == (True, "")
    assert keepouts["open"].notes == (
        "not closed, at 3 edges: held clear of on both sides of its surface, and of what it surrounds",
    )
    assert keepouts["inside-out"].body.distance(np.array([[0.0, 0.0, 400.0]])) == pytest.approx([-20.0])
    # One of twelve triangles is missing: it still surrounds its middle.
    assert keepouts["open"].body.distance(np.array([[0.0, 0.0, 700.0]])) == pytest.approx([-100.0])


def test_a_text_and_a_binary_file_say_the_same() -> None:
    ball = trimesh.creation.icosphere(2, 30.0)
    binary, text = trimesh.exchange.stl.export_stl(ball), trimesh.exchange.stl.export_stl_ascii(ball)
    assert stl_triangles(binary) == pytest.approx(ball.triangles, abs=1e-5)
    assert stl_triangles(text.encode()) == pytest.approx(ball.triangles, abs=1e-5)


def test_every_default_of_a_clearance_names_its_source_and_a_shield_never_asks_for_more() -> None:
    for rule in clearance_rules():
        assert rule.source
        assert rule.shielded <= rule.bare
        assert rule.floor is None or (rule.floor <= rule.bare and rule.floor_source)
