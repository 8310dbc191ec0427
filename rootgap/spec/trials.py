"""Whether what a search may do to a file leaves a file: its places, its ranges, and each of its values alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from math import prod
from typing import Any

from rootgap.errors import InputError, InputErrors
from rootgap.spec.places import key_of, places, replaced
from rootgap.spec.search import MOST_COMBINATIONS, MOST_PARAMETERS, SearchSpec
from rootgap.spec.source import Source, nearest_word
from rootgap.spec.toml import Key, dotted, toml_text

#: Tables that say what a layout is; no other key changes it.
SEARCHED = (
    "run",
    "stock",
    "flange",
    "vband",
    "bank",
    "collector",
    "divider",
    "salvage",
    "keepout",
    "turbo",
    "wastegate",
)
#: Raises InputErrors where a file's values make no assembly.
Reader = Callable[[Source], object]


def with_values(source: Source, settings: Mapping[Key, Any]) -> Source:
    """Return `source` with the values of `settings` at their keys, and without what a search may change."""
    values: Any = {word: table for word, table in source.values.items() if word not in ("search", "goal")}
    for key, value in settings.items():
        values = replaced(values, key, value)
    return Source(source.path, source.text, values)


def trial_faults(source: Source, search: Mapping[str, SearchSpec], reader: Reader) -> Iterator[InputError]:
    """Yield a fault for each place that is not in the file, or that two parameters set, for each value that cannot
    stand where it is to, and for more parameters and combinations than can be gone through."""
    if len(search) > MOST_PARAMETERS:
        yield source.fault(("search",), None, f"{len(search)} parameters; allowed: at most {MOST_PARAMETERS}")
        return
    taken: dict[Key, str] = {}
    for name, spec in search.items():
        faults = list(_place_faults(source, name, spec, taken))
        yield from faults or _value_faults(source, name, spec, reader)
    count = prod(len(spec.choices) for spec in search.values())
    if count > MOST_COMBINATIONS:
        allowed = f"{count:.3g} combinations; allowed: {MOST_COMBINATIONS:g}; make a step larger, or a range shorter"
        yield source.fault(("search",), None, allowed)


def _place_faults(source: Source, name: str, spec: SearchSpec, taken: dict[Key, str]) -> Iterator[InputError]:
    for index, place in enumerate(spec.places):
        at: Key = ("search", name, "sets") if isinstance(spec.sets, str) else ("search", name, "sets", index)
        key = key_of(source.values, place)
        if key is None:
            near = nearest_word(place, [word for word in places(source.values) if word.startswith(SEARCHED)])
            yield source.fault(at, place, "no such value in this file: write it there first", near)
        elif key[0] not in SEARCHED:
            yield source.fault(at, place, f"allowed: a value of {', '.join(SEARCHED)}")
        elif (clash := _within(key, taken)) is not None:
            yield source.fault(at, place, f"search.{clash} sets it already")
        else:
            taken[key] = name


def _within(key: Key, taken: Mapping[Key, str]) -> str | None:
    """Return who sets `key`, or something in it or round it, already."""
    return next((name for other, name in taken.items() if key[: len(other)] == other or other[: len(key)] == key), None)


def _value_faults(source: Source, name: str, spec: SearchSpec, reader: Reader) -> Iterator[InputError]:
    """Yield a fault for each value, of a range its first and its last, that cannot stand where it is to."""
    keys = [key_of(source.values, place) or () for place in spec.places]
    tried: list[tuple[Key, Any]] = [(("values", index), value) for index, value in enumerate(spec.values or ())]
    if spec.values is None:
        tried = [(("from",), spec.choices[0]), (("to",), spec.choices[-1])]
    for word, value in tried:
        try:
            reader(with_values(source, dict.fromkeys(keys, value)))
        except InputErrors as error:
            said = error.faults[0]
            where = "" if said.key == dotted(keys[0]) else f"{said.key}: "
            found = f"found {said.found}; " if where and said.found != toml_text(value) else ""
            at: Key = ("search", name, *word)
            yield source.fault(at, source.found(at), f"as {spec.places[0]}: {where}{found}{said.allowed}", said.nearest)
