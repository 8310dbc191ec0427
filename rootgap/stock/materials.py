"""Materials by the names that people and standards give them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from rootgap.errors import StockError
from rootgap.stock.tables import load, nearest_words


@dataclass(frozen=True)
class Material:
    """A metal. name: its family, one word for one thing; density: kg/m3 at room temperature;
    source: of the density; aliases: grades and other names; grade: as it was asked for."""

    name: str
    density: float
    source: str
    aliases: tuple[str, ...]
    grade: str


@cache
def materials() -> tuple[Material, ...]:
    """Return every material of the table, each under its own name."""
    return tuple(
        Material(row["name"], float(row["density"]), row["source"], tuple(row["aliases"]), row["name"])
        for row in load("materials")["materials"]
    )


@cache
def _by_key() -> dict[str, Material]:
    return {
        _key(word): Material(row.name, row.density, row.source, row.aliases, grade=word)
        for row in materials()
        for word in (row.name, *row.aliases)
    }


def _key(name: str) -> str:
    without_grade = re.sub(r"\b(?:grade|gr|astm|aisi|en)\b", "", name.casefold())
    return re.sub(r"[^a-z0-9]", "", without_grade)


def material(name: str) -> Material:
    """Return the material of that name or alias; case, spaces and the words grade, ASTM, AISI do not count.

    Raises StockError with the nearest names.

    >>> material("astm a53 gr. B").name, material("a53b").grade
    ('carbon steel', 'A53 B')
    """
    found = _by_key().get(_key(name))
    if found is None:
        near = nearest_words(name, (entry.grade for entry in _by_key().values()))
        everything = len(near) == len(_by_key())
        raise StockError("material", name, tuple(row.name for row in materials()) if everything else near)
    return found
