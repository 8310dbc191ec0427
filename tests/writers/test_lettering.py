"""Names and figures of pictures: apart from each other, on the paper, off what is marked, tied to what they name."""

from __future__ import annotations

import numpy as np
import pytest

from rootgap.patterns.strokes import width
from rootgap.writers.board import INK, Board, Colour
from rootgap.writers.lettering import Dots, Labels, roomiest, thickest

GREEN: Colour = (222, 238, 226)
RED: Colour = (176, 36, 24)


def board() -> Board:
    """A sheet of 400 by 300 mm, four pixels a mm."""
    return Board((0.0, 0.0), (400.0, 300.0), 800)


def square(x: float, y: float, side: float) -> np.ndarray:
    return np.array([(x, y), (x + side, y), (x + side, y + side), (x, y + side)])


def test_ten_labels_of_one_place_stand_apart_and_on_the_paper() -> None:
    for at in ((200.0, 150.0), (398.0, 1.0)):
        labels = Labels(board(), 5.0, "from above")
        for number in range(10):
            labels.add(f"keepout-{number}", np.array(at), RED)
        labels.write()
        boxes = np.array(labels.taken)
        assert len(boxes) == 11
        low, high = boxes[:, None, :2] < boxes[None, :, 2:], boxes[:, None, 2:] > boxes[None, :, :2]
        meet = (low & high).all(axis=2)
        assert not (meet & ~np.eye(11, dtype=bool)).any()
        assert (boxes[1:, :2] >= 0.0).all()
        assert (boxes[1:, 2:] <= (400.0, 300.0)).all()


def test_where_nothing_is_in_the_way_it_stands_on_its_place() -> None:
    labels = Labels(board(), 5.0, "")
    labels.add("hood", np.array((200.0, 150.0)), RED)
    labels.write()
    x0, y0, x1, y1 = labels.taken[-1]
    assert (x0 < 200.0 < x1, y0 < 150.0 < y1) == (True, True)
    assert abs(x1 - x0 - width("hood", 5.0) - 2 * 0.35 * 5.0) < 1e-9


def test_marks_and_metal_are_not_written_over_and_a_leader_leads_there() -> None:
    sheet = board()
    sheet.polygon(square(160.0, 130.0, 40.0), (143, 164, 184))
    before = np.asarray(sheet.image).copy()
    labels = Labels(sheet, 5.0, "")
    middle = np.array((180.0, 150.0))
    labels.keep(middle[None])
    labels.add("log-a 12.3 of 25", middle, RED)
    labels.write()
    x0, y0, x1, y1 = labels.taken[-1]
    assert x1 <= 161.0 or x0 >= 199.0 or y1 <= 131.0 or y0 >= 169.0
    # From the middle to the label's edge the leader's tone is met on the way over the metal.
    end = np.clip(middle, (x0, y0), (x1, y1))
    ways = [middle + share * (end - middle) for share in (0.3, 0.6)]
    pixels = np.asarray(sheet.image)
    for (x, y) in sheet.at(np.array(ways)):
        near = pixels[int(y) - 2 : int(y) + 3, int(x) - 2 : int(x) + 3]
        assert (near == RED).all(axis=2).any()
        assert not (before[int(y), int(x)] == RED).all()


def test_the_roomiest_place_is_in_the_midst_of_what_is_seen() -> None:
    sheet = board()
    box = square(100.0, 100.0, 100.0)
    sheet.polygon(box, GREEN)
    at = roomiest(sheet, [box], GREEN)
    assert at is not None
    assert np.abs(at - (150.0, 150.0)).max() < 6.0
    # Its left half behind a pipe: in the midst of the right half, which is twice as high as wide.
    sheet.polygon(np.array([(100, 90), (150, 90), (150, 210), (100, 210)], dtype=float), INK)
    at = roomiest(sheet, [box], GREEN)
    assert at is not None
    assert np.abs(at - (175.0, 150.0)).max() < 6.0
    # A bar that runs off the paper: in the midst of what is on it.
    bar = np.array([(-900.0, 20.0), (900.0, 20.0), (900.0, 40.0), (-900.0, 40.0)])
    sheet.polygon(bar, GREEN)
    at = roomiest(sheet, [bar], GREEN)
    assert at is not None
    assert np.abs(at - (200.0, 30.0)).max() < 6.0
    assert roomiest(sheet, [square(-90.0, 0.0, 50.0)], GREEN) is None


@pytest.mark.parametrize("over", [INK, GREEN])
def test_a_scans_name_stands_where_the_scan_is_and_is_seen(over: Colour) -> None:
    """Two patches of dots, the larger one behind metal or a keep-out; the mean of all is where neither is."""
    sheet = board()
    grid = np.stack(np.meshgrid(np.arange(0.0, 60.0, 2.0), np.arange(0.0, 60.0, 2.0)), axis=-1).reshape(-1, 2)
    dots = Dots(np.vstack([grid + (20.0, 20.0), 1.3 * grid + (300.0, 200.0)]), RED)
    for x, y in sheet.at(dots.places):
        sheet.draw.rectangle((x, y, x + 1, y + 1), fill=RED)
    both = thickest(sheet, dots)
    sheet.polygon(square(295.0, 195.0, 100.0), over)
    at = thickest(sheet, dots)
    assert at is not None and both is not None
    assert np.linalg.norm(dots.places - at, axis=1).min() < 3.0
    assert at.max() < 85.0
    assert np.linalg.norm(dots.places - both, axis=1).min() < 3.0
    assert thickest(sheet, Dots(np.empty((0, 2)), RED)) is None
