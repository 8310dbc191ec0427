"""A layout's marks and the lines of the file that they come from."""

from __future__ import annotations

from pathlib import Path

import pytest

from rootgap.spec.marks import place_of
from rootgap.spec.source import read_source

TEXT = """\
name = "case"
units = "mm"
[flange.head]
use = "head.toml"
[run.log]
stock = "log"
pieces = [
    { straight = 100 },
    { elbow = "LR", clock = 0 },
]
[run.log-two]
stock = "log"
pieces = [{ straight = 50 }, { vband = "a" },
    { straight = 60 }]
[run.primary]
each = "head.port"
pieces = [{ straight = 20 },
    { straight = "fill" }]
[collector.all]
legs = []
"""


@pytest.mark.parametrize(
    ("mark", "line"),
    [
        ("log-b", 9),
        ("log-a and log-b", 8),
        ("log-cap", 7),
        ("log", 5),
        ("log, primary.1", 5),
        ("log-two-a", 13),
        # After a V-band, which is two pieces, an entry's place no longer tells its letter.
        ("log-two-d", 13),
        ("primary.3-b", 18),
        ("primary.3", 15),
        ("flange.head", 3),
        ("flange.gone", 3),
        ("collector.all", 19),
        ("spike.all", 19),
    ],
)
def test_a_mark_has_the_line_of_what_it_names(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mark: str, line: int):
    monkeypatch.chdir(tmp_path)
    Path("case.toml").write_text(TEXT, encoding="utf-8")
    assert place_of(mark, read_source(Path("case.toml"))) == f"case.toml:{line}"


def test_what_the_file_does_not_name_has_none(tmp_path: Path):
    file = tmp_path / "case.toml"
    file.write_text(TEXT, encoding="utf-8")
    assert place_of("outlet-a", read_source(file)) == ""
