"""Convex outlines by the direction of their outward normal.

A convex outline is a ring of arcs, each with the interval of directions that its normal sweeps;
a corner is an arc of no radius. Between an arc's end and the next one's start lies a *flat*: all
of it has one normal. So a point is found by direction, an outline is grown by adding to the
radii, and two outlines are blended by blending arcs (a Minkowski sum).

Source: R. Schneider, "Convex Bodies: The Brunn-Minkowski Theory", 2nd edition, Cambridge 2014,
sections 1.7 (support function) and 7.1 (sums: girth is linear, the root of the area concave).

Directions are radians anticlockwise from +x; points are complex numbers x + iy in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import GeometryError
from rootgap.geometry.paths import Circle, Path, Shape, arc_center

Array = NDArray[np.float64]
Points = NDArray[np.complex128]

#: radians. Directions nearer than this are one, and a smaller bend is no corner.
SAME = 1e-7
_LEAST = 1e-7  # mm: a shorter flat is none, for rounding may turn it
_TURN = 2.0 * np.pi


@dataclass(frozen=True, eq=False)
class Convex:
    """A convex outline, anticlockwise.

    starts: (k,), radians, ascending in 0 to 2 pi, where each arc begins; each ends where the next
    begins. centers: (k,), mm; radii: (k,), mm, 0 for a corner.
    """

    starts: Array
    centers: Points
    radii: Array

    def before(self, directions: Array) -> Points:
        """Return the points, (n,), mm, whose normals have `directions`, (n,), radians; of a flat its start."""
        return self._at(directions, -SAME)

    def after(self, directions: Array) -> Points:
        """Return the same points, (n,), mm, but of a flat its end."""
        return self._at(directions, SAME)

    def _at(self, directions: Array, nudge: float) -> Points:
        arc = np.searchsorted(self.starts, (directions + nudge) % _TURN, side="right") - 1
        return self.centers[arc] + self.radii[arc] * np.exp(1j * directions)

    @property
    def sweeps(self) -> Array:
        """The angle of each arc, (k,), radians."""
        return np.diff(np.append(self.starts, self.starts[0] + _TURN))

    @property
    def flats(self) -> Array:
        """Length of the flat that ends where each arc begins, (k,), mm."""
        return np.abs(np.roll(self.centers, 1) + (np.roll(self.radii, 1) - self.radii) * np.exp(1j * self.starts)
                      - self.centers)

    @property
    def girth(self) -> float:
        """Length of the outline, mm."""
        return float(self.flats.sum() + self.radii @ self.sweeps)

    @property
    def area(self) -> float:
        """Enclosed area, mm2."""
        return self.path().area

    @property
    def middle(self) -> complex:
        """Half way between the extremes in x and in y, mm."""
        axes = np.array([0.0, 0.5, 1.0, 1.5]) * np.pi
        east, north, west, south = self.after(axes)
        return complex((east.real + west.real) / 2, (north.imag + south.imag) / 2)

    def grown(self, by: float) -> Convex:
        """Return the outline `by` mm further out, further in where negative.

        Raises ValueError where an arc is tighter than that.
        """
        if self.radii.min() + by < -_LEAST:
            tightest = float(self.radii.min())
            raise ValueError(f"outline: its tightest corner has radius {tightest:g} mm; allowed: {-by:g} or more")
        return Convex(self.starts, self.centers, np.maximum(self.radii + by, 0.0))

    def moved(self, by: complex) -> Convex:
        """Return the outline moved by `by` mm."""
        return Convex(self.starts, self.centers + by, self.radii)

    def path(self) -> Path:
        """Return the outline as a closed path of lines and arcs, mm."""
        ends = np.append(self.starts[1:], self.starts[0] + _TURN)
        vertices: list[tuple[complex, float]] = []
        for start, end, center, radius in zip(self.starts, ends, self.centers, self.radii, strict=True):
            first, last = center + radius * np.exp(1j * np.array([start, end]))
            if radius > _LEAST:
                vertices += [(first, float(np.tan((end - start) / 4.0))), (last, 0.0)]
            else:
                vertices.append((center, 0.0))
        following = vertices[1:] + vertices[:1]
        kept = [(point, bulge) for (point, bulge), (nxt, _) in zip(vertices, following, strict=True)
                if abs(nxt - point) > _LEAST]
        return Path(tuple((float(z.real), float(z.imag), bulge) for z, bulge in kept), closed=True)


def convex(shape: Shape) -> Convex:
    """Return `shape`, a circle or a closed path, as an outline by directions.

    Raises GeometryError where the path is open, has no area or turns inwards anywhere.

    >>> square = convex(Path.through([(-1, -1), (1, -1), (1, 1), (-1, 1)], closed=True))
    >>> square.girth, square.grown(1.0).girth - 2 * np.pi
    (8.0, 8.0)
    """
    if isinstance(shape, Circle):
        center = complex(*shape.center)
        return Convex(np.array([0.0, np.pi]), np.array([center, center]), np.full(2, shape.radius))
    if not shape.closed or abs(shape.area) <= _LEAST:
        raise GeometryError("outline", "is no closed line round an area", "give all of its rim")
    arcs: list[tuple[float, complex, float]] = []
    segments = [(complex(*start), complex(*end), bulge) for start, end, bulge in shape.segments()]
    if shape.area < 0:
        segments = [(end, start, -bulge) for start, end, bulge in reversed(segments)]
    lines = [(start, end, bulge) for start, end, bulge in segments if abs(end - start) > _LEAST]
    heading = _leaving(*lines[-1], at_end=True)
    first, before = heading, abs(lines[-1][1] - lines[-1][0])
    for start, end, bulge in lines:
        bend = _bend(heading, _leaving(start, end, bulge, at_end=False))
        # An end that is off by _LEAST turns a short segment by as much as this.
        unsure = SAME + 4.0 * _LEAST / min(before, abs(end - start))
        before = abs(end - start)
        if bend < -unsure or bulge < 0.0:
            raise GeometryError(
                "outline", f"turns inwards at ({start.real:.3f}, {start.imag:.3f}) mm",
                "sheet cannot be rolled to it without stretch; give its outline without the hollow, or form it",
            )
        if bend > SAME:
            arcs.append((heading, start, 0.0))
        heading += bend
        if bulge > 0.0:
            x, y = arc_center((start.real, start.imag), (end.real, end.imag), bulge)
            radius, sweep = abs(start - complex(x, y)), 4.0 * np.arctan(bulge)
            # In halves, so that no arc is longer than half a turn.
            arcs += [(heading, complex(x, y), radius), (heading + sweep / 2, complex(x, y), radius)]
            heading += sweep
    if abs(heading - first - _TURN) > 1e-6:
        raise GeometryError("outline", "crosses itself", "give its rim once round")
    starts = (np.maximum.accumulate([start for start, _, _ in arcs]) - np.pi / 2) % _TURN
    starts[_TURN - starts < SAME] = 0.0
    return _ring(starts, np.array([center for _, center, _ in arcs]), np.array([radius for *_, radius in arcs]))


def blended(first: Convex, last: Convex, share: float) -> Convex:
    """Return the outline `share` (no unit, 0 to 1) of the way from `first` to `last`: points of equal
    normal are joined by straight lines, and each outline in between is again lines and arcs."""
    starts = np.concatenate([first.starts, last.starts])
    starts = np.sort(starts)
    starts = starts[np.diff(starts, prepend=-1.0) > SAME]
    one, other = (np.searchsorted(item.starts, (starts + 2 * SAME) % _TURN, side="right") - 1 for item in (first, last))
    return Convex(
        starts,
        (1.0 - share) * first.centers[one] + share * last.centers[other],
        (1.0 - share) * first.radii[one] + share * last.radii[other],
    )


def _ring(starts: Array, centers: Points, radii: Array) -> Convex:
    order = np.argsort(starts, kind="stable")
    return Convex(starts[order], centers[order], radii[order])


def _leaving(start: complex, end: complex, bulge: float, *, at_end: bool) -> float:
    """Return the direction of travel at an end of a segment, radians."""
    half = 2.0 * float(np.arctan(bulge))
    return float(np.angle(end - start)) + (half if at_end else -half)


def _bend(before: float, after: float) -> float:
    """Return the turn from one direction of travel to the next, radians, -pi to pi."""
    return float((after - before + np.pi) % _TURN - np.pi)
