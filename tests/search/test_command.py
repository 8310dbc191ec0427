"""The search from the command line, over the small bay."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import rootgap
from rootgap import cli
from rootgap.search.seek import _Hunt

STARTER = ("starter", [60.0, 150.0, 140.0], 10.0)
#: In the middle of where the log may be, with more room round it than there is.
IN_THE_WAY = ("starter", [60.0, 118.0, 170.0], 25.0)


@pytest.fixture
def run(monkeypatch, tmp_path, capsys) -> Callable[..., tuple[int, str, str]]:
    monkeypatch.chdir(tmp_path)

    def left(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["rootgap", "search", *words])
        with pytest.raises(SystemExit) as exit_:
            cli.main()
        said = capsys.readouterr()
        return int(exit_.value.code or 0), said.out, said.err

    return left


@pytest.fixture
def stopped_after(monkeypatch) -> Callable[..., None]:
    """Stop a search once so many parts of it are judged: of those that are judged whole alone, where that is asked."""

    def stop(count: int, *, whole: bool = False) -> None:
        monkeypatch.setattr("rootgap.search.seek._PART", 1)
        parts, judged = _Hunt._parts, []

        def stopped(self, grid, *, whole_):
            for part in parts(self, grid, whole_=whole_):
                if whole_ or not whole:
                    judged.append(part)
                yield part
                if len(judged) == count:
                    self.tally.stopped = True
                    return

        monkeypatch.setattr(_Hunt, "_parts", stopped)

    return stop


def stopping(*_: object) -> None:
    raise KeyboardInterrupt


def test_it_tells_and_draws_what_fits_and_writes_one(bay, run):
    path = bay(STARTER)
    code, out, err = run("case.toml", "--write", "mine.toml")
    assert (code, err) == (0, "")
    assert "24 combinations judged, all of them" in out
    assert "  1 *  " in out
    assert Path("out/case.search.svg").read_text(encoding="utf-8").startswith("<svg")
    assert "Next: rootgap check mine.toml" in out
    assert rootgap.load(path.with_name("mine.toml")).assembly.name == "mine"


def test_as_json(bay, run):
    bay(STARTER)
    code, out, err = run("case.toml", "--json")
    told = json.loads(out)
    assert (code, err) == (0, "")
    assert (told["tried"], told["chosen"], told["stopped"], told["conflict"]) == (24, 1, False, None)
    assert told["found"][0]["settings"].keys() == {"height", "depth", "lean"}


def test_where_nothing_fits_it_says_why_and_what_would_help(bay, run):
    bay(IN_THE_WAY)
    code, out, _ = run("case.toml")
    assert code == 1
    assert "Nothing fits: keepout.starter alone leaves no layout." in out
    assert "The smallest change: give keepout.starter a clearance of " in out
    assert not Path("out").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--write", "case.toml"), "case.toml: cannot be written: it is there already; name another"),
        (("--write", "else/a.toml"), "its parts are found from the folder of case.toml"),
        (("--write", "a.txt"), "a.txt: allowed: a file that ends in .toml"),
        (("--plot", "a.png"), "a.png: allowed: a file that ends in .svg"),
    ],
)
def test_what_cannot_be_written_is_refused_before_the_search(bay, run, monkeypatch, words, said):
    bay(STARTER)
    monkeypatch.setattr(_Hunt, "done", lambda _: pytest.fail("it searched"))
    code, out, err = run("case.toml", *words)
    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1


def test_a_layout_that_is_not_shown_cannot_be_chosen(bay, run):
    bay(STARTER)
    code, out, err = run("case.toml", "--choose", "50", "--write", "mine.toml")
    assert code == 2
    assert "50; allowed: 1 to " in err
    assert "  1 *  " in out
    assert not Path("mine.toml").exists()


def test_stopped_it_tells_the_best_so_far_and_nothing_of_builds(bay, run, stopped_after):
    bay(STARTER)
    stopped_after(3)
    code, out, err = run("case.toml")
    assert (code, err) == (130, "")
    assert out.startswith("Stopped: this is the best of what was judged so far.\n")
    assert " of 24 combinations judged, in " in out


def test_stopped_before_anything_is_clear_it_tells_what_misses_least_of_what_was_judged(bay, run, stopped_after):
    """The log is higher and higher over what is in its way; only the two lower places are judged. How near they come is
    what the space of such a file says."""
    heights = '[search.height]\nsets = "run.log.start.at.y"\nvalues = [85, 95, 105, 115]\n'
    path = bay(("starter", [60.0, 0.0, 130.0], 80.0), search=heights)
    text = path.read_text(encoding="utf-8")
    stopped_after(2)
    code, out, err = run("case.toml")
    assert (code, err) == (130, "")
    found = re.search(
        r"Nothing fits so far; of what was judged height = 95 misses least: keepout\.starter by ([\d.]+) mm\.", out
    )
    path.write_text(text.replace("at = [-60, 105, 125]", "at = [-60, 95, 125]"), encoding="utf-8")
    assert float(found[1]) == pytest.approx(-rootgap.load(path).space.rows()[0].margin, abs=0.1)


def test_stopped_while_it_looks_for_what_is_in_conflict_it_does_not_tell_that(bay, run, stopped_after):
    bay(IN_THE_WAY)
    stopped_after(1, whole=True)
    code, out, err = run("case.toml")
    assert (code, err) == (130, "")
    assert "Nothing fits so far; of what was judged " in out
    assert "leave" not in out


def test_stopped_before_any_is_held_against_every_check(bay, run, monkeypatch):
    bay(STARTER)
    monkeypatch.setattr("rootgap.search.seek.checks_to_pass", stopping)
    code, out, err = run("case.toml")
    assert (code, err) == (130, "")
    assert re.search(r"Nothing fits so far: of \d+ that clear every keep-out 1 were held against every check\.", out)


def test_stopped_while_it_looks_for_a_change_it_tells_what_is_in_conflict(bay, run, monkeypatch):
    bay(IN_THE_WAY)
    monkeypatch.setattr("rootgap.search.conflict._change", stopping)
    code, out, err = run("case.toml")
    assert (code, err) == (130, "")
    assert "Nothing fits: keepout.starter alone leaves no layout." in out
    assert "What would let one fit was not looked for to the end." in out


def test_stopped_while_other_processes_judge(bay, monkeypatch):
    monkeypatch.setattr("rootgap.search.seek._PART", 10)
    monkeypatch.setattr("rootgap.search.seek._PAYS", -1.0)
    told = []

    def progress(what: str, done: int, of: int) -> None:
        told.append(done)
        # The first part is judged by this process, what comes after it by others.
        if what == "placing runs" and done > 0.5 * of:
            stopping()

    result = rootgap.load(bay(STARTER)).search(progress, cores=2)
    assert result.stopped
    assert 0 < result.tried < result.combinations
