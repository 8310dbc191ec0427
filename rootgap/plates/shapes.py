"""Which of the openings that a parameter file names a drawn loop is, if any.

Each kind is first guessed from the loop's box and area, in the directions that its straights and its narrowest box
have, and then brought nearest by least squares; it is that kind where no point of the one rim lies farther from the
other than the tolerance. The plainest kind that fits is taken.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.paths import Path
from rootgap.geometry.polygons import inside, to_outline

Array = NDArray[np.float64]

#: How far, mm, chords lie from the rims that are compared, and how far apart their points are.
CHORD, STEP = 0.001, 1.5
#: A turn nearer to a right angle than this, degrees, is one.
SQUARE = 0.05
#: About so many points of a rim are fitted to.
FITTED = 150
#: A guess farther off than so many tolerances is not worth bringing nearer.
WORTH = 40.0
#: Sizes are told to this, mm.
GRAIN = 0.001


@dataclass(frozen=True)
class Shape:
    """What a loop is. at: its middle, mm; angle: degrees; opening: as a parameter file says it, mm; off: how far the
    loop lies from it at most, mm."""

    at: tuple[float, float]
    angle: float
    opening: dict[str, Any]
    off: float

    @property
    def kind(self) -> str:
        """The word that the opening has in a parameter file."""
        return next(iter(self.opening))


@dataclass(frozen=True)
class _Kind:
    """A kind of opening by its sizes. make: the opening; guess: the sizes that it may have, by width, height and area;
    says: its values in a parameter file; quarters: how many quarter turns make it another."""

    make: Callable[[Array], Opening]
    guess: Callable[[float, float, float], list[Array]]
    says: Callable[[Array], dict[str, Any]]
    quarters: int


def _rounded_radius(width: float, height: float, area: float) -> float:
    return float(np.sqrt(max(0.0, width * height - area) / (4.0 - np.pi)))


def _dee_radii(width: float, height: float, area: float) -> list[float]:
    """Return the corner radii, mm, of the Ds of that area; there may be two, for a flat top rises with the radius."""
    radii = np.linspace(0.0, 0.499 * min(width, height), 60)
    past = np.array([Dee(width, height, float(radius)).area for radius in radii]) - area
    found = []
    for k in np.flatnonzero(past[:-1] * past[1:] <= 0.0):
        low, high, rises = float(radii[k]), float(radii[k + 1]), past[k] <= 0.0
        for _ in range(40):
            radius = 0.5 * (low + high)
            low, high = (radius, high) if (Dee(width, height, radius).area <= area) == rises else (low, radius)
        found.append(low)
    return found or [float(radii[np.argmin(np.abs(past))])]


def _capped(sizes: Array, share: float) -> tuple[float, float, float]:
    width, height = max(float(sizes[0]), 0.1), max(float(sizes[1]), 0.1)
    return width, height, float(np.clip(sizes[2], 0.0, share * min(width, height)))


_KINDS: tuple[_Kind, ...] = (
    _Kind(
        lambda s: Round(max(float(s[0]), 0.1)),
        lambda w, h, _: [np.array([0.5 * (w + h)])],
        lambda s: {"round": _grain(s[0])},
        1,
    ),
    _Kind(
        lambda s: Oval(max(float(s[0]), 0.1), max(float(s[1]), 0.1)),
        lambda w, h, _: [np.array([w, h])],
        lambda s: {"oval": [_grain(s[0]), _grain(s[1])]},
        2,
    ),
    _Kind(
        lambda s: RoundedRectangle(*_capped(s, 0.5)),
        lambda w, h, a: [np.array([w, h, _rounded_radius(w, h, a)])],
        lambda s: {"rounded": [_grain(s[0]), _grain(s[1])], "radius": max(0.1, _grain(_capped(s, 0.5)[2]))},
        2,
    ),
    _Kind(
        lambda s: Dee(*_capped(s, 0.499)),
        lambda w, h, a: [np.array([w, h, radius]) for radius in _dee_radii(w, h, a)],
        lambda s: {"dee": [_grain(s[0]), _grain(s[1])], "radius": max(0.1, _grain(_capped(s, 0.499)[2]))},
        4,
    ),
)


def recognised(loop: Path, tolerance: float) -> Shape:
    """Return the opening that a closed loop, mm, is within `tolerance`, mm, or the loop itself about its middle."""
    halves = [bulge for *_, bulge in loop.vertices]
    if len(halves) == 2 and abs(abs(sum(halves)) - 2.0) < 1e-9 and abs(halves[0] - halves[1]) < 1e-9:
        (x0, y0, _), (x1, y1, _) = loop.vertices
        diameter = float(np.hypot(x1 - x0, y1 - y0))
        return Shape((_grain(0.5 * (x0 + x1)), _grain(0.5 * (y0 + y1))), 0.0, {"round": _grain(diameter)}, 0.0)
    points = _dense(loop)
    area = abs(loop.area)
    for kind in _KINDS:
        shape = _nearest(kind, points, area, list(_turns(loop, points)), tolerance)
        if shape and shape.off <= tolerance:
            return shape
    at = _middle(loop, points)
    path = [[_grain(x - at[0]), _grain(y - at[1]), round(bulge, 6)] for x, y, bulge in loop.vertices]
    return Shape(at, 0.0, {"path": path}, 0.0)


def _middle(loop: Path, points: Array) -> tuple[float, float]:
    """Return the middle of a loop's box, mm, or a point well within it where that lies outside."""
    low_x, low_y, high_x, high_y = loop.bounds()
    at = np.array([[0.5 * (low_x + high_x), 0.5 * (low_y + high_y)]])
    if not inside(at, points)[0]:
        from shapely import Polygon

        within = Polygon(points).representative_point()
        at = np.array([[within.x, within.y]])
    return _grain(at[0, 0]), _grain(at[0, 1])


def _grain(value: float) -> float:
    return round(round(float(value) / GRAIN) * GRAIN, 6) + 0.0


def _dense(loop: Path) -> Array:
    """Return points along a loop, (n, 2), mm, STEP apart at most."""
    rim = loop.points(CHORD)
    following = np.roll(rim, -1, axis=0)
    count = np.maximum(1, np.ceil(np.hypot(*(following - rim).T) / STEP)).astype(int)
    return np.concatenate(
        [a + (b - a) * np.arange(k)[:, None] / k for a, b, k in zip(rim, following, count, strict=True)]
    )


def _turns(loop: Path, points: Array) -> Iterator[float]:
    """Yield the directions, degrees, that a loop's own axes may have: those of its straights and its narrowest box."""
    from shapely import MultiPoint, minimum_rotated_rectangle

    yield 0.0
    box = np.array(minimum_rotated_rectangle(MultiPoint(points)).exterior.coords)
    along = box[1] - box[0]
    yield float(np.degrees(np.arctan2(along[1], along[0]))) % 90.0
    straights = [(np.hypot(*np.subtract(end, start)), start, end) for start, end, bulge in loop.segments() if not bulge]
    if straights:
        _, start, end = max(straights, key=lambda each: each[0])
        yield float(np.degrees(np.arctan2(end[1] - start[1], end[0] - start[0]))) % 90.0


def _nearest(kind: _Kind, points: Array, area: float, turns: list[float], tolerance: float) -> Shape | None:
    """Return a kind of opening as near to a rim, (n, 2), mm, as its sizes bring it; None where that is hopeless."""
    best: tuple[float, float, Array, Array] | None = None
    for turn in turns if kind.quarters > 1 else turns[:1]:
        for quarter in range(kind.quarters):
            angle = turn + 90.0 * quarter
            own = points @ _back(angle)
            low, high = own.min(axis=0), own.max(axis=0)
            at = 0.5 * (low + high) @ _back(angle).T
            for sizes in kind.guess(float(high[0] - low[0]), float(high[1] - low[1]), area):
                off = _off(kind, sizes, at, angle, points)
                if best is None or off < best[0] - 1e-9:
                    best = off, angle, at, sizes
    if best is None or best[0] > WORTH * tolerance:
        return None
    off, angle, at, sizes = best
    if off > 0.05 * tolerance:
        at, angle, sizes = _refined(kind, sizes, at, angle, points)
    squared = 90.0 * round(angle / 90.0)
    angle = squared if abs(angle - squared) < SQUARE else angle
    at = np.array([_grain(at[0]), _grain(at[1])])
    if kind.quarters == 2 and round(angle / 90.0) % 2:
        # A quarter turn is the same with its sides exchanged.
        sizes = np.concatenate([sizes[1::-1], sizes[2:]])
    span = {1: 0.0, 2: 90.0, 4: 360.0}[kind.quarters]
    angle = round((angle + 0.5 * span) % span - 0.5 * span, 4) + 0.0 if span else 0.0
    return Shape((float(at[0]), float(at[1])), angle, kind.says(sizes), _off(kind, sizes, at, angle, points))


def _back(degrees: float) -> Array:
    """Return what, from the right, brings points turned by an angle back."""
    cos, sin = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[cos, -sin], [sin, cos]])


def _rim(kind: _Kind, sizes: Array, at: Array, angle: float) -> Array:
    return placed(kind.make(sizes).shape(), (float(at[0]), float(at[1])), angle).points(CHORD)


def _off(kind: _Kind, sizes: Array, at: Array, angle: float, points: Array) -> float:
    """Return how far, mm, either rim gets from the other."""
    rim = _rim(kind, sizes, at, angle)
    return float(max(to_outline(points, rim).max(), to_outline(rim, points).max()))


def _refined(kind: _Kind, sizes: Array, at: Array, angle: float, points: Array) -> tuple[Array, float, Array]:
    """Return place, mm, turn, degrees, and sizes, mm, brought nearest by least squares."""
    from scipy.optimize import least_squares

    reach = float(np.hypot(*(points - at).T).max())
    free = kind.quarters > 1

    def split(x: Array) -> tuple[Array, float, Array]:
        return x[:2], angle + (float(np.degrees(x[2] / reach)) if free else 0.0), x[3:] if free else x[2:]

    # Every so many of them say the same at less cost; how near it comes is told by all.
    some = points[:: max(1, len(points) // FITTED)]

    def lag(x: Array) -> Array:
        place, turn, size = split(x)
        return to_outline(some, _rim(kind, size, place, turn))

    start = np.concatenate([at, [0.0] if free else [], sizes])
    found = least_squares(lag, start, diff_step=1e-4, max_nfev=40)
    place, turn, size = split(found.x)
    return place, turn, size
