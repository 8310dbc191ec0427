"""Writing files whole, and folders all or nothing."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rootgap.errors import WriteError

_PARTIAL = re.compile(r"^\.(?P<name>.+)\.(?P<pid>\d+)\.partial$")


def write_bytes(path: Path, data: bytes) -> None:
    """Write `data` to `path`. Raises WriteError where that fails."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as fault:
        raise WriteError(str(path), fault.strerror or str(fault)) from fault


@contextmanager
def swapped_in(folder: Path) -> Iterator[Path]:
    """Yield an empty folder beside `folder`, and put it in `folder`'s place when the block ends.

    Where the block fails, the new folder goes and the old one stays. A process killed on the
    way leaves the old one too, or, between two renames, one that the next call puts back.
    Raises WriteError where the place cannot be written.
    """
    partial = folder.with_name(f".{folder.name}.{os.getpid()}.partial")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.exists() and not folder.is_dir():
            raise WriteError(str(folder), "a file of that name is in the way", "move it, or choose --out")
        recover(folder)
        shutil.rmtree(partial, ignore_errors=True)
        partial.mkdir()
    except OSError as fault:
        raise WriteError(str(folder), fault.strerror or str(fault)) from fault
    try:
        yield partial
        _swap(partial, folder)
    except BaseException:
        shutil.rmtree(partial, ignore_errors=True)
        raise


def _swap(partial: Path, folder: Path) -> None:
    previous = _previous(folder)
    try:
        if folder.exists():
            shutil.rmtree(previous, ignore_errors=True)
            folder.rename(previous)
        partial.rename(folder)
    except OSError as fault:
        if previous.exists() and not folder.exists():
            previous.rename(folder)
        raise WriteError(str(folder), fault.strerror or str(fault)) from fault
    shutil.rmtree(previous, ignore_errors=True)


def recover(folder: Path) -> None:
    """Put back a build that was killed between two renames; clear what dead processes left."""
    previous = _previous(folder)
    if previous.is_dir() and not folder.exists():
        previous.rename(folder)
    for path in folder.parent.glob(f".{folder.name}.*.partial"):
        match = _PARTIAL.match(path.name)
        if match and match["name"] == folder.name and not _alive(int(match["pid"])):
            shutil.rmtree(path, ignore_errors=True)


def _previous(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.previous")


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OSError):
        return True
    return True
