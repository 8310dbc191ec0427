"""The mitre: two straights whose axes meet, each cut by the plane that halves their angle.

Pipes of one outside meet edge to edge. Where the outsides differ, the same plane is used as long as the
walls still lie on each other all round, and the step is told; otherwise a reducer must go between.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Array, Frame, unit
from rootgap.geometry.tube import Tube
from rootgap.joints.bevel import Bevel
from rootgap.joints.joint import CutAt
from rootgap.joints.planes import PlaneCut, Prep
from rootgap.joints.refusals import plain
from rootgap.layout import Member, Run

#: Axes that pass each other by more than this, mm, do not meet.
MEETS = 0.01
#: Axes closer to parallel than this, as a sine, do not cross.
ALONG = 1e-6
#: Turns outside these, degrees: less is a butt joint, more leaves no crotch that a torch reaches
#: (common practice, no source).
TURNS = (0.01, 150.0)
#: Least width, mm, on which the two walls must lie on each other (common practice, no source).
OVERLAP = 1.0


@dataclass(frozen=True, eq=False)
class Mitre:
    """Two straights on one plane. before, after: each with its frame pointing at the joint, so that the
    clocks of the piece after it run the other way round; for that see `facing`; bevel: wanted of both ends where
    they are bevelled, each giving half of its angle.

    Raises GeometryError where the axes pass each other, turn too little or too far, or where the walls
    do not lie on each other all round.
    """

    kind: ClassVar[str] = "mitre"
    id: str
    before: Tube
    after: Tube
    prep: Prep = "flat"
    bevel: Bevel | None = None

    def __post_init__(self) -> None:
        name = f"{self.before.piece} and {self.after.piece}"
        if not TURNS[0] <= self.turn <= TURNS[1]:
            raise GeometryError(
                name,
                f"turn by {self.turn:.2f} degrees; a mitre turns {TURNS[0]:g} to {TURNS[1]:g}",
                "join them square, or share the turn between several mitres",
            )
        if self.offset > MEETS:
            raise GeometryError(
                name, f"their axes pass {self.offset:.2f} mm apart", f"move one of them {self.offset:.2f} mm sideways"
            )
        if self.overlap < OVERLAP:
            raise GeometryError(
                name,
                f"their walls {too_little(self.overlap)}",
                "put a reducer between them, or give both the same stock",
            )

    @cached_property
    def turn(self) -> float:
        """Angle by which the gas turns, degrees."""
        return float(np.degrees(np.arccos(np.clip(-self.before.frame.axis @ self.after.frame.axis, -1.0, 1.0))))

    @cached_property
    def _feet(self) -> tuple[Array, Array]:
        """The points of each axis that come nearest to the other, (3,) each."""
        p, q = self.before.frame, self.after.frame
        lag, cos = q.origin - p.origin, float(p.axis @ q.axis)
        # Source: elementary; the foot of the common perpendicular of two lines.
        sin2 = 1.0 - cos**2
        s = float(lag @ (p.axis - cos * q.axis)) / sin2
        t = float(lag @ (cos * p.axis - q.axis)) / sin2
        return p.origin + s * p.axis, q.origin + t * q.axis

    @property
    def offset(self) -> float:
        """Distance between the axes, mm."""
        a, b = self._feet
        return float(np.linalg.norm(a - b))

    @property
    def step(self) -> float:
        """Difference of the bore radii, mm; positive where the gas meets an edge."""
        return self.before.r_in - self.after.r_in

    @property
    def outer_step(self) -> float:
        """Difference of the outside radii, mm, before less after."""
        return self.before.r_out - self.after.r_out

    @property
    def overlap(self) -> float:
        """Width, mm, square to the pipes, on which the two walls lie on each other."""
        return min(self.before.r_out, self.after.r_out) - max(self.before.r_in, self.after.r_in)

    @property
    def joined(self) -> tuple[str, ...]:
        """The two pipes' marks."""
        return self.before.piece, self.after.piece

    @property
    def cuts(self) -> tuple[CutAt, ...]:
        """The cut ends of both pipes."""
        first, second = self.sides
        return CutAt(self.before.piece, "end", first), CutAt(self.after.piece, "start", second)

    @cached_property
    def sides(self) -> tuple[PlaneCut, PlaneCut]:
        """The cuts of the pipe before and the pipe after the joint."""
        a, b = self._feet
        normal = unit(self.after.frame.axis - self.before.frame.axis)
        middle = 0.5 * (a + b)
        return (
            PlaneCut(self.id, self.before, (HalfSpace(middle, normal),), self.prep, self.bevel),
            PlaneCut(self.id, self.after, (HalfSpace(middle, -normal),), self.prep, self.bevel),
        )

    @cached_property
    def root_gap_max(self) -> float:
        """Largest root gap, mm, along the pipes: each end's own, added, for they lie opposite each other."""
        return sum(cut.root_gap_max for cut in self.sides)

    @cached_property
    def weld_length(self) -> float:
        """Length of the weld, mm: the cut line of the smaller pipe."""
        return min(cut.weld_length for cut in self.sides)


def mitre(before: Member, after: Member, run: Run, index: int) -> Mitre:
    """Return the mitre of two pieces of `run`, the first its piece number `index`. Raises GeometryError."""
    first, second = plain(before, "mitred").tube, facing(plain(after, "mitred").tube, after.end)
    return Mitre(f"{before.id}+{after.id}", first, second, run.corners[index].prep)


def facing(tube: Tube, end: Frame) -> Tube:
    """Return a piece that leaves a joint as one that points at it. tube: along the gas; end: its frame at
    its far end. Clock 0 stays; the others run the other way round, clock t becoming 360 - t degrees."""
    return replace(tube, frame=Frame(end.origin, unit(-end.axis), end.ref))


def too_little(overlap: float) -> str:
    """Return what two walls do that lie on each other by less than they must. overlap: mm, below nought where they
    pass each other."""
    found = f"miss each other by {-overlap:.2f} mm" if overlap < 0.0 else f"lie on each other by {overlap:.2f} mm only"
    return f"{found}; they must lie on each other by at least {OVERLAP:g} mm"


def bisector(one: Tube, other: Tube) -> HalfSpace:
    """Return the plane in which two equal straights meet, filled on the side of `other`.

    Both frames point at what they stand on. Raises GeometryError where they are no mirror images of each other.
    """
    name = f"{one.piece} and {other.piece}"
    remedy = "give them different numbers for order, so that one copes onto the other"
    if one.bending or other.bending or abs(one.r_out - other.r_out) > MEETS:
        raise GeometryError(name, "only straights of one outside share a mitre plane", remedy)
    a, b = one.frame, other.frame
    not_side_by_side(one, other)
    between = b.origin - a.origin
    across = np.cross(a.axis, b.axis)
    passes = abs(float(between @ unit(across)))
    if passes > MEETS:
        raise GeometryError(name, f"their axes pass {passes:.2f} mm apart, so that they share no plane", remedy)
    # Where the axes cross.
    s = float(np.cross(between, b.axis) @ across) / float(across @ across)
    point = a.origin + s * a.axis
    return HalfSpace(point, unit(a.axis - b.axis) * _towards(a, b, point))


def not_side_by_side(one: Tube, other: Tube) -> None:
    """Raise GeometryError for two straights whose axes are parallel and nearer than the two are wide."""
    a, b = one.frame, other.frame
    between = b.origin - a.origin
    apart = float(np.linalg.norm(between - (between @ a.axis) * a.axis))
    if np.linalg.norm(np.cross(a.axis, b.axis)) < ALONG and apart < one.r_out + other.r_out:
        raise GeometryError(
            f"{one.piece} and {other.piece}",
            f"run side by side {apart:.1f} mm apart; together they are {one.r_out + other.r_out:.1f} mm wide from "
            "axis to axis",
            f"move one {one.r_out + other.r_out - apart:.1f} mm away, or lean it",
        )


def _towards(one: Frame, other: Frame, point: Array) -> float:
    """Return the sign with which axis less axis points from `other`'s side of the plane at `point` to `one`'s."""
    normal = one.axis - other.axis
    return 1.0 if (one.origin - point) @ normal > (other.origin - point) @ normal else -1.0
