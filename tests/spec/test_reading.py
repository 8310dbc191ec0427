"""Whatever is done to a right file, it is read, or refused in words of its own: nothing else escapes."""

from __future__ import annotations

import copy
import math
import re
import tomllib
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import rootgap
from rootgap.errors import GeometryError, InputError, InputErrors
from rootgap.spec import load_assembly, load_part
from rootgap.spec.source import nearest_word, read_source

RIGHT = Path(__file__).parent.parent / "wrong" / "right"
STRANGE = re.compile(r"pydantic|Input should|union|validat|<\w+>|None\b|datetime|\bdict\b|another kind of value")

#: Values that could stand anywhere.
ODD: list[Any] = [
    0, -1, 90, 0.1, 1e-300, 1e308, math.inf, -math.inf, math.nan, 2**62, True, False, date(2026, 11, 25), time(7, 32),
    "", "x", "fill", "log", "log.end", "head.port", "1 in", "1/0 in", "-5 mm", "../x", "\x1b[1m\u202e", "9" * 100,
    [], [[]], [1, 2, 3], [0, 0, 0], ["cap", "open"], {}, {"": 1}, {"at": [0, 0, 0]}, {"straight": 1},
    {"elbow": "LR"}, {"cope": "log"}, {"flange": "head"}, {"od": 20, "wall": 1}, {"use": "parts/head.toml"},
    {"use": "."},
]  # fmt: skip
ODD_KEYS = ["use", "each", "start", "end", "ends", "pipe", "tube", "measured", "ref", "kind", "angle", "override"]


def places(values: Any, key: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The key paths of everything in `values`."""
    entries = values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    return [place for part, value in entries for place in [(*key, part), *places(value, (*key, part))]]


def written(value: Any) -> str:
    """A value as TOML."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(char if char.isalnum() else f"\\u{ord(char):04x}" for char in value) + '"'
    if isinstance(value, dict):
        return "{" + ", ".join(f"{written(key)} = {written(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(written, value)) + "]"
    return value.isoformat() if isinstance(value, date | time | datetime) else repr(value)


@st.composite
def spoiled(draw: st.DrawFn, right: dict[str, Any]) -> dict[str, Any]:
    """Right values, of which one to four were taken out, renamed, replaced or joined by odd ones."""
    values = copy.deepcopy(right)
    for _ in range(draw(st.integers(1, 4))):
        have = places(values)
        if not have:
            break
        *above, last = draw(st.sampled_from(have))
        node = values
        for part in above:
            node = node[part]
        how = draw(st.sampled_from(["replace", "drop", "rename", "add"]))
        if how == "drop":
            del node[last]
        elif how == "rename" and isinstance(node, dict):
            node[last[:-1] + draw(st.sampled_from("xe.1"))] = node.pop(last)
        elif how == "add" and isinstance(node, dict):
            node[draw(st.sampled_from(ODD_KEYS))] = copy.deepcopy(draw(st.sampled_from(ODD)))
        else:
            node[last] = copy.deepcopy(draw(st.sampled_from(ODD)))
    return values


def read(file: str) -> dict[str, Any]:
    return tomllib.loads((RIGHT / file).read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop")
    (folder / "parts").mkdir()
    (folder / "parts" / "head.toml").write_bytes((RIGHT / "parts" / "head.toml").read_bytes())
    return folder


def hold_to_its_words(fault: Exception) -> None:
    """What was found is the person's own; what is allowed is in words that they know."""
    for each in fault.faults if isinstance(fault, InputErrors) else (fault,):
        assert not STRANGE.search(each.allowed if isinstance(each, InputError) else str(each)), each
        assert str(each).isprintable()
        assert len(str(each)) < 450


@given(spoiled(read("case.toml")))
def test_spoiled_assemblies(shop: Path, values: dict[str, Any]) -> None:
    (shop / "case.toml").write_text(
        "\n".join(f"{written(key)} = {written(value)}" for key, value in values.items()), encoding="utf-8"
    )
    try:
        _ = rootgap.load(shop / "case.toml").joints
    except (InputErrors, GeometryError) as fault:
        hold_to_its_words(fault)


@given(spoiled(read("parts/head.toml")))
def test_spoiled_parts(shop: Path, values: dict[str, Any]) -> None:
    (shop / "part.toml").write_text(
        "\n".join(f"{written(key)} = {written(value)}" for key, value in values.items()), encoding="utf-8"
    )
    try:
        load_part(shop / "part.toml")
    except InputErrors as fault:
        hold_to_its_words(fault)


@given(st.text(max_size=40) | st.binary(max_size=40), st.integers(0, 600))
def test_spoiled_text(shop: Path, text: str | bytes, where: int) -> None:
    """Anything at all put anywhere into a right file."""
    right = (RIGHT / "case.toml").read_bytes()
    more = text.encode("utf-8") if isinstance(text, str) else text
    (shop / "text.toml").write_bytes(right[:where] + more + right[where:])
    try:
        load_assembly(shop / "text.toml")
    except InputErrors as fault:
        hold_to_its_words(fault)


def test_the_right_file() -> None:
    assembly, source = load_assembly(RIGHT / "case.toml")
    assert assembly.name == "case"
    assert list(assembly.run) == ["log", "primary"]
    assert [len(part.port) for part in assembly.flange.values()] == [2, 1]
    assert source.line(("run", "primary", "pieces", 1)) == 24
    assert source.line(("run", "primary", "pieces", 9, "elbow")) == 24
    assert source.line(("nothing",)) is None


def test_inches(tmp_path: Path) -> None:
    """Bare numbers are in the file's units; a string carries its own."""
    text = (RIGHT / "case.toml").read_text(encoding="utf-8")
    text = text.replace('"mm"', '"in"').replace("straight = 25 ", 'straight = "25 mm" ').replace("220", "8.5")
    # The outlet flange, in the file itself, in inches.
    text = text.replace("thickness = 10", "thickness = 0.4").replace("round = 58", "round = 2.25")
    text = text.replace("edge = 16, boss = 12, fillet = 60", "edge = 0.6, boss = 0.5, fillet = 2.5")
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "head.toml").write_bytes((RIGHT / "parts" / "head.toml").read_bytes())
    assembly, _ = load_assembly(tmp_path / "case.toml")
    assert assembly.run["log"].pieces[0].straight == 215.9  # 8.5 x 25.4
    assert assembly.run["primary"].pieces[0].straight == 25.0
    assert assembly.flange["head"].thickness == 12.0


def test_an_override_replaces_whatever_end_the_run_has(tmp_path: Path) -> None:
    text = (RIGHT / "case.toml").read_text(encoding="utf-8")
    text = text.replace('end    = { cope = "log", set = "on", prep = "bevel" }', 'ends = ["open", { cope = "log" }]')
    text += '[run.primary.override.2]\nend = "cap"\npieces = [{ straight = 30 }]\n'
    (tmp_path / "case.toml").write_text(text, encoding="utf-8")
    (tmp_path / "parts").mkdir()
    (tmp_path / "parts" / "head.toml").write_bytes((RIGHT / "parts" / "head.toml").read_bytes())
    manifold = rootgap.load(tmp_path / "case.toml")
    assert [(run.cope is None, run.last_cap is None) for run in manifold.layout.runs.values()] == [
        (True, True),
        (False, True),
        (True, False),
    ]


def test_a_part_over_another(tmp_path: Path) -> None:
    """The nearer file's keys stand over those of the one that it uses, through two steps."""
    (tmp_path / "a.toml").write_bytes((RIGHT / "parts" / "head.toml").read_bytes())
    (tmp_path / "b.toml").write_text('use = "a.toml"\nthickness = 10\ntitle = "faced"\n', encoding="utf-8")
    (tmp_path / "c.toml").write_text('use = "b.toml"\nname = "thin"\ntitle = "thin"\n', encoding="utf-8")
    part = load_part(tmp_path / "c.toml")
    assert (part.name, part.title, part.thickness, len(part.port)) == ("thin", "thin", 10.0, 2)


def test_faults_of_a_used_part_carry_its_own_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("a.toml").write_text(
        (RIGHT / "parts" / "head.toml").read_text(encoding="utf-8").replace("thickness = 12", "thickness = -12"),
        encoding="utf-8",
    )
    Path("b.toml").write_text('use = "a.toml"\nname = "b"\n', encoding="utf-8")
    with pytest.raises(InputErrors) as caught:
        load_part("b.toml")
    assert str(caught.value) == "a.toml:5: thickness: found -12; allowed: a length of at least 0.1 mm"


def test_the_line_of_broken_toml(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for count in (0, 1, 40):
        Path("x.toml").write_bytes(b"a = 1\r\n" * 0 + b"# line\r\n" * count + b"b == 2\r\nc = 3\r\n")
        with pytest.raises(InputErrors, match=rf"^x\.toml:{count + 1}: found b == 2; not TOML, column 4: "):
            read_source(Path("x.toml"))


@pytest.mark.parametrize(
    ("word", "near"),
    [("peices", "pieces"), ("PIECES", "pieces"), ("ends ", "ends"), ("zzz", ""), ("", ""), ("p" * 10**6, "")],
)
def test_nearest_word(word: str, near: str) -> None:
    assert nearest_word(word, ["stock", "pieces", "ends"]) == near
