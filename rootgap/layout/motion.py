"""How the engine moves on its mounts against the chassis.

Terminology: it *rolls* about an axis, by an angle to either side, and *shifts* besides by so much in any direction.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import cross, lengths, rotated, unit, vector
from rootgap.layout.pieces import Plate
from rootgap.spec.mount import BELOW, HEIGHT, ROLL, MountsSpec

Array = NDArray[np.float64]

#: Positions of a roll that are looked at, both ends and the middle among them.
POSITIONS = 9


@dataclass(frozen=True, eq=False)
class Motion:
    """at: (3,), mm, on the axis of the roll; along: (3,), unit; angle: radians to either side; shift: mm."""

    at: Array = field(default_factory=lambda: vector((0.0, -BELOW, 0.0)))
    along: Array = field(default_factory=lambda: vector((1.0, 0.0, 0.0)))
    angle: float = ROLL / HEIGHT
    shift: float = 0.0

    def seen(self, body: Body) -> Moved:
        """Return a body of the chassis as the engine sees it: everywhere it comes to."""
        return Moved(body, self)

    @cached_property
    def turns(self) -> Array:
        """What turns points off the axis to `POSITIONS` of the roll, or to none, (k, 3, 3): they are multiplied by
        it."""
        angles = np.linspace(-self.angle, self.angle, POSITIONS) if self.angle else np.zeros(1)
        return np.array([rotated(np.eye(3), self.along, angle) for angle in angles])

    def positions(self, points: Array) -> Array:
        """Return where points, (n, 3), mm, of the engine come to in `POSITIONS` of the roll, (k, n, 3)."""
        return self.at + (points - self.at) @ self.turns

    def radius(self, points: Array) -> Array:
        """Return how far, (n,), mm, `points`, (n, 3), mm, are from the axis."""
        return lengths(cross(points - self.at, self.along))

    def turned(self, points: Array, angles: Array) -> Array:
        """Return `points`, (n, 3), mm, of the engine, each rolled by its own of `angles`, (n,), radians."""
        return self.at + rotated(points - self.at, self.along, angles[:, None])


#: An engine that does not move.
STILL = Motion(angle=0.0)


@dataclass(frozen=True, eq=False)
class Moved:
    """All the places that a body of the chassis takes as the engine sees it."""

    body: Body
    motion: Motion

    def distance(self, points: Array) -> Array:
        """Return the least signed distances, (n,), mm, of `points`, (n, 3), mm, over `POSITIONS` of the roll."""
        # Asked at once: a scan takes hardly longer for many points than for a few.
        gaps = self.body.distance(self.motion.positions(points).reshape(-1, 3)) - self.motion.shift
        return np.asarray(gaps.reshape(len(self.motion.turns), -1).min(axis=0))

    def distance_at(self, points: Array, angles: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm, each with the engine rolled by its own of
        `angles`, (n,), radians, and shifted towards the body."""
        turned = self.motion.turned(points, angles) if angles.any() else points
        return self.body.distance(turned) - self.motion.shift

    def at(self, angle: float) -> Rolled:
        """Return the body as the engine sees it rolled by `angle`, radians."""
        return Rolled(self, angle)


@dataclass(frozen=True, eq=False)
class Rolled:
    """A body of the chassis as the engine sees it. angle: that the engine is rolled by, radians."""

    moved: Moved
    angle: float

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm."""
        return self.moved.distance_at(points, np.full(len(points), self.angle))


@dataclass(frozen=True, eq=False)
class Running:
    """A body as pipe knows it that is cold and that grows, free, from any of `data`, (k, 3), mm, by `share`, no unit.
    reach: of the pipe's outside off the points asked for, mm."""

    body: Body
    data: Array
    share: float
    reach: float

    def distance(self, points: Array) -> Array:
        """Return the least signed distances, (n,), mm, of `points`, (n, 3), mm, of the cold pipe, cold and grown."""
        grown = [datum + (1.0 + self.share) * (points - datum) for datum in self.data]
        hot = [self.body.distance(each) - self.share * self.reach for each in grown]
        return np.min([self.body.distance(points), *hot], axis=0)


def place_motion(spec: MountsSpec, heads: Sequence[Plate]) -> Motion:
    """Return the motion of an engine with flanges `heads` on it."""
    if spec.axis:
        at, along = vector(spec.axis.at), unit(spec.axis.along)
    else:
        datum = np.mean([head.start.origin for head in heads], axis=0) if heads else np.zeros(3)
        at, along = vector(datum - (0.0, BELOW, 0.0)), vector((1.0, 0.0, 0.0))
    return Motion(at, along, spec.roll / spec.height, spec.shift)
