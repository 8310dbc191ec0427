"""One build: every file of a manifold, written beside the last build and swapped in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from rootgap.checks import Finding
from rootgap.joints import Joint
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Layout
from rootgap.patterns import Pattern
from rootgap.patterns.pattern import TEMPLATES
from rootgap.writers.cutlist import cut_rows, cutlist_bytes
from rootgap.writers.dxf import dxf_bytes
from rootgap.writers.files import swapped_in, write_bytes
from rootgap.writers.manifest import FileEntry, file_entry, manifest_bytes
from rootgap.writers.sheets import PrintOptions, write_templates

#: The bytes of flat parts: enough for a few manifolds.
DXFS: Kept[bytes] = Kept(1000)


def write_build(
    out: Path,
    layout: Layout,
    joints: Sequence[Joint],
    patterns: Sequence[Pattern],
    findings: Sequence[Finding],
    options: Mapping[str, Any],
    progress: Callable[[str, int, int], None],
    *,
    solids: bool,
) -> tuple[Path, tuple[str, ...]]:
    """Write a build below `out` and return its folder and its files, paths from there.

    options: of the print (paper, thickness, bar_x, bar_y); solids: whether bodies are made too.
    Raises WriteError, KernelError; the last build then stands as it was.
    """
    folder = out / layout.name
    entries: list[FileEntry] = []
    with swapped_in(folder) as new:

        def add(path: str, kind: str, part: str, units: str, data: bytes) -> None:
            write_bytes(new / path, data)
            entries.append(file_entry(path, kind, part, units, data))

        pieces = {piece.id: piece.kind for piece in layout.pieces()}
        for pattern in patterns:
            progress("flat", len(entries), len(patterns) + 2)
            # A template bears its kind after its piece's mark; anything else is itself the part, and goes by its kind.
            part = pattern.name.rpartition(".")[0] if pattern.kind in TEMPLATES else pattern.name
            kind = TEMPLATES.get(pattern.kind) or pieces[part]
            data = DXFS.get(fingerprint(pattern), partial(dxf_bytes, pattern))
            add(f"flat/{pattern.name}.dxf", kind, part, "mm", data)
        progress("templates", len(entries), len(patterns) + 2)
        setup = PrintOptions(options["paper"], options["bar_x"], options["bar_y"])
        write_templates(patterns, new / "templates.pdf", setup, layout.title or layout.name)
        entries.append(_entry(new, "templates.pdf", "templates", layout.name, "mm"))
        add("cutlist.csv", "cut list", layout.name, "mm, kg", cutlist_bytes(cut_rows(layout, joints, patterns)))
        if solids:
            from rootgap.solids import write_solids

            for path, kind, part, units in write_solids(layout, joints, new / "solids", progress):
                entries.append(_entry(new, f"solids/{path}", kind, part, units))
        data = manifest_bytes(layout, joints, findings, entries, options, options["thickness"])
        write_bytes(new / "manifest.json", data)
    return folder, (*(entry.path for entry in entries), "manifest.json")


def _entry(folder: Path, path: str, kind: str, part: str, units: str) -> FileEntry:
    return file_entry(path, kind, part, units, (folder / path).read_bytes())
