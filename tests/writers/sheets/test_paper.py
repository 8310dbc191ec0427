"""Sheets, strips and tiles as data."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from rootgap.writers.sheets.paper import (
    GUTTER,
    MARGIN,
    OVERLAP,
    PAPERS,
    Box,
    Paper,
    Point,
    Reserved,
    Sheet,
    Strips,
    Tile,
    TilePlan,
    fits,
    frame,
    overlap,
    place,
    plan,
    tile_name,
)

NONE = Reserved(Strips(), Strips())
USUAL = Reserved(Strips(left=16.0, top=15.0, bottom=15.0), Strips(left=16.0, top=15.0, bottom=15.0))
SPREADS = [
    ((0.0, 0.0, 520.0, 230.0), (1.0, 1.0)),
    ((-40.0, 12.5, 480.0, 771.0), (1.0, 1.0)),
    ((0.0, 0.0, 520.0, 230.0), (100 / 97, 100 / 103)),
    ((3.0, -900.0, 83.0, 20.0), (100 / 110, 100 / 90)),
]


def spread(bounds: Box, stretch: Point, paper: Paper) -> TilePlan:
    return plan(bounds, paper, USUAL, stretch)


def test_paper_sizes() -> None:
    # ISO 216: A0 is 841 x 1189, each next size halves the long side, rounded down.
    long, short = 1189, 841
    for _ in range(4):
        long, short = short, long // 2
    assert PAPERS["a4"] == (short, long) == (210.0, 297.0)
    # ANSI/ASME Y14.1 size A: 8.5 x 11 in.
    assert PAPERS["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4), abs=1e-12)


def test_turning_swaps_sides_and_what_is_given_along_them() -> None:
    upright, turned = Sheet("letter"), Sheet("letter", landscape=True)
    assert (upright.width, upright.height) == (turned.height, turned.width)
    assert upright.turned((1.01, 0.99)) == (1.01, 0.99)
    assert turned.turned((1.01, 0.99)) == (0.99, 1.01)


@pytest.mark.parametrize(
    ("od", "paper", "held"),
    [
        (60.3, "a4", True),
        (73.0, "a4", True),
        (88.9, "a4", False),
        (73.0, "letter", True),
        (88.9, "letter", False),
    ],
)
def test_wraps_that_a_turned_page_holds(od: float, paper: Paper, held: bool) -> None:
    # pi x outside diameter of NPS 2, 2-1/2 and 3 (ASME B36.10M) against the width less two margins.
    wrap = (0.0, 0.0, np.pi * od, 60.0)
    assert fits(wrap, Sheet(paper, landscape=True), Strips()) is held


def test_frame_is_what_margin_and_strips_leave() -> None:
    assert frame(Sheet("a4"), Strips(1, 2, 3, 4)) == (11.0, 14.0, 198.0, 284.0)


def test_upright_first_then_turned_then_fewest_tiles() -> None:
    assert not plan((0, 0, 190, 277), "a4", NONE).sheet.landscape
    assert plan((0, 0, 190.01, 100), "a4", NONE).sheet.landscape
    tall = plan((0, 0, 100, 500), "a4", NONE)
    assert (tall.sheet.landscape, tall.rows, tall.columns) == (False, 2, 1)
    wide = plan((0, 0, 500, 100), "a4", NONE)
    assert (wide.sheet.landscape, wide.rows, wide.columns) == (True, 1, 2)


def test_one_page_shows_exactly_the_drawing_centred() -> None:
    sheet = Sheet("a4")
    one = plan((-20.0, 5.0, 130.0, 95.0), "a4", USUAL)
    tile = one.tiles[0]
    assert tile.window == (-20.0, 5.0, 130.0, 95.0)
    x0, y0, x1, y1 = frame(sheet, USUAL.portrait)
    assert tile.origin == pytest.approx((0.5 * (x0 + x1) - 75.0, 0.5 * (y0 + y1) - 45.0))
    assert one.neighbours(tile) == {}
    assert one.crosses(tile) == ()


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("bounds", "stretch"), SPREADS)
class TestTiles:
    def test_windows_cover_the_drawing(self, bounds: Box, stretch: Point, paper: Paper) -> None:
        spread_out = spread(bounds, stretch, paper)
        assert len(spread_out.tiles) == spread_out.rows * spread_out.columns > 1
        points = np.random.default_rng(1).uniform(bounds[:2], bounds[2:], (4000, 2))
        windows = np.array([tile.window for tile in spread_out.tiles])
        inside = (points[:, None] >= windows[:, :2]).all(axis=2) & (points[:, None] <= windows[:, 2:]).all(axis=2)
        assert np.all(np.any(inside, axis=1))

    def test_each_tile_lies_in_its_frame_with_room_for_words(self, bounds: Box, stretch: Point, paper: Paper) -> None:
        spread_out = spread(bounds, stretch, paper)
        room = frame(spread_out.sheet, USUAL.on(spread_out.sheet))
        for tile in spread_out.tiles:
            corner = spread_out.to_page(tile, tile.window[2:])
            beside = spread_out.neighbours(tile)
            gutters = [GUTTER if side in beside else 0.0 for side in ("left", "below", "right", "above")]
            assert tile.origin[0] - gutters[0] >= room[0] - 1e-6
            assert tile.origin[1] - gutters[1] >= room[1] - 1e-6
            assert corner[0] + gutters[2] <= room[2] + 1e-6
            assert corner[1] + gutters[3] <= room[3] + 1e-6

    def test_neighbours_overlap_by_the_same_and_share_their_crosses(
        self, bounds: Box, stretch: Point, paper: Paper
    ) -> None:
        spread_out = spread(bounds, stretch, paper)
        opposite = {"left": "right", "right": "left", "above": "below", "below": "above"}
        for tile in spread_out.tiles:
            for side, other in spread_out.neighbours(tile).items():
                assert spread_out.neighbours(other)[opposite[side]] == tile  # type: ignore[index]
                x0, y0, x1, y1 = overlap(tile.window, other.window)
                depth = x1 - x0 if side in ("left", "right") else y1 - y0
                assert depth == pytest.approx(OVERLAP, abs=2e-6)
                corners = {(x, y) for x in (x0, x1) for y in (y0, y1)}
                assert corners <= set(spread_out.crosses(tile)) & set(spread_out.crosses(other))

    def test_cores_belong_to_one_tile_only(self, bounds: Box, stretch: Point, paper: Paper) -> None:
        spread_out = spread(bounds, stretch, paper)
        for tile in spread_out.tiles:
            for other in spread_out.tiles:
                if tile != other:
                    x0, y0, x1, y1 = overlap(spread_out.core(tile), other.window)
                    assert x1 - x0 < 1e-6 or y1 - y0 < 1e-6

    def test_rows_run_down_and_columns_to_the_right(self, bounds: Box, stretch: Point, paper: Paper) -> None:
        spread_out = spread(bounds, stretch, paper)
        for row in range(spread_out.rows):
            for a, b in pairwise(spread_out.at(row, c) for c in range(spread_out.columns)):
                assert a.window[0] < b.window[0]
        for a, b in pairwise(spread_out.at(r, 0) for r in range(spread_out.rows)):
            assert a.window[1] > b.window[1]
        assert spread_out.span == f"A1..{tile_name(spread_out.rows - 1, spread_out.columns - 1)}"


def test_to_page_stretches_about_the_windows_corner() -> None:
    tile = Tile(0, 0, (10.0, 20.0, 60.0, 70.0), (30.0, 40.0))
    stretched = TilePlan(Sheet("a4"), (1.1, 0.9), 1, 1, (tile,))
    assert stretched.to_page(tile, (10.0, 20.0)) == (30.0, 40.0)
    assert stretched.to_page(tile, (20.0, 30.0)) == pytest.approx((41.0, 49.0))


def test_stretch_belongs_to_the_paper_and_not_to_the_page() -> None:
    # Across the paper 2 % more: upright that is horizontal, turned it is vertical.
    assert plan((0, 0, 100, 100), "a4", NONE, (1.02, 1.0)).stretch == (1.02, 1.0)
    assert plan((0, 0, 200, 100), "a4", NONE, (1.02, 1.0)).stretch == (1.0, 1.02)
    # A drawing that only just fits no longer does when it is drawn longer.
    width = PAPERS["a4"][0] - 2 * MARGIN
    assert fits((0, 0, width, 10), Sheet("a4"), Strips())
    assert not fits((0, 0, width, 10), Sheet("a4"), Strips(), (1.001, 1.0))


def test_names_of_many_rows() -> None:
    assert [tile_name(r, 0) for r in (0, 25, 26, 51, 52, 701, 702)] == [
        "A1",
        "Z1",
        "AA1",
        "AZ1",
        "BA1",
        "ZZ1",
        "AAA1",
    ]


def test_no_room_for_a_tile() -> None:
    greedy = Strips(top=260.0)
    with pytest.raises(ValueError, match=r"the strips leave 17\.0 mm for a tile"):
        plan((0, 0, 500, 500), "a4", Reserved(greedy, greedy))


def test_placing_what_does_not_fit() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        place((0, 0, 300, 10), Sheet("a4"), Strips())
