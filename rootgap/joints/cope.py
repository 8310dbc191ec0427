"""The cope of a straight branch on a straight target, with the walls in it.

Terminology
    set-on    the branch sits on the target's outside; the hole follows the branch's bore
    set-in    the branch enters a hole that follows its outside; it ends at the target's bore
    square    cut square to the pipe's surface: at each clock the whole wall ends at one station
    bevel     the bore edge lies on the target all round; the outside is ground back to clear
    groove    angle between the branch's end face and the target's surface, square to the root,
              degrees; below nought the face would enter the target

For the generators at clock theta the heights over the wall are a convex function of the
radius (see geometry.saddle), so that the first radius to meet, the opening left at the bore
and the bevel that clears all have closed forms.

The rule that a set-on branch follows the target's outside at the branch's bore is worked
out from the geometry (no source); contoured set-on and set-in ends are those of ASME B31.3
328.4.3 and figure 328.4.4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.frames import Frame
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.sampling import sampled

Array = NDArray[np.float64]

#: Chords of every curve stay within this of it, mm: half of what a file promises.
TOLERANCE = 0.005
#: Clocks at which figures that are extremes are looked for.
_CLOCKS = 2.0 * np.pi * np.arange(720) / 720
#: A slope (no unit) or a difference of heights (mm) below this has no sure sign.
_NOUGHT = 1e-9
#: Halvings that bring half a degree below the last digits of a clock.
_HALVINGS = 45


@dataclass(frozen=True, eq=False)
class Tube:
    """One side of a cope. frame: at the piece's start, axis along its gas; radii, mm; length, mm."""

    run: str
    piece: str
    frame: Frame
    r_out: float
    r_in: float
    length: float


@dataclass(frozen=True, eq=False)
class Cope:
    """A straight branch that ends on a straight target. clearance: of a set-in branch in its
    hole, mm, measured on the radius.

    Every method takes clocks `theta`, (...), radians, of the branch, and gives mm or degrees.
    """

    kind: ClassVar[str] = "cope"
    id: str
    branch: Tube
    target: Tube
    set_: Literal["on", "in"]
    prep: Literal["square", "bevel"]
    clearance: float

    @cached_property
    def outside(self) -> Saddle:
        """The saddle on the target's outside."""
        return Saddle(self.branch.frame, self.target.frame, self.target.r_out)

    @cached_property
    def inside(self) -> Saddle:
        """The saddle on the target's bore."""
        return Saddle(self.branch.frame, self.target.frame, self.target.r_in)

    def cut(self, theta: ArrayLike) -> Array:
        """Return the stations of the cut line on the branch's outside."""
        r_in, r_out = self.branch.r_in, self.branch.r_out
        if self.set_ == "in":
            return np.maximum(self.inside.height(theta, r_in), self.inside.height(theta, r_out))
        if self.prep == "square":
            return self.outside.first_height(theta, r_in, r_out)
        return self.outside.height(theta, r_in)

    def bore_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the finished end face meets the branch's bore."""
        if self.set_ == "in" and self.prep == "bevel":
            return self.inside.height(theta, self.branch.r_in)
        return self.cut(theta)

    def outer_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the finished end face meets the branch's outside.

        A set-on bevel is ground along the target's slope at the root. Heights are convex in
        the radius, so the straight face then clears the target over the whole wall.
        """
        if self.prep == "square":
            return self.cut(theta)
        if self.set_ == "in":
            return self.inside.height(theta, self.branch.r_out)
        slope = np.minimum(self.outside.slope(theta, self.branch.r_in), 0.0)
        return self.cut(theta) + slope * (self.branch.r_out - self.branch.r_in)

    @cached_property
    def corners(self) -> Array:
        """Clocks, (k,), radians, 0 to 2 pi, rising, at which an edge of the finished end has a
        corner or, on a square set-on end, may have one: where another radius of the wall or
        another rule comes to decide where the end lies."""
        r_in, r_out = self.branch.r_in, self.branch.r_out
        if self.set_ == "on" and self.prep == "bevel":
            return _sign_changes(partial(self.outside.slope, rho=r_in))
        if self.set_ == "on":
            ends = [_sign_changes(partial(self.outside.slope, rho=rho)) for rho in (r_in, r_out)]
            return np.sort(np.concatenate(ends))
        if self.prep == "square":
            return _sign_changes(lambda t: self.inside.height(t, r_out) - self.inside.height(t, r_in))
        return np.empty(0)

    def root_gap(self, theta: ArrayLike) -> Array:
        """Return the opening at the root: along the branch from bore edge to target for a
        set-on branch, the clearance all round for a set-in one."""
        theta = np.asarray(theta, dtype=np.float64)
        if self.set_ == "in":
            return np.full(theta.shape, self.clearance)
        return self.outside.height(theta, self.branch.r_in) - self.bore_edge(theta)

    def groove(self, theta: ArrayLike) -> Array:
        """Return the groove angle of the end as cut, before any grinding, degrees.

        Set-on: from the target's surface to the square end face, square to the root. Set-in:
        from the target's surface to the branch's outside, square to the weld.
        """
        theta = np.asarray(theta, dtype=np.float64)
        rho = self.branch.r_in if self.set_ == "on" else self.branch.r_out
        saddle = self.outside
        normal = saddle.normals(saddle.points(theta, rho))
        tangent = saddle.edge_tangents(theta, normal)
        radial = self.branch.frame.radial(theta)
        face = radial if self.set_ == "on" else np.broadcast_to(-self.branch.frame.axis, radial.shape)
        along = np.cross(normal, tangent)
        along = along * np.sign(np.einsum("...i,...i->...", along, radial))[..., None]
        rise = np.einsum("...i,...i->...", face, normal)
        run = np.einsum("...i,...i->...", face, along)
        return np.degrees(np.arctan2(rise, run))

    def grind(self, theta: ArrayLike) -> Array:
        """Return the bevel to grind from the square edge so that the wall clears, degrees, in
        the plane through the branch's axis."""
        back = self.cut(theta) - self.outer_edge(theta)
        return np.degrees(np.arctan2(back, self.branch.r_out - self.branch.r_in))

    @property
    def hole_radius(self) -> float:
        """Radius of the cylinder that cuts the target's hole, mm."""
        return self.branch.r_in if self.set_ == "on" else self.branch.r_out + self.clearance

    def hole(self, theta: ArrayLike) -> Array:
        """Return the hole's outline on the target's outside, (..., 2): clock of the target,
        radians, continuous round the hole, and station on the target's axis, mm."""
        return self._on_target(self.outside, theta)

    def hole_inside(self, theta: ArrayLike) -> Array:
        """Return where the hole's edge comes out at the target's bore, as `hole` does. nan
        where the hole runs out into the wall without reaching the bore."""
        return self._on_target(self.inside, theta)

    def _on_target(self, saddle: Saddle, theta: ArrayLike) -> Array:
        local = self.target.frame.to_local(saddle.points(theta, self.hole_radius))
        middle = self.middle_clock
        clock = np.arctan2(local[..., 1], local[..., 0])
        clock = middle + (clock - middle + np.pi) % (2.0 * np.pi) - np.pi
        return np.stack([clock, local[..., 2]], axis=-1)

    @cached_property
    def middle_clock(self) -> float:
        """Clock of the target, radians, 0 to 2 pi, that the branch's axis points at."""
        x, y, _ = self.target.frame.to_local(self.outside.points(0.0, 0.0))
        return float(np.arctan2(y, x) % (2.0 * np.pi))

    @cached_property
    def station(self) -> float:
        """Station on the target at which the branch's axis meets its outside, mm."""
        return float(self.target.frame.to_local(self.outside.points(0.0, 0.0))[2])

    @cached_property
    def clocks(self) -> Array:
        """Clocks, (n,), radians, over one turn from 0, dense enough for the cut line."""
        r_out = self.branch.r_out
        return sampled(lambda t: np.column_stack([r_out * t, self.cut(t)]), 0.0, TOLERANCE)

    @cached_property
    def cut_range(self) -> tuple[float, float]:
        """Least and largest station of the finished end, mm, over the wall and all clocks."""
        edges = np.concatenate([self.bore_edge(_CLOCKS), self.outer_edge(_CLOCKS), self.cut(_CLOCKS)])
        return float(edges.min()), float(edges.max())

    @cached_property
    def root_gap_max(self) -> float:
        """Largest root gap round the clock, mm."""
        return float(np.max(self.root_gap(_CLOCKS)))

    @cached_property
    def weld_length(self) -> float:
        """Length of the cut line on the branch's outside, mm."""
        t = self.clocks
        return float(np.hypot(self.branch.r_out * np.diff(t), np.diff(self.cut(t))).sum())

    @property
    def lean(self) -> float:
        """Angle between the axes, degrees, 0 to 180."""
        return self.outside.lean

    @property
    def offset(self) -> float:
        """Distance between the axes, mm."""
        return abs(self.outside.offset)

    @cached_property
    def branch_volume(self) -> float:
        """Metal volume, mm3, of the finished branch from its start to the joint.

        Trapezoids round the clock, which for a periodic curve converge faster than any power
        of the step; the end face is straight across the wall, so the radius integrates exactly.
        """
        r_in, r_out = self.branch.r_in, self.branch.r_out
        bore, outer = self.bore_edge(_CLOCKS), self.outer_edge(_CLOCKS)
        slope = (outer - bore) / (r_out - r_in)
        level = bore - slope * r_in
        over_wall = level * (r_out**2 - r_in**2) / 2.0 + slope * (r_out**3 - r_in**3) / 3.0
        return float(2.0 * np.pi * over_wall.mean())

    @cached_property
    def hole_volume(self) -> float:
        """Metal volume, mm3, that the hole takes out of the target's near wall.

        Each generator of the hole runs through the wall from the outside to the bore, or, where it
        passes beside the bore, to the plane through the target's axis.
        """
        nodes, weights = np.polynomial.legendre.leggauss(96)
        # rho = r sin(s) keeps the integrand smooth where the outermost generators graze.
        s = 0.25 * np.pi * (nodes + 1.0)
        rho = self.hole_radius * np.sin(s)
        scale = 0.25 * np.pi * weights * self.hole_radius**2 * np.sin(s) * np.cos(s)
        theta, rho = np.meshgrid(_CLOCKS, rho, indexing="ij")
        start, end = self.outside.height(theta, rho), self.inside.height(theta, rho)
        end = np.where(np.isfinite(end), end, self.outside.level(theta, rho))
        return float(2.0 * np.pi * ((end - start) @ scale).mean())


def _sign_changes(values: Callable[[Array], Array]) -> Array:
    """Return the clocks, (k,), radians, 0 to 2 pi, rising, at which `values`, a smooth function
    of the clock, passes through nought. Where it only touches nought it does not."""
    sampled_values = values(_CLOCKS)
    clear = np.flatnonzero(np.abs(sampled_values) > _NOUGHT)
    positive = sampled_values[clear] > 0.0
    turns = np.flatnonzero(positive != np.roll(positive, -1))
    low = _CLOCKS[clear[turns]]
    width = (_CLOCKS[np.roll(clear, -1)[turns]] - low) % (2.0 * np.pi)
    for _ in range(_HALVINGS):
        width = 0.5 * width
        low = np.where((values(low + width) > 0.0) == positive[turns], low + width, low)
    return np.sort((low + 0.5 * width) % (2.0 * np.pi))
