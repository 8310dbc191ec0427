"""What hands and tools come at beside the flanges: spark plugs, service parts, oil drains; and which way is up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import Frame, unit, vector
from rootgap.layout.envelope import Envelope
from rootgap.spec import Assembly
from rootgap.spec.access import InstallSpec, ServiceSpec
from rootgap.spec.drain import VehicleSpec

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Plug:
    """A spark plug. frame: where its hexagon stands on the head, axis out of it; flats: of the hexagon; boot:
    diameter and length of what goes over it, mm; sleeved: whether the boot has a heat sleeve."""

    id: str
    frame: Frame
    flats: float
    boot: tuple[float, float]
    sleeved: bool


@dataclass(frozen=True, eq=False)
class Drain:
    """A line from a turbo's oil drain to the pan. points: (n, 3), mm, its corners, the turbo's fitting first; bore:
    at its narrowest, mm; oil: (3,), mm, a point on the oil; tilt: most of the drain and of the shaft, degrees."""

    id: str
    envelope: Envelope
    points: Array
    bore: float
    oil: Array
    tilt: float


@dataclass(frozen=True, eq=False)
class Access:
    """What must be come at. services: by name; up: (3,), unit, away from the ground, as the vehicle stands."""

    plugs: tuple[Plug, ...] = ()
    services: Mapping[str, ServiceSpec] = field(default_factory=dict)
    install: InstallSpec = field(default_factory=InstallSpec)
    drains: tuple[Drain, ...] = ()
    up: Array = field(default_factory=lambda: vector((0.0, 1.0, 0.0)))


def place_access(assembly: Assembly, envelopes: Sequence[Envelope]) -> Access:
    """Return what must be come at in an assembly, of which `envelopes` stand on its flanges."""
    by_name = {envelope.id: envelope for envelope in envelopes}
    plugs = [
        Plug(
            f"plug.{name}.{number}" if len(spec.at) > 1 else f"plug.{name}",
            Frame.looking(at, spec.along),
            spec.flats,
            (spec.boot.diameter, spec.boot.length),
            spec.sleeved,
        )
        for name, spec in assembly.plug.items()
        for number, at in enumerate(spec.at, start=1)
    ]
    drains = []
    for name, spec in assembly.drain.items():
        envelope = by_name[f"turbo.{spec.turbo}"]
        first = envelope.drain.origin if envelope.drain else np.zeros(3)
        points = np.vstack([first, np.array(spec.path)])
        drains.append(Drain(f"drain.{name}", envelope, points, spec.bore, vector(spec.oil), spec.tilt))
    return Access(tuple(plugs), assembly.service, assembly.install, tuple(drains), standing_up(assembly.vehicle))


def standing_up(vehicle: VehicleSpec) -> Array:
    """Return the direction away from the ground, (3,), unit, in the engine frame.

    >>> standing_up(VehicleSpec(pitch=90.0 / 3)).round(3).tolist()
    [0.5, 0.866, 0.0]
    """
    up = unit(vehicle.up)
    forward = np.array(vehicle.forward)
    forward = unit(forward - (forward @ up) * up)
    pitch, roll = np.radians(vehicle.pitch), np.radians(vehicle.roll)
    level = np.cos(roll) * up - np.sin(roll) * np.cross(forward, up)
    return unit(np.cos(pitch) * level + np.sin(pitch) * forward)
