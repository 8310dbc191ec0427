"""Quantities as people write them, read into the floats that the code computes with.

Terminology: a *quantity* is a kind of measure (length, angle) with one *base unit*, in which
all its floats are; each unit it may be written in has an exact *scale* to the base unit. A *bare
number* has no unit of its own; *text* always carries one.

Numbers are read exactly (decimals and fractions as fractions) and rounded once, at the end.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from rootgap.errors import UnitError

LengthUnit = Literal["mm", "in"]

_NUMBER = re.compile(
    r"(?P<sign>[+-]?)\s*(?:"
    r"(?:(?P<whole>[0-9]{1,9})(?:-|\s+))?(?P<top>[0-9]{1,9})\s*/\s*(?P<bottom>[0-9]{1,9})"
    r"|(?P<decimal>(?:[0-9]{1,18}(?:\.[0-9]{0,18})?|\.[0-9]{1,18})(?:[eE][+-]?[0-9]{1,2})?)"
    r")"
)
_GAUGE = re.compile(r"[0-9]+\s*(?:ga|gauge|[abs]wg)\.?|(?:ga|gauge|[abs]wg)\.?\s*[0-9]+", re.IGNORECASE)
_GAUGE_REASON = (
    "a gauge number is not a length: it differs by metal and trade; give the wall in mm or in, "
    'or write it in the tube of a stock, such as "1-3/4 x 16 ga"'
)
_VULGAR = "\u00bc-\u00be\u2150-\u215e"
_PLAIN = str.maketrans("\u2044\u2212\u2033\u201d\u00ba", '/-""\u00b0')


def plain(text: str) -> str:
    """Return `text` trimmed, with typeset fractions, primes and minus signs in plain characters.

    >>> plain(" 2½″ ")
    '2 1/2"'
    """
    spaced = re.sub(f"(?<=[0-9])-?(?=[{_VULGAR}])", " ", text)
    spelled = re.sub(f"[{_VULGAR}]", lambda found: unicodedata.normalize("NFKC", found[0]), spaced)
    return spelled.translate(_PLAIN).strip()


def fraction(text: str) -> Fraction:
    """Return the number that `text` spells, exactly: an integer, decimal, fraction or mixed number.

    Raises ValueError where it spells none.

    >>> fraction("2-1/2"), fraction("-3 1/8"), fraction("0.065")
    (Fraction(5, 2), Fraction(-25, 8), Fraction(13, 200))
    """
    match = _NUMBER.fullmatch(plain(text))
    if match is None:
        raise ValueError("the number is not a decimal, a fraction or a mixed number")
    if match["decimal"]:
        size = Fraction(match["decimal"])
    else:
        size = _mixed(int(match["whole"] or 0), int(match["top"]), int(match["bottom"]))
    return -size if match["sign"] == "-" else size


def _mixed(whole: int, top: int, bottom: int) -> Fraction:
    if bottom == 0:
        raise ValueError("a fraction may not have 0 below its line")
    if whole and top >= bottom:
        raise ValueError("the fraction of a mixed number must be below 1")
    return whole + Fraction(top, bottom)


@dataclass(frozen=True)
class Quantity:
    """A kind of measure and the units it may be written in.

    name: "length"; scales: each unit, in lower case, to base units, exact; examples: for messages.
    """

    name: str
    scales: Mapping[str, Fraction]
    examples: tuple[str, ...]

    def read(self, value: object, units: str) -> float:
        """Return `value` in base units; a bare number is in `units`, text carries its own unit.

        Raises UnitError, with the reason, for anything else.
        """
        try:
            number = self._exact_text(value) if isinstance(value, str) else self._exact_number(value, units)
            return float(number)
        except OverflowError:
            reason = "the number must be finite"
        except ValueError as error:
            reason = str(error)
        examples = ", ".join(f'"{example}"' for example in self.examples)
        allowed = f"a bare {self.name} ({units}), or text with its own unit such as {examples}"
        raise UnitError(value, allowed, reason)

    def _exact_number(self, value: object, units: str) -> Fraction:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise ValueError("this is not a number")  # noqa: TRY004  caught as text that is no number
        if not math.isfinite(value):
            raise OverflowError
        # A bare 1.9 means the decimal 1.9, not the binary float nearest to it.
        return Fraction(repr(float(value))) * self.scales[units]

    def _exact_text(self, text: str) -> Fraction:
        tidy = plain(text)
        if _GAUGE.fullmatch(tidy):
            raise ValueError(_GAUGE_REASON)
        match = _NUMBER.match(tidy)
        if match is None:
            raise ValueError("it does not begin with a number")
        number = fraction(match[0])
        unit = tidy[match.end() :].strip().casefold()
        if unit not in self.scales:
            raise ValueError(self._unit_reason(match, unit))
        return number * self.scales[unit]

    def _unit_reason(self, number: re.Match[str], unit: str) -> str:
        if not unit and number["decimal"]:
            return f"write {number[0]} without quotes or add a unit"
        if not unit:
            return f"add a unit to {number[0]}"
        if unit[0] == ",":
            return "write a decimal point, not a comma"
        if unit[0] in "0123456789./-":
            return "the number is not a decimal, a fraction or a mixed number"
        return f"unit {unit!r} is none of {', '.join(self.scales)}"


_INCH = Fraction("25.4")

LENGTH = Quantity(
    "length",
    {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000), "in": _INCH, "inch": _INCH, "inches": _INCH,
     '"': _INCH, "ft": 12 * _INCH},
    ("63 mm", "6.3 cm", "2-1/2 in"),
)  # fmt: skip
ANGLE = Quantity("angle", dict.fromkeys(("deg", "degree", "degrees", "°"), Fraction(1)), ("45 deg", "45°"))


def length(value: float | int | str, units: LengthUnit) -> float:
    """Return a length in mm; a bare number is in `units`, text carries its own unit.

    Raises UnitError for text without a unit, gauge numbers, booleans and what is not finite.
    Source: the inch is 25.4 mm exactly (international yard and pound agreement, 1959).

    >>> length("2-1/2 in", "mm"), length(63, "mm"), length(1.9, "in")
    (63.5, 63.0, 48.26)
    """
    return LENGTH.read(value, units)


def angle(value: float | int | str) -> float:
    """Return an angle in degrees; a bare number is in degrees. Raises UnitError as `length` does.

    >>> angle(45), angle("22-1/2 deg"), angle("90°")
    (45.0, 22.5, 90.0)
    """
    return ANGLE.read(value, "deg")


def mm_text(value: float) -> str:
    """Return a length, mm, as short text for people: to 0.01 mm, without idle zeros.

    >>> mm_text(63.5), mm_text(47.625), mm_text(-0.001)
    ('63.5 mm', '47.62 mm', '0 mm')
    """
    return f"{short(value)} mm"


def short(value: float) -> str:
    """Return a number of any unit to two decimals, without idle zeros.

    >>> short(3.0), short(0.1254)
    ('3', '0.13')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
