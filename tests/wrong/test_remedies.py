"""Who does what a geometry error says is rid of it.

Each remedy is read out of the error's own text and done to the file's values: moved by the figure that
it states, along the axis that it names. Some remedies lead to a smaller refusal with a figure of its own;
a few rounds must end in a layout whose joints all close.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError
from rootgap.joints import find_joints
from rootgap.layout import lay_out
from rootgap.spec.assembly import Assembly

HERE = Path(__file__).parent
#: No wrong layout needs more corrections than this.
ROUNDS = 4

Values = dict[str, Any]


def values(case: str) -> Values:
    return tomllib.loads((HERE / f"geometry-{case}.toml").read_text(encoding="utf-8"))


def refusal(changed: Values) -> GeometryError | None:
    """The geometry error of a file's values, None where they make sound joints."""
    try:
        find_joints(lay_out(Assembly.model_validate(changed)))
    except GeometryError as fault:
        return fault
    return None


def sideways(changed: Values, found: re.Match[str]) -> None:
    changed["run"]["log"]["start"]["at"]["xyz".index(found[2])] += float(found[1])


def along_branch(changed: Values, found: re.Match[str]) -> None:
    at = changed["run"]["log"]["start"]["at"]
    changed["run"]["log"]["start"]["at"] = [a + float(by) for a, by in zip(at, found[1].split(","), strict=True)]


def longer(changed: Values, found: re.Match[str]) -> None:
    log = changed["run"]["log"]
    log["pieces"][0]["straight"] += float(found[1])
    if found[2] == "start":
        log["start"]["at"] = list(np.array(log["start"]["at"]) - float(found[1]) * np.array(log["start"]["along"]))


def larger(changed: Values, found: re.Match[str]) -> None:
    """Pipe of no table stands for the larger stock; there are no caps for it."""
    changed["stock"]["log"]["pipe"] = {"od": 73.0 + float(found[1]), "wall": 5.16}
    changed["run"]["log"]["ends"] = ["open", "open"]


def turned(changed: Values, found: re.Match[str]) -> None:
    """The branch's end stays where it meets the log, and its start swings away from the log's axis."""
    start = changed["run"]["branch"]["start"]
    along = np.array(start["along"]) / np.linalg.norm(start["along"])
    log = np.array(changed["run"]["log"]["start"]["along"])
    square = along - (along @ log) * log
    lean = np.arccos(along @ log) + np.radians(float(found[1]))
    turned_to = np.cos(lean) * log + np.sin(lean) * square / np.linalg.norm(square)
    meet = np.array(start["at"]) + 300.0 * along
    start["at"], start["along"] = list(meet - 300.0 * turned_to), list(turned_to)


def as_long(changed: Values, found: re.Match[str]) -> None:
    changed["run"]["branch"]["pieces"][-1]["straight"] = float(found[1])


#: What a remedy says, and how it is done.
REMEDIES: dict[str, Callable[[Values, re.Match[str]], None]] = {
    r"move run\.log by ([+-][\d.]+) mm in ([xyz])": sideways,
    r"move run\.log by \[(.+?)\] mm": along_branch,
    r"lengthen run\.log by ([\d.]+) mm at its (start|end)": longer,
    r"give run\.log stock that is ([\d.]+) mm larger": larger,
    r"turn it ([\d.]+) degrees away from the target's axis": turned,
    r"make it ([\d.]+) mm": as_long,
}


@pytest.mark.parametrize(
    "case",
    [
        "passes",
        "passes-aslant",
        "only-the-wall",
        "grazes",
        "grazes-past",
        "larger",
        "larger-than-bore",
        "off-its-start",
        "off-its-end",
        "beyond-the-side",
        "behind",
        "foot-off-the-end",
        "foot-off-the-start",
        "beyond-the-end",
        "before-the-start",
        "leans",
    ],
)
def test_the_figure_mends_it(case: str) -> None:
    changed = values(case)
    told: list[str] = []
    while fault := refusal(changed):
        done = next(((do, found) for says, do in REMEDIES.items() if (found := re.search(says, fault.remedy))), None)
        assert done, f"the remedy has no figure: {fault}"
        # Rid of this refusal: at most another one, smaller, comes in its place.
        assert re.sub(r"[\d.]+", "#", fault.what) not in told, f"done as told, and still: {fault}"
        told.append(re.sub(r"[\d.]+", "#", fault.what))
        assert len(told) <= ROUNDS
        done[0](changed, done[1])
    assert told


def drop_end(changed: Values) -> None:
    """Give the fill something to reach."""
    changed["run"]["branch"]["end"] = {"cope": "log"}


def fill_last(changed: Values) -> None:
    changed["run"]["branch"]["pieces"].reverse()


def straight_after(changed: Values) -> None:
    changed["run"]["branch"]["pieces"].append({"straight": "fill"})


def straight_piece(changed: Values) -> None:
    changed["run"]["log"]["pieces"] = [{"straight": 200}]


def turn_towards(changed: Values) -> None:
    changed["run"]["branch"]["start"]["along"] = [0, 0, 1]


def start_at(changed: Values) -> None:
    changed["run"]["log"]["start"] = {"at": [-100, 0, 150], "along": [1, 0, 0]}


def end_elsewhere(changed: Values) -> None:
    changed["run"]["log"]["end"] = "cap"


def nominal_branch(changed: Values) -> None:
    changed["stock"]["primary"] = {"pipe": "1-1/2 sch 10", "material": "304L"}
    changed["run"]["log"]["start"]["at"] = [-100, 15, 150]


def nominal_log(changed: Values) -> None:
    changed["stock"]["log"] = {"pipe": "2-1/2 sch 40", "material": "A53 B"}


@pytest.mark.parametrize(
    ("case", "mend"),
    [
        ("fill-open", drop_end),
        ("fill-not-last", fill_last),
        ("elbow-coped", straight_after),
        ("target-of-elbows", straight_piece),
        ("parallel", turn_towards),
        ("circle-of-starts", start_at),
        ("circle-of-copes", end_elsewhere),
        ("tube-elbow", nominal_branch),
        ("tube-cap", nominal_log),
    ],
)
def test_the_remedy_in_words_mends_it(case: str, mend: Callable[[Values], None]) -> None:
    changed = values(case)
    before = refusal(changed)
    assert before
    mend(changed)
    after = refusal(changed)
    assert after is None or after.what != before.what


@pytest.mark.parametrize("case", ["flange-twice", "flange-idle"])
def test_a_flange_taken_out_mends_it(case: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    text = (HERE / f"geometry-{case}.toml").read_text(encoding="utf-8")
    mended = text.replace('\n[flange.end]\nuse = "parts/head.toml"\n', "\n").replace('\nend = { flange = "end" }', "")
    (tmp_path / "case.toml").write_text(mended, encoding="utf-8")
    assert len(rootgap.load(tmp_path / "case.toml").joints) > 0
