"""What a check found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """One answer. value and limit in `unit`; source: where the limit comes from."""

    check: str
    subject: str
    value: float
    limit: float
    unit: str
    verdict: Literal["pass", "fail"]
    source: str
    advice: str = ""


def at_most(check: str, subject: str, value: float, limit: float, unit: str, source: str, advice: str) -> Finding:
    """Return the finding that `value` may not exceed `limit`; the advice stands where it does."""
    passed = value <= limit
    return Finding(check, subject, value, limit, unit, "pass" if passed else "fail", source, "" if passed else advice)
