"""Every error that rootgap raises on purpose.

An error carries fields; its text is made from them. `exit_code` is what the command
returns for it: 2 where the input is at fault, 3 where we are.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, ClassVar


class RootgapError(Exception):
    """Base of all deliberate errors. Subclasses are dataclasses and can be pickled."""

    exit_code: ClassVar[int] = 2

    def __reduce__(self) -> tuple[type, tuple[Any, ...]]:
        return type(self), tuple(getattr(self, field.name) for field in fields(self))  # type: ignore[arg-type]


@dataclass(eq=False)
class UnitError(RootgapError, ValueError):
    """A quantity that cannot be read: what was found, what is allowed, why."""

    found: object
    allowed: str
    reason: str = ""

    @property
    def said(self) -> str:
        """The text without what was found, for errors that print that themselves."""
        reason = f" ({self.reason})" if self.reason else ""
        return f"allowed: {self.allowed}{reason}"

    def __str__(self) -> str:
        try:
            found = repr(self.found)
        except ValueError:  # An integer of thousands of digits has no text.
            found = "an endless integer"
        return f"found {found}; {self.said}"


@dataclass(eq=False)
class StockError(RootgapError, LookupError, ValueError):
    """A size that no table holds, with the neighbours that exist."""

    table: str
    found: object
    neighbours: tuple[str, ...]

    @property
    def said(self) -> str:
        """The text without what was found, for errors that print that themselves."""
        return f"no such {self.table}; nearest that exist: {', '.join(self.neighbours)}"

    def __str__(self) -> str:
        return f"{self.found!r}: {self.said}"


@dataclass(eq=False)
class InputError(RootgapError, ValueError):
    """One fault in a parameter file."""

    file: str
    line: int | None
    key: str
    found: str
    allowed: str
    nearest: str = ""

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        key = f" {self.key}:" if self.key else ""
        found = f" found {self.found};" if self.found else ""
        nearest = f"; did you mean {self.nearest}?" if self.nearest else ""
        return f"{where}:{key}{found} {self.allowed}{nearest}"


@dataclass(eq=False)
class InputErrors(RootgapError, ValueError):
    """All faults of a parameter file, in the order of its lines."""

    faults: tuple[InputError, ...]

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


@dataclass(eq=False)
class GeometryError(RootgapError, ValueError):
    """Pieces that do not meet: what, by how much, and which parameter moves it. place: the file and line that they
    stand at, where that is known."""

    where: str
    what: str
    remedy: str
    place: str = ""

    def __str__(self) -> str:
        place = f"{self.place}: " if self.place else ""
        return f"{place}{self.where}: {self.what}; {self.remedy}"


@dataclass(eq=False)
class PictureError(RootgapError, ValueError):
    """A picture that no part can be traced from: what is wrong with it, and what to do."""

    file: str
    what: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.file}: {self.what}; {self.remedy}"


@dataclass(eq=False)
class WriteError(RootgapError, OSError):
    """A file or folder that cannot be written."""

    path: str
    reason: str
    remedy: str = "choose another folder with --out"

    def __str__(self) -> str:
        return f"{self.path}: cannot be written: {self.reason}; {self.remedy}"


@dataclass(eq=False)
class KernelError(RootgapError, RuntimeError):
    """The solid kernel gave a body that is not what the mathematics says."""

    exit_code: ClassVar[int] = 3
    part: str
    what: str

    def __str__(self) -> str:
        return f"{self.part}: {self.what}; please report this with the parameter file"


@dataclass(eq=False)
class PatternError(RootgapError, RuntimeError):
    """A flat part that no table can cut as it is drawn: a fault of ours."""

    exit_code: ClassVar[int] = 3
    part: str
    faults: tuple[str, ...]

    def __str__(self) -> str:
        more = f", and {len(self.faults) - 1} more" if len(self.faults) > 1 else ""
        return f"{self.part}: {self.faults[0]}{more}; please report this with the parameter file"
