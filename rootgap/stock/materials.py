"""Materials by the names that people and standards give them."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from rootgap.errors import StockError
from rootgap.stock.tables import load, nearest_words

#: Where the mean coefficients of expansion start, degrees C.
ROOM = 20.0


@dataclass(frozen=True)
class Material:
    """A metal. name: its family, one word for one thing; density: kg/m3 at room temperature;
    source: of the density; aliases: grades and other names; grade: as it was asked for; expansion: pairs of a
    temperature, degrees C, and the mean coefficient from 20 degrees C up to it, 1e-6/K, by expansion_source."""

    name: str
    density: float
    source: str
    aliases: tuple[str, ...]
    grade: str
    expansion: tuple[tuple[float, float], ...]
    expansion_source: str

    def growth(self, cold: float, hot: float) -> float:
        """Return by what share, no unit, it grows from `cold` to `hot`, degrees C, free to.

        >>> round(1000 * material("carbon steel").growth(20, 600), 4), round(1000 * material("304").growth(20, 600), 2)
        (8.3984, 10.69)
        """
        at, mean = np.array(self.expansion).T
        begun, done = (float(np.interp(each, at, mean)) * 1e-6 * (each - ROOM) for each in (cold, hot))
        return done - begun


@cache
def materials() -> tuple[Material, ...]:
    """Return every material of the table, each under its own name."""
    return tuple(
        Material(
            row["name"],
            float(row["density"]),
            row["source"],
            tuple(row["aliases"]),
            row["name"],
            tuple((float(at), float(mean)) for at, mean in row["expansion"]),
            row["expansion_source"],
        )
        for row in load("materials")["materials"]
    )


@cache
def _by_key() -> dict[str, Material]:
    return {
        _key(word): replace(row, grade=word)
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
