"""Flanges that lie on each other: the end of one run bolted to the beginning of another."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.layout.pieces import Plate

#: Between two faces that are bolted together, mm, at most: a thick gasket (common practice, no source).
GASKET = 3.0
#: How far, mm, they may stand in each other, of roundoff.
_TOUCH = 0.05
#: Sine of the most that such faces lean from each other, no unit.
_LEAN = 0.002


def mates_of(left: Sequence[Plate], begun: Sequence[Plate]) -> Iterator[tuple[Plate, Plate]]:
    """Yield each of the flanges that gas leaves by and the one of those that runs begin on that lies on it, face to
    face and holes on holes."""
    for plate in left:
        for other in begun:
            if _lies_on(plate, other):
                yield plate, other


def _lies_on(plate: Plate, other: Plate) -> bool:
    axis = plate.start.axis
    aside = float(np.linalg.norm(np.cross(axis, other.start.axis)))
    off = float((other.start.origin - plate.end.origin) @ axis)
    if aside > _LEAN or float(axis @ other.start.axis) < 0.0 or not -_TOUCH <= off <= GASKET:
        return False
    holes = [(other.at(*hole.at).origin, hole.diameter) for hole in other.part.holes()]
    for hole in plate.part.holes():
        at = plate.at(*hole.at).origin
        apart = [float(np.linalg.norm(np.cross(axis, there - at))) - 0.5 * wide for there, wide in holes]
        if not apart or min(apart) > 0.0:
            return False
    return bool(plate.part.holes())
