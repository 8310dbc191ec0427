"""How far hot metal stays from its neighbours, by the reason for it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from rootgap.stock.tables import load

#: Why metal stays clear of a body.
Reason = Literal["touch", "hose_or_wiring", "fuel_or_brake", "paint_or_plastic", "service"]
#: How far a clearance is backed.
Backing = Literal["standard", "published article", "common practice, no source", "from memory", "the parameter file"]


@dataclass(frozen=True)
class ClearanceRule:
    """A row of the table. bare, shielded: least distances, mm, by whether a heat shield stands between; support,
    source: of both; floor: no bare body may be nearer, mm, whatever a file says, None for no such rule."""

    reason: Reason
    bare: float
    shielded: float
    support: Backing
    source: str
    floor: float | None = None
    floor_support: Backing = "standard"
    floor_source: str = ""

    def least(self, *, shielded: bool) -> float:
        """Return the least distance, mm."""
        return float(self.shielded if shielded else self.bare)


@cache
def clearance_rules() -> tuple[ClearanceRule, ...]:
    """Return every row of the table."""
    return tuple(ClearanceRule(**row) for row in load("keepouts")["clearances"])


def clearance_rule(reason: Reason) -> ClearanceRule:
    """Return the row of a reason.

    >>> clearance_rule("hose_or_wiring").least(shielded=True)
    51.0
    """
    return next(row for row in clearance_rules() if row.reason == reason)
