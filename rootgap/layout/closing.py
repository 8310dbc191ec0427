"""Two bends and a straight between two poses: where an aimed run turns.

Five figures are free, two angles, two clocks and a length, and a pose on a round pipe asks for five.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Array, Frame, unit

#: Rounds until the middle's direction stands still, and by how little it then moves, no unit.
ROUNDS, STILL = 500, 1e-13
#: How far from its end, mm, an aimed run may arrive.
ARRIVED = 1e-6


@dataclass(frozen=True)
class Closing:
    """A bend, a straight and a bend. angles, clocks: degrees, each clock of the frame carried there; length: mm."""

    angles: tuple[float, float]
    clocks: tuple[float, float]
    length: float


def closing(mark: str, start: Frame, end: Frame, radii: tuple[float, float]) -> Closing:
    """Return how bends of centre-line `radii`, mm, and a straight lead from `start` to `end`'s place and axis.

    Raises GeometryError, naming `mark`, where there is no room for them.

    The middle straight runs between the corners of the axes, R tan(angle / 2) from each pose: a fixed point
    in its direction. Source: elementary.

    >>> up = Frame.looking((0, 0, 0), (0, 0, 1))
    >>> found = closing("a", up, Frame.looking((100, 0, 300), (0, 0, 1)), (50.0, 50.0))
    >>> [round(angle, 3) for angle in found.angles], round(found.length, 3)
    ([19.471, 19.471], 282.843)
    """
    gap = end.origin - start.origin
    if np.linalg.norm(gap) < 1e-9:
        raise GeometryError(mark, "it begins where it is to end", "move one of the two apart")
    way = unit(gap)
    for _ in range(ROUNDS):
        span = gap - sum(_reach(start, end, way, radii)[k] * frame.axis for k, frame in enumerate((start, end)))
        if np.linalg.norm(span) < 1e-9:
            break
        turned = unit(way + unit(span))
        moved, way = float(np.linalg.norm(turned - way)), turned
        if moved < STILL:
            break
    reach = _reach(start, end, way, radii)
    span = gap - reach[0] * start.axis - reach[1] * end.axis
    length = float(np.linalg.norm(span)) - sum(reach)
    first = _turn(start, way)
    middle = start.bent(radii[0], *first).advanced(length)
    second = _turn(middle, end.axis)
    missed = float(np.linalg.norm(middle.bent(radii[1], *second).origin - end.origin))
    if length < 0.0 or missed > ARRIVED:
        raise GeometryError(
            mark,
            f"two bends of {radii[0]:.0f} and {radii[1]:.0f} mm do not fit between where it begins and where it ends, "
            f"{np.linalg.norm(gap):.0f} mm apart",
            "use smaller bends, shorter straights beside them, or move the end away",
        )
    return Closing((first[0], second[0]), (first[1], second[1]), length)


def _reach(start: Frame, end: Frame, way: Array, radii: tuple[float, float]) -> tuple[float, float]:
    """Return how far from each pose, mm, its bend's corner lies."""
    # Unlike the arc cosine, this keeps its digits where a bend hardly turns.
    halves = [
        0.5 * float(np.arctan2(np.linalg.norm(np.cross(axis, way)), axis @ way)) for axis in (start.axis, end.axis)
    ]
    # A bend that would turn right back has no corner: nearly there it is far enough off to be refused.
    first, second = (radius * float(np.tan(min(half, 1.5))) for radius, half in zip(radii, halves, strict=True))
    return first, second


def _turn(frame: Frame, way: Array) -> tuple[float, float]:
    """Return by how much and towards which clock, degrees, a frame's axis turns to `way`."""
    across, aside = float(way @ frame.ref), float(way @ frame.side)
    angle = np.degrees(np.arctan2(np.hypot(across, aside), float(way @ frame.axis)))
    return float(angle), float(np.degrees(np.arctan2(aside, across)) % 360.0)
