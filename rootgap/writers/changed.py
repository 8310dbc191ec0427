"""A parameter file with other values in it, everything else as the person wrote it: comments, order, blank lines."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from rootgap.spec.toml import Key


def changed_text(text: str, settings: Mapping[Key, Any], name: str, comments: Iterable[str] = ()) -> str:
    r"""Return the TOML `text` with each value of `settings` at its key, called `name`, and with `comments` above it.

    >>> print(changed_text("name = 'a'\nat = [1, 2]  # mine\n", {("at", 1): 5.0}, "b", ["turned"]), end="")
    # turned
    name = "b"
    at = [1, 5]  # mine
    """
    import tomlkit

    document = tomlkit.parse(text)
    for key, value in {("name",): name, **settings}.items():
        node: Any = document
        for part in key[:-1]:
            node = node[part]
        node[key[-1]] = _plain(value)
    said = "".join(f"# {line}\n" for line in comments)
    body = tomlkit.dumps(document)
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
