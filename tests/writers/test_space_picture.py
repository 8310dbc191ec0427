"""The picture of room: in the tones of the verdicts, what is cold and too near drawn too."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import Image

import rootgap
from rootgap.checks import Clearance
from rootgap.manifold import Manifold
from rootgap.writers.space import COOL, TONES, space_picture

ROOT = Path(__file__).parents[2]


def count(manifold: Manifold, rows: Sequence[Clearance], colour: tuple[int, int, int]) -> int:
    """How many pixels have a colour."""
    data = space_picture(manifold.space, rows, manifold.neighbours())
    return int((np.array(Image.open(io.BytesIO(data)).convert("RGB")) == colour).all(axis=2).sum())


def test_the_filter_in_the_fan_shroud_is_drawn_with_its_two_places() -> None:
    bay = rootgap.load(ROOT / "assemblies" / "ice-racer-four.toml")
    rows = bay.space.rows()
    assert rows == sorted(rows, key=lambda row: row.margin)
    (filter_row,) = [row for row in rows if (row.name, row.piece) == ("fan-shroud", "turbo.main-filter")]
    assert filter_row.verdict == "fail"
    red, _ = TONES["fail"]
    with_it, without = (count(bay, some, red) for some in (rows, [row for row in rows if row is not filter_row]))
    assert with_it > without + 20_000


def test_the_cold_side_is_drawn(manifold: Manifold) -> None:
    # Compressor and filter, 146 and 125 mm across, in four views.
    assert count(manifold, (), COOL) > 20_000
