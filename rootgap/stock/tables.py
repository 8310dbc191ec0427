"""The tables behind the stock: reading them, and naming what is nearest to a size that they lack.

Terminology: *NPS* is the nominal pipe size, a name and not a measure, spelled as in "2-1/2".
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Iterable
from fractions import Fraction
from functools import cache
from importlib import resources
from typing import Any

from rootgap.errors import StockError, UnitError
from rootgap.units import fraction, plain

_NOMINAL = re.compile(r'(?:(?P<dn>DN)|NPS)?\s*(?P<number>.*?)\s*(?:"|in|inch|inches)?', re.IGNORECASE)


@cache
def load(name: str) -> dict[str, Any]:
    """Return the table in the data file `name`.toml. It is shared: read it, never change it."""
    return tomllib.loads(resources.files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8"))


def nominal(text: str) -> str:
    """Return the NPS that `text` names, as the tables spell it; DN sizes are known too.

    Raises UnitError where it names none, StockError where there is no such size.

    >>> nominal("2 1/2 in"), nominal("NPS 1.5"), nominal("DN 50")
    ('2-1/2', '1-1/2', '2')
    """
    match = _NOMINAL.fullmatch(plain(text))
    try:
        number = fraction(match["number"]) if match else Fraction(-1)
    except ValueError:
        number = Fraction(-1)
    if match is None or number <= 0:
        raise UnitError(text, 'a nominal pipe size such as "1-1/2", "NPS 2" or "DN 50"')
    rows = load("pipe")["sizes"]
    column = "dn" if match["dn"] else "nps"
    by_number = {fraction(str(row[column])): row for row in rows}
    if number not in by_number:
        near = nearest_numbers(number, by_number)
        names = tuple(f"{column.upper()} {by_number[other][column]}" for other in near)
        raise StockError("pipe size", f"{column.upper()} {match['number']}", names)
    return str(by_number[number]["nps"])


def nearest_numbers(wanted: Fraction, have: Iterable[Fraction]) -> tuple[Fraction, ...]:
    """Return the nearest number below `wanted` and the nearest above it, where they exist.

    >>> nearest_numbers(Fraction(7), map(Fraction, (2, 6, 8, 10)))
    (Fraction(6, 1), Fraction(8, 1))
    """
    numbers = sorted(have)
    below = [number for number in numbers if number < wanted][-1:]
    above = [number for number in numbers if number > wanted][:1]
    return (*below, *above)


def nearest_sizes(wanted: str, have: Iterable[str]) -> tuple[str, ...]:
    """Return those of the sizes `have` that are nearest below and above the NPS `wanted`.

    >>> nearest_sizes("2", ["1", "1-1/2", "3"])
    ('1-1/2', '3')
    """
    by_number = {fraction(nps): nps for nps in have}
    return tuple(by_number[number] for number in nearest_numbers(fraction(wanted), by_number))


def nearest_words(wanted: str, have: Iterable[str]) -> tuple[str, ...]:
    """Return up to three of the words `have` that look most like `wanted`, or all where none does.

    >>> nearest_words("XSS", ["10", "40", "STD", "XS"])
    ('XS',)
    """
    words = tuple(have)
    by_fold = {word.casefold(): word for word in words}
    close = difflib.get_close_matches(wanted.casefold(), by_fold, n=3, cutoff=0.6)
    return tuple(by_fold[word] for word in close) or words
