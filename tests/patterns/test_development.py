"""Developments as patterns: one closed outline, bend lines inside it, and files that hold them."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest
from pypdfium2 import PdfDocument
from shapely.geometry import LineString, Point, Polygon

from rootgap.geometry.development import Development, developed, right_cone
from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import Oval, Round, RoundedRectangle
from rootgap.geometry.passages import Lobed
from rootgap.geometry.paths import Path
from rootgap.geometry.transition import transition
from rootgap.joints.merge import Merge
from rootgap.patterns.development import best_seam, cone_pattern, lobed_pattern, transition_pattern
from rootgap.patterns.pattern import TEMPLATES, Pattern, purpose
from rootgap.patterns.printing import PrintSetup
from rootgap.writers.dxf import dxf_bytes
from rootgap.writers.sheets import templates

PASSAGE = transition(RoundedRectangle(45, 35, 8).shape(), Round(40.9).shape(), 60, 2.0, (4, 6))
STATION = -60.0
MERGES = {
    count: Merge("collector", Frame.looking((0, 0, 0), (0, 0, 1)), count, 10.0, 24.15, 20.47, 400.0, outlet=STATION)
    for count in (2, 3, 4)
}
PATTERNS = [
    cone_pattern("outlet.cone", 52.5, 40.9, 76, 3, "304L"),
    cone_pattern("inlet.cone", 40.9, 52.5, 30, 3, "304L"),
    transition_pattern("port.1", PASSAGE, "304L"),
    transition_pattern("eccentric", transition(Round(52.5).shape(), Round(40.9).shape(), 76, 3, (5.8, 0)), "304L"),
    transition_pattern("oval", transition(Oval(50, 30).shape(), Round(40.9).shape(), 60, 2), "304L", 0.0),
    *(lobed_pattern(f"cone.{count}", merge, STATION, 62.7, 120.0, 2.0, "304L") for count, merge in MERGES.items()),
]


def outline(pattern: Pattern) -> Path:
    (cut,) = [item.shape for item in pattern.drawn if item.layer == "cut"]
    assert isinstance(cut, Path)
    return cut


@pytest.mark.parametrize("pattern", PATTERNS, ids=lambda pattern: pattern.name)
class TestEach:
    def test_bend_lines_run_from_edge_to_edge(self, pattern):
        sheet = Polygon(outline(pattern).points(1e-4))
        assert sheet.is_valid
        marks = [item.shape for item in pattern.drawn if purpose(item.layer) == "mark"]
        lines = [LineString([v[:2] for v in mark.vertices]) for mark in marks]
        assert len(lines) >= 20
        for line in lines:
            assert line.difference(sheet.buffer(0.02)).is_empty
            assert max(sheet.exterior.distance(end) for end in line.boundary.geoms) < 0.02

    def test_its_lettering_reads_upright_the_name_on_the_sheet_and_the_rims_and_seams_beside_it(self, pattern):
        sheet = Polygon(outline(pattern).points(1e-2))
        for label in pattern.labels:
            assert -90.0 <= label.angle <= 90.0, label.text
            on = Point(*label.at).within(sheet)
            assert on == (label.text in (pattern.name, "OUTSIDE", "crease")), label.text
            if label.text == "seam":
                top = complex(*label.at) + label.height * 1j * np.exp(1j * np.radians(label.angle))
                assert not Point(top.real, top.imag).within(sheet)

    def test_outline_is_anticlockwise_and_holds_the_seams(self, pattern):
        cut = outline(pattern)
        assert cut.closed
        assert cut.area > 0
        seams = [item.shape for item in pattern.drawn if item.layer == "edge.seam"]
        assert len(seams) == 2
        assert seams[0].length == pytest.approx(seams[1].length, rel=1e-9)
        corners = np.array([v[:2] for v in cut.vertices])
        for seam in seams:
            for x, y, _ in seam.vertices:
                assert np.hypot(*(corners - (x, y)).T).min() < 1e-9

    def test_files_hold_it(self, pattern):
        assert pattern.kind in TEMPLATES
        document = ezdxf.read(io.StringIO(dxf_bytes(pattern).decode()))
        (cut,) = document.modelspace().query("LWPOLYLINE[layer=='cut']")
        assert cut.closed
        assert Path(tuple(cut.get_points("xyb")), closed=True).area == pytest.approx(outline(pattern).area, rel=1e-9)
        data = templates([pattern], PrintSetup(), "Developments")
        text = "".join(page.get_textpage().get_text_range() for page in PdfDocument(data))
        assert "Outside up" in text
        assert "development" in text


def test_cone_develops_the_middle_of_the_sheet():
    pattern = PATTERNS[0]
    half = 1.5 * np.hypot(76, 5.8) / 76
    cone = right_cone(52.5 / 2 + half, 40.9 / 2 + half, 76)
    assert outline(pattern).area == pytest.approx(cone.area, rel=1e-9)
    assert dict(pattern.facts)["Compass"].startswith(f"start {cone.r_outer:.2f}, end {cone.r_inner:.2f} mm")


def test_areas_on_the_way_are_told():
    facts = dict(PATTERNS[2].facts)
    areas = [float(word.rstrip(",")) for word in facts["Bore area on the way"].split()[:5]]
    assert areas == pytest.approx([RoundedRectangle(45, 35, 8).area, 1498, 1456, 1395, np.pi / 4 * 40.9**2], abs=0.6)
    assert facts["Least bore area"] == "1314 mm2, at the end"


def test_seam_goes_in_the_longest_flat_or_the_shortest_ruling():
    assert best_seam(PASSAGE) in (pytest.approx(90.0), pytest.approx(270.0))
    # Set over to +x, a cone that narrows is steepest at -x, and shortest at +x.
    assert best_seam(transition(Round(52.5).shape(), Round(40.9).shape(), 76, 3, (5.8, 0))) == pytest.approx(0.0)


def test_start_is_below_and_seen_from_outside():
    for pattern in PATTERNS:
        where = {label.text: label.at[1] for label in pattern.labels}
        assert where["start"] < where["end"]


def test_bends_are_told_in_order_and_make_the_whole_turn():
    told = dict(PATTERNS[2].facts)["Bend lines"]
    count, _, words = told.partition(", from the left, deg: ")
    bends = [
        int(degrees)
        for word in words.split(", ")
        for number, _, degrees in [word.rpartition(" of ")]
        for _ in range(int(number or 1))
    ]
    assert len(bends) == int(count) == sum(item.layer == "mark" for item in PATTERNS[2].drawn)
    # A seam in a flat bends nothing; walls that lean both ways turn a little more or less than once.
    assert sum(bends) == pytest.approx(360, abs=8)


def test_an_eccentric_cones_flat_by_its_integral():
    """Source: the area of a cone of straight lines between circles, by quadrature over its rulings."""
    made = transition(Round(52.5).shape(), Round(40.9).shape(), 76, 3, (5.8, 0))
    flat, _ = made.flat(0.0)
    t = np.linspace(0, 2 * np.pi, 20001)[:-1]
    rise = (5.8 * np.cos(t) - 5.8) / 76
    off = 1.5 * np.sqrt(1 + rise**2)
    low, high = ((radius + off) * np.exp(1j * t) + by for radius, by in ((26.25, 0.0), (20.45, 5.8)))
    steps = [np.column_stack([d.real, d.imag, 0 * t]) for d in (np.roll(z, -1) - z for z in (low, high))]
    ruling = np.column_stack([(high - low).real, (high - low).imag, np.full(t.size, 76.0)])
    area = sum(0.5 * np.linalg.norm(np.cross(step, ruling), axis=1).sum() for step in steps)
    assert flat.area == pytest.approx(area, rel=1e-4)
    assert outline(PATTERNS[3]).area == pytest.approx(flat.area, rel=1e-4)


@pytest.mark.parametrize("count", [2, 3, 4])
class TestLobed:
    @pytest.fixture
    def middle(self, count: int) -> Lobed:
        merge = MERGES[count]
        corners = merge.wedge * (2 * np.arange(count) + 1)
        return Lobed(lambda psi: merge.outline(STATION, merge.r_in + 1.0, psi), corners, 32.35, 120.0)

    @staticmethod
    def flat(middle: Lobed, degrees: float) -> Development:
        low, high, _ = middle.rims(np.radians(degrees))
        return developed(low, high)

    def test_area_converges_with_the_square_of_the_spacing(self, middle):
        areas = [self.flat(middle, spacing).area for spacing in (4.0, 2.0, 1.0)]
        assert np.diff(areas)[0] / np.diff(areas)[1] == pytest.approx(4.0, rel=0.06)
        assert areas[2] == pytest.approx(areas[1], rel=2e-4)

    def test_edges_are_as_long_as_in_space(self, count, middle):
        """The opening's edge on the sheet's middle by the merge's own quadrature, the round one in closed form."""
        flat = self.flat(middle, 1.0)
        lengths = [np.linalg.norm(np.diff(rim, axis=0), axis=1).sum() for rim in (flat.lower, flat.upper)]
        merge = MERGES[count]
        assert lengths == pytest.approx([merge.girth(STATION, merge.r_in + 1.0), 2 * np.pi * 32.35], rel=1e-4)

    def test_pattern_tells_the_same(self, count, middle):
        pattern = next(each for each in PATTERNS if each.name == f"cone.{count}")
        facts, merge = dict(pattern.facts), MERGES[count]
        assert outline(pattern).area == pytest.approx(self.flat(middle, 1.0).area, rel=1e-4)
        assert sum(item.layer == "mark.crease" for item in pattern.drawn) == count
        assert facts["Creases"].startswith(f"{count}, ")
        assert "towards you" in facts["Creases"]
        girth = merge.girth(STATION, merge.r_in)
        assert facts["Bore girths"] == f"start {girth:.1f} mm, as round {girth / np.pi:.1f} mm; end 197.0 mm"
        areas = [float(word.rstrip(",")) for word in facts["Bore area on the way"].split()[:5]]
        assert areas[0] == pytest.approx(merge.opening_area(STATION, merge.r_in), abs=0.6)
        assert areas[-1] == pytest.approx(np.pi / 4 * 62.7**2, abs=0.6)

    def test_creases_by_the_legs_circles(self, count):
        """Where two legs' ellipses cross in the opening's plane, by the slopes of their equations."""
        merge = MERGES[count]
        cos, radius = np.cos(np.radians(10.0)), merge.r_in + 1.0
        rho = float(merge.outline(STATION, radius, merge.wedge))
        x, y = rho * np.cos(merge.wedge), rho * np.sin(merge.wedge)
        gradient = np.array([cos**2 * (x - merge.pitch_radius(STATION)), y])
        assert cos**2 * (x - merge.pitch_radius(STATION)) ** 2 + y**2 == pytest.approx(radius**2, rel=1e-9)
        turn = 2.0 * np.degrees(merge.wedge - np.arctan2(gradient[1], gradient[0]))
        pattern = next(each for each in PATTERNS if each.name == f"cone.{count}")
        assert float(dict(pattern.facts)["Creases"].split()[1]) == pytest.approx(abs(turn), abs=0.06)
        assert turn < 0


def test_lobed_refusals():
    with pytest.raises(ValueError, match="more than 0"):
        lobed_pattern("cone", MERGES[4], STATION, 62.7, 0.0, 2.0, "304L")
