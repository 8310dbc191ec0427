"""The rings of a V-band pair.

Each ring is a turned body: its profile is drawn from the hub's end, x = 0, to the face, x = length, and
revolved. The upstream ring faces along the gas, the downstream one against it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.distance import Body, Frustum, Rod, Union
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces.base import Array, Site, Skin, Span
from rootgap.spec.pieces import VbandSpec
from rootgap.spec.vband import LEAST_METAL, VbandPart
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Ring:
    """One ring. stock: its hub, bored to the pipe; start: where the gas comes in, which for an upstream ring
    is where the pipe ends; leaves: the pipe; upstream: of the two, along the gas; male: whether it has the
    pilot. The gap between the faces counts with the downstream ring."""

    kind: ClassVar[str] = "vband ring"
    id: str
    run: str
    stock: PipeStock
    start: Frame
    leaves: PipeStock
    part: VbandPart
    upstream: bool
    male: bool

    @property
    def length(self) -> float:
        """What it adds to the run's axis, mm."""
        return self.part.length - self.part.depth + (0.0 if self.upstream else self.part.gap)

    @property
    def end(self) -> Frame:
        """The frame where the gas leaves."""
        return self.start.advanced(self.length)

    @property
    def face(self) -> Frame:
        """The frame on its face, axis along the gas."""
        return self.end if self.upstream else self.start.advanced(self.part.gap)

    @property
    def tube(self) -> Tube:
        """Its hub."""
        return Tube(self.run, self.id, self.start, self.stock.r_out, self.stock.r_in, self.length)

    @property
    def profile(self) -> Array:
        """The corners of half its section, (n, 2), mm: station on its own frame, and radius."""
        part, bore = self.part, self.stock.r_in
        back = part.length - part.rim
        foot = back - (part.r_rim - part.r_hub) * np.tan(np.radians(part.groove))
        outer = [(0.0, part.r_hub), (foot, part.r_hub), (back, part.r_rim), (part.length, part.r_rim)]
        corners = np.array([*self._hub_end(), *outer, *self._face_end(bore)])
        station = corners[:, 0] - part.depth if self.upstream else part.gap + part.length - corners[:, 0]
        return np.column_stack([station, corners[:, 1]])

    def _hub_end(self) -> list[tuple[float, float]]:
        bore, pocket = self.stock.r_in, self.part.r_pocket
        if pocket is None:
            return [(0.0, bore)]
        return [(self.part.depth, bore), (self.part.depth, pocket), (0.0, pocket)]

    def _face_end(self, bore: float) -> list[tuple[float, float]]:
        face, pilot = self.part.length, self.part.pilot
        if pilot is None:
            return [(face, bore)]
        radius, x = (
            (0.5 * pilot.diameter, face + pilot.height) if self.male else (pilot.recess, face - pilot.depth)
        )
        return [(face, radius), (x, radius), (x, bore)]

    @property
    def filled(self) -> Body:
        """The body that it fills, bore and all, up to its face."""
        part = self.part
        back = part.length - part.rim
        foot = back - (part.r_rim - part.r_hub) * np.tan(np.radians(part.groove))
        at = [self._at(x) for x in (0.0, foot, back, part.length)]
        return Union(
            (
                Rod(at[0], at[1], part.r_hub),
                Frustum(at[1], at[2], part.r_hub, part.r_rim),
                Rod(at[2], at[3], part.r_rim),
            )
        )

    def _at(self, x: float) -> Array:
        """Return the point, (3,), mm, on the axis `x` mm from the hub's end."""
        station = x - self.part.depth if self.upstream else self.part.gap + self.part.length - x
        return self.start.advanced(station).origin

    @property
    def volume(self) -> float:
        """Metal volume, mm3. Source: a cone frustum a side of the profile, pi / 3 h (a^2 + a b + b^2)."""
        x, r = self.profile.T
        ahead, beside = np.roll(x, -1), np.roll(r, -1)
        return float(abs(np.pi / 3.0 * np.sum((ahead - x) * (r * r + r * beside + beside * beside))))

    @property
    def made_from(self) -> str:
        """What to buy or turn, and how it goes on."""
        part, clamp = self.part, self.part.clamp
        sex = "" if part.pilot is None else "male " if self.male else "female "
        on = f"pipe {part.depth:g} mm into its pocket, fillet" if part.pocket else "butt weld to the pipe"
        return (
            f"{sex}ring of V-band {part.name}, bored to {2.0 * self.stock.r_in:.2f} mm; {on}, clamped to its mate; "
            f"clamp {clamp.outside:g} x {clamp.width:g} mm over all, one a pair"
        )

    @property
    def told_ends(self) -> tuple[str, str]:
        """What its two ends are, along the gas."""
        hub = "pocket" if self.part.pocket else "hub, to match the pipe"
        return (hub, "face") if self.upstream else ("face", hub)

    @property
    def whole_length(self) -> float:
        """Its own length, mm, the pilot left out."""
        return self.part.length

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"vband {self.part.name}" if self.upstream else "its mate"

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the outside and both end faces. span (mm) is of no use here."""
        start, corners = self.start, self.profile
        along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1))])

        def points(u: Array, v: Array) -> Array:
            station, radius = (np.interp(v * along[-1], along, corners[:, k]) for k in (0, 1))
            across = radius[:, None] * start.radial(2.0 * np.pi * u)
            return start.origin + station[:, None] * start.axis + across

        return points

    def record(self) -> dict[str, Any]:
        """Return the ring's figures."""
        part = self.part
        return {
            "part": part.name,
            "upstream": self.upstream,
            "male": self.male and part.pilot is not None,
            "profile": [[round(float(x), 9) + 0.0, round(float(r), 9)] for x, r in self.profile],
        }


def place_vband(spec: VbandSpec, site: Site) -> tuple[Ring, Ring]:
    """Return the two rings of `spec`. Raises GeometryError where the pipe's bore leaves them no metal."""
    part = site.vbands[spec.vband]
    pipe = site.stock
    narrowest = min(part.r_pocket or part.r_hub, 0.5 * part.pilot.diameter if part.pilot else part.r_hub)
    if pipe.r_in > narrowest - LEAST_METAL:
        raise GeometryError(
            site.mark,
            f"bored to the pipe, {2.0 * pipe.r_in:.1f} mm, V-band {part.name} keeps {narrowest - pipe.r_in:.1f} mm "
            f"of metal round its bore; at least {LEAST_METAL:g} needed",
            "use a pair for larger pipe, or a pilot of a larger diameter",
        )
    hub = replace(
        pipe,
        label=f"V-band ring {part.name}",
        kind="custom",
        od=2.0 * part.r_hub,
        wall=part.r_hub - pipe.r_in,
        material=part.metal,
        nps=None,
        schedule=None,
        od_tolerance=0.0,
    )
    male = spec.male == "upstream"
    first = Ring(site.mark, site.run, hub, site.start, pipe, part, upstream=True, male=male)
    second = Ring(site.marks(1), site.run, hub, first.end, pipe, part, upstream=False, male=not male)
    return first, second
