"""A flange whose edge and openings were drawn by hand, through every room: solid, DXF, checks."""

from __future__ import annotations

from pathlib import Path as File

import ezdxf
import numpy as np
import pytest
from shapely.geometry import Point, Polygon

import rootgap
from rootgap.errors import GeometryError
from rootgap.geometry.paths import Path
from rootgap.solids import bodies
from rootgap.solids.bodies import is_sound, volume

#: A port with a hollow top, one with straight sides and a round one, and an edge with a notch between two bolts.
HOLLOW = "[[-18, -14], [18, -14, 0.35], [18, 14], [0, 9, -0.15], [-18, 14]]"
ROUNDED = "[[-15, -12, 0.2], [15, -12, 0.2], [15, 12, 0.2], [-15, 12, 0.2]]"
EDGE = "[[-40, -35], [50, -35], [60, -20, -0.5], [70, -20], [80, -35], [150, -35, 0.8], [150, 35], [-40, 35, 0.2]]"
CASE = f"""
name  = "drawn"
units = "mm"
[stock.primary]
pipe     = "1-1/2 sch 10"
material = "304L"
[flange.head]
name      = "head"
kind      = "flange"
units     = "mm"
material  = "carbon steel"
thickness = 12
outline   = {{ path = {EDGE} }}
[[flange.head.port]]
at      = [0, 0]
opening = {{ path = {HOLLOW} }}
[[flange.head.port]]
at      = [110, 0]
angle   = 30
opening = {{ path = {ROUNDED} }}
[[flange.head.bolts]]
hole = 9
at   = [[-32, 25], [60, 25], [150, 25], [-32, -25], [150, -25]]
[run.one]
stock  = "primary"
start  = "head.port.1"
pieces = [{{ straight = 60 }}]
end    = "open"
[run.two]
stock  = "primary"
start  = "head.port.2"
pieces = [{{ straight = 90, formed = "on" }}]
end    = "open"
"""


@pytest.fixture
def case(tmp_path: File) -> File:
    file = tmp_path / "drawn.toml"
    file.write_text(CASE, encoding="utf-8")
    return file


def test_the_kernels_plate_has_the_volume_of_the_closed_form(case: File, tmp_path: File) -> None:
    manifold = rootgap.load(case)
    plate = manifold.layout.plates["head"]
    holes = (*plate.openings, *plate.bolt_holes)
    metal = Polygon(plate.outlines[0].points(1e-4), [shape.points(1e-4) for shape in holes])
    assert plate.area == pytest.approx(metal.area, rel=1e-6)
    solid = bodies.plate(plate.start, plate.outlines[0], holes, 12.0)
    assert is_sound(solid)
    assert volume(solid) == pytest.approx(plate.volume, rel=1e-9)
    assert len(list(manifold.build(tmp_path / "out").folder.glob("solids/flange.head.st*"))) == 2


def test_the_dxf_is_the_region_that_was_drawn(case: File, tmp_path: File) -> None:
    folder = rootgap.load(case).templates(tmp_path / "out").folder
    (file,) = folder.glob("flat/flange.head*.dxf")
    document = ezdxf.readfile(file)
    cut = [each for each in document.modelspace() if each.dxf.layer.startswith("cut")]
    outer = next(each for each in cut if each.dxf.layer == "cut.outer")
    assert outer.closed and len(outer) == 8
    assert {each.dxftype() for each in cut} == {"LWPOLYLINE"}
    edge = Path(tuple(tuple(row) for row in outer.get_points("xyb")), closed=True)
    plate = rootgap.load(case).layout.plates["head"]
    assert edge.area == pytest.approx(plate.outlines[0].area, rel=1e-9)


def test_a_round_pipe_on_a_hollow_opening_is_told_how_far_it_falls_short(case: File) -> None:
    findings = rootgap.load(case).checks()
    landing = next(each for each in findings if each.check == "landing" and "head.1" in each.subject)
    reach = Polygon(rootgap.load(case).layout.plates["head"].openings[0].points(1e-4)).hausdorff_distance(Point(0, 0))
    assert landing.value == pytest.approx(reach - 42.76 / 2, abs=2e-3)  # bore of NPS 1-1/2 sch 10, ASME B36.19M


def test_a_pipe_is_not_formed_to_a_hollow(case: File) -> None:
    hollow = CASE.replace("{ straight = 60 }", '{ straight = 60, formed = "on" }')
    case.write_text(hollow, encoding="utf-8")
    with pytest.raises(GeometryError, match="turns inwards"):
        _ = rootgap.load(case).joints


def test_a_path_of_many_corners_is_read_in_a_second(case: File) -> None:
    turns = 2.0 * np.pi * np.arange(100) / 100
    corners = ", ".join(f"[{18 * np.cos(t):.4f}, {18 * np.sin(t):.4f}, 0.0157]" for t in turns)
    case.write_text(CASE.replace(HOLLOW, f"[{corners}]"), encoding="utf-8")
    opening = rootgap.load(case).assembly.flange["head"].port[0].opening.opening()
    assert opening.girth == pytest.approx(2.0 * np.pi * 18, rel=1e-4)
