"""Bodies of made passages against closed forms, their own sections and their ends' outlines."""

from __future__ import annotations

from pathlib import Path as FilePath

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap.geometry.convex import blended, convex
from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.passages import (
    Lobed,
    bore_volume,
    formed_volume,
    frustum_volume,
    round_rim,
    transition_volume,
)
from rootgap.geometry.paths import Circle, Shape
from rootgap.geometry.transition import Transition, formed, transition
from rootgap.joints import Cope
from rootgap.joints.merge import Merge
from rootgap.solids import whole
from rootgap.solids.bodies import bored, is_sound, plate, rod, volume
from rootgap.solids.passages import formed_pipe, frustum, lobed, passage

TILTED = Frame.looking((10.0, -20.0, 30.0), (1.0, 2.0, 0.5), (0.0, 1.0, 0.3))
ROUND = Round(42).shape()
# Outside and bore radii of NPS 1-1/2 and 2, schedule 40, mm. Source: ASME B36.10M.
NPS_1_1_2, NPS_2 = (24.15, 20.47), (30.15, 26.24)

PORTS: list[Opening] = [
    Round(40),
    Round(42),
    RoundedRectangle(45, 35, 8),
    RoundedRectangle(30, 20, 0),
    Oval(50, 30),
    Oval(30, 50),
    Dee(40, 60, 5),
    Dee(40, 14, 5),
    Dee(40, 20, 0),
]


def faces_at(body: cq.Solid, frame: Frame, station: float) -> list[cq.Face]:
    """The plane faces square to the axis at a station."""
    found = []
    for face in body.Faces():
        center = frame.to_local(face.Center().toTuple())
        square = face.geomType() == "PLANE" and abs(np.dot(face.normalAt().toTuple(), frame.axis)) > 1 - 1e-9
        if square and abs(center[2] - station) < 1e-6:
            found.append(face)
    return found


def hole_area(face: cq.Face) -> float:
    (hole,) = face.innerWires()
    return cq.Face.makeFromWires(hole).Area()


def section(body: cq.Solid, frame: Frame, station: float) -> cq.Face:
    """The body's section square to the axis at a station, cut by the kernel."""
    plane = cq.Plane(tuple(frame.advanced(station).origin), normal=tuple(frame.axis))
    cut = body.intersect(cq.Face.makePlane(400.0, 400.0, plane.origin, plane.zDir))
    (face,) = cut.Faces()
    return face


def in_plane(shape: Shape, frame: Frame) -> cq.Solid:
    """A plate 1 mm thick, drawn as a flange is, whose outline is `shape`."""
    if isinstance(shape, Circle):
        shape = convex(shape).path()
    return plate(frame, shape, [], 1.0)


@pytest.mark.parametrize("offset", [(0.0, 0.0), (5.0, 3.0)], ids=["in line", "eccentric"])
@pytest.mark.parametrize("to_round", [True, False], ids=["to round", "from round"])
@pytest.mark.parametrize("port", PORTS, ids=repr)
class TestPassage:
    @pytest.fixture
    def made(self, port: Opening, to_round: bool, offset: tuple[float, float]) -> Transition:
        rims = (port.shape(), ROUND) if to_round else (ROUND, port.shape())
        return transition(*rims, 60.0, 2.0, offset)

    def test_sound_and_of_its_volume(self, made):
        body = passage(TILTED, made)
        assert is_sound(body)
        assert volume(body) == pytest.approx(transition_volume(made), rel=1e-8)

    def test_ends_and_middle_have_the_bores_areas(self, made):
        body = passage(TILTED, made)
        (start,), (end,) = (faces_at(body, TILTED, station) for station in (0.0, made.length))
        faces = (start, section(body, TILTED, 0.5 * made.length), end)
        found = [hole_area(face) for face in faces]
        assert found == pytest.approx(list(made.areas([0.0, 0.5, 1.0])), rel=1e-7)
        # Simpson's rule over the kernel's own sections makes the kernel's volume; its areas are good to 1e-6.
        walls = [face.Area() for face in faces]
        assert np.dot([1, 4, 1], walls) * made.length / 6 == pytest.approx(volume(body), rel=5e-6)

    def test_bore_lines_up_with_a_port_of_the_plate(self, made, port, to_round, offset):
        """A plug of the port's own outline, drawn as the plate draws it, has the bore's edge."""
        body = passage(TILTED, made)
        frame = TILTED.advanced(0.0 if to_round else made.length)
        (face,) = faces_at(body, frame, 0.0)
        shape = placed(port.shape(), (0.0, 0.0) if to_round else offset, 0.0)
        (drawn,) = faces_at(in_plane(shape, frame), frame, 0.0)
        wire = drawn.outerWire()
        for edge in face.innerWires()[0].Edges():
            for share in (0.0, 0.3):
                assert cq.Vertex.makeVertex(*edge.positionAt(share).toTuple()).distance(wire) < 1e-6


def test_a_port_turned_by_a_hair_is_sound():
    """Arcs of the two rims that begin almost together leave slivers."""
    for angle in (1e-5, 1e-3, 0.3):
        made = transition(placed(RoundedRectangle(30, 20, 0).shape(), (0, 0), angle), Oval(50, 30).shape(), 60, 2)
        body = passage(TILTED, made)
        assert is_sound(body)
        assert volume(body) == pytest.approx(transition_volume(made), rel=1e-6)


def test_wall_is_the_sheets():
    """On each ruling's plane the outside lies a wall off the bore."""
    made = transition(RoundedRectangle(45, 35, 8).shape(), ROUND, 40, 3.0, (5, 3))
    (low, high, t), (low_out, _, _) = (made.rims(0.0, depth=depth) for depth in (0.0, 1.0))
    along = high - low
    tangent = np.column_stack([-np.sin(t), np.cos(t), np.zeros(t.size)])
    normal = np.cross(tangent, along)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    assert np.einsum("ij,ij->i", low_out - low, normal) == pytest.approx(3.0, rel=1e-9)


def test_concentric_passage_is_a_cone_less_a_cone():
    made = transition(Round(52.5).shape(), Round(40.9).shape(), 76, 3.0)
    out = 3.0 * np.hypot(76, 5.8) / 76
    expected = frustum_volume(76, (26.25 + out, 26.25), (20.45 + out, 20.45))
    assert transition_volume(made) == pytest.approx(expected, rel=1e-12)
    body = passage(TILTED, made)
    assert volume(body) == pytest.approx(expected, rel=1e-9)
    assert {face.geomType() for face in body.Faces()} == {"PLANE", "CONE"}


def test_bore_volume_by_many_sections():
    """Source: Gauss's rule on sections, against Simpson's on three."""
    made = transition(Dee(40, 60, 5).shape(), ROUND, 60.0, 2.0, (5, 3))
    nodes, weights = np.polynomial.legendre.leggauss(5)
    assert 30.0 * weights @ made.areas(0.5 * (nodes + 1)) == pytest.approx(bore_volume(made), rel=1e-12)


class TestFrustum:
    @pytest.mark.parametrize("offset", [0.0, 6.0])
    def test_volume(self, offset):
        """Source: pi h / 3 (R^2 + R r + r^2); moved sideways in slices it stays (Cavalieri)."""
        body = frustum(TILTED, 76.0, NPS_2, NPS_1_1_2, offset, 30.0)
        expected = np.pi * 76 / 3 * (30.15**2 + 30.15 * 24.15 + 24.15**2 - 26.24**2 - 26.24 * 20.47 - 20.47**2)
        assert is_sound(body)
        assert volume(body) == pytest.approx(expected, rel=1e-8)
        assert frustum_volume(76.0, NPS_2, NPS_1_1_2) == pytest.approx(expected, rel=1e-12)

    def test_end_lies_towards_the_clock(self):
        body = frustum(TILTED, 76.0, NPS_2, NPS_1_1_2, 6.0, 30.0)
        (end,) = faces_at(body, TILTED, 76.0)
        middle = TILTED.advanced(76.0).origin + 6.0 * TILTED.radial(np.radians(30.0))
        assert end.Center().toTuple() == pytest.approx(tuple(middle), abs=1e-6)
        circles = [edge for edge in end.Edges() if edge.geomType() == "CIRCLE"]
        assert sorted({round(edge.radius(), 9) for edge in circles}) == [20.47, 24.15]

    def test_refusals(self):
        with pytest.raises(ValueError, match="no wall"):
            frustum(TILTED, 76.0, NPS_2, (20.0, 20.0))


class TestFormedPipe:
    @pytest.mark.parametrize("more", [0.0, 25.0])
    @pytest.mark.parametrize(
        ("port", "sits"),
        # In the port lies only what has no corner tighter than the wall.
        [(port, "on") for port in PORTS] + [(port, "in") for port in PORTS if convex(port.shape()).radii.min() > 2.8],
        ids=repr,
    )
    def test_sound_and_of_its_volume(self, port, sits, more):
        end = formed(port.shape(), 48.3, 2.8, sits)
        body = formed_pipe(TILTED, end, end.worked, end.worked + more)
        assert is_sound(body)
        assert volume(body) == pytest.approx(formed_volume(end, end.worked, end.worked + more), rel=1e-8)
        (start,) = faces_at(body, TILTED, 0.0)
        assert start.Area() == pytest.approx(end.outside.area - end.area, rel=1e-7)
        (far,) = faces_at(body, TILTED, end.worked + more)
        assert far.Area() == pytest.approx(np.pi * (24.15**2 - 21.35**2), rel=1e-9)

    def test_half_way_the_bore_is_half_way(self):
        end = formed(Oval(50, 30).shape(), 48.3, 2.8)
        body = formed_pipe(TILTED, end, 40.0, 90.0)
        half = blended(convex(end.bore), round_rim(21.35), 0.5)
        assert hole_area(section(body, TILTED, 20.0)) == pytest.approx(half.area, rel=1e-7)
        assert hole_area(section(body, TILTED, 60.0)) == pytest.approx(np.pi * 21.35**2, rel=1e-9)
        assert sum(face.geomType() == "CYLINDER" for face in body.Faces()) >= 4

    def test_corner_as_tight_as_the_wall(self):
        end = formed(RoundedRectangle(45, 35, 2.8).shape(), 48.3, 2.8, "in")
        body = formed_pipe(TILTED, end, 30.0, 60.0)
        assert is_sound(body)
        assert volume(body) == pytest.approx(formed_volume(end, 30.0, 60.0), rel=1e-8)

    def test_refusals(self):
        end = formed(Oval(50, 30).shape(), 48.3, 2.8)
        with pytest.raises(ValueError, match="cannot be formed over"):
            formed_pipe(TILTED, end, 40.0, 30.0)


def opening(count: int, station: float) -> tuple[Merge, Lobed, Lobed]:
    """A merge of NPS 1-1/2 legs, and the skins of the cone from its opening to NPS 2."""
    merge = Merge("collector", TILTED, count, 10.0, *NPS_1_1_2, 400.0, outlet=station)
    corners = merge.wedge * (2 * np.arange(count) + 1)
    outside, bore = (
        Lobed(lambda psi, r=r: merge.outline(station, r, psi), corners, radius, 90.0)
        for r, radius in zip(NPS_1_1_2, NPS_2, strict=True)
    )
    return merge, outside, bore


class TestLobed:
    @pytest.mark.parametrize("station", [-117.0, -60.0, 0.0, 60.0])
    @pytest.mark.parametrize("count", [2, 3, 4])
    def test_sound_and_of_its_volume(self, count, station):
        merge, outside, bore = opening(count, station)
        assert bore.areas(0.0)[0] == pytest.approx(merge.opening_area(station, merge.r_in), rel=1e-10)
        body = lobed(TILTED, bore.outline, outside.outline, bore.corners, bore.radius, outside.radius, 90.0)
        assert is_sound(body)
        assert volume(body) == pytest.approx(outside.volume - bore.volume, rel=1e-8)
        (start,) = faces_at(body, TILTED, 0.0)
        assert hole_area(start) == pytest.approx(bore.areas(0.0)[0], rel=1e-6)
        assert hole_area(section(body, TILTED, 45.0)) == pytest.approx(bore.areas(0.5)[0], rel=1e-6)

    def test_starts_on_the_legs(self):
        """Half way up a lobe and in a seam the start's edge lies on the leg's outside."""
        merge, outside, bore = opening(3, -60.0)
        frame = merge.frame.advanced(-60.0)
        body = lobed(frame, bore.outline, outside.outline, bore.corners, bore.radius, outside.radius, 90.0)
        (start,) = faces_at(body, frame, 0.0)
        leg = merge.leg(0)
        for edge in start.outerWire().Edges():
            points = np.array([edge.positionAt(share).toTuple() for share in (0.0, 0.5, 1.0)])
            psi = np.arctan2(*(frame.to_local(points) @ np.eye(3)[:, [1, 0]]).T)
            near = np.abs(psi) < merge.wedge + 1e-6
            local = leg.to_local(points[near])
            assert np.hypot(local[:, 0], local[:, 1]) == pytest.approx(merge.r_out, abs=1e-6)

    def test_least_area_may_lie_on_the_way(self):
        wavy = Lobed(lambda psi: 30 + 12 * np.cos(3 * psi), np.array([]), 31.0, 50.0)
        least, share = wavy.least_area
        areas = wavy.areas(np.linspace(0, 1, 1001))
        assert 0 < share < 1
        assert least == pytest.approx(areas.min(), rel=1e-6)
        assert least < min(areas[0], areas[-1])


def test_bodies_are_drilled_like_any_other():
    made = transition(RoundedRectangle(45, 35, 8).shape(), ROUND, 60.0, 2.0, (5.0, 3.0))
    body = passage(TILTED, made)
    drill = rod(Frame.looking(TILTED.advanced(30.0).origin, TILTED.side), 0.0, 60.0, 6.0)
    drilled = bored(body, [drill])
    assert is_sound(drilled)
    # About the drill's section times the wall.
    assert volume(body) - volume(drilled) == pytest.approx(np.pi * 36 * 2.0, rel=0.05)


def test_step_files_hold_them(tmp_path: FilePath):
    sharp = transition(RoundedRectangle(30, 20, 0).shape(), ROUND, 60.0, 2.0, (5.0, 3.0))
    _, outside, bore = opening(4, -60.0)
    end = formed(Dee(40, 60, 5).shape(), 48.3, 2.8)
    bodies = [
        passage(TILTED, sharp),
        frustum(TILTED, 76.0, NPS_2, NPS_1_1_2, 6.0),
        formed_pipe(TILTED, end, 40.0, 70.0),
        lobed(TILTED, bore.outline, outside.outline, bore.corners, bore.radius, outside.radius, 90.0),
    ]
    for number, body in enumerate(bodies):
        path = tmp_path / f"{number}.step"
        cq.exporters.export(cq.Workplane(obj=body), str(path))
        (read,) = cq.importers.importStep(str(path)).solids().vals()
        assert is_sound(read)
        assert volume(read) == pytest.approx(volume(body), rel=1e-9)


def test_a_hole_partly_beside_an_elbows_bore_is_told_and_still_made(tmp_path):
    """Its metal has no closed form: the check says so, and the build does not end in a fault of the kernel's."""
    file = tmp_path / "case.toml"
    file.write_text(
        """
name = "case"
units = "mm"
[stock.primary]
pipe = "1-1/4 sch 40"
material = "A53 B"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[run.log]
stock = "log"
start = { at = [-60, 0, 120], along = [1, 0, 0], ref = [0, 0, -1] }
pieces = [{ straight = 100 }, { elbow = "LR", clock = 180 }, { straight = 150 }]
ends = ["cap", "cap"]
[run.b]
stock = "primary"
start = { at = [150, 3, 20], along = [0, 0, 1] }
pieces = [{ straight = "fill" }]
ends = ["cap", { cope = "log" }]
""",
        encoding="utf-8",
    )
    manifold = rootgap.load(file)
    (cope,) = (joint for joint in manifold.joints if isinstance(joint, Cope))
    assert not cope.opens_wholly
    assert "fail" in [finding.verdict for finding in manifold.checks() if finding.check == "bore within bore"]
    elbow = next(piece for piece in manifold.layout.pieces() if piece.id == "log-b")
    made = whole.body(elbow, manifold.joints)
    assert is_sound(made)
    assert volume(made) < elbow.volume


@pytest.mark.parametrize("lean", [90, 45])
def test_a_hole_as_wide_as_a_bends_bore_leaves_its_far_wall_whole(tmp_path, lean):
    """Held against the hole's own integral: a flat-ended tool would run along the far wall."""
    file = tmp_path / "case.toml"
    file.write_text(
        f"""
name = "case"
units = "mm"
[stock.pipe]
pipe = "1-1/4 sch 40"
material = "A53 B"
[run.log]
stock = "pipe"
start = {{ at = [0, 0, 0], along = [1, 0, 0], ref = [0, 0, -1] }}
pieces = [{{ bend = 200, angle = 90 }}]
ends = ["cap", "cap"]
[run.b]
stock = "pipe"
start = {{ off = "log", station = 150, clock = 270, lean = {lean} }}
pieces = [{{ straight = 40 }}]
end = "cap"
""",
        encoding="utf-8",
    )
    manifold = rootgap.load(file)
    (cope,) = (joint for joint in manifold.joints if isinstance(joint, Cope))
    assert cope.opens_wholly
    bend = next(piece for piece in manifold.layout.pieces() if piece.id == "log-a")
    assert volume(whole.body(bend, manifold.joints)) == pytest.approx(bend.volume - cope.hole_volume, rel=1e-3)
