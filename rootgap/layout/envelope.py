"""Envelopes that stand on flanges: a turbo's housings with its filter, a gate with its dump.

They are no metal of the manifold: nothing is cut for them, and they are judged for room alone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import GeometryError
from rootgap.geometry.distance import Bend, Rod
from rootgap.geometry.frames import Frame, vector
from rootgap.geometry.skins import Skin, skin_of
from rootgap.layout.pieces import Plate
from rootgap.spec import FilterSpec, StandingTurbo, StandingWastegate

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Hull:
    """One simple body of an envelope. id: the envelope's with what it is; hot: whether the gas heats it; bore:
    radius, mm, of the room inside a shell, None of a body that is full; off: what it comes off with before the
    envelope does, "" of the envelope's own."""

    id: str
    body: Rod | Bend
    hot: bool
    bore: float | None = None
    off: str = ""

    @property
    def skin(self) -> Skin:
        """A map over its outside, mm."""
        return skin_of(self.body)

    def moved(self, by: Array) -> Hull:
        """Return it somewhere else: moved by (3,), mm."""
        body = self.body
        if isinstance(body, Bend):
            frame = replace(body.frame, origin=vector(body.frame.origin + by))
            return replace(self, body=replace(body, frame=frame))
        return replace(self, body=replace(body, start=body.start + by, end=body.end + by))


@dataclass(frozen=True, eq=False)
class Clamped:
    """What a hose clamp holds on an envelope. id: its name; on: the hull whose mouth it is pushed over; mouth: the
    frame there, axis the way it comes off; radius: of that pipe, mm."""

    id: str
    on: str
    mouth: Frame
    radius: float


@dataclass(frozen=True, eq=False)
class Envelope:
    """What stands on a flange. plate: that flange; foot: the hull that touches it; hulls: all, the foot first;
    clamped: what comes off it before it does, the last first; shaft: along the axis of a turbo's wheels, None of a
    gate; drain: at the end of its oil drain, axis out of it; bore: of the drain, mm; cold: least distance of its cold
    hulls from everything, mm."""

    id: str
    part: str
    plate: Plate
    hulls: tuple[Hull, ...]
    cold: float
    shaft: Frame | None = None
    drain: Frame | None = None
    bore: float = 0.0
    clamped: tuple[Clamped, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        """Its name, and those of what comes off it before."""
        return self.id, *(each.id for each in self.clamped)

    @property
    def foot(self) -> Hull:
        """The hull that stands on the flange."""
        return self.hulls[0]

    def record(self) -> dict[str, Any]:
        """Return what the manifest has to say of it: its part, its flange and its bodies."""
        return {"id": self.id, "part": self.part, "on": self.plate.id, "bodies": [_record(hull) for hull in self.hulls]}


def place_envelopes(
    turbos: Mapping[str, StandingTurbo],
    gates: Mapping[str, StandingWastegate],
    plates: Mapping[str, Plate],
    begun: Sequence[str],
) -> tuple[Envelope, ...]:
    """Return the envelopes of a file where they stand. begun: the names of the flanges that runs begin on.

    Raises GeometryError for one that stands on such a flange.
    """
    for kind, uses in (("turbo", turbos), ("wastegate", gates)):
        for name, spec in uses.items():
            if spec.on in begun:
                raise GeometryError(
                    f"{kind}.{name}", f"stands on flange.{spec.on}, which gas leaves a head by", "name a run's end"
                )
    return (
        *(_turbo(f"turbo.{name}", spec, plates[spec.on]) for name, spec in turbos.items()),
        *(_gate(f"wastegate.{name}", spec, plates[spec.on]) for name, spec in gates.items()),
    )


def _seat(plate: Plate, turn: float) -> Frame:
    """Return the frame in the middle of a flange's openings, on the face that an envelope lies on."""
    x, y = np.mean([port.at for port in plate.part.port], axis=0)
    return plate.at(float(x), float(y)).clocked(turn)


def _turbo(name: str, spec: StandingTurbo, plate: Plate) -> Envelope:
    part = spec.part
    seat = _seat(plate, spec.turn)
    axes = np.array([-seat.side, seat.ref, seat.axis])
    along = np.array(part.shaft.along) @ axes
    shaft = Frame.looking(seat.origin + np.array(part.shaft.at) @ axes, along, seat.axis)
    half = 0.5 * part.turbine.width
    centre = half + part.centre.length
    back = centre + part.compressor.width
    drain = Frame.looking(shaft.advanced(0.5 * (half + centre)).origin, shaft.clocked(spec.centre).ref, shaft.axis)
    middle = shaft.advanced(centre + 0.5 * part.compressor.width).clocked(spec.compressor)
    hulls = [
        Hull(f"{name}-foot", _foot(seat, shaft, 0.5 * part.foot), hot=True),
        Hull(f"{name}-turbine", _rod(shaft, -half, half, part.turbine.diameter), hot=True),
        Hull(f"{name}-outlet", _rod(shaft, -half - part.turbine.outlet.length, -half, part.turbine.outlet.diameter),
             hot=True),
        Hull(f"{name}-centre", _rod(shaft, half, centre, part.centre.diameter), hot=True),
        Hull(f"{name}-drain", _rod(drain, 0.0, part.centre.drain.length, part.centre.drain.diameter), hot=False),
        Hull(f"{name}-compressor", _rod(shaft, centre, back, part.compressor.diameter), hot=False),
        Hull(f"{name}-inlet", _rod(shaft, back, back + part.compressor.inlet.length, part.compressor.inlet.diameter),
             hot=False),
        Hull(f"{name}-blow", _blow(middle, spec), hot=False),
    ]
    if part.canister:
        can = middle.clocked(part.canister.clock)
        at = replace(can, origin=vector(can.origin + part.canister.reach * can.ref))
        reach = 0.5 * part.canister.length
        hulls.append(Hull(f"{name}-canister", _rod(at, -reach, reach, part.canister.diameter), hot=False))
    air: tuple[list[Hull], tuple[Clamped, ...]] = ([], ())
    if spec.filter:
        air = _filter(name, spec.filter, shaft.advanced(back + part.compressor.inlet.length), spec)
        hulls += air[0]
    if spec.shield:
        bore = 0.5 * part.turbine.diameter + spec.shield.gap
        over = _rod(shaft, -half, half, 2.0 * (bore + spec.shield.thickness))
        hulls.append(Hull(f"{name}-shield", over, hot=True, bore=bore))
    return Envelope(
        name,
        part.name,
        plate,
        tuple(hulls),
        spec.cold,
        shaft,
        drain.advanced(part.centre.drain.length),
        part.centre.drain.bore,
        air[1],
    )


def _foot(seat: Frame, shaft: Frame, radius: float) -> Rod:
    """Return the neck from a flange's face to the turbine housing's middle, mm."""
    return Rod(seat.origin, seat.advanced(float((shaft.origin - seat.origin) @ seat.axis)).origin, radius)


def _blow(middle: Frame, spec: StandingTurbo) -> Rod:
    """Return the compressor's outlet: square to the shaft, its axis beside it by the offset, towards the clock."""
    outlet = spec.part.compressor.outlet
    start = middle.origin + outlet.offset * middle.side
    return Rod(vector(start), vector(start + outlet.length * middle.ref), 0.5 * outlet.diameter)


def _filter(
    name: str, room: FilterSpec, mouth: Frame, spec: StandingTurbo
) -> tuple[list[Hull], tuple[Clamped, ...]]:
    """Return the air's way to the filter, and the filter, and how both are clamped on, the filter first. mouth: at the
    end of the compressor's inlet."""
    pipe = spec.part.compressor.inlet.diameter
    way, last = f"{name}-air", f"{name}-filter"
    hulls: list[Hull] = []
    held = [Clamped(way, f"{name}-inlet", mouth, 0.5 * pipe)]
    if room.straight:
        hulls.append(Hull(way, _rod(mouth, 0.0, room.straight, pipe), hot=False, off=way))
        mouth = mouth.advanced(room.straight)
    if elbow := room.elbow:
        bend = Bend(mouth, elbow.radius, elbow.angle, elbow.clock, 0.5 * pipe)
        hulls.append(Hull(f"{name}-elbow", bend, hot=False, off=way))
        mouth = mouth.bent(elbow.radius, elbow.angle, elbow.clock)
    held = held if hulls else []
    on = hulls[-1].id if hulls else f"{name}-inlet"
    hulls.append(Hull(last, _rod(mouth, 0.0, room.length, room.diameter), hot=False, off=last))
    return hulls, (Clamped(last, on, mouth, 0.5 * pipe), *held)


def _gate(name: str, spec: StandingWastegate, plate: Plate) -> Envelope:
    part, seat = spec.part, _seat(plate, spec.turn)
    at = seat.advanced(part.dump.height)
    dump = Frame.looking(at.origin, at.ref, at.axis)
    hulls = (
        Hull(f"{name}-gate", _rod(seat, 0.0, part.length, part.diameter), hot=True),
        Hull(f"{name}-dump", _rod(dump, 0.0, 0.5 * part.diameter + part.dump.length, part.dump.diameter), hot=True),
    )
    return Envelope(name, part.name, plate, hulls, spec.cold)


def _rod(frame: Frame, low: float, high: float, diameter: float) -> Rod:
    return Rod(frame.advanced(low).origin, frame.advanced(high).origin, 0.5 * diameter)


def _record(hull: Hull) -> dict[str, Any]:
    """Return a hull's body as figures: a rod by the middles of its ends, a bend by its frame."""
    body = hull.body
    record: dict[str, Any] = {"id": hull.id, "hot": hull.hot}
    if isinstance(body, Rod):
        record |= {"from": _numbers(body.start), "to": _numbers(body.end), "diameter": _round(2.0 * body.radius)}
    else:
        frame = body.frame
        record |= {"at": _numbers(frame.origin), "along": _numbers(frame.axis), "ref": _numbers(frame.ref)}
        record |= {"radius": _round(body.radius), "angle": _round(body.angle), "clock": _round(body.clock)}
        record["diameter"] = _round(2.0 * body.r_out)
    return record | ({} if hull.bore is None else {"bore": _round(2.0 * hull.bore)})


def _numbers(values: Array) -> list[float]:
    return [_round(float(value)) for value in values]


def _round(value: float) -> float:
    return round(value, 6) + 0.0
