"""The outsides of simple bodies as maps over the unit square, for what is asked of bodies point by point."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Bend, Rod
from rootgap.geometry.frames import Frame, cross

Array = NDArray[np.float64]

#: Maps two arrays (n,), no unit, over the unit square to points (n, 3), mm.
Skin = Callable[[Array, Array], Array]


def skin_of(body: Rod | Bend) -> Skin:
    """Return a map over the whole outside of `body`, end faces and all, mm."""
    return bend_skin(body) if isinstance(body, Bend) else rod_skin(body)


def rod_skin(rod: Rod) -> Skin:
    """Return a map over a rod's side and its two end faces, mm.

    >>> skin = rod_skin(Rod(np.zeros(3), np.array((0.0, 0.0, 10.0)), 5.0))
    >>> np.round(skin(np.zeros(3), np.array((0.0, 0.5, 1.0))), 9)[:, 2].tolist()
    [0.0, 5.0, 10.0]
    """
    frame = Frame.looking(rod.start, rod.end - rod.start)
    length, radius = float(np.linalg.norm(rod.end - rod.start)), rod.radius
    along = np.array([0.0, radius, radius + length, 2.0 * radius + length])

    def points(u: Array, v: Array) -> Array:
        station = np.interp(v * along[-1], along, [0.0, 0.0, length, length])
        across = np.interp(v * along[-1], along, [0.0, radius, radius, 0.0])
        return frame.origin + station[:, None] * frame.axis + across[:, None] * frame.radial(2.0 * np.pi * u)

    return points


def bend_skin(bend: Bend) -> Skin:
    """Return a map over a bend's side and its two end faces, mm."""
    angle, clock, radius = bend.angle, np.radians(bend.clock), bend.r_out
    length = bend.radius * np.radians(angle)
    along = np.array([0.0, radius, radius + length, 2.0 * radius + length])
    towards = bend.frame.radial(clock)
    normal, centre = cross(bend.frame.axis, towards), bend.frame.origin + bend.radius * towards

    def points(u: Array, v: Array) -> Array:
        turn = np.interp(v * along[-1], along, [0.0, 0.0, length, length]) / bend.radius
        across = np.interp(v * along[-1], along, [0.0, radius, radius, 0.0])
        theta = 2.0 * np.pi * u
        spoke = np.sin(turn)[:, None] * bend.frame.axis - np.cos(turn)[:, None] * towards
        return (
            centre
            + (bend.radius + across * np.cos(theta))[:, None] * spoke
            + (across * np.sin(theta))[:, None] * normal
        )

    return points
