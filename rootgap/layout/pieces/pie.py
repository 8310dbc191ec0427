"""A bend of mitred segments.

Terminology: a *mitre* is a joint of two segments, its plane half way between their axes; the *saw
angle* is that plane's lean off square to either. Every segment's axis touches the arc of the
centre-line radius at its middle, and the two half segments touch it at their square ends, so that
the corners of the centre line lie outside the arc.

Source: N cuts over an angle A: saw angle A / 2N, segments 2 R tan(saw angle) long, as in ASME B31.3 304.2.3.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Bending, Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.spec import PieSpec
from rootgap.stock import PipeStock

#: A half segment shorter than this in its throat cannot be held or welded, mm (common practice, no source).
SHORTEST_THROAT = 1.5


@dataclass(frozen=True, eq=False)
class Pie:
    """A bend through `angle` degrees by `cuts` mitres. radius: of the arc, mm; clock: where it bends to, degrees."""

    kind: ClassVar[str] = "pie"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    radius: float
    angle: float
    cuts: int
    clock: float

    @property
    def saw(self) -> float:
        """How far off square the saw stands, degrees."""
        return 0.5 * self.angle / self.cuts

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.touch(self.cuts)

    @property
    def leaves(self) -> PipeStock:
        """The stock of what follows: its own."""
        return self.stock

    @property
    def tube(self) -> Tube:
        """The smooth bend that the segments go round, near enough to see what they run into."""
        length = float(self.radius * np.radians(self.angle))
        bending = Bending(self.radius, self.clock)
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, length, bending)

    def touch(self, segment: int) -> Frame:
        """Return the frame, mm, where the axis of a segment, from 0 to `cuts`, touches the arc."""
        return self.start.bent(self.radius, 2.0 * self.saw * segment, self.clock)

    @property
    def corners(self) -> Array:
        """The points, (cuts + 2, 3), mm, that the centre line goes straight between, its ends included."""
        half = self.half(0.0)
        mitres = [frame.origin + half * frame.axis for frame in map(self.touch, range(self.cuts))]
        return np.array([self.start.origin, *mitres, self.end.origin])

    def half(self, out: float) -> float:
        """Return the length of half a segment, mm, at `out` mm outward of the centre line."""
        return float((self.radius + out) * np.tan(np.radians(self.saw)))

    def edge(self, turn: Array) -> Array:
        """Return the mitre's edge on the outside, mm from the middle of a segment, at angles from the
        throat, (...), radians: a sine line."""
        return (self.radius - self.stock.r_out * np.cos(turn)) * np.tan(np.radians(self.saw))

    @property
    def length(self) -> float:
        """Length of the centre line, mm, along its straights."""
        return 2.0 * self.cuts * self.half(0.0)

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all."""
        return self.tube.filled(self.stock.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3: a mitre through the axis takes as much off one side as it leaves on the other."""
        return self.stock.area * self.length

    @property
    def mitre_length(self) -> float:
        """Length of one mitre's edge on the outside, mm: the girth of an ellipse."""
        turn = 2.0 * np.pi * np.arange(720) / 720
        # The trapezoid rule on a whole period is as good as exact.
        steep = np.tan(np.radians(self.saw)) * np.sin(turn)
        return float(2.0 * np.pi * self.stock.r_out * np.mean(np.hypot(1.0, steep)))

    @property
    def segments(self) -> str:
        """How many segments of what length there are, for people."""
        throat, middle, back = (2.0 * self.half(out) for out in (-self.stock.r_out, 0.0, self.stock.r_out))
        whole = f"{self.cuts - 1} whole (throat {throat:.1f}, centre {middle:.1f}, back {back:.1f} mm) and "
        return (whole if self.cuts > 1 else "") + (
            f"2 half (throat {throat / 2.0:.1f}, centre {middle / 2.0:.1f}, back {back / 2.0:.1f} mm)"
        )

    @property
    def made_from(self) -> str:
        """How to saw it and from how much pipe."""
        return (
            f"pie-cut bend of {self.cuts + 1} segments, {self.segments}; saw at {self.saw:.2f} deg, pipe turned "
            f"180 deg after each cut; {self.length:.1f} mm of pipe and {self.cuts} kerf{'s' if self.cuts > 1 else ''}"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"pie {self.angle:.4g}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        count, r_out, clock = self.cuts + 1, self.stock.r_out, np.radians(self.clock)
        frames = [self.touch(number) for number in range(count)]
        origin, axis, ref, side = (
            np.array([getattr(frame, name) for frame in frames]) for name in ("origin", "axis", "ref", "side")
        )

        def points(u: Array, v: Array) -> Array:
            number = np.minimum((count * v).astype(int), count - 1)
            theta, edge = 2.0 * np.pi * u, self.edge(2.0 * np.pi * u - clock)
            low, high = np.where(number == 0, 0.0, -edge), np.where(number == count - 1, 0.0, edge)
            station = low + (count * v - number) * (high - low)
            out = np.cos(theta)[:, None] * ref[number] + np.sin(theta)[:, None] * side[number]
            return origin[number] + station[:, None] * axis[number] + r_out * out

        return points

    def record(self) -> dict[str, Any]:
        """Return the bend's figures."""
        return {
            "radius": self.radius,
            "angle": self.angle,
            "clock": self.clock,
            "cuts": self.cuts,
            "saw_angle": self.saw,
            "throat": 2.0 * self.half(-self.stock.r_out),
            "centre": 2.0 * self.half(0.0),
            "back": 2.0 * self.half(self.stock.r_out),
            "mitre_weld_length": self.mitre_length,
        }


def place_pie(spec: PieSpec, site: Site) -> Pie:
    """Return the bend of `spec`. Raises GeometryError where its cuts run into each other in the throat."""
    placed = Pie(site.mark, site.run, site.stock, site.start, spec.pie, spec.angle, spec.cuts, spec.clock)
    throat = placed.half(-site.stock.r_out)
    if throat < SHORTEST_THROAT:
        least = site.stock.r_out + SHORTEST_THROAT / np.tan(np.radians(placed.saw))
        raise GeometryError(
            site.mark,
            f"a half segment is {throat:.1f} mm long in its throat, at least {SHORTEST_THROAT:g} needed",
            f"make the radius at least {np.ceil(10.0 * least) / 10.0:.1f} mm, or make fewer cuts",
        )
    return placed
