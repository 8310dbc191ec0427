"""Where in a parameter file that stands which a layout's mark names."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rootgap.spec.source import Source
from rootgap.spec.toml import Key

#: Tables whose keys bring what has a mark of its own.
_WITHIN = {"spike": "collector"}
#: What follows a run's name in the mark of one of its pieces: the number of its port, and its letters.
_PIECE = re.compile(r"(?:\.\d+)?-([a-z]+)")


def place_of(mark: str, source: Source) -> str:
    """Return the file and the line at which stands what `mark` names; no text where nothing of that name does. A mark
    is a piece's ("log-b", "primary.2-a"), a run's or a table's ("flange.head"), or several of these in a row.

    A piece's own line is told where every entry before it makes one piece, else that of all pieces.
    """
    key = _key(re.split(r",? and |, ", mark)[0], source)
    line = source.line(key) if key else None
    return f"{source.shown}:{line}" if line else ""


def _key(mark: str, source: Source) -> Key:
    table, _, name = mark.partition(".")
    table = _WITHIN.get(table, table)
    named = source.values.get(table)
    if isinstance(named, Mapping):
        return (table, name) if name in named else (table,)
    runs = source.values.get("run")
    held = [run for run in runs if re.match(rf"{re.escape(run)}($|[.-])", mark)] if isinstance(runs, Mapping) else []
    if not held:
        return ()
    run = max(held, key=len)
    piece = _PIECE.fullmatch(mark.removeprefix(run))
    pieces = source.found(("run", run, "pieces"))
    if piece is None or not isinstance(pieces, list):
        return ("run", run)
    index = _number(piece[1])
    alone = index < len(pieces) and not any("vband" in each for each in pieces[:index] if isinstance(each, Mapping))
    return ("run", run, "pieces", index) if alone else ("run", run, "pieces")


def _number(letters: str) -> int:
    """Return 0, 1 and so on for a, b to z, aa and so on."""
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("a") + 1
    return number - 1
