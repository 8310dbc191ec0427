"""Passages of sheet: rolled cones, cones that stand on a collector, transitions from a port to round.

A passage's start stock is the sheet: its bore is that of its start, its wall the sheet's thickness.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.convex import Convex
from rootgap.geometry.distance import Frustum
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.passages import Lobed, towards, transition_volume
from rootgap.geometry.paths import Circle, Path
from rootgap.geometry.transition import SPACING, transition
from rootgap.geometry.transition import Transition as Passage
from rootgap.geometry.tube import Taper, Tube
from rootgap.layout.pieces.base import Array, Lobes, Mouth, Site, Skin, Span
from rootgap.spec import ConeSpec, TransitionSpec
from rootgap.stock import Material, PipeStock, sheet

#: Bores that differ by less than this, mm, make no cone.
EQUAL = 0.01
#: Shares of the length at which the area is recorded.
STATIONS = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True, eq=False)
class Sheet:
    """A passage that sheet is rolled or folded to. stock: the sheet; leaves: what follows; made: bores and
    thickness, its rims' x away from the start's side and y along its ref; offset: of its end's middle from the
    axis of its start, mm, towards `clock`, degrees."""

    id: str
    run: str
    stock: PipeStock
    start: Frame
    leaves: PipeStock
    made: Passage
    offset: float = 0.0
    clock: float = 0.0

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        on = self.start.advanced(self.length)
        return Frame(vector(on.origin + self.offset * on.radial(np.radians(self.clock))), on.axis, on.ref)

    @property
    def length(self) -> float:
        """Length between the planes of its ends, mm."""
        return self.made.length

    @property
    def filled(self) -> Frustum | None:
        """A cone that lies in the body it fills, bore and all: the whole of it from round to round; None where its
        ends are not in line."""
        if self.offset:
            return None
        first, last = (_least_reach(rim, self.made.wall) for rim in (self.made.start, self.made.end))
        return Frustum(self.start.origin, self.end.origin, first, last)

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return transition_volume(self.made)

    @cached_property
    def girth(self) -> float:
        """Girth of its start's outside, mm."""
        low, _, _ = self.made.rims(0.0, 0.25 * SPACING, depth=1.0)
        return float(np.linalg.norm(low - np.roll(low, 1, axis=0), axis=1).sum())

    @property
    def areas(self) -> Array:
        """The bore's areas, (5,), mm2, at each quarter of its length."""
        return self.made.areas(STATIONS)

    @property
    def least_area(self) -> float:
        """The bore's least area, mm2."""
        return self.made.least_area[0]

    def bore(self, along: float) -> Path:
        """Return its bore `along` mm from its start, x away from the start's side and y along its ref."""
        return self.made.section(along / self.length)

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        return ruled_skin(self.start, self.made)

    def record(self) -> dict[str, Any]:
        """Return the passage's figures."""
        return {
            "thickness": self.made.wall,
            "leaves": self.leaves.label,
            "offset": self.offset,
            "clock": self.clock,
            "bore_girths": [round(rim.girth, 6) for rim in (self.made.start, self.made.end)],
            **_area_record(self.areas, self.least_area),
            "largest_lean": self.made.largest_lean,
        }

    def _aside(self) -> str:
        return f", end {self.offset:g} mm aside at clock {self.clock % 360.0:g}" if self.offset else ""


@dataclass(frozen=True, eq=False)
class Cone(Sheet):
    """A cone from round to round. Its bores are those of the two stocks."""

    kind: ClassVar[str] = "cone"

    @property
    def tube(self) -> Tube | None:
        """The cone as a side of a joint; None where its ends are not in line."""
        if self.offset:
            return None
        grows = self.leaves.r_in - self.stock.r_in
        # The sheet leans: its outside meets an end's plane further out than its thickness.
        r_out = self.stock.r_in + self.made.wall * float(np.hypot(self.length, grows)) / self.length
        return Tube(self.run, self.id, self.start, r_out, self.stock.r_in, self.length, taper=Taper(grows, grows))

    @property
    def made_from(self) -> str:
        """How to make it."""
        return (
            f"cone of sheet, bore {self.stock.bore:.2f} to {self.leaves.bore:.2f} mm, {self.length:g} mm long"
            f"{self._aside()}: cut to its development, roll, weld the seam"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"cone {self.length:g}"


@dataclass(frozen=True, eq=False)
class Transition(Sheet):
    """A passage from an opening to round."""

    kind: ClassVar[str] = "transition"

    @property
    def made_from(self) -> str:
        """How to make it."""
        return (
            f"transition of sheet, from the opening to {self.leaves.bore:.2f} mm bore, {self.length:g} mm long"
            f"{self._aside()}: cut to its development, bend on its lines, weld the seam"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"transition {self.length:g}"


@dataclass(frozen=True, eq=False)
class LobedCone:
    """A cone from a collector's opening to round. stock: the sheet; leaves: what follows; length: mm; lobes: what
    it stands on. Its bore meets the legs' bores, and its outside lies the sheet's thickness further out."""

    kind: ClassVar[str] = "cone"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    leaves: PipeStock
    length: float
    lobes: Lobes

    def passage(self, out: float) -> Lobed:
        """Return the passage that lies `out` mm outside its bore."""
        opening = self.lobes.opening
        outline = partial(opening.outline, self.lobes.stock.r_in + out)
        return Lobed(outline, opening.corners, self.leaves.r_in + out, self.length)

    @cached_property
    def bore(self) -> Lobed:
        """Its bore."""
        return self.passage(0.0)

    @cached_property
    def outside(self) -> Lobed:
        """Its outside."""
        return self.passage(self.stock.wall)

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.advanced(self.length)

    @property
    def filled(self) -> Frustum:
        """A cone that lies in the body it fills, bore and all."""
        least = float(self.outside.outline(self.lobes.opening.corners).min())
        return Frustum(self.start.origin, self.end.origin, least, self.outside.radius)

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        return self.outside.volume - self.bore.volume

    @property
    def areas(self) -> Array:
        """The bore's areas, (5,), mm2, at each quarter of its length."""
        return self.bore.areas(STATIONS)

    @property
    def least_area(self) -> float:
        """The bore's least area, mm2."""
        return self.bore.least_area[0]

    @property
    def made_from(self) -> str:
        """How to make it."""
        return (
            f"lobed cone of sheet, from the collector's opening to {self.leaves.bore:.2f} mm bore, {self.length:g} mm "
            "long: cut to its development, crease, bend, dress, weld the seam"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"lobed cone {self.length:g}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        start, made = self.start, self.outside

        def points(u: Array, v: Array) -> Array:
            psi = 2.0 * np.pi * u
            rho = (1.0 - v) * made.outline(psi) + v * made.radius
            return start.origin + (self.length * v)[:, None] * start.axis + rho[:, None] * start.radial(psi)

        return points

    def record(self) -> dict[str, Any]:
        """Return the cone's figures."""
        return {
            "thickness": self.stock.wall,
            "leaves": self.leaves.label,
            "lobes": self.lobes.opening.count,
            "opening_girth": self.lobes.opening.girth(self.lobes.stock.r_in),
            **_area_record(self.areas, self.least_area),
            "largest_lean": self.bore.largest_lean,
        }


def ruled_skin(frame: Frame, made: Passage) -> Skin:
    """Return a map over a passage's outside, mm, that stands on `frame`, its rims' x away from the frame's side."""
    low, high, _ = made.rims(0.0, depth=1.0)
    low, high = (np.vstack([rim, rim[:1]]) for rim in (low, high))
    share = np.linspace(0.0, 1.0, len(low))
    axes = np.array([-frame.side, frame.ref, frame.axis])

    def points(u: Array, v: Array) -> Array:
        first, last = (np.column_stack([np.interp(u, share, rim[:, k]) for k in range(3)]) for rim in (low, high))
        return frame.origin + (first + v[:, None] * (last - first)) @ axes

    return points


def place_cone(spec: ConeSpec, site: Site) -> Cone | LobedCone:
    """Return the cone of `spec`: on a collector's opening where it begins there. Raises GeometryError."""
    leaves = site.stocks[spec.cone]
    if isinstance(site.mouth, Lobes):
        if spec.offset:
            raise GeometryError(site.mark, "a cone on a collector stands in line with it", "leave its offset out")
        legs = site.mouth.stock
        made_of = _sheet(spec, legs, legs.bore)
        return LobedCone(site.mark, site.run, made_of, site.start, leaves, spec.length, site.mouth)
    bore = site.stock.bore
    if abs(bore - leaves.bore) < EQUAL and not spec.offset:
        raise GeometryError(
            site.mark, f"both its bores are {bore:.2f} mm: that is a pipe, no cone", "use a straight, or another stock"
        )
    made_of = _sheet(spec, site.stock, bore)
    middle = towards(spec.offset, spec.clock)
    made = transition(
        Circle((0.0, 0.0), 0.5 * bore),
        Circle((0.0, 0.0), leaves.r_in),
        spec.length,
        made_of.wall,
        (middle.real, middle.imag),
    )
    return Cone(site.mark, site.run, made_of, site.start, leaves, made, spec.offset, spec.clock)


def place_transition(spec: TransitionSpec, site: Site) -> Transition:
    """Return the transition of `spec`. Raises GeometryError where it begins at no opening."""
    leaves = site.stocks[spec.transition]
    if not isinstance(site.mouth, Mouth):
        raise GeometryError(site.mark, "a transition begins at an opening", "start its run at a port")
    made_of = _sheet(spec, leaves, leaves.bore)
    middle = towards(spec.offset, spec.clock)
    made = transition(
        site.mouth.shape,
        Circle((0.0, 0.0), leaves.r_in),
        spec.length,
        made_of.wall,
        (middle.real, middle.imag),
    )
    return Transition(site.mark, site.run, made_of, site.start, leaves, made, spec.offset, spec.clock)


def _sheet(spec: ConeSpec | TransitionSpec, like: PipeStock, bore: float) -> PipeStock:
    """Return the sheet of `spec`, round a bore, mm: in thickness and metal like a stock where it says nothing."""
    metal: Material | str = like.material if spec.material is None else spec.material
    return sheet(bore, like.wall if spec.thickness is None else spec.thickness, metal)


def _least_reach(rim: Convex, wall: float) -> float:
    """Return how near a rim's outside comes to the axis, mm, at the least: a wall outside its bore."""
    directions = np.arange(0.0, 2.0 * np.pi, SPACING)
    return float((rim.after(directions) * np.exp(-1j * directions)).real.min()) + wall


def _area_record(areas: Array, least: float) -> dict[str, Any]:
    return {"bore_areas": [round(float(area), 6) for area in areas], "least_bore_area": least}
