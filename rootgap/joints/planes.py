"""The end of a straight pipe cut by planes, with its wall in it.

Terminology
    plane       a half space that the pipe may not enter: its neighbour's side of a mitre
    member      one generator radius against one plane: its height is c - p cos(theta) - q sin(theta)
    square      cut square to the pipe's surface: nothing of the wall passes a plane
    bevel       the bore edge lies on the planes all round; the outside is ground back to clear
    flat        sawn or ground in the planes themselves: bore and outside both lie on them

A height is the station, mm, where a generator first meets a plane: the least of its members, and so a
concave function of the radius. The first radius to meet is therefore an end of the wall, and a face
straight from the bore's height to the outside's clears every plane. All of it is closed form.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.quadrature import gauss
from rootgap.geometry.sampling import sign_changes
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import MOST_GRIND, Bevel, Ground, Section, checked, face_radii, schedule

Array = NDArray[np.float64]
Prep = Literal["square", "bevel", "flat"]

#: A generator closer to parallel to a plane than this, as a sine, has no height on it.
PARALLEL = 1e-3
#: Two heights, mm, within this of each other are one.
_SAME = 1e-9
#: Spans between corners are integrated with so many nodes: ellipse arcs to the last digits.
_NODES, _WEIGHTS = gauss(48)
#: Longest span, radians, that is integrated in one go.
_SPAN = 0.25 * np.pi


@dataclass(frozen=True, eq=False)
class PlaneCut:
    """A straight pipe that ends on planes. tube: its frame points at the cut; planes: each with its
    normal back towards the pipe; bevel: wanted of a bevelled end on one plane, None where it is ground just to
    clear: its angle is shared with the neighbour beyond the plane, and each gives half.

    Every method takes clocks `theta`, (...), radians, of the tube's frame, and gives mm or degrees.
    Raises ValueError where there is no plane, the pipe does not run towards one, or there is a bevel on another
    end, or with a land as wide as the wall.
    """

    kind: ClassVar[str] = "plane cut"
    id: str
    tube: Tube
    planes: tuple[HalfSpace, ...]
    prep: Prep
    bevel: Bevel | None = None

    @property
    def told(self) -> str:
        """A few words for the cut list."""
        return f"{self.prep} cut on {len(self.planes)} plane{'s' if len(self.planes) > 1 else ''}"

    def __post_init__(self) -> None:
        if not self.planes:
            raise ValueError("a cut needs a plane")
        if max(float(plane.normal @ self.tube.frame.axis) for plane in self.planes) > -PARALLEL:
            raise ValueError("the pipe does not run towards every plane")
        if self.bevel is not None and (self.prep != "bevel" or len(self.planes) > 1):
            raise ValueError("a bevel is wanted of an end that is not bevelled against one plane")
        checked(self.bevel, self.tube.r_out - self.tube.r_in)

    @cached_property
    def _unit_members(self) -> Array:
        """c, p and q of every plane at radius 1 mm, (k, 3)."""
        frame = self.tube.frame
        rows = []
        for plane in self.planes:
            into = float(plane.normal @ frame.axis)
            level = float((plane.point - frame.origin) @ plane.normal)
            rows.append((level / into, float(plane.normal @ frame.ref) / into, float(plane.normal @ frame.side) / into))
        return np.array(rows)

    def _members(self, *radii: float) -> Array:
        """Return c, p and q, (k len(radii), 3), of every plane at each of the radii, mm."""
        return np.vstack([self._unit_members * (1.0, radius, radius) for radius in radii])

    @cached_property
    def _bore(self) -> Array:
        return self._members(self.tube.r_in)

    @cached_property
    def _outside(self) -> Array:
        return self._members(self.tube.r_out)

    @cached_property
    def _wall(self) -> Array:
        return self._members(self.tube.r_in, self.tube.r_out)

    def height(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return the heights, mm, of the generators at `theta` and `rho`, mm; they broadcast."""
        theta, rho = np.broadcast_arrays(np.asarray(theta, dtype=np.float64), np.asarray(rho, dtype=np.float64))
        c, p, q = self._unit_members.T
        turn = p * np.cos(theta)[..., None] + q * np.sin(theta)[..., None]
        return np.min(c - rho[..., None] * turn, axis=-1)

    def deciding(self, theta: ArrayLike) -> NDArray[np.intp]:
        """Return the indices of the planes that the cut line lies on at `theta`, radians."""
        return np.argmin(_heights(self._edges[0], theta), axis=-1) % len(self.planes)

    @property
    def _edges(self) -> tuple[Array, Array, Array]:
        """The members that cut line, bore edge and outer edge are the least of."""
        if self.prep == "square":
            return self._wall, self._wall, self._wall
        if self.prep == "bevel":
            return self._bore, self._bore, self._wall
        return self._outside, self._bore, self._outside

    def cut(self, theta: ArrayLike) -> Array:
        """Return the stations of the cut line on the pipe's outside."""
        return _heights(self._edges[0], theta).min(axis=-1)

    def bore_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the finished end face meets the pipe's bore."""
        return _heights(self._edges[1], theta).min(axis=-1)

    def outer_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the finished end face meets the pipe's outside."""
        return self._clear_edge(theta) if self.bevel is None else self.face(theta)[..., -1]

    def _clear_edge(self, theta: ArrayLike) -> Array:
        """Return what `outer_edge` does, mm, of an end that is ground just to clear."""
        return _heights(self._edges[2], theta).min(axis=-1)

    @cached_property
    def radii(self) -> Array:
        """Radii of the rings of the finished end face, (k,), mm: bore, a wanted bevel's land, outside."""
        return face_radii(self.bevel, self.tube.r_in, self.tube.r_out)

    def face(self, theta: ArrayLike) -> Array:
        """Return the stations, (..., k), of the finished end face at its `radii`; between them it is straight.

        The land of a bevel is square, or ground where a square one would pass the plane.
        """
        bore = self.bore_edge(theta)
        if self.bevel is None:
            return np.stack([bore, self._clear_edge(theta)], axis=-1)
        land = self.bevel.land
        ledge = bore + (self._clear_edge(theta) - bore) * land / (self.tube.r_out - self.tube.r_in)
        back = np.tan(np.radians(self.grind(theta))) * (self.tube.r_out - self.tube.r_in - land)
        return np.stack([bore, ledge, ledge - back] if land else [bore, bore - back], axis=-1)

    @cached_property
    def corners(self) -> Array:
        """Clocks, (k,), radians, 0 to 2 pi, rising, at which an edge of the finished end has a
        corner: where another plane or another radius of the wall comes to decide."""
        found = np.concatenate([_corners(members) for members in self._edges])
        if self.bevel is not None:
            turns = (
                lambda t: np.minimum(self._wanted(t), MOST_GRIND) - self._clearing_grind(t),
                lambda t: self._wanted(t) - MOST_GRIND,
            )
            found = np.concatenate([found, *(sign_changes(turn) for turn in turns)])
        found = np.sort(found)
        return found[np.diff(found, prepend=-1.0) > _SAME]

    def root_gap(self, theta: ArrayLike) -> Array:
        """Return the opening at the root: along the pipe from bore edge to plane. A neighbour cut
        the same way adds its own."""
        return self.height(theta, self.tube.r_in) - self.bore_edge(theta)

    def groove(self, theta: ArrayLike) -> Array:
        """Return the angle, degrees, from the deciding plane to the pipe's square end face, square to
        the root. Below nought the face would pass the plane. A neighbour cut alike doubles it."""
        return self._section(theta, 0.0).groove(0.0)

    def finished_groove(self, theta: ArrayLike) -> Array:
        """Return the angle, degrees, from the deciding plane to the finished end face, square to the root,
        beyond a land where there is one. A neighbour made alike doubles it."""
        return self._section(theta, self.bevel.land if self.bevel else 0.0).groove(self.grind(theta))

    def grind(self, theta: ArrayLike) -> Array:
        """Return the bevel to grind from the square edge so that the wall clears, and opens as wide as is
        wanted, degrees, in the plane through the pipe's axis. Beyond a land, where there is one."""
        if self.bevel is None:
            return self._clearing_grind(theta)
        return np.maximum(self._clearing_grind(theta), np.minimum(self._wanted(theta), MOST_GRIND))

    @cached_property
    def bevel_schedule(self) -> tuple[Ground, ...]:
        """What is ground at each eighth of a turn, and the groove that it leaves."""
        return schedule(self.grind, self.finished_groove)

    def _clearing_grind(self, theta: ArrayLike) -> Array:
        """Return the least grind with which the wall clears, degrees."""
        back = self.cut(theta) - self._clear_edge(theta)
        return np.degrees(np.arctan2(back, self.tube.r_out - self.tube.r_in))

    def _wanted(self, theta: ArrayLike) -> Array:
        """Return the grind of this pipe's half of the wanted groove, degrees, beyond 90 where none opens so far."""
        if self.bevel is None:
            return np.zeros(np.shape(theta))
        return self._section(theta, self.bevel.land).grind(0.5 * self.bevel.angle)

    def _section(self, theta: ArrayLike, land: float) -> Section:
        """Return the section square to the root on the deciding plane. land: mm."""
        theta = np.asarray(theta, dtype=np.float64)
        frame = self.tube.frame
        decides = np.argmin(_heights(self._bore, theta), axis=-1)
        normal = np.array([plane.normal for plane in self.planes])[decides]
        radial, turn = frame.radial(theta), frame.radial(theta + 0.5 * np.pi)
        climb = np.einsum("...i,...i->...", normal, turn)[..., None]
        tangent = climb * frame.axis - (normal @ frame.axis)[..., None] * turn
        tangent = tangent / np.linalg.norm(tangent, axis=-1, keepdims=True)
        ahead = np.broadcast_to(frame.axis, radial.shape)
        return Section.through(radial, ahead, tangent, normal, 1.0 + land / self.tube.r_in)

    def points(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return where the generators meet the planes, (..., 3), mm."""
        theta, rho = np.broadcast_arrays(np.asarray(theta, dtype=np.float64), np.asarray(rho, dtype=np.float64))
        frame = self.tube.frame
        return (
            frame.origin + rho[..., None] * frame.radial(theta) + self.height(theta, rho)[..., None] * frame.axis
        )

    @cached_property
    def cut_range(self) -> tuple[float, float]:
        """Least and largest station of the finished end, mm, over the wall and all clocks."""
        t = np.concatenate([self.corners, *(_turning_clocks(members) for members in self._edges)])
        if self.bevel is not None:
            t = np.concatenate([t, 2.0 * np.pi * np.arange(720) / 720])
        edges = np.concatenate([self.bore_edge(t), self.outer_edge(t), self.cut(t)])
        return float(edges.min()), float(edges.max())

    @cached_property
    def root_gap_max(self) -> float:
        """Largest root gap round the clock, mm."""
        turn = 2.0 * np.pi * np.arange(720) / 720
        return float(np.max(self.root_gap(np.concatenate([turn, self.corners]))))

    @cached_property
    def weld_lengths(self) -> tuple[float, ...]:
        """Lengths of the cut line on the pipe's outside, mm, on each plane."""
        theta, weights = self._quadrature(self.corners)
        members = self._edges[0]
        which = np.argmin(_heights(members, theta), axis=-1)
        climb = members[which, 1] * np.sin(theta) - members[which, 2] * np.cos(theta)
        length = weights * np.hypot(self.tube.r_out, climb)
        return tuple(float(length[which % len(self.planes) == k].sum()) for k in range(len(self.planes)))

    @property
    def weld_length(self) -> float:
        """Length of the cut line on the pipe's outside, mm."""
        return sum(self.weld_lengths)

    @cached_property
    def branch_volume(self) -> float:
        """Metal volume, mm3, of the finished pipe from its start to the cut: exact across the wall,
        where the end face is straight from ring to ring, and by Gauss's rule from corner to corner."""
        theta, weights = self._quadrature(self.corners)
        face, total = self.face(theta), 0.0
        for j, (low, high) in enumerate(pairwise(self.radii)):
            slope = (face[:, j + 1] - face[:, j]) / (high - low)
            level = face[:, j] - slope * low
            total += float(weights @ (level * (high**2 - low**2) / 2.0 + slope * (high**3 - low**3) / 3.0))
        return total

    @staticmethod
    def _quadrature(corners: Array) -> tuple[Array, Array]:
        """Return clocks and weights, (m,), radians, over one turn, that are exact to the last digits
        for what is smooth between `corners`."""
        ends = np.append(corners, corners[0] + 2.0 * np.pi) if corners.size else np.array([0.0, 2.0 * np.pi])
        parts = [
            np.linspace(low, high, int(np.ceil((high - low) / _SPAN)) + 1)[:-1]
            for low, high in pairwise(ends)
        ]
        knots = np.append(np.concatenate(parts), ends[-1])
        half = 0.5 * np.diff(knots)
        theta = (knots[:-1] + half)[:, None] + half[:, None] * _NODES
        return theta.ravel(), (half[:, None] * _WEIGHTS).ravel()


def _heights(members: Array, theta: ArrayLike) -> Array:
    """Return the heights, (..., m), mm, of `members`, (m, 3), at `theta`, (...)."""
    theta = np.asarray(theta, dtype=np.float64)[..., None]
    return members[:, 0] - members[:, 1] * np.cos(theta) - members[:, 2] * np.sin(theta)


def _corners(members: Array) -> Array:
    """Return the clocks, (k,), radians, 0 to 2 pi, at which the least of `members` passes from one to another.

    Two members meet where C = P cos(t) + Q sin(t), that is, at atan2(Q, P) -+ acos(C / hypot(P, Q)).
    """
    first, second = np.triu_indices(len(members), 1)
    c, p, q = (members[first] - members[second]).T
    size = np.hypot(p, q)
    meets = (size > _SAME) & (np.abs(c) < size * (1.0 - 1e-12))
    middle, reach = np.arctan2(q[meets], p[meets]), np.arccos(c[meets] / size[meets])
    theta = np.concatenate([middle - reach, middle + reach]) % (2.0 * np.pi)
    theta = np.where(2.0 * np.pi - theta < _SAME, 0.0, theta)
    met = np.tile(first[meets], 2)
    heights = _heights(members, theta)
    least = heights.min(axis=-1) if theta.size else np.empty(0)
    return theta[heights[np.arange(theta.size), met] - least < _SAME * np.maximum(1.0, np.abs(least))]


def _turning_clocks(members: Array) -> Array:
    """Return the clocks, (2 m,), radians, at which each member is largest or least."""
    middle = np.arctan2(members[:, 2], members[:, 1])
    return np.concatenate([middle, middle + np.pi])
