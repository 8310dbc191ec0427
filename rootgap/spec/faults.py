"""The validator's errors in the words of a parameter file: table, key, array, string, number."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, TypeVar, get_origin

from pydantic import ValidationError

from rootgap.errors import InputError, InputErrors
from rootgap.spec.fields import BROKEN_RULE, Misfit, Model, words_of
from rootgap.spec.source import Source, at, nearest_word
from rootgap.spec.toml import Key, toml_text
from rootgap.spec.words import alternatives

#: No fault list needs more; the rest is counted.
MOST_FAULTS = 20
#: How many misspelt keys of a file the nearest word is looked for; that takes long.
MOST_LOOKED_UP = 100

M = TypeVar("M", bound=Model)
Table = tuple[Mapping[str, Any], type[Model]]

#: What belongs at a key, by the validator's kind of error.
_KINDS = {
    "model_type": "a table",
    "dict_type": "a table",
    "tuple_type": "an array",
    "string_type": "a string",
    "float_type": "a number",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "finite_number": "a finite number",
    "int_parsing": "the number of a port, from 1",
    "int_parsing_size": "the number of a port, from 1",
}


def validated(model: type[M], source: Source) -> M:
    """Return the values of `source` as a `model`. Raises InputErrors with every fault in them."""
    units = source.values.get("units")
    tables: list[Table] = []
    context = {"units": units if units in ("mm", "in") else "mm", "tables": tables}
    errors: Sequence[Mapping[str, Any]] = ()
    described = None
    try:
        described = model.model_validate(source.values, context=context)
    except ValidationError as error:
        errors = [dict(each) for each in error.errors(include_url=False)]
    translator = _Translator(source, tables)
    faults = [*translator.errors(errors), *translator.rules()]
    if described is None or faults:
        raise InputErrors(tuple(faults))
    return described


def told(faults: Iterable[InputError]) -> InputErrors:
    """Return the error that tells `faults`, file by file in the order of their lines, one a key,
    and not too many."""
    by_place = {(fault.file, fault.key, fault.line if not fault.key else 0): fault for fault in reversed(list(faults))}
    unique = list(reversed(by_place.values()))
    files = list(dict.fromkeys(fault.file for fault in unique))
    unique.sort(key=lambda fault: (files.index(fault.file), fault.line or 0))
    rest = len(unique) - MOST_FAULTS
    if rest > 0:
        more = f"and {rest} more fault{'s' if rest > 1 else ''}"
        unique[MOST_FAULTS:] = [InputError(unique[MOST_FAULTS].file, None, "", "", more)]
    return InputErrors(tuple(unique))


class _Translator:
    """Tells one file's errors. tables: every table that the validator came to, with its model."""

    def __init__(self, source: Source, tables: Sequence[Table]) -> None:
        self.source = source
        self.models = {id(values): model for values, model in tables}
        self.keys = dict(_table_keys(source.values))
        self.near: dict[Key, str] = {}
        self.meant: set[Key] = set()

    def rules(self) -> Iterator[InputError]:
        """Yield a fault for every rule between keys that a table breaks."""
        for place, (key, values) in self.keys.items():
            if place in self.models:
                for word, allowed in self.models[place].rules(values):
                    if (*key, word) in self.meant:
                        continue
                    found = values.get(word)
                    shown = found if isinstance(found, str | int | float) else None
                    yield self.source.fault((*key, word) if word else key, shown, allowed)

    def errors(self, errors: Iterable[Mapping[str, Any]]) -> Iterator[InputError]:
        """Yield the validator's errors, a misspelt key once and an array too short once."""
        places = [(_place(self.source.values, error["loc"]), error) for error in errors]
        unknown = [(key, table) for (key, table, _), error in places if error["type"] == "extra_forbidden"]
        self.near = {key: nearest_word(str(key[-1]), self.words(table)) for key, table in unknown[:MOST_LOOKED_UP]}
        self.meant = {(*key[:-1], near) for key, near in self.near.items()}
        for (key, table, found), error in places:
            if error["type"] == BROKEN_RULE:
                continue
            if error["type"] in ("too_short", "too_long") and _long_enough(found, error["ctx"]):
                continue  # Only those entries were counted that have no fault of their own.
            if error["type"] != "missing":
                yield self.error(key, table, found, error)
            elif isinstance(key[-1], int):
                entries = 1 + max(int(other[-1]) for (other, _, _), _ in places if other[:-1] == key[:-1])
                yield self.source.fault(key[:-1], self.source.found(key[:-1]), f"allowed: {entries} entries")
            elif key not in self.meant:
                example = self.example(key, table)
                more = f"; for example: {example}" if example else ""
                yield self.source.fault(key, None, f"this key is missing{more}")

    def error(self, key: Key, table: Any, found: Any, error: Mapping[str, Any]) -> InputError:
        """Return the fault that one of the validator's errors is."""
        kind, details = error["type"], error.get("ctx", {})
        near = ""
        if kind == "extra_forbidden":
            found, words = None, self.words(table)
            allowed = f"unknown key; allowed: {', '.join(words)}"
            near = self.near.get(key, "")
        elif kind == "literal_error":
            quoted = details["expected"].replace(" or ", ", ").split(", ")
            words = tuple(word.strip("'") for word in quoted)
            # A number that is allowed stands there without quotes, as it does in the file.
            allowed = "allowed: " + ", ".join(toml_text(word.strip("'")) if word[0] == "'" else word for word in quoted)
            near = _nearest(found, words)
        elif choice := alternatives(kind):
            allowed = str(error["msg"])
            near = _nearest(found, choice[1] if isinstance(found, str) else choice[0])
        elif kind in ("too_long", "too_short"):
            most = kind == "too_long"
            limit = details["max_length" if most else "min_length"]
            found, count = None, len(found)
            entries = "entry" if limit == 1 else "entries"
            allowed = f"{count} entries; allowed: at {'most' if most else 'least'} {limit} {entries}"
        elif kind == "string_too_long":
            allowed = f"allowed: at most {details['max_length']} characters"
        elif kind == "string_pattern_mismatch":
            dot = ", dots" if "." in details["pattern"] else ""
            allowed = f"allowed: letters, digits{dot}, hyphens and underscores, beginning with a letter or digit"
        elif kind == "value_error":
            inner = details["error"]
            allowed = getattr(inner, "said", str(inner))
            if isinstance(inner, Misfit):
                key, found = (*key, *inner.key), at(found, inner.key)
        else:
            example = self.example(key, table)
            allowed = f"allowed: {_KINDS.get(kind, 'another kind of value')}{', such as ' + example if example else ''}"
            allowed += _brackets(kind, key, found)
        return self.source.fault(key, found, allowed, near)

    def words(self, table: Any) -> tuple[str, ...]:
        """Return the keys that `table`, as it was read, allows."""
        model = self.models.get(id(table))
        return words_of(model) if model else ()

    def example(self, key: Key, table: Any) -> str:
        """Return a line that shows how the last word of `key` is written in `table`, or ""."""
        model = self.models.get(id(table))
        for name, field in model.model_fields.items() if model else ():
            if (field.alias or name) == key[-1] and field.examples:
                example = field.examples[0]
                if get_origin(field.annotation) is dict:
                    return f"[{key[-1]}.{next(iter(example))}]"
                return f"{key[-1]} = {toml_text(example)}"
        return ""


def _nearest(found: Any, words: Sequence[str]) -> str:
    """Return the word nearest to a string, or to any key of a table, that was found."""
    tries = [found] if isinstance(found, str) else list(found) if isinstance(found, dict) else []
    if isinstance(found, dict) and any(word in found for word in words):
        return ""
    return next((near for each in tries if (near := nearest_word(each, words))), "")


def _brackets(kind: str, key: Key, found: Any) -> str:
    """Return what to say where [table] and [[table]] were mixed up."""
    name = ".".join(str(part) for part in key)
    if kind in ("model_type", "dict_type") and isinstance(found, list) and found and isinstance(found[0], dict):
        return f"; write [{name}], not [[{name}]]"
    if kind == "tuple_type" and isinstance(found, dict) and len(key) == 1:
        return f"; write [[{name}]], not [{name}]"
    return ""


def _table_keys(values: Mapping[str, Any]) -> Iterator[tuple[int, tuple[Key, Mapping[str, Any]]]]:
    """Yield the identity of every table in `values` with its key path and itself."""
    waiting: list[tuple[Key, Any]] = [((), values)]
    while waiting:
        key, value = waiting.pop()
        if isinstance(value, Mapping):
            yield id(value), (key, value)
            waiting += [((*key, word), each) for word, each in value.items()]
        elif isinstance(value, list):
            waiting += [((*key, index), each) for index, each in enumerate(value)]


def _long_enough(found: Any, limits: Mapping[str, Any]) -> bool:
    return bool(limits.get("min_length", 0) <= len(found) <= limits.get("max_length", len(found)))


def _place(values: Any, loc: Iterable[str | int]) -> tuple[Key, Any, Any]:
    """Return the key path of a validator's location, the table that holds its last key, and what
    stands there, None for nothing."""
    key: Key = ()
    node, table = values, values
    for part in loc:
        if part == "[key]":
            return key, table, key[-1]
        if isinstance(part, str) and part.startswith("<"):
            continue
        if isinstance(node, Mapping):
            table = node
            # A port's number is a string in the file and a number to the validator.
            key += (part if part in node else str(part),)
            node = node.get(key[-1])
        else:
            key += (part,)
            node = at(node, (part,)) if isinstance(node, list) else None
    return key, table, node
