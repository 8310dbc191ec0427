"""Where parts/ and assemblies/ are, and how a workspace of one's own is made."""

from __future__ import annotations

import shutil
from contextlib import suppress
from pathlib import Path

from rootgap.errors import WriteError
from rootgap.spec.schema import HERE as SCHEMA_HERE
from rootgap.spec.schema import SCHEMAS

FOLDERS = ("parts", "assemblies")
#: Folder of a workspace that holds the schemas for an editor.
SCHEMA_FOLDER = ".rootgap"
#: Folder of a workspace that builds go to.
OUT = "out"


def starter() -> Path:
    """Return the folder that holds the starter parts/ and assemblies/: inside the installed
    package, or the checkout round it."""
    package = Path(__file__).parent
    return package if (package / FOLDERS[0]).is_dir() else package.parent


def new_workspace(folder: Path) -> tuple[Path, ...]:
    """Make a workspace in `folder` with the starter files and return the assemblies in it.

    Raises WriteError where the folder is not empty or cannot be written; nothing is left then.
    """
    try:
        taken = folder.is_symlink() or (folder.exists() and not folder.is_dir())
        full = not taken and folder.exists() and any(folder.iterdir())
        made = [path for path in (folder, *folder.parents) if not path.exists()]
    except OSError as fault:
        raise _write_error(folder, fault) from fault
    if taken or full:
        reason = "a file or a link of that name is there" if taken else "it is there already and not empty"
        raise WriteError(str(folder), reason, "name a new folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _fill(folder)
    except BaseException as fault:
        for name in (*FOLDERS, SCHEMA_FOLDER, OUT):
            shutil.rmtree(folder / name, ignore_errors=True)
        for path in made:
            with suppress(OSError):
                path.rmdir()
        if isinstance(fault, OSError):
            raise _write_error(folder, fault) from fault
        raise
    return tuple(sorted((folder / "assemblies").glob("*.toml")))


def _write_error(folder: Path, fault: OSError) -> WriteError:
    return WriteError(str(folder), (fault.strerror or str(fault)).lower(), "name another folder")


def _fill(folder: Path) -> None:
    """Put the starter files, the schemas and out/ into an empty folder."""
    for name in FOLDERS:
        shutil.copytree(starter() / name, folder / name)
    for path in folder.rglob("*.toml"):
        path.write_text(_schema_beside(path.read_text(encoding="utf-8")), encoding="utf-8")
    (folder / SCHEMA_FOLDER).mkdir()
    for file in SCHEMAS:
        shutil.copy(SCHEMA_HERE / file, folder / SCHEMA_FOLDER / file)
    (folder / OUT).mkdir()
    (folder / OUT / ".gitignore").write_text("*\n!.gitignore\n", encoding="utf-8")


def _schema_beside(text: str) -> str:
    """Return a starter file whose schema is looked for in the workspace, not in a checkout."""
    return text.replace("../rootgap/spec/", f"../{SCHEMA_FOLDER}/", 1) if text.startswith("#:schema ") else text
