"""Telling the alternatives of a table apart by the key each of them holds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pydantic import Discriminator

#: How the kind of a discriminator's error begins.
ONE_OF = "one_of "


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
        # The context of an error cannot be hashed, and its kind is a string: the words go in there.
        custom_error_type=f"{ONE_OF}{' '.join(words)},{' '.join(strings)}",
        custom_error_message=f"allowed: {text + ', or ' if text else ''}{table}",
    )


def alternatives(kind: str) -> tuple[list[str], list[str]] | None:
    """Return the (key words, strings) of a discriminator from its `kind` of error, None for another kind.

    >>> alternatives(one_of("cope", strings=("cap", "open")).custom_error_type)
    (['cope'], ['cap', 'open'])
    """
    if not kind.startswith(ONE_OF):
        return None
    words, strings = kind.removeprefix(ONE_OF).split(",")
    return words.split(), strings.split()
