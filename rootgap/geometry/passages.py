"""Skins of made passages: closed rings of smooth strips between two planes, and what they enclose.

Terminology
    rim     a skin's closed outline in one of the two planes
    strip   the part of a skin between two rulings in which both rims are smooth
    flat    a strip whose rims are straight: a plane triangle or a plane four-sided face
    skin    all strips once round, anticlockwise about the way from the first plane to the second

Each ruling's ends are blended in a straight line, so the area of a section is quadratic along the
way whatever the match, and Simpson's rule gives the volume exactly.

Points are complex numbers x + iy in mm in a plane whose x points away from a frame's side and y
along its ref: x, y and the frame's axis are right-handed, and frame.radial(psi) is i exp(i psi).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.convex import SAME, Convex, blended, convex
from rootgap.geometry.paths import Circle
from rootgap.geometry.quadrature import gauss
from rootgap.geometry.transition import SPACING, Formed, Transition

Array = NDArray[np.float64]
Points = NDArray[np.complex128]
#: Moves matching points of both rims, (n,), mm, at directions, (n,), radians.
Mover = Callable[[Points, Points, Array], tuple[Points, Points]]

_LEAST = 1e-7  # mm: points nearer than this are one
_TURN = 2.0 * np.pi
_NODES, _WEIGHTS = gauss(48)


@dataclass(frozen=True, eq=False)
class Strip:
    """A strip. t: (n,), parameter, radians, or (2,), no unit, of a flat; low, high: (n,), mm, points on
    the first and the second rim. Of strips in a ring each begins exactly where the one before ends; a
    rim that is one point all along has it n times.
    """

    t: Array
    low: Points
    high: Points

    @property
    def is_flat(self) -> bool:
        """Whether both rims are straight."""
        return self.t.size == 2

    @property
    def are_points(self) -> tuple[bool, bool]:
        """Whether the low and the high rim is one point."""
        return bool(self.low[0] == self.low[-1]), bool(self.high[0] == self.high[-1])


def arc_of(t: Array, points: Points) -> tuple[complex, float] | None:
    """Return centre, mm, and radius, mm, where `points` lie at the angles `t`, radians, of an arc, else None.

    >>> t = np.linspace(0.2, 1.0, 9)
    >>> arc_of(t, 3 + 5j + 20 * np.exp(1j * t))
    ((3+5j), 20.0)
    """
    spokes = np.exp(1j * t)
    radius = float(((points[-1] - points[0]) / (spokes[-1] - spokes[0])).real)
    center = complex(points[0] - radius * spokes[0])
    if radius <= _LEAST or np.abs(points - center - radius * spokes).max() > 1e-9:
        return None
    return center, radius


def skin(low: Convex, high: Convex, moved: Mover | None = None, spacing: float = SPACING) -> tuple[Strip, ...]:
    """Return the skin between two convex rims, points of equal normal joined.

    moved: moves points off the rims, as a sheet's outside lies off its bore; spacing: of the samples
    at most, radians.
    """
    curved = []
    for first, last, one, other in _spans(low, high):
        t = np.linspace(first, last, max(4, int(np.ceil((last - first) / spacing - 1e-9)) + 1))
        spokes = np.exp(1j * t)
        ends = low.centers[one] + low.radii[one] * spokes, high.centers[other] + high.radii[other] * spokes
        curved.append(Strip(t, *(moved(*ends, t) if moved else ends)))
    return _ring(curved)


def transition_skin(made: Transition, depth: float) -> tuple[Strip, ...]:
    """Return a transition's skin at `depth` (no unit) into the sheet: 0 its bore, 1 its outside."""
    return skin(made.start, made.end, _mover(made, depth))


def straight_on(strips: Sequence[Strip]) -> tuple[Strip, ...]:
    """Return the skin that goes on straight from the second rim of `strips`."""
    return tuple(Strip(strip.t, strip.high, strip.high) for strip in strips if not strip.are_points[1])


def straight_to(strips: Sequence[Strip]) -> tuple[Strip, ...]:
    """Return the skin that comes straight to the first rim of `strips`."""
    return tuple(Strip(strip.t, strip.low, strip.low) for strip in strips if not strip.are_points[0])


def round_rim(radius: float, middle: complex = 0j) -> Convex:
    """Return a circle of `radius`, mm, about `middle`, mm."""
    return convex(Circle((middle.real, middle.imag), radius))


def towards(distance: float, clock: float) -> complex:
    """Return the point `distance`, mm, from the axis towards `clock`, degrees."""
    return complex(1j * distance * np.exp(1j * np.radians(clock)))


@dataclass(frozen=True, eq=False)
class Lobed:
    """A skin from a star-shaped outline to a circle about the same axis, ruled at equal angles.

    outline: returns the distance from the axis, mm, (n,), at angles psi, radians from the frame's ref,
    (n,); corners: (k,), radians, where its slope may jump; radius: of the circle, mm; length: mm.
    No sheet takes it without some stretch, for the tangent planes at a ruling's ends differ.
    """

    outline: Callable[[Array], Array]
    corners: Array
    radius: float
    length: float

    @cached_property
    def spans(self) -> Array:
        """First and last angle of every smooth part, (m, 2), radians, none longer than half a turn."""
        corners = np.unique(np.round(np.asarray(self.corners, dtype=np.float64) % _TURN, 12))
        corners = corners if corners.size else np.zeros(1)
        rows: list[tuple[float, float]] = []
        for first, last in zip(corners, np.append(corners[1:], corners[0] + _TURN), strict=True):
            cuts = np.linspace(first, last, int(np.ceil((last - first) / np.pi - 1e-9)) + 1)
            rows += pairwise(cuts)
        return np.array(rows)

    def strips(self, spacing: float = SPACING) -> tuple[Strip, ...]:
        """Return the skin, sampled at most `spacing`, radians, apart, closer towards the corners, where
        an outline is steep when its plane lies close to a crotch."""
        curved = []
        for first, last in self.spans:
            count = int(np.ceil(0.5 * np.pi * (last - first) / spacing)) + 1
            psi = first + (last - first) * 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, max(8, count))))
            psi[-1] = last
            spokes = 1j * np.exp(1j * psi)
            curved.append(Strip(psi + 0.5 * np.pi, self.outline(psi) * spokes, self.radius * spokes))
        return _ring(curved)

    def rims(self, spacing: float = SPACING, also: ArrayLike = ()) -> tuple[Array, Array, Array]:
        """Return matching points of outline and circle, (n, 3), mm, z along the way, and their angles psi, (n,),
        radians, from 0 once round.

        spacing: radians, as of `strips`; also: angles, radians, at which rulings are wanted besides, 0 is one.
        """
        sampled = [strip.t[:-1] - 0.5 * np.pi for strip in self.strips(spacing) if not strip.is_flat]
        psi = np.concatenate([*sampled, np.asarray(also, dtype=np.float64), [0.0]]) % _TURN
        psi = np.unique(np.round(psi, 12))
        psi = psi[np.append(np.diff(psi) > SAME, psi[-1] < _TURN - SAME)]
        low, high = (rho * 1j * np.exp(1j * psi) for rho in (self.outline(psi), self.radius))
        rims = (np.column_stack([z.real, z.imag, np.full(psi.size, at)]) for z, at in ((low, 0.0), (high, self.length)))
        return *rims, psi

    @cached_property
    def _moments(self) -> tuple[float, float]:
        """Integrals once round of the outline, mm, and of its square, mm2, over the angle."""
        once = square = 0.0
        for first, last in self.spans:
            # Gauss's nodes in an angle that slows down at the ends, for roots that begin there.
            turn = 0.5 * np.pi * (_NODES + 1.0)
            psi = first + (last - first) * 0.5 * (1.0 - np.cos(turn))
            weights = 0.25 * np.pi * (last - first) * np.sin(turn) * _WEIGHTS
            rho = self.outline(psi)
            once, square = once + float(weights @ rho), square + float(weights @ rho**2)
        return once, square

    def areas(self, shares: ArrayLike) -> Array:
        """Return the areas, (n,), mm2, at `shares` of the way, (n,), no unit.

        Source: the area of a sector, rho^2 / 2 for each radian, of rho = (1 - s) outline + s radius.
        """
        s = np.atleast_1d(np.asarray(shares, dtype=np.float64))
        once, square = self._moments
        return 0.5 * ((1 - s) ** 2 * square + 2 * s * (1 - s) * self.radius * once + s**2 * _TURN * self.radius**2)

    @cached_property
    def least_area(self) -> tuple[float, float]:
        """The smallest area, mm2, and the share of the way where it is: it may lie between the ends,
        for the area is a parabola that opens upward."""
        once, square = self._moments
        opens = square - 2.0 * self.radius * once + _TURN * self.radius**2
        share = float(np.clip((square - self.radius * once) / opens, 0.0, 1.0)) if opens > _LEAST else 0.0
        return float(self.areas(share)[0]), share

    @property
    def volume(self) -> float:
        """Volume between the planes, mm3."""
        return _simpson(self.length, *self.areas([0.0, 0.5, 1.0]))

    @cached_property
    def largest_lean(self) -> float:
        """The steepest a ruling gets to the axis, degrees."""
        psi = np.concatenate([np.linspace(first, last, 181) for first, last in self.spans])
        return float(np.degrees(np.arctan(np.abs(self.outline(psi) - self.radius).max() / self.length)))


def bore_volume(made: Transition) -> float:
    """Return the volume inside a transition, mm3."""
    return _simpson(made.length, *made.areas([0.0, 0.5, 1.0]))


def transition_volume(made: Transition) -> float:
    """Return the volume of a transition's sheet, mm3: between its bore and its outside.

    Source: Green's theorem. With h + i h' a point of a section of the bore turned back by its normal's
    direction and w s the outside's distance along that normal, the area within the outside is the integral
    of ((h + w s)^2 - h'^2 - 2 w s' h') / 2 over the direction; flats need no part of their own, for h and s
    go on across them. Without w this is the known area by support function (R. Schneider, "Convex Bodies",
    section 5.3).
    """
    areas = np.zeros(3)
    for first, last, one, other in _spans(made.start, made.end):
        t = first + 0.5 * (last - first) * (_NODES + 1.0)
        spokes = np.exp(1j * t)
        low = made.start.centers[one] + made.start.radii[one] * spokes
        high = made.end.centers[other] + made.end.radii[other] * spokes
        step = (high - low) / spokes / made.length
        off = made.off(low, high, t, 1.0)
        steeper = made.wall**2 * step.real * step.imag / off
        support = np.array([low, 0.5 * (low + high), high]) / spokes
        double = (support.real + off) ** 2 - support.imag**2 - 2.0 * steeper * support.imag
        areas += 0.25 * (last - first) * double @ _WEIGHTS
    return _simpson(made.length, *areas) - bore_volume(made)


def formed_volume(end: Formed, worked: float, length: float, held: float = 0.0) -> float:
    """Return the volume of metal, mm3, of a pipe of `length`, mm, that keeps a port's shape for `held`, mm, from
    its start and becomes round over the next `worked`, mm."""
    rims = ((convex(end.outside), 0.5 * end.od), (convex(end.bore), 0.5 * end.od - end.wall))
    out, within = (
        _simpson(worked, port.area, blended(port, round_rim(radius), 0.5).area, np.pi * radius**2)
        + (length - held - worked) * np.pi * radius**2
        + held * port.area
        for port, radius in rims
    )
    return out - within


def frustum_volume(length: float, start: tuple[float, float], end: tuple[float, float]) -> float:
    """Return the volume of metal, mm3, of a reducer of `length`, mm, whether or not its ends are in line.

    start, end: radii of outside and bore, mm. Source: the frustum, pi h / 3 (R^2 + R r + r^2).

    >>> round(frustum_volume(30.0, (10.0, 0.0), (10.0, 0.0)), 6) == round(3000 * np.pi, 6)
    True
    """
    out, within = (np.pi * length / 3.0 * (a * a + a * b + b * b) for a, b in zip(start, end, strict=True))
    return float(out - within)


def _mover(made: Transition, depth: float) -> Mover:
    def moved(low: Points, high: Points, directions: Array) -> tuple[Points, Points]:
        shift = made.off(low, high, directions, depth) * np.exp(1j * directions)
        return low + shift, high + shift

    return moved


def _simpson(length: float, first: float, middle: float, last: float) -> float:
    return float(length * (first + 4.0 * middle + last) / 6.0)


def _spans(low: Convex, high: Convex) -> list[tuple[float, float, int, int]]:
    """Return (first, last) direction, radians, of each strip and the numbers of its arcs on both rims."""
    starts = np.sort(np.concatenate([low.starts, high.starts]))
    starts = starts[np.diff(starts, prepend=starts[-1] - _TURN) > SAME]
    ends = np.append(starts[1:], starts[0] + _TURN)
    middles = (0.5 * (starts + ends)) % _TURN
    one, other = (np.searchsorted(rim.starts, middles, side="right") - 1 for rim in (low, high))
    found: list[tuple[float, float, int, int]] = []
    for first, last, i, j in zip(starts, ends, one, other, strict=True):
        if found:
            begun, _, k, m = found[-1]
            if last - begun <= np.pi + SAME and _one_arc(low, k, i) and _one_arc(high, m, j):
                found[-1] = (begun, float(last), k, m)
                continue
        found.append((float(first), float(last), int(i), int(j)))
    return found


def _one_arc(rim: Convex, first: int, second: int) -> bool:
    """Return whether two arcs of a rim have one centre and radius."""
    off = abs(rim.centers[first] - rim.centers[second]) + abs(rim.radii[first] - rim.radii[second])
    return bool(off < _LEAST / 100)


def _ring(curved: Sequence[Strip]) -> tuple[Strip, ...]:
    """Return the closed ring of strips, with flats where one does not begin where the one before ends."""
    low, high = (_welded([end for strip in curved for end in getattr(strip, rim)[[0, -1]]]) for rim in ("low", "high"))
    strips: list[Strip] = []
    for k, strip in enumerate(curved):
        own, after = slice(2 * k, 2 * k + 2), np.array([2 * k + 1, (2 * k + 2) % len(low)])
        strips.append(Strip(strip.t, _held(strip.low, low[own]), _held(strip.high, high[own])))
        strips.append(Strip(np.array([0.0, 1.0]), low[after], high[after]))
    return tuple(strip for strip in strips if not all(strip.are_points))


def _welded(ends: Sequence[complex]) -> Points:
    """Return the points once round, (n,), mm, those in a row that are nearer than _LEAST made equal."""
    points = np.array(ends)
    new = np.abs(points - np.roll(points, 1)) > _LEAST
    # From the last that begins a group, going on round to the first one.
    group = np.cumsum(new) - 1
    return points[np.flatnonzero(new)[group]]


def _held(points: Points, ends: Points) -> Points:
    """Return `points`, (n,), mm, with the given `ends`, (2,); all one point where those are one."""
    if ends[0] == ends[1]:
        return np.full(len(points), ends[0])
    return np.concatenate([ends[:1], points[1:-1], ends[1:]])
