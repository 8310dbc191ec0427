"""Placed collectors: where their legs' axes run."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.merging import LobedOpening, leg_frame, outlet_station
from rootgap.geometry.pyramid import Pyramid
from rootgap.layout.pieces.spike import Spike
from rootgap.spec.collector import CollectorSpec
from rootgap.stock import PipeStock


@dataclass(frozen=True, eq=False)
class Collector:
    """A merge of equal runs. name: of its table; stock: of all its legs; apex: where their axes meet, its
    ref towards the first leg; outlet: station of the plane that cuts them off, mm, nought at most; spike: what
    stands on its crotch, None where nothing does."""

    name: str
    spec: CollectorSpec
    stock: PipeStock
    apex: Frame
    outlet: float
    spike: Spike | None = None

    @property
    def end(self) -> Frame:
        """The frame in the middle of the plane that cuts the legs off."""
        return self.apex.advanced(self.outlet)

    @property
    def opening(self) -> LobedOpening:
        """What that plane leaves of the legs."""
        return LobedOpening(len(self.spec.legs), self.spec.half_angle, self.outlet)

    @property
    def parted(self) -> float:
        """How far from the apex along a leg, mm, it is clear of the one beside it. Source: elementary."""
        half, turn = math.radians(self.spec.half_angle), 2.0 * math.pi / len(self.spec.legs)
        between = math.acos(math.cos(half) ** 2 + math.sin(half) ** 2 * math.cos(turn))
        return self.stock.r_out / math.tan(0.5 * between)

    def leg(self, run: str) -> Frame:
        """Return the frame, mm, at the apex on the axis of the leg that `run` is."""
        return leg_frame(self.apex, len(self.spec.legs), self.spec.half_angle, self.spec.legs.index(run), 0.0)


def place_collector(name: str, spec: CollectorSpec, stock: PipeStock, plane: Frame) -> Collector:
    """Return the collector whose legs are cut off in `plane`. stock: of its legs.

    Raises GeometryError where the legs are not within `across` before their axes meet, and for a spike that does
    not stand on them, or that ends past that plane.
    """
    station = 0.0 if spec.across is None else outlet_station(spec.across, stock.r_out, spec.half_angle)
    if station > 0.0:
        least = stock.od / math.cos(math.radians(spec.half_angle))
        raise GeometryError(
            f"collector.{name}",
            f"its legs are {least:.1f} mm across where their axes meet; across is {spec.across:g} mm",
            f"make across more than {least:.1f} mm, or leave it out",
        )
    slope = math.sin(math.radians(spec.half_angle))
    if -station * slope >= stock.r_in:
        # At the bores' crotch the legs have only just met: r / sin a before the apex.
        most = (stock.od + 2.0 * stock.r_in) / math.cos(math.radians(spec.half_angle))
        raise GeometryError(
            f"collector.{name}",
            f"its legs' bores have not met yet where they are {spec.across:g} mm across",
            f"make across less than {math.floor(10.0 * most) / 10.0:.1f} mm",
        )
    apex = plane.advanced(-station)
    return Collector(name, spec, stock, apex, station, _spike(name, spec, stock, apex, station))


def _spike(name: str, spec: CollectorSpec, stock: PipeStock, apex: Frame, outlet: float) -> Spike | None:
    if spec.spike is None:
        return None
    thickness = stock.wall if spec.spike_thickness is None else spec.spike_thickness
    made = Pyramid(apex, len(spec.legs), spec.half_angle, stock.r_in, spec.spike, thickness)
    mark = f"spike.{name}"
    if not made.stands:
        raise GeometryError(
            mark,
            "is so blunt that its facets all but run along the legs",
            f"make collector.{name}'s spike at least {made.least_length + 0.05:.1f} mm long",
        )
    past = made.crotch + made.length + made.outside_tip - outlet
    if past > 0.0:
        raise GeometryError(
            mark,
            f"its tip lies {past:.1f} mm past the plane that cuts the legs off",
            f"make the spike of collector.{name} shorter, or across smaller, so that the plane lies farther on",
        )
    return Spike(mark, name, made, stock.material)
