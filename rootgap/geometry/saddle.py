"""The saddle: where the generators of a straight branch meet a cylinder.

Terminology
    generator   a line along the branch at clock `theta` and radius `rho` in its wall
    height      station along the branch axis, mm, where a generator first meets the target
    offset      shortest distance between the two axes, mm, signed
    lean        angle between the two axes, degrees

With z pointing square off the target's axis, back along the branch, and y = offset
direction, a generator lies at y = offset + rho * (radial . y) whatever its station, and is
on the target where z = sqrt(R^2 - y^2). Everything here follows from that one line.

Source: T. M. Apostol and M. A. Mnatsakanian, "Unwrapping Curves from Cylinders and Cones",
Amer. Math. Monthly 114 (2007) 388-416, for the developed saddle.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.geometry.frames import Frame, unit

Array = NDArray[np.float64]

#: Two axes closer to parallel than this, degrees, have no saddle.
PARALLEL = 1.0


@dataclass(frozen=True, eq=False)
class Saddle:
    """A straight branch against an endless cylinder.

    branch: frame of the branch, its axis towards the target; target: frame of the
    cylinder; radius: of the cylinder, mm. Raises ValueError where the axes are parallel.
    """

    branch: Frame
    target: Frame
    radius: float

    def __post_init__(self) -> None:
        if self.sin_lean < np.sin(np.radians(PARALLEL)):
            raise ValueError(f"the axes are parallel within {PARALLEL:g} degree")

    @cached_property
    def _square(self) -> Array:
        """The branch axis' part square to the target's axis, (3,)."""
        along = self.target.axis
        return self.branch.axis - (self.branch.axis @ along) * along

    @property
    def sin_lean(self) -> float:
        """Sine of the angle between the axes."""
        return float(np.linalg.norm(self._square))

    @property
    def lean(self) -> float:
        """Angle between branch axis and target axis, degrees, 0 to 180."""
        return float(np.degrees(np.arccos(np.clip(self.branch.axis @ self.target.axis, -1.0, 1.0))))

    @cached_property
    def _z(self) -> Array:
        return unit(-self._square)

    @cached_property
    def _y(self) -> Array:
        return np.cross(self.target.axis, self._z)

    @cached_property
    def offset(self) -> float:
        """Signed distance between the axes, mm."""
        return float((self.branch.origin - self.target.origin) @ self._y)

    @cached_property
    def _turning(self) -> Array:
        """The branch's ref and side in components along y and z, (2, 2)."""
        return np.array([self.branch.ref, self.branch.side]) @ np.array([self._y, self._z]).T

    def _parts(self, theta: ArrayLike) -> tuple[Array, Array]:
        """Return the radial directions' components along y and z at `theta`."""
        angle = np.asarray(theta, dtype=np.float64)
        cos, sin = np.cos(angle), np.sin(angle)
        (ref_y, ref_z), (side_y, side_z) = self._turning
        return cos * ref_y + sin * side_y, cos * ref_z + sin * side_z

    def height(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return the height, mm, of the generators at `theta`, radians, and `rho`, mm; they
        broadcast. nan where a generator passes the target."""
        ry, _ = self._parts(theta)
        rho = np.asarray(rho, dtype=np.float64)
        return self.level(theta, rho) - self._depth(self.offset + rho * ry) / self.sin_lean

    def level(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return the station, mm, at which the generators pass level with the target's axis."""
        _, rz = self._parts(theta)
        start = float((self.branch.origin - self.target.origin) @ self._z)
        return (start + np.asarray(rho, dtype=np.float64) * rz) / self.sin_lean

    def _depth(self, y: Array) -> Array:
        """Return sqrt(R^2 - y^2), exact 0 at the tangent, nan beyond it."""
        square = self.radius**2 - y**2
        touching = np.abs(square) < 1e-9 * self.radius**2
        with np.errstate(invalid="ignore"):
            return np.sqrt(np.where(touching, 0.0, square))

    def slope(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return d height / d rho (no unit), inf on a tangent generator."""
        ry, rz = self._parts(theta)
        y = self.offset + np.asarray(rho, dtype=np.float64) * ry
        with np.errstate(divide="ignore", invalid="ignore"):
            steep = np.where(np.abs(ry * y) < 1e-12, 0.0, ry * y / self._depth(y))
        return (rz + steep) / self.sin_lean

    def clearing_slope(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:  # noqa: ARG002
        """Return the largest slope, no unit, nought at most, of a straight face from the height at
        `rho_in`, mm, that clears the target: heights are convex, so the slope there, wherever the wall
        ends at `rho_out`, mm."""
        return np.minimum(self.slope(theta, rho_in), 0.0)

    def first_radius(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the radius in the wall, mm, whose generator at `theta` meets first.

        Height is convex in rho, so the first to meet is where its slope is nought, or an
        end of the wall.
        """
        ry, rz = self._parts(theta)
        along = np.abs(ry) < 1e-9
        across = np.where(along, 1.0, ry)
        level = (-np.sign(ry) * rz / np.hypot(across, rz) * self.radius - self.offset) / across
        level = np.where(along, np.where(rz < 0.0, rho_out, rho_in), level)
        return np.clip(level, rho_in, rho_out)

    def first_height(self, theta: ArrayLike, rho_in: float, rho_out: float) -> Array:
        """Return the least height, mm, over the whole wall at `theta`."""
        return self.height(theta, self.first_radius(theta, rho_in, rho_out))

    def points(self, theta: ArrayLike, rho: ArrayLike) -> Array:
        """Return where the generators meet the target, (..., 3), mm."""
        theta, rho = np.broadcast_arrays(np.asarray(theta, dtype=np.float64), np.asarray(rho, dtype=np.float64))
        height = self.height(theta, rho)
        radial = self.branch.radial(theta)
        return self.branch.origin + rho[..., None] * radial + height[..., None] * self.branch.axis

    def normals(self, points: Array) -> Array:
        """Return the target's outward unit normals at `points`, (..., 3)."""
        across = points - self.target.origin
        across = across - (across @ self.target.axis)[..., None] * self.target.axis
        return across / np.linalg.norm(across, axis=-1, keepdims=True)

    def edge_tangents(self, theta: ArrayLike, rho: float) -> Array:
        """Return unit tangents, (..., 3), of the edge that one radius, mm, makes on the target."""
        normals = self.normals(self.points(theta, rho))
        turn = self.branch.radial(np.asarray(theta, dtype=np.float64) + 0.5 * np.pi)
        climb = np.einsum("...i,...i->...", normals, turn)[..., None]
        tangent = climb * self.branch.axis - (normals @ self.branch.axis)[..., None] * turn
        return tangent / np.linalg.norm(tangent, axis=-1, keepdims=True)
