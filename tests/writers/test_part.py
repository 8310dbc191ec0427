"""A flange written as a parameter file and read again is the same flange."""

from __future__ import annotations

from pathlib import Path

import pytest

from rootgap.spec import FlangePart, load_part
from rootgap.writers.part import part_text

ROOT = Path(__file__).parent.parent.parent
FLANGES = [path for path in sorted((ROOT / "parts").glob("*.toml")) if '"flange"' in path.read_text("utf-8")]
DRAWN = """
name = "drawn"
kind = "flange"
units = "in"
material = "304L"
thickness = "1/2 in"
title = 'a "quoted" \\ title'
outline = { path = [[-2, -2], [2, -2, 0.4142135623], [2, 2], [-2, 2]] }
[[port]]
at = [0.125, 0]
angle = 22.5
opening = { path = [[-0.5, -0.5, 0.1], [0.5, -0.5, 0.1], [0.5, 0.5, 0.1], [-0.5, 0.5, 0.1]] }
[[port]]
at = [0.125, 1.4]
opening = { path = [%s] }
[[bolts]]
hole = "9 mm"
at = [[-1.5, 0], [1.5, 0]]
"""
CIRCLE = "[-0.3, 0], [-0.2, -0.2], [-0.1, -0.25], [0, -0.3], [0.1, -0.25], [0.2, -0.2], [0.3, 0], [0.2, 0.2], [0, 0.3]"


def same(one: FlangePart, other: FlangePart) -> None:
    for word in ("name", "title", "note", "material"):
        assert getattr(one, word) == getattr(other, word)
    assert one.thickness == pytest.approx(other.thickness, abs=6e-4)
    assert len(one.port) == len(other.port)
    for port, port_there in zip(one.port, other.port, strict=True):
        assert port.at == pytest.approx(port_there.at, abs=6e-4)
        assert port.angle == pytest.approx(port_there.angle, abs=1e-6)
        assert type(port.opening) is type(port_there.opening)
        assert port.opening.opening().area == pytest.approx(port_there.opening.opening().area, rel=2e-4)
    for hole, there in zip(one.holes(), other.holes(), strict=True):
        assert (*hole.at, hole.diameter) == pytest.approx((*there.at, there.diameter), abs=6e-4)
        assert (hole.slot, hole.bolts.thread) == (pytest.approx(there.slot, abs=6e-4), there.bolts.thread)
    for edge, edge_there in zip(one.edges(), other.edges(), strict=True):
        assert edge.area == pytest.approx(edge_there.area, rel=1e-5)


@pytest.mark.parametrize("path", FLANGES, ids=lambda path: path.stem)
def test_every_flange_comes_back(path: Path, tmp_path: Path) -> None:
    part = load_part(path)
    assert isinstance(part, FlangePart)
    (tmp_path / "again.toml").write_text(part_text(part, ["measured", "two\nlines"]), encoding="utf-8")
    again = load_part(tmp_path / "again.toml")
    assert isinstance(again, FlangePart)
    same(part, again)


def test_a_drawn_one_comes_back_in_mm(tmp_path: Path) -> None:
    (tmp_path / "drawn.toml").write_text(DRAWN % CIRCLE, encoding="utf-8")
    part = load_part(tmp_path / "drawn.toml")
    assert isinstance(part, FlangePart)
    text = part_text(part)
    (tmp_path / "again.toml").write_text(text, encoding="utf-8")
    again = load_part(tmp_path / "again.toml")
    assert isinstance(again, FlangePart)
    assert again.units == "mm"
    assert max(map(len, text.splitlines())) <= 120
    same(part, again)
