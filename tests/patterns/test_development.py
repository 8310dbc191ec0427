"""Developments as patterns: one closed outline, bend lines inside it, and files that hold them."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest
from pypdfium2 import PdfDocument
from shapely.geometry import LineString, Polygon

from rootgap.geometry.development import right_cone
from rootgap.geometry.openings import Oval, Round, RoundedRectangle
from rootgap.geometry.paths import Path
from rootgap.geometry.transition import transition
from rootgap.patterns.development import best_seam, cone_pattern, transition_pattern
from rootgap.patterns.pattern import Pattern
from rootgap.writers.build import KIND
from rootgap.writers.dxf import dxf_bytes
from rootgap.writers.sheets import PrintOptions, templates

PASSAGE = transition(RoundedRectangle(45, 35, 8).shape(), Round(40.9).shape(), 60, 2.0, (4, 6))
PATTERNS = [
    cone_pattern("outlet.cone", 52.5, 40.9, 76, 3, "304L"),
    cone_pattern("inlet.cone", 40.9, 52.5, 30, 3, "304L"),
    transition_pattern("port.1", PASSAGE, "304L"),
    transition_pattern("eccentric", transition(Round(52.5).shape(), Round(40.9).shape(), 76, 3, (5.8, 0)), "304L"),
    transition_pattern("oval", transition(Oval(50, 30).shape(), Round(40.9).shape(), 60, 2), "304L", 0.0),
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
        lines = [LineString([v[:2] for v in item.shape.vertices]) for item in pattern.drawn if item.layer == "mark"]
        assert len(lines) >= 20
        for line in lines:
            assert line.difference(sheet.buffer(0.02)).is_empty
            assert max(sheet.exterior.distance(end) for end in line.boundary.geoms) < 0.02

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
        assert pattern.kind in KIND
        document = ezdxf.read(io.StringIO(dxf_bytes(pattern).decode()))
        (cut,) = document.modelspace().query("LWPOLYLINE[layer=='cut']")
        assert cut.closed
        assert Path(tuple(cut.get_points("xyb")), closed=True).area == pytest.approx(outline(pattern).area, rel=1e-9)
        data = templates([pattern], PrintOptions(), "Developments")
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
