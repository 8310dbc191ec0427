"""Reading parameter files: TOML, `use`, and every fault in one error with file and line."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from rootgap.errors import InputError, InputErrors
from rootgap.spec.assembly import Assembly, AssemblyFile, CopeEnd, FlangeEnd, FlangeUse, RunSpec
from rootgap.spec.fields import Model
from rootgap.spec.lines import Key, key_lines
from rootgap.spec.part import FlangePart

#: A parameter file larger than this, bytes, is something else.
LARGEST_FILE = 1_000_000
#: No fault list needs more; the rest is counted.
MOST_FAULTS = 20

M = TypeVar("M", bound=Model)


@dataclass(frozen=True)
class Source:
    """A parameter file as read: its path, its text and its values."""

    path: Path
    text: str
    values: Mapping[str, Any]

    @property
    def shown(self) -> str:
        """The path as a person would type it."""
        try:
            return str(self.path.relative_to(Path.cwd()))
        except ValueError:
            return str(self.path)

    def fault(self, key: Key, found: object, allowed: str, nearest: str = "") -> InputError:
        """Return the fault at `key`, with the line of the key or of the nearest table round it."""
        lines = key_lines(self.text)
        line = next((lines[key[:n]] for n in range(len(key), 0, -1) if key[:n] in lines), None)
        return InputError(self.shown, line, dotted(key), "" if found is None else _short(found), allowed, nearest)


def dotted(key: Key) -> str:
    """Return a key path as people write it: run.primary.pieces[2].angle, counting from 1."""
    text = ""
    for part in key:
        text += f"[{part + 1}]" if isinstance(part, int) else f"{'.' if text else ''}{part}"
    return text


def read_source(path: Path) -> Source:
    """Return the TOML file at `path` as a Source. Raises InputErrors where it cannot be read."""
    try:
        if path.is_dir():
            raise _unreadable(path, "a folder", "allowed: a parameter file")
        if path.stat().st_size > LARGEST_FILE:
            raise _unreadable(path, f"{path.stat().st_size} bytes", f"allowed: at most {LARGEST_FILE}")
        text = path.read_bytes().decode("utf-8").replace("\r\n", "\n")
    except FileNotFoundError:
        near = _nearest(path.name, [p.name for p in path.parent.glob("*.toml")] if path.parent.is_dir() else [])
        raise _unreadable(path, "no such file", "allowed: the path of a parameter file", near) from None
    except UnicodeDecodeError as fault:
        raise _unreadable(path, f"bytes that are no text (at {fault.start})", "allowed: TOML in UTF-8") from None
    except OSError as fault:
        raise _unreadable(path, fault.strerror or str(fault), "allowed: a file that can be read") from None
    try:
        values = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        line = _toml_line(str(fault), text)
        raise InputErrors((InputError(_shown(path), line, "", "", f"not TOML: {fault}"),)) from None
    source = Source(path, text, values)
    if not values:
        raise InputErrors((InputError(_shown(path), None, "", "an empty file", "allowed: name, units, …"),))
    return source


def load_part(path: Path | str) -> FlangePart:
    """Return the part in the file at `path`, `use` followed. Raises InputErrors."""
    return _part(Path(path).absolute(), ())


def load_assembly(path: Path | str) -> tuple[Assembly, Source]:
    """Return the assembly in the file at `path` and its source. Raises InputErrors with every
    fault of the file."""
    source = read_source(Path(path).absolute())
    if source.values.get("kind") == "flange":
        raise InputErrors((source.fault(("kind",), "flange", "this is a part; allowed here: an assembly"),))
    described = _validated(AssemblyFile, source)
    flanges: dict[str, FlangePart] = {}
    faults: list[InputError] = []
    for name, flange in described.flange.items():
        if isinstance(flange, FlangeUse):
            try:
                flanges[name] = _part(_used(source, ("flange", name, "use"), flange.use), (source.path.resolve(),))
            except InputErrors as error:
                faults.extend(error.faults)
        else:
            flanges[name] = flange
    faults.extend(_dangling(described, source, flanges))
    if faults:
        raise InputErrors(tuple(faults))
    values = {name: getattr(described, name) for name in Assembly.model_fields}
    return Assembly.model_construct(**(values | {"flange": flanges})), source


def _part(path: Path, users: tuple[Path, ...]) -> FlangePart:
    if path.resolve() in users:
        chain = " → ".join(user.name for user in (*users, path))
        source = read_source(path)
        raise InputErrors((source.fault(("use",), chain, "files may not use each other in a circle"),))
    source = read_source(path)
    base = source.values.get("use")
    if base is None:
        part = _validated(FlangePart, source)
    else:
        users = (*users, path.resolve())
        under = _merged(source, _used(source, ("use",), base), users)
        part = _validated(FlangePart, under)
    try:
        part.edge()
    except ValueError as fault:
        raise InputErrors((source.fault(("outline",), None, str(fault)),)) from None
    return part


def _merged(source: Source, base: Path, users: tuple[Path, ...]) -> Source:
    """Return `source` over the file it uses, whose keys stand where it says nothing else."""
    _part(base, users)
    under = read_source(base)
    if "use" in under.values:
        under = _merged(under, _used(under, ("use",), under.values["use"]), (*users, base.resolve()))
    own = {key: value for key, value in source.values.items() if key != "use"}
    if own.get("units", under.values.get("units")) != under.values.get("units"):
        fault = source.fault(("units",), own["units"], f"allowed: the units of {base.name}, {under.values['units']}")
        raise InputErrors((fault,))
    return Source(source.path, source.text, {**under.values, **own})


def _used(source: Source, key: Key, use: object) -> Path:
    """Return the path that `use` names, inside the workspace of `source`."""
    if not isinstance(use, str) or not use or "\0" in use:
        raise InputErrors((source.fault(key, use, "allowed: the path of a part, from this file"),))
    path = source.path.parent / use
    root = workspace(source.path)
    if not path.resolve().is_relative_to(root.resolve()):
        raise InputErrors((source.fault(key, use, "a used file may not lie outside the workspace"),))
    if not path.is_file():
        near = _nearest(path.name, [p.name for p in path.parent.glob("*.toml")] if path.parent.is_dir() else [])
        raise InputErrors((source.fault(key, use, "no such file", near),))
    return path


def workspace(path: Path) -> Path:
    """Return the workspace that the file at `path` lies in: the nearest folder above it that
    holds parts/ or assemblies/, else its own folder."""
    for folder in path.resolve().parents:
        if (folder / "parts").is_dir() or (folder / "assemblies").is_dir():
            return folder
    return path.resolve().parent


def _validated(model: type[M], source: Source) -> M:
    units = source.values.get("units")
    context: dict[str, Any] = {"units": units if units in ("mm", "in") else "mm", "tables": []}
    try:
        return model.model_validate(source.values, context=context)
    except ValidationError as error:
        faults = [_translated(source, dict(fault), context["tables"]) for fault in error.errors(include_url=False)]
        faults.sort(key=lambda fault: fault.line or 0)
        rest = len(faults) - MOST_FAULTS
        if rest > 0:
            faults = [*faults[:MOST_FAULTS], InputError(source.shown, None, "", "", f"and {rest} more faults")]
        raise InputErrors(tuple(faults)) from None


def _translated(source: Source, fault: dict[str, Any], tables: list[tuple[Any, tuple[str, ...]]]) -> InputError:
    """Return one of the validator's errors in the words of a parameter file."""
    key, table = _place(source.values, fault["loc"])
    kind, found, details = fault["type"], fault["input"], fault.get("ctx", {})
    if kind == "extra_forbidden":
        allowed = next((names for values, names in tables if values is table), ())
        return source.fault(key, None, f"unknown key; allowed: {', '.join(allowed)}", _nearest(str(key[-1]), allowed))
    if kind == "missing":
        return source.fault(key, None, "this key is missing")
    if kind == "literal_error":
        words = details["expected"].replace(" or ", ", ")
        near = _nearest(str(found), [word.strip("'") for word in words.split(", ")])
        return source.fault(key, found, f"allowed: {words}", near)
    if kind in ("too_long", "too_short"):
        limit = details.get("max_length", details.get("min_length"))
        return source.fault(
            key, f"{details['actual_length']} entries", f"allowed: at {'most' if kind == 'too_long' else 'least'} {limit}"
        )
    if kind == "value_error":
        inner = details["error"]
        return source.fault(key, getattr(inner, "found", found), getattr(inner, "said", str(inner)))
    if kind == "string_pattern_mismatch":
        return source.fault(key, found, "allowed: letters, digits, dot, hyphen and underscore, the first no sign")
    return source.fault(key, found, f"allowed: {_PLAIN.get(kind, fault['msg']).format(**details)}")


_PLAIN = {
    "greater_than": "above {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "below {lt:g}",
    "less_than_equal": "at most {le:g}",
    "model_type": "a table",
    "dict_type": "a table",
    "tuple_type": "an array",
    "string_type": "a string",
    "float_type": "a number",
    "bool_type": "true or false",
    "int_parsing": "a port's number",
    "finite_number": "a finite number",
}


def _place(values: Any, loc: Iterable[str | int]) -> tuple[Key, Any]:
    """Return the key path of a validator's location, and the table that holds its last key."""
    key: Key = ()
    node, table = values, values
    for part in loc:
        if isinstance(part, str) and part.startswith("<"):
            continue
        if part == "[key]":
            break
        if isinstance(node, dict):
            table = node
        key += (part,)
        if isinstance(node, dict) and part in node:
            node = node[part]
        elif isinstance(node, dict) and str(part) in node:
            key = (*key[:-1], str(part))
            node = node[str(part)]
        elif isinstance(node, list) and isinstance(part, int) and part < len(node):
            node = node[part]
        else:
            node = None
    return key, table


def _dangling(
    described: AssemblyFile, source: Source, flanges: Mapping[str, FlangePart]
) -> Iterator[InputError]:
    """Yield a fault for every name that nothing in the file bears, or that two runs claim."""
    taken: dict[str, str] = {}
    for name, run in described.run.items():
        for place in _claims(run, flanges):
            if taken.setdefault(place, name) != name:
                key = ("run", name, "each" if run.each else "start")
                yield source.fault(key, place, f"run.{taken[place]} starts there already")
        at: Key = ("run", name)
        yield from _run_names(described, source, at, run)
        if run.each is not None:
            flange, _, port = run.each.partition(".")
            if port != "port" or flange not in described.flange:
                words = [f"{word}.port" for word in described.flange]
                yield source.fault((*at, "each"), run.each, _allowed(words), _nearest(run.each, words))
            elif flange in flanges:
                for number in run.override:
                    if not 1 <= number <= len(flanges[flange].port):
                        yield source.fault(
                            (*at, "override", str(number)), number, f"allowed: 1 to {len(flanges[flange].port)}"
                        )
        if isinstance(run.start, str):
            words = start_words(described, flanges)
            if run.start not in words:
                yield source.fault((*at, "start"), run.start, _allowed(words), _nearest(run.start, words))
            before = described.run.get(run.start.removesuffix(".end"))
            if before is not None and before.last != "open":
                yield source.fault((*at, "start"), run.start, 'that end is not "open"')


def _claims(run: RunSpec, flanges: Mapping[str, FlangePart]) -> list[str]:
    """Return the ports or ends that a run starts at."""
    if run.each is not None:
        flange = run.each.partition(".")[0]
        return [f"{flange}.port.{n + 1}" for n in range(len(flanges[flange].port))] if flange in flanges else []
    return [run.start] if isinstance(run.start, str) else []


def _run_names(described: AssemblyFile, source: Source, at: Key, run: RunSpec) -> Iterator[InputError]:
    members: list[tuple[Key, Any]] = [(at, run)]
    members += [((*at, "override", str(number)), other) for number, other in run.override.items()]
    for place, member in members:
        if member.stock is not None and member.stock not in described.stock:
            words = list(described.stock)
            yield source.fault((*place, "stock"), member.stock, _allowed(words), _nearest(member.stock, words))
        end, where = (member.ends[1], (*place, "ends", 1)) if getattr(member, "ends", None) else (member.end, (*place, "end"))
        if isinstance(end, CopeEnd):
            words = [word for word, other in described.run.items() if other.each is None and word != at[1]]
            if end.cope not in words:
                yield source.fault((*where, "cope"), end.cope, _allowed(words), _nearest(end.cope, words))
        if isinstance(end, FlangeEnd) and end.flange not in described.flange:
            words = list(described.flange)
            yield source.fault((*where, "flange"), end.flange, _allowed(words), _nearest(end.flange, words))


def start_words(described: AssemblyFile, flanges: Mapping[str, FlangePart]) -> list[str]:
    """Return the places that a run may start at."""
    ends = [f"{name}.end" for name, run in described.run.items() if run.each is None]
    ports = [f"{name}.port.{n + 1}" for name, flange in flanges.items() for n in range(len(flange.port))]
    return ends + ports


def _allowed(words: Iterable[str]) -> str:
    return "allowed: " + (", ".join(words) or "nothing yet; define it first")


def _nearest(word: str, words: Iterable[str]) -> str:
    return next(iter(difflib.get_close_matches(word, list(words), n=1, cutoff=0.5)), "")


def _short(found: object) -> str:
    text = repr(found)
    return text if len(text) <= 60 else text[:57] + "…"


def _shown(path: Path) -> str:
    return Source(path, "", {}).shown


def _unreadable(path: Path, found: str, allowed: str, nearest: str = "") -> InputErrors:
    return InputErrors((InputError(_shown(path), None, "", found, allowed, nearest),))


def _toml_line(message: str, text: str) -> int:
    _, _, place = message.partition("(at line ")
    number = place.partition(",")[0]
    return int(number) if number.isdigit() else text.count("\n") + 1
