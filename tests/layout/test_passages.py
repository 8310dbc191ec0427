"""Reducers, cones, transitions, formed ends and salvaged pieces: placed, made solid, told."""

from __future__ import annotations

import json
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError
from rootgap.geometry.polygons import to_outline
from rootgap.joints import FlangeWeld, Merge, OutletWeld, SalvageWeld
from rootgap.layout import Cone, LobedCone, Reducer, Straight, Transition
from rootgap.report import joint_rows
from rootgap.solids.bodies import common_volume, is_sound, volume
from rootgap.solids.whole import body
from rootgap.writers.cutlist import cut_rows

STOCKS = """
name = "case"
units = "mm"
[stock.small]
pipe = "1-1/2 sch 40"
material = "A53 B"
[stock.large]
pipe = "2 sch 40"
material = "A53 B"
[stock.tube]
tube = "1-1/2 x 16 ga"
material = "304L"
"""
# Outside and bore radii of NPS 1-1/2 and 2, schedule 40, mm. Source: ASME B36.10M.
SMALL, LARGE = (24.15, 20.47), (30.15, 26.24)
OPEN = "{ at = [10, -20, 30], along = [1, 2, 0.5] }"
DEE = "{ dee = [40, 34], radius = 6 }"


def loaded(tmp_path: Path, text: str) -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(STOCKS + text, encoding="utf-8")
    return rootgap.load(file)


def in_the_open(tmp_path: Path, piece: str, stock: str = "small") -> rootgap.Manifold:
    run = f'[run.a]\nstock = "{stock}"\nstart = {OPEN}\npieces = [{{ straight = 30 }}, {piece}, {{ straight = 20 }}]\n'
    return loaded(tmp_path, run)


def at_a_port(tmp_path: Path, pieces: str, opening: str = DEE, angle: float = 25.0, stock: str = "tube"):
    """A run that starts at the second port of a plate, its opening turned."""
    return loaded(
        tmp_path,
        f"""
[run.a]
stock = "{stock}"
start = "head.port.2"
pieces = [{pieces}]
[flange.head]
name = "head"
kind = "flange"
units = "mm"
material = "304L"
thickness = 10
outline = {{ edge = 12, boss = 12, fillet = 20 }}
[[flange.head.port]]
at = [0, 0]
opening = {{ round = 30 }}
[[flange.head.port]]
at = [70, 5]
opening = {opening}
angle = {angle}
""",
    )


def middle(manifold: rootgap.Manifold):
    return manifold.layout.runs["a"].pieces[1]


def first(manifold: rootgap.Manifold):
    return manifold.layout.runs["a"].pieces[0]


def joints_of(manifold: rootgap.Manifold, kind: type):
    return [joint for joint in manifold.joints if isinstance(joint, kind)]


class TestReducer:
    """NPS 2 x 1-1/2 is 76 mm long. Source: ASME B16.9, H, by public transcriptions."""

    @pytest.mark.parametrize(("stock", "other"), [("small", "large"), ("large", "small")])
    @pytest.mark.parametrize("side", ["", ', side = "eccentric", clock = 90'])
    def test_is_the_tables_and_a_frustum(self, tmp_path, stock, other, side):
        manifold = in_the_open(tmp_path, f'{{ reducer = "{other}"{side} }}', stock)
        piece = middle(manifold)
        assert isinstance(piece, Reducer)
        assert piece.length == 76
        # Source: pi h / 3 (R^2 + R r + r^2); ends that are not in line change nothing (Cavalieri).
        expected = np.pi * 76 / 3 * (30.15**2 + 30.15 * 24.15 + 24.15**2 - 26.24**2 - 26.24 * 20.47 - 20.47**2)
        solid = body(piece, manifold.joints)
        assert is_sound(solid)
        assert volume(solid) == pytest.approx(expected, rel=1e-8)
        assert piece.volume == pytest.approx(expected, rel=1e-12)
        assert "NPS 2 x 1-1/2" in piece.made_from
        assert "bell-shaped" in piece.made_from
        # What follows is of the other stock, and no butt has a step.
        assert manifold.layout.runs["a"].pieces[2].stock.label == piece.leaves.label
        assert [joint.step for joint in manifold.joints] == pytest.approx([0.0, 0.0], abs=1e-9)

    @pytest.mark.parametrize(("stock", "other"), [("small", "large"), ("large", "small")])
    def test_an_eccentric_one_is_flat_at_its_clock(self, tmp_path, stock, other):
        """The offset is half the difference of the outsides, 6.00 mm; on the flat side both outsides are in line."""
        piece = middle(in_the_open(tmp_path, f'{{ reducer = "{other}", side = "eccentric", clock = 90 }}', stock))
        flat = piece.start.radial(np.radians(90.0))
        moved = piece.end.origin - piece.start.origin
        assert np.linalg.norm(moved - 76 * piece.start.axis) == pytest.approx(6.0)
        low, high = (frame.origin @ flat + pipe.r_out
                     for frame, pipe in ((piece.start, piece.stock), (piece.end, piece.leaves)))  # fmt: skip
        assert low == pytest.approx(high)
        u = np.full(9, 0.25)
        assert piece.skin()(u, np.linspace(0, 1, 9)) @ flat == pytest.approx(low)

    def test_its_skin_is_its_outside(self, tmp_path):
        piece = middle(in_the_open(tmp_path, '{ reducer = "large" }'))
        points = piece.skin()(*np.random.default_rng(3).random((2, 200)))
        assert piece.filled.distance(points) == pytest.approx(0.0, abs=1e-9)

    def test_bore_steps_are_asked_of_the_stock_at_each_side(self, tmp_path):
        findings = in_the_open(tmp_path, '{ reducer = "large" }').checks()
        steps = [finding.value for finding in findings if finding.check == "possible bore step"]
        # Fitting 0.8 on the bore: 0.4 on the radius; pipe: half its OD tolerance, and 12.5 % of its wall.
        assert len(steps) == 2
        assert max(steps) < 1.6


class TestCone:
    @pytest.mark.parametrize(("stock", "other", "ends"), [("small", "large", (20.47, 26.24)),
                                                          ("large", "small", (26.24, 20.47))])  # fmt: skip
    def test_right(self, tmp_path, stock, other, ends):
        manifold = in_the_open(tmp_path, f'{{ cone = "{other}", length = 60, thickness = 3 }}', stock)
        piece = middle(manifold)
        assert isinstance(piece, Cone)
        # Pappus: the wall's section is a parallelogram; across it is thicker than the sheet, for it leans.
        across = 3.0 * np.hypot(60.0, ends[1] - ends[0]) / 60.0
        expected = 2.0 * np.pi * (np.mean(ends) + 0.5 * across) * across * 60.0
        assert volume(body(piece, manifold.joints)) == pytest.approx(expected, rel=1e-8)
        assert piece.volume == pytest.approx(expected, rel=1e-9)
        assert piece.areas[[0, -1]] == pytest.approx(np.pi * np.square(ends))
        points = piece.skin()(*np.random.default_rng(3).random((2, 200)))
        assert np.abs(piece.filled.distance(points)).max() < 0.1
        (pattern,) = [each for each in manifold.patterns if each.name == "a-b.development"]
        assert pattern.title.startswith("Cone 40.94 to 52.48" if stock == "small" else "Cone 52.48 to 40.94")

    def test_eccentric(self, tmp_path):
        manifold = in_the_open(tmp_path, '{ cone = "large", length = 60, offset = 8, clock = 90, material = "304L" }')
        piece = middle(manifold)
        moved = piece.end.origin - piece.start.origin
        assert moved == pytest.approx(60 * piece.start.axis + 8 * piece.start.side)
        assert piece.stock.material.grade == "304L"
        assert piece.stock.wall == 3.68  # NPS 1-1/2 schedule 40. Source: ASME B36.10M
        assert is_sound(body(piece, manifold.joints))
        assert any(each.name == "a-b.development" for each in manifold.patterns)
        # The body's end face stands about the end's middle.
        bores = [cq.Face.makeFromWires(wire) for face in body(piece, ()).Faces() for wire in face.innerWires()]
        ends = [bore.Center().toTuple() for bore in bores]
        assert min(np.linalg.norm(np.array(end) - piece.end.origin) for end in ends) < 1e-6

    def test_on_a_collector_it_begins_as_the_lobes(self):
        manifold = rootgap.load(Path(__file__).parent.parent.parent / "assemblies" / "kart-four-collector.toml")
        (cone,) = [piece for piece in manifold.layout.pieces() if isinstance(piece, LobedCone)]
        (weld,) = joints_of(manifold, OutletWeld)
        (merge,) = joints_of(manifold, Merge)
        station = merge.outlet
        assert cone.areas[0] == pytest.approx(merge.opening_area(station, merge.r_in), rel=1e-9)
        assert cone.areas[-1] == pytest.approx(np.pi * cone.leaves.r_in**2)
        psi = np.radians(np.arange(0.0, 360.0, 5.0))
        rim = cone.skin()(psi / (2 * np.pi), np.zeros(psi.size))
        outline = merge.outline(station, merge.r_out, psi)
        assert np.linalg.norm(rim - cone.start.origin, axis=1) == pytest.approx(outline)
        assert weld.weld_length == pytest.approx(merge.girth(station, merge.r_out))
        assert cone.filled.distance(cone.skin()(*np.random.default_rng(3).random((2, 500)))).min() > -1e-9


    def test_a_pinch_on_its_way_is_warned_of(self, tmp_path):
        """Two legs to round of equal area: half way there are 2440 of 2538 mm2, by sectors at many angles."""
        manifold = loaded(
            tmp_path,
            """
[stock.leg]
pipe = { od = 43, wall = 1.5 }
material = "304L"
[stock.out]
pipe = { od = 59.84, wall = 1.5 }
material = "304L"
[collector.two]
at = [0, 0, 0]
along = [0, 0, 1]
half_angle = 10
across = 82.45
legs = ["l", "r"]
[run.l]
stock = "leg"
start = { at = [0, 80, -453.69], along = [0, -0.17365, 0.98481] }
pieces = [
    { straight = 10 }, { bend = 60, angle = "aim" }, { straight = "fill" },
    { bend = 60, angle = "aim" }, { straight = 200 },
]
end = { merge = "two" }
[run.r]
stock = "leg"
start = { at = [0, -80, -453.69], along = [0, 0.17365, 0.98481] }
pieces = [
    { straight = 10 }, { bend = 60, angle = "aim" }, { straight = "fill" },
    { bend = 60, angle = "aim" }, { straight = 200 },
]
end = { merge = "two" }
[run.a]
stock = "out"
start = "two.out"
pieces = [{ cone = "out", length = 90 }]
""",
        )
        cone = first(manifold)
        assert isinstance(cone, LobedCone)
        psi = 2.0 * np.pi * (np.arange(200_000) + 0.5) / 200_000
        half = 0.5 * (cone.bore.outline(psi) + 28.42)
        assert cone.areas[2] == pytest.approx(np.pi * np.mean(half**2), rel=1e-6)
        (finding,) = [each for each in manifold.checks() if each.check == "pinch"]
        assert finding.value == pytest.approx(0.962, abs=1e-3)
        assert finding.verdict == "warn"


class TestTransition:
    def test_lines_up_with_its_port_in_the_plate(self, tmp_path):
        """A turned opening that is no mirror image of itself: every point of the bore's edge is on the hole's."""
        manifold = at_a_port(tmp_path, '{ transition = "tube", length = 50 }, { straight = 30 }')
        piece = first(manifold)
        assert isinstance(piece, Transition)
        plate = body(manifold.layout.plates["head"], manifold.joints)
        made = body(piece, manifold.joints)
        hole = [wire for face in plate.Faces() for wire in face.innerWires()]
        start = [
            face
            for face in made.Faces()
            if face.geomType() == "PLANE" and np.linalg.norm(face.Center().toTuple() - piece.start.origin) < 5.0
        ]
        (bore,) = [wire for face in start for wire in face.innerWires()]
        for edge in bore.Edges():
            for share in (0.0, 0.4):
                vertex = cq.Vertex.makeVertex(*edge.positionAt(share).toTuple())
                assert min(vertex.distance(wire) for wire in hole) < 1e-5
        assert common_volume(plate, made) < 1e-3

    def test_its_weld_goes_round_its_own_outside(self, tmp_path):
        manifold = at_a_port(tmp_path, '{ transition = "tube", length = 50 }', "{ oval = [44, 30] }", 0.0)
        (weld,) = joints_of(manifold, FlangeWeld)
        # Girth of an oval: 2 (44 - 30) + 30 pi, and 2 pi more for each mm of wall; the wall leans, so a little more.
        plain = 28 + 30 * np.pi + 2 * np.pi * 1.651
        assert plain < weld.weld_length < 1.005 * plain
        assert weld.overlap == 0.0
        assert first(manifold).areas[0] == pytest.approx(30 * 14 + np.pi * 15**2)

    def test_its_skin_is_its_bodys(self, tmp_path):
        manifold = at_a_port(tmp_path, '{ transition = "tube", length = 50 }')
        piece = first(manifold)
        made = body(piece, manifold.joints)
        for point in piece.skin()(*np.random.default_rng(3).random((2, 40))):
            assert cq.Vertex.makeVertex(*point).distance(made) < 0.005
        assert piece.filled.distance(piece.skin()(*np.random.default_rng(4).random((2, 500)))).min() > -0.005


class TestFormedEnd:
    def test_on_a_port(self, tmp_path):
        manifold = at_a_port(tmp_path, '{ straight = 40, formed = "on" }', "{ oval = [38, 31] }", 0.0)
        piece = first(manifold)
        assert isinstance(piece, Straight)
        # Girths of the oval, 2 x 7 + 31 pi, and of a bore of 38.1 - 2 x 1.651 mm.
        assert piece.formed.difference == pytest.approx(14 + 31 * np.pi - 34.798 * np.pi)
        (weld,) = joints_of(manifold, FlangeWeld)
        assert weld.weld_length == pytest.approx(14 + (31 + 2 * 1.651) * np.pi)
        assert weld.overlap == 0.0
        made = body(piece, manifold.joints)
        assert is_sound(made)
        assert volume(made) == pytest.approx(piece.volume, rel=1e-7)
        assert [pattern.kind for pattern in manifold.patterns if pattern.name.startswith("a-a")] == ["former"]
        (finding,) = [each for each in manifold.checks() if each.check == "girth"]
        assert finding.value == pytest.approx(100 * abs(piece.formed.difference) / (np.pi * (38.1 - 1.651)))
        assert finding.verdict == "pass"

    def test_in_a_port_it_keeps_its_shape_through_the_plate(self, tmp_path):
        manifold = at_a_port(tmp_path, '{ straight = 40, formed = "in" }', "{ oval = [42, 37] }")
        piece = first(manifold)
        assert (piece.held, piece.length) == (10, 50)
        assert piece.end.origin == pytest.approx(manifold.layout.runs["a"].start.advanced(40).origin)
        made, plate = body(piece, ()), body(manifold.layout.plates["head"], ())
        assert is_sound(made)
        assert common_volume(made, plate) < 1e-3
        # Half a millimetre all round, the clearance of a set-in branch; past the plate the pipe flares at once.
        assert 0.5 * np.cos(np.radians(15.0)) < made.distance(plate) <= 0.5 + 1e-6
        for point in piece.skin()(*np.random.default_rng(3).random((2, 40))):
            assert cq.Vertex.makeVertex(*point).distance(made) < 0.005

    def test_beyond_five_percent_there_is_a_warning(self, tmp_path):
        findings = at_a_port(tmp_path, '{ straight = 60, formed = "on" }', "{ oval = [50, 31] }").checks()
        (finding,) = [each for each in findings if each.check == "girth"]
        assert finding.verdict == "warn"
        assert "109.3 mm round and must measure 135.4 mm (+26.1 mm)" in finding.advice

    def test_corners_tighter_than_its_wall_are_refused(self, tmp_path):
        manifold = at_a_port(tmp_path, '{ straight = 60, formed = "in" }', "{ rounded = [40, 36], radius = 2 }")
        with pytest.raises(GeometryError, match=r"radius 2 mm, is tighter than the wall and clearance of 2\.15 mm"):
            _ = manifold.layout


SALVAGE = """
[salvage.hot]
at = [0, 300, 200]
along = [0, 0.2, 1]
opening = {opening}
wall = 4.5
{more}
[run.a]
stock = "tube"
start = "hot.cut"
pieces = [{pieces}]
end = "open"
"""


class TestSalvage:
    def test_a_transition_meets_its_bore(self, tmp_path):
        text = SALVAGE.format(
            opening="{ oval = [44, 36] }", more="", pieces='{ transition = "tube", length = 50 }, { straight = 20 }'
        )
        manifold = loaded(tmp_path, text)
        (weld,) = joints_of(manifold, SalvageWeld)
        assert weld.girths == pytest.approx([16 + 36 * np.pi] * 2)
        assert weld.step == 0.0
        # The thinner wall's outside is the smaller.
        assert weld.weld_length == pytest.approx(16 + 36 * np.pi + 2 * np.pi * 1.651)
        assert weld.frame.axis == pytest.approx(first(manifold).start.axis)

    def test_every_output_says_that_its_metal_is_not_known(self, tmp_path):
        text = SALVAGE.format(opening="{ round = 35 }", more="", pieces="{ straight = 20 }")
        manifold = loaded(tmp_path, text)
        unknown = "metal unknown until stated"
        assert any(unknown in row[1] for row in joint_rows(manifold.joints))
        (row,) = cut_rows(manifold.layout, manifold.joints, manifold.patterns)
        assert unknown in row.start_end
        (finding,) = [each for each in manifold.checks() if each.check == "metal"]
        assert finding.verdict == "warn"
        assert "unknown until stated" in finding.advice
        manifest = json.loads((manifold.templates(tmp_path).folder / "manifest.json").read_text(encoding="utf-8"))
        (joint,) = [each for each in manifest["joints"] if each["kind"] == "salvage weld"]
        assert joint["metal"] == unknown
        assert joint["step"] == pytest.approx(0.5 * (35 - 34.798))

    def test_stated_it_is_told(self, tmp_path):
        text = SALVAGE.format(opening="{ round = 35 }", more='material = "304L"', pieces="{ straight = 20 }")
        manifold = loaded(tmp_path, text)
        (weld,) = joints_of(manifold, SalvageWeld)
        assert weld.told == "304L"
        (finding,) = [each for each in manifold.checks() if each.check == "metal"]
        assert finding.verdict == "pass"


def test_what_is_not_in_line_has_no_body_for_overlap_but_a_skin(tmp_path):
    piece = middle(in_the_open(tmp_path, '{ cone = "large", length = 60, offset = 8, clock = 30 }'))
    assert piece.filled is None
    rim = piece.skin()(np.linspace(0, 1, 50), np.ones(50))
    away = np.linalg.norm(rim - piece.end.origin, axis=1)
    assert away == pytest.approx(np.full(50, 26.24 + 3.68), rel=0.03)


@pytest.mark.parametrize(
    "piece", ['{ transition = "tube", length = 45 }', '{ straight = 60, formed = "on" }', "{ straight = 60 }"]
)
def test_a_plate_is_marked_where_a_start_of_its_openings_shape_stands(tmp_path, piece):
    """The mark is the wall's outside: all round it lies a wall off the opening, however that is turned."""
    manifold = at_a_port(tmp_path, f"{piece}, {{ straight = 20 }}")
    plate = next(pattern for pattern in manifold.patterns if pattern.kind == "plate")
    (mark,) = (item.shape for item in plate.drawn if item.layer == "mark")
    opening = next(iter(manifold.layout.plates.values())).openings[1]
    apart = to_outline(opening.points(0.001), mark.points(0.001))
    shaped = piece != "{ straight = 60 }"
    assert (np.ptp(apart) < 0.01) == shaped
    if shaped:
        assert apart == pytest.approx(np.full(apart.shape, 1.651), abs=0.01)


def test_a_formed_end_in_its_opening_is_not_marked_on_the_plate(tmp_path):
    manifold = at_a_port(tmp_path, '{ straight = 60, formed = "in" }, { straight = 20 }')
    plate = next(pattern for pattern in manifold.patterns if pattern.kind == "plate")
    assert not [item for item in plate.drawn if item.layer == "mark"]
