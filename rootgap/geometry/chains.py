"""Chains of straights and elbows, many at once: where they lead, and how that moves with each of their figures.

Terminology
    chain      straight, elbow, straight and so on: k elbows and k + 1 straights, some of which are of no length
    figures    of a chain, (3 k + 1,): length, clock, angle, length and so on along it, mm and radians
    motion     how a rigid body that follows moves with one figure: turned by `turn` a unit of it about the
               origin, and shifted by `shift`
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import Frame, cross

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Places:
    """Places along every chain. pieces: (n,), 0 for the first straight, 1 for the first elbow and so on; shares:
    (n,), of the piece's length, no unit."""

    pieces: NDArray[np.intp]
    shares: Array

    @cached_property
    def groups(self) -> NDArray[np.intp]:
        """Where each piece's places begin, (2 k + 1,)."""
        return np.flatnonzero(np.diff(self.pieces, prepend=-1))

    @classmethod
    def even(cls, elbows: int, on_straight: int, on_elbow: int) -> Places:
        """Return so many places on each piece of chains with that many `elbows`, in the middles of equal parts."""
        counts = [on_elbow if piece % 2 else on_straight for piece in range(2 * elbows + 1)]
        shares = [(np.arange(count) + 0.5) / count for count in counts]
        return cls(np.repeat(np.arange(len(counts)), counts), np.concatenate(shares))


@dataclass(frozen=True, eq=False)
class Chains:
    """b chains of k elbows from one pose. radii: (b, k), of the elbows' centre lines, mm; figures: (b, 3 k + 1)."""

    start: Frame
    radii: Array
    figures: Array

    @property
    def elbows(self) -> int:
        """How many elbows each has."""
        return self.radii.shape[1]

    @property
    def lengths(self) -> Array:
        """Lengths of the straights, (b, k + 1), mm."""
        return self.figures[:, 0::3]

    @property
    def clocks(self) -> Array:
        """Clocks of the elbows, (b, k), radians, of the frame carried there."""
        return self.figures[:, 1::3]

    @property
    def angles(self) -> Array:
        """Angles of the elbows, (b, k), radians."""
        return self.figures[:, 2::3]

    @property
    def length(self) -> Array:
        """Lengths of the centre lines, (b,), mm."""
        return self.lengths.sum(axis=1) + (self.radii * self.angles).sum(axis=1)

    @cached_property
    def _carried(self) -> tuple[Array, ...]:
        """Of every elbow the point and axis at its start and its end, (b, k, 3), its normal and its centre; and of
        the chains' ends the point and axis, (b, 3)."""
        begins, axes, ends, leaves, normals, centres = carried = np.empty((6, *self.radii.shape, 3))
        about, turned = ((np.cos(each)[..., None], np.sin(each)[..., None]) for each in (self.clocks, self.angles))
        point, axis, ref = self.start.origin, np.broadcast_to(self.start.axis, (len(self.radii), 3)), self.start.ref
        for j in range(self.elbows):
            (cos, sin), (ahead, aside) = (part[:, j] for part in about), (part[:, j] for part in turned)
            side, axes[:, j] = cross(axis, ref), axis
            towards, normals[:, j] = cos * ref + sin * side, cos * side - sin * ref
            begins[:, j] = point + self.lengths[:, j, None] * axis
            centres[:, j] = begins[:, j] + self.radii[:, j, None] * towards
            leaves[:, j] = ahead * axis + aside * towards
            inwards = ahead * towards - aside * axis
            ends[:, j] = point = centres[:, j] - self.radii[:, j, None] * inwards
            ref, axis = cos * inwards - sin * normals[:, j], leaves[:, j]
        return *carried, point + self.lengths[:, -1, None] * axis, axis

    @property
    def end(self) -> tuple[Array, Array]:
        """The points, mm, and the axes where the chains end, (b, 3) each."""
        *_, point, axis = self._carried
        return point, axis

    @property
    def directions(self) -> Array:
        """The axes of the straights, (b, k + 1, 3)."""
        _, axis, _, _, _, _, _, last = self._carried
        return np.concatenate([axis, last[:, None]], axis=1)

    @cached_property
    def motions(self) -> tuple[Array, Array]:
        """How what follows moves with each figure: turn and shift, (b, 3 k + 1, 3) each, about the origin.

        A clock turns what follows about the elbow's start, and the frame carried there back about its end.
        """
        begins, axis, ends, leaves, normal, centre, _, last = self._carried
        turn, shift = np.zeros((2, *self.figures.shape, 3))
        shift[:, 0:-1:3], shift[:, -1] = axis, last
        turn[:, 1::3] = axis - leaves
        shift[:, 1::3] = cross(leaves, ends) - cross(axis, begins)
        turn[:, 2::3] = normal
        shift[:, 2::3] = -cross(normal, centre)
        return turn, shift

    def stations(self, places: Places) -> Array:
        """Return how far along the centre lines, (b, n), mm, `places` are."""
        spans = np.empty((len(self.radii), 2 * self.elbows + 1))
        spans[:, 0::2], spans[:, 1::2] = self.lengths, self.radii * self.angles
        ends = np.cumsum(spans, axis=1)
        return ends[:, places.pieces] - (1.0 - places.shares) * spans[:, places.pieces]

    def points(self, places: Places) -> Array:
        """Return the points, (b, n, 3), mm, of the centre lines at `places`."""
        begins, _, ends, _, normal, centre, _, _ = self._carried
        directions = self.directions
        from_ = np.concatenate([np.broadcast_to(self.start.origin, (len(self.radii), 1, 3)), ends], axis=1)
        out = np.empty((len(self.radii), len(places.pieces), 3))
        for piece in range(2 * self.elbows + 1):
            here = np.flatnonzero(places.pieces == piece)
            share, j = places.shares[here], piece // 2
            if piece % 2 == 0:
                along = share * self.lengths[:, j, None]
                out[:, here] = from_[:, j, None] + along[..., None] * directions[:, j, None]
                continue
            turned = (share * self.angles[:, j, None])[..., None]
            middle, spoke = centre[:, j, None], (begins[:, j] - centre[:, j])[:, None]
            out[:, here] = middle + np.cos(turned) * spoke + np.sin(turned) * cross(normal[:, j, None], spoke)
        return out

    def point_motions(self, places: Places, chosen: NDArray[np.intp], points: Array) -> Array:
        """Return how points, (b, m, 3), mm, of the centre lines, at the places numbered `chosen`, (b, m), move with
        each figure: (b, m, 3 k + 1, 3), mm a mm or a radian."""
        turn, shift = self.motions
        begins, axis = self._carried[:2]
        pieces, shares = places.pieces[chosen], places.shares[chosen]
        figure = np.arange(self.figures.shape[1])
        first = 3 * (pieces // 2) + np.where(pieces % 2, 1, 0)
        moved = cross(turn[:, None], points[:, :, None]) + shift[:, None]
        moved = moved * (figure < first[..., None])[..., None]
        rows, columns = np.arange(pieces.shape[0])[:, None], np.arange(pieces.shape[1])
        last = first + np.where(pieces % 2, 1, 0)
        own = cross(turn[rows, last], points) + shift[rows, last]
        moved[rows, columns, last] = shares[..., None] * own
        at, column = np.nonzero(pieces % 2)
        bent = at, column
        which = pieces[bent] // 2
        moved[at, column, first[bent]] = cross(axis[at, which], points[bent] - begins[at, which])
        return moved
