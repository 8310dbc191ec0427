"""Reading parameter files: `use` followed, and every fault in one error with file and line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import partial, reduce
from pathlib import Path

from rootgap.errors import InputError, InputErrors, UnitError
from rootgap.geometry.mesh import Mesh
from rootgap.spec.assembly import Assembly, AssemblyFile, FlangeUse, RunSpec, as_measured
from rootgap.spec.calipers import CaliperSheet
from rootgap.spec.ends import MOST_RUNS
from rootgap.spec.faults import told, validated
from rootgap.spec.keepouts import StepKeepout, StlKeepout
from rootgap.spec.kinds import KINDS, PARTS, SINGLE, STANDING, Part
from rootgap.spec.measured import Measured
from rootgap.spec.meshes import StepReader, mesh_from
from rootgap.spec.names import name_faults
from rootgap.spec.order import following
from rootgap.spec.part import FlangePart
from rootgap.spec.source import Source, nearest_file, nearest_word, read_source
from rootgap.spec.toml import Key, toml_text
from rootgap.spec.trials import trial_faults
from rootgap.spec.turbo import StandingTurbo, StandingWastegate, TurboUse, WastegateUse
from rootgap.stock import PipeStock

#: Keys that only an assembly has at its top, and only a part.
_OF_ASSEMBLY = ("run", "stock", *PARTS)
_OF_PART = ("kind", "use", "port", "bolts", "outline", "thickness")


def load_part(path: Path | str) -> Part:
    """Return the part in the file at `path`, `use` followed. Raises InputErrors."""
    source = read_source(Path(path).absolute())
    if _is_assembly(source):
        raise InputErrors((_wrong_file(source, "an assembly", "a part", _OF_ASSEMBLY),))
    try:
        return _part(source, (), ("use",), None)
    except InputErrors as error:
        raise told(error.faults) from None


def load_assembly(path: Path | str, step: StepReader | None = None) -> tuple[Assembly, Source]:
    """Return the assembly in the file at `path` and its source; step: reads the STEP files of keep-outs, which are
    refused without it. Raises InputErrors with every fault of the file and of the parts that it uses."""
    source = read_source(Path(path).absolute())
    if _has(source, _OF_PART) and not _has(source, _OF_ASSEMBLY):
        allowed = "an assembly, which has run tables and uses parts"
        raise InputErrors((_wrong_file(source, "a part", allowed, _OF_PART),))
    described = assembly_of(source, step)
    faults = tuple(trial_faults(source, described.search, partial(_tried, source, described, step)))
    if faults:
        raise told(faults)
    return described, source


def _tried(source: Source, described: Assembly, step: StepReader | None, changed: Source) -> None:
    """Raise InputErrors where `changed`, the values of `source` with another one in them, is no assembly. described:
    what they were; parts in other files are read again only where more than the runs has changed."""
    if any(table is not source.values[word] for word, table in changed.values.items() if word != "run"):
        assembly_of(changed, step)
        return
    validated(AssemblyFile, changed)
    faults = tuple(name_faults(changed, {name: len(part.port) for name, part in described.flange.items()}))
    if faults:
        raise InputErrors(faults)


def assembly_of(source: Source, step: StepReader | None = None) -> Assembly:
    """Return the assembly that the values of `source` describe; step: reads the STEP files of keep-outs, which are
    refused without it. Raises InputErrors with every fault of the values and of the parts that they use."""
    faults = list(_crowded(source))
    if faults:
        raise told(faults)
    described: AssemblyFile | None = None
    try:
        described = validated(AssemblyFile, source)
    except InputErrors as error:
        faults.extend(error.faults)
    used = _parts_used(source, faults)
    standing = {kind: _standing(source, described, kind, faults) for kind in STANDING}
    alone: dict[str, Part | None] = {kind: _single(source, described, kind, faults) for kind in SINGLE}
    for kind, name, part in _at_hand(described):
        faults.extend(_unit_faults(part, source, (kind, name)))
        faults.extend(_edge_faults(part, source, (kind, name)))
        used[kind][name] = part
    for name, use in described.flange.items() if described else ():
        if isinstance(use, FlangeUse) and use.held and name in used["flange"]:
            used["flange"][name] = used["flange"][name].model_copy(update={"held": use.held})
    faults.extend(name_faults(source, _ports(source, used["flange"])))
    if described is not None and not faults:
        faults.extend(_measured_faults(described, source))
    meshes = _meshes(described, source, step, faults) if described is not None and not faults else {}
    if described is None or faults:
        raise told(faults)
    values = {name: getattr(described, name) for name in AssemblyFile.model_fields}
    parts = {kind: {name: used[kind][name] for name in values[kind]} for kind in PARTS}
    return Assembly.model_construct(**(values | parts | standing | alone | {"meshes": meshes}))


def load_calipers(path: Path | str) -> tuple[CaliperSheet, FlangePart, Source]:
    """Return the caliper sheet in the file at `path`, the flange that it corrects, and its source. Raises
    InputErrors, also for a distance that names what the flange has not."""
    source = read_source(Path(path).absolute())
    kind = source.values.get("kind")
    if kind != "calipers":
        raise InputErrors((source.fault(("kind",), kind, 'allowed: "calipers", a sheet of caliper distances'),))
    try:
        sheet = validated(CaliperSheet, source)
        part = _part(_used(source, ("use",), sheet.use), (source,), ("use",), "flange")
    except InputErrors as error:
        raise told(error.faults) from None
    if not isinstance(part, FlangePart):
        raise InputErrors((source.fault(("use",), sheet.use, "allowed: a flange"),))
    counts = {"bolt": len(part.holes()), "port": len(part.port)}
    faults = [
        source.fault(("distance", index, word), str(feature), f"allowed: {_counted(feature.kind, counts)}")
        for index, distance in enumerate(sheet.distance)
        for word, feature in (("from", distance.from_), ("to", distance.to))
        if feature.number > counts[feature.kind]
    ]
    if faults:
        raise told(faults)
    return sheet, part, source


def _counted(kind: str, counts: Mapping[str, int]) -> str:
    return f"{kind}.1 to {kind}.{counts[kind]}" if counts[kind] else f"no {kind}, for the flange has none"


def workspace(path: Path) -> Path:
    """Return the workspace that the file at `path` lies in: the nearest folder above it that
    holds parts/ or assemblies/, else its own folder."""
    for folder in path.resolve().parents:
        if (folder / "parts").is_dir() or (folder / "assemblies").is_dir():
            return folder
    return path.resolve().parent


def _has(source: Source, words: tuple[str, ...]) -> bool:
    return any(word in source.values for word in words)


def _wrong_file(source: Source, found: str, allowed: str, words: tuple[str, ...]) -> InputError:
    word = next(word for word in words if word in source.values)
    return InputError(source.shown, source.line((word,)), word, "", f"this is {found}; allowed here: {allowed}")


def _is_assembly(source: Source) -> bool:
    return _has(source, _OF_ASSEMBLY) and not _has(source, _OF_PART)


def _crowded(source: Source) -> Iterator[InputError]:
    """Yield a fault for every table with so many entries that telling all their faults helps nobody."""
    for word, table in source.values.items():
        if isinstance(table, dict) and len(table) > MOST_RUNS:
            yield source.fault((word,), None, f"{len(table)} entries; allowed: at most {MOST_RUNS}")


def _uses(source: Source) -> Iterator[tuple[str, str, str]]:
    """Yield (kind, name, path) of every part that is kept in another file."""
    for kind in PARTS:
        parts = source.values.get(kind)
        for name, part in parts.items() if isinstance(parts, dict) else ():
            if isinstance(part, dict) and isinstance(part.get("use"), str) and "kind" not in part:
                yield kind, name, part["use"]


def _parts_used(source: Source, faults: list[InputError]) -> dict[str, dict[str, Part]]:
    """Return the parts that are kept in other files, by kind and name; what is wrong with them goes to `faults`."""
    used: dict[str, dict[str, Part]] = {kind: {} for kind in PARTS}
    for kind, name, use in _uses(source):
        key = (kind, name, "use")
        try:
            used[kind][name] = _part(_used(source, key, use), (source,), key, kind)
        except InputErrors as error:
            faults.extend(error.faults)
    return used


def _single(source: Source, described: AssemblyFile | None, kind: str, faults: list[InputError]) -> Part | None:
    """Return the one part of `kind` that an assembly has, None for none; what is wrong with it goes to `faults`."""
    said = source.values.get(kind)
    key: Key = (kind,) if isinstance(said, str) else (kind, "use")
    use = said if isinstance(said, str) else said.get("use") if isinstance(said, dict) and "kind" not in said else None
    if isinstance(use, str):
        try:
            return _part(_used(source, key, use), (source,), key, kind)
        except InputErrors as error:
            faults.extend(error.faults)
            return None
    part = getattr(described, kind, None)
    if not isinstance(part, SINGLE[kind]):
        return None
    faults.extend(_unit_faults(part, source, (kind,)))
    return part


def _standing(
    source: Source, described: AssemblyFile | None, kind: str, faults: list[InputError]
) -> dict[str, StandingTurbo | StandingWastegate]:
    """Return the envelopes of `kind`, their parts at hand; what is wrong with a part goes to `faults`."""
    part_of, made = STANDING[kind]
    uses: Mapping[str, TurboUse | WastegateUse] = getattr(described, kind, {})
    found = {}
    for name, use in uses.items():
        key: Key = (kind, name, "use")
        try:
            part = _part(_used(source, key, use.use), (source,), key, kind)
        except InputErrors as error:
            faults.extend(error.faults)
            continue
        if isinstance(part, part_of):
            said = {word: getattr(use, word) for word in type(use).model_fields}
            found[name] = made.model_construct(**(said | {"part": part}))
    return found


def _at_hand(described: AssemblyFile | None) -> Iterator[tuple[str, str, Part]]:
    """Yield (kind, name, part) of every part that stands in the assembly's own file."""
    for kind, model in PARTS.items():
        for name, part in getattr(described, kind, {}).items():
            if isinstance(part, model):
                yield kind, name, part


def _ports(source: Source, used: Mapping[str, Part]) -> dict[str, int | None]:
    """Return how many ports each flange of the file has, None where that cannot be told."""
    flanges = source.values.get("flange")
    names = flanges if isinstance(flanges, dict) else {}
    return {name: len(part.port) if isinstance(part := used.get(name), FlangePart) else None for name in names}


def _part(source: Source, users: tuple[Source, ...], key: Key, kind: str | None) -> Part:
    """Return the part of `source`, whose keys stand over those of the part it uses.

    users: the files that led here, the last of which uses this one at `key`; kind: that it must be of,
    None for any.
    """
    whole = _whole(source, users, key, kind)
    said = whole.values.get("kind")
    wanted = kind or (said if isinstance(said, str) else "flange")
    if users and isinstance(said, str) and said in KINDS and said != wanted:
        fault = users[-1].fault(key, users[-1].found(key), f"this is a part of kind {said}; allowed here: {wanted}")
        raise InputErrors((fault,))
    if wanted not in KINDS:
        allowed = f"allowed: {', '.join(toml_text(word) for word in KINDS)}"
        raise InputErrors((whole.fault(("kind",), said, allowed, nearest_word(wanted, KINDS)),))
    part = validated(KINDS[wanted], whole)
    faults = tuple(_edge_faults(part, source, ()))
    if faults:
        raise InputErrors(faults)
    return part


def _whole(source: Source, users: tuple[Source, ...], key: Key, kind: str | None) -> Source:
    """Return `source` with the values of the part that it uses below its own."""
    if users:
        user = users[-1]
        if source.path.resolve() in [other.path.resolve() for other in users]:
            chain = " → ".join(other.path.name for other in (*users, source))
            raise InputErrors((user.fault(key, user.found(key), f"files may not use each other in a circle: {chain}"),))
        if _is_assembly(source):
            raise InputErrors((user.fault(key, user.found(key), "this is an assembly; allowed here: a part"),))
    if "use" not in source.values:
        return source
    base = _used(source, ("use",), source.values["use"])
    under = _whole(base, (*users, source), ("use",), kind)
    _part(base, (*users, source), ("use",), kind)
    own = {word: value for word, value in source.values.items() if word != "use"}
    theirs = under.values.get("units")
    if "units" in own and own["units"] != theirs:
        raise InputErrors((source.fault(("units",), own["units"], f"allowed: the units of {base.shown}, {theirs}"),))
    return Source(source.path, source.text, {**under.values, **own})


def _used(source: Source, key: Key, use: object) -> Source:
    """Return the file that `use` names, which must lie inside the workspace of `source`."""
    if not isinstance(use, str) or not use:
        raise InputErrors((source.fault(key, use, "allowed: the path of a part, from this file"),))
    return read_source(_beside(source, key, use, "a part"))


def _meshes(
    described: AssemblyFile, source: Source, step: StepReader | None, faults: list[InputError]
) -> dict[str, Mesh]:
    """Return the meshes of the keep-outs that have one, by name; what is wrong with them goes to `faults`."""
    meshes: dict[str, Mesh] = {}
    for name, keepout in described.keepout.items():
        if isinstance(keepout, StlKeepout | StepKeepout):
            try:
                meshes[name] = _mesh(name, keepout, source, step)
            except InputErrors as error:
                faults.extend(error.faults)
    return meshes


def _mesh(name: str, keepout: StlKeepout | StepKeepout, source: Source, step: StepReader | None) -> Mesh:
    """Return the mesh of a keep-out. Raises InputErrors with what is wrong with its file."""
    word, shape = ("stl", keepout.stl) if isinstance(keepout, StlKeepout) else ("step", keepout.step)
    key: Key = ("keepout", name, word, "file")
    path = _beside(source, key, shape.file, "an STL file" if word == "stl" else "a STEP file")
    try:
        return mesh_from(path, shape, step)
    except OSError as reason:
        fault = source.fault(key, shape.file, f"cannot be read: {(reason.strerror or 'no such path').lower()}")
    except ValueError as reason:
        fault = source.fault(key, shape.file, str(reason))
    raise InputErrors((fault,))


def _beside(source: Source, key: Key, use: str, what: str) -> Path:
    """Return the path that `use` names, which must be that of a file, `what`, inside the workspace of `source`.
    Raises InputErrors."""
    path = source.path.parent / use
    fault: InputError | None = None
    try:
        root = workspace(source.path)
        if not path.resolve().is_relative_to(root):
            fault = source.fault(key, use, "a used file may not lie outside the workspace")
        elif path.is_dir():
            fault = source.fault(key, use, f"this is a folder; allowed: the path of {what}, from this file")
        elif not path.exists():
            fault = source.fault(key, use, "no such file", nearest_file(path))
    except (OSError, RuntimeError, ValueError) as reason:
        # A loop of links, a name too long, or one that the disk cannot have.
        fault = source.fault(key, use, f"cannot be read: {(getattr(reason, 'strerror', '') or 'no such path').lower()}")
    if fault:
        raise InputErrors((fault,))
    return path


def _measured_faults(described: AssemblyFile, source: Source) -> Iterator[InputError]:
    """Yield a fault for all measured figures that leave a run's stock, or a piece of it, no wall or no bore."""
    for name, run in described.run.items():
        at: Key = ("run", name)
        members: list[tuple[Key, RunSpec]] = [(at, run)]
        members += [((*at, "override", str(number)), run.member(number)) for number in run.override]
        for key, member in members:
            bought, whole = described.stock[member.stock].bought, member.measured
            places: list[tuple[Key, PipeStock, tuple[Measured | None, ...]]] = [((*key, "measured"), bought, (whole,))]
            for index, piece in enumerate(member.pieces):
                if measured := getattr(piece, "measured", None):
                    places.append(((*key, "pieces", index, "measured"), bought, (whole, measured)))
                if stock := following(piece):
                    bought, whole = described.stock[stock].bought, None
            for place, of, measures in places:
                try:
                    reduce(as_measured, measures, of)
                except UnitError as fault:
                    yield source.fault(place, source.found(place), fault.said)
                    break


def _unit_faults(part: Part, source: Source, key: Key) -> Iterator[InputError]:
    """Yield a fault where a part inside an assembly's file states other units than the file."""
    units = source.values.get("units")
    if part.units != units:
        allowed = f"allowed here: the file's own units, {units}; or a part of its own with use"
        yield source.fault((*key, "units"), part.units, allowed)


def _edge_faults(part: Part, source: Source, key: Key) -> Iterator[InputError]:
    """Yield a fault where a flange's outer edge falls apart."""
    if not isinstance(part, FlangePart):
        return
    try:
        part.edges()
    except ValueError as fault:
        yield source.fault((*key, "outline"), None, str(fault).removeprefix("outline: "))
