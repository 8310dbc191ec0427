"""What was made once and need not be made again: results by a fingerprint of everything they were made from."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import fields, is_dataclass
from functools import lru_cache
from typing import Any, Generic, TypeVar

import numpy as np

Made = TypeVar("Made")


#: Where a frozen thing holds the digest of itself, once it has been asked for.
_OWN = "_fingerprint"


def fingerprint(*things: object) -> str:
    """Return a digest of things by value: frozen dataclasses, arrays, collections, numbers, texts.

    That of a frozen dataclass is worked out once: it and all that it holds must stay as they are.
    Raises TypeError for anything else, of which it cannot be told whether it has changed.

    >>> fingerprint(1.0, ("a", None)) == fingerprint(1.0, ("a", None)) != fingerprint(1.0, ("a", False))
    True
    """
    return _digest(things).hex()


def _digest(thing: Any) -> bytes:
    parts: list[bytes] = []
    _feed(parts, thing)
    return hashlib.blake2b(b"".join(parts), digest_size=20).digest()


def _feed(parts: list[bytes], thing: Any) -> None:
    kind = type(thing)
    if thing is None or isinstance(thing, str | bytes | bool | int | float):
        parts.append(f"{kind.__name__} {thing!r};".encode())
    elif kind is tuple or kind is list:
        parts.append(b"%d of;" % len(thing))
        for part in thing:
            _feed(parts, part)
    elif kind is np.ndarray:
        parts.append(f"array {thing.dtype.str} {thing.shape};".encode())
        parts.append(thing.tobytes())
    elif is_dataclass(thing) and kind is not type:
        _feed_fields(parts, thing)
    elif isinstance(thing, tuple | list):
        _feed(parts, tuple(thing))
    elif isinstance(thing, Mapping):
        _feed(parts, tuple(thing.items()))
    elif hasattr(thing, "model_dump_json"):
        parts.append(f"{kind.__qualname__} {thing.model_dump_json()};".encode())
    else:
        raise TypeError(f"a {kind.__name__} has no fingerprint")


def _feed_fields(parts: list[bytes], thing: Any) -> None:
    own = getattr(thing, "__dict__", {})
    if _OWN in own:
        parts.append(own[_OWN])
        return
    kind: Any = type(thing)
    names, frozen = _shape(kind)
    held = _digest((kind.__qualname__, *(getattr(thing, name) for name in names)))
    if frozen:
        own[_OWN] = held
    parts.append(held)


@lru_cache(maxsize=1024)
def _shape(kind: Hashable) -> tuple[tuple[str, ...], bool]:
    """Return the names of a dataclass's fields, and whether it is frozen."""
    made: Any = kind
    return tuple(field.name for field in fields(made)), bool(made.__dataclass_params__.frozen)


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
