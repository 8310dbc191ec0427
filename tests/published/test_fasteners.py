"""Clearance holes, hexagons and tap drills against published figures."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from rootgap.errors import StockError, UnitError
from rootgap.stock import clearance_hole, fastener, fasteners, search, threaded
from rootgap.stock.fasteners import tools

#: ISO 273, fine, medium, coarse; by a public code base's copy and a chart that agree.
ISO_273 = {
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7),
    "M8": (8.4, 9, 10),
    "M10": (10.5, 11, 12),
    "M12": (13, 13.5, 14.5),
    "M14": (15, 15.5, 16.5),
    "M16": (17, 17.5, 18.5),
    "M18": (19, 20, 21),
    "M20": (21, 22, 24),
    "M24": (25, 26, 28),
}
#: ASME B18.2.8, close, normal, loose, sixty-fourths of an inch, as two libraries have them.
B18_2_8 = {
    "1/4": (17, 18, 19),
    "5/16": (21, 22, 23),
    "3/8": (25, 26, 27),
    "7/16": (29, 30, 31),
    "1/2": (34, 36, 39),
    "5/8": (42, 44, 47),
}


@pytest.mark.parametrize("name", ISO_273)
def test_metric_holes(name: str):
    assert tuple(clearance_hole(name, fit) for fit in ("fine", "medium", "coarse")) == ISO_273[name]


@pytest.mark.parametrize("name", B18_2_8)
def test_inch_holes(name: str):
    found = [clearance_hole(name, fit) for fit in ("close", "normal", "loose")]
    assert found == pytest.approx(np.array(B18_2_8[name]) / 64 * 25.4, rel=1e-12)


def test_the_tables_hold_what_was_compared_and_no_more():
    assert [size.name for size in fasteners()] == [*ISO_273, *B18_2_8]


def test_across_flats_are_those_of_iso_and_not_of_din_931():
    """ISO 4014 and 4017; DIN 931 has 17 and 19 for M10 and M12."""
    found = [fastener(name).head for name in ("M6", "M8", "M10", "M12")]
    assert [head.flats for head in found] == [10, 13, 16, 18]
    # Across corners: flats / cos 30, elementary.
    assert [head.corners for head in found] == pytest.approx([11.547, 15.011, 18.475, 20.785], abs=1e-3)


def test_tap_drills_leave_sixty_to_ninety_percent_of_a_thread():
    """Share of the basic thread height 5/8 H, H = sqrt(3)/2 pitch: (D - drill) / (2 x 5/8 H). ISO 68-1, ASME B1.1."""
    for size in fasteners():
        for thread in size.threads:
            share = (size.diameter - thread.tap_drill) / (1.25 * np.sqrt(3) / 2 * thread.pitch)
            assert 0.6 < share < 0.96, thread
            if size.system == "metric":
                # ISO 2306 rounds D - P up to a drill that is sold.
                assert thread.tap_drill == pytest.approx(size.diameter - thread.pitch, abs=0.051), thread


def test_each_size_is_larger_than_the_one_before():
    for system in ("metric", "inch"):
        rows = [size for size in fasteners() if size.system == system]
        for one, other in pairwise(rows):
            assert one.head.flats < other.head.flats and one.head.height < other.head.height
            assert one.washer.outside < other.washer.outside and one.tools.socket <= other.tools.socket
        for size in rows:
            diameters = [diameter for _, diameter in size.holes]
            assert size.diameter < diameters[0] < diameters[1] < diameters[2]
            assert size.diameter < size.washer.inside < size.head.flats < size.washer.outside
            assert size.head.corners < size.tools.socket < size.tools.ring < size.tools.open


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("M7", "'M7': no such thread; nearest that exist: M6, M8"),
        ("M30", "'M30': no such thread; nearest that exist: M24"),
        ("9/16", "'9/16': no such thread; nearest that exist: 1/2, 5/8"),
        ("M8 x 1.5", "'M8 x 1.5': no such thread; nearest that exist: M8x1.25, M8x1"),
        ("3/8-18", "'3/8-18': no such thread; nearest that exist: 3/8-16 UNC, 3/8-24 UNF"),
    ],
)
def test_what_no_table_has_is_told_with_its_neighbours(word: str, said: str):
    with pytest.raises(StockError) as fault:
        fastener(word)
    assert str(fault.value) == said


@pytest.mark.parametrize("word", ["", "8", "M", "M8.5.1", "3/0", "bolt"])
def test_what_is_no_thread(word: str):
    with pytest.raises(UnitError, match="a thread such as"):
        fastener(word)


def test_a_fit_belongs_to_its_standard():
    with pytest.raises(StockError, match="no such fit of M8; nearest that exist: fine, medium, coarse"):
        clearance_hole("M8", "normal")


@pytest.mark.parametrize("word", ["M8", "m8", "M 8", "M8x1", "M8 x 1.25", "M8-1.25", "M8×1.25", "M8 fine"])
def test_many_spellings(word: str):
    assert fastener(word).name == "M8"


@pytest.mark.parametrize("word", ["3/8", '3/8"', "3/8 in", "3/8-16", "3/8-24 UNF", "3/8 UNC"])
def test_many_inch_spellings(word: str):
    assert fastener(word).name == "3/8"


def test_the_command_tells_all_of_a_size():
    rows = {row[0]: row for row in search("M8")}
    assert list(rows) == ["bolt hole", "tap drill", "hex head", "nut", "washer", "tool room"]
    assert rows["bolt hole"][2] == "8.4 fine, 9 medium, 10 coarse (mm)"
    assert "ISO 273" in rows["bolt hole"][3] and "common practice, no source" in rows["tool room"][3]
    assert [row[1] for row in search("M8x1")] == ["M8x1"] and len(search("tap M10")) == 3


def test_tools_go_up_to_a_size():
    assert tools(13.0).socket == 18.5 and tools(13.5) == tools(14.5)
    assert threaded("M12 fine").pitch == 1.5
    with pytest.raises(StockError, match="no such spanner size; nearest that exist: 36 mm"):
        tools(41.0)
