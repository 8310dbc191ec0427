"""Gaps and cuts of plane shapes, against a library of 2-D regions with finely chorded arcs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from rootgap.geometry.clipping import left_of, notched, right_of, turned
from rootgap.geometry.gaps import gap, to_shape
from rootgap.geometry.openings import Oval, Round, RoundedRectangle, placed
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Circle, Path

CHORD = 1e-6
OPENINGS = st.sampled_from([Round(30), Oval(44, 30), RoundedRectangle(36, 30, 8)])
TURNS = st.floats(-180, 180)


def core(opening, at: tuple[float, float], turn: float) -> tuple[shapely.Geometry, float]:
    """The hull of an opening's discs' centres, and their radius: distances are the hull's less it, exactly."""
    discs = [disc.placed(at, turn) for disc in opening.discs()]
    return shapely.MultiPoint([(disc.x, disc.y) for disc in discs]).convex_hull, discs[0].r


def region(shape: Circle | Path, chord: float = CHORD) -> shapely.Polygon:
    return shapely.Polygon(shape.points(chord))


@settings(max_examples=25, deadline=None)
@given(OPENINGS, OPENINGS, TURNS, TURNS, st.floats(60, 90), TURNS)
def test_the_gap_of_two_openings(one, other, turn, turn_other, far, way):
    a = placed(one.shape(), angle=turn)
    at = far * np.cos(np.radians(way)), far * np.sin(np.radians(way))
    b = placed(other.shape(), at, turn_other)
    (hull, r), (other_hull, other_r) = core(one, (0.0, 0.0), turn), core(other, at, turn_other)
    assert gap(a, b) == pytest.approx(hull.distance(other_hull) - r - other_r, abs=1e-9)
    assert gap(a, b) == pytest.approx(gap(b, a), abs=1e-12)


@settings(max_examples=8, deadline=None)
@given(st.floats(50, 70), st.floats(0, 8), st.floats(8, 40), OPENINGS)
def test_the_gap_of_a_hole_to_the_edge_round_it(pitch, off, fillet, opening):
    ports = [(opening, (0.0, 0.0), 10.0), (opening, (pitch, 0.0), 0.0)]
    bolts = [(0.5 * pitch, 30 + off), (0.5 * pitch, -32)]
    edge = flange_outline(ports, bolts, 12, 12, fillet)
    ring = region(edge).exterior
    for o, at, turn in ports:
        hull, r = core(o, at, turn)
        assert gap(placed(o.shape(), at, turn), edge) == pytest.approx(ring.distance(hull) - r, abs=2e-6)
    for at in bolts:
        assert gap(Circle(at, 4.5), edge) == pytest.approx(ring.distance(shapely.Point(at)) - 4.5, abs=2e-6)
        assert to_shape([at], edge)[0] == pytest.approx(ring.distance(shapely.Point(at)), abs=2e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(-60, 130), st.floats(0, 8), TURNS)
def test_a_cut_leaves_the_region_on_its_side(limit, off, turn):
    bolts = [(45, 30 + off), (45, -32)]
    ports = [(Oval(44, 30), (0.0, 0.0), 0.0), (Round(30), (90.0, 0.0), 0.0)]
    edge = turned(flange_outline(ports, bolts, 12, 12, 12), complex(np.exp(1j * np.radians(turn))))
    whole = region(edge, 1e-4)
    left, right = left_of(edge, limit), right_of(edge, limit)
    assert sum(part.area for part in (*left, *right)) == pytest.approx(edge.area, rel=1e-12)
    wanted = whole & shapely.box(-500, -500, limit, 500)
    assert sum(part.area for part in left) == pytest.approx(wanted.area, abs=0.05)
    found = shapely.union_all([region(part, 1e-4) for part in left])
    assert found.symmetric_difference(wanted).area < 0.1
    assert all(part.closed and part.area > 0 for part in (*left, *right))


def test_a_cut_may_leave_several_parts():
    comb = Path.through([(0, 0), (10, 0), (10, 2), (4, 2), (4, 4), (10, 4), (10, 6), (0, 6)], closed=True)
    assert sorted(part.area for part in right_of(comb, 5.0)) == [10.0, 10.0]
    assert [part.area for part in left_of(comb, 5.0)] == [28.0]
    assert left_of(comb, -1.0) == () and left_of(comb, 20.0) == (comb,)


@settings(max_examples=12, deadline=None)
@given(st.floats(-20, 110), st.floats(1.5, 6), st.floats(5, 12), st.floats(0, 8))
def test_a_notch_takes_out_a_slot_with_a_round_end(at, width, depth, off):
    ports = [(Oval(44, 30), (0.0, 0.0), 0.0), (Round(30), (90.0, 0.0), 0.0)]
    edge = flange_outline(ports, [(45, 30 + off), (45, -32)], 14, 14, 12)
    found, whole = notched(edge, at, width, depth), region(edge, 1e-4)
    top = max(shapely.intersection(whole, shapely.LineString([(at, -500), (at, 500)])).coords, key=lambda p: p[1])[1]
    slot = shapely.LineString([(at, top - depth + 0.5 * width), (at, 500)]).buffer(0.5 * width, quad_segs=4000)
    assert region(found, 1e-4).symmetric_difference(whole - slot).area < 0.1
    assert found.area == pytest.approx((whole - slot).area, abs=0.05)


def test_what_cannot_be_notched():
    square = Path.through([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    with pytest.raises(ValueError, match="does not span"):
        notched(square, 0.5, 2.0, 5.0)
    with pytest.raises(ValueError, match="more than half its width"):
        notched(square, 5.0, 2.0, 0.9)
