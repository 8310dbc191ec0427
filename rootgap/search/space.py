"""What a search may choose: parameters with their values, and grids of them.

Terminology
    parameter   a value of the file, or several that change together, and all that it may be
    choice      one index into the values of each parameter
    grid        some of the values of each parameter; its choices are numbered, the last parameter fastest
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.spec import Assembly, Source
from rootgap.spec.places import key_of
from rootgap.spec.toml import Key

Indices = NDArray[np.int64]


@dataclass(frozen=True)
class Parameter:
    """A value of the file that may change. keys: where it stands; values: what it may be, in order."""

    name: str
    keys: tuple[Key, ...]
    values: tuple[Any, ...]


@dataclass(frozen=True, eq=False)
class Grid:
    """Some of the values of each parameter: their indices, rising."""

    indices: tuple[Indices, ...]

    @property
    def shape(self) -> tuple[int, ...]:
        """How many values of each parameter there are."""
        return tuple(len(each) for each in self.indices)

    @property
    def size(self) -> int:
        """How many choices there are."""
        return prod(self.shape)

    @property
    def columns(self) -> tuple[int, ...]:
        """The numbers of all parameters."""
        return tuple(range(len(self.indices)))

    def count(self, columns: Sequence[int]) -> int:
        """Return how many choices of the parameters `columns` there are."""
        return prod(self.shape[column] for column in columns)

    def places(self, codes: Indices, columns: Sequence[int]) -> Indices:
        """Return choices of the parameters `columns`, (n, columns), as places among their values here. codes: (n,),
        each the number of a choice."""
        shape = tuple(self.shape[column] for column in columns)
        return np.stack(np.unravel_index(codes, shape), axis=-1) if shape else np.zeros((len(codes), 0), dtype=np.int64)

    def codes(self, places: Indices, columns: Sequence[int]) -> Indices:
        """Return the numbers, (n,), of choices of the parameters `columns`, (n, columns), places among their values."""
        shape = tuple(self.shape[column] for column in columns)
        return np.ravel_multi_index(tuple(places.T), shape) if shape else np.zeros(len(places), dtype=np.int64)

    def values(self, places: Indices) -> Indices:
        """Return choices, (n, parameters), given as places in this grid, as indices into all values."""
        return np.column_stack([each[places[:, column]] for column, each in enumerate(self.indices)])

    def thinned(self, strides: Sequence[int]) -> Grid:
        """Return the grid of every so many values of each parameter, the last always among them."""
        pairs = zip(self.indices, strides, strict=True)
        return Grid(tuple(np.unique([*values[::stride], values[-1]]) for values, stride in pairs))

    def parts(self, count: int, column: int) -> Iterator[Grid]:
        """Yield up to `count` grids that are this one together, each with some of the values of parameter `column`."""
        for part in np.array_split(self.indices[column], min(count, self.shape[column])):
            yield Grid((*self.indices[:column], part, *self.indices[column + 1 :]))


def parameters(source: Source, assembly: Assembly) -> tuple[Parameter, ...]:
    """Return the parameters of a search, in the order of the file."""
    return tuple(
        Parameter(name, tuple(key for place in spec.places if (key := key_of(source.values, place))), spec.choices)
        for name, spec in assembly.search.items()
    )


def whole(of: Sequence[Parameter]) -> Grid:
    """Return the grid of all values."""
    return Grid(tuple(np.arange(len(each.values)) for each in of))


def round_(of: Sequence[Parameter], choice: Sequence[int], strides: Sequence[int], reach: int) -> Grid:
    """Return the grid of up to `reach` strides either way of `choice`."""
    return Grid(
        tuple(
            np.unique(np.clip(at + stride * np.arange(-reach, reach + 1), 0, len(each.values) - 1))
            for each, at, stride in zip(of, choice, strides, strict=True)
        )
    )
