"""The body of a collector's spike, from its faces: nothing is cut."""

from __future__ import annotations

import cadquery as cq

from rootgap.errors import KernelError
from rootgap.geometry.frames import Array
from rootgap.geometry.pyramid import Pyramid

#: Points that a rim's spline goes through: it stays within 1e-5 mm of the ellipse.
_POINTS = 65


def pyramid(made: Pyramid, *, part: str = "spike") -> cq.Solid:
    """Return a spike of sheet. Raises KernelError naming `part` where its faces do not close."""
    faces = [face for number in range(made.count) for face in _facet(made, number)]
    shell = cq.Shell.makeShell(faces)
    if not isinstance(shell, cq.Shell) or not shell.wrapped.Closed():
        raise KernelError(part, "its faces do not make one closed shell")
    return cq.Solid.makeSolid(shell)


def _facet(made: Pyramid, number: int) -> list[cq.Face]:
    """Return a facet's inside, outside and rim, and the end of the fold after it."""
    flat, (tip, first, last) = made.flat(points=_POINTS), made.mitred
    inner, outer = made.placed(number, flat), made.placed(number, flat, made.thickness)
    apex, begin, end = made.placed(number, [tip, first, last], made.thickness)
    rims = [cq.Edge.makeSpline([_vector(point) for point in row[1:]]) for row in (inner, outer)]
    inside = [_line(inner[0], inner[1]), rims[0], _line(inner[-1], inner[0])]
    outside = [
        _line(apex, begin), _line(begin, outer[1]), rims[1], _line(outer[-1], end), _line(end, apex),
    ]  # fmt: skip
    # The next facet's last foot is this one's first.
    beside = made.placed((number + 1) % made.count, flat[-1:], made.thickness)[0]
    foot = [_line(inner[1], outer[1]), _line(outer[1], begin), _line(begin, beside), _line(beside, inner[1])]
    planes = [cq.Face.makeFromWires(cq.Wire.assembleEdges(edges)) for edges in (inside, outside, foot)]
    return [*planes, cq.Face.makeRuledSurface(*rims)]


def _line(start: Array, end: Array) -> cq.Edge:
    return cq.Edge.makeLine(_vector(start), _vector(end))


def _vector(point: Array) -> cq.Vector:
    return cq.Vector(*map(float, point))
