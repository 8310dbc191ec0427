"""Times of the things people wait for: `python -m pytest tests/benchmark -q`."""

from __future__ import annotations

import json
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cadquery as cq
import cv2
import numpy as np
import pytest
import trimesh
from PIL import Image

import rootgap
from rootgap.geometry.distance import Ball, Block
from rootgap.geometry.frames import Frame
from rootgap.geometry.mesh import Mesh
from rootgap.geometry.openings import Round, RoundedRectangle, placed
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Circle
from rootgap.geometry.paths import Path as Outline
from rootgap.geometry.routing import Kind, Obstacle, Task, find
from rootgap.joints import Cope
from rootgap.patterns.pattern import Drawn, Pattern, PlateStock
from rootgap.patterns.sheets import cut_sheets
from rootgap.spec import FlangePart, SheetSpec, TablePart, assembly_of, load_part
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


def bare(workspace: Path, name: str) -> Path:
    """Return the file of a demo without its fixture and its table, in a new workspace."""
    new_workspace(workspace)
    file = workspace / "assemblies" / f"{name}.toml"
    lines = file.read_text(encoding="utf-8").partition("[fixture]")[0].splitlines(keepends=True)
    file.write_text("".join(line for line in lines if not line.startswith("table")), encoding="utf-8")
    return file


def test_cold_templates(demo: Path, tmp_path: Path, row) -> None:
    source = bare(tmp_path / "workspace", demo.stem)
    took = cold(["-m", "rootgap", "templates", str(source), "--out", str(tmp_path / "bare")])
    row("cold rootgap templates, sand-rail-four", f"{took:.2f} s", "1.2 s")
    took = cold(["-m", "rootgap", "templates", str(demo), "--out", str(tmp_path / "whole")])
    row("  with its fixture, all plate nested", f"{took:.2f} s", "")


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
    source = bare(tmp_path / "workspace", demo.stem)
    took = cold(["-m", "rootgap", "build", str(source), "--out", str(tmp_path / "ours")])
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
    file = bare(tmp_path / "workspace", "jet-boat-v6")
    out = tmp_path / "out"
    for verb in ("templates", "build"):
        took = cold(["-m", "rootgap", verb, str(file), "--out", str(out)])
        row(f"cold rootgap {verb}, jet-boat-v6", f"{took:.2f} s", "")
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
def forty_plates() -> list[Pattern]:
    """Made plates: head flanges, four-bolt flanges, discs, half discs and closing plates, eight of each."""
    plates = []
    for number in range(8):
        ports = [(RoundedRectangle(36.0, 30.0, 8.0), (92.0 * port, 0.0), 0.0) for port in range(2 + number % 3)]
        bolts = [(92.0 * bolt - 46.0, side * 26.0) for bolt in range(len(ports) + 1) for side in (1, -1)]
        head = flange_outline(ports, bolts, 13.0, 13.0, 25.0)
        reach = 38.0 + number
        corners = [(x, y) for x in (reach, -reach) for y in (reach, -reach)]
        four = flange_outline([(Round(50.0), (0.0, 0.0), 0.0)], corners, 13.0, 13.0, 60.0)
        r = 30.0 + 3.0 * number
        half = Outline(((-r, 0.0, 0.0), (r, 0.0, 1.0)), closed=True)
        wide, high = 180.0 + 30.0 * number, 60.0 + 4.0 * number
        closing = Outline.through([(0, 0), (wide, 0), (wide, high), (0, high)], closed=True)
        inner = [placed(opening.shape(), at, turn) for opening, at, turn in ports]
        disc = Circle((0.0, 0.0), r)
        shapes = [(head, inner), (four, [Circle((0.0, 0.0), 25.0)]), (disc, []), (half, []), (closing, [])]
        for kind, (outer, inside) in enumerate(shapes):
            drawn = (*(Drawn("cut.inner", shape) for shape in inside), Drawn("cut.outer", outer))
            plates.append(Pattern(f"p{number}{kind}", "plate", "", drawn, plate=PlateStock("carbon steel", 10.0)))
    return plates


def fixture_plates() -> list[Pattern]:
    """Forty plates of the demos' fixtures: bases, cradles, stops, plugs and posts."""
    folder = Path(__file__).parents[2] / "assemblies"
    names = ("hill-climb-six", "sand-rail-four", "jet-boat-v6")
    patterns = [pattern for name in names for pattern in rootgap.load(folder / f"{name}.toml").patterns]
    plates = [pattern for pattern in patterns if pattern.kind == "fixture"][:40]
    return [replace(pattern, name=f"p{number}") for number, pattern in enumerate(plates)]


@pytest.mark.parametrize(("made", "what"), [(forty_plates, "flanges, discs"), (fixture_plates, "fixtures")])
def test_forty_plates_on_sheets(made: Callable[[], list[Pattern]], what: str, row) -> None:
    sheet = SheetSpec(size=(1250.0, 1250.0), margin=5.0, spacing=5.0)
    table = TablePart(name="t", kind="table", units="mm", kerf=1.6, sheet=sheet)
    plates = made()
    start = time.perf_counter()
    sheets = cut_sheets(plates, table)
    took = time.perf_counter() - start
    assert sum(len(each.parts) for each in sheets) == len(plates) == 40
    row(f"40 plates nested: {what}", f"{took:.2f} s", "5 s")
    row("  use of the length taken, metal", f"{100 * sheets[0].use:.0f} %", "65 %")
    row("  the same with drops counted", f"{100 * sheets[0].outline_use:.0f} %", "")


def test_a_route_among_blocks(row) -> None:
    """An outlet's way out of a corner, round a ball and fifteen blocks, by two kinds of elbow."""
    kinds = (Kind("LR", 57.15, 5.2, 90.0), Kind("SR", 38.1, 12.3, 90.0))
    around = np.arange(15)
    places = np.column_stack([230.0 * np.cos(around), 230.0 * np.sin(around), 60.0 + 12.0 * around])
    blocks = [Obstacle(f"block {i}", Block.upright(place, (50, 60, 50)), 10.0) for i, place in enumerate(places)]
    ball = Obstacle("ball", Ball(np.array([60.0, 40.0, 150.0]), 60.0), 15.0)
    start, goal = Frame.looking((0, 0, 0), (0, 0, 1)), Frame.looking((120, 70, 330), (0.2, 0.1, 1))
    task = Task(start, (goal,), 24.15, kinds, (ball, *blocks))
    times = []
    for _ in range(REPEATS):
        begun = time.perf_counter()
        found = find(task)
        times.append(time.perf_counter() - begun)
    best = found.routes[0]
    row("a route among 16 keep-outs", f"{min(times):.2f} s", "1 s")
    row("  welds and length of it", f"{best.welds}, {best.length:.0f} mm", "")


def test_a_scan_of_two_million_triangles(row) -> None:
    """A bay's wall with ripples and noise, as a scanner brings it."""
    u, v = np.meshgrid(np.linspace(0, 1, 1001), np.linspace(0, 1, 1001), indexing="ij")
    depth = 8.0 * np.sin(20.0 * u) * np.cos(17.0 * v) + np.random.default_rng(1).normal(0.0, 0.1, u.shape)
    grid = np.stack([900.0 * u, 700.0 * v, depth], axis=-1)
    cells = np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2).reshape(-1, 4, 3)
    triangles = np.concatenate([cells[:, [0, 1, 2]], cells[:, [0, 2, 3]]])
    start = time.perf_counter()
    mesh = Mesh.welded(triangles)
    welded = time.perf_counter() - start
    start = time.perf_counter()
    mesh.distance(np.zeros((1, 3)))
    ready = time.perf_counter() - start
    row("a scan of 2,000,000 triangles, welded and made ready", f"{welded:.1f} + {ready:.1f} s", "")
    for off in (5.0, 50.0, 300.0):
        points = np.random.default_rng(2).uniform((100, 100, off), (800, 600, off + 20.0), (5000, 3))
        start = time.perf_counter()
        mesh.distance(points)
        row(f"  a distance to it from {off:g} mm", f"{1e6 * (time.perf_counter() - start) / len(points):.0f} us", "")


def test_layouts_judged_against_the_kernels_solids(row) -> None:
    """The crowded bay: its search, against one of its layouts made in solids and measured beside the same keep-outs."""
    from rootgap.checks.clearance import clearances
    from rootgap.geometry.distance import Block, Rod
    from rootgap.solids.whole import parts

    manifold = rootgap.load(Path(__file__).parents[2] / "assemblies" / "ice-racer-four.toml")
    result = manifold.search()
    solids = [
        cq.Workplane(cq.Plane(tuple(keepout.body.start), normal=tuple(keepout.body.end - keepout.body.start)))
        .circle(keepout.body.radius)
        .extrude(float(np.linalg.norm(keepout.body.end - keepout.body.start)))
        .val()
        if isinstance(keepout.body, Rod)
        else cq.Workplane(origin=tuple(keepout.body.frame.origin)).box(*keepout.body.size).val()
        for keepout in manifold.layout.keepouts.values()
        if isinstance(keepout.body, Rod | Block)
    ]
    assert len(solids) == 4
    times = []
    for height in (104.0, 103.0, 102.0):
        # A layout that was not made before: nothing is kept of it.
        text = manifold.source.text.replace("at = [-40, 105, 125]", f"at = [-40, {height}, 125]")
        moved = rootgap.Manifold(assembly_of(replace(manifold.source, text=text, values=tomllib.loads(text))))
        start = time.perf_counter()
        made = list(parts(moved.layout, moved.joints))
        for solid in solids:
            min(solid.distance(part.body) for part in made)
        times.append(time.perf_counter() - start)
    start = time.perf_counter()
    list(clearances(manifold.layout, manifold.joints))
    checked = time.perf_counter() - start
    rate = result.tried / result.seconds
    row("layouts judged a second, crowded bay", f"{rate:.0f}", "")
    row("  one by the kernel's solids", f"{min(times):.2f} s ({rate * min(times):.0f} x)", "1000 x")
    row("  one by every clearance, exact", f"{checked:.2f} s", "")
