"""Times of the things people wait for: `python -m pytest tests/benchmark -q`."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
import trimesh
from PIL import Image

import rootgap
from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Circle
from rootgap.joints import Cope
from rootgap.spec import FlangePart, load_part
from rootgap.workspace import new_workspace

REPEATS = 3


def cold(arguments: list[str]) -> float:
    """Return the least wall time, s, of a fresh process."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return min(times)


def test_cold_templates(demo: Path, tmp_path: Path, row) -> None:
    took = cold(["-m", "rootgap", "templates", str(demo), "--out", str(tmp_path)])
    row("cold rootgap templates, sand-rail-four", f"{took:.2f} s", "1.2 s")


def test_cold_build_against_a_plain_script(demo: Path, built: Path, manifold, tmp_path: Path, row) -> None:
    plates = {}
    for pattern in manifold.patterns:
        if pattern.kind != "plate":
            continue
        holes = [item.shape for item in pattern.drawn if isinstance(item.shape, Circle) and item.layer != "mark"]
        inner = [item.shape.vertices for item in pattern.drawn if item.layer == "cut.inner" and item.shape not in holes]
        outer = next(item.shape.vertices for item in pattern.drawn if item.layer == "cut.outer")
        plates[pattern.name] = {
            "outer": outer,
            "inner": inner,
            "holes": [(*hole.center, hole.radius) for hole in holes],
        }
    shapes = tmp_path / "plates.json"
    shapes.write_text(json.dumps(plates), encoding="utf-8")
    script = Path(__file__).with_name("plain_script.py")
    plain = cold([str(script), str(built / "manifest.json"), str(shapes), str(tmp_path / "plain")])
    took = cold(["-m", "rootgap", "build", str(demo), "--out", str(tmp_path / "ours")])
    for path in (tmp_path / "plain").glob("*.stl"):
        theirs, ours = trimesh.load(path), trimesh.load(built / "solids" / path.name)
        assert ours.volume == pytest.approx(theirs.volume, rel=0.05), "not the same bodies"
    row("cold plain CadQuery script, same bodies", f"{plain:.2f} s", "")
    row("cold rootgap build, sand-rail-four", f"{took:.2f} s ({took / plain:.2f} x)", "1.5 x the plain script")


def test_joint_mathematics(manifold: rootgap.Manifold, row) -> None:
    cope = next(joint for joint in manifold.joints if isinstance(joint, Cope))
    theta = 2.0 * np.pi * np.arange(720) / 720
    times = []
    for _ in range(50):
        # A new object each time: nothing remembered from the last.
        fresh = Cope(cope.id, cope.branch, cope.target, cope.set_, cope.prep, cope.clearance)
        start = time.perf_counter()
        fresh.cut(theta), fresh.root_gap(theta), fresh.groove(theta), fresh.grind(theta), fresh.hole(theta)
        times.append(time.perf_counter() - start)
    row("joint mathematics, one cope at 720 clocks", f"{1e3 * min(times):.2f} ms", "1 ms")


def test_a_v6(tmp_path: Path, row) -> None:
    source = Path(__file__).parents[2] / "assemblies" / "jet-boat-v6.toml"
    out = tmp_path / "out"
    for verb in ("templates", "build"):
        took = cold(["-m", "rootgap", verb, str(source), "--out", str(out)])
        row(f"cold rootgap {verb}, jet-boat-v6", f"{took:.2f} s", "")
    workspace = tmp_path / "workspace"
    new_workspace(workspace)
    file = workspace / "assemblies" / source.name
    text = file.read_text(encoding="utf-8")
    times = []
    for length in ("22", "23", "24", "25"):
        # One number: the first straight of the port bank's primaries.
        before, found, after = text.rpartition("{ straight = 22 }")
        assert found
        file.write_text(f"{before}{{ straight = {length} }}{after}", encoding="utf-8")
        start = time.perf_counter()
        rootgap.load(file).build(out)
        times.append(time.perf_counter() - start)
    row("first build in a process, jet-boat-v6", f"{times[0]:.2f} s", "")
    row("warm rebuild after one changed number, jet-boat-v6", f"{min(times[1:]):.2f} s", "0.5 s")


def test_trace_of_a_scan(tmp_path: Path, row) -> None:
    """A4 at 300 dpi, the first two ports of a demo's flange, with noise."""
    whole = load_part(Path(__file__).parents[2] / "parts" / "head-sand-rail-four.toml")
    assert isinstance(whole, FlangePart)
    near = [hole.at for hole in whole.holes() if hole.at[0] < 160]
    bolts = (whole.bolts[0].model_copy(update={"at": tuple(near)}),)
    part = whole.model_copy(update={"port": whole.port[:2], "bolts": bolts})
    pixels = np.full((2480, 3508, 3), 235, np.uint8)
    shapes = [*part.edges(), *(placed(port.opening.opening().shape(), port.at) for port in part.port)]
    for number, shape in enumerate([*shapes, *(Circle(hole.at, 0.5 * hole.diameter) for hole in part.holes())]):
        points = (shape.points(0.01) * [1, -1] + [90, 105]) * 300 / 25.4
        level = (235,) * 3 if number else (70,) * 3
        cv2.fillPoly(pixels, [np.round(16 * points).astype(np.int32)], level, cv2.LINE_AA, 4)
    noise = np.random.default_rng(1).normal(0.0, 4.0, pixels.shape)
    Image.fromarray(np.clip(pixels + noise, 0, 255).astype(np.uint8)).save(tmp_path / "a.png", dpi=(300, 300))
    times = []
    for number in range(REPEATS):
        start = time.perf_counter()
        words = ["-m", "rootgap", "trace", str(tmp_path / "a.png"), "--out", str(tmp_path / f"{number}.toml")]
        subprocess.run([sys.executable, *words], check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    assert len(load_part(tmp_path / "0.toml").port) == 2
    row("cold rootgap trace, A4 scan at 300 dpi", f"{min(times):.2f} s", "3 s")
