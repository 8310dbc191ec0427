"""The spike of a merge collector: a pyramid of sheet on the crotch of its legs' bores.

Terminology
    facet   one of its flat sides, over one leg; its inside is what this is measured by
    foot    where two facets meet on the bores, in the seam plane between their legs
    fold    the edge from the tip to a foot
    rim     the arc of an ellipse, from foot to foot, in which a facet stands on its leg's bore

The sheet lies outside its facets, towards the gas, and its edge is square: seen from a facet the bore widens
that way, so that only the inside's edge touches it. Two facets' sheets meet in the seam plane, which is the mitre
of their fold, and end square to the fold at its foot.

The crotch by itself is as sharp as the half-angle; the feet stand half way along the bores' rakes, from the crotch
out to where the bores first touch (common practice, no source: how far out is a matter of taste).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.development import smoothed
from rootgap.geometry.frames import Frame, unit
from rootgap.geometry.merging import farthest_back, leg_frame, seams_back
from rootgap.geometry.paths import Path

Array = NDArray[np.float64]

#: Points of a rim: their chords lie within 1e-4 mm of it.
_POINTS = 257
#: A facet that reaches farther down than this many folds all but runs along its leg (common practice, no source).
_MOST = 2.0
#: Halvings that bring a length to its last digits.
_HALVINGS = 40


@dataclass(frozen=True, eq=False)
class Pyramid:
    """A spike on `count` legs of bore radius `r_in`, mm. apex: where their axes meet; half_angle: degrees; length:
    of its tip past the bores' crotch, mm, along the gas; thickness: of its sheet, mm.

    Raises ValueError for fewer than three legs, and for no length or thickness. Whether it `stands` is asked of it.
    """

    apex: Frame
    count: int
    half_angle: float
    r_in: float
    length: float
    thickness: float

    def __post_init__(self) -> None:
        if self.count < 3:
            raise ValueError("two legs meet in an edge, on which no spike stands")
        if not (self.length > 0.0 and self.thickness > 0.0):
            raise ValueError("a spike needs a length and a thickness above 0 mm")

    @property
    def stands(self) -> bool:
        """Whether its facets come down on the bores well before they run along them."""
        middle = float(self.rim(np.pi)[1])
        return 0.0 < middle <= _MOST * self.fold_length

    @property
    def least_length(self) -> float:
        """The least length, mm, with which it would stand."""
        low, high = 0.0, max(self.length, 1.0)
        while not replace(self, length=high).stands:
            low, high = high, 2.0 * high
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (low, middle) if replace(self, length=middle).stands else (middle, high)
        return high

    @property
    def reach_back(self) -> float:
        """How far back from the apex, mm, along a leg, its rim reaches."""
        leg = leg_frame(self.apex, self.count, self.half_angle, 0, 0.0)
        return float(np.max((leg.origin - self.placed(0, self.flat())) @ leg.axis))

    @property
    def crotch(self) -> float:
        """Station, mm, on the collector's axis, below nought, at which the bores meet."""
        return float(-self.r_in / np.sin(np.radians(self.half_angle)))

    @property
    def tip(self) -> Frame:
        """The frame at its tip, inside, its axis along the gas."""
        return self.apex.advanced(self.crotch + self.length)

    @property
    def _foot(self) -> float:
        """Clock, radians, of a leg at which a facet's first foot stands."""
        return 0.5 * (np.pi + farthest_back(self.count, self.half_angle))

    @cached_property
    def _plane(self) -> tuple[Array, Array, Array]:
        """Unit directions of the first leg's facet: across, down from the tip, and out of it towards the gas."""
        leg, feet = leg_frame(self.apex, self.count, self.half_angle, 0, 0.0), np.array([1.0, -1.0]) * self._foot
        back = seams_back(self.count, self.half_angle, feet, self.r_in)
        ends = leg.origin + self.r_in * leg.radial(feet) - back[:, None] * leg.axis - self.tip.origin
        across, down = unit(ends[0] - ends[1]), unit(ends.sum(axis=0))
        return across, down, unit(np.cross(down, across))

    def rim(self, phi: ArrayLike) -> Array:
        """Return where the facet's plane meets the bore, (..., 2), mm, in the facet flat, its tip at (0, 0) and its
        middle down +y, at clocks `phi`, (...), radians, of the leg."""
        phi = np.asarray(phi, dtype=np.float64)
        across, down, out = self._plane
        leg = leg_frame(self.apex, self.count, self.half_angle, 0, 0.0)
        lag = leg.origin + self.r_in * leg.radial(phi) - self.tip.origin
        points = lag - ((lag @ out) / float(leg.axis @ out))[..., None] * leg.axis
        return np.stack([points @ across, points @ down], axis=-1)

    @property
    def half_turn(self) -> float:
        """Half the angle of a facet at the tip, radians."""
        x, y = self.rim(self._foot)
        return float(np.arctan2(x, y))

    @property
    def fold(self) -> float:
        """Angle, degrees, by which the sheet is folded between two facets."""
        out = self._plane[2]
        along = float(out @ self.apex.axis)
        # The next facet's normal is this one's, turned about the collector's axis.
        cos = along**2 + (1.0 - along**2) * float(np.cos(2.0 * np.pi / self.count))
        return float(np.degrees(np.arccos(np.clip(cos, -1.0, 1.0))))

    @property
    def outside_tip(self) -> float:
        """Distance, mm, from the tip inside to the tip outside, along the gas."""
        return float(self.thickness / (self._plane[2] @ self.apex.axis))

    @property
    def widening(self) -> float:
        """By how much, mm, the mitre moves a fold outwards on the outside of a facet's sheet."""
        return self.thickness * float(np.tan(0.5 * np.radians(self.fold)))

    def flat(self, *, points: int = _POINTS) -> Array:
        """Return a facet's inside laid flat, (points + 1, 2), mm: the tip, then its rim from foot to foot."""
        phi = np.linspace(self._foot, 2.0 * np.pi - self._foot, points)
        return np.vstack([(0.0, 0.0), self.rim(phi)])

    @property
    def mitred(self) -> Array:
        """The outside's corners in a facet laid flat, (3, 2), mm: the point of its two folds, and beside the first
        and the last foot the end of its fold."""
        foot = self.rim(self._foot)
        first = foot + self.widening * np.array([np.cos(self.half_turn), -np.sin(self.half_turn)])
        return np.array([(0.0, -self.widening / np.sin(self.half_turn)), first, first * (-1.0, 1.0)])

    def placed(self, number: int, flat: ArrayLike, depth: ArrayLike = 0.0) -> Array:
        """Return points of facet `number`'s flat, (..., 2), mm, `depth` mm out of it, in space, (..., 3), mm."""
        flat, depth = np.asarray(flat, dtype=np.float64), np.asarray(depth, dtype=np.float64)
        across, down, out = (self._turned(number, way) for way in self._plane)
        return self.tip.origin + flat[..., :1] * across + flat[..., 1:] * down + depth[..., None] * out

    def _turned(self, number: int, way: Array) -> Array:
        """Return the direction of the first leg's facet, (3,), as leg `number` has it."""
        turn, (x, y, z) = 2.0 * np.pi * number / self.count, self.apex.to_local(self.apex.origin + way)
        apex = self.apex
        return x * apex.radial(turn) + y * apex.radial(turn + 0.5 * np.pi) + z * apex.axis

    def facet(self, number: int, *, points: int = 65) -> Array:
        """Return the outline of leg `number`'s facet in space, (points + 1, 3), mm: the tip, then its rim from foot
        to foot."""
        return self.placed(number, self.flat(points=points))

    def fan(self, number: int, flat: ArrayLike) -> Array:
        """Return points, (..., 2), mm, of facet `number`'s flat as they lie in the fan of all facets, its outside up,
        the tip at (0, 0), the fan's middle on +y and facet 0 on its right."""
        turn = self.half_turn * (self.count - 1 - 2 * number)
        # Seen from outside, what follows clockwise along the gas lies on the left.
        x, y = np.moveaxis(np.asarray(flat, dtype=np.float64) * (-1.0, 1.0), -1, 0)
        return np.stack([x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)], axis=-1)

    def outline(self, tolerance: float) -> Path:
        """Return the closed outline of all facets laid flat, its rims arcs and lines within `tolerance` mm."""
        vertices: list[tuple[float, float, float]] = [(0.0, 0.0, 0.0)]
        # Each facet lies on the left of the one before it, and its rim is drawn towards there.
        rim = self.flat()[:0:-1]
        for number in range(self.count):
            arcs = smoothed(self.fan(number, rim), tolerance).vertices
            vertices += arcs if number == self.count - 1 else arcs[:-1]
        return Path(tuple(vertices), closed=True)

    def folds(self) -> list[Path]:
        """Return the lines that are folded in the fan, from the tip out."""
        foot = self.flat()[:2]
        return [Path.through(self.fan(number, foot)) for number in range(self.count - 1)]

    @property
    def fold_length(self) -> float:
        """Length of a fold, and so of the seam, mm, inside."""
        return float(np.hypot(*self.rim(self._foot)))

    @cached_property
    def rim_length(self) -> float:
        """Length of all rims, mm, inside."""
        rim = self.flat()[1:]
        return float(self.count * np.linalg.norm(np.diff(rim, axis=0), axis=1).sum())

    @cached_property
    def volume(self) -> float:
        """Metal volume, mm3.

        Source: at depth s a facet's section is its inside, a strip s tan(fold / 2) wide along either fold, and
        the kite between the two beyond the tip; elementary.
        """
        x, y = self.flat(points=8 * _POINTS).T
        inside = 0.5 * abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1)))
        t, wide = self.thickness, self.widening
        kite = wide**2 / float(np.tan(self.half_turn)) / 3.0
        return self.count * t * (inside + wide * self.fold_length + kite)
