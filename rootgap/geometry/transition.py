"""From a port's shape to round: made of sheet, or by forming the pipe's own end.

Made of sheet, points of equal outward normal on the two rims are joined by straight lines. Both
rims lie in planes square to the axis, so that along each such line the sheet touches one plane:
the surface is *developable*, it is rolled and folded without stretch, and its flat is exact.
Points of equal arc length would give a twisted surface, which no sheet takes without dishing.
The flats of a port become flat triangles, its corners parts of slanting cones.

Each section along the way is the blend of the two rims; its girth runs in a straight line from
one to the other and the root of its area is concave, so such a transition has no pinch below its
smaller end.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.errors import GeometryError
from rootgap.geometry.convex import SAME, Convex, Points, blended, convex
from rootgap.geometry.development import Development, developed
from rootgap.geometry.paths import Path, Point, Shape

Array = NDArray[np.float64]

#: radians. Spacing of rulings: on a radius of 50 mm their chords lie 0.002 mm inside the curve.
SPACING = np.radians(1.0)
#: degrees. How far a formed end's walls may lean from the pipe's (common practice, no source).
LEAN = 15.0
#: A formed end is worked over at least this share of the outside diameter (common practice, no source).
LEAST_WORKED = 0.5


@dataclass(frozen=True, eq=False)
class Transition:
    """A sheet passage between two rims. start, end: bores, the end's moved to where it stands;
    length: mm between their planes; wall: thickness of the sheet, mm."""

    start: Convex
    end: Convex
    length: float
    wall: float

    def section(self, share: float) -> Path:
        """Return the bore `share` (no unit, 0 to 1) of the way along, mm."""
        return blended(self.start, self.end, share).path()

    def areas(self, shares: ArrayLike) -> Array:
        """Return the bore areas, (n,), mm2, at `shares` of the way, (n,), no unit."""
        return np.array([self.section(float(share)).area for share in np.atleast_1d(shares)])

    def girths(self, shares: ArrayLike) -> Array:
        """Return the bore girths, (n,), mm, at `shares` of the way, (n,), no unit."""
        return np.array([blended(self.start, self.end, float(share)).girth for share in np.atleast_1d(shares)])

    @cached_property
    def least_area(self) -> tuple[float, float]:
        """The smallest bore area, mm2, and the share of the way where it is: always an end."""
        first, last = self.start.area, self.end.area
        return (first, 0.0) if first <= last else (last, 1.0)

    @cached_property
    def largest_lean(self) -> float:
        """The steepest the wall gets to the axis, degrees."""
        directions = np.arange(0.0, 2.0 * np.pi, SPACING)
        return float(np.degrees(np.arctan(np.abs(self._rise(directions)).max())))

    def _rise(self, directions: Array) -> Array:
        """Return how far the wall moves out for each mm of length, (n,), no unit."""
        step = self.end.after(directions) - self.start.after(directions)
        return (step * np.exp(-1j * directions)).real / self.length

    def directions(self, seam: float, spacing: float = SPACING) -> Array:
        """Return the directions of the rulings, (n,), radians, from `seam` degrees once round: a
        grid of `spacing` radians and the ends of all arcs."""
        first = np.radians(seam)
        count = int(np.ceil(2.0 * np.pi / spacing))
        grid = 2.0 * np.pi * np.arange(count) / count
        arcs = (np.concatenate([self.start.starts, self.end.starts]) - first) % (2.0 * np.pi)
        away = np.abs(arcs[:, None] - np.append(grid, 2.0 * np.pi)).min(axis=1) > 4.0 * SAME
        # An arc's end takes the place of a grid line beside it.
        turns = np.unique(np.round(np.concatenate([grid, arcs[away]]), 12))
        return first + turns

    def rims(self, seam: float, spacing: float = SPACING, depth: float = 0.5) -> tuple[Array, Array, Array]:
        """Return matching points on start and end, (n, 3), mm, z along the way, and directions, (n,), radians.

        seam: direction of the first ruling, degrees; on a flat it starts from the flat's middle.
        depth: how far into the sheet's thickness, 0 to 1: its middle, which keeps its length, is 0.5.

        The bores are those of the rims' own planes; the sheet leans, so its middle is off them by
        more than half a wall: the plane of each ruling is moved square to itself. The ruling is not slid
        along in it, so that all of a flat moves alike, and a corner that ends one stays one.
        """
        angle = self.directions(seam, spacing)
        low_before, low_after = self.start.before(angle), self.start.after(angle)
        high_before, high_after = self.end.before(angle), self.end.after(angle)
        flat = (np.abs(low_after - low_before) > 1e-9) | (np.abs(high_after - high_before) > 1e-9)
        flat[0] = False
        # Two rulings where a flat lies between them, else one; at the seam the middle of both.
        low = np.column_stack([low_before, low_after])
        high = np.column_stack([high_before, high_after])
        low[0, 1], high[0, 1] = low[0].mean(), high[0].mean()
        wanted = np.column_stack([flat, np.ones_like(flat)])
        first_flat = abs(low_after[0] - low_before[0]) + abs(high_after[0] - high_before[0]) > 1e-9
        directions = np.repeat(angle, 2).reshape(-1, 2)[wanted]
        low, high = low[wanted], high[wanted]
        if first_flat:
            ends = ((low_after, low_before), (high_after, high_before))
            (a, b), (c, d) = ((pair[0][0], pair[1][0]) for pair in ends)
            low, high = np.concatenate([low[:1], [a], low[1:], [b]]), np.concatenate([high[:1], [c], high[1:], [d]])
            directions = np.concatenate([directions[:1], directions[:1], directions[1:], directions[:1] + 2.0 * np.pi])
        shift = self.off(low, high, directions, depth) * np.exp(1j * directions)
        return self._space(low + shift, 0.0), self._space(high + shift, self.length), directions

    def off(self, low: Points, high: Points, directions: Array, depth: float) -> Array:
        """Return how far, mm, (n,), the sheet at `depth` (no unit, 0 to 1) into its thickness lies off its
        bore in the planes of both rims, along the rims' normals.

        low, high: (n,), mm, matching points of the bore's rims; directions: (n,), radians, of their normals.
        """
        rise = ((high - low) * np.exp(-1j * directions)).real / self.length
        return depth * self.wall * np.sqrt(1.0 + rise**2)

    def flat(self, seam: float = 0.0, spacing: float = SPACING) -> tuple[Development, Array]:
        """Return the sheet's middle laid flat, outside up, and the direction of each ruling,
        (n + 1,), radians. seam: degrees; spacing: radians."""
        low, high, directions = self.rims(seam, spacing)
        return developed(low, high), np.append(directions, directions[0] + 2.0 * np.pi)

    @staticmethod
    def _space(z: NDArray[np.complex128], height: float) -> Array:
        return np.column_stack([z.real, z.imag, np.full(len(z), height)])


def transition(start: Shape, end: Shape, length: float, wall: float, offset: Point = (0.0, 0.0)) -> Transition:
    """Return the sheet passage from bore `start` to bore `end`, `length` mm on and moved by `offset` mm.

    wall: thickness of the sheet, mm. Raises ValueError where length or wall is not positive, and
    GeometryError where a rim turns inwards: sheet does not go there without stretch.

    >>> from rootgap.geometry.openings import Oval, Round
    >>> made = transition(Oval(50, 30).shape(), Round(40.9).shape(), 60, 2.0)
    >>> [round(float(area), 1) for area in made.areas([0, 0.5, 1])]
    [1306.9, 1341.5, 1313.8]
    """
    if not (length > 0 and wall > 0):
        raise ValueError(f"transition: length {length:g} mm, wall {wall:g} mm; allowed: more than 0")
    return Transition(convex(start), convex(end).moved(complex(*offset)), length, wall)


@dataclass(frozen=True)
class Formed:
    """A pipe's own end worked to a port's shape.

    port: the opening; bore: what the end's bore becomes; outside: what its outside becomes: the hole
    to cut in a flange that it goes through (clearance to be added); od, wall: of the pipe, mm.
    """

    port: Shape
    bore: Path
    outside: Path
    od: float
    wall: float

    @property
    def former(self) -> Path:
        """The outline of a former to drive into the end, mm: the bore to be made."""
        return self.bore

    @property
    def pipe_girth(self) -> float:
        """Girth of the pipe's bore, mm."""
        return float(np.pi * (self.od - 2.0 * self.wall))

    @property
    def girth(self) -> float:
        """Girth of the bore to be made, mm."""
        return self.bore.length

    @property
    def difference(self) -> float:
        """How much longer the girth must get, mm; negative where it must shrink."""
        return self.girth - self.pipe_girth

    @property
    def stretch(self) -> float:
        """The same as a share of the girth of the wall's middle, no unit: the metal's strain.

        Bore, middle and outside girths of a bent wall differ by the same pi t in any shape, so
        the difference is that of the bores.
        """
        return self.difference / float(np.pi * (self.od - self.wall))

    @property
    def equal_round(self) -> float:
        """Diameter of the round bore that has the same girth, mm: the pipe that needs no stretch."""
        return self.girth / float(np.pi)

    @property
    def area(self) -> float:
        """Area of the bore to be made, mm2."""
        return abs(self.bore.area)

    @property
    def equal_round_area(self) -> float:
        """Area of the round bore of the same girth, mm2: the most that this girth encloses."""
        return float(np.pi / 4) * self.equal_round**2

    @property
    def area_change(self) -> float:
        """Area of the bore to be made against the pipe's, as a share, no unit; negative where smaller."""
        return self.area / float(np.pi / 4 * (self.od - 2.0 * self.wall) ** 2) - 1.0

    @property
    def largest_move(self) -> float:
        """The furthest that any wall line moves in or out, mm, with pipe and port about one middle."""
        outline = convex(self.bore)
        directions = np.arange(0.0, 2.0 * np.pi, SPACING)
        reach = ((outline.before(directions) - outline.middle) * np.exp(-1j * directions)).real
        return float(np.abs(reach - (self.od / 2.0 - self.wall)).max())

    @property
    def worked(self) -> float:
        """How far in the end must be worked, mm: until no wall leans more than LEAN degrees, and at
        least LEAST_WORKED outside diameters. Common practice, no source."""
        return max(LEAST_WORKED * self.od, self.largest_move / float(np.tan(np.radians(LEAN))))


def formed(port: Shape, od: float, wall: float, sits: Literal["on", "in"] = "on") -> Formed:
    """Return the end of a pipe of `od` and `wall`, mm, worked to `port`.

    sits: "on" where the end's bore is to meet the port's rim, "in" where its outside is to fill it;
    then the bore is the port less the wall.

    Raises GeometryError where the port turns inwards, or its corners are tighter than the wall
    that is to lie in them.

    >>> from rootgap.geometry.openings import Oval
    >>> end = formed(Oval(50, 30).shape(), 48.3, 2.8)
    >>> round(end.girth, 1), round(end.equal_round, 1), round(end.area), round(end.equal_round_area)
    (134.2, 42.7, 1307, 1434)
    """
    rim = convex(port)
    if sits == "in":
        try:
            bore, outside = rim.grown(-wall), rim
        except ValueError:
            raise GeometryError(
                "formed end", f"the port's tightest corner, radius {rim.radii.min():g} mm, is tighter than "
                f"the wall of {wall:g} mm that is to lie in it", "open the corner, or let the end sit on the port",
            ) from None
    else:
        bore, outside = rim, rim.grown(wall)
    return Formed(port, bore.path(), outside.path(), od, wall)
