"""One build: every file of a manifold, written beside the last build and swapped in."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from rootgap.checks import Finding
from rootgap.joints import Joint
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Layout
from rootgap.patterns import Pattern, table_pattern
from rootgap.patterns.pattern import TEMPLATES
from rootgap.patterns.printing import PrintSetup
from rootgap.patterns.sheets import CutSheet, cut_sheets
from rootgap.spec import TablePart
from rootgap.writers.cutlist import cut_rows, cutlist_bytes
from rootgap.writers.dxf import Version, dxf_bytes, entity_count, file_name
from rootgap.writers.files import swapped_in, write_bytes
from rootgap.writers.manifest import FileEntry, file_entry, manifest_bytes
from rootgap.writers.sheets import write_templates

#: The bytes of flat parts: enough for a few manifolds.
DXFS: Kept[bytes] = Kept(1000)
#: The same parts as their files have them, the sheets that they lie on, and the sheets' pictures.
FLATS: Kept[Pattern] = Kept(1000)
SHEETS: Kept[tuple[CutSheet, ...]] = Kept(20)
PICTURES: Kept[bytes] = Kept(100)


def write_build(
    out: Path,
    layout: Layout,
    joints: Sequence[Joint],
    patterns: Sequence[Pattern],
    findings: Sequence[Finding],
    setup: PrintSetup,
    progress: Callable[[str, int, int], None],
    *,
    solids: bool,
) -> tuple[Path, tuple[str, ...]]:
    """Write a build below `out` and return its folder and its files, paths from there.

    setup: of the print; solids: whether bodies are made too.
    Raises WriteError, KernelError, GeometryError, PatternError; the last build then stands as it was.
    """
    # Refused, if it must be, before anything is written.
    flats = {pattern.name: _flat(pattern, layout.table) for pattern in patterns}
    sheets = _sheets(tuple(flats.values()), layout.table)
    folder = out / layout.name
    entries: list[FileEntry] = []
    with swapped_in(folder) as new:

        def add(path: str, kind: str, part: str, units: str, data: bytes, entities: int | None = None) -> None:
            write_bytes(new / path, data)
            entries.append(file_entry(path, kind, part, units, data, entities))

        pieces = {piece.id: piece.kind for piece in (*layout.pieces(), *layout.tools)}
        for pattern in patterns:
            progress("flat", len(entries), len(patterns) + 2)
            # A template bears its kind after its piece's mark; anything else is itself the part, and goes by its kind.
            part = pattern.name.rpartition(".")[0] if pattern.kind in TEMPLATES else pattern.name
            kind = TEMPLATES.get(pattern.kind) or pieces[part]
            flat = flats[pattern.name]
            version: Version = layout.table.dxf if layout.table and flat.plate else "R2000"
            data = DXFS.get(fingerprint(flat, version), partial(dxf_bytes, flat, version))
            add(f"flat/{file_name(flat, version)}", kind, part, "mm", data, entity_count(flat))
        for sheet in sheets:
            progress("sheets", len(entries), len(patterns) + 2)
            version = layout.table.dxf if layout.table else "R2000"
            data = DXFS.get(fingerprint(sheet.pattern, version), partial(dxf_bytes, sheet.pattern, version))
            path = f"flat/sheets/{file_name(sheet.pattern, version)}"
            add(path, "sheet", sheet.name, "mm", data, entity_count(sheet.pattern))
            add(f"flat/sheets/{sheet.name}.png", "sheet picture", sheet.name, "px", _picture(sheet))
        progress("templates", len(entries), len(patterns) + 2)
        # A fixture's plates are cut from their files: true size, they would fill a book.
        printed = [pattern for pattern in patterns if pattern.kind != "fixture"]
        write_templates(printed, new / "templates.pdf", setup, layout.title or layout.name)
        entries.append(_entry(new, "templates.pdf", "templates", layout.name, "mm"))
        add("cutlist.csv", "cut list", layout.name, "mm, kg", cutlist_bytes(cut_rows(layout, joints, patterns)))
        if solids:
            from rootgap.solids import write_solids

            for path, kind, part, units in write_solids(layout, joints, new / "solids", progress):
                entries.append(_entry(new, f"solids/{path}", kind, part, units))
        data = manifest_bytes(layout, joints, findings, entries, setup, sheets)
        write_bytes(new / "manifest.json", data)
    return folder, (*(entry.path for entry in entries), "manifest.json")


def _flat(pattern: Pattern, table: TablePart | None) -> Pattern:
    return FLATS.get(fingerprint(pattern, table), partial(table_pattern, pattern, table))


def _sheets(flats: Sequence[Pattern], table: TablePart | None) -> tuple[CutSheet, ...]:
    if table is None or table.sheet is None:
        return ()
    plates = tuple(flat for flat in flats if flat.plate)
    return SHEETS.get(fingerprint(plates, table), partial(cut_sheets, plates, table))


def _picture(sheet: CutSheet) -> bytes:
    from rootgap.writers.picture import sheet_picture

    return PICTURES.get(fingerprint(sheet), partial(sheet_picture, sheet))


def _entry(folder: Path, path: str, kind: str, part: str, units: str) -> FileEntry:
    return file_entry(path, kind, part, units, (folder / path).read_bytes())
