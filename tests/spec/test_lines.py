"""The line of every key, held against the places at which the keys were written."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.spec.lines import key_lines


def every_key(values: Any, key: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """Every key path of the standard reader's values."""
    entries = values.items() if isinstance(values, dict) else enumerate(values) if isinstance(values, list) else ()
    found = {key} if key else set()
    for part, value in entries:
        found |= every_key(value, (*key, part))
    return found


TEXT = """\
# a comment with = and [brackets]
a = 1
b.c = "x # no comment"
"quoted \\" key" = 'y'
"\\u0041" = 2

[t]  # a table
d = [
  1,
  { e = 2, f = [3,
    4] },
]
g = \"\"\"
[not.a.table]
h = "inside" \\
\"\"\"\"\"
i = '''it''s'''''
j = 1979-05-27 07:32:00

[t.u]
k = {}

[[v]]
l = 1
[[v]]
l = 2
[v.w]
m = []
[[v.x]]
n = 5
[x."y z"]
o = -inf"""


LINES = {
    ("a",): 2,
    ("b",): 3,
    ("b", "c"): 3,
    ('quoted " key',): 4,
    ("A",): 5,
    ("t",): 7,
    ("t", "d"): 8,
    ("t", "d", 0): 9,
    ("t", "d", 1): 10,
    ("t", "d", 1, "e"): 10,
    ("t", "d", 1, "f"): 10,
    ("t", "d", 1, "f", 0): 10,
    ("t", "d", 1, "f", 1): 11,
    ("t", "g"): 13,
    ("t", "i"): 17,
    ("t", "j"): 18,
    ("t", "u"): 20,
    ("t", "u", "k"): 21,
    ("v",): 23,
    ("v", 0): 23,
    ("v", 0, "l"): 24,
    ("v", 1): 25,
    ("v", 1, "l"): 26,
    ("v", 1, "w"): 27,
    ("v", 1, "w", "m"): 28,
    ("v", 1, "x"): 29,
    ("v", 1, "x", 0): 29,
    ("v", 1, "x", 0, "n"): 30,
    ("x",): 31,
    ("x", "y z"): 31,
    ("x", "y z", "o"): 32,
}


def test_every_kind_of_key() -> None:
    assert every_key(tomllib.loads(TEXT)) == set(LINES)
    assert key_lines(TEXT) == LINES


@pytest.mark.parametrize("text", ["", "\n", "# only a comment", "a=1", "[a]", "[[a]]"])
def test_small_texts(text: str) -> None:
    assert set(key_lines(text)) == every_key(tomllib.loads(text))


words = st.text("ab\"'\\ #=[]{}.,\n\té", max_size=5)
scalars = st.one_of(words, st.integers(-9, 9), st.booleans(), st.floats(allow_nan=False))
trees = st.recursive(
    scalars,
    lambda below: st.one_of(st.lists(below, max_size=3), st.dictionaries(words, below, max_size=3)),
    max_leaves=8,
)


def basic(text: str) -> str:
    """A text as TOML's basic string."""
    return '"' + "".join(f"\\u{ord(char):04x}" if char in '"\\\n\t' else char for char in text) + '"'


def written(value: Any, breaks: str) -> str:
    """A value as TOML; `breaks` stands between the entries of arrays."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return basic(value)
    if isinstance(value, list):
        return "[" + f",{breaks}".join(written(each, breaks) for each in value) + f"{breaks}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{basic(key)} = {written(each, '')}" for key, each in value.items()) + "}"
    return repr(value)


@given(st.dictionaries(words, trees, max_size=4), st.sampled_from(["", "\n", " # c ] }\n"]))
def test_the_same_keys_as_the_standard_reader(values: dict[str, Any], breaks: str) -> None:
    text = "\n".join(f"{basic(key)} = {written(value, breaks)}" for key, value in values.items())
    read = tomllib.loads(text)
    assert read == values
    lines = key_lines(text)
    assert set(lines) == every_key(read)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())
    # Keys stand in the order of their lines.
    top = [lines[key,] for key in values]
    assert top == sorted(top)
