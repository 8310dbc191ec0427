"""Places in a parameter file as people write them: `run.log.start.at.y`, `run.outlet.pieces[2].angle`.

Terminology
    place    words with dots between, array entries counted from 1 in brackets; the two or three numbers of a
             point or a direction are x, y and z
    key      the same as a path of words and indices, as the reader of the file has it
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from rootgap.spec.toml import Key, dotted

_AXES = "xyz"
_STEP = re.compile(r"(?:^|\.)(?P<word>[A-Za-z0-9_-]+)|\[(?P<index>[1-9]\d{0,3})\]")


def key_of(values: Mapping[str, Any], place: str) -> Key | None:
    """Return the key of `place` in a file's `values`; None where nothing stands there.

    >>> key_of({"run": {"log": {"at": [1, 2, 3]}}}, "run.log.at.y")
    ('run', 'log', 'at', 1)
    """
    node: Any = values
    key: Key = ()
    end = 0
    for step in _STEP.finditer(place):
        if step.start() != end:
            return None
        end = step.end()
        part = _part(node, step["word"], step["index"])
        if part is None:
            return None
        node, key = node[part], (*key, part)
    return key if key and end == len(place) else None


def _part(node: Any, word: str | None, index: str | None) -> str | int | None:
    """Return the word or index at which a step of a place goes on from `node`; None where it goes nowhere."""
    if isinstance(node, Mapping):
        return word if word in node else None
    if not isinstance(node, list):
        return None
    at = int(index) - 1 if index else _AXES.find(word or " ") if _is_point(node) else -1
    return at if 0 <= at < len(node) else None


def place_of(values: Mapping[str, Any], key: Key) -> str:
    """Return `key` as a person writes it.

    >>> place_of({"run": {"log": {"at": [1, 2, 3]}}}, ("run", "log", "at", 1))
    'run.log.at.y'
    """
    node: Any = values
    for part in key[:-1]:
        node = node[part]
    if isinstance(node, list) and _is_point(node) and isinstance(key[-1], int):
        return f"{dotted(key[:-1])}.{_AXES[key[-1]]}"
    return dotted(key)


def places(values: Mapping[str, Any]) -> Iterator[str]:
    """Yield the place of every value of a file that is neither a table nor an array of more than numbers."""
    waiting: list[tuple[Key, Any]] = [((), values)]
    while waiting:
        key, node = waiting.pop()
        if isinstance(node, Mapping):
            waiting += [((*key, word), each) for word, each in node.items()]
        elif isinstance(node, list):
            waiting += [((*key, index), each) for index, each in enumerate(node)]
        else:
            yield place_of(values, key)


def replaced(values: Any, key: Key, value: Any) -> Any:
    """Return `values` with `value` at `key`; what lies beside the way there is shared, not copied.

    >>> replaced({"a": [1, 2], "b": 3}, ("a", 0), 5)
    {'a': [5, 2], 'b': 3}
    """
    if not key:
        return value
    copied = dict(values) if isinstance(values, Mapping) else list(values)
    copied[key[0]] = replaced(values[key[0]], key[1:], value)  # type: ignore[index]
    return copied


def _is_point(node: list[Any]) -> bool:
    return len(node) in (2, 3) and all(isinstance(each, int | float | str) for each in node)
