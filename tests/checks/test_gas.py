"""The graph of gas spaces, held against a flood of the bores in small cubes that knows no joints."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage

import rootgap
from rootgap.layout import Cap
from rootgap.manifold import Manifold

ROOT = Path(__file__).parent.parent.parent
#: The demo, without what holds it while it is tacked.
SIX = (ROOT / "assemblies" / "hill-climb-six.toml").read_text(encoding="utf-8").partition("[fixture]")[0]
#: Edge of a cube, mm: below the thickness of the divider, so that no row of cubes passes it.
CUBE = 2.0


@pytest.fixture(scope="module")
def workspace(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    (folder / "assemblies").mkdir()
    shutil.copytree(ROOT / "parts", folder / "parts")
    return folder


def made(workspace: Path, text: str) -> Manifold:
    path = workspace / "assemblies" / "case.toml"
    path.write_text(text, encoding="utf-8")
    return rootgap.load(path)


def changed(text: str, *pairs: tuple[str, str]) -> str:
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


WITHOUT = SIX[: SIX.index("# One plate")]
#: The plate stands in the opening of port 4, or past it.
ASTRAY = changed(SIX, ("station = 280", "station = 345"))
CROSSED = changed(SIX, ("station = 280", "station = 384"))


def flood(manifold: Manifold) -> tuple[dict[str, int], list[set[int]]]:
    """Label the gas in cubes. Returns each port's label, and the labels that each half of the outlet's end holds."""
    layout = manifold.layout
    low, high = np.array([-400.0, -60.0, -20.0]), np.array([400.0, 260.0, 300.0])
    axes = [np.arange(a, b, CUBE) + 0.5 * CUBE + 0.137 for a, b in zip(low, high, strict=True)]
    gas = np.zeros([len(axis) for axis in axes], dtype=bool)
    for run in layout.runs.values():
        for piece in run.along():
            if isinstance(piece, Cap):
                continue
            tube = piece.tube
            if run.cope and piece is run.pieces[-1]:
                # Through the wall of the pipe that it ends on.
                tube = replace(tube, length=tube.length + 12.0)
            if run.name == "outlet":
                tube = replace(tube, frame=tube.frame.advanced(-12.0), length=tube.length + 12.0)
            middles = np.array([tube.at(station).origin for station in np.linspace(0.0, tube.length, 9)])
            box = tuple(
                slice(*np.searchsorted(axis, [middle.min() - tube.r_in, middle.max() + tube.r_in]))
                for axis, middle in zip(axes, middles.T, strict=True)
            )
            ticks = [axis[part] for axis, part in zip(axes, box, strict=True)]
            points = np.stack(np.meshgrid(*ticks, indexing="ij"), axis=-1)
            inside = tube.filled(tube.r_in).distance(points.reshape(-1, 3)) < 0.0
            gas[box] |= inside.reshape(points.shape[:3])
    filled = np.argwhere(gas)
    points = np.column_stack([axis[index] for axis, index in zip(axes, filled.T, strict=True)])
    for divider in layout.dividers.values():
        frame = divider.middle
        lag = points - frame.origin
        x, y, z = -lag @ frame.side, lag @ frame.ref, lag @ frame.axis
        metal = np.hypot(x, y) <= divider.disc.radius + divider.gap + CUBE
        metal |= (np.abs(x) <= divider.tongue.half + divider.gap + CUBE) & (y >= 0.0) & (y <= divider.tongue.end)
        gas[tuple(filled[metal & (np.abs(z) <= 0.5 * divider.thickness)].T)] = False
    labels, _ = ndimage.label(gas)

    def at(point: np.ndarray) -> int:
        index = tuple(int(np.argmin(np.abs(axis - value))) for axis, value in zip(axes, point, strict=True))
        return int(labels[index])

    ports = {
        f"head.{number}": at(layout.runs[f"primary.{number}"].start.advanced(10.0).origin) for number in range(1, 7)
    }
    end = layout.runs["outlet"].end.advanced(-4.0)
    across = 15.0 * layout.plates["turbine"].right
    return ports, [{at(end.origin + side * across)} for side in (-1, 1)]


@pytest.mark.parametrize("text", [SIX, WITHOUT, ASTRAY, CROSSED], ids=["demo", "no plate", "astray", "crossed"])
def test_the_graph_says_what_a_flood_of_the_bores_says(workspace, text):
    manifold = made(workspace, text)
    ports, ends = flood(manifold)
    assert all(ports.values())
    for number, (end,) in enumerate(ends, start=1):
        flooded = {port for port, label in ports.items() if label == end}
        found = {port for side in manifold.gas.sides if f"turbine.{number}" in side.outlets for port in side.ports}
        assert found == flooded


def test_the_demo_is_divided_three_and_three(workspace):
    manifold = made(workspace, SIX)
    assert manifold.gas.line == (
        "gas: divided: side A (turbine.1) from ports head.1, head.2, head.3; "
        "side B (turbine.2) from ports head.4, head.5, head.6"
    )
    assert {finding.verdict for finding in manifold.checks()} == {"pass"}


def test_a_port_on_the_other_side_is_told_as_such(workspace):
    manifold = made(workspace, CROSSED)
    assert "side A (turbine.1) from ports head.1, head.2, head.3, head.4;" in manifold.gas.line


def test_without_the_plate_it_is_undivided_and_says_so(workspace):
    manifold = made(workspace, WITHOUT)
    assert manifold.gas.kind == "undivided"
    assert manifold.gas.line.startswith(
        "gas: undivided, though turbine has 2 openings for it: turbine.1, turbine.2 from ports head.1"
    )


def test_a_bridge_is_named(workspace):
    manifold = made(workspace, ASTRAY)
    (failed,) = [finding for finding in manifold.checks() if finding.check == "gas kept apart"]
    assert failed.verdict == "fail"
    assert re.search(r"gas gets round it at primary\.4\+log:", failed.advice)


def test_a_plate_that_ends_on_one_opening_is_bridged_there(workspace):
    one = changed(
        SIX,
        ("turbine-divided.toml", "turbine-four-bolt.toml"),
        ("port = [1, 2]", "port = 1"),
        ("slot      = 4", "slot      = 0"),
    )
    manifold = made(workspace, one)
    (failed,) = [finding for finding in manifold.checks() if finding.check == "gas kept apart"]
    assert failed.verdict == "fail"
    assert "outlet-a+flange.turbine" in failed.advice


def test_a_plate_that_does_not_go_through_the_log_is_bridged_at_its_foot(workspace):
    manifold = made(workspace, changed(SIX, ("through   = true", "through   = false")))
    (failed,) = [finding for finding in manifold.checks() if finding.check == "gas kept apart"]
    assert failed.verdict == "fail"
    assert "log+outlet" in failed.advice


def test_a_run_that_goes_nowhere_is_told(workspace):
    flange = '[flange.turbine]\nuse = "../parts/turbine-divided.toml"\n'
    gone = changed(WITHOUT[: WITHOUT.index("# Off the middle")], (flange, ""))
    manifold = made(workspace, gone)
    failed = [finding for finding in manifold.checks() if finding.verdict == "fail"]
    assert {finding.check for finding in failed} == {"gas gets out"}
    assert len(failed) == 6


def test_the_manifest_and_the_command_say_it_too(manifold):
    record = manifold.gas.record()
    assert record["kind"] == "undivided"
    assert record["sides"] == [{"outlets": ["turbine.1"], "ports": [f"head.{number}" for number in range(1, 5)]}]


TWO = """
name  = "case"
units = "mm"
[stock.pipe]
pipe     = "3/4 sch 10"
material = "304L"
[flange.head]
use = "../parts/head-sand-rail-four.toml"
[flange.turbine]
use = "../parts/turbine-divided.toml"
[run.one]
stock  = "pipe"
start  = "head.port.1"
pieces = [{ straight = 400 }]
end    = { flange = "turbine", port = 1 }
[run.two]
stock  = "pipe"
start  = "head.port.2"
pieces = [{ straight = 30 }, { elbow = "LR", angle = "aim" }, { straight = "fill" }, { elbow = "LR", angle = "aim" }]
end    = { flange = "turbine", port = 2 }
"""
CROSSOVER = """
[run.across]
stock  = "pipe"
start  = { off = "one", station = 60, clock = 270 }
pieces = [{ straight = "fill" }]
end    = { cope = "two" }
"""


def test_two_runs_on_two_openings_of_one_flange_are_divided_without_a_plate(workspace):
    manifold = made(workspace, TWO)
    assert manifold.gas.line == (
        "gas: divided: side A (turbine.1) from port head.1; side B (turbine.2) from port head.2"
    )
    assert all(f.verdict == "pass" for f in manifold.checks() if f.check.startswith("gas"))


def test_a_crossover_between_them_makes_them_one_and_is_named(workspace):
    manifold = made(workspace, TWO.replace("{ straight = 30 }", "{ straight = 120 }") + CROSSOVER)
    assert manifold.gas.line.startswith("gas: undivided, though turbine has 2 openings for it")
    (warned,) = [f for f in manifold.checks() if f.check == "gas kept apart"]
    assert warned.verdict == "warn"
    assert "across" in warned.advice


def test_gas_comes_in_by_a_salvaged_piece(workspace):
    text = """
name = "case"
units = "mm"
[stock.log]
pipe = "2 sch 40"
material = "A53 B"
[salvage.head]
at = [0, 0, 0]
along = [1, 0, 0]
opening = { round = 50 }
wall = 5
material = "304L"
[run.log]
stock = "log"
start = "head.cut"
pieces = [{ straight = 80 }, { elbow = "LR" }]
"""
    manifold = made(workspace, text)
    assert manifold.gas.line == "gas: undivided: log.end from port salvage.head"
    found = {finding.check: finding.verdict for finding in manifold.checks() if finding.check.startswith("gas")}
    assert found == {"gas gets out": "pass", "gas gets in": "pass"}
    closed = made(workspace, text + 'end = "cap"\n')
    (failed,) = [finding for finding in closed.checks() if finding.check == "gas gets out"]
    assert (failed.subject, failed.verdict) == ("salvage.head", "fail")
