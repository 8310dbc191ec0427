"""Runs that find their way, built whole: the kernel's solids say that they are clear."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap import cli
from rootgap.errors import InputErrors, WriteError
from rootgap.layout import Elbow, Straight, lay_out
from rootgap.layout.route import Asked
from rootgap.solids.whole import parts

HERE = Path(__file__).parent
FILE = HERE / "routed.toml"
V6 = HERE.parents[1] / "assemblies" / "jet-boat-v6.toml"


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """The file in a workspace of its own."""
    (tmp_path / "assemblies").mkdir()
    shutil.copytree(HERE.parents[1] / "parts", tmp_path / "parts")
    text = FILE.read_text(encoding="utf-8").replace("../../parts/", "../parts/")
    file = tmp_path / "assemblies" / "routed.toml"
    file.write_text(text, encoding="utf-8")
    return file


def told(text: str, run: str, route: str) -> str:
    """A file's text with a route in place of a run's pieces."""
    start = text.index(f"[run.{run}]")
    pieces = text.index("pieces = [", start)
    end = text.index("]\n", pieces) + 2
    return f"{text[:pieces]}route = {route}\n{text[end:]}"


class TestBuilt:
    def test_every_check_passes(self, manifold):
        findings = manifold.checks()
        assert {finding.verdict for finding in findings} == {"pass"}
        assert {"clearance", "hot clearance", "overlap", "self-clearance"} <= {finding.check for finding in findings}

    def test_the_kernels_solids_keep_the_clearance_of_the_strut(self, manifold):
        spec = manifold.assembly.keepout["strut"]
        along = np.array(spec.cylinder.to) - spec.cylinder.from_
        strut = cq.Solid.makeCylinder(
            0.5 * spec.cylinder.diameter,
            float(np.linalg.norm(along)),
            cq.Vector(*spec.cylinder.from_),
            cq.Vector(*along),
        )
        pieces = {part.name: part.body for part in parts(manifold.layout, manifold.joints)}
        mine = [body for name, body in pieces.items() if name.startswith("outlet-")]
        assert len(mine) == 3
        least = min(body.distance(strut) for body in mine)
        # By its clearance and the margin, to the millimetre or more that the steps of a turn leave.
        assert least >= spec.clearance + manifold.assembly.run["outlet"].sought.margin - 0.02

    def test_it_ends_where_the_file_says_turned_as_it_says(self, manifold):
        to = manifold.assembly.run["outlet"].sought.to
        end, plate = manifold.layout.runs["outlet"].end, manifold.layout.plates["turbine"]
        assert end.origin == pytest.approx(to.at, abs=1e-6)
        assert end.axis == pytest.approx(to.along, abs=1e-9)
        # Straight down, clock 0 is towards the reader where a ref is left out.
        assert plate.start.ref == pytest.approx((0, 0, 1), abs=1e-9)

    def test_another_process_finds_the_same(self, manifold):
        script = (
            "import rootgap, sys\n"
            f"run = rootgap.load({str(FILE)!r}).layout.runs['outlet']\n"
            "print([(piece.label, piece.length) for piece in run.pieces])\n"
        )
        said = [
            subprocess.run(
                [sys.executable, "-c", script],
                capture_output=True,
                text=True,
                check=True,
                env={"PYTHONPATH": str(HERE.parents[1]), "PYTHONHASHSEED": seed, "PATH": ""},
            ).stdout
            for seed in ("1", "2")
        ]
        mine = [(piece.label, piece.length) for piece in manifold.layout.runs["outlet"].pieces]
        assert said == [f"{mine}\n"] * 2


def test_the_demos_crossover_finds_a_better_way_than_the_one_laid_by_hand(tmp_path):
    """Under the sump, from a log's side to one opening of a flange in place, beside the pipe in the other."""
    by_hand = rootgap.load(V6)
    (tmp_path / "assemblies").mkdir()
    shutil.copytree(HERE.parents[1] / "parts", tmp_path / "parts")
    text = told(V6.read_text(encoding="utf-8"), "crossover", '"solve"')
    text = re.sub(r"\[vband\.crossover\]\nuse = .*\n", "", text)
    file = tmp_path / "assemblies" / "v6.toml"
    file.write_text(text, encoding="utf-8")
    found = rootgap.load(file)
    assert [finding for finding in found.checks() if finding.verdict == "fail"] == []
    mine, theirs = (each.layout.runs["crossover"] for each in (found, by_hand))
    pieces = [[piece for piece in run.pieces if isinstance(piece, Elbow | Straight)] for run in (mine, theirs)]
    assert len(pieces[0]) < len(pieces[1])
    assert mine.length < 0.9 * theirs.length
    written = found.routed("crossover", found.layout.sought["crossover"], file.with_name("written.toml"))
    again = rootgap.load(written)
    # Its last two elbows are aimed, so that it meets the flange whatever its figures are rounded to.
    assert written.read_text(encoding="utf-8").count('angle = "aim"') == 2
    assert again.layout.runs["crossover"].end.origin == pytest.approx(mine.end.origin, abs=1e-6)
    assert again.layout.runs["crossover"].length == pytest.approx(mine.length, abs=1e-2)


COPED = """
name  = "coped"
units = "mm"
[stock.pipe]
pipe     = "1-1/4 sch 40"
material = "A53 B"
[stock.log]
pipe     = "2-1/2 sch 40"
material = "A53 B"
[run.log]
stock  = "log"
start  = { at = [-200, 150, 400], along = [1, 0, 0] }
pieces = [{ straight = 400 }]
ends   = ["cap", "cap"]
[run.b]
stock  = "pipe"
start  = { at = [0, 0, 0], along = [0, 0, 1] }
route  = ROUTE
ends   = ["cap", { cope = "log" }]
"""


@pytest.mark.parametrize("route", ['"solve"', "{ land = { station = 250, clock = 180, lean = 60 } }"])
def test_it_lands_on_another_runs_side(route, tmp_path):
    file = tmp_path / "coped.toml"
    file.write_text(COPED.replace("ROUTE", route), encoding="utf-8")
    manifold = rootgap.load(file)
    assert [finding for finding in manifold.checks() if finding.verdict == "fail"] == []
    branch, log = manifold.layout.runs["b"], manifold.layout.runs["log"]
    end = branch.end
    if "land" in route:
        assert np.degrees(np.arccos(end.axis @ log.end.axis)) == pytest.approx(60.0, abs=1e-6)
        # The axes meet at the station.
        gap = log.start.origin + 250.0 * log.start.axis - end.origin
        assert np.linalg.norm(np.cross(gap, end.axis)) == pytest.approx(0.0, abs=1e-6)
    else:
        assert end.axis @ log.end.axis == pytest.approx(0.0, abs=1e-9)


MERGED = """
name  = "merged"
units = "mm"
[stock.pipe]
pipe     = "1-1/4 sch 40"
material = "A53 B"
[run.a]
stock = "pipe"
start = { at = [-150, 0, 0], along = [0, 0, 1] }
route = "solve"
ends  = ["cap", { merge = "two" }]
[run.b]
stock = "pipe"
start = { at = [150, 40, 0], along = [0, 0, 1] }
route = "solve"
ends  = ["cap", { merge = "two" }]
[collector.two]
at         = [0, 0, 520]
along      = [0, 0, 1]
ref        = [-1, 0, 0]
half_angle = 15
legs       = ["a", "b"]
"""


def test_the_legs_of_a_collector_find_their_ways(tmp_path):
    file = tmp_path / "merged.toml"
    file.write_text(MERGED, encoding="utf-8")
    manifold = rootgap.load(file)
    failed = {finding.check for finding in manifold.checks() if finding.verdict == "fail"}
    # Nothing goes on from the collector in this file.
    assert failed <= {"open ends"}
    for name in ("a", "b"):
        leg = manifold.layout.collectors["two"].leg(name)
        assert manifold.layout.runs[name].end.origin == pytest.approx(leg.origin, abs=1e-6)


class TestCommand:
    def run(self, monkeypatch: pytest.MonkeyPatch, *words: str | Path) -> int:
        monkeypatch.setattr(sys, "argv", ["rootgap", "route", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        return int(left.value.code or 0)

    def test_it_shows_the_ways_and_writes_one(self, shop, monkeypatch, capsys):
        monkeypatch.chdir(shop.parents[1])
        to = shop.with_name("written.toml")
        assert self.run(monkeypatch, shop, "outlet", "--few", "2", "--write", to) == 0
        said = capsys.readouterr().out
        assert "Ways of outlet" in said
        assert "Way 1 as it stands in a file" in said
        assert f"Wrote {to}" in said
        picture = ET.parse(shop.parents[1] / "out" / "routed.outlet.svg")
        words = " ".join(picture.getroot().itertext())
        assert "from above" in words
        assert re.search(r"1: \d welds, \d+ mm, .*, taken", words)
        text = to.read_text(encoding="utf-8")
        assert '[run.outlet]\nstock  = "log"\nstart  = "log.end"\npieces = [\n' in text
        assert "# The last one leans less" in text
        layout = rootgap.load(to).layout
        wanted = lay_out(rootgap.load(shop).assembly, Asked("outlet", 2)).sought["outlet"].routes[0]
        assert layout.runs["outlet"].length == pytest.approx(wanted.length, abs=1e-3)
        assert layout.runs["outlet"].end.origin == pytest.approx(
            rootgap.load(shop).assembly.run["outlet"].sought.to.at, abs=0.02
        )

    def test_as_json(self, shop, monkeypatch, capsys):
        monkeypatch.chdir(shop.parents[1])
        assert self.run(monkeypatch, shop, "outlet", "--few", "1", "--json") == 0
        answer = json.loads(capsys.readouterr().out)
        assert [way["taken"] for way in answer["ways"]] == [True]
        assert sum("elbow" in piece for piece in answer["ways"][0]["pieces"]) == 3

    def test_what_cannot_be_is_refused(self, shop, monkeypatch, capsys):
        monkeypatch.chdir(shop.parents[1])
        assert self.run(monkeypatch, shop, "outlit", "--few", "1") == 2
        assert "a run whose way is to be found: outlet; did you mean outlet?" in capsys.readouterr().err
        assert self.run(monkeypatch, shop, "outlet", "--few", "1", "--take", "9") == 2
        assert "--take" in capsys.readouterr().err
        assert self.run(monkeypatch, shop, "outlet", "--few", "1", "--write", shop) == 2
        assert "it is there already" in capsys.readouterr().err

    def test_python_says_the_same(self, shop):
        manifold = rootgap.load(shop)
        with pytest.raises(InputErrors, match="did you mean outlet"):
            manifold.ways("outlit", 1)
        _, sought = manifold.ways("outlet", 1)
        with pytest.raises(WriteError, match="found from the folder"):
            manifold.routed("outlet", sought, shop.parents[1] / "elsewhere.toml")
