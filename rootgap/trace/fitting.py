"""Openings and outlines fitted to edge points by the least squares of their distances, dirt left out.

Terminology:

    miss       signed distance of an edge point from a fitted rim, mm, positive outside
    scatter    what the misses of sound points are, as a robust standard deviation, mm
    misfit     the distance that 90 of 100 points keep to, mm: the measure of whether a kind is the right one
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.openings import Dee, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.paths import Circle, Shape, arc_center

Array = NDArray[np.float64]
Kind = Literal["round", "oval", "rounded", "dee"]

#: An opening is of a kind where its misfit is at most this, mm; else the kind is only the nearest.
TOLERANCE = 0.3
#: Neighbouring points see the same blur and the same burr: as many count as one (common practice, no source).
ALIKE = 6.0
#: A kind with more figures must leave less than this share of the scatter of a simpler one.
SIMPLER = 0.8
#: Scatter, mm, below which one kind is as good as another.
FLOOR = 0.02
MOST_FITTED = 240


def signed_distance(shape: Shape, points: Array) -> Array:
    """Return the distance of `points` (n, 2) from a closed rim that runs anticlockwise, (n,), mm, positive outside.

    >>> signed_distance(Circle((0.0, 0.0), 10.0), np.array([[12.0, 0.0], [0.0, 9.0]])).tolist()
    [2.0, -1.0]
    """
    if isinstance(shape, Circle):
        return np.hypot(points[:, 0] - shape.center[0], points[:, 1] - shape.center[1]) - shape.radius
    nearest = np.full(len(points), np.inf)
    signed = np.full(len(points), np.inf)
    for start, end, bulge in shape.segments():
        off, side = (_from_arc if bulge else _from_line)(points, start, end, bulge)
        nearer = off < nearest
        nearest = np.where(nearer, off, nearest)
        signed = np.where(nearer, np.where(side, off, -off), signed)
    return signed


def _from_line(
    points: Array, start: tuple[float, float], end: tuple[float, float], _bulge: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Return the distance of points from a line, mm, and whether they are on its right, which is outside."""
    a, along = np.array(start), np.subtract(end, start)
    off = points - a
    t = np.clip((off @ along) / float(along @ along), 0.0, 1.0)
    away = off - t[:, None] * along
    return np.hypot(away[:, 0], away[:, 1]), along[0] * off[:, 1] - along[1] * off[:, 0] < 0.0


def _from_arc(
    points: Array, start: tuple[float, float], end: tuple[float, float], bulge: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Return the distance of points from an arc, mm, and whether they are outside of it."""
    center = np.array(arc_center(start, end, bulge))
    first, last = np.subtract(start, center), np.subtract(end, center)
    radius = float(np.hypot(*first))
    middle = -np.sign(bulge) * np.array([-(last - first)[1], (last - first)[0]])
    off = points - center
    far = np.hypot(off[:, 0], off[:, 1])
    # Within half the sweep of the arc's middle direction.
    cosine = off @ (middle / np.hypot(*middle)) / np.maximum(far, 1e-12)
    within = cosine >= np.cos(2.0 * abs(np.arctan(bulge))) - 1e-9
    outside = (far > radius) == (bulge > 0.0)
    to_ends = np.minimum(np.hypot(*(off - first).T), np.hypot(*(off - last).T))
    return np.where(within, np.abs(far - radius), to_ends), outside


#: The shapes that an opening is recognised as.
Recognised = Round | RoundedRectangle | Oval | Dee


@dataclass(frozen=True, eq=False)
class Fit:
    """An opening fitted to its edge.

    at: its centre, mm; angle: its turn, degrees; points: of the edge, (n, 2), mm; misses: theirs, mm; scatter: mm;
    place: standard uncertainty of its centre from scatter alone, mm.
    """

    kind: Kind
    opening: Recognised
    at: tuple[float, float]
    angle: float
    points: Array
    misses: Array
    scatter: float
    place: float

    @property
    def misfit(self) -> float:
        """The distance that 90 of 100 points keep to, mm."""
        return float(np.quantile(np.abs(self.misses), 0.90))

    @property
    def fits(self) -> bool:
        """Whether the opening is of its kind, within TOLERANCE."""
        return self.misfit <= TOLERANCE

    @property
    def shape(self) -> Shape:
        """The rim, mm."""
        return placed(self.opening.shape(), self.at, self.angle)


def fitted(points: Array) -> Fit:
    """Return the simplest kind of opening that the edge points (n, 2), mm, leave little scatter to."""
    some = points[:: max(1, len(points) // MOST_FITTED)]
    best = _fit("round", some, points)
    for kind in ("oval", "rounded", "dee"):
        if best.scatter <= 1.5 * FLOOR and best.fits:
            break
        other = _fit(kind, some, points)
        if _worth(other) < SIMPLER * _worth(best):
            best = other
    return best


def fitted_round(points: Array) -> Fit:
    """Return the circle through the edge points (n, 2), mm."""
    return _fit("round", points[:: max(1, len(points) // MOST_FITTED)], points)


def _worth(fit: Fit) -> float:
    """Return what a kind leaves, mm: of the sound points and of the others."""
    return float(np.hypot(max(fit.scatter, FLOOR), 0.3 * np.sqrt(np.mean(np.square(np.clip(fit.misses, -1.5, 1.5))))))


def _fit(kind: Kind, some: Array, points: Array) -> Fit:
    best: tuple[float, Array, Array] | None = None

    def misses(figures: Array) -> Array:
        opening, at, angle = _made(kind, figures)
        return signed_distance(placed(opening.shape(), at, angle), some)

    for start in _starts(kind, some):
        figures, spread = least_squares(misses, start)
        left = float(np.mean(np.minimum(np.abs(misses(figures)), 2.0)))
        if best is None or left < best[0]:
            best = left, figures, spread
    assert best is not None  # noqa: S101  every kind has a start
    opening, at, angle = _made(kind, best[1])
    all_ = signed_distance(placed(opening.shape(), at, angle), points)
    return Fit(kind, opening, at, angle, points, all_, scatter_of(all_), float(np.hypot(*best[2][:2])))


def scatter_of(misses: Array) -> float:
    """Return the robust standard deviation of misses, mm, about 0."""
    return 1.4826 * float(np.median(np.abs(misses)))


def least_squares(
    misses: Callable[[Array], Array], start: Array, rounds: int = 14, step: float = 1e-3
) -> tuple[Array, Array]:
    """Return the figures that leave the least of `misses`, mm, and their standard uncertainties, in their units.

    Gauss-Newton with damping, on misses weighed down with their size over the scatter (the biweight of
    J. W. Tukey), so that dirt on an edge does not move it. step: for slopes, in the figures' units.
    """
    figures = np.array(start, dtype=np.float64)
    now = misses(figures)
    damping = 1e-3
    normal = np.eye(len(figures))
    scatter = 0.0
    for turn in range(rounds):
        # The first rounds bring a rough start near before anything is called dirt.
        scatter = max(scatter_of(now), FLOOR if turn > 2 else 0.5)
        weights = np.square(np.clip(1.0 - np.square(now / (5.0 * scatter)), 0.0, 1.0))
        slopes = np.empty((len(now), len(figures)))
        for k in range(len(figures)):
            moved = figures.copy()
            moved[k] += step
            slopes[:, k] = (misses(moved) - now) / step
        normal = slopes.T @ (weights[:, None] * slopes)
        down = slopes.T @ (weights * now)
        before = _loss(now, scatter)
        for _ in range(6):
            trial = figures - np.linalg.lstsq(normal + damping * np.diag(np.diag(normal) + 1e-9), down, rcond=None)[0]
            then = misses(trial)
            if _loss(then, scatter) <= before:
                moved_by = float(np.abs(trial - figures).max())
                figures, now, damping = trial, then, 0.3 * damping
                break
            damping *= 8.0
        else:
            moved_by = 0.0
        if moved_by < 1e-4 and turn > 3:
            break
    spread = scatter_of(now) * np.sqrt(ALIKE * np.abs(np.diag(np.linalg.pinv(normal))))
    return figures, spread


def _loss(misses: Array, scatter: float) -> float:
    return float(np.sum(1.0 - np.clip(1.0 - np.square(misses / (5.0 * scatter)), 0.0, 1.0) ** 3))


def _made(kind: Kind, figures: Array) -> tuple[Recognised, tuple[float, float], float]:
    """Return the opening of the figures (x, y[, angle, width, height[, radius]]), those that cannot be, clipped."""
    at = float(figures[0]), float(figures[1])
    if kind == "round":
        return Round(max(0.1, float(figures[2]))), at, 0.0
    angle, wide, high = float(figures[2]), max(0.2, float(figures[3])), max(0.2, float(figures[4]))
    if kind == "oval":
        return Oval(wide, high), at, angle
    most = 0.5 * min(wide, high)
    if kind == "rounded":
        return RoundedRectangle(wide, high, float(np.clip(figures[5], 0.0, most))), at, angle
    return Dee(wide, high, float(np.clip(figures[5], 0.0, 0.98 * most))), at, angle


def _starts(kind: Kind, points: Array) -> Iterable[Array]:
    import cv2

    (x, y), (wide, high), angle = cv2.minAreaRect(points.astype(np.float32))
    if kind == "round":
        yield np.array([x, y, 0.5 * (wide + high)])
    elif kind == "oval":
        # A square box does not tell which way an oval lies: the second moments do.
        turns = (angle,) if abs(wide - high) > 0.1 * max(wide, high) else (angle, angle + 45.0)
        for turn in turns:
            yield (
                np.array([x, y, turn, max(wide, high), min(wide, high)])
                if wide >= high
                else np.array([x, y, turn + 90.0, high, wide])
            )
    elif kind == "rounded":
        for turn in (0.0, 45.0) if abs(wide - high) < 0.1 * max(wide, high) else (0.0,):
            yield np.array([x, y, angle + turn, wide, high, 0.25 * min(wide, high)])
    else:
        for quarter in range(4):
            w, h = (wide, high) if quarter % 2 == 0 else (high, wide)
            yield np.array([x, y, angle + 90.0 * quarter, w, h, 0.15 * min(wide, high)])
