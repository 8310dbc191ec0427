"""Telling the alternatives of a table apart by the key each of them holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import Discriminator


def one_of(*words: str, text: str = "", strings: Sequence[str] = ()) -> Discriminator:
    """Return a discriminator for values that are a table with exactly one of the key `words`,
    or one of `strings`, or, where `text` says what it may be, any string.

    The tag is the word in angle brackets, which no key can be, so that the place of an
    error never mistakes it for one; a string has the tag "<text>".
    """
    table = f"a table with {'exactly one of the keys' if len(words) > 1 else 'the key'} {', '.join(words)}"
    text = text or ", ".join(f'"{string}"' for string in strings)

    def tag(value: Any) -> str | None:
        if isinstance(value, str):
            return "<text>" if text and (value in strings or not strings) else None

        def has(word: str) -> bool:
            return word in value if isinstance(value, dict) else hasattr(value, word)

        found = [word for word in words if has(word)]
        return f"<{found[0]}>" if len(found) == 1 else None

    return Discriminator(
        tag,
        custom_error_type="one_of",
        custom_error_message=f"allowed: {text + ', or ' if text else ''}{table}",
        custom_error_context={"words": ",".join(words), "strings": ",".join(strings)},
    )
