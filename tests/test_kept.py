"""What is kept between builds is what a fresh process would make."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.kept import Kept, fingerprint

SMALL = """name = "small"
units = "mm"
[stock.pipe]
pipe = "1-1/4 sch 40"
material = "A53 B"
[run.log]
stock = "pipe"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = LENGTH }, { elbow = "LR", angle = 50 }]
ends = ["cap", "cap"]
[run.branch]
stock = "pipe"
start = { at = [40, 0, 90], along = [0, 0, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log" }
"""


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_warm_build_after_a_change_has_the_bytes_of_a_cold_one(tmp_path: Path) -> None:
    file = tmp_path / "small.toml"
    for length in ("80", "90"):
        file.write_text(SMALL.replace("LENGTH", length), encoding="utf-8")
        rootgap.load(file).build(tmp_path / "warm")
    command = [sys.executable, "-m", "rootgap", "build", str(file), "--out", str(tmp_path / "cold")]
    # Its gas goes nowhere, so a check fails; the build is written all the same.
    assert subprocess.run(command, check=False, capture_output=True).returncode in (0, 1)
    assert contents(tmp_path / "warm") == contents(tmp_path / "cold")


def test_a_fingerprint_sees_a_last_bit() -> None:
    values = np.arange(3.0)
    other = np.array([0.0, 1.0, np.nextafter(2.0, 3.0)])
    assert fingerprint(values) == fingerprint(values.copy()) != fingerprint(other)
    assert len({fingerprint(thing) for thing in (1, 1.0, "1", True, (1,), ((1,),))}) == 6


@dataclass(frozen=True)
class Held:
    """A frozen thing with another in it."""

    size: float
    inner: Held | None = None


@dataclass
class Loose:
    """A thing that may change."""

    size: float


def test_a_frozen_thing_is_told_by_what_it_holds_and_not_by_what_it_was_made_from() -> None:
    one = Held(1.0, Held(2.0))
    assert fingerprint(one) == fingerprint(Held(1.0, Held(2.0)))
    assert fingerprint(one) != fingerprint(replace(one, size=3.0))
    assert fingerprint(one) != fingerprint(replace(one, inner=Held(4.0)))


def test_a_thing_that_has_changed_has_another_fingerprint() -> None:
    thing = Loose(1.0)
    before = fingerprint(thing)
    thing.size = 2.0
    assert fingerprint(thing) != before


def test_what_has_no_fingerprint_is_refused() -> None:
    with pytest.raises(TypeError, match="a function has no fingerprint"):
        fingerprint(lambda: 0)


def test_the_last_few_are_kept() -> None:
    kept: Kept[str] = Kept(2)
    assert [kept.get(key, lambda key=key: key + "!") for key in "aba"] == ["a!", "b!", "a!"]
    assert kept.get("c", lambda: "c!") == "c!"
    assert kept.get("a", lambda: "new") == "a!"
    assert kept.get("b", lambda: "new") == "new"
