"""Closed paths of lines and arcs cut straight across, and slotted from their edge: exact, nothing sampled.

Terminology: a path runs anticlockwise with the metal on its left. A *notch* is a saw cut of
parallel sides and a round bottom, from the top edge down.
"""

from __future__ import annotations

import numpy as np

from rootgap.geometry.paths import Path, arc_center

#: mm. A shorter line or arc is left out.
_LEAST = 1e-9

Piece = tuple[complex, complex, float]
"""Start, end, bulge."""


def turned(path: Path, direction: complex) -> Path:
    """Return `path` turned about the origin so that +x goes to `direction`, of length 1.

    >>> turned(Path(((1.0, 0.0, 0.0), (2.0, 0.0, 0.0))), 1j).vertices
    ((0.0, 1.0, 0.0), (0.0, 2.0, 0.0))
    """
    points = [(complex(x, y) * direction, bulge) for x, y, bulge in path.vertices]
    return Path(tuple((point.real, point.imag, bulge) for point, bulge in points), path.closed)


def left_of(path: Path, limit: float) -> tuple[Path, ...]:
    """Return the parts of a closed path's inside whose x is below `limit`, mm.

    >>> square = Path.through([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    >>> [part.area for part in left_of(square, 4.0)]
    [40.0]
    """
    pieces = _cut(path, limit)
    kept = [_middle(piece).real < limit for piece in pieces]
    if all(kept):
        return (path,)
    if not any(kept):
        return ()
    # Each chain of kept pieces runs from where the path comes in over the line to where it goes out.
    first = next(k for k in range(len(pieces)) if kept[k] and not kept[k - 1])
    chains: list[list[Piece]] = []
    for step in range(len(pieces)):
        k = (first + step) % len(pieces)
        if not kept[k]:
            continue
        if kept[k - 1] and chains:
            chains[-1].append(pieces[k])
        else:
            chains.append([pieces[k]])
    parts = []
    while chains:
        ring = chains.pop(0)
        begin = ring[0][0]
        while True:
            # Going out, the metal's edge is the line itself, upwards to where the path next comes in.
            out = ring[-1][1]
            ahead = [(chain[0][0].imag, number) for number, chain in enumerate(chains) if chain[0][0].imag > out.imag]
            nearest = min(ahead, default=None)
            if nearest is None or out.imag < begin.imag < nearest[0]:
                parts.append(_path([*ring, (out, begin, 0.0)]))
                break
            chain = chains.pop(nearest[1])
            ring += [(out, chain[0][0], 0.0), *chain]
    return tuple(parts)


def right_of(path: Path, limit: float) -> tuple[Path, ...]:
    """Return the parts of a closed path's inside whose x is above `limit`, mm."""
    return tuple(turned(part, -1.0) for part in left_of(turned(path, -1.0), -limit))


def span_at(path: Path, at: float) -> tuple[float, float]:
    """Return the lowest and the highest y, mm, at which a closed path meets x = `at`. Raises ValueError where it does
    not."""
    found = [y for _, y in _crossings(path, at)]
    if not found:
        raise ValueError("the edge does not span the cut")
    return min(found), max(found)


def notched(path: Path, at: float, width: float, depth: float) -> Path:
    """Return a closed path with a notch of `width` mm at x = `at`, from its topmost edge there `depth` mm down.

    Raises ValueError where the edge does not span the notch, or the notch is less deep than its round bottom.

    >>> square = Path.through([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    >>> round(100.0 - notched(square, 5.0, 2.0, 4.0).area - 2.0 * 3.0 - np.pi / 2, 9)
    0.0
    """
    half = 0.5 * width
    pieces = [part for limit in (at - half, at, at + half) for part in _crossings(path, limit)]
    tops = [max((y for x, y in pieces if x == limit), default=np.nan) for limit in (at - half, at, at + half)]
    if np.isnan(tops).any():
        raise ValueError("the edge does not span the cut")
    bottom = tops[1] - depth + half
    if bottom >= min(tops[0], tops[2]):
        raise ValueError(f"it is {depth:g} mm deep; allowed: more than half its width, {half:g} mm")
    left, right = complex(at - half, tops[0]), complex(at + half, tops[2])
    edge = _cut_again(_cut(path, at - half), at + half)
    start = next(k for k, piece in enumerate(edge) if abs(piece[0] - right) < 1e-7)
    ordered = edge[start:] + edge[:start]
    stop = next(k for k, piece in enumerate(ordered) if abs(piece[1] - left) < 1e-7)
    low_right, low_left = complex(at + half, bottom), complex(at - half, bottom)
    new = [(right, low_right, 0.0), (low_right, low_left, -1.0), (low_left, left, 0.0)]
    return _path([*new, *ordered[stop + 1 :]])


def _crossings(path: Path, limit: float) -> list[tuple[float, float]]:
    """Return (limit, y), mm, of every point at which a path meets x = `limit`."""
    return [(limit, piece[0].imag) for piece in _cut(path, limit) if abs(piece[0].real - limit) < _LEAST]


def _cut(path: Path, limit: float) -> list[Piece]:
    return _cut_again([(complex(*start), complex(*end), bulge) for start, end, bulge in path.segments()], limit)


def _cut_again(pieces: list[Piece], limit: float) -> list[Piece]:
    """Return the pieces, none of which crosses x = `limit`."""
    return [part for piece in pieces for part in _split(piece, limit)]


def _split(piece: Piece, limit: float) -> list[Piece]:
    start, end, bulge = piece
    shares = sorted(share for share in _shares(piece, limit) if 0.0 < share < 1.0)
    if not bulge:
        nodes = [start, *(complex(limit, (start + share * (end - start)).imag) for share in shares), end]
        bulges = [0.0] * (len(nodes) - 1)
    else:
        center = complex(*arc_center((start.real, start.imag), (end.real, end.imag), bulge))
        sweep = 4.0 * np.arctan(bulge)
        at = [center + (start - center) * np.exp(1j * share * sweep) for share in shares]
        nodes = [start, *(complex(limit, point.imag) for point in at), end]
        steps = np.diff([0.0, *shares, 1.0])
        bulges = [float(np.tan(0.25 * step * sweep)) for step in steps]
    parts = list(zip(nodes[:-1], nodes[1:], bulges, strict=True))
    return [part for part in parts if abs(part[1] - part[0]) > _LEAST]


def _shares(piece: Piece, limit: float) -> list[float]:
    """Return how far along a piece, no unit, it meets x = `limit`."""
    start, end, bulge = piece
    if not bulge:
        run = end.real - start.real
        return [(limit - start.real) / run] if run else []
    center = complex(*arc_center((start.real, start.imag), (end.real, end.imag), bulge))
    radius = abs(start - center)
    if abs(limit - center.real) >= radius:
        return []
    sweep, begin = 4.0 * float(np.arctan(bulge)), float(np.angle(start - center))
    angle = float(np.arccos((limit - center.real) / radius))
    turn = 1.0 if sweep > 0.0 else -1.0
    return [float((turn * (each - begin)) % (2.0 * np.pi) / abs(sweep)) for each in (angle, -angle)]


def _middle(piece: Piece) -> complex:
    start, end, bulge = piece
    # The middle of an arc lies bulge times half the chord to the right of the chord.
    return 0.5 * (start + end) - 0.5j * bulge * (end - start)


def _path(pieces: list[Piece]) -> Path:
    kept = [piece for piece in pieces if abs(piece[1] - piece[0]) > _LEAST]
    return Path(tuple((float(start.real), float(start.imag), float(bulge)) for start, _, bulge in kept), closed=True)
