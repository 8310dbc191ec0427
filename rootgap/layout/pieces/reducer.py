"""A butt-weld reducer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap import stock
from rootgap.errors import GeometryError, StockError
from rootgap.geometry.distance import Frustum
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.passages import frustum_volume
from rootgap.geometry.tube import Taper, Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.spec import ReducerSpec
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Reducer:
    """A butt-weld reducer, taken as a cone from end to end; bought ones are bell-shaped. stock, leaves: at its
    start and its end; length: end to end, mm; size: what it is bought as; eccentric: whether one side is flat,
    at `clock`, degrees.

    Source: ASME B16.9, which gives concentric and eccentric reducers one length.
    """

    kind: ClassVar[str] = "reducer"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    leaves: PipeStock
    length: float
    size: str
    eccentric: bool = False
    clock: float = 0.0

    @property
    def offset(self) -> float:
        """How far its end's middle lies off its start's axis towards `clock`, mm; below nought away from it."""
        return self.stock.r_out - self.leaves.r_out if self.eccentric else 0.0

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        on = self.start.advanced(self.length)
        return Frame(vector(on.origin + self.offset * on.radial(np.radians(self.clock))), on.axis, on.ref)

    @property
    def filled(self) -> Frustum | None:
        """The body that it fills, bore and all; None where its ends are not in line."""
        if self.eccentric:
            return None
        return Frustum(self.start.origin, self.end.origin, self.stock.r_out, self.leaves.r_out)

    @property
    def tube(self) -> Tube | None:
        """The reducer as a side of a joint; None where its ends are not in line."""
        if self.eccentric:
            return None
        taper = Taper(self.leaves.r_out - self.stock.r_out, self.leaves.r_in - self.stock.r_in)
        radii = self.stock.r_out, self.stock.r_in
        return Tube(self.run, self.id, self.start, *radii, self.length, taper=taper)

    @property
    def volume(self) -> float:
        """Metal volume, mm3."""
        ends = ((each.r_out, each.r_in) for each in (self.stock, self.leaves))
        return frustum_volume(self.length, *ends)

    @property
    def made_from(self) -> str:
        """What to take."""
        side = "eccentric" if self.eccentric else "concentric"
        return f"{side} butt-weld reducer, {self.size}, whole; drawn as a cone, bought ones are bell-shaped"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{'ecc.' if self.eccentric else 'conc.'} reducer"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside. span (mm) is of no use here."""
        start, end, first, last = self.start, self.end, self.stock.r_out, self.leaves.r_out

        def points(u: Array, v: Array) -> Array:
            middle = start.origin + v[:, None] * (end.origin - start.origin)
            return middle + (first + (last - first) * v)[:, None] * start.radial(2.0 * np.pi * u)

        return points

    def record(self) -> dict[str, Any]:
        """Return the reducer's figures."""
        return {
            "size": self.size,
            "leaves": self.leaves.label,
            "side": "eccentric" if self.eccentric else "concentric",
            "clock": self.clock,
            "offset": self.offset,
            "drawn_as": "cone from end to end",
        }


def place_reducer(spec: ReducerSpec, site: Site) -> Reducer:
    """Return the reducer of `spec`. Raises GeometryError where no such fitting is made."""
    ends = site.stock, site.stocks[spec.reducer]
    for each in ends:
        if each.nps is None:
            raise GeometryError(
                site.mark,
                f"{each.label} has no butt-weld reducer",
                f'roll a cone: {{ cone = "{spec.reducer}", length = ... }}, or use pipe of nominal sizes',
            )
    small, large = sorted(ends, key=lambda each: each.od)
    try:
        found = stock.reducer(str(large.nps), str(small.nps))
    except StockError as fault:
        raise GeometryError(
            site.mark, str(fault), f'use one that exists, or roll a cone: {{ cone = "{spec.reducer}", length = ... }}'
        ) from None
    size = f"NPS {found.large} x {found.small}"
    return Reducer(
        site.mark, site.run, site.stock, site.start, ends[1], found.length, size, spec.side == "eccentric", spec.clock
    )
