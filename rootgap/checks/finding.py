"""What a check found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Finding:
    """One answer. value and limit in `unit`; source: where the limit comes from; least: whether the
    limit is the least that is allowed, not the most."""

    check: str
    subject: str
    value: float
    limit: float
    unit: str
    verdict: Literal["pass", "fail"]
    source: str
    advice: str = ""
    least: bool = False


def at_most(check: str, subject: str, value: float, limit: float, unit: str, source: str, advice: str) -> Finding:
    """Return the finding that `value` may not exceed `limit`, both in `unit`; the advice stands where it does."""
    passed = value <= limit
    return Finding(check, subject, value, limit, unit, "pass" if passed else "fail", source, "" if passed else advice)


def at_least(check: str, subject: str, value: float, limit: float, unit: str, source: str, advice: str) -> Finding:
    """Return the finding that `value` may not fall below `limit`, both in `unit`; the advice stands where it does."""
    passed = value >= limit
    verdict: Literal["pass", "fail"] = "pass" if passed else "fail"
    return Finding(check, subject, value, limit, unit, verdict, source, "" if passed else advice, least=True)
