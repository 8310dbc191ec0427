"""The merge collector: equal pipes that lean on one axis and run into each other.

Terminology
    apex        the point O at which all axes meet, and its frame: axis along the gas
    half-angle  angle between a leg's axis and the collector's, degrees
    seam        where two neighbours meet, in the plane half way between them
    rake        the part of a seam from the crotch out to where two neighbours first touch
    crotch      where all legs meet on the collector's axis: a point on the outside, one at the bore
    opening     what the plane across the collector's axis leaves of the legs: n lobes

Clock 0 of a leg looks away from the collector's axis. A leg's cut on its seams lies, back from O,

    t(phi) = r [ |sin phi| cot(pi/n) / sin a - cos phi cot a ]

Source: plane geometry, worked out in geometry.merging.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from rootgap.errors import GeometryError
from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Array, Frame, unit
from rootgap.geometry.merging import LobedOpening, farthest_back, leg_frame, seams_back
from rootgap.geometry.tube import Tube
from rootgap.joints.joint import CutAt
from rootgap.joints.planes import PlaneCut, Prep
from rootgap.spec.collector import HALF_ANGLES

#: How many legs a collector may have.
COUNTS = (2, 3, 4)
#: Least length, mm, of a leg's short side (common practice, no source).
SHORTEST = 3.0


@dataclass(frozen=True, eq=False)
class Merge:
    """Equal legs that merge. frame: at the apex, its ref towards the first leg; half_angle: degrees;
    r_out, r_in: mm; length: of each leg from its square start to the apex, mm; outlet: station, mm, on
    the collector's axis, below nought before the apex, of the plane that cuts all legs off, or None
    where they run on to their points; tubes: the pipes that are its legs, in their order, or none for legs that
    are square at `length` and nothing before.

    Raises GeometryError for a count or half-angle that cannot be made, legs too short for their cuts, and
    an outlet before the legs have met or after they have closed.
    """

    kind: ClassVar[str] = "merge"
    id: str
    frame: Frame
    count: int
    half_angle: float
    r_out: float
    r_in: float
    length: float
    prep: Prep = "bevel"
    outlet: float | None = 0.0
    tubes: tuple[Tube, ...] = ()

    def __post_init__(self) -> None:
        if self.count not in COUNTS:
            raise GeometryError(self.id, f"{self.count} legs; a merge has 2, 3 or 4", "merge them in pairs")
        if not HALF_ANGLES[0] <= self.half_angle <= HALF_ANGLES[1]:
            raise GeometryError(
                self.id,
                f"half-angle {self.half_angle:g} degrees; allowed {HALF_ANGLES[0]:g} to {HALF_ANGLES[1]:g}",
                "lean the legs differently",
            )
        if self.outlet is not None and not self.crotch_bore < self.outlet < -self.crotch_bore:
            raise GeometryError(
                self.id,
                f"its outlet lies at {self.outlet:.1f} mm; the legs have met from {self.crotch_bore:.1f} mm "
                f"and have closed at {-self.crotch_bore:.1f} mm",
                "move the outlet between the two",
            )
        least = min(leg.cut_range[0] for leg in self.legs)
        if least < SHORTEST:
            raise GeometryError(
                self.id,
                f"the cut runs off the legs' start: {least:.1f} mm left, at least {SHORTEST:g} needed",
                f"make the legs {np.ceil(SHORTEST - least):.0f} mm longer",
            )

    @property
    def _sin(self) -> float:
        return float(np.sin(np.radians(self.half_angle)))

    @property
    def _cos(self) -> float:
        return float(np.cos(np.radians(self.half_angle)))

    @property
    def wedge(self) -> float:
        """Half the angle between neighbours' planes, radians."""
        return np.pi / self.count

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of all legs."""
        return tuple(leg.tube.piece for leg in self.legs)

    @property
    def cuts(self) -> tuple[CutAt, ...]:
        """The cut ends of all legs."""
        return tuple(CutAt(leg.tube.piece, "end", leg) for leg in self.legs)

    def leg(self, number: int) -> Frame:
        """Return the frame, mm, at the square start of leg `number`, from 0; clock 0 looks outward."""
        return leg_frame(self.frame, self.count, self.half_angle, number, self.length)

    def planes(self, number: int) -> tuple[HalfSpace, ...]:
        """Return what leg `number` may not enter: its neighbours' sides, then the outlet's far side."""
        middle = 2.0 * self.wedge * number
        turns = (0.0,) if self.count == 2 else (0.5 * np.pi - self.wedge, self.wedge - 0.5 * np.pi)
        seams = [HalfSpace(self.frame.origin, unit(self.frame.radial(middle + turn))) for turn in turns]
        if self.outlet is None:
            return tuple(seams)
        return (*seams, HalfSpace(self.frame.advanced(self.outlet).origin, unit(-self.frame.axis)))

    def cut_of(self, number: int, tube: Tube) -> PlaneCut:
        """Return the cut of leg `number` for a pipe with a frame, clocks and length of its own, mm."""
        return PlaneCut(f"{tube.piece}+{self.id}", tube, self.planes(number), self.prep)

    @cached_property
    def legs(self) -> tuple[PlaneCut, ...]:
        """The cut of every leg, from its square start."""
        tubes = self.tubes or [
            Tube(f"{self.id}.{k + 1}", f"{self.id}.{k + 1}", self.leg(k), self.r_out, self.r_in, self.length)
            for k in range(self.count)
        ]
        return tuple(self.cut_of(k, tube) for k, tube in enumerate(tubes))

    @property
    def farthest_back(self) -> float:
        """Clock, radians, up to pi, at which a leg's seams lie farthest back; the other is its mirror.

        >>> import numpy as np
        >>> from rootgap.geometry.frames import Frame
        >>> joint = Merge("collector", Frame.looking((0, 0, 0), (0, 0, 1)), 4, 10.0, 24.15, 21.38, 400.0)
        >>> float(np.degrees(joint.farthest_back))
        134.5615
        """
        return farthest_back(self.count, self.half_angle)

    def back(self, phi: ArrayLike, radius: float) -> Array:
        """Return how far back from the apex, mm, along a leg's axis, its seams lie at clocks `phi`,
        (...), radians, and `radius`, mm."""
        return seams_back(self.count, self.half_angle, phi, radius)

    @property
    def crotch(self) -> float:
        """Station, mm, on the collector's axis, below nought, at which the legs' outsides meet."""
        return -self.r_out / self._sin

    @property
    def crotch_bore(self) -> float:
        """Station, mm, on the collector's axis, below nought, at which the bores meet: the point on which
        a spike would stand."""
        return -self.r_in / self._sin

    @property
    def first_touch(self) -> float:
        """Station, mm, on the collector's axis, below nought, of the plane across it in which neighbours
        first touch: there the sections, ellipses, have the seam planes as tangents."""
        sin, cos = np.sin(self.wedge), np.cos(self.wedge)
        return float(-self.r_out * np.hypot(sin, cos * self._cos) / (sin * self._sin))

    def pitch_radius(self, station: float) -> float:
        """Return the distance, mm, of the legs' axes from the collector's in the plane across it at
        `station`, mm, below nought before the apex."""
        return abs(station) * self._sin / self._cos

    def enclosing_diameter(self, station: float) -> float:
        """Return the diameter, mm, of the least circle about the collector's axis round all outsides in
        the plane at `station`, mm, up to nought."""
        return 2.0 * (self.pitch_radius(station) + self.r_out / self._cos)

    def outline(self, station: float, radius: float, psi: ArrayLike) -> Array:
        """Return the opening's distance from the collector's axis, mm, (...), at angles `psi`, (...),
        radians from the frame's ref, in the plane at `station`, mm, for the legs' `radius`, mm. The
        legs must have met there: the axis lies inside."""
        return self._opening(station).outline(radius, psi)

    def _opening(self, station: float) -> LobedOpening:
        return LobedOpening(self.count, self.half_angle, station)

    def opening_area(self, station: float, radius: float) -> float:
        """Return the area, mm2, of all legs of `radius`, mm, in the plane at `station`, mm, each up to its
        seams.

        Source: circle and wedge, elementary, after shrinking the ellipse along the leg to a circle.
        """
        d = -station * self._sin
        if self.count == 2:
            wedge = 0.5 * np.pi
        else:
            wedge = float(np.arctan2(np.sin(self.wedge), np.cos(self.wedge) * self._cos))
        sin, cos = np.sin(wedge), np.cos(wedge)
        if d >= radius and d * sin >= radius:
            half = 0.5 * np.pi * radius**2
        else:
            root = np.sqrt(radius**2 - (d * sin) ** 2)
            far = d * cos + root
            half = 0.5 * radius**2 * np.arctan2(far * sin, far * cos - d) + 0.5 * d * far * sin
            if d > radius:
                near = d * cos - root
                half += 0.5 * radius**2 * (np.pi - np.arctan2(near * sin, near * cos - d)) - 0.5 * d * near * sin
        return float(2.0 * self.count * half / self._cos)

    def girth(self, station: float, radius: float) -> float:
        """Return the girth, mm, of the opening in the plane at `station`, mm, for the legs' `radius`, mm:
        what a pipe formed to it must measure round on that surface."""
        return self._opening(station).girth(radius)

    @cached_property
    def seam_length(self) -> float:
        """Length of one seam's weld, mm, on the legs' outsides: the seam plane's part of a leg's cut."""
        return self.legs[0].weld_lengths[0]

    @property
    def seams(self) -> int:
        """How many seams there are: one between two legs, else as many as legs."""
        return 1 if self.count == 2 else self.count

    @property
    def weld_length(self) -> float:
        """Length of all seams, mm, without the outlet's weld."""
        return self.seams * self.seam_length

    @property
    def root_gap_max(self) -> float:
        """Largest root gap, mm, along the legs: of two neighbours, added, for they lie opposite each other."""
        return 2.0 * self.legs[0].root_gap_max


@dataclass(frozen=True, eq=False)
class OutletWeld:
    """What stands on a collector's opening. after: its mark."""

    kind: ClassVar[str] = "outlet weld"
    id: str
    merge: Merge
    after: str
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of all legs and of what stands on them."""
        return *self.merge.joined, self.after

    @property
    def station(self) -> float:
        """Station of the opening on the collector's axis, mm."""
        return self.merge.outlet or 0.0

    @property
    def weld_length(self) -> float:
        """Girth of the opening on the legs' outsides, mm."""
        return self.merge.girth(self.station, self.merge.r_out)


@dataclass(frozen=True, eq=False)
class SpikeWeld:
    """A spike's foot on the bores of a collector's legs. spike, legs: their marks; weld_length: along all its
    facets' arcs, mm."""

    kind: ClassVar[str] = "spike weld"
    id: str
    spike: str
    legs: tuple[str, ...]
    weld_length: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """Marks of the spike and of all legs."""
        return self.spike, *self.legs
