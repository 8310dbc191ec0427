"""The outside and the bore of a straight or bent pipe as surfaces of the kernel.

Terminology
    generator   the line or arc at one clock of a wall; as a curve of the kernel its parameter is the station times
                `rate`
    image       where a clock and a station lie among a surface's two parameters: a linear map, so that the image of a
                spline is a spline
    first       the clock, radians, from which a cylinder counts its own; a torus can't be turned about its centre line
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from OCP.Geom import Geom_Circle, Geom_Curve, Geom_CylindricalSurface, Geom_Line, Geom_Surface, Geom_ToroidalSurface
from OCP.Geom2d import Geom2d_Line
from OCP.gp import gp_Ax2, gp_Ax3, gp_Dir, gp_Dir2d, gp_Pnt, gp_Pnt2d

from rootgap.geometry.frames import Frame
from rootgap.geometry.wall import BentWall, StraightWall, Wall

Array = NDArray[np.float64]


def axes(frame: Frame, theta: float) -> gp_Ax3:
    """Return the kernel's axes with z along a frame's axis and x at the clock `theta`, radians."""
    return gp_Ax3(_point(frame.origin), _direction(frame.axis), _direction(frame.radial(theta)))


def surface(wall: Wall, first: float, radius: float) -> Geom_Surface:
    """Return the surface of a `radius`, mm, its normal outwards."""
    if isinstance(wall, StraightWall):
        return Geom_CylindricalSurface(axes(wall.frame, first), radius)
    return Geom_ToroidalSurface(gp_Ax3(_about(wall, wall.center)), wall.radius, radius)


def generator(wall: Wall, theta: float, radius: float) -> Geom_Curve:
    """Return the generator at a clock, radians, and a radius, mm."""
    if isinstance(wall, StraightWall):
        return Geom_Line(_point(wall.frame.origin + radius * wall.frame.radial(theta)), _direction(wall.frame.axis))
    turned = theta - np.radians(wall.clock)
    center = wall.center + radius * np.sin(turned) * wall.normal
    return Geom_Circle(_about(wall, center), float(wall.radius - radius * np.cos(turned)))


def rate(wall: Wall) -> float:
    """Return by how much the parameter of a generator grows in a mm of station."""
    return 1.0 if isinstance(wall, StraightWall) else 1.0 / wall.radius


def images(wall: Wall, first: float, values: Array) -> Array:
    """Return the images, (n, 2), of clocks, radians, and stations, mm, (n, 2)."""
    if isinstance(wall, StraightWall):
        return values - (first, 0.0)
    # The kernel's torus counts its clock from the back, and the other way round.
    turned = np.pi + np.radians(wall.clock) - values[:, 0]
    return np.column_stack([values[:, 1] / wall.radius, turned])


def generator_image(wall: Wall, first: float, theta: float) -> Geom2d_Line:
    """Return the image of the generator at a clock, radians, with its own parameter."""
    return _image_line(wall, first, [(theta, 0.0), (theta, 1.0)])


def ring_image(wall: Wall, first: float, station: float) -> Geom2d_Line:
    """Return the image of the ring round a station, mm; its parameter is the clock from `first`, radians."""
    return _image_line(wall, first, [(first, station), (first + 1.0, station)])


def _image_line(wall: Wall, first: float, ends: list[tuple[float, float]]) -> Geom2d_Line:
    start, end = images(wall, first, np.array(ends))
    return Geom2d_Line(gp_Pnt2d(*map(float, start)), gp_Dir2d(*map(float, end - start)))


def _about(wall: BentWall, center: Array) -> gp_Ax2:
    """Return axes about the axis of a bend, which count from its start."""
    return gp_Ax2(_point(center), _direction(wall.normal), _direction(-wall.towards))


def _point(place: Array) -> gp_Pnt:
    return gp_Pnt(*map(float, place))


def _direction(along: Array) -> gp_Dir:
    return gp_Dir(*map(float, along))
