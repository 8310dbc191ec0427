"""The picture of access, through the command: the file's bytes twice the same, its tones as the verdicts are."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import rootgap
from rootgap.checks.access.judge import Reached
from rootgap.checks.access.obstacles import Obstacle
from rootgap.checks.access.told import bolt_rows, install_rows, reached_record, weld_rows
from rootgap.geometry.distance import Ball
from rootgap.manifold import Manifold
from rootgap.writers.access import access_picture
from rootgap.writers.space import TONES


@pytest.fixture(scope="module")
def manifold(demo: Path) -> Manifold:
    return rootgap.load(demo)


@pytest.fixture(scope="module")
def found(manifold: Manifold) -> Reached:
    return manifold.access()


def test_it_shows_green_tools_and_no_red_ones(manifold: Manifold, found: Reached) -> None:
    data = access_picture(manifold.layout, found)
    assert data == access_picture(manifold.layout, found)
    pixels = np.array(Image.open(io.BytesIO(data)).convert("RGB"))
    count = {verdict: int((pixels == fill).all(axis=2).sum()) for verdict, (fill, _) in TONES.items()}
    # The legend has a patch of each.
    assert count["pass"] > 20 * count["fail"] > 0


def test_what_stops_a_part_is_drawn_and_named_in_red(manifold: Manifold, found: Reached) -> None:
    post = Obstacle("keepout.post", Ball(np.array((180.0, -120.0, 120.0)), 40.0))
    space = replace(found.space, things=(*found.space.things, post))
    stuck = tuple(replace(way, clear=False, blocks=post.name) for way in found.ways)
    free, told = (replace(found, space=space, ways=ways) for ways in (found.ways, stuck))
    pictures = [Image.open(io.BytesIO(access_picture(manifold.layout, each))) for each in (free, told)]
    # Lettering is thin, so that its edges are paler than its ink.
    pixels = [np.array(each.convert("RGB")).astype(int) for each in pictures]
    free_red, red = (int((each[..., 0] - each[..., 1] > 60).sum()) for each in pixels)
    assert red > free_red + 100


def test_the_tables_have_a_row_for_each(found: Reached) -> None:
    assert len(bolt_rows(found.bolts)) == 1 + 14
    assert len(weld_rows(found.welds)) == 1 + 20
    assert [row[:2] for row in install_rows(found.ways)[1:]] == [
        ("1", "the manifold"),
        ("2", "turbo.main"),
        ("3", "turbo.main-shield.2"),
        ("4", "turbo.main-shield.1"),
        ("5", "turbo.main-air, then its clamp"),
        ("6", "turbo.main-filter, then its clamp"),
    ]


def test_the_record_is_plain(manifold: Manifold, found: Reached) -> None:
    record = reached_record(found, manifold.layout)
    again = json.loads(json.dumps(record, allow_nan=False))
    assert [each["bolt"] for each in again["bolts"]] == [each.bolt.id for each in found.bolts]
    assert len(record["bolts"]) == 14


def test_the_command_writes_it_and_never_over_its_file(tmp_path: Path) -> None:
    picture = tmp_path / "tools.png"
    file = Path(__file__).parents[1] / "checks" / "access" / "flanges.toml"
    words = [sys.executable, "-m", "rootgap", "access", str(file), "--picture"]
    done = subprocess.run([*words, str(picture)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert f"Wrote {picture}" in done.stdout
    assert picture.read_bytes().startswith(b"\x89PNG")
    wrong = subprocess.run([*words, str(tmp_path / "tools.jpg")], capture_output=True, text=True, check=False)
    assert (wrong.returncode, "ends in .png" in wrong.stderr) == (2, True)
