"""The cope of a branch on a target, with the walls in it.

Terminology
    set-on    the branch sits on the target's outside; the hole follows the branch's bore
    set-in    the branch enters a hole that follows its outside; it ends at the target's bore
    square    cut square to the pipe's surface: at each clock the whole wall ends at one station
    bevel     the bore edge lies on the target all round; the outside is ground back to clear
    groove    angle between the branch's end face and the target's surface, square to the root,
              degrees; below nought the face would enter the target

For a straight branch on a straight target the heights over the wall at clock theta are a convex
function of the radius (see geometry.saddle), so that the first radius to meet, the opening left at
the bore and the bevel that clears all have closed forms. Any other pair, or a branch that crowds its
neighbours, is traced (see geometry.contact).

The rule that a set-on branch follows the target's outside at the branch's bore is worked
out from the geometry (no source); contoured set-on and set-in ends are those of ASME B31.3
328.4.3 and figure 328.4.4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import pairwise
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.contact import Contact, Traced
from rootgap.geometry.distance import Body, HalfSpace, Union
from rootgap.geometry.quadrature import gauss
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.sampling import leap, sampled, sign_changes
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import MOST_GRIND, Bevel, Ground, Section, checked, face_radii, schedule
from rootgap.joints.joint import CutAt, Which
from rootgap.joints.planes import PARALLEL, PlaneCut

Array = NDArray[np.float64]

#: Chords of every curve stay within this of it, mm: half of what a file promises.
TOLERANCE = 0.005
#: What a generator is looked for in is so much larger, mm, than what it meets, so that none is met before.
ROUND = 1e-3
#: From one generator to the next an edge of a hole leaps by less than this, mm.
_LEAP = 1.0
#: Clocks at which figures that are extremes are looked for.
_CLOCKS = 2.0 * np.pi * np.arange(720) / 720


@dataclass(frozen=True, eq=False)
class Share:
    """A branch fitted together with another. run, piece: of the other; plane: half way between the two,
    filled on the other's side."""

    run: str
    piece: str
    plane: HalfSpace


@dataclass(frozen=True, eq=False)
class Cope:
    """A branch that ends on a target's side. clearance: of a set-in branch in its hole, mm, measured
    on the radius; neighbours: branches fitted before it, which it copes onto as well; at: the branch's
    end that is cut, along the gas: at its start the branch's frame points against the gas; shares: branches
    that it meets in a plane, each giving half of what opens there; bevel: wanted of a bevelled set-on end, None
    where it is ground just to clear;
    meridians: marks round a bent branch's end.

    Every method takes clocks `theta`, (...), radians, of the branch, and gives mm or degrees. Stations
    are those of the branch's centre line. Raises ValueError for a bevel on another end, or with a land
    as wide as the wall.
    """

    kind: ClassVar[str] = "cope"
    id: str
    branch: Tube
    target: Tube
    set_: Literal["on", "in"]
    prep: Literal["square", "bevel"]
    clearance: float
    neighbours: tuple[Tube, ...] = ()
    at: Which = "end"
    shares: tuple[Share, ...] = ()
    bevel: Bevel | None = None
    meridians: int = 24

    def __post_init__(self) -> None:
        if self.bevel is not None and (self.set_, self.prep) != ("on", "bevel"):
            raise ValueError("a bevel is wanted of an end that is not set on and bevelled")
        checked(self.bevel, self.branch.r_out - self.branch.r_in)

    @property
    def called(self) -> str:
        """What the branch's end is called on its target: by its run, unlike for each of that run's ends."""
        return self.branch.run if self.at == "end" else f"{self.branch.run}-start"

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of the branch, its target and its neighbours."""
        crowd = [*(other.piece for other in self.neighbours), *(mate.piece for mate in self.shares)]
        return self.branch.piece, self.target.piece, *crowd

    @property
    def cuts(self) -> tuple[CutAt, ...]:
        """The branch's cut end."""
        return (CutAt(self.branch.piece, self.at, self),)

    @property
    def told(self) -> str:
        """A few words for the cut list."""
        wanted = f" {self.bevel.angle:g} deg, land {self.bevel.land:.3g} mm" if self.bevel else ""
        return f"cope set-{self.set_}, {self.prep}{wanted}"

    @cached_property
    def outside(self) -> Contact:
        """Where the branch meets the outside of the target and of its neighbours."""
        if self.crowd:
            target = self.target.filled(self.target.r_out)
            return Traced(self.branch.wall, Union((target, *self.crowd)), self.reach, self._floor)
        return self.on_target

    @cached_property
    def crowd(self) -> tuple[Body, ...]:
        """What it copes onto besides its target: its neighbours, and its mates' side of the planes it shares."""
        neighbours = [other.filled(other.r_out) for other in self.neighbours]
        return (*neighbours, *(mate.plane for mate in self.shares))

    @property
    def _floor(self) -> Callable[[Array, Array], Array] | None:
        """Return what gives stations before all that a straight branch meets, in closed form: where it meets the
        endless cylinders round its target and its neighbours, and the planes that it shares. None where one of them
        has no such form."""
        rounds = (self.target, *self.neighbours)
        steep = max((float(mate.plane.normal @ self.branch.frame.axis) for mate in self.shares), default=-1.0)
        if self.branch.bending or not all(other.round for other in rounds) or steep > -PARALLEL:
            return None
        try:
            saddles = [Saddle(self.branch.frame, other.frame, other.r_out + ROUND) for other in rounds]
        except ValueError:
            return None
        cut = PlaneCut("", self.branch, tuple(mate.plane for mate in self.shares), "flat") if self.shares else None

        def floor(theta: Array, rho: Array) -> Array:
            met = [saddle.height(theta, rho) for saddle in saddles] + ([cut.height(theta, rho)] if cut else [])
            # Where all is passed by the cylinders, so it is by what lies in them.
            return np.fmin.reduce([*met, np.full(theta.shape, self.reach)])

        return floor

    @cached_property
    def on_target(self) -> Contact:
        """Where the branch meets the target's outside alone."""
        return self.meeting(self.target.r_out)

    @cached_property
    def inside(self) -> Contact:
        """Where the branch meets the target's bore."""
        return self.meeting(self.target.r_in)

    def meeting(self, radius: float) -> Contact:
        """Return where the branch meets the target's surface of a radius, mm."""
        if self.branch.bending is None and self.target.round:
            return Saddle(self.branch.frame, self.target.frame, radius)
        return Traced(self.branch.wall, self.target.filled(radius), self.reach)

    @property
    def reach(self) -> float:
        """Farthest station, mm, at which a generator may still meet the target: the end of the bend, or
        a whole crossing past where a straight branch's axis meets it."""
        if self.branch.bending:
            return self.branch.length
        return self.branch.length + 8.0 * (self.target.r_out + self.branch.r_out)

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

        A set-on bevel is ground along the slope at which a straight face from the root clears the target
        over the whole wall, or farther where more is wanted.
        """
        if self.prep == "square":
            return self.cut(theta)
        if self.set_ == "in":
            return self.inside.height(theta, self.branch.r_out)
        return self.face(theta)[..., -1]

    @cached_property
    def radii(self) -> Array:
        """Radii of the rings of the finished end face, (k,), mm: bore, a wanted bevel's land, outside."""
        return face_radii(self.bevel, self.branch.r_in, self.branch.r_out)

    def face(self, theta: ArrayLike) -> Array:
        """Return the stations, (..., k), of the finished end face at its `radii`; between them it is straight.

        The land of a bevel is square, or ground where a square one would enter the target.
        """
        if (self.set_, self.prep) != ("on", "bevel"):
            return np.stack([self.bore_edge(theta), self.outer_edge(theta)], axis=-1)
        slopes = [self._clearing(theta) / self._pace(theta, self.radii[1])]
        if self.bevel is not None:
            steepest = -np.tan(np.radians(self.grind(theta))) / self._pace(theta, self.branch.r_in + self.bevel.land)
            slopes = [steepest] if self.bevel.land == 0.0 else [*slopes, steepest]
        levels = [self.bore_edge(theta)]
        for slope, width in zip(slopes, np.diff(self.radii), strict=False):
            levels.append(levels[-1] + slope * width)
        return np.stack(levels, axis=-1)

    def _clearing(self, theta: ArrayLike) -> Array:
        """Return the slope, mm along the generators a mm of radius, of a straight face that just clears."""
        return self.outside.clearing_slope(theta, self.branch.r_in, self.branch.r_out)

    def _pace(self, theta: ArrayLike, rho: float) -> Array:
        """Return mm along the generators, at radius `rho`, mm, per mm of station."""
        theta = np.asarray(theta, dtype=np.float64)
        return self.branch.wall.pace(theta.ravel(), np.full(theta.size, rho)).reshape(theta.shape)

    @cached_property
    def corners(self) -> Array:
        """Clocks, (k,), radians, 0 to 2 pi, rising, at which an edge of the finished end has a
        corner or, on a square set-on end, may have one: where another radius of the wall or
        another rule comes to decide where the end lies."""
        r_in, r_out = self.branch.r_in, self.branch.r_out
        turns: list[Callable[[Array], Array]] = []
        if self.set_ == "on" and self.prep == "bevel":
            turns = [partial(self.outside.slope, rho=r_in), *self._bevel_turns()]
        elif self.set_ == "on":
            turns = [partial(self.outside.slope, rho=rho) for rho in (r_in, r_out)]
        elif self.prep == "square":
            turns = [lambda t: self.inside.height(t, r_out) - self.inside.height(t, r_in)]
        if self.crowd:
            turns.append(partial(self._nearer, rho=r_out))
        return np.sort(np.concatenate([self.crossings, *(sign_changes(turn) for turn in turns)]))

    @cached_property
    def crossings(self) -> Array:
        """Clocks, (k,), radians, 0 to 2 pi, rising, at which the bore's edge passes from the target to what crowds the
        branch, or back."""
        return sign_changes(partial(self._nearer, rho=self.branch.r_in)) if self.crowd else np.empty(0)

    def _bevel_turns(self) -> list[Callable[[Array], Array]]:
        """Return what is nought where what is wanted of a bevel, what clears and what can be ground take turns."""
        if self.bevel is None:
            return []
        return [
            lambda t: np.minimum(self._wanted(t), MOST_GRIND) - self._clearing_grind(t),
            lambda t: self._wanted(t) - MOST_GRIND,
        ]

    def _nearer(self, theta: Array, rho: float) -> Array:
        """Return, mm, above nought where a generator lands on its crowd, below where on the target."""
        points = self.outside.points(theta, rho).reshape(-1, 3)
        return self.target.filled(self.target.r_out).distance(points) - Union(self.crowd).distance(points)

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
        if self.set_ == "on":
            return self._section(theta, self.branch.r_in, self.branch.r_in).groove(0.0)
        return self._section(theta, self.branch.r_out, self.branch.r_out).groove(90.0)

    def crotch(self, theta: ArrayLike) -> Array:
        """Return the angle, degrees, from the surface that the branch stands on to the branch's own outside,
        square to the weld: 180 where the one runs into the other without a corner. In a shared plane it goes on
        to the mate's outside, which mirrors the branch's.

        Source: two surfaces whose normals out of the metal are at an angle meet at 180 less that angle.
        """
        theta = np.asarray(theta, dtype=np.float64)
        normal = self.outside.normals(self.outside.points(theta, self.branch.r_out))
        radial, _ = self._directions(theta, self.branch.r_out)
        angle = np.degrees(np.arccos(np.clip(-np.einsum("...i,...i->...", radial, normal), -1.0, 1.0)))
        return angle / self.share(theta, self.branch.r_out)

    def share(self, theta: ArrayLike, rho: float) -> Array:
        """Return what part of an angle at the joint is the branch's own, no unit: half where the generators at
        radius `rho`, mm, end on a plane that it shares, all elsewhere."""
        theta = np.asarray(theta, dtype=np.float64)
        if not self.shares:
            return np.ones(theta.shape)
        points = self.outside.points(theta, rho).reshape(-1, 3)
        planes = Union(tuple(mate.plane for mate in self.shares)).distance(points)
        others = (self.target, *self.neighbours)
        solid = Union(tuple(other.filled(other.r_out) for other in others)).distance(points)
        return np.where(planes < solid, 0.5, 1.0).reshape(theta.shape)

    def grind(self, theta: ArrayLike) -> Array:
        """Return the bevel to grind from the square edge so that the wall clears, and opens as wide as is
        wanted, degrees, in the plane through the branch's axis. Beyond a land, where there is one."""
        if self.bevel is not None:
            return np.maximum(self._clearing_grind(theta), np.minimum(self._wanted(theta), MOST_GRIND))
        back = (self.cut(theta) - self.outer_edge(theta)) * self._pace(theta, self.branch.r_out)
        return np.degrees(np.arctan2(back, self.branch.r_out - self.branch.r_in))

    def finished_groove(self, theta: ArrayLike) -> Array:
        """Return the groove angle of the finished end, degrees: set-on, from the target's surface to the
        face as ground, beyond a land where there is one; set-in as `groove`."""
        if self.set_ == "in":
            return self.groove(theta)
        land = self.bevel.land if self.bevel else 0.0
        return self._section(theta, self.branch.r_in, self.branch.r_in + land).groove(self.grind(theta))

    @cached_property
    def bevel_schedule(self) -> tuple[Ground, ...]:
        """What is ground at each eighth of a turn, and the groove that it leaves."""
        return schedule(self.grind, self.finished_groove)

    def _clearing_grind(self, theta: ArrayLike) -> Array:
        """Return the least grind with which the wall clears, degrees."""
        return np.degrees(np.arctan(-self._clearing(theta)))

    def _wanted(self, theta: ArrayLike) -> Array:
        """Return the grind of the wanted groove, of this branch's half of it in a plane that it shares, degrees,
        beyond 90 where none opens so far."""
        if self.bevel is None:
            return np.zeros(np.shape(theta))
        angle = self.share(theta, self.branch.r_in) * self.bevel.angle
        return self._section(theta, self.branch.r_in, self.branch.r_in + self.bevel.land).grind(angle)

    def _section(self, theta: ArrayLike, root: float, land: float) -> Section:
        """Return the section square to the root. root, land: radii, mm, of its edge and of the land's."""
        theta = np.asarray(theta, dtype=np.float64)
        radial, ahead = self._directions(theta, root)
        normal = self.outside.normals(self.outside.points(theta, root))
        stretch = land / root * self._pace(theta, root) / self._pace(theta, land)
        return Section.through(radial, ahead, self.outside.edge_tangents(theta, root), normal, stretch)

    @property
    def hole_radius(self) -> float:
        """Radius of the cylinder that cuts the target's hole, mm."""
        return self.branch.r_in if self.set_ == "on" else self.branch.r_out + self.clearance

    def hole(self, theta: ArrayLike) -> Array:
        """Return the hole's outline on the target's outside, (..., 2): clock of the target,
        radians, continuous round the hole, and station on the target's axis, mm."""
        return self._on_target(self.on_target, theta)

    def hole_inside(self, theta: ArrayLike) -> Array:
        """Return where the hole's edge comes out at the target's bore, as `hole` does. nan
        where the hole runs out into the wall without reaching the bore."""
        return self._on_target(self.inside, theta)

    def foot(self, neighbour: Tube, theta: ArrayLike) -> Array:
        """Return where a neighbour's outside stands on the target, as `hole` does: nothing is cut there."""
        standing = Cope("", neighbour, self.target, "on", "bevel", 0.0)
        return self._placed(standing.on_target.points(theta, neighbour.r_out))

    def _on_target(self, contact: Contact, theta: ArrayLike) -> Array:
        return self._placed(contact.points(theta, self.hole_radius))

    def _placed(self, points: Array) -> Array:
        placed = self.target.unrolled(points)
        middle = self.middle_clock
        clock = middle + (placed[..., 0] - middle + np.pi) % (2.0 * np.pi) - np.pi
        return np.stack([clock, placed[..., 1]], axis=-1)

    @cached_property
    def _middle(self) -> tuple[float, float]:
        clock, station = self.target.unrolled(self.on_target.points(0.0, 0.0))
        return float(clock % (2.0 * np.pi)), float(station)

    @property
    def middle_clock(self) -> float:
        """Clock of the target, radians, 0 to 2 pi, that the branch's axis points at."""
        return self._middle[0]

    @property
    def station(self) -> float:
        """Station on the target at which the branch's axis meets its outside, mm."""
        return self._middle[1]

    def _directions(self, theta: Array, rho: float) -> tuple[Array, Array]:
        """Return the branch's outward and forward directions, (..., 3) each, where it meets the target."""
        if self.branch.bending is None:
            radial = self.branch.frame.radial(theta)
            return radial, np.broadcast_to(self.branch.frame.axis, radial.shape)
        flat, wall = theta.ravel(), self.branch.wall
        station = self.outside.height(flat, rho)
        radius = np.full(flat.shape, rho)
        radial = wall.points(flat, radius + 1.0, station) - wall.points(flat, radius, station)
        shape = (*theta.shape, 3)
        return radial.reshape(shape), wall.directions(flat, station).reshape(shape)

    @cached_property
    def clocks(self) -> Array:
        """Clocks, (n,), radians, over one turn from 0, dense enough for the cut line."""
        if self.branch.bending:
            return sampled(self.cut_points, 0.0, TOLERANCE)
        r_out = self.branch.r_out
        return sampled(lambda t: np.column_stack([r_out * t, self.cut(t)]), 0.0, TOLERANCE)

    def cut_points(self, theta: Array) -> Array:
        """Return the cut line in space, (n, 3), mm, at the clocks, (n,), radians."""
        return self.branch.wall.points(theta, np.full(theta.shape, self.branch.r_out), self.cut(theta))

    @cached_property
    def cut_range(self) -> tuple[float, float]:
        """Least and largest station of the finished end, mm, over the wall and all clocks."""
        return float(self._finished.min()), float(self._finished.max())

    @cached_property
    def _finished(self) -> Array:
        """Stations, (720, k), mm, of the finished end face round the clock."""
        return self.face(_CLOCKS)

    @cached_property
    def root_gap_max(self) -> float:
        """Largest root gap round the clock, mm."""
        return float(np.max(self.root_gap(_CLOCKS)))

    @cached_property
    def weld_length(self) -> float:
        """Length of the cut line on the branch's outside, mm."""
        t = self.clocks
        if self.branch.bending:
            return float(np.linalg.norm(np.diff(self.cut_points(t), axis=0), axis=1).sum())
        return float(np.hypot(self.branch.r_out * np.diff(t), np.diff(self.cut(t))).sum())

    @cached_property
    def lean(self) -> float:
        """Angle between the gas of branch and target where their axes meet, degrees, 0 to 180."""
        nought = np.zeros(1)
        ahead = self.branch.wall.directions(nought, self.on_target.height(nought, nought))[0]
        ahead = -ahead if self.at == "start" else ahead
        along = self.target.at(self.station).axis
        return float(np.degrees(np.arccos(np.clip(ahead @ along, -1.0, 1.0))))

    @cached_property
    def offset(self) -> float:
        """Least distance between the centre lines, mm."""
        if isinstance(self.on_target, Saddle):
            return abs(self.on_target.offset)
        meets = float(self.on_target.height(0.0, 0.0))
        station = np.linspace(meets, meets + 2.0 * self.target.r_out / max(np.sin(np.radians(self.lean)), 0.2), 4001)
        nought = np.zeros(station.shape)
        return float(np.min(self.target.filled(0.0).distance(self.branch.wall.points(nought, nought, station))))

    @cached_property
    def branch_volume(self) -> float:
        """Metal volume, mm3, of the finished branch from its start to the joint.

        Trapezoids round the clock, which for a periodic curve converge faster than any power
        of the step; the end face is straight from ring to ring, so the radius integrates exactly.
        """
        face, total = self._finished, 0.0
        nodes, weights = gauss(4)
        share = 0.5 * (nodes + 1.0)
        for j, (low, high) in enumerate(pairwise(self.radii)):
            rho = np.broadcast_to(low + share * (high - low), (len(_CLOCKS), len(nodes)))
            theta = np.broadcast_to(_CLOCKS[:, None], rho.shape)
            pace = self.branch.wall.pace(theta.ravel(), rho.ravel()).reshape(rho.shape)
            level = face[:, j, None] + share * (face[:, j + 1] - face[:, j])[:, None]
            over_wall = level * pace * rho @ (0.5 * weights * (high - low))
            total += float(2.0 * np.pi * over_wall.mean())
        return total

    @cached_property
    def opens_wholly(self) -> bool:
        """Whether all of the hole comes out in the target's bore, and none of it only past the far wall of a bend."""
        if not np.isfinite(self.inside.height(_CLOCKS, self.hole_radius)).all():
            return False
        return isinstance(self.inside, Saddle) or not leap(partial(self.inside.height, rho=self.hole_radius), _LEAP)

    @cached_property
    def hole_volume(self) -> float:
        """Metal volume, mm3, that the hole takes out of the target's near wall.

        Each generator of the hole runs through the wall from the outside to the bore, or, where it
        passes beside the bore, to the plane through the target's axis. Of one that passes beside the bore of a
        bend or a cone nothing is counted: see `opens_wholly`.
        """
        exact = isinstance(self.on_target, Saddle)
        nodes, weights = gauss(96 if exact else 24)
        clocks = _CLOCKS if exact else _CLOCKS[::6]
        # rho = r sin(s) keeps the integrand smooth where the outermost generators graze.
        s = 0.25 * np.pi * (nodes + 1.0)
        rho = self.hole_radius * np.sin(s)
        scale = 0.25 * np.pi * weights * self.hole_radius**2 * np.sin(s) * np.cos(s)
        theta = clocks[:, None]
        start, end = self.on_target.height(theta, rho), self.inside.height(theta, rho)
        beside = self.on_target.level(theta, rho) if isinstance(self.on_target, Saddle) else start
        pace = self.branch.wall.pace(theta, rho)
        through = pace * (np.where(np.isfinite(end), end, beside) - start)
        return float(2.0 * np.pi * (through @ scale).mean())
