"""Where each key of a TOML text stands.

The standard reader gives values without places. This scanner walks a text that has
already been read without error and notes the line of every key, table and array element.
"""

from __future__ import annotations

import re

Key = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_QUOTES = ('"""', "'''", '"', "'")


def key_lines(text: str) -> dict[Key, int]:
    """Return the line, from 1, of every key path of the valid TOML `text`."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Key, int] = {}
        self.counts: dict[Key, int] = {}

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
        while self.at < len(self.text):
            if self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            elif self.text[self.at].isspace():
                self.at += 1
            else:
                return True
        return False

    def note(self, key: Key) -> None:
        self.lines.setdefault(key, self.text.count("\n", 0, self.at) + 1)

    def header(self, brackets: int) -> Key:
        start = self.at
        self.at += brackets
        words = self.words()
        end, self.at = self.at + brackets, start
        table: Key = ()
        for word in words[:-1]:
            table += (word,)
            if table in self.counts:
                table += (self.counts[table] - 1,)
            self.note(table)
        table += (words[-1],)
        self.note(table)
        if brackets == 2:
            self.counts[table] = self.counts.get(table, 0) + 1
            table += (self.counts[table] - 1,)
            self.note(table)
        elif table in self.counts:
            table += (self.counts[table] - 1,)
        self.at = end
        return table

    def words(self) -> list[str]:
        """Read a dotted key up to its = or ]."""
        found = []
        while self.text[self.at] not in "=]":
            if self.text[self.at] in "\"'":
                quoted = self.text[self.at]
                end = self.text.index(quoted, self.at + 1)
                found.append(self.text[self.at + 1 : end])
                self.at = end + 1
            elif match := _BARE.match(self.text, self.at):
                found.append(match.group())
                self.at = match.end()
            else:
                self.at += 1
        return found

    def pair(self, table: Key) -> None:
        start = self.at
        words = self.words()
        end, self.at = self.at + 1, start
        for depth in range(1, len(words) + 1):
            self.note(table + tuple(words[:depth]))
        self.at = end
        self.value(table + tuple(words))

    def value(self, key: Key) -> None:
        self.skip()
        self.note(key)
        char = self.text[self.at]
        if char == "{":
            self.items("}", lambda _: self.pair(key))
        elif char == "[":
            self.items("]", lambda index: self.value((*key, index)))
        elif char in "\"'":
            self.string()
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}\n#":
                self.at += 1

    def items(self, close: str, read) -> None:  # type: ignore[no-untyped-def]
        self.at += 1
        index = 0
        while self.skip() and self.text[self.at] != close:
            if self.text[self.at] == ",":
                self.at += 1
                continue
            read(index)
            index += 1
        self.at += 1

    def string(self) -> None:
        quote = next(mark for mark in _QUOTES if self.text.startswith(mark, self.at))
        self.at += len(quote)
        while not self.text.startswith(quote, self.at):
            self.at += 2 if self.text[self.at] == "\\" and quote[0] == '"' else 1
        self.at += len(quote)
