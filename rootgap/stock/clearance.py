"""Bolts and the holes that they go through.

Terminology: a *clearance class* (fine, medium, coarse) says how much wider than its bolt a hole is.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from rootgap.stock.tables import load
from rootgap.units import length

_METRIC = re.compile(r"M\s*(?P<size>\d+(?:\.\d+)?)(?:\s*[x\u00d7]\s*\d+(?:\.\d+)?)?", re.IGNORECASE)
_INCH = re.compile(r"(?P<size>\d+/\d+|\d+(?:\.\d+)?)(?:\s*in|\")?(?:\s*-\s*\d+)?(?:\s*UN[A-Z]*)?", re.IGNORECASE)


@dataclass(frozen=True)
class ClearanceHole:
    """A row of the table. bolt: its diameter, mm; fine, medium, coarse: diameters of its holes, mm."""

    thread: str
    bolt: float
    fine: float
    medium: float
    coarse: float


@cache
def clearance_holes() -> tuple[ClearanceHole, ...]:
    """Return every row of the table, small to large. Source: ISO 273."""
    return tuple(ClearanceHole(**row) for row in load("clearance")["holes"])


def bolt_diameter(thread: str) -> float | None:
    """Return the diameter, mm, of the bolt that a thread's name tells, None where it tells none.

    >>> bolt_diameter("M8"), bolt_diameter("M10 x 1.25"), bolt_diameter("3/8-16 UNC"), bolt_diameter("stud")
    (8.0, 10.0, 9.525, None)
    """
    if match := _METRIC.fullmatch(thread.strip()):
        return float(match["size"])
    if match := _INCH.fullmatch(thread.strip()):
        return length(float(Fraction(match["size"])), "in")
    return None


def bolt_through(hole: float) -> ClearanceHole | None:
    """Return the bolt whose medium hole is nearest to a hole of `hole` mm that it goes through, None for a hole that is
    too small for any. Source: ISO 273.

    >>> bolt_through(9.0).thread, bolt_through(10.5).thread, bolt_through(4.0)
    ('M8', 'M10', None)
    """
    through = [row for row in clearance_holes() if row.fine <= hole + 1e-6]
    return min(through, key=lambda row: abs(row.medium - hole)) if through else None
