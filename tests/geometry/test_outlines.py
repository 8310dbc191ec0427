"""Plate outlines against shapely: hulls of finely sampled discs, closed by buffering out and in.

A reference disc is a polygon inscribed in it with 2048 corners: too small by (2 pi / 2048)^2 / 6
= 1.6e-6 of its area. Outlines are flattened to chords within 1e-5 mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import unary_union
from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from rootgap.errors import GeometryError
from rootgap.geometry.openings import Dee, Disc, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.outlines import flange_outline, hull, union_rounded
from rootgap.geometry.paths import Path, Point

TURN = 2 * np.pi * np.arange(2048) / 2048
RIM = np.column_stack([np.cos(TURN), np.sin(TURN)])

# Four ports of a straight four, and its ten bolts. Invented.
PORTS: list[tuple[Opening, Point, float]] = [
    (RoundedRectangle(36, 30, 8), (x, 0), 0) for x in (0, 84, 178, 262)
]
BOLTS: list[Point] = [
    (-32, 26), (-32, -26), (42, -30), (42, 30), (131, -26),
    (131, 26), (220, -30), (220, 30), (294, 26), (294, -26),
]  # fmt: skip


def sampled_hull(discs: Sequence[Disc], grow: float = 0.0) -> BaseGeometry:
    """Return the convex hull of discs grown by `grow`, by another route."""
    return MultiPoint(np.vstack([(d.x, d.y) + (d.r + grow) * RIM for d in discs])).convex_hull


def pieces(shape: BaseGeometry) -> list[Polygon]:
    return [piece for piece in getattr(shape, "geoms", [shape]) if piece.area > 1e-2]


def closing(groups: Sequence[Sequence[Disc]], fillet: float) -> BaseGeometry:
    """Return the union of the groups' hulls, grown, with holes filled, and shrunk by buffering."""
    grown = unary_union([sampled_hull(group, fillet) for group in groups])
    filled = unary_union([Polygon(piece.exterior) for piece in pieces(grown)])
    return filled.buffer(-fillet, quad_segs=128) if fillet else filled


def flat(path: Path) -> Polygon:
    return Polygon(path.points(1e-5))


def check_sound(path: Path) -> None:
    """Assert that `path` is closed, anticlockwise, simple, and has no short or overlong segment."""
    assert path.closed
    assert path.area > 0
    assert flat(path).is_valid
    assert min(math.dist(start, end) for start, end, _ in path.segments()) > 1e-6
    assert max(abs(bulge) for _, _, bulge in path.vertices) <= 1 + 1e-9


def largest_kink(path: Path) -> float:
    """Return the largest angle, radians, between the tangents on both sides of a vertex."""
    arriving, leaving = [], []
    for (x0, y0), (x1, y1), bulge in path.segments():
        chord, half = math.atan2(y1 - y0, x1 - x0), 2 * math.atan(bulge)
        leaving.append(chord - half)
        arriving.append(chord + half)
    kinks = np.roll(leaving, -1) - np.array(arriving)
    return float(np.abs((kinks + np.pi) % (2 * np.pi) - np.pi).max())


def radii(path: Path) -> list[float]:
    """Return the signed radius of every arc, mm, negative for clockwise ones."""
    return [math.dist(start, end) * (1 + b * b) / (4 * b) for start, end, b in path.segments() if b]


# Hulls


def test_hull_of_one_disc_is_two_semicircles() -> None:
    ring = hull([Disc(3, 4, 5)])
    assert [bulge for _, _, bulge in ring.vertices] == pytest.approx([1, 1])
    assert (ring.area, ring.length) == pytest.approx((25 * math.pi, 10 * math.pi))


def test_hull_of_two_discs_is_an_open_belt() -> None:
    """Source: open belt over pulleys R, r at distance d, from their common tangents:
    length = 2 sqrt(d^2 - (R - r)^2) + (pi + 2 a) R + (pi - 2 a) r, sin a = (R - r) / d."""
    ring = hull([Disc(0, 0, 20), Disc(50, 0, 5)])
    a = math.asin(15 / 50)
    straight = math.sqrt(50**2 - 15**2)
    assert ring.length == pytest.approx(
        2 * straight + (math.pi + 2 * a) * 20 + (math.pi - 2 * a) * 5, rel=1e-14
    )
    sectors = (math.pi / 2 + a) * 20**2 + (math.pi / 2 - a) * 5**2
    assert ring.area == pytest.approx(sectors + straight * (20 + 5), rel=1e-14)
    check_sound(ring)


def test_hull_of_points_is_a_polygon() -> None:
    ring = hull([Disc(x, y, 0) for x, y in [(0, 0), (10, 0), (5, 2), (10, 6), (0, 6), (5, 6)]])
    assert sorted(ring.vertices) == [(0, 0, 0), (0, 6, 0), (10, 0, 0), (10, 6, 0)]


def test_hull_drops_discs_inside_twins_and_discs_that_touch_from_inside() -> None:
    plain = hull([Disc(0, 0, 20), Disc(50, 0, 10)])
    more = [Disc(50, 0, 10), Disc(5, 5, 3), Disc(10, 0, 10), Disc(0, 0, 20), Disc(0, 0, 20), Disc(0, -15, 5)]
    assert len(hull(more).vertices) == len(plain.vertices)
    assert np.allclose(sorted(hull(more).vertices), sorted(plain.vertices), atol=1e-6)


def test_equal_discs_in_a_row_share_one_tangent() -> None:
    ring = hull([Disc(x, 0.1 * x, 7.3) for x in (0, 13.7, 31, 77, 110)])
    assert len(ring.vertices) == 4


DISC = st.builds(Disc, st.floats(-80, 80), st.floats(-40, 40), st.floats(0.5, 30))
ON_GRID = st.builds(
    Disc, *(st.integers(-8, 8).map(lambda k: 5.0 * k) for _ in "xy"), st.integers(1, 5).map(lambda k: 5.0 * k)
)


# An odd offset keeps the grown discs of the grid from touching exactly: there a hole, a neck or a
# join of no width is a matter of taste.
FILLET = st.floats(0.5, 40).map(lambda fillet: fillet + 0.0137 * math.sqrt(2))


@given(st.lists(DISC | ON_GRID, min_size=1, max_size=8))
def test_hull_agrees_with_sampled_discs(discs: list[Disc]) -> None:
    ring = hull(discs)
    check_sound(ring)
    assert largest_kink(ring) < 1e-6
    reference = sampled_hull(discs)
    assert ring.area == pytest.approx(reference.area, rel=4e-6)
    assert flat(ring).symmetric_difference(reference).area < 1e-4 * ring.length


@given(st.lists(DISC, min_size=1, max_size=6), st.floats(0.1, 30))
def test_hull_obeys_steiner(discs: list[Disc], grow: float) -> None:
    """Source: Steiner's formula: area(K + e) = area(K) + e perimeter(K) + pi e^2, K convex."""
    ring, grown = hull(discs), hull([disc.grown(grow) for disc in discs])
    assert grown.area == pytest.approx(ring.area + grow * ring.length + math.pi * grow**2, rel=1e-9)
    assert grown.length == pytest.approx(ring.length + 2 * math.pi * grow, rel=1e-9)


# Unions


def check_union(groups: Sequence[Sequence[Disc]], fillet: float) -> Path:
    ring = union_rounded(groups, fillet)
    check_sound(ring)
    reference = closing(groups, fillet)
    # The buffered reference is off by the sagitta of its own chords, which scales with the fillet.
    assert flat(ring).symmetric_difference(reference).area < 1.5e-3 * ring.length
    assert not fillet or largest_kink(ring) < 1e-6
    return ring


def test_fillet_between_two_discs_touches_both() -> None:
    """Fillets of radius f between discs r at distance d are centred where the grown discs cross, at
    height h = sqrt((r + f)^2 - d^2 / 4), so the neck is 2 (h - f) wide."""
    ring = check_union([[Disc(-12, 0, 10)], [Disc(12, 0, 10)]], 15)
    assert sorted(round(radius, 9) for radius in radii(ring)) == [-15, -15, 10, 10, 10, 10]
    waist = flat(ring).intersection(Polygon([(-1e-6, -99), (1e-6, -99), (1e-6, 99), (-1e-6, 99)])).bounds
    assert waist[3] - waist[1] == pytest.approx(2 * (math.sqrt(25**2 - 12**2) - 15), abs=1e-4)


def test_neck_thinner_than_nothing_falls_apart() -> None:
    """The neck of two discs r at distance d vanishes at f = (d^2 / 4 - r^2) / (2 r)."""
    least = (12**2 - 10**2) / 20
    discs = [[Disc(-12, 0, 10)], [Disc(12, 0, 10)]]
    check_union(discs, least + 0.01)
    for fillet in (0.5, 1.999, least - 1e-3):
        with pytest.raises(
            GeometryError,
            match=r"^outline: falls into 2 pieces: group \d \| group \d; let edge, boss or fillet grow",
        ):
            union_rounded(discs, fillet)


def test_sharp_union_of_two_discs() -> None:
    """Source: two circles r at distance d share a lens of 2 r^2 acos(d / 2r) - d/2 sqrt(4 r^2 - d^2)."""
    ring = check_union([[Disc(0, 0, 10)], [Disc(12, 0, 10)]], 0)
    lens = 2 * 100 * math.acos(0.6) - 6 * math.sqrt(400 - 144)
    assert ring.area == pytest.approx(200 * math.pi - lens, rel=1e-13)


def test_one_convex_group_is_left_as_it_is() -> None:
    discs = [Disc(0, 0, 20), Disc(50, 10, 5), Disc(20, 40, 0)]
    assert union_rounded([discs], 30).area == pytest.approx(hull(discs).area, rel=1e-12)


@pytest.mark.parametrize(
    "extra",
    [
        [Disc(0, 0, 20), Disc(50, 0, 10)],  # the same group again
        [Disc(50, 0, 10)],  # one of its discs: shares an arc
        [Disc(10, 0, 4)],  # well inside
        [Disc(-10, 0, 10)],  # touches an arc from inside
        [Disc(25, 0, 15), Disc(0, 0, 20)],  # shares both tangents
    ],
    ids=["same", "shared arc", "inside", "touching", "shared tangents"],
)
@pytest.mark.parametrize("angle", [0.0, 33.0])
def test_groups_that_add_nothing_change_nothing(extra: list[Disc], angle: float) -> None:
    base = [Disc(0, 0, 20), Disc(50, 0, 10)]
    groups = [[disc.placed((3.1, 7.7), angle) for disc in group] for group in (base, extra)]
    ring = check_union(groups, 12)
    assert ring.area == pytest.approx(hull(base).area, rel=1e-12)
    assert len(ring.vertices) == len(hull(base).vertices)


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0])
def test_links_of_equal_bosses_in_a_row_share_their_tangents(angle: float) -> None:
    row = [Disc(30.0 * k, 0, 8).placed((0, 0), angle) for k in range(9)]
    ring = check_union([[a, b] for a, b in pairwise(row)] + [[disc] for disc in row], 10)
    assert ring.area == pytest.approx(240 * 16 + 64 * math.pi, rel=1e-12)
    assert len(ring.vertices) == 4


def test_plates_that_share_a_whole_side_are_one() -> None:
    def square(x: float, half: float) -> list[Disc]:
        return [Disc(x + sx * half, sy * half, 0) for sx in (-1, 1) for sy in (-1, 1)]

    ring = check_union([square(0, 10), square(20, 10)], 0)
    assert sorted(ring.vertices) == [(-10, -10, 0), (-10, 10, 0), (30, -10, 0), (30, 10, 0)]
    assert union_rounded([square(0, 10), square(15, 5)], 0).area == pytest.approx(500)


def test_holes_are_filled_and_islands_in_them_dropped() -> None:
    ring_of_bosses = [[Disc(40 * math.cos(t), 40 * math.sin(t), 12)] for t in np.arange(12) * math.pi / 6]
    outline = check_union([*ring_of_bosses, [Disc(0, 0, 3)]], 5)
    assert outline.area > math.pi * 40**2


def test_pieces_are_counted_and_named() -> None:
    groups = [[Disc(0, 0, 10)], [Disc(100, 0, 10)], [Disc(8, 0, 10)], [Disc(100, 1, 2)], [Disc(0, 100, 5)]]
    with pytest.raises(GeometryError, match=r"falls into 3 pieces: ") as caught:
        union_rounded(groups, 4)
    assert {"group 1, group 3", "group 2, group 4", "group 5"} == set(
        caught.value.what.split(": ")[1].split(" | ")
    )


@given(
    st.lists(st.lists(DISC, min_size=1, max_size=4), min_size=1, max_size=6)
    | st.lists(st.lists(ON_GRID, min_size=1, max_size=4), min_size=1, max_size=6),
    FILLET,
)
def test_union_agrees_with_buffering_out_and_in(groups: list[list[Disc]], fillet: float) -> None:
    try:
        check_union(groups, fillet)
    except GeometryError:
        # No single plate by the other route either, allowing for a neck or contact of hair's breadth.
        assert len(pieces(closing(groups, fillet).buffer(-1e-3))) > 1


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(DISC, min_size=1, max_size=3), min_size=1, max_size=5),
    FILLET,
    st.floats(0, 360),
)
def test_outline_turns_with_its_discs(groups: list[list[Disc]], fillet: float, angle: float) -> None:
    turned = [[disc.placed((50, -20), angle) for disc in group] for group in groups]
    try:
        ring = union_rounded(groups, fillet)
    except GeometryError:
        with pytest.raises(GeometryError):
            union_rounded(turned, fillet)
    else:
        other = union_rounded(turned, fillet)
        assert (other.area, other.length) == pytest.approx((ring.area, ring.length), rel=1e-6)


# Flanges


def test_head_flange_of_a_straight_four() -> None:
    outline = flange_outline(PORTS, BOLTS, edge=12, boss=13, fillet=25)
    check_sound(outline)
    assert largest_kink(outline) < 1e-9
    assert {round(abs(radius), 6) for radius in radii(outline)} == {13, 20, 25}
    assert outline.bounds() == pytest.approx((-45, -43, 307, 43), abs=2e-3)

    # Mirror symmetric in both directions: half of the plate on each side.
    plate = flat(outline)
    assert (plate.centroid.x, plate.centroid.y) == pytest.approx((131, 0), abs=1e-4)
    groups = [[disc.placed(at, turn).grown(12) for disc in port.discs()] for port, at, turn in PORTS]
    reference = closing([*groups, *([Disc(x, y, 13)] for x, y in BOLTS)], 25)
    assert plate.symmetric_difference(reference).area < 1e-3 * outline.length
    assert outline.area == pytest.approx(reference.area, rel=1e-5)


def test_reference_converges_to_the_outline() -> None:
    """Halving the chords of the buffered reference quarters its distance from the exact area."""
    outline = flange_outline(PORTS, BOLTS, edge=12, boss=13, fillet=25)
    errors = []
    for segments in (16, 32, 64):
        parts = [
            Polygon(placed(port.shape(), at, turn).points(1e-6)).buffer(12 + 25, segments)
            for port, at, turn in PORTS
        ]
        parts += [MultiPoint([bolt]).buffer(13 + 25, segments) for bolt in BOLTS]
        errors.append(unary_union(parts).buffer(-25, segments).area - outline.area)
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.25)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.25)


def test_flange_keeps_its_edge_and_bosses() -> None:
    ports: list[tuple[Opening, Point, float]] = [
        (Dee(40, 34, 4), (0, 0), 90), (Round(38), (70, 3), 0), (Oval(44, 30), (140, 0), 25),
    ]  # fmt: skip
    bolts: list[Point] = [(35, 28), (35, -28), (105, 28), (105, -28)]
    outline = flange_outline(ports, bolts, edge=9, boss=11, fillet=18)
    check_sound(outline)
    assert largest_kink(outline) < 1e-7
    rim = flat(outline).exterior
    margins = [rim.distance(Polygon(placed(port.shape(), at, turn).points(1e-5))) for port, at, turn in ports]
    assert min(margins) == pytest.approx(9, abs=1e-4)
    assert min(rim.distance(MultiPoint([bolt])) for bolt in bolts) == pytest.approx(11, abs=1e-4)


def test_flange_that_falls_apart_says_where() -> None:
    with pytest.raises(
        GeometryError,
        match=r"^outline: falls into 2 pieces: "
        r"(opening 1, bolt 1 \| opening 2, bolt 2|opening 2, bolt 2 \| opening 1, bolt 1); "
        r"let edge, boss or fillet grow until they join$",
    ):
        flange_outline(
            [(Round(40), (0, 0), 0), (Round(40), (100, 0), 0)],
            [(0, 35), (100, 35)],
            edge=10,
            boss=10,
            fillet=2,
        )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: hull([]), "hull: no discs; allowed: 1 or more"),
        (lambda: hull([Disc(0, 0, -1)]), "hull: disc radius is -1 mm; allowed: 0 or more"),
        (lambda: hull([Disc(0, 0, 0), Disc(9, 0, 0)]), "hull: the discs enclose no area"),
        (lambda: hull([Disc(0, 0, 5, 0, 180)]), "hull: a cap's rim ends where no other disc takes over"),
        (lambda: union_rounded([], 5), "outline: no groups of discs"),
        (lambda: union_rounded([[Disc(0, 0, 5)], []], 5), "group 2: no discs"),
        (lambda: union_rounded([[Disc(0, 0, 5)]], -1), "outline: fillet is -1 mm; allowed: 0 or more"),
        (lambda: union_rounded([[Disc(0, 0, 0)]], 0), "group 1: is a point"),
        (lambda: union_rounded([[Disc(0, 0, 0)]], 3), "outline: encloses no area"),
        (lambda: flange_outline([], [(0, 0)], 5, -2, 5), "flange outline: edge is 5 mm, boss is -2 mm"),
    ],
)
def test_wrong_input_is_refused(call: object, message: str) -> None:
    assert callable(call)
    with pytest.raises(ValueError, match=message):
        call()
