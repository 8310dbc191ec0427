"""A straight pipe."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar, Literal

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.convex import blended, convex
from rootgap.geometry.distance import Body, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.passages import formed_volume, round_rim
from rootgap.geometry.paths import Path
from rootgap.geometry.transition import Formed, Transition, formed
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces.base import Array, Mouth, Site, Skin, Span
from rootgap.layout.pieces.sheet import ruled_skin
from rootgap.spec import StraightSpec
from rootgap.spec.ends import SET_IN_CLEARANCE
from rootgap.stock import PipeStock

#: What is taken of a pipe that is worked over all its length, mm, for its round part.
LEAST_ROUND = 0.1


@dataclass(frozen=True, eq=False)
class Straight:
    """A straight pipe. length: along the axis, mm; to where the axis meets the target on a coped end;
    fills: whether that length came from the target; formed: what its start is worked to, None where it is
    round; held: how far that goes on unchanged into the opening, mm."""

    kind: ClassVar[str] = "straight"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    length: float
    fills: bool
    formed: Formed | None = None
    held: float = 0.0

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.advanced(self.length)

    @property
    def leaves(self) -> PipeStock:
        """The stock of what follows: its own."""
        return self.stock

    @property
    def tube(self) -> Tube:
        """The pipe as a side of a joint."""
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length)

    @property
    def worked(self) -> float:
        """How far in from its start it is worked, mm: nought where it is round."""
        return self.held + self.formed.worked if self.formed else 0.0

    def bore(self, along: float) -> Path:
        """Return its bore `along` mm from its start, x away from the start's side and y along its ref."""
        rim = round_rim(self.stock.r_in)
        if not self.formed:
            return rim.path()
        share = np.clip((along - self.held) / (self.worked - self.held), 0.0, 1.0)
        return blended(convex(self.formed.bore), rim, float(share)).path()

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all; of a formed one the part that is round."""
        if not self.formed:
            return self.tube.filled(self.stock.r_out)
        begins = min(self.worked, self.length - LEAST_ROUND)
        return Rod(self.start.advanced(begins).origin, self.end.origin, self.stock.r_out)

    @property
    def volume(self) -> float:
        """Metal volume, mm3, with both ends square."""
        if self.formed:
            return formed_volume(self.formed, self.worked - self.held, self.length, self.held)
        return self.stock.area * self.length

    @property
    def made_from(self) -> str:
        """What to take and what to do to it."""
        if not self.formed:
            return "straight"
        return (
            f"straight, its start formed to the opening over {self.worked:.1f} mm, girth "
            f"{self.formed.difference:+.2f} mm ({100.0 * self.formed.stretch:+.1f} %)"
        )

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"{self.length:.1f}{', formed' if self.formed else ''}"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside, between the stations of `span`, mm, where that is given."""
        start, r_out, (low, high) = self.start, self.stock.r_out, span or (0.0, self.length)
        if self.formed:
            return self._formed_skin(self.formed)

        def points(u: Array, v: Array) -> Array:
            return start.origin + (low + (high - low) * v)[:, None] * start.axis + r_out * start.radial(2.0 * np.pi * u)

        return points

    def record(self) -> dict[str, Any]:
        """Return what its end is formed to, where it is."""
        if not self.formed:
            return {}
        end = self.formed
        return {
            "formed": {
                "worked": round(self.worked, 6),
                "pipe_girth": round(end.pipe_girth, 6),
                "girth": round(end.girth, 6),
                "difference": round(end.difference, 6),
                "stretch": round(end.stretch, 9),
                "area": round(end.area, 6),
            }
        }

    def _formed_skin(self, end: Formed) -> Skin:
        """Return a map over the outside: v goes through the part in the opening, the worked part and the rest."""
        rim, r_out, start = convex(end.outside), self.stock.r_out, self.start
        taper = ruled_skin(start.advanced(self.held), Transition(rim, round_rim(r_out), self.worked - self.held, 0.0))
        knots = np.array([0.0, self.held, self.worked, self.length])
        shares = np.array([0.0, 0.1, 0.5, 1.0])

        def points(u: Array, v: Array) -> Array:
            station = np.interp(v, shares, knots)
            along = np.clip(station, self.held, self.worked)
            at = taper(u, (along - self.held) / (self.worked - self.held))
            return at + (station - along)[:, None] * start.axis

        return points


def place_straight(spec: StraightSpec, site: Site) -> Straight:
    """Return the straight of `spec`. Raises GeometryError where a fill has nothing to reach."""
    if spec.straight != "fill":
        length = float(spec.straight)
    elif site.reach is None:
        raise GeometryError(site.mark, "fill has nothing to reach", "use it last in a run whose end is a cope")
    else:
        length = site.reach()
    fills = spec.straight == "fill"
    if spec.formed is None:
        return Straight(site.mark, site.run, site.stock, site.start, length, fills)
    if not isinstance(site.mouth, Mouth):
        raise GeometryError(site.mark, "a formed end begins at an opening", "start its run at a port")
    end = _formed(spec.formed, site, site.mouth)
    if end.worked > length:
        raise GeometryError(
            site.mark,
            f"its end must be worked {end.worked:.1f} mm in; it is {length:.1f} mm long",
            f"make it at least {np.ceil(10.0 * end.worked) / 10.0:.1f} mm",
        )
    held = site.mouth.depth if spec.formed == "in" else 0.0
    return Straight(site.mark, site.run, site.stock, site.start.advanced(-held), length + held, fills, end, held)


def _formed(sits: Literal["on", "in"], site: Site, mouth: Mouth) -> Formed:
    """Return what a pipe's end is worked to. Raises GeometryError where the opening's corners are too tight."""
    rim = convex(mouth.shape)
    tightest, needed = float(rim.radii.min()), site.stock.wall + SET_IN_CLEARANCE
    if sits == "on":
        return formed(mouth.shape, site.stock.od, site.stock.wall)
    if tightest < needed:
        raise GeometryError(
            site.mark,
            f"the opening's tightest corner, radius {tightest:g} mm, is tighter than the wall and clearance of "
            f"{needed:.2f} mm that are to lie in it",
            'open the corner, or let the end sit on it: formed = "on"',
        )
    return formed(rim.grown(-SET_IN_CLEARANCE).path(), site.stock.od, site.stock.wall, "in")
