"""The JSON Schema of parameter files, made from the spec itself.

The files beside this module are what an editor reads; a test holds them against
`schema_text`, and `python -m rootgap.spec.schema` writes them anew.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from rootgap.spec.assembly import AssemblyFile
from rootgap.spec.calipers import CaliperSheet
from rootgap.spec.kinds import PARTS, Part

HERE = Path(__file__).parent
SCHEMAS: dict[str, tuple[Any, str]] = {
    "assembly.schema.json": (AssemblyFile, "A rootgap assembly"),
    "part.schema.json": (Part, "A rootgap part"),
    "calipers.schema.json": (CaliperSheet, "A rootgap caliper sheet"),
}


def schema_text(file: str) -> str:
    """Return the schema that `file` (a key of SCHEMAS) holds, as JSON."""
    model, title = SCHEMAS[file]
    schema = TypeAdapter(model).json_schema(by_alias=True)
    schema["title"] = title
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    for kind in PARTS.values() if model is Part else ():
        # A part that uses another may leave out whatever the other says.
        table = schema["$defs"][kind.__name__]
        table["properties"]["use"] = {"type": "string", "description": "another part, whose keys stand below these"}
        table["anyOf"] = [{"required": table.pop("required")}, {"required": ["use"]}]
    return json.dumps(schema, indent=2, sort_keys=True) + "\n"


if __name__ == "__main__":
    for name in SCHEMAS:
        (HERE / name).write_text(schema_text(name), encoding="utf-8")
