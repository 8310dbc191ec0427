"""Values and keys as a person writes them in TOML, for error texts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, time
from itertools import chain

Key = tuple[str | int, ...]

#: What an error text shows of a value or of one key, characters.
LONGEST_SHOWN = 60

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}
#: A larger integer is told by its length: some have no decimal text at all.
_LARGEST_WRITTEN = 10**18


def toml_text(value: object) -> str:
    """Return `value` as it stands in a TOML file, cut short where it is long.

    >>> toml_text({"straight": 28, "of": [True, "fill"]})
    '{ straight = 28, of = [true, "fill"] }'
    """
    text = ""
    for part in _parts(value):
        text += part
        if len(text) > LONGEST_SHOWN:
            break
    return cut_short(text)


def whole_text(value: object) -> str:
    """Return all of `value` as it stands in a TOML file, on one line."""
    return "".join(_parts(value))


def cut_short(text: str) -> str:
    """Return `text`, its end left out where it is long."""
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"


def dotted(key: Key) -> str:
    """Return a key path as people write it, array entries counted from 1.

    >>> dotted(("run", "primary", "pieces", 1, "angle")), dotted(("stock", "a b"))
    ('run.primary.pieces[2].angle', 'stock."a b"')
    """
    text = ""
    for part in key:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            word = part if _BARE.fullmatch(part) and len(part) <= LONGEST_SHOWN else toml_text(part)
            text += f"{'.' if text else ''}{word}"
    return text


def printable(text: str) -> str:
    r"""Return `text` with every character that a terminal would act on escaped.

    >>> printable("a\x1b[2Jb")
    'a\\u001b[2Jb'
    """
    return "".join(char if char.isprintable() else _escape(ord(char)) for char in text)


def _escape(code: int) -> str:
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def _parts(value: object) -> Iterator[str]:
    """Yield the text of `value` piece by piece, so that a long one need not be spelled out."""
    if isinstance(value, bool):
        yield "true" if value else "false"
    elif isinstance(value, str):
        yield '"'
        yield from (_ESCAPES.get(char) or printable(char) for char in value)
        yield '"'
    elif isinstance(value, int) and abs(value) >= _LARGEST_WRITTEN:
        yield f"an integer of about {round(value.bit_length() * 0.30103)} digits"
    elif isinstance(value, date | time):
        yield value.isoformat()
    elif value == {}:
        yield "{}"
    elif isinstance(value, dict):
        yield from _listed("{ ", ((f"{dotted((str(key),))} = ", each) for key, each in value.items()), " }")
    elif isinstance(value, list | tuple):
        yield from _listed("[", (("", each) for each in value), "]")
    else:
        yield str(value)


def _listed(start: str, entries: Iterator[tuple[str, object]], end: str) -> Iterator[str]:
    yield start
    for number, (name, value) in enumerate(entries):
        yield from chain((", ",) if number else (), (name,), _parts(value))
    yield end
