"""Transitions from port to round: developable sheet, honest sections, and the pipe's own end formed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from shapely.geometry import MultiPoint

from rootgap.errors import GeometryError
from rootgap.geometry.convex import blended, convex
from rootgap.geometry.development import right_cone
from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.paths import Path
from rootgap.geometry.transition import SPACING, Transition, formed, transition

PORTS: list[Opening] = [
    Round(40),
    RoundedRectangle(45, 35, 8),
    RoundedRectangle(30, 20, 0),
    Oval(50, 30),
    Oval(30, 50),
    Dee(40, 60, 5),
    Dee(40, 14, 5),
    Dee(40, 20, 0),
]
TRIANGLE = Path.through([(-20, -15), (25, -15), (0, 30)], closed=True)


def made(port: Opening, bore: float = 42.0, length: float = 60.0, wall: float = 2.0) -> Transition:
    return transition(port.shape(), Round(bore).shape(), length, wall, (5, 3))


class TestConvex:
    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_keeps_girth_and_area(self, port):
        outline = convex(port.shape())
        assert outline.girth == pytest.approx(port.girth, rel=1e-12)
        assert outline.area == pytest.approx(port.area, rel=1e-12)

    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_grown_by_steiner(self, port):
        """Source: Steiner's formula: a convex outline grown by d has L + 2 pi d and A + L d + pi d^2."""
        grown = convex(port.shape()).grown(3)
        assert grown.girth == pytest.approx(port.girth + 6 * np.pi, rel=1e-12)
        assert grown.area == pytest.approx(port.area + 3 * port.girth + 9 * np.pi, rel=1e-12)

    def test_turned_and_clockwise_paths(self):
        ring = [(x, y) for x, y, _ in TRIANGLE.vertices]
        other = Path.through(ring[::-1], closed=True)
        for angle in (0.0, 33.0, 180.0):
            for shape in (TRIANGLE, other):
                outline = convex(placed(shape, (3.0, 4.0), angle))
                assert outline.area == pytest.approx(TRIANGLE.area, rel=1e-12)
                assert outline.girth == pytest.approx(TRIANGLE.length, rel=1e-12)

    @pytest.mark.parametrize(
        ("points", "said"),
        [
            ([(0, 0), (40, 0), (20, 10), (40, 30), (0, 30)], r"turns inwards at \(20.000, 10.000\)"),
            ([(0, 0), (10, 30), (20, 0), (-5, 20), (25, 20)], "crosses itself"),
            ([(0, 0), (10, 0), (20, 0)], "no closed line"),
        ],
    )
    def test_refusals(self, points, said):
        with pytest.raises(GeometryError, match=said):
            convex(Path.through(points, closed=True))


class TestSections:
    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_girth_is_linear_and_the_root_of_the_area_concave(self, port):
        """Source: Brunn-Minkowski inequality; so no section is smaller than the smaller end."""
        shares = np.linspace(0, 1, 21)
        passage = made(port)
        girths, areas = passage.girths(shares), passage.areas(shares)
        assert girths == pytest.approx(girths[0] + shares * (girths[-1] - girths[0]), rel=1e-9)
        assert np.diff(np.sqrt(areas), 2).max() < 1e-9
        assert areas.min() == pytest.approx(passage.least_area[0], rel=1e-9)
        assert areas[0] == pytest.approx(port.area, rel=1e-9)
        assert areas[-1] == pytest.approx(np.pi / 4 * 42**2, rel=1e-9)

    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_sections_are_those_of_the_hull_of_both_rims(self, port):
        """The sheet is the side of the convex hull of its rims: its sections are hulls of sums."""
        passage = made(port)
        low, high = (rim.path().points(1e-3) for rim in (passage.start, passage.end))
        sums = (0.7 * low[:, None] + 0.3 * high[None]).reshape(-1, 2)
        hull = MultiPoint(sums).convex_hull
        assert passage.section(0.3).area == pytest.approx(hull.area, rel=2e-4)
        assert blended(passage.start, passage.end, 0.3).girth == pytest.approx(hull.length, rel=2e-4)


class TestFlat:
    @pytest.mark.parametrize("port", PORTS, ids=repr)
    @pytest.mark.parametrize("seam", [0.0, 17.0, 90.0, 213.0])
    def test_each_ruling_touches_one_plane(self, port, seam):
        """Developable: the tangents of both rims and the ruling lie in one plane, at the sheet's middle too."""
        passage = made(port)
        low, high, directions = passage.rims(seam)
        normal = np.column_stack([np.cos(directions), np.sin(directions), 0 * directions])
        ruling = high - low
        rise = np.einsum("ij,ij->i", ruling, normal) / passage.length
        normal[:, 2] = -rise
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        bore_low, bore_high, _ = passage.rims(seam, depth=0.0)
        for middle, bore in ((low, bore_low), (high, bore_high)):
            off = np.einsum("ij,ij->i", middle - bore, normal)
            assert off == pytest.approx(passage.wall / 2, abs=1e-9)
            # No other point of the rim lies outside that plane.
            assert (bore @ normal.T - np.einsum("ij,ij->i", bore, normal)).max() < 1e-9
        assert np.cross(ruling, bore_high - bore_low) == pytest.approx(0, abs=1e-7)

    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_converges_and_does_not_depend_on_the_seam(self, port):
        passage = made(port)
        coarse, fine, finer = (passage.flat(0.0, SPACING * 8 / n)[0] for n in (1, 2, 4))
        assert np.log2((coarse.area - fine.area) / (fine.area - finer.area)) == pytest.approx(2, abs=0.3)
        flats = [passage.flat(seam)[0] for seam in (0.0, 31.0, 90.0)]
        assert [flat.area for flat in flats] == pytest.approx([finer.area] * 3, rel=1e-3)
        for flat in flats:
            outline = flat.outline(0.005)
            assert outline.area == pytest.approx(flat.area, rel=1e-4)
            rims = np.diff(flat.lower, axis=0), np.diff(flat.upper, axis=0)
            edges = sum(np.hypot(*rim.T).sum() for rim in rims) + 2 * flat.seam_length
            assert outline.length == pytest.approx(edges, rel=1e-4)

    def test_square_to_round(self):
        """Four flat triangles and four parts of slanting cones, each with its apex in a corner of the
        square: area by quadrature of half the cross product of ruling and rim."""
        side, radius, height = 40.0, 25.0, 60.0
        passage = transition(RoundedRectangle(side, side, 0).shape(), Round(2 * radius).shape(), height, 1e-9)
        triangles = 4 * side / 2 * np.hypot(height, radius - side / 2)
        t, weights = np.polynomial.legendre.leggauss(40)
        t = np.pi / 4 * (t + 1)
        rim = np.column_stack([radius * np.cos(t), radius * np.sin(t), 0 * t + height])
        tangent = np.column_stack([-radius * np.sin(t), radius * np.cos(t), 0 * t])
        parts = np.linalg.norm(np.cross(rim - [side / 2, side / 2, 0], tangent), axis=1) / 2
        expected = triangles + 4 * np.pi / 4 * (weights @ parts)
        flat, _ = passage.flat(0.0)
        assert flat.area == pytest.approx(expected, rel=1e-4)
        assert expected - flat.area > 0

    @given(st.floats(20, 60), st.floats(20, 60), st.floats(20, 100), st.floats(0.5, 4))
    def test_round_to_round_is_the_right_cone_of_the_sheets_middle(self, start, end, length, wall):
        if abs(start - end) < 0.5:
            return
        flat, _ = transition(Round(start).shape(), Round(end).shape(), length, wall).flat()
        half = wall / 2 * np.hypot(length, (end - start) / 2) / length
        cone = right_cone(start / 2 + half, end / 2 + half, length)
        assert flat.seam_length == pytest.approx(cone.slant, rel=1e-9)
        assert flat.area == pytest.approx(cone.area, rel=1e-4)

    def test_refusals(self):
        with pytest.raises(ValueError, match="length 0 mm"):
            transition(Oval(50, 30).shape(), Round(40).shape(), 0, 2)


SIZE, SHARE = st.floats(10, 80), st.sampled_from([0.0, 1e-6, 0.3, 0.5, 1.0])


@given(SIZE, SIZE, SHARE, st.integers(0, 3), st.sampled_from([0.0, 90.0, 33.0, 217.5]), SIZE, st.floats(-20, 20))
@example(23.811039633757694, 23.811039643757695, 0.0, 2, 236.2679420854763, 30, 0)  # flats of 1e-8 mm
@example(65.23632430969268, 31.39118130290225, 1e-6, 3, 90.0, 30, 5)  # corners of 1e-5 mm
def test_any_port_anywhere(width, height, share, kind, angle, bore, offset):
    ports = (
        Round(width),
        RoundedRectangle(width, height, share * min(width, height) / 2),
        Oval(width, height),
        Dee(width, height, 0.98 * share * min(width, height) / 2),
    )
    shape = placed(ports[kind].shape(), (offset, 1.0), angle)
    passage = transition(shape, Round(bore).shape(), 40, 2.0, (1.0, offset))
    flat, _ = passage.flat(angle)
    assert passage.flat(angle, SPACING / 2)[0].area == pytest.approx(flat.area, rel=2e-4)
    assert flat.outline(0.005).area == pytest.approx(flat.area, rel=1e-4)
    end = formed(shape, 48.3, 2.77)
    assert end.girth == pytest.approx(ports[kind].girth, rel=1e-9)
    assert end.worked >= 24.15


class TestFormed:
    #: Worked from the shapes: 2 (w - h) + pi h and 2 (w + h) - (8 - 2 pi) r for the girths.
    @pytest.mark.parametrize(
        ("port", "girth", "round_", "area", "round_area"),
        [(Oval(50, 30), 134.2, 42.7, 1307, 1434), (RoundedRectangle(45, 35, 8), 146.3, 46.6, 1520, 1702)],
    )
    def test_equal_girth_is_not_equal_area(self, port, girth, round_, area, round_area):
        end = formed(port.shape(), 48.3, 2.77)
        assert end.girth == pytest.approx(girth, abs=0.05)
        assert end.equal_round == pytest.approx(round_, abs=0.05)
        assert end.area == pytest.approx(area, abs=0.5)
        assert end.equal_round_area == pytest.approx(round_area, abs=0.5)

    @pytest.mark.parametrize("port", PORTS, ids=repr)
    def test_pipe_of_equal_girth_needs_no_stretch(self, port):
        wall = 2.5
        end = formed(port.shape(), port.girth / np.pi + 2 * wall, wall)
        assert end.difference == pytest.approx(0, abs=1e-9)
        assert end.stretch == pytest.approx(0, abs=1e-12)
        assert end.area_change <= 1e-12
        # Bore, middle and outside girths each stay, so the outside is as long as the pipe's.
        assert end.outside.length == pytest.approx(np.pi * end.od, rel=1e-12)

    def test_sits_in(self):
        port = RoundedRectangle(45, 35, 8)
        end = formed(port.shape(), 48.3, 2.77, "in")
        assert end.outside.length == pytest.approx(port.girth)
        assert end.girth == pytest.approx(port.girth - 2 * np.pi * 2.77)
        assert end.former.bounds() == pytest.approx((-19.73, -14.73, 19.73, 14.73), abs=1e-3)
        with pytest.raises(GeometryError, match=r"radius 2 mm, is tighter than the wall of 2\.77 mm"):
            formed(RoundedRectangle(45, 35, 2).shape(), 48.3, 2.77, "in")

    def test_how_far_in(self):
        """Half the outside diameter, or until no wall leans over 15 degrees (common practice, no source)."""
        assert formed(Round(42.76).shape(), 48.3, 2.77).worked == pytest.approx(24.15)
        far = formed(Oval(60, 20).shape(), 48.3, 2.77)
        assert far.largest_move == pytest.approx(21.38 - 10)
        assert far.worked == pytest.approx(11.38 / np.tan(np.radians(15)))
