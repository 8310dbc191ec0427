"""The schemas that editors read: made from the spec, right about the demos, and about wrong files."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from rootgap.spec.schema import HERE, SCHEMAS, schema_text

ROOT = Path(__file__).parent.parent.parent
Values = dict[str, Any]


def validator(file: str) -> jsonschema.Draft202012Validator:
    schema = json.loads((HERE / file).read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.fixture(scope="module")
def assembly_schema() -> jsonschema.Draft202012Validator:
    return validator("assembly.schema.json")


@pytest.fixture(scope="module")
def part_schema() -> jsonschema.Draft202012Validator:
    return validator("part.schema.json")


def read(path: Path) -> Values:
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("file", SCHEMAS)
def test_the_file_is_what_the_spec_says(file: str) -> None:
    """Where this fails: python -m rootgap.spec.schema."""
    assert (HERE / file).read_text(encoding="utf-8") == schema_text(file)


@pytest.mark.parametrize("path", sorted((ROOT / "assemblies").glob("*.toml")), ids=lambda path: path.stem)
def test_every_assembly_fits(path: Path, assembly_schema: jsonschema.Draft202012Validator) -> None:
    assembly_schema.validate(read(path))


@pytest.mark.parametrize("path", sorted((ROOT / "parts").rglob("*.toml")), ids=lambda path: path.stem)
def test_every_part_fits(path: Path, part_schema: jsonschema.Draft202012Validator) -> None:
    part_schema.validate(read(path))


@pytest.mark.parametrize(
    "path", sorted((ROOT / "assemblies").glob("*.toml")) + sorted((ROOT / "parts").rglob("*.toml")), ids=str
)
def test_every_demo_names_its_schema(path: Path) -> None:
    first = path.read_text(encoding="utf-8").partition("\n")[0]
    kind = {"assemblies": "assembly", "parts": "part"}[path.relative_to(ROOT).parts[0]]
    assert (path.parent / first.removeprefix("#:schema ")).resolve() == HERE / f"{kind}.schema.json"


def at(values: Values, *key: str | int) -> Any:
    found: Any = values
    for part in key:
        found = found[part]
    return found


WRONG_ASSEMBLIES: dict[str, Callable[[Values], object]] = {
    "no name": lambda v: v.pop("name"),
    "no units": lambda v: v.pop("units"),
    "other units": lambda v: v.update(units="cm"),
    "unknown key": lambda v: v.update(colour="red"),
    "name with a slash": lambda v: v.update(name="a/b"),
    "no runs": lambda v: v.pop("run"),
    "no material": lambda v: at(v, "stock", "log").pop("material"),
    "misspelt stock key": lambda v: at(v, "stock", "log").update(pip="2 sch 40"),
    "pipe table without a wall": lambda v: at(v, "stock", "log").update(pipe={"od": 50}),
    "pieces not an array": lambda v: at(v, "run", "log").update(pieces={"straight": 1}),
    "no pieces": lambda v: at(v, "run", "log").update(pieces=[]),
    "other piece": lambda v: at(v, "run", "log").update(pieces=[{"strait": 1}]),
    "other elbow": lambda v: at(v, "run", "log").update(pieces=[{"elbow": "XR"}]),
    "other set": lambda v: at(v, "run", "primary", "end").update(set="over"),
    "other end": lambda v: at(v, "run", "primary").update(end="shut"),
    "a point of two": lambda v: at(v, "run", "log", "start").update(at=[1, 2]),
    "length of true": lambda v: at(v, "run", "log").update(pieces=[{"straight": True}]),
    "use of a number": lambda v: at(v, "flange", "head").update(use=4),
}

WRONG_PARTS: dict[str, Callable[[Values], object]] = {
    "no thickness": lambda v: v.pop("thickness"),
    "other kind": lambda v: v.update(kind="plate"),
    "no ports": lambda v: v.update(port=[]),
    "port not an array": lambda v: v.update(port={"at": [0, 0]}),
    "other opening": lambda v: at(v, "port", 0).update(opening={"square": 3}),
    "hole missing": lambda v: at(v, "bolts", 0).pop("hole"),
    "misspelt outline": lambda v: at(v, "outline").update(edges=3),
}


@pytest.mark.parametrize("wrong", WRONG_ASSEMBLIES.values(), ids=WRONG_ASSEMBLIES)
def test_wrong_assemblies_do_not_fit(
    wrong: Callable[[Values], object], demo: Path, assembly_schema: jsonschema.Draft202012Validator
) -> None:
    values = copy.deepcopy(read(demo))
    wrong(values)
    assert not assembly_schema.is_valid(values)


@pytest.mark.parametrize("wrong", WRONG_PARTS.values(), ids=WRONG_PARTS)
def test_wrong_parts_do_not_fit(
    wrong: Callable[[Values], object], part_schema: jsonschema.Draft202012Validator
) -> None:
    values = read(ROOT / "parts" / "head-sand-rail-four.toml")
    wrong(values)
    assert not part_schema.is_valid(values)


def test_a_part_that_uses_another_may_say_little(part_schema: jsonschema.Draft202012Validator) -> None:
    part_schema.validate({"use": "head-sand-rail-four.toml", "thickness": 10})


def test_every_example_in_the_schemas_fits_its_key(
    assembly_schema: jsonschema.Draft202012Validator, part_schema: jsonschema.Draft202012Validator
) -> None:
    """The examples are what error texts show; they must be right themselves."""
    checked = 0
    for whole in (assembly_schema, part_schema):
        for table in whole.schema["$defs"].values():
            for name, key in table.get("properties", {}).items():
                for example in key.get("examples", ()):
                    checked += 1
                    inner = {**key, "$defs": whole.schema["$defs"]}
                    assert jsonschema.Draft202012Validator(inner).is_valid(example), (name, example)
    assert checked > 40
