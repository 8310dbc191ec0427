"""What was made once and need not be made again: results by a fingerprint of everything they were made from."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, Generic, TypeVar

import numpy as np

Made = TypeVar("Made")


def fingerprint(*things: object) -> str:
    """Return a digest of things by value: frozen dataclasses, arrays, collections, numbers, texts.

    Raises TypeError for anything else, of which it cannot be told whether it has changed.

    >>> fingerprint(1.0, ("a", None)) == fingerprint(1.0, ("a", None)) != fingerprint(1.0, ("a", False))
    True
    """
    digest = hashlib.blake2b(digest_size=20)
    _feed(digest.update, things)
    return digest.hexdigest()


def _feed(update: Callable[[bytes], None], thing: Any) -> None:
    if thing is None or isinstance(thing, str | bytes | bool | int | float):
        update(f"{type(thing).__name__} {thing!r};".encode())
    elif isinstance(thing, np.ndarray):
        update(f"array {thing.dtype.str} {thing.shape};".encode())
        update(np.ascontiguousarray(thing).tobytes())
    elif isinstance(thing, tuple | list):
        update(f"{len(thing)} of;".encode())
        for part in thing:
            _feed(update, part)
    elif isinstance(thing, Mapping):
        _feed(update, tuple(thing.items()))
    elif is_dataclass(thing) and not isinstance(thing, type):
        update(f"{type(thing).__qualname__};".encode())
        for field in fields(thing):
            _feed(update, getattr(thing, field.name))
    elif hasattr(thing, "model_dump_json"):
        update(f"{type(thing).__qualname__} {thing.model_dump_json()};".encode())
    else:
        raise TypeError(f"a {type(thing).__name__} has no fingerprint")


class Kept(Generic[Made]):
    """The last `most` results, by fingerprint."""

    def __init__(self, most: int) -> None:
        """Keep up to `most` results."""
        self._most = most
        self._made: OrderedDict[str, Made] = OrderedDict()

    def get(self, key: str, make: Callable[[], Made]) -> Made:
        """Return the result of `key`, made anew only where it is not there."""
        if key not in self._made:
            self._made[key] = make()
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        self._made.move_to_end(key)
        return self._made[key]
