"""A parameter file with other values in it, everything else as the person wrote it: comments, order, blank lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rootgap.spec import ElbowSpec, StraightSpec
from rootgap.spec.toml import Key, whole_text

Found = ElbowSpec | StraightSpec


def changed_text(text: str, settings: Mapping[Key, Any], name: str, comments: Iterable[str] = ()) -> str:
    r"""Return the TOML `text` with each value of `settings` at its key, called `name`, and with `comments` above it.

    >>> print(changed_text("name = 'a'\nat = [1, 2]  # mine\n", {("at", 1): 5.0}, "b", ["turned"]), end="")
    # turned
    name = "b"
    at = [1, 5]  # mine
    >>> pieces = [{"straight": 5}, {"elbow": "LR"}]
    >>> print(changed_text("name = 'a'\npieces = [{ straight = 3 }]  # mine\n", {("pieces",): pieces}, "b"), end="")
    name = "b"
    pieces = [{ straight = 5 }, { elbow = "LR" }]  # mine
    """
    import tomlkit

    document = tomlkit.parse(text)
    for key, value in {("name",): name, **settings}.items():
        node: Any = document
        for part in key[:-1]:
            node = node[part]
        plain = _plain(value)
        # A table made of a mapping would stand in lines of its own, or without spaces.
        node[key[-1]] = tomlkit.value(whole_text(plain)) if isinstance(plain, dict | list) else plain
    return _commented(tomlkit.dumps(document), comments)


def routed_text(text: str, run: str, pieces: Sequence[Found] | None, choice: int, name: str) -> str:
    r"""Return the TOML `text`, called `name`, with `pieces` in place of the route of a run; where there are none, with
    a route that makes the `choice`. A member of a run with each has an override of its own.

    >>> text = "name = 'a'\n[run.b]\nstock = 's'\nroute = 'solve' # yet\nend = 'cap'\n"
    >>> print(routed_text(text, "b", [StraightSpec(straight=30)], 1, "c"), end="")
    # The way of run.b was found by rootgap route.
    name = "c"
    [run.b]
    stock = 's'
    pieces = [
        { straight = 30 },
    ] # yet
    end = 'cap'
    """
    import tomlkit
    from tomlkit.items import Table

    document = tomlkit.parse(text)
    document["name"] = name
    base, _, number = run.partition(".")
    runs: Any = document["run"]
    table = runs[base]
    if number:
        others = table.setdefault("override", tomlkit.table(is_super_table=True))
        table = others.setdefault(number, tomlkit.table())
    if pieces is None:
        route = table.get("route", runs[base].get("route"))
        chosen = tomlkit.inline_table()
        chosen.update({**(route if isinstance(route, dict) else {}), "choice": choice})
        table["route"] = chosen
    else:
        found = tomlkit.parse("\n".join(pieces_lines(pieces)))["pieces"]
        if isinstance(table.get("route"), Table):
            table.remove("route")
        if "route" in table:
            # In its place, not at the table's end.
            table.value._replace("route", "pieces", found)
        else:
            table["pieces"] = found
    return _commented(tomlkit.dumps(document), [f"The way of run.{run} was found by rootgap route."])


def pieces_lines(pieces: Sequence[Found]) -> list[str]:
    """Return pieces as the lines of a file.

    >>> pieces_lines([StraightSpec(straight=30), ElbowSpec(elbow="LR", angle=60, clock=-18)])
    ['pieces = [', '    { straight = 30 },', '    { elbow = "LR", angle = 60, clock = -18 },', ']']
    """
    return ["pieces = [", *(f"    {whole_text(_plain(_said(piece)))}," for piece in pieces), "]"]


def _said(piece: Found) -> dict[str, Any]:
    """Return a piece's keys."""
    if isinstance(piece, StraightSpec):
        return {"straight": piece.straight}
    aimed = {"elbow": piece.elbow, "angle": piece.angle}
    return aimed if piece.angle == "aim" else aimed | {"clock": piece.clock}


def _commented(body: str, comments: Iterable[str]) -> str:
    """Return a file with comments above what it says."""
    said = "".join(f"# {line}\n" for line in comments)
    # An editor looks for the schema on the first line.
    first, _, rest = body.partition("\n")
    return f"{first}\n{said}{rest}" if first.startswith("#:schema") else said + body


def _plain(value: Any) -> Any:
    """Return a value as a person writes it: a whole number without a point."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, Mapping):
        return {word: _plain(each) for word, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value
