"""Where each key of a TOML text stands.

The standard reader gives values without places. This scanner walks a text that has
already been read without error and notes the line of every key, table and array element.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_left

from rootgap.spec.toml import Key

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:\s|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}\n#]*")
#: The four kinds of TOML text: of many lines or one, in double quotes or single.
_STRINGS = (
    r'"""(?:[^\\]|\\.)*?"{3,5}',
    r"'''.*?'{3,5}",
    r'"(?:[^"\\]|\\.)*"',
    r"'[^']*'",
)
_STRING = re.compile("|".join(_STRINGS), re.DOTALL)


def key_lines(text: str) -> dict[Key, int]:
    r"""Return the line, from 1, of every key path of the valid TOML `text`.

    >>> key_lines("a = 1\n[b]\nc = [2,\n3]")[("b", "c", 1)]
    4
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Key, int] = {}
        self.counts: dict[Key, int] = {}
        self.breaks = [match.start() for match in re.finditer("\n", text)]

    def document(self) -> None:
        table: Key = ()
        while self.skip():
            if self.text.startswith("[[", self.at):
                table = self.header(2)
            elif self.text[self.at] == "[":
                table = self.header(1)
            else:
                self.pair(table)

    def skip(self) -> bool:
        """Pass white space, newlines and comments; tell whether anything is left."""
        self.take(_BLANK)
        return self.at < len(self.text)

    def take(self, pattern: re.Pattern[str]) -> str:
        """Pass what matches here and return it."""
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def note(self, key: Key, at: int) -> None:
        self.lines.setdefault(key, bisect_left(self.breaks, at) + 1)

    def header(self, brackets: int) -> Key:
        start = self.at
        self.at += brackets
        words = self.words()
        self.at += brackets
        table: Key = ()
        for word in words[:-1]:
            table += (word,)
            self.note(table, start)
            if table in self.counts:
                table += (self.counts[table] - 1,)
        table += (words[-1],)
        self.note(table, start)
        if brackets == 2:
            self.counts[table] = self.counts.get(table, 0) + 1
            table += (self.counts[table] - 1,)
            self.note(table, start)
        return table

    def words(self) -> list[str]:
        """Read a dotted key up to its = or ]."""
        found = []
        while self.text[self.at] not in "=]":
            if self.text[self.at] in "\"'":
                found.append(str(tomllib.loads(f"key = {self.take(_STRING)}")["key"]))
            elif word := self.take(_BARE):
                found.append(word)
            else:
                self.at += 1
        return found

    def pair(self, table: Key) -> None:
        start = self.at
        words = self.words()
        self.at += 1
        for depth in range(1, len(words) + 1):
            self.note((*table, *words[:depth]), start)
        self.value((*table, *words))

    def value(self, key: Key) -> None:
        self.skip()
        self.note(key, self.at)
        char = self.text[self.at]
        if char in "[{":
            self.items(key, char)
        elif char in "\"'":
            self.take(_STRING)
        else:
            self.take(_SCALAR)

    def items(self, key: Key, opened: str) -> None:
        self.at += 1
        index = 0
        while self.skip() and self.text[self.at] not in "]}":
            if self.text[self.at] == ",":
                self.at += 1
            elif opened == "{":
                self.pair(key)
            else:
                self.value((*key, index))
                index += 1
        self.at += 1
