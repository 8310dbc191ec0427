"""How far plane shapes of lines and arcs are from points and from each other, in closed form.

Terminology: the *gap* of two shapes is the least distance between their lines, whichever lies inside the other; it is
found at an end of a line or an arc, or where both have one normal: on an arc towards another's centre, or square to
a line.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.paths import Circle, Shape, arc_center

Array = NDArray[np.float64]
Points = NDArray[np.complex128]
#: radians. A direction so far past the ends of an arc is still on it.
_ON = 1e-12


@dataclass(frozen=True, eq=False)
class _Lines:
    """The lines of a shape, start to end, (n,) mm as x + iy."""

    start: Points
    end: Points


@dataclass(frozen=True, eq=False)
class _Arcs:
    """The arcs of a shape: center, (n,) mm as x + iy; radius, (n,) mm; begin, sweep: (n,) radians, sweep above 0."""

    center: Points
    radius: Array
    begin: Array
    sweep: Array

    def holds(self, direction: Points) -> NDArray[np.bool_]:
        """Return which directions, (m, n), each arc has a point in."""
        turn = (np.angle(direction) - self.begin + _ON) % (2.0 * np.pi)
        return turn <= self.sweep + 2.0 * _ON


@dataclass(frozen=True, eq=False)
class _Parts:
    lines: _Lines
    arcs: _Arcs

    @cached_property
    def ends(self) -> Points:
        """Where lines and arcs begin and end."""
        arcs = self.arcs
        tips = [arcs.center + arcs.radius * np.exp(1j * (arcs.begin + share * arcs.sweep)) for share in (0.0, 1.0)]
        return np.concatenate([self.lines.start, self.lines.end, *tips])


def _parts(shape: Shape) -> _Parts:
    if isinstance(shape, Circle):
        none = np.empty(0, dtype=np.complex128)
        center = np.array([complex(*shape.center)])
        arcs = _Arcs(center, np.array([shape.radius]), np.zeros(1), np.full(1, 2.0 * np.pi))
        return _Parts(_Lines(none, none), arcs)
    lines: list[tuple[complex, complex]] = []
    arcs_: list[tuple[complex, float, float, float]] = []
    for start, end, bulge in shape.segments():
        a, b = complex(*start), complex(*end)
        if not bulge:
            lines.append((a, b))
            continue
        pivot = complex(*arc_center(start, end, bulge))
        first = a if bulge > 0.0 else b
        arcs_.append((pivot, abs(a - pivot), float(np.angle(first - pivot)), 4.0 * float(np.arctan(abs(bulge)))))
    straight = np.array(lines, dtype=np.complex128).reshape(-1, 2)
    columns = [np.array([arc[k] for arc in arcs_], dtype=complex if k == 0 else float) for k in range(4)]
    return _Parts(_Lines(straight[:, 0], straight[:, 1]), _Arcs(columns[0], columns[1], columns[2], columns[3]))


def to_shape(points: ArrayLike, shape: Shape) -> Array:
    """Return the distances, (n,), mm, of `points`, (n, 2), mm, from the line of `shape`.

    >>> to_shape([(0, 0), (7, 0)], Circle((0.0, 0.0), 5.0)).tolist()
    [5.0, 2.0]
    """
    xy = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    return _distances(xy[:, 0] + 1j * xy[:, 1], _parts(shape))


def gap(one: Shape, other: Shape) -> float:
    """Return the gap of two shapes whose lines do not cross, mm.

    >>> gap(Circle((0.0, 0.0), 5.0), Circle((20.0, 0.0), 7.0)), gap(Circle((0.0, 0.0), 5.0), Circle((1.0, 0.0), 9.0))
    (8.0, 3.0)
    """
    a, b = _parts(one), _parts(other)
    return float(min(_distances(_feet(a, b), b).min(), _distances(_feet(b, a), a).min()))


def _feet(of: _Parts, towards: _Parts) -> Points:
    """Return the points of a shape that may be the nearest to another one."""
    arcs = of.arcs
    along = towards.lines.end - towards.lines.start
    square = np.broadcast_to(1j * along[:, None], (along.size, arcs.center.size))
    ways = [towards.arcs.center[:, None] - arcs.center, square]
    found = [of.ends]
    for way in ways:
        length = np.abs(way)
        unit = way / np.where(length > 0.0, length, 1.0)
        for direction in (unit, -unit):
            on = arcs.holds(direction) & (length > 0.0)
            found.append((arcs.center + arcs.radius * direction)[on])
    if not of.lines.start.size and all(each.size == 0 for each in found):
        found.append(arcs.center + arcs.radius)
    return np.concatenate(found)


def _distances(points: Points, parts: _Parts) -> Array:
    lines, arcs = parts.lines, parts.arcs
    found = [np.full(points.shape, np.inf)]
    if lines.start.size:
        along = lines.end - lines.start
        share = np.clip(((points[:, None] - lines.start) / along).real, 0.0, 1.0)
        found.append(np.abs(points[:, None] - lines.start - share * along).min(axis=1))
    if arcs.center.size:
        spoke = points[:, None] - arcs.center
        round_it = np.abs(np.abs(spoke) - arcs.radius)
        tips = [arcs.center + arcs.radius * np.exp(1j * (arcs.begin + share * arcs.sweep)) for share in (0.0, 1.0)]
        past = np.minimum(*(np.abs(points[:, None] - tip) for tip in tips))
        found.append(np.where(arcs.holds(spoke) | (spoke == 0.0), round_it, past).min(axis=1))
    return np.min(found, axis=0)
