"""What a check found.

Terminology
    fail       what is asked is not met: the joint does not close, leaks, or is in the way
    warn       a rule of practice is not met: it can be built, and there is a reason not to
    support    how far a limit is backed, from a standard's text to what someone remembers
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

Verdict = Literal["pass", "warn", "fail"]
Support = Literal[
    "standard",
    "published article",
    "builders' pages",
    "common practice, no source",
    "from memory",
    "worked out",
    "the parameter file",
]

#: More warnings of one check than this are told as one.
MANY = 3
_RANK = {"pass": 0, "warn": 1, "fail": 2}


@dataclass(frozen=True)
class Finding:
    """One answer. value and limit in `unit`; source: where the limit comes from; least: whether the
    limit is the least that is allowed, not the most; support: how far the limit is backed; alike: the
    subjects of further findings that this one, the worst of them, stands for."""

    check: str
    subject: str
    value: float
    limit: float
    unit: str
    verdict: Verdict
    source: str
    advice: str = ""
    least: bool = False
    support: Support = "worked out"
    alike: tuple[str, ...] = ()

    @property
    def past(self) -> float:
        """How far the value lies past its limit, in `unit`; below nought it keeps it."""
        return self.limit - self.value if self.least else self.value - self.limit


def at_most(
    check: str,
    subject: str,
    value: float,
    limit: float,
    unit: str,
    source: str,
    support: Support,
    advice: str,
    otherwise: Verdict = "fail",
) -> Finding:
    """Return the finding that `value` may not exceed `limit`, both in `unit`; the verdict `otherwise`
    and the advice stand where it does."""
    verdict: Verdict = "pass" if value <= limit else otherwise
    said = "" if verdict == "pass" else advice
    return Finding(check, subject, value, limit, unit, verdict, source, said, support=support)


def at_least(
    check: str,
    subject: str,
    value: float,
    limit: float,
    unit: str,
    source: str,
    support: Support,
    advice: str,
    otherwise: Verdict = "fail",
) -> Finding:
    """Return the finding that `value` may not fall below `limit`, both in `unit`; the verdict `otherwise`
    and the advice stand where it does."""
    verdict: Verdict = "pass" if value >= limit else otherwise
    said = "" if verdict == "pass" else advice
    return Finding(check, subject, value, limit, unit, verdict, source, said, least=True, support=support)


def worst(findings: Iterable[Finding]) -> Finding:
    """Return the finding of the gravest verdict that lies farthest past its limit, the first of equals."""
    return max(findings, key=lambda finding: (_RANK[finding.verdict], finding.past))


def folded(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return `findings`, in which many warnings of one check are one: the worst, that names the others."""
    told = list(findings)
    for check in dict.fromkeys(finding.check for finding in findings):
        warned = [finding for finding in findings if finding.check == check and finding.verdict == "warn"]
        if len(warned) > MANY:
            kept = worst(warned)
            others = tuple(finding.subject for finding in warned if finding is not kept)
            told = [
                replace(kept, alike=others) if finding is kept else finding
                for finding in told
                if finding is kept or not any(finding is other for other in warned)
            ]
    return tuple(told)


def listed(words: Sequence[str]) -> str:
    """Return words in a row as they are read out.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    *others, last = words
    return f"{', '.join(others)} and {last}" if others else last
