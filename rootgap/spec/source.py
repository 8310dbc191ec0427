"""A parameter file as read: its text, its values, and where each key stands."""

from __future__ import annotations

import difflib
import os
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from rootgap.errors import InputError, InputErrors
from rootgap.spec.lines import key_lines
from rootgap.spec.toml import Key, cut_short, dotted, printable, toml_text

#: A parameter file larger than this, bytes, is something else.
LARGEST_FILE = 1_000_000
#: TOML's integers are those of 64 bits.
LARGEST_INTEGER = 2**63
#: No parameter file nests tables and arrays deeper than a few levels.
DEEPEST = 20

_TOO_LARGE = "not TOML: an integer beyond 64 bits"
_ENDLESS = re.compile(r"[0-9_]{4000,}")
_UTF16 = (b"\xff\xfe", b"\xfe\xff")
_PLACE = re.compile(r" \(at (?:line (?P<line>\d+), column (?P<column>\d+)|end of document)\)$")
#: What the TOML reader says, by its beginning, and how we say it.
_PLAIN = {
    "Cannot overwrite a value": "this key stands twice",
    "Duplicate inline table key": "this key stands twice",
    "Cannot declare": "this table stands twice",
    "Cannot redefine namespace": "this table stands twice",
    "Cannot mutate immutable namespace": "this table is closed already; write all of its keys in one place",
    "Invalid initial character for a key part": "a key is missing here",
    "Expected '=' after a key": "a key must be followed by =",
    "Invalid value": 'no value is written like this; text goes in "quotes"',
    "Expected newline or end of document": 'the line should have ended here; text goes in "quotes"',
    "Illegal character '\\n'": "the quotes of a text are not closed on this line",
    "Invalid statement": "neither a key, a [table] nor a # comment",
    "Expected ']'": "a ] is missing",
    "Unterminated string": "the quotes of a text are not closed",
    "Unclosed array": "before here an array is not closed; a comma or ] is missing",
    "Unclosed inline table": "before here a table is not closed; a comma or } is missing",
    "Unescaped '\\' in a string": "a single \\ in a text; write \\\\, or put the text in 'single quotes'",
    "Invalid hex value": "a \\ sequence of a text that means nothing",
    "Invalid date": "no such date",
}


@dataclass(frozen=True)
class Source:
    """A parameter file as read: its path, its text and its values."""

    path: Path
    text: str
    values: Mapping[str, Any]

    @cached_property
    def shown(self) -> str:
        """The path as a person would type it."""
        return shown(self.path)

    @cached_property
    def lines(self) -> Mapping[Key, int]:
        """The line, from 1, of every key path; of none where the nesting is too deep to follow."""
        try:
            return key_lines(self.text)
        except RecursionError:
            return {}

    def line(self, key: Key) -> int | None:
        """Return the line of `key` or of the nearest table round it."""
        return next((self.lines[key[:n]] for n in range(len(key), 0, -1) if key[:n] in self.lines), None)

    def found(self, key: Key) -> Any:
        """Return what stands at `key`, None for nothing."""
        return at(self.values, key)

    def fault(self, key: Key, found: object, allowed: str, nearest: str = "") -> InputError:
        """Return the fault at `key`: what was found there, None for nothing, and what is allowed."""
        text = "" if found is None else toml_text(found)
        return InputError(self.shown, self.line(key), dotted(key), text, allowed, printable(nearest))


def read_source(path: Path) -> Source:
    """Return the TOML file at `path` as a Source. Raises InputErrors where it cannot be read."""
    text = _text(path)
    try:
        values = tomllib.loads(text)
    except RecursionError:
        raise refused(path, "", _too_deep()) from None
    except tomllib.TOMLDecodeError as fault:
        raise InputErrors((_not_toml(path, text, str(fault)),)) from None
    except ValueError:
        # The only other one: Python reads no integer of thousands of digits.
        digits = _ENDLESS.search(text)
        line = text.count("\n", 0, digits.start()) + 1 if digits else None
        raise InputErrors((InputError(shown(path), line, "", "", _TOO_LARGE),)) from None
    source = Source(path, text, values)
    if not values:
        raise refused(path, "no keys", "allowed: a parameter file, such as one that rootgap new makes")
    faults = tuple(_unfit(source))
    if faults:
        raise InputErrors(faults)
    return source


def _text(path: Path) -> str:
    """Return the text of the file at `path`, a byte order mark and CRLF taken out."""
    try:
        mode = path.stat().st_mode
        if stat.S_ISDIR(mode):
            raise refused(path, "a folder", "allowed: a parameter file")
        if not stat.S_ISREG(mode):
            raise refused(path, "a device or a pipe", "allowed: a parameter file")
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise missing(path) from None
    except InputErrors:
        raise
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or str(fault)
        raise refused(path, "", f"cannot be read: {reason.lower()}") from None
    if len(data) > LARGEST_FILE:
        raise refused(path, f"more than {LARGEST_FILE} bytes", "allowed: a parameter file")
    if data.startswith(_UTF16):
        raise refused(path, "text in UTF-16", "allowed: TOML in UTF-8; save it so in your editor")
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        found = f"a byte that is no text (0x{data[fault.start]:02x})"
        raise InputErrors((InputError(shown(path), line, "", found, "allowed: TOML in UTF-8"),)) from None


def _not_toml(path: Path, text: str, message: str) -> InputError:
    place = _PLACE.search(message)
    said = message[: place.start()] if place else message
    plain = next((ours for start, ours in _PLAIN.items() if said.startswith(start)), printable(said).lower())
    if place and place["line"]:
        line = int(place["line"])
        where = f", column {place['column']}"
        written = printable(text.split("\n")[line - 1].strip())
        found = "" if plain.startswith("before") else cut_short(written)
    else:
        line, where, found = text.rstrip().count("\n") + 1, ", at the end", ""
    return InputError(shown(path), line, "", found, f"not TOML{where}: {plain}")


def _too_deep() -> str:
    return f"nested too deep; allowed: {DEEPEST} levels"


def _unfit(source: Source) -> Iterator[InputError]:
    """Yield a fault for each value that nests too deep, and each integer that TOML does not have."""
    waiting: list[tuple[Key, Any]] = [((), source.values)]
    while waiting:
        key, value = waiting.pop()
        if isinstance(value, int) and not -LARGEST_INTEGER <= value < LARGEST_INTEGER:
            yield source.fault(key, value, _TOO_LARGE)
        elif isinstance(value, dict | list):
            if len(key) > DEEPEST:
                yield source.fault(key[:3], None, _too_deep())
                continue
            entries = value.items() if isinstance(value, dict) else enumerate(value)
            waiting += [((*key, part), each) for part, each in entries]


def at(values: Any, key: Key) -> Any:
    """Return what stands at `key` in `values`, None for nothing.

    >>> at({"a": [1, 2]}, ("a", 1)), at({"a": [1, 2]}, ("a", 2))
    (2, None)
    """
    for part in key:
        try:
            values = values[part]
        except (LookupError, TypeError):
            return None
    return values


def shown(path: Path) -> str:
    """Return `path` as a person would type it: from the working folder where it lies below that."""
    plain = Path(os.path.normpath(path))
    with suppress(ValueError, OSError):
        plain = plain.relative_to(Path.cwd())
    return printable(str(plain))


def refused(path: Path, found: str, allowed: str, nearest: str = "") -> InputErrors:
    """Return the error of a file that cannot be read at all."""
    return InputErrors((InputError(shown(path), None, "", found, allowed, nearest),))


def missing(path: Path) -> InputErrors:
    """Return the error of a file that is not there, with the nearest that is."""
    return refused(path, "", "no such file", nearest_file(path))


def nearest_file(path: Path) -> str:
    """Return the file nearest in name to `path`, a parameter file where it has no suffix of its own: beside it, or in
    assemblies/ beside it."""
    suffix = path.suffix.lower() if path.suffix.lower() in (".stl", ".step", ".stp") else ".toml"
    for folder in (path.parent, path.parent / "assemblies"):
        try:
            have = sorted(entry.stem for entry in folder.glob(f"*{suffix}"))
        except OSError:
            continue
        near = nearest_word(path.name.removesuffix(suffix), have)
        if near:
            return shown(folder / f"{near}{suffix}")
    return ""


def nearest_word(word: str, words: Iterable[str]) -> str:
    """Return the one of `words` that looks most like `word`, or "" where none does.

    >>> nearest_word("peices", ["stock", "pieces"]), nearest_word("LOG", ["log"]), nearest_word("x", ["log"])
    ('pieces', 'log', '')
    """
    by_fold = {each.casefold(): each for each in words}
    near = difflib.get_close_matches(word[:100].casefold(), by_fold, n=1, cutoff=0.5)
    return by_fold[near[0]] if near else ""
