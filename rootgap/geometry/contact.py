"""How the wall of a branch meets whatever it lands on.

Terminology
    generator   the line (straight branch) or arc (elbow branch) at clock `theta` and radius `rho`
                in the branch's wall
    height      station on the branch's centre line, mm, where a generator first meets the target

A straight branch on a cylinder has closed forms (geometry.saddle). Everything else, elbow branches
and bends, cones, planes and several bodies at once, is traced with certainty (geometry.tracing). Both
answer the same questions, so that a joint need not know which it holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.distance import Body
from rootgap.geometry.tracing import first_hits

Array = NDArray[np.float64]

#: Step, mm or radians, of differences that stand for derivatives.
_STEP = 1e-5
#: Radii over a wall at which the first to meet is looked for.
_RADII = 17


class Contact(Protocol):
    """Where a branch's generators meet a target. theta: (...), radians; rho: (...), mm; heights in mm."""

    def height(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return the heights, mm; nan where a generator passes the target."""
        ...

    def first_height(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the least height over the wall, mm."""
        ...

    def slope(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return d height / d rho, no unit."""
        ...

    def clearing_slope(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the largest slope, mm along the generators a mm of radius, nought at most, of a straight face
        from the height at `rho_in`, mm, that clears the target out to `rho_out`, mm."""
        ...

    def points(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return where the generators meet the target, (..., 3), mm."""
        ...

    def normals(self, points: Array) -> Array:
        """Return the target's outward unit normals at `points`, (..., 3)."""
        ...

    def edge_tangents(self, theta: ArrayLike, rho: float) -> Array:
        """Return unit tangents, (..., 3), of the edge that one radius makes on the target."""
        ...


class Generators(Protocol):
    """The wall of a branch as curves along its gas."""

    def points(self, theta: Array, rho: Array, station: Array) -> Array:
        """Return points, (n, 3), mm, at clocks `theta`, (n,), radians, radii and stations, (n,), mm."""
        ...

    def directions(self, theta: Array, station: Array) -> Array:
        """Return unit tangents of the generators, (n, 3)."""
        ...

    def pace(self, theta: Array, rho: Array) -> Array:
        """Return mm travelled per mm of station on the centre line, no unit; theta and rho broadcast."""
        ...


@dataclass(frozen=True, eq=False)
class Traced:
    """A branch of any kind against any body. wall: its generators; body: what they land on; reach: the
    farthest station that is looked at, mm; floor: gives stations, (n,), mm, at or before those at which the generators
    at clocks, (n,), radians, and radii, (n,), mm, first meet the body, to be looked at from; from the wall's start
    without one."""

    wall: Generators
    body: Body
    reach: float
    floor: Callable[[Array, Array], Array] | None = None

    def height(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return the heights, mm; nan where a generator passes the target within its reach."""
        theta, rho = np.broadcast_arrays(np.asarray(theta, dtype=np.float64), np.asarray(rho, dtype=np.float64))
        t, r = theta.ravel(), rho.ravel()
        pace = self.wall.pace(t, r)

        def curve(which: NDArray[np.intp], travel: Array) -> Array:
            return self.wall.points(t[which], r[which], travel / pace[which])

        starts = self.floor(t, r) if self.floor else np.zeros(len(t))
        travel = first_hits(curve, self.body, np.clip(starts, 0.0, self.reach) * pace, self.reach * pace)
        return (travel / pace).reshape(theta.shape)

    def first_height(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the least height over the wall, mm: the least of even radii, then the vertex of the
        parabola through it and its neighbours."""
        shape = np.shape(theta)
        theta = np.atleast_1d(np.asarray(theta, dtype=np.float64))
        rho = np.linspace(rho_in, rho_out, _RADII)
        heights = self.height(theta[:, None], rho)
        at = np.clip(np.argmin(heights, axis=1), 1, _RADII - 2)
        rows = np.arange(len(theta))
        low, middle, high = heights[rows, at - 1], heights[rows, at], heights[rows, at + 1]
        bend = low - 2.0 * middle + high
        shift = np.where(bend > 1e-12, 0.5 * (low - high) / np.where(bend > 1e-12, bend, 1.0), 0.0)
        vertex = rho[at] + np.clip(shift, -1.0, 1.0) * (rho[1] - rho[0])
        return np.fmin(self.height(theta, vertex), heights.min(axis=1)).reshape(shape)

    def slope(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return d height / d rho, no unit, by a difference towards the outside of the wall."""
        rho = np.asarray(rho, dtype=np.float64)
        return (self.height(theta, rho + _STEP) - self.height(theta, rho)) / _STEP

    def clearing_slope(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the largest slope, mm along the generators a mm of radius, nought at most, of a straight face
        that clears the target over the wall: the least chord from the height at `rho_in`, mm, over even radii."""
        shape = np.shape(theta)
        theta = np.atleast_1d(np.asarray(theta, dtype=np.float64))
        steps = np.linspace(0.0, rho_out - rho_in, _RADII)[1:]
        chords = (self.height(theta[:, None], rho_in + steps) - self.height(theta, rho_in)[:, None]) / steps
        # A straight face goes on by equal lengths, not by equal stations: round a bend these differ from radius to
        # radius.
        chords *= self.wall.pace(theta[:, None], rho_in + steps)
        root = self.slope(theta, rho_in) * self.wall.pace(theta, np.full(theta.shape, rho_in))
        return np.minimum(np.minimum(chords.min(axis=1), root), 0.0).reshape(shape)

    def points(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return where the generators meet the target, (..., 3), mm."""
        theta, rho = np.broadcast_arrays(np.asarray(theta, dtype=np.float64), np.asarray(rho, dtype=np.float64))
        height = self.height(theta, rho)
        return self.wall.points(theta.ravel(), rho.ravel(), height.ravel()).reshape((*theta.shape, 3))

    def normals(self, points: Array) -> Array:
        """Return the target's outward unit normals at `points`, (..., 3), by central differences."""
        flat = points.reshape(-1, 3)
        steps = _STEP * np.eye(3)
        slopes = [self.body.distance(flat + step) - self.body.distance(flat - step) for step in steps]
        normals = np.column_stack(slopes)
        return (normals / np.linalg.norm(normals, axis=1, keepdims=True)).reshape(points.shape)

    def edge_tangents(self, theta: ArrayLike, rho: float) -> Array:
        """Return unit tangents, (..., 3), of the edge that one radius makes on the target."""
        theta = np.asarray(theta, dtype=np.float64)
        lag = self.points(theta + _STEP, rho) - self.points(theta - _STEP, rho)
        return lag / np.linalg.norm(lag, axis=-1, keepdims=True)
