"""Plane regions as cells of a square grid. A grid is bool, (columns, rows): the first axis is x, the second y."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Point

Array = NDArray[np.float64]
Cells = NDArray[np.bool_]


def filled(rings: Iterable[Array], origin: Point, cell: float, shape: tuple[int, int]) -> Cells:
    """Return which cells have their middle inside an odd number of `rings`, each (n, 2), mm.

    origin: the lower left corner of the grid, mm; cell: its cells' side, mm; shape: (columns, rows).

    >>> filled([np.array([[0, 0], [2, 0], [2, 1], [0, 1.0]])], (0.0, 0.0), 1.0, (3, 2)).astype(int).tolist()
    [[1, 0], [1, 0], [0, 0]]
    """
    columns, rows = shape
    toggled = np.zeros((columns, rows + 1), dtype=np.int32)
    for ring in rings:
        x0, y0 = ((ring - origin) / cell).T
        x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
        low, high = np.minimum(x0, x1), np.maximum(x0, x1)
        first = np.clip(np.ceil(low - 0.5), 0, columns).astype(int)
        past = np.clip(np.ceil(high - 0.5), 0, columns).astype(int)
        counts = past - first
        edge = np.repeat(np.arange(len(ring)), counts)
        column = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + first[edge]
        y = y0[edge] + (column + 0.5 - x0[edge]) * (y1[edge] - y0[edge]) / (x1[edge] - x0[edge])
        np.add.at(toggled, (column, np.clip(np.ceil(y - 0.5), 0, rows).astype(int)), 1)
    return np.cumsum(toggled, axis=1)[:, :rows] % 2 == 1


def touched(chains: Iterable[Array], origin: Point, cell: float, shape: tuple[int, int]) -> Cells:
    """Return the cells that hold a point of one of `chains` of chords, each (n, 2), mm, looked at every quarter of a
    cell.

    >>> touched([np.array([[0.5, 0.5], [2.5, 0.5]])], (0.0, 0.0), 1.0, (3, 2)).astype(int).tolist()
    [[1, 0], [1, 0], [1, 0]]
    """
    cells = np.zeros(shape, dtype=bool)
    chains = list(chains)
    if not chains:
        return cells
    starts, ends = (np.vstack([chain[part] for chain in chains]) for part in (slice(None, -1), slice(1, None)))
    counts = 2 + (4.0 * np.linalg.norm(ends - starts, axis=1) / cell).astype(int)
    chord = np.repeat(np.arange(len(counts)), counts)
    place = np.arange(len(chord)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (place / (counts - 1)[chord])[:, None]
    points = starts[chord] + share * (ends - starts)[chord]
    columns, rows = np.clip(np.floor((points - origin) / cell).astype(int), 0, np.array(shape) - 1).T
    cells[columns, rows] = True
    return cells


def grown(cells: Cells, radius: float) -> Cells:
    """Return the cells within `radius`, no unit, of one of `cells`, counted in cells from middle to middle."""
    reach = int(np.floor(radius))
    out = cells.copy()
    columns = cells.shape[0]
    for dx in range(-reach, reach + 1):
        tall = int(np.floor(np.sqrt(radius**2 - dx**2)))
        counts = np.cumsum(np.pad(cells.astype(np.int32), ((0, 0), (tall + 1, tall))), axis=1)
        near = (counts[:, 2 * tall + 1 :] - counts[:, : -2 * tall - 1]) > 0
        to, of = (slice(max(0, dx), columns + min(0, dx)), slice(max(0, -dx), columns + min(0, -dx)))
        out[to] |= near[of]
    return out
