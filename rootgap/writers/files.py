"""Writing files whole, and folders all or nothing.

Terminology
    partial    the folder beside the build that a new one is written into; it bears the number
               of the process that writes it
    previous   the last build, moved aside for the moment between two renames
    theirs     files in a build that its manifest does not list: someone put them there
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from rootgap.errors import WriteError

#: The file that tells a build from any other folder.
MANIFEST = "manifest.json"

_PARTIAL = re.compile(r"^\.(?P<name>.+)\.(?P<pid>\d+)\.partial$")


def write_bytes(path: Path, data: bytes) -> None:
    """Write `data` to `path`. Raises WriteError where that fails."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as fault:
        raise _write_error(path, fault) from fault


@contextmanager
def swapped_in(folder: Path) -> Iterator[Path]:
    """Yield an empty folder beside `folder`, and put it in `folder`'s place when the block ends, with
    what someone else put into the old one.

    Where the block fails, the new folder goes and the old one stays, and so do folders above that
    were made for it. A process killed on the way leaves the old one too, or, between two renames,
    one that the next call puts back. Raises WriteError where the place cannot be written, or holds
    something that is no build.
    """
    partial = folder.with_name(f".{folder.name}.{os.getpid()}.partial")
    made: list[Path] = []
    try:
        _refuse_a_file_above(folder)
        made += [path for path in folder.parents if not path.exists()]
        folder.parent.mkdir(parents=True, exist_ok=True)
        recover(folder)
        _refuse_what_is_no_build(folder)
        _remove(partial)
        partial.mkdir()
        yield partial
        _carry_over(folder, partial)
        _swap(partial, folder)
    except BaseException as fault:
        _remove(partial)
        _unmake(made)
        if isinstance(fault, WriteError):
            # The folder that it names is gone; the person knows the one that it was to become.
            raise replace(fault, path=fault.path.replace(str(partial), str(folder))) from fault
        if isinstance(fault, OSError):
            raise _write_error(folder, fault) from fault
        raise


def recover(folder: Path) -> None:
    """Put back a build that was killed between two renames; clear what dead processes left."""
    previous = _previous(folder)
    if not os.path.lexists(folder) and previous.is_dir():
        previous.rename(folder)
    _remove(previous)
    for path in folder.parent.iterdir():
        match = _PARTIAL.match(path.name)
        if match and match["name"] == folder.name and not _alive(int(match["pid"])):
            _remove(path)


def listed(folder: Path) -> tuple[str, ...]:
    """Return the files that the manifest in `folder` lists, paths from there; none where it cannot be read."""
    try:
        content = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        return tuple(str(entry["path"]) for entry in content["files"])
    except (OSError, ValueError, KeyError, TypeError):
        return ()


def _carry_over(folder: Path, partial: Path) -> None:
    """Copy into `partial` every file in `folder` that its manifest does not list, under its own name, or,
    where the new build has a file of that name, with `.kept` after it."""
    ours = {MANIFEST, *listed(folder)}
    for place, folders, files in os.walk(folder):
        links = [name for name in folders if Path(place, name).is_symlink()]
        for name in (*files, *links):
            path = Path(place, name)
            if path.relative_to(folder).as_posix() not in ours and (path.is_symlink() or path.is_file()):
                _copy(path, partial / path.relative_to(folder))


def _copy(path: Path, to: Path) -> None:
    while os.path.lexists(to):
        to = to.with_name(f"{to.name}.kept")
    to.parent.mkdir(parents=True, exist_ok=True)
    shutil.copy2(path, to, follow_symlinks=False)


def _unmake(made: list[Path]) -> None:
    """Take away those folders of `made`, the innermost first, that nothing has been put into."""
    for path in made:
        try:
            path.rmdir()
        except OSError:
            return


def _refuse_a_file_above(folder: Path) -> None:
    """Raise WriteError where a part of the path to `folder` is a file."""
    for path in folder.parents:
        if path.is_file():
            raise WriteError(str(folder), f"{path} is a file")


def _refuse_what_is_no_build(folder: Path) -> None:
    """Raise WriteError where `folder` holds what a build would destroy for good."""
    if not os.path.lexists(folder):
        return
    if folder.is_symlink() or not folder.is_dir():
        kind = "a link" if folder.is_symlink() else "a file"
        raise WriteError(str(folder), f"{kind} of that name is in the way", "move it, or choose --out")
    if not (folder / MANIFEST).is_file() and any(folder.iterdir()):
        raise WriteError(str(folder), "a folder that is no build is in the way", "move it, or choose --out")


def _swap(partial: Path, folder: Path) -> None:
    previous = _previous(folder)
    try:
        if folder.exists():
            folder.rename(previous)
        partial.rename(folder)
    except BaseException:
        if previous.exists() and not folder.exists():
            previous.rename(folder)
        raise
    _remove(previous)


def _remove(path: Path) -> None:
    """Take away a file, a link or a whole folder, as far as that can be done."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path, ignore_errors=True)
    else:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            return


def _previous(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.previous")


def _write_error(path: Path, fault: OSError) -> WriteError:
    return WriteError(str(path), (fault.strerror or str(fault)).lower())


def _alive(pid: int) -> bool:
    if os.name == "nt":
        return True  # There, asking would end the process; what it left stays.
    try:
        os.kill(pid, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True
