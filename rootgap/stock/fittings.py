"""Butt-weld fittings by nominal size: elbows, concentric reducers and caps.

Terminology: *centre to end* runs from the crossing of the two end axes to an end face; the
*radius* of a bend is that of its centre line; LR and SR are long and short radius, 3D is three times the nominal size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal

from rootgap.errors import StockError, UnitError
from rootgap.stock.pipes import pipe_size, pipe_wall
from rootgap.stock.tables import load, nearest_sizes, nominal
from rootgap.units import fraction, length, mm_text

Series = Literal["LR", "SR", "3D"]
StockAngle = Literal[90, 45]


@dataclass(frozen=True)
class Elbow:
    """A bought elbow. stock_angle: as bought, degrees; radius: of the bend, mm, not rounded;
    centre_to_end: as the standard prints it, mm."""

    nps: str
    series: Series
    stock_angle: StockAngle
    radius: float
    centre_to_end: float

    @property
    def slice_centre_to_end(self) -> float:
        """Centre to end, mm, of a plain arc of this radius and angle, as if sliced from a 90 degree elbow.

        At 45 degrees it is up to 5 mm below `centre_to_end`: both kinds are sold.
        """
        return self.radius * math.tan(math.radians(self.stock_angle / 2.0))


@dataclass(frozen=True)
class Cap:
    """A cap. length: from the weld end to the crown outside, mm."""

    nps: str
    length: float


@dataclass(frozen=True)
class Reducer:
    """A concentric reducer. large, small: NPS of its ends; length: end to end, mm."""

    large: str
    small: str
    length: float


@cache
def elbows() -> tuple[Elbow, ...]:
    """Return every elbow of the table, small to large."""
    kinds: tuple[tuple[str, str, Series, StockAngle], ...] = (
        ("lr90", "long", "LR", 90),
        ("lr45", "long", "LR", 45),
        ("sr90", "short", "SR", 90),
    )
    listed = tuple(
        Elbow(row["nps"], series, stock_angle, length(row[radius], "in"), float(row[column]))
        for row in load("elbows")["sizes"]
        for column, radius, series, stock_angle in kinds
        if column in row
    )
    return listed + tuple(_three_d(nps, angle) for nps in load("elbows")["three_d"]["sizes"] for angle in (90, 45))


def _three_d(nps: str, stock_angle: StockAngle) -> Elbow:
    radius = float(load("elbows")["three_d"]["multiple"] * fraction(nps) * Fraction("25.4"))
    return Elbow(nps, "3D", stock_angle, radius, round(radius * math.tan(math.radians(stock_angle / 2.0)), 1))


def elbow(nps: str, series: Series, stock_angle: StockAngle) -> Elbow:
    """Return the elbow of that size, series and stock angle (degrees).

    Raises StockError with the elbows nearest to it where it is not made, UnitError where `nps`
    cannot be read.

    >>> elbow("1-1/2", "LR", 90).radius, elbow("1-1/2", "SR", 90).centre_to_end
    (57.15, 38.0)
    """
    name = nominal(nps)
    for candidate in elbows():
        if (candidate.nps, candidate.series, candidate.stock_angle) == (name, series, stock_angle):
            return candidate
    same_size = [elbow_label(other) for other in elbows() if other.nps == name]
    like = {
        other.nps: other for other in elbows() if (other.series, other.stock_angle) == (series, stock_angle)
    }
    like_labels = [elbow_label(like[near]) for near in nearest_sizes(name, like)]
    raise StockError("elbow", f"NPS {name} {series} {stock_angle}", (*same_size, *like_labels))


def elbow_label(piece: Elbow) -> str:
    """Return the name of an elbow for people, such as "NPS 2 LR 90"."""
    return f"NPS {piece.nps} {piece.series} {piece.stock_angle}"


def cap(nps: str, wall: float) -> Cap:
    """Return the cap for pipe of that size and `wall`, mm: the longer one above the XS wall.

    Raises StockError where the size does not exist, UnitError where the wall leaves no bore.

    >>> cap("2", 3.91).length, cap("2", 8.74).length
    (38.0, 44.0)
    """
    size = pipe_size(nps)
    if not 0.0 < wall < size.od / 2.0:
        allowed = f"a wall above 0 mm and below {mm_text(size.od / 2.0)}, half the outside diameter"
        raise UnitError(f"wall {wall:g} mm", allowed)
    row = next(row for row in load("caps")["sizes"] if row["nps"] == size.nps)
    thick = wall > pipe_wall(size.nps, "XS")
    return Cap(size.nps, float(row["thick"] if thick else row["length"]))


@cache
def reducers() -> tuple[Reducer, ...]:
    """Return every reducer of the table, by large end, then from the largest small end down."""
    return tuple(
        Reducer(row["large"], small, float(row["length"]))
        for row in load("reducers")["sizes"]
        for small in row["small"]
    )


def reducer(large: str, small: str) -> Reducer:
    """Return the concentric reducer between two sizes.

    Raises StockError with the reducers nearest to it where it is not made, UnitError where a size
    cannot be read.

    >>> reducer("2", "1-1/2").length
    76.0
    """
    ends = nominal(large), nominal(small)
    for candidate in reducers():
        if (candidate.large, candidate.small) == ends:
            return candidate
    raise StockError("reducer", f"NPS {ends[0]} x {ends[1]}", _nearest_reducers(*ends))


def _nearest_reducers(large: str, small: str) -> tuple[str, ...]:
    turned = [
        (piece.large, piece.small) for piece in reducers() if (piece.small, piece.large) == (large, small)
    ]
    smalls = nearest_sizes(small, (piece.small for piece in reducers() if piece.large == large))
    larges = nearest_sizes(large, (piece.large for piece in reducers() if piece.small == small))
    pairs = turned or [*((large, near) for near in smalls), *((near, small) for near in larges)]
    if not pairs:  # neither end fits any reducer: show one that is made near the large end
        pairs = [(piece.large, piece.small) for piece in reducers()[:1]]
    return tuple(f"NPS {pair[0]} x {pair[1]}" for pair in pairs)
