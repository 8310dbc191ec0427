"""Can the screw of every clamp be turned: of a V-band's, and of the hose clamps on a turbo's cold side?

A clamp may be turned round its pipe before it is tightened, so that its screw, which lies along the band, may stand at
any clock and point either way: the handiest is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from rootgap.checks.access.bolting import bolts, hexagons
from rootgap.checks.access.obstacles import Obstacle, Space
from rootgap.checks.access.tools import Nut, Try, first_of, tries
from rootgap.checks.finding import Finding, Verdict, at_least
from rootgap.geometry.distance import Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.joints import Clamp, Joint
from rootgap.layout import Layout
from rootgap.stock.fasteners import fastener, tools
from rootgap.stock.handtools import hand_tools

#: The bolt of a V-band's clamp (common practice, no source); across flats of a hose clamp's screw, and how high its
#: hexagon is, mm (from memory).
BOLT, FLATS, HEXAGON = "M6", 7.0, 5.0
#: How far a screw's axis lies off its band, and its hexagon ahead of where that is nearest, mm (from memory).
OFF, AHEAD = 6.0, 14.0
#: A hose or a filter's neck over its pipe: how thick with the band, how wide the band is, and how far from the pipe's
#: end its middle lies, mm (from memory).
NECK, BAND, SLID = 4.0, 12.0, 12.0
#: Clocks that are tried, up to the first where a tool has this room, mm.
CLOCKS, AMPLE = 12, 5.0
SOURCE = "common practice, no source: hand tools as measured, the screw at any clock"


@dataclass(frozen=True, eq=False)
class Band:
    """A clamp round a pipe. id: of what it holds; frame: in its middle, axis along the pipe; radius, width: over all,
    mm; flats, height: of its screw's hexagon, mm."""

    id: str
    frame: Frame
    radius: float
    width: float
    flats: float
    height: float

    @property
    def body(self) -> Rod:
        """What it fills, pipe and all."""
        low, high = (self.frame.advanced(sign * 0.5 * self.width).origin for sign in (-1.0, 1.0))
        return Rod(low, high, self.radius)

    def screw(self, clock: float, way: float) -> Nut:
        """Return its hexagon for a tool, the screw at a clock, degrees, and `way`, 1 or -1, round the band."""
        out = self.frame.radial(np.radians([clock]))[0]
        along = way * np.cross(self.frame.axis, out)
        at = Frame(vector(self.frame.origin + (self.radius + OFF) * out + AHEAD * along), vector(along), vector(out))
        return Nut("", at, self.height, 0.0, tools(self.flats), self.flats, hand_tools().socket)


@dataclass(frozen=True)
class ClampAccess:
    """How a clamp is come at best. clock: of its screw, degrees; nut: its hexagon there; tries: of each tool up to the
    first that works."""

    band: Band
    clock: float
    nut: Nut
    tries: tuple[Try, ...]

    @property
    def best(self) -> Try:
        """The tool that works, or comes nearest to it."""
        return max(self.tries, key=lambda each: (each.works, min(each.room, 0.0), each.swing / each.needs))

    @property
    def verdict(self) -> Verdict:
        """Whether any tool turns it."""
        return "pass" if self.best.works else "fail"


def bands(layout: Layout, joints: Sequence[Joint]) -> Iterator[Band]:
    """Yield every clamp: those of V-bands, then those that hold what is clamped on a turbo."""
    nut = fastener(BOLT).nut
    for joint in joints:
        if isinstance(joint, Clamp):
            clamp, frame = joint.part.clamp, joint.frame.advanced(0.5 * joint.gap)
            yield Band(joint.id, frame, 0.5 * clamp.outside, clamp.width, nut.flats, nut.height)
    for envelope in layout.envelopes:
        for each in envelope.clamped:
            yield Band(each.id, each.mouth.advanced(-SLID), each.radius + NECK, BAND, FLATS, HEXAGON)


def clamp_access(layout: Layout, joints: Sequence[Joint], space: Space) -> tuple[ClampAccess, ...]:
    """Return how every clamp is come at among all that stands in `space`, and the bolts' heads and nuts."""
    found = tuple(bands(layout, joints))
    around = (*space.things, *hexagons(tuple(bolts(layout))), *(Obstacle(_told(at), at.body) for at in found))
    # A screw stands off its own band as far as its tools need.
    return tuple(_come_at(band, Space(around).without(_told(band))) for band in found)


def _told(band: Band) -> str:
    return f"clamp of {band.id}"


def _come_at(band: Band, space: Space) -> ClampAccess:
    """Return how a clamp is come at, its screw at the first clock with ample room, else the best."""
    found: list[ClampAccess] = []
    for clock, way in product(np.arange(CLOCKS) * 360.0 / CLOCKS, (1.0, -1.0)):
        nut = band.screw(float(clock), way)
        found.append(ClampAccess(band, float(clock), nut, first_of(tries(nut, space))))
        if found[-1].best.works and found[-1].best.room >= AMPLE:
            break
    return max(found, key=lambda each: (each.best.works, each.best.room))


def clamp_findings(found: Sequence[ClampAccess]) -> Iterator[Finding]:
    """Yield, for each clamp, whether a tool turns its screw at any clock."""
    for access in found:
        yield at_least(
            "clamp access",
            access.band.id,
            float(access.best.works),
            1.0,
            "ways",
            SOURCE,
            "common practice, no source",
            f"no tool turns its screw at any clock ({access.best.told}); move it along its pipe, or what is beside it",
        )
