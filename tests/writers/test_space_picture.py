"""The picture of room: in the tones of the verdicts, what is cold and too near drawn too."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import rootgap
from rootgap.checks import Clearance
from rootgap.geometry.distance import Block
from rootgap.geometry.mesh import Mesh
from rootgap.layout import Keepout
from rootgap.manifold import Manifold
from rootgap.writers import space as space_writer
from rootgap.writers.board import Board
from rootgap.writers.space import COOL, THIN, TONES, VIEWS, mesh_on, space_picture

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


def wall() -> Mesh:
    """A waved wall of 20,000 triangles behind the head's face, 900 by 600."""
    sides = np.linspace(-450, 450, 101), np.linspace(-300, 300, 101)
    u, v = (axis.ravel() for axis in np.meshgrid(*sides, indexing="ij"))
    at = np.arange(101 * 101).reshape(101, 101)
    cells = [each.ravel() for each in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:])]
    faces = np.vstack([np.stack([cells[0], cells[k], cells[k + 1]], axis=-1) for k in (1, 2)])
    return Mesh(np.stack([u, v, 10.0 * np.sin(0.02 * u) - 30.0], axis=-1), faces, 400)


def test_a_scan_is_thin_dots_all_over_it() -> None:
    """One a square, hardly any square of the wall without, and little ink."""
    board = Board((-500.0, -350.0), (500.0, 350.0), 1000)
    dots = mesh_on(VIEWS[1], board, wall(), TONES["pass"]).places
    squares = {(int(x // THIN), int(y // THIN)) for x, y in dots + (500.0, 350.0)}
    assert len(squares) == len(dots)
    assert len(squares) > 0.8 * (900 // THIN) * (600 // THIN)
    assert (np.abs(dots) <= (450.0, 300.0)).all()
    white = np.asarray(board.image).min(axis=2)
    assert (white < 250).mean() < 1.3 / THIN**2


def test_a_scan_lies_behind_the_other_keepouts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Before and after it stands in the file, no pixel of a box gives way but to the scan's name; a small picture."""
    monkeypatch.setattr(space_writer, "WIDE", 900)
    small = rootgap.load(ROOT / "tests" / "checks" / "access" / "flanges.toml")
    box = Keepout(Block.upright((120, -60, 60), (90, 90, 90)), 10.0)
    fill, _ = TONES["pass"]
    filled = []
    for keepouts in ({"box": box}, {"box": box, "scan": Keepout(wall(), 10.0)}):
        space = replace(small.space, layout=replace(small.layout, keepouts=keepouts))
        data = space_picture(space, (), ())
        filled.append((np.array(Image.open(io.BytesIO(data)).convert("RGB")) == fill).all(axis=2))
    assert filled[0].sum() > 4000
    assert (filled[0] & ~filled[1]).sum() < 0.08 * filled[0].sum()
