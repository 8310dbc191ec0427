"""Placed pieces: what stands where.

Every piece has a frame where the gas comes in (`start`) and one where it leaves (`end`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.spec import CopeEnd, FlangePart
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Straight:
    """A straight pipe. length: along the axis, mm; to where the axis meets the target on a coped end."""

    kind: ClassVar[str] = "straight"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float
    fills: bool

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.advanced(self.length)


@dataclass(frozen=True, eq=False)
class Elbow:
    """A butt-weld elbow trimmed to `angle` degrees. radius: of the centre line, mm; stock_angle:
    of the fitting it is cut from, degrees."""

    kind: ClassVar[str] = "elbow"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    series: str
    stock_angle: float
    radius: float
    angle: float
    clock: float

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.bent(self.radius, self.angle, self.clock)

    @property
    def length(self) -> float:
        """Length of the centre line, mm."""
        return self.arc(0.0)

    def arc(self, out: float) -> float:
        """Return the arc length, mm, at `out` mm outward of the centre line, in the plane of the bend."""
        return float((self.radius + out) * np.radians(self.angle))


@dataclass(frozen=True, eq=False)
class Cap:
    """A butt-weld cap. start: at its open end, the axis towards the crown; length: over all, mm."""

    kind: ClassVar[str] = "cap"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float

    @property
    def rise(self) -> float:
        """Height of the outside's half ellipse over the skirt, mm: the inside is r_in / 2 deep."""
        return 0.5 * self.stock.r_in + self.stock.wall

    @property
    def skirt(self) -> float:
        """Length of the straight skirt, mm."""
        return self.length - self.rise

    @property
    def volume(self) -> float:
        """Metal volume, mm3, of a 2:1 ellipsoidal head with a straight skirt.

        Source: ASME B16.9 caps are ellipsoidal to the vessel code's 2:1 form; volume of a half
        ellipsoid 2/3 pi a^2 b.
        """
        r_out, r_in = self.stock.r_out, self.stock.r_in
        outside = r_out**2 * (self.skirt + 2.0 / 3.0 * self.rise)
        inside = r_in**2 * (self.skirt + 1.0 / 3.0 * r_in)
        return float(np.pi * (outside - inside))


@dataclass(frozen=True, eq=False)
class Plate:
    """A flange. start: its drawing's origin on the face at which the plate begins; axis: through
    the plate, along the gas; ref: the drawing's +y."""

    kind: ClassVar[str] = "flange"
    id: str
    part: FlangePart
    start: Frame

    @property
    def end(self) -> Frame:
        """The frame on the face where the gas leaves."""
        return self.start.advanced(self.part.thickness)


Piece = Straight | Elbow | Cap | Plate


@dataclass(frozen=True)
class Port:
    """One opening of a flange as a run's start or end. number: from 1."""

    flange: str
    number: int


@dataclass(frozen=True, eq=False)
class Run:
    """A chain of pieces. start, end: frames of the whole; begins: the port or the run it starts at;
    cope: how its end sits on another run, flange: the plate it ends on."""

    name: str
    pieces: tuple[Straight | Elbow, ...]
    start: Frame
    begins: Port | str | None
    first_cap: Cap | None
    last_cap: Cap | None
    cope: CopeEnd | None
    flange: Plate | None

    @property
    def end(self) -> Frame:
        """The frame at the run's gas end, before any cap or flange."""
        return self.pieces[-1].end

    @property
    def length(self) -> float:
        """Length of the axis, mm."""
        return float(sum(piece.length for piece in self.pieces))


@dataclass(frozen=True, eq=False)
class Keepout:
    """A body that metal stays clear of by `clearance` mm."""

    body: Body
    clearance: float
