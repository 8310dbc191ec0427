"""Where parts/ and assemblies/ are, and how a workspace of one's own is made."""

from __future__ import annotations

import shutil
from pathlib import Path

from rootgap.errors import WriteError
from rootgap.spec.schema import HERE as SCHEMA_HERE
from rootgap.spec.schema import SCHEMAS

FOLDERS = ("parts", "assemblies")
#: Folder of a workspace that holds the schemas for an editor.
SCHEMA_FOLDER = ".rootgap"


def starter() -> Path:
    """Return the folder that holds the starter parts/ and assemblies/: inside the installed
    package, or the checkout round it."""
    package = Path(__file__).parent
    return package if (package / FOLDERS[0]).is_dir() else package.parent


def new_workspace(folder: Path) -> tuple[Path, ...]:
    """Make a workspace in `folder` with the starter files and return the assemblies in it.

    Raises WriteError where the folder is not empty or cannot be written.
    """
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise WriteError(str(folder), "it is there already and not empty", "name a new folder")
        folder.mkdir(parents=True, exist_ok=True)
        for name in FOLDERS:
            shutil.copytree(starter() / name, folder / name)
        for path in folder.glob("*/*.toml"):
            path.write_text(_schema_beside(path.read_text(encoding="utf-8")), encoding="utf-8")
        (folder / SCHEMA_FOLDER).mkdir()
        for file in SCHEMAS:
            shutil.copy(SCHEMA_HERE / file, folder / SCHEMA_FOLDER / file)
        (folder / "out").mkdir()
        (folder / "out" / ".gitignore").write_text("*\n!.gitignore\n", encoding="utf-8")
    except WriteError:
        raise
    except OSError as fault:
        raise WriteError(str(folder), fault.strerror or str(fault), "name another folder") from fault
    return tuple(sorted((folder / "assemblies").glob("*.toml")))


def _schema_beside(text: str) -> str:
    """Return a starter file whose schema is looked for in the workspace, not in a checkout."""
    return text.replace("#:schema ../rootgap/spec/", f"#:schema ../{SCHEMA_FOLDER}/", 1)
