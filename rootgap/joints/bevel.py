"""The bevel of a pipe's end: what is ground off its outside, and the groove that this leaves.

Terminology
    root       the bore's edge of the end, where it lies on the other side of the joint
    land       the root face: the part of the end face next to the bore that the bevel leaves
    grind      angle of the face from square to the pipe's surface, in the plane through the pipe's axis,
               degrees: what a grinder is set to; above nought the outside is ground back
    groove     angle between the other side's surface and the face, square to the root, degrees
    section    what a plane square to the root shows: run along the other side's surface, away from the
               bore, and rise off it

In the section the face is seen at an angle: a line at `grind` in the plane through the axis has the
direction cos(grind) out - sin(grind) ahead, where `out` and `ahead` are the pipe's outward and forward
directions, each carried along the land's edge into the section. The angle of that direction from the run is
the groove, and solving for the grind of a groove is one arc tangent. No source: worked out; the terms are
those of ISO 2553 and AWS A2.4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.spec import LEAST_GROOVE, LEAST_LAND, MOST_GROOVE

Array = NDArray[np.float64]

#: No face is ground farther from square than this, degrees, only to open a groove: it would leave a feather
#: edge (common practice, no source).
MOST_GRIND = 70.0
#: Clocks of a bevel schedule: each eighth of a turn, degrees.
EIGHTHS = np.arange(0.0, 360.0, 45.0)


@dataclass(frozen=True)
class Bevel:
    """A wanted preparation. land: of the root face that stays, mm, measured across the wall; angle: between the
    other side's surface and the bevelled face, at least, degrees. Raises ValueError for others than a groove
    can have."""

    land: float
    angle: float

    def __post_init__(self) -> None:
        if self.land and self.land < LEAST_LAND:
            raise ValueError(f"a land must be 0, or at least {LEAST_LAND:g} mm")
        if not LEAST_GROOVE <= self.angle <= MOST_GROOVE:
            raise ValueError(f"a groove's angle must be {LEAST_GROOVE:g} to {MOST_GROOVE:g} degrees")


@dataclass(frozen=True)
class Ground:
    """One row of a bevel schedule: at a clock, the angle to grind and the groove that it leaves, degrees."""

    clock: float
    grind: float
    groove: float


@dataclass(frozen=True, eq=False)
class Section:
    """The end of a pipe in the section square to its root. out, ahead: (..., 2), no unit, the pipe's outward
    and forward directions as run and rise."""

    out: Array
    ahead: Array

    @classmethod
    def through(cls, radial: Array, ahead: Array, tangent: Array, normal: Array, stretch: ArrayLike) -> Section:
        """Return the section square to a root.

        radial, ahead: (..., 3), the pipe's directions; tangent, normal: (..., 3), of the root, and of the other
        side's surface there, all of length 1; stretch: (...), no unit, radius of the land's edge by that of the
        root. The land's edge is taken to climb as the root does, in mm a radian: so it does where the
        land is left square. Where the land must itself be ground to clear, the groove is out by 3 degrees
        at most, which is little beside what a grinder in the hand holds.
        """
        turn = np.cross(ahead, radial)
        along = np.cross(normal, tangent)
        along = along * np.sign(_dot(along, radial))[..., None]
        climb = _dot(tangent, ahead) / _dot(tangent, turn)
        edge = np.asarray(stretch, dtype=np.float64)[..., None] * turn + climb[..., None] * ahead

        def seen(direction: Array) -> Array:
            carried = direction - (_dot(direction, tangent) / _dot(edge, tangent))[..., None] * edge
            return np.stack([_dot(carried, along), _dot(carried, normal)], axis=-1)

        return cls(seen(radial), seen(ahead))

    def groove(self, grind: ArrayLike) -> Array:
        """Return the grooves, (...), degrees, that faces at `grind`, (...), degrees, leave. Below nought a
        face enters the other side. At 90 the face is the pipe's own outside.

        >>> square = Section(np.array([1.0, 0.0]), np.array([0.0, -1.0]))   # a pipe square on a plate
        >>> round(float(square.groove(30.0)), 9)
        30.0
        """
        turned = np.radians(np.asarray(grind, dtype=np.float64))[..., None]
        face = np.cos(turned) * self.out - np.sin(turned) * self.ahead
        return np.degrees(np.arctan2(face[..., 1], face[..., 0]))

    def grind(self, groove: ArrayLike) -> Array:
        """Return the grinds, (...), degrees, that leave grooves of `groove`, (...), degrees; 90 or more where not
        even the pipe's own outside opens so far."""
        angle = np.radians(np.asarray(groove, dtype=np.float64))
        across = np.stack([-np.sin(angle), np.cos(angle)], axis=-1)
        return np.degrees(np.arctan2(-_dot(self.out, across), -_dot(self.ahead, across)))


def schedule(grind: Callable[[Array], Array], groove: Callable[[Array], Array]) -> tuple[Ground, ...]:
    """Return what is ground at each eighth of a turn, and the groove that it leaves.

    grind, groove: degrees, at clocks, (n,), radians.
    """
    theta = np.radians(EIGHTHS)
    rows = zip(EIGHTHS, grind(theta), groove(theta), strict=True)
    return tuple(Ground(*map(float, row)) for row in rows)


def checked(bevel: Bevel | None, wall: float) -> None:
    """Raise ValueError where a bevel's land takes the whole `wall`, mm."""
    if bevel is not None and bevel.land > wall - LEAST_LAND:
        raise ValueError(f"a land of {bevel.land:g} mm leaves nothing of the wall of {wall:g} mm")


def face_radii(bevel: Bevel | None, r_in: float, r_out: float) -> Array:
    """Return the radii, (k,), mm, of the rings of an end face: bore, land where there is one, outside."""
    return np.array([r_in, r_in + bevel.land, r_out]) if bevel and bevel.land else np.array([r_in, r_out])


def _dot(a: Array, b: Array) -> Array:
    return np.einsum("...i,...i->...", a, b)
