"""Flanges of every kind: outline, file, solid and closed form are one region.

The sampling flange is that of the rule of the International Maritime Organization for sampling points: outside diameter
160 mm, bore 35, 9 thick, four holes of 12 on a circle of 130, whose radius is 65.
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import bulge_to_arc
from hypothesis import given, settings
from hypothesis import strategies as st

import rootgap
from rootgap.checks.all import all_checks
from rootgap.geometry.frames import Frame
from rootgap.geometry.gaps import gap
from rootgap.geometry.paths import Circle
from rootgap.geometry.paths import Path as Outline
from rootgap.joints import FlangeWeld
from rootgap.layout import Layout, Plate
from rootgap.patterns.plate import plate_pattern
from rootgap.solids import bodies
from rootgap.solids.whole import body
from rootgap.spec import FlangePart
from rootgap.spec.read import load_part
from rootgap.writers.dxf import dxf_bytes

HERE = Path(__file__).parent
KINDS = HERE / "flange-kinds.toml"
NO_FLANGES = re.compile("vband|turbo|wastegate-[0-9]")
PARTS = sorted(path.name for path in (HERE.parents[1] / "parts").glob("*.toml") if not NO_FLANGES.match(path.name))
TWO_PORTS = {
    "name": "f",
    "kind": "flange",
    "units": "mm",
    "material": "carbon steel",
    "thickness": 10,
    "port": [{"at": [0, 0], "opening": {"oval": [36, 30]}}, {"at": [96, 0], "opening": {"round": 30}}],
    "bolts": [{"thread": "M8", "fit": "medium", "at": [[-32, 18], [32, -20], [64, 20], [128, -18]]}],
}


def flange(**outline) -> FlangePart:
    return FlangePart.model_validate(TWO_PORTS | {"outline": {"edge": 12, "boss": 13} | outline})


OUTLINES = {
    "grown": {"fillet": 30},
    "bar": {"bar": {"height": 72, "radius": 9}},
    "cut apart": {"bar": {"height": 72, "radius": 9}, "split": {"gap": 3}},
    "individual": {"fillet": 30, "split": "individual"},
    "slit": {"fillet": 60, "relief": {"width": 3, "depth": 14}},
    "slit above": {"bar": {"height": 72, "radius": 9}, "relief": {"width": 4, "depth": 30, "side": "up"}},
}


def placed(part: FlangePart) -> Plate:
    return Plate("flange.f", part, Frame.looking((0, 0, 0), (0, 0, 1), (0, 1, 0)))


def from_dxf(data: bytes) -> shapely.Geometry:
    """The region of a file, read by another library: contours even-odd, arcs chorded to a millionth of a turn."""
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    rings = []
    for entity in document.modelspace().query("LWPOLYLINE CIRCLE"):
        if not entity.dxf.layer.startswith(("cut", "drill")):
            continue
        if entity.dxftype() == "CIRCLE":
            center = np.array(entity.dxf.center)[:2]
            t = np.linspace(0, 2 * np.pi, 2001)[:-1]
            rings.append(center + entity.dxf.radius * np.column_stack([np.cos(t), np.sin(t)]))
            continue
        assert entity.closed
        rows = list(entity.get_points("xyb"))
        points = []
        for (x, y, bulge), (to_x, to_y, _) in zip(rows, rows[1:] + rows[:1], strict=True):
            points.append((x, y))
            if bulge:
                center, begin, end, radius = bulge_to_arc((x, y), (to_x, to_y), bulge)
                t = np.linspace(begin, end if end > begin else end + 2 * np.pi, 501)[1:-1]
                arc = np.array(center)[:2] + radius * np.column_stack([np.cos(t), np.sin(t)])
                points += list(arc if bulge > 0 else arc[::-1])
        rings.append(np.array(points))
    region = shapely.Polygon()
    for ring in rings:
        region = region.symmetric_difference(shapely.Polygon(ring))
    return region


def region(plate: Plate) -> shapely.Geometry:
    def polygon(shape: Circle | Outline) -> shapely.Polygon:
        return shapely.Polygon(shape.points(1e-5))

    holes = shapely.union_all([polygon(shape) for shape in (*plate.openings, *plate.bolt_holes)])
    return shapely.union_all([polygon(edge) for edge in plate.outlines]) - holes


def centroid(solid) -> np.ndarray:
    return np.array(solid.Center().toTuple())[:2]


@pytest.mark.parametrize("kind", OUTLINES)
def test_file_solid_and_closed_form_are_one_region(kind: str):
    plate = placed(flange(**OUTLINES[kind]))
    meant = region(plate)
    assert plate.area == pytest.approx(meant.area, rel=1e-6)
    read = from_dxf(dxf_bytes(plate_pattern(plate, [], starts=True)))
    assert read.symmetric_difference(meant).area < 1e-5 * meant.area
    made = body(plate, [])
    assert len(made.Solids()) == len(plate.outlines) == (2 if kind in {"cut apart", "individual"} else 1)
    assert bodies.volume(made) == pytest.approx(plate.area * 10, rel=1e-9)
    assert centroid(made) * (-1, 1) == pytest.approx(np.array(meant.centroid.coords[0]) * (-1, 1), abs=1e-5)


@settings(max_examples=6, deadline=None)
@given(
    st.floats(85, 110), st.floats(28, 36), st.floats(-20, 20), st.sampled_from(list(OUTLINES)), st.floats(0, 3)
)
def test_the_kernels_face_is_the_region(pitch: float, width: float, turn: float, kind: str, slot: float):
    """Area of the face, by the kernel, of flanges at random."""
    values = TWO_PORTS | {"outline": {"edge": 12, "boss": 13} | OUTLINES[kind]}
    values["port"] = [
        {"at": [0, 0], "opening": {"oval": [width, 30]}, "angle": turn},
        {"at": [pitch, 4], "opening": {"round": 30}},
    ]
    bolts = {"hole": 9, "at": [[-34, 18], [32, -22], [pitch - 32, 24], [pitch + 34, -16]]}
    more = {"fixed": 2} if slot >= 0.1 else {}
    values["bolts"] = [bolts | ({"slot": slot} if slot >= 0.1 else {})]
    plate = placed(FlangePart.model_validate(values | more))
    made = body(plate, [])
    faces = [face for face in made.Faces() if abs(face.normalAt().z) > 0.999 and face.Center().z > 5]
    assert sum(face.Area() for face in faces) == pytest.approx(plate.area, rel=1e-7)
    assert plate.area == pytest.approx(region(plate).area, rel=1e-6)


def test_slots_point_away_from_the_fixed_bolt():
    part = FlangePart.model_validate(
        TWO_PORTS
        | {
            "fixed": 1,
            "outline": {"edge": 12, "boss": 13, "fillet": 30},
            "bolts": [{"hole": 9, "slot": 2, "at": TWO_PORTS["bolts"][0]["at"]}],
        }
    )
    fixed, *others = part.holes()
    assert fixed.slot == 0.0 and isinstance(fixed.shape, Circle)
    for hole in others:
        away = np.subtract(hole.at, fixed.at)
        line = shapely.LineString([hole.at + s * away / np.linalg.norm(away) for s in (-1.0, 1.0)])
        stadium = line.buffer(4.5, quad_segs=2000)
        assert shapely.Polygon(hole.shape.points(1e-6)).symmetric_difference(stadium).area < 1e-3
        assert hole.shape.area == pytest.approx(np.pi * 4.5**2 + 2 * 9)


def test_cuts_leave_each_plate_its_own_bolts_where_they_can():
    one, other = flange(**OUTLINES["cut apart"]).edges()
    assert one.bounds()[2] == pytest.approx(48 - 1.5) and other.bounds()[0] == pytest.approx(48 + 1.5)
    assert gap(one, other) == pytest.approx(3.0)
    # Both halves of a bar from -32 - 13 to 128 + 13, 72 high, corners of 9.
    whole = 186 * 72 - (4 - np.pi) * 81
    assert one.area + other.area == pytest.approx(whole - 3 * 72)


def test_relief_cuts_are_slots_with_round_ends():
    plain, slit = (flange(**OUTLINES[kind]).edges()[0] for kind in ("bar", "slit above"))
    slit_bar = flange(bar={"height": 72, "radius": 9}, relief={"width": 4, "depth": 30, "side": "up"}).edges()[0]
    assert slit == slit_bar
    # Source: a slot of 28 by 4 and half a circle of 2, elementary.
    assert plain.area - slit.area == pytest.approx(28 * 4 + np.pi * 2)


@pytest.fixture(scope="module")
def kinds() -> rootgap.Manifold:
    return rootgap.load(KINDS)


def test_a_pipe_starts_at_the_bottom_of_its_socket(kinds: rootgap.Manifold):
    layout: Layout = kinds.layout
    for number in (1, 2):
        assert layout.runs[f"primary.{number}"].start.origin[2] == pytest.approx(12 - 5)
    # The pipe that goes through stops short of the joint's face.
    turbine = layout.plates["turbine"]
    assert (turbine.end.origin - layout.runs["log"].end.origin) @ turbine.end.axis == pytest.approx(2.0)


def test_sockets_are_milled_by_their_closed_form(kinds: rootgap.Manifold):
    head = kinds.layout.plates["head"]
    welds = [weld for weld in kinds.joints if isinstance(weld, FlangeWeld) and weld.plate == head.id]
    (od,) = {2 * weld.r_out for weld in welds}
    # Rectangle 32 x 28 with corners of 8: 896 - (4 - pi) 64.
    pocket = np.pi * (od / 2 + 0.2) ** 2 - (32 * 28 - (4 - np.pi) * 64)
    made = body(head, kinds.joints)
    assert len(made.Solids()) == 2
    assert bodies.volume(made) == pytest.approx(head.area * 12 - 2 * 5 * pocket, rel=1e-8)
    for weld in welds:
        pipe = next(piece for piece in kinds.layout.pieces() if piece.id == weld.pipe)
        assert bodies.common_volume(made, body(pipe, kinds.joints)) == 0.0
    (pattern,) = [pattern for pattern in kinds.patterns if pattern.name == head.id]
    marks = [item.shape for item in pattern.drawn if item.layer == "mark.socket"]
    assert [mark.radius for mark in marks] == pytest.approx([od / 2 + 0.2] * 2)
    assert any("Counterbore 42.60 mm, 5 mm deep" in note for note in pattern.notes)


def test_what_the_checks_say_of_it(kinds: rootgap.Manifold):
    found = {finding.check: finding for finding in all_checks(kinds.layout, kinds.joints)}
    assert found["pipe through flange"].value == pytest.approx(0.5 * (60.9 - 60.3))
    assert found["land"].value == pytest.approx(100 - 42.6)
    assert {finding.verdict for finding in found.values()} == {"pass"}


@pytest.mark.parametrize("name", PARTS)
def test_every_shipped_flange_is_one_region_in_file_and_solid(name: str):
    part = load_part(HERE.parents[1] / "parts" / name)
    plate = placed(part)
    meant = region(plate)
    assert plate.area == pytest.approx(meant.area, rel=1e-6)
    read = from_dxf(dxf_bytes(plate_pattern(plate, [], starts=True)))
    assert read.symmetric_difference(meant).area < 1e-5 * meant.area
    assert bodies.volume(body(plate, [])) == pytest.approx(plate.volume, rel=1e-9)
    if not name.startswith("head"):
        assert "measure your own" in part.note.lower() or name == "outlet-three-bolt.toml"
    for hole in part.holes():
        room = min(gap(hole.shape, edge) for edge in plate.outlines) + 0.5 * hole.diameter
        ring = shapely.Polygon(plate.outlines[0].points(1e-6)).exterior
        assert room == pytest.approx(ring.distance(shapely.Point(hole.at)), abs=2e-6)
        assert room >= 1.5 * hole.bolts.nominal - 1e-9


def test_the_sampling_flange_of_the_maritime_rule():
    part = load_part(HERE / "sampling.toml")
    plate = placed(part)
    (edge,) = plate.outlines
    assert edge.bounds() == pytest.approx((-80, -80, 80, 80), abs=2e-3)
    area = np.pi / 4 * (160**2 - 35**2 - 4 * 12**2)
    assert edge.area == pytest.approx(np.pi * 80**2)
    assert plate.area == pytest.approx(area) and plate.volume == pytest.approx(9 * area)
    assert bodies.volume(body(plate, [])) == pytest.approx(9 * area, rel=1e-9)
    assert from_dxf(dxf_bytes(plate_pattern(plate, [], starts=True))).area == pytest.approx(area, rel=1e-5)
    # Neighbouring holes on a circle of 130: chord D sin(pi / 4).
    assert gap(*plate.bolt_holes[:2]) == pytest.approx(130 * np.sin(np.pi / 4) - 12)
    assert gap(plate.bolt_holes[0], edge) == pytest.approx(15 - 6)
    assert gap(plate.openings[0], plate.bolt_holes[0]) == pytest.approx(65 - 17.5 - 6)
