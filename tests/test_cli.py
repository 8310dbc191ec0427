"""The command: what it prints where, its exit codes, and that its help teaches the truth."""

from __future__ import annotations

import json
import math
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import rootgap
from rootgap import cli, manifold
from rootgap.errors import KernelError
from rootgap.workspace import new_workspace

ROOT = Path(__file__).parent.parent
VERBS = ("new", "check", "space", "access", "templates", "build", "stock", "trace")

Run = Callable[..., tuple[int, str, str]]

#: A branch that leans 45 degrees, cut square: its wall of 3.91 mm meets first at its outside in the crotch,
#: and leaves a root gap of wall x cot 45.
GAPING = """\
name = "gaping"
units = "mm"
[stock.branch]
pipe = "2 sch 40"
material = "304L"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[flange.end]
kind = "flange"
name = "end"
units = "mm"
material = "carbon steel"
thickness = 20
port = [{ at = [0, 0], opening = { round = 40 } }]
outline = { edge = 15, boss = 15, fillet = 5 }
[flange.out]
kind = "flange"
name = "out"
units = "mm"
material = "carbon steel"
thickness = 20
port = [{ at = [0, 0], opening = { round = 50 } }]
outline = { edge = 15, boss = 15, fillet = 5 }
[run.log]
stock = "log"
start = { at = [-100, 0, 50], along = [1, 0, 1] }
pieces = [{ straight = 280 }]
ends = ["cap", { flange = "out" }]
[run.branch]
stock = "branch"
start = "end.port.1"
pieces = [{ straight = "fill" }]
end = { cope = "log", prep = "PREP" }
"""


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run the command in this process; return its exit code and what it printed."""

    def command(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["rootgap", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        said = capsys.readouterr()
        assert isinstance(left.value.code, int)
        return left.value.code, said.out, said.err

    return command


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A new workspace, and the working folder."""
    folder = tmp_path / "my shop"
    new_workspace(folder)
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def gaping(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "gaping.toml").write_text(GAPING.replace("PREP", "square"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return Path("gaping.toml")


FILE = "assemblies/sand-rail-four.toml"
CUT = "out/sand-rail-four/cutlist.csv"


class TestHelp:
    def test_alone_it_says_how_to_start(self, run: Run) -> None:
        code, out, err = run()
        assert (code, err) == (0, "")
        assert "Start with: rootgap new my-shop" in out
        assert all(re.search(rf"^  {verb} +[A-Z].*\.$", out, re.MULTILINE) for verb in VERBS)

    @pytest.mark.parametrize("verb", VERBS)
    def test_each_command_has_an_example_in_one_line(self, run: Run, verb: str) -> None:
        code, out, err = run(verb, "--help")
        assert (code, err) == (0, "")
        assert re.search(rf"^  Example: rootgap {verb} \S.*$", out, re.MULTILINE)
        assert max(map(len, out.splitlines())) <= 80

    def test_the_examples_work(self, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """In the order of the help, in an empty folder, build left to the tests of builds."""
        monkeypatch.chdir(tmp_path)
        for verb in VERBS:
            out = run(verb, "--help")[1]
            example = re.search(r"Example: rootgap (.*)", out)
            assert example
            if verb != "build":
                assert run(*shlex.split(example[1]))[0] == 0, example[0]
            if verb == "new":
                monkeypatch.chdir(tmp_path / "my-shop")

    def test_as_a_module(self) -> None:
        done = subprocess.run(
            [sys.executable, "-m", "rootgap", "--help"],
            capture_output=True,
            text=True,
            check=True,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )
        assert done.stdout.startswith("Usage: rootgap [OPTIONS] COMMAND")


class TestVersion:
    def test_is_the_packages(self, run: Run) -> None:
        assert run("--version") == (0, f"rootgap {rootgap.__version__}\n", "")


class TestUsage:
    """What is wrong with a command line: one line, exit code 2, and where to read on."""

    @pytest.mark.parametrize(
        ("words", "text"),
        [
            (["bild"], r"rootgap: No such command 'bild'.*; see rootgap --help"),
            (["check"], r"rootgap check: Missing argument 'FILE'; see rootgap check --help"),
            (["new"], r"rootgap new: Missing argument 'DIR'; see rootgap new --help"),
            (["check", "a", "b"], r"rootgap check: Got unexpected extra argument.*b.*; see rootgap check --help"),
            (["templates", "a", "--papr", "a4"], r"rootgap templates: No such option: --papr.*--paper.*"),
            (["templates", "a", "--paper", "a5"], r"rootgap templates: .*--paper.*'a5'.*'letter', 'a4'.*"),
            (["templates", "a", "--bar-x"], r"rootgap: .*--bar-x.*requires an argument.*"),
            (["stock", "no such thing"], r"rootgap stock: nothing in the tables has all of these words; .*"),
        ],
    )
    def test_one_line(self, run: Run, words: list[str], text: str) -> None:
        code, out, err = run(*words)
        assert (code, out) == (2, "")
        assert re.fullmatch(text + "\n", err), err
        assert err.count("\n") == 1

    @pytest.mark.parametrize("option", ["--paper-thickness", "--bar-x", "--bar-y"])
    @pytest.mark.parametrize(
        ("value", "reason"),
        [
            ("abc", "it does not begin with a number"),
            ("", "it does not begin with a number"),
            ("99 mn", "unit 'mn' is none of mm"),
            ("nan", "the number must be finite"),
            ("inf", "the number must be finite"),
            ("99,5 mm", "write a decimal point, not a comma"),
            ("16 ga", "a gauge number is not a length"),
            ("1/0 in", "a fraction may not have 0 below its line"),
        ],
    )
    def test_no_length(self, run: Run, shop: Path, option: str, value: str, reason: str) -> None:
        code, out, err = run("templates", FILE, option, value)
        assert (code, out) == (2, "")
        assert err.startswith(f"rootgap templates: Invalid value for {option}: found ")
        assert reason in err
        assert err.count("\n") == 1
        assert not (shop / "out" / "sand-rail-four").exists()

    @pytest.mark.parametrize(
        ("option", "value", "allowed"),
        [
            ("--bar-x", "89.9", "allowed: 90 to 110"),
            ("--bar-y", "111 mm", "allowed: 90 to 110"),
            ("--bar-y", "100 in", "allowed: 90 to 110"),
            ("--paper-thickness", "-0.1", "allowed: 0 to 2"),
            ("--paper-thickness", "2.5 mm", "allowed: 0 to 2"),
        ],
    )
    def test_length_out_of_range(self, run: Run, shop: Path, option: str, value: str, allowed: str) -> None:
        code, out, err = run("templates", FILE, option, value)
        assert (code, out) == (2, "")
        assert allowed in err
        assert err.count("\n") == 1

    def test_as_json(self, run: Run) -> None:
        code, out, err = run("templates", "a", "--paper", "a5", "--json")
        answer = json.loads(out)
        assert (code, err) == (2, "")
        assert (answer["error"], answer["exit_code"]) == ("UsageError", 2)
        assert "\n" not in answer["text"]


class TestNew:
    def test_then_templates_in_there(self, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        code, out, err = run("new", "my shop")
        assert (code, err) == (0, "")
        first, following, *_ = out.splitlines()
        count = len(list((ROOT / "assemblies").glob("*.toml")))
        assert first == f"Made my shop with {count} {'assembly' if count == 1 else 'assemblies'} to start from."
        assert following.startswith("Next: cd 'my shop', edit assemblies/")
        monkeypatch.chdir(tmp_path / "my shop")
        assert run("templates", FILE)[0] == 0
        assert Path(CUT).is_file()

    def test_refuses_what_is_there(self, run: Run, tmp_path: Path) -> None:
        (tmp_path / "mine").write_text("mine", encoding="utf-8")
        code, out, err = run("new", tmp_path)
        assert (code, out) == (2, "")
        assert err == f"{tmp_path}: cannot be written: it is there already and not empty; name a new folder\n"
        assert [path.name for path in tmp_path.iterdir()] == ["mine"]

    def test_as_json(self, run: Run, tmp_path: Path) -> None:
        code, out, err = run("new", tmp_path / "a", "--json")
        answer = json.loads(out)
        assert (code, err) == (0, "")
        assert all(Path(path).is_file() for path in answer["assemblies"])

    def test_quiet(self, run: Run, tmp_path: Path) -> None:
        assert run("new", tmp_path / "a", "--quiet") == (0, "", "")


class TestCheck:
    def test_shows_and_writes_nothing(self, run: Run, shop: Path) -> None:
        before = sorted(shop.rglob("*"))
        code, out, err = run("check", FILE)
        assert (code, err) == (0, "")
        assert "\nRuns\n" in out and "\nJoints\n" in out
        assert re.search(r"^(\d+) of \1 checks pass\.$", out, re.MULTILINE)
        assert f"Next: rootgap templates {FILE} " in out
        assert sorted(shop.rglob("*")) == before

    def test_as_json(self, run: Run, shop: Path, manifold: rootgap.Manifold) -> None:
        code, out, err = run("check", FILE, "--json")
        answer = json.loads(out)
        assert (code, err) == (0, "")
        assert answer["name"] == "sand-rail-four"
        assert [row["run"] for row in answer["runs"]] == list(manifold.layout.runs)
        assert [row["joint"] for row in answer["joints"]] == [joint.id for joint in manifold.joints]
        assert {finding["verdict"] for finding in answer["checks"]} == {"pass"}

    def test_quiet(self, run: Run, shop: Path) -> None:
        assert run("check", FILE, "-q") == (0, "", "")

    def test_a_failed_check(self, run: Run, gaping: Path) -> None:
        code, out, err = run("check", gaping)
        assert (code, err) == (1, "")
        failed = re.search(
            r"^FAIL root gap, branch\+log: ([\d.]+) mm, allowed at most ([\d.]+); (.*) \[ASME", out, re.MULTILINE
        )
        assert failed
        assert failed[1] == "3.91"  # ASME B36.10M: the wall of NPS 2 schedule 40
        assert float(failed[1]) > float(failed[2])

    def test_every_check_is_a_row_with_its_worst(self, run: Run, shop: Path, manifold: rootgap.Manifold) -> None:
        out = run("check", FILE)[1]
        table = out[out.index("Checks, each at its worst") :].splitlines()
        rows = [re.split(r"\s{2,}", line.strip()) for line in table[3 : table.index("", 3)]]
        kinds = list(dict.fromkeys(finding.check for finding in manifold.checks()))
        assert [re.sub(r" x\d+$", "", row[1]) for row in rows] == kinds
        assert rows[0] == ["pass", "root gap x4", "primary.1+log", "0.00 mm", "at most 1.38", "standard"]
        assert {row[0] for row in rows} == {"pass"}
        assert max(map(len, table[:-1])) <= 120

    def test_after_a_failure_the_next_step_is_to_mend_it(self, run: Run, gaping: Path) -> None:
        for verb in ("check", "templates"):
            out = run(verb, gaping)[1]
            assert out.splitlines()[-1] == (
                'Next: before you cut, mend branch+log (use prep = "bevel", or lean the branch less), '
                "then rootgap check gaping.toml"
            )

    def test_a_warning_is_told_and_leaves_the_exit_code(self, run: Run, gaping: Path) -> None:
        """A branch of 2-1/2 on a log of 2-1/2."""
        text = GAPING.replace("PREP", "bevel").replace('pipe = "2 sch 40"', 'pipe = "2-1/2 sch 80"')
        gaping.write_text(text, encoding="utf-8")
        code, out, err = run("check", gaping)
        assert (code, err) == (0, "")
        row = r"^  WARN +branch size +branch\+log +1\.00 of OD +at most 0\.90 +common practice"
        assert re.search(row, out, re.MULTILINE)
        assert re.search(r"^\d+ of \d+ checks pass, 1 warning\.$", out, re.MULTILINE)
        assert re.search(
            r"^WARN branch size, branch\+log: 1\.00 of OD, advised at most 0\.90; use a branch of at most 65\.7 mm .*"
            r"\[common practice, no source: [^;]*\]$",
            out,
            re.MULTILINE,
        )
        assert out.splitlines()[-1].startswith("Next: rootgap templates gaping.toml")
        assert run("check", gaping, "--quiet") == (0, "", "")
        checks = json.loads(run("check", gaping, "--json")[1])["checks"]
        (warned,) = [each for each in checks if each["verdict"] == "warn"]
        assert (warned["check"], warned["alike"]) == ("branch size", [])
        assert warned["support"] == "common practice, no source"

    def test_its_advice_mends_it(self, run: Run, gaping: Path) -> None:
        assert 'use prep = "bevel"' in run("check", gaping)[1]
        gaping.write_text(GAPING.replace("PREP", "bevel"), encoding="utf-8")
        assert run("check", gaping)[0] == 0

    def test_a_failed_check_as_json(self, run: Run, gaping: Path) -> None:
        code, out, err = run("check", gaping, "--json", "--quiet")
        assert (code, err) == (1, "")
        assert [each["check"] for each in json.loads(out)["checks"] if each["verdict"] == "fail"] == ["root gap"]

    def test_a_failed_check_is_never_quiet(self, run: Run, gaping: Path) -> None:
        code, out, err = run("check", gaping, "--quiet")
        assert (code, out) == (1, "")
        assert err.startswith("FAIL root gap, branch+log: ")
        assert err.count("\n") == 1


class TestSpace:
    @pytest.fixture
    def crowded(self, shop: Path) -> str:
        """A brake line through the demo's log, bolted to the chassis, and a bracket well clear."""
        text = Path(FILE).read_text(encoding="utf-8")
        text += (
            '[keepout.line]\ncylinder = { from = [-90, 105, 160], to = [400, 105, 160], diameter = 5 }\n'
            'reason = "fuel_or_brake"\n[keepout.bracket]\nsphere = { at = [150, -250, 60], diameter = 40 }\n'
            'reason = "service"\nside = "engine"\n'
        )
        Path("assemblies/crowded.toml").write_text(text, encoding="utf-8")
        return "assemblies/crowded.toml"

    def test_without_keepouts_it_says_what_to_measure(self, run: Run, shop: Path) -> None:
        code, out, err = run("space", FILE)
        assert (code, err) == (0, "")
        assert "Next: measure what stands round the engine and add it, a [keepout.NAME] each" in out
        assert Path("out/sand-rail-four.space.png").read_bytes().startswith(b"\x89PNG")

    def test_what_is_too_near_fails_with_a_table_by_margin(self, run: Run, crowded: str) -> None:
        code, out, _ = run("space", crowded)
        assert code == 1
        rows = [line.split() for line in out.splitlines() if re.match("  (FAIL|WARN|pass) +(line|bracket) ", line)]
        margins = [float(re.findall(r"[+-]\d+\.\d", " ".join(row))[-1]) for row in rows]
        assert rows[0][:2] == ["FAIL", "line"]
        assert margins == sorted(margins)
        assert {row[1] for row in rows} == {"line", "bracket"}
        assert "COMAR 11.22.02.11" in out
        following = out.splitlines()[-1]
        assert following.startswith("Next: before you cut, mend keepout.line to ")
        assert following.endswith("then rootgap space assemblies/crowded.toml")

    def test_as_json_every_pair_has_its_two_points_as_far_apart_as_it_says(self, run: Run, crowded: str) -> None:
        code, out, _ = run("space", crowded, "--all", "--json")
        answer = json.loads(out)
        assert code == 1
        pieces = {pair["piece"] for pair in answer["pairs"]}
        assert len(answer["pairs"]) == 2 * len(pieces)
        clear = [pair["cold"] for pair in answer["pairs"] if pair["cold"]["distance"] > 0]
        assert len(clear) > 10
        for cold in clear:
            assert math.dist(*cold["points"]) == pytest.approx(cold["distance"], abs=0.02)
        assert {pair["hot"] is None for pair in answer["pairs"] if pair["keepout"] == "bracket"} == {True}

    def test_the_same_input_gives_the_same_picture(self, run: Run, crowded: str) -> None:
        pictures = []
        for folder in ("one", "two"):
            run("space", crowded, "--out", folder, "--quiet")
            pictures.append(Path(folder, "sand-rail-four.space.png").read_bytes())
        assert pictures[0] == pictures[1]


class TestTemplates:
    def test_writes_and_says_where(self, run: Run, shop: Path) -> None:
        code, out, err = run("templates", FILE)
        assert (code, err) == (0, "")
        wrote = re.match(r"Wrote (\d+) files to out/sand-rail-four\n", out)
        assert wrote
        files = [path for path in Path("out/sand-rail-four").rglob("*") if path.is_file()]
        assert len(files) == int(wrote[1])
        assert not any(path.suffix in (".step", ".stl", ".glb") for path in files)

    def test_as_json(self, run: Run, shop: Path) -> None:
        code, out, err = run("templates", FILE, "--json", "--out", "else where")
        answer = json.loads(out)
        assert (code, err) == (0, "")
        assert answer["folder"] == "else where/sand-rail-four"
        assert all((shop / answer["folder"] / path).is_file() for path in answer["files"])

    def test_quiet(self, run: Run, shop: Path) -> None:
        assert run("templates", FILE, "--quiet") == (0, "", "")
        assert Path(CUT).is_file()

    def test_a_failed_check_is_told_and_the_files_are_there(self, run: Run, gaping: Path) -> None:
        code, out, err = run("templates", gaping)
        assert (code, err) == (1, "")
        assert "FAIL root gap" in out
        assert Path("out/gaping/cutlist.csv").is_file()

    def options(self, run: Run, *words: str) -> dict[str, Any]:
        assert run("templates", FILE, *words)[0] == 0
        manifest = json.loads(Path("out/sand-rail-four/manifest.json").read_text(encoding="utf-8"))
        (print_setup,) = [value for value in manifest.values() if isinstance(value, dict) and "bar_x" in value]
        return dict(print_setup)

    @pytest.mark.parametrize(
        ("words", "bar"),
        [
            (["--bar-x", "99.2"], 99.2),
            (["--bar-x", "99.2 mm"], 99.2),
            (["--bar-x", "9.92 cm"], 99.2),
            (["--bar-x", "3.937 in"], 99.9998),
            (["--bar-x", "3-15/16 in"], 100.0125),
            ([], 100.0),
        ],
    )
    def test_units_of_a_bar(self, run: Run, shop: Path, words: list[str], bar: float) -> None:
        assert self.options(run, *words)["bar_x"] == pytest.approx(bar, abs=1e-9)

    def test_paper(self, run: Run, shop: Path) -> None:
        setup = self.options(run, "--paper", "letter", "--paper-thickness", "0.004 in", "--bar-y", "101")
        assert (setup["paper"], setup["bar_y"]) == ("letter", 101.0)
        assert self.options(run)["paper"] == "a4"

    def test_thicker_paper_makes_wider_wraps(self, run: Run, shop: Path) -> None:
        thin = self.wraps(run, "0")
        thick = self.wraps(run, "0.2 mm")
        assert thin.keys() == thick.keys()
        assert all(thin[name] != thick[name] for name in thin)

    def wraps(self, run: Run, thickness: str) -> dict[str, bytes]:
        assert run("templates", FILE, "--paper-thickness", thickness)[0] == 0
        return {path.name: path.read_bytes() for path in Path("out/sand-rail-four/flat").glob("*.wrap.dxf")}

    def test_the_same_input_gives_the_same_bytes(self, run: Run, shop: Path) -> None:
        for out in ("one", "two"):
            assert run("templates", FILE, "--out", out, "--quiet")[0] == 0
        one, two = (
            {path.relative_to(out): path.read_bytes() for path in Path(out).rglob("*") if path.is_file()}
            for out in ("one", "two")
        )
        assert one == two


class TestStock:
    def test_finds(self, run: Run) -> None:
        code, out, err = run("stock", "1-1/2", "sch", "10")
        assert (code, err) == (0, "")
        assert "NPS 1-1/2 sch 10" in out
        assert "Source: ASME B36.10M" in out

    def test_as_json(self, run: Run) -> None:
        code, out, err = run("stock", "1-1/2 elbow", "--json")
        assert (code, err) == (0, "")
        rows = json.loads(out)
        assert {row["table"] for row in rows} == {"elbow"}
        assert all(set(row) == {"table", "size", "figures", "source"} for row in rows)

    @pytest.mark.parametrize(
        ("words", "figures"),
        [
            (["1-3/4", "x", "16", "ga"], "OD 44.45 mm, wall 1.65 mm, bore 41.15 mm, 1.74 kg/m in carbon steel"),
            (["45 mm x 1.5 mm"], "OD 45 mm, wall 1.5 mm, bore 42 mm, 1.61 kg/m in carbon steel"),
        ],
    )
    def test_tube_is_told_by_its_measures(self, run: Run, words: list[str], figures: str) -> None:
        """Mass per length: pi (od - wall) wall x 7850 kg/m3."""
        (row,) = json.loads(run("stock", *words, "--json")[1])
        assert (row["table"], row["figures"]) == ("tube", figures)

    def test_a_gauge_that_is_not_made_has_neighbours(self, run: Run) -> None:
        code, out, err = run("stock", "1-3/4", "x", "9", "ga")
        assert (code, out) == (2, "")
        assert "nearest that exist: BWG 10 (3.404 mm)" in err

    def test_everything(self, run: Run) -> None:
        assert run("stock")[0] == 0

    def test_quiet(self, run: Run) -> None:
        assert run("stock", "304L", "--quiet") == (0, "", "")


class TestOurFault:
    def test_a_deliberate_one(self, run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def failing(*_: object) -> None:
            raise KernelError("primary.1-c", "its volume is out by 3 mm3")

        monkeypatch.setattr(manifold, "all_patterns", failing)
        code, out, err = run("templates", FILE)
        assert (code, out) == (3, "")
        assert err == "primary.1-c: its volume is out by 3 mm3; please report this with the parameter file\n"

    @pytest.mark.parametrize("as_json", [True, False])
    def test_any_other(self, run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch, as_json: bool) -> None:
        def failing(*_: object) -> None:
            raise ZeroDivisionError("by nought")

        monkeypatch.setattr(manifold, "all_patterns", failing)
        code, out, err = run("templates", FILE, *(["--json"] if as_json else []))
        text = "a fault of rootgap's own (ZeroDivisionError: by nought); please report it with the file"
        assert code == 3
        if as_json:
            assert (json.loads(out)["text"], json.loads(out)["exit_code"], err) == (text, 3, "")
        else:
            assert (out, err) == ("", text + "\n")

    @pytest.mark.parametrize("fault", [KeyboardInterrupt()])
    def test_stopped(self, run: Run, shop: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException) -> None:
        def stopping(*_: object) -> None:
            raise fault

        monkeypatch.setattr(manifold, "all_patterns", stopping)
        assert run("templates", FILE) == (130, "", "stopped; what was written before stands as it was\n")


class TestStreams:
    """In processes of their own, with the streams that a shell gives."""

    def shell(self, script: str, **more: str) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            ["bash", "-c", script],
            capture_output=True,
            check=False,
            env={**os.environ, "PYTHONPATH": str(ROOT), "python": sys.executable, **more},
        )

    def test_a_reader_that_goes_away(self) -> None:
        done = self.shell('"$python" -m rootgap stock | true; echo ${PIPESTATUS[0]}')
        assert done.stdout in (b"141\n", b"0\n")
        assert done.stderr == b""

    def test_a_stream_that_cannot_spell(self, demo: Path) -> None:
        done = self.shell(
            f'"$python" -m rootgap check "{demo.parent}/\u00fc\u7ba1.toml"', PYTHONIOENCODING="ascii", LC_ALL="C.UTF-8"
        )
        assert done.returncode == 2
        assert b"\\xfc\\u7ba1.toml: no such file" in done.stderr

    def test_progress_is_not_for_pipes(self, shop: Path) -> None:
        done = self.shell(f'"$python" -m rootgap templates {FILE}')
        assert (done.returncode, done.stderr) == (0, b"")


class TestBuild:
    """Whole builds, solids and all; last, for they take seconds."""

    def test_then_json_then_quiet(self, run: Run, shop: Path) -> None:
        code, out, err = run("build", FILE)
        assert (code, err) == (0, "")
        assert out.startswith("Wrote ")
        assert "Next: print out/sand-rail-four/templates.pdf at actual size" in out
        first = {path: path.read_bytes() for path in Path("out").rglob("*") if path.is_file()}
        assert any(path.suffix == ".step" for path in first)

        code, out, err = run("build", FILE, "--json")
        answer = json.loads(out)
        assert (code, err) == (0, "")
        assert {Path(answer["folder"], path) for path in answer["files"]} == first.keys() - {Path("out/.gitignore")}

        assert answer["left_out"] == []
        assert run("build", FILE, "--quiet") == (0, "", "")
        assert {path: path.read_bytes() for path in Path("out").rglob("*") if path.is_file()} == first

    def test_templates_after_it_say_that_the_solids_are_left_out(self, run: Run, gaping: Path) -> None:
        run("build", gaping)
        count = len([path for path in Path("out/gaping/solids").rglob("*") if path.is_file()])
        out = run("templates", gaping)[1]
        assert out.startswith(
            f"The solids of the last build, {count} files, are left out: they may no longer match. "
            "rootgap build gaping.toml makes them again.\nWrote "
        )
        assert not Path("out/gaping/solids").exists()
        assert run("templates", gaping)[1].startswith("Wrote ")
        run("build", gaping, "--quiet")
        left_out = json.loads(run("templates", gaping, "--json")[1])["left_out"]
        assert len(left_out) == count
        assert all(path.startswith("solids/") for path in left_out)

    @pytest.mark.parametrize("verb", ["templates", "build", "space"])
    def test_progress_on_a_terminal_goes_to_the_error_stream(
        self, run: Run, gaping: Path, monkeypatch: pytest.MonkeyPatch, verb: str
    ) -> None:
        monkeypatch.setenv("TERM", "xterm")
        monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
        _, out, err = run(verb, gaping)
        assert "Wrote " in out
        assert "%" in err
        assert "%" not in out
