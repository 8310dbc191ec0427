"""What to expect of the edge of a thermal cut."""

from __future__ import annotations

from dataclasses import dataclass

from rootgap.errors import StockError
from rootgap.stock.tables import load, nearest_words

#: mm. The thickest cut that the standard's ranges are for (from memory).
THICKEST = 300.0


@dataclass(frozen=True)
class Expected:
    """What a process usually keeps to. ranges: first and last of squareness; size: class of size tolerances."""

    process: str
    ranges: tuple[int, int]
    size: int

    def squareness(self, thickness: float) -> tuple[float, float]:
        """Return how far out of square a face `thickness` mm high may be in the first and the last range, mm."""
        first, last = (squareness(each, thickness) for each in self.ranges)
        return first, last


def squareness(number: int, thickness: float) -> float:
    """Return how far out of square, mm, a cut face of range `number` may be in a plate of `thickness` mm.

    Raises StockError for a range that there is not, ValueError for no thickness of the standard's.

    Source: ISO 9013, see the table.

    >>> [round(squareness(3, thickness), 2) for thickness in (6, 10, 12)]
    [0.46, 0.5, 0.52]
    """
    if not 0.0 < thickness <= THICKEST:
        raise ValueError(f"thickness {thickness:g} mm; allowed: above 0, up to {THICKEST:g}")
    rows = {row["range"]: row for row in load("cuts")["ranges"]}
    if number not in rows:
        raise StockError("range of squareness", number, tuple(map(str, rows)))
    return float(rows[number]["base"] + rows[number]["share"] * thickness)


def expected(process: str) -> Expected:
    """Return what `process` usually keeps to. Raises StockError with the processes that there are."""
    rows = {row["name"]: row for row in load("cuts")["processes"]}
    if process not in rows:
        raise StockError("cutting process", process, nearest_words(process, rows))
    first, last = rows[process]["ranges"]
    return Expected(process, (first, last), rows[process]["size"])
