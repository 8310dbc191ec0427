"""Small searches in a workspace of their own."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

import rootgap
from rootgap.search import Search

RIGHT = Path(__file__).parent.parent / "wrong" / "right"
#: What a small search changes: a log in front of two ports, up and down and out.
SEARCH = """
[search.height]                    # of the log
sets = "run.log.start.at.y"
from = 85
to   = 115
step = 10

[search.depth]
sets = "run.log.start.at.z"
from = 115
to   = 135
step = 10

[search.lean]
sets   = "run.primary.pieces[2].angle"
values = [56, 62]
"""
KEEPOUT = """
[keepout.{name}]
sphere    = {{ at = {at}, diameter = 40 }}
clearance = {clearance}
side      = "engine"
"""


@pytest.fixture
def bay(tmp_path: Path) -> Callable[..., Path]:
    """Write a small file to search, with keep-outs given as (name, at, clearance), and return its path."""

    def write(*keepouts: tuple[str, list[float], float], more: str = "", search: str = SEARCH) -> Path:
        shutil.copytree(RIGHT / "parts", tmp_path / "parts", dirs_exist_ok=True)
        text = (RIGHT / "case.toml").read_text(encoding="utf-8")
        for name, at, clearance in keepouts:
            text += KEEPOUT.format(name=name, at=at, clearance=clearance)
        path = tmp_path / "case.toml"
        path.write_text(text + search + more, encoding="utf-8")
        return path

    return write


@pytest.fixture
def searched(bay) -> Callable[..., Search]:
    def search(*keepouts: tuple[str, list[float], float], more: str = "") -> Search:
        return rootgap.load(bay(*keepouts, more=more)).search()

    return search
