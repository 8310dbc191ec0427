"""Room for lettering, held against plain geometry."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from rootgap.patterns.pattern import Label
from rootgap.writers.sheets.labels import (
    LABEL_AIR,
    LEAST_HEIGHT,
    LINE_AIR,
    Array,
    Cells,
    grown,
    inside,
    label_box,
    meets,
    placed_labels,
    roomiest,
)
from rootgap.writers.sheets.paper import OVERLAP, Box, Reserved, Strips, TilePlan, plan

SHEET = (0.0, 0.0, 160.0, 90.0)
BARE = Reserved(Strips(), Strips())


def one_page(bounds: Box = SHEET) -> TilePlan:
    return plan(bounds, "a4", BARE)


def distance(box: Box, chain: Array) -> float:
    """Return the distance, mm, from a box to points that lie densely on a chain."""
    t = np.linspace(0.0, len(chain) - 1.0, 20000)
    xy = np.column_stack([np.interp(t, np.arange(len(chain)), chain[:, i]) for i in (0, 1)])
    out = np.maximum(np.maximum(np.array(box[:2]) - xy, xy - np.array(box[2:])), 0.0)
    return float(np.hypot(out[:, 0], out[:, 1]).min())


def ellipse(x: float, y: float, a: float, b: float) -> Array:
    t = np.linspace(0.0, 2.0 * np.pi, 121)
    return np.column_stack([x + a * np.cos(t), y + b * np.sin(t)])


def test_box_of_a_turned_label() -> None:
    level = label_box(Label("text", (10.0, 20.0), "log", 3.5))
    turned = label_box(Label("text", (10.0, 20.0), "log", 3.5, 90.0))
    assert level[0] == 10.0
    assert level[3] == pytest.approx(23.5)
    assert turned[2] - turned[0] == pytest.approx(level[3] - level[1])
    assert turned[3] - turned[1] == pytest.approx(level[2] - level[0])
    middle = label_box(Label("text", (10.0, 20.0), "log", 3.5, 0.0, "middle"))
    assert 0.5 * (middle[0] + middle[2]) == pytest.approx(10.0)


def test_cells_inside_a_ring_have_its_area() -> None:
    ring = ellipse(50.0, 40.0, 30.0, 20.0)[:-1]
    cells = Cells.over((15.0, 15.0, 85.0, 65.0), [], (), ring)
    free = cells.sums[-1, -1]
    total = (cells.sums.shape[0] - 1) * (cells.sums.shape[1] - 1)
    # Area of an ellipse: pi a b.
    assert (total - free) * cells.cell**2 == pytest.approx(np.pi * 30.0 * 20.0, rel=5e-3)


def test_a_box_is_clear_as_far_as_it_is_from_a_line() -> None:
    chain = ellipse(60.0, 45.0, 25.0, 18.0)
    cells = Cells.over(SHEET, [chain])
    corners = np.random.default_rng(3).uniform((5.0, 5.0), (140.0, 80.0), (300, 2))
    boxes = np.hstack([corners, corners + (12.0, 4.0)])
    for box, clear in zip(boxes, cells.clear(boxes), strict=True):
        away = distance(tuple(box), chain)
        assert clear or away < 2.0 * cells.cell
        assert not clear or away > 0.0


def test_labels_that_are_clear_stay() -> None:
    labels = tuple(Label("text", (20.0 + 30.0 * i, 30.0), f"{90 * i}", 3.5) for i in range(4))
    cells = Cells.over(SHEET, [np.array([(18.0 + 30.0 * i, 0.0), (18.0 + 30.0 * i, 90.0)]) for i in range(4)])
    assert set(placed_labels(labels, cells, one_page())) == set(labels)


def test_labels_on_lines_and_on_each_other_move_a_little() -> None:
    hole, clock = ellipse(60.0, 45.0, 25.0, 18.0), np.array([(46.0, 0.0), (46.0, 90.0)])
    labels = (
        Label("text", (60.0, 43.0), "primary.3", 5.0, 0.0, "middle"),
        Label("text", (60.0, 70.0), "4B", 3.5, 0.0, "middle"),
        Label("text", (64.0, 70.0), "3D", 3.5, 0.0, "middle"),
        Label("text", (35.0, 43.0), "3C", 3.5, 0.0, "middle"),
    )
    placed = placed_labels(labels, Cells.over(SHEET, [hole, clock]), one_page())
    assert {label.text for label in placed} == {label.text for label in labels}
    for label in placed:
        before = next(one for one in labels if one.text == label.text)
        assert np.hypot(*np.subtract(label.at, before.at)) < 12.0
        assert inside(label_box(label), SHEET)
        for chain in (hole, clock):
            # The cells are half a millimetre wide.
            assert distance(label_box(label), chain) > LINE_AIR - 0.5
    for a, b in combinations(placed, 2):
        assert not meets(grown(label_box(a), 0.5 * LABEL_AIR), grown(label_box(b), 0.49 * LABEL_AIR))


def test_a_label_shrinks_where_only_a_smaller_one_has_room() -> None:
    hole, clock = ellipse(60.0, 45.0, 18.0, 18.0), np.array([(60.0, 0.0), (60.0, 90.0)])
    label = Label("text", (60.0, 43.0), "log.1", 5.0, 0.0, "middle")
    (placed,) = placed_labels([label], Cells.over(SHEET, [hole, clock]), one_page())
    assert LEAST_HEIGHT <= placed.height < label.height
    assert distance(label_box(placed), clock) > LINE_AIR - 0.5
    assert distance(label_box(placed), hole) > LINE_AIR - 0.5


def test_a_label_with_no_room_near_by_keeps_its_place() -> None:
    lines = [np.array([(0.0, y), (160.0, y)]) for y in np.arange(0.0, 90.0, 2.0)]
    label = Label("text", (80.0, 45.0), "primary.1", 5.0)
    assert placed_labels([label], Cells.over(SHEET, lines), one_page()) == (label,)


def test_a_label_across_a_join_comes_whole_onto_one_tile() -> None:
    bounds = (0.0, 0.0, 400.0, 90.0)
    spread = plan(bounds, "a4", BARE)
    assert spread.columns > 1
    seam = spread.tiles[0].window[2]
    label = Label("text", (seam - 0.5 * OVERLAP, 40.0), "datum edge", 5.0, 0.0, "middle")
    (placed,) = placed_labels([label], Cells.over(bounds, []), spread)
    assert any(inside(label_box(placed), spread.core(tile)) for tile in spread.tiles)


def test_a_label_across_a_join_stays_among_the_lines_that_it_stood_among() -> None:
    """Room that is clear of them but a page away is not where the word belongs."""
    bounds = (0.0, 0.0, 400.0, 200.0)
    spread = plan(bounds, "a4", BARE)
    seam = spread.tiles[0].window[2]
    lines = [np.array([(x, 60.0), (x, 200.0)]) for x in np.arange(0.0, 400.0, 6.0)]
    label = Label("text", (seam - 0.5 * OVERLAP, 130.0), "OUTSIDE", 5.0, 0.0, "middle")
    (placed,) = placed_labels([label], Cells.over(bounds, lines), spread)
    left, _, right, _ = label_box(label)
    assert np.hypot(placed.at[0] - label.at[0], placed.at[1] - label.at[1]) <= right - left
    assert any(inside(label_box(placed), tile.window) for tile in spread.tiles)


def test_a_label_longer_than_a_tile_shrinks() -> None:
    spread = plan((0.0, 0.0, 400.0, 90.0), "a4", BARE)
    label = Label("text", (200.0, 40.0), "a very long word of warning " * 4, 6.0, 0.0, "middle")
    (placed,) = placed_labels([label], Cells.over((0.0, 0.0, 400.0, 90.0), []), spread)
    assert placed.height < label.height
    assert any(inside(label_box(placed), tile.window) for tile in spread.tiles)


def test_a_word_goes_where_there_is_most_room_in_its_ring() -> None:
    wedge = np.array([(0.0, 0.0), (100.0, 0.0), (100.0, 40.0)])
    cells = Cells.over((0.0, 0.0, 100.0, 40.0), [np.vstack([wedge, wedge[:1]])], (), wedge)
    word = roomiest(Label("text", (0.0, 0.0), "WASTE", 3.5, 0.0, "middle"), cells, (0.0, 0.0, 100.0, 40.0))
    assert word is not None
    x0, y0, x1, y1 = label_box(word)
    # Below the wedge's upper side y = 0.4 x, with air.
    assert y1 < 0.4 * x0 - 0.5
    assert y0 > 0.5
    assert x1 < 99.5
    assert roomiest(word, cells, (0.0, 0.0, 15.0, 40.0)) is None
