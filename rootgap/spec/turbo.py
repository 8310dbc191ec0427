"""Parameter files of turbo envelopes, and how one stands on its flange.

Terminology
    envelope    simple bodies that a turbo's castings fill, a little large, for room to be judged by
    shaft       its axis, from the turbine to the compressor
    clock       about the shaft, 0 where the gas goes that enters the housing, clockwise looking from the turbine to
                the compressor; a housing is clocked when its bolts or its clamp are loosened and it is turned
    canister    the actuator of a gate inside the turbine housing; dump: the pipe that a gate's gas leaves by

Places are in the drawing of the flange that it stands on: x right and y up as seen from the turbine, z along the gas,
from the middle of the flange's openings on the face that the turbine lies on.
"""

from __future__ import annotations

from typing import Annotated, Literal

import numpy as np
from pydantic import AfterValidator, Field, model_validator

from rootgap.geometry.frames import unit
from rootgap.spec.ends import LEAST_TURN
from rootgap.spec.fields import (
    Angle,
    Direction,
    Misfit,
    Model,
    Name,
    PlateLength,
    Point3,
    PositiveLength,
    Sweep,
    Text,
    ZeroOrLength,
)

#: Least distance of the cold side from what the engine carries, mm: finger clearance. Source: a published article on
#: engine swaps, 10 to 15 mm.
COLD = 10.0
#: Straight room kept at a compressor's inlet, mm (common practice, no source: 3 to 5 in).
INLET_ROOM = 90.0
#: Air between a shield and what it covers, mm (common practice, no source: 6 to 12).
SHIELD_GAP = 8.0


class ShaftSpec(Model):
    """The axis of the wheels. at: where it passes the middle of the turbine housing; along: to the compressor."""

    at: Point3 = Field(examples=[[0, 0, 82]])
    along: Direction = Field(examples=[[1, 0, 0]])


class StubSpec(Model):
    """A round opening with the pipe or hose that it takes."""

    diameter: PlateLength = Field(examples=[76])
    length: PlateLength = Field(examples=[45])


class TurbineSpec(Model):
    """The hot housing. outlet: along the shaft, away from the compressor."""

    diameter: PlateLength = Field(description="over the volute", examples=[132])
    width: PlateLength = Field(description="along the shaft", examples=[58])
    outlet: StubSpec = Field(examples=[{"diameter": 70, "length": 35}])


class DrainStubSpec(StubSpec):
    """The oil drain: from the shaft's axis to the end of its fitting. bore: of the hole in the housing."""

    bore: PlateLength = Field(examples=[16])


class CentreSpec(Model):
    """Between the housings: the bearings, oil and water."""

    diameter: PlateLength = Field(examples=[86])
    length: PlateLength = Field(description="along the shaft, from housing to housing", examples=[52])
    drain: DrainStubSpec = Field(examples=[{"diameter": 44, "length": 70, "bore": 16}])


class BlowSpec(StubSpec):
    """The compressor's outlet, square to the shaft. offset: of its axis beside the shaft's; length: from there."""

    offset: ZeroOrLength = Field(examples=[52])


class CompressorSpec(Model):
    """The cold housing. inlet: along the shaft, away from the turbine."""

    diameter: PlateLength = Field(description="over the volute", examples=[146])
    width: PlateLength = Field(description="along the shaft", examples=[56])
    inlet: StubSpec = Field(examples=[{"diameter": 76, "length": 30}])
    outlet: BlowSpec = Field(examples=[{"diameter": 58, "length": 95, "offset": 50}])


class CanisterSpec(StubSpec):
    """A gate's actuator beside the compressor housing, its axis along the shaft. reach: of its axis from the shaft's;
    clock: from the compressor's own."""

    reach: PlateLength = Field(examples=[112])
    clock: Angle = Field(examples=[180])


class TurboPart(Model):
    """The envelope of a turbo. foot: the neck on the turbine inlet flange."""

    name: Name = Field(examples=["turbo-single-60"])
    kind: Literal["turbo"] = Field(examples=["turbo"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    note: Text = ""
    foot: PlateLength = Field(description="diameter of the neck on the inlet flange", examples=[72])
    shaft: ShaftSpec = Field(examples=[{"at": [0, 0, 82], "along": [1, 0, 0]}])
    turbine: TurbineSpec = Field(
        examples=[{"diameter": 132, "width": 58, "outlet": {"diameter": 70, "length": 35}}]
    )
    centre: CentreSpec = Field(
        examples=[{"diameter": 86, "length": 52, "drain": {"diameter": 44, "length": 70, "bore": 16}}]
    )
    compressor: CompressorSpec = Field(
        examples=[
            {
                "diameter": 146,
                "width": 56,
                "inlet": {"diameter": 76, "length": 30},
                "outlet": {"diameter": 58, "length": 95, "offset": 50},
            }
        ]
    )
    canister: CanisterSpec | None = Field(
        default=None, examples=[{"diameter": 60, "length": 80, "reach": 112, "clock": 180}]
    )

    @model_validator(mode="after")
    def _stands(self) -> TurboPart:
        if np.linalg.norm(np.cross(unit(self.shaft.along), (0.0, 0.0, 1.0))) < LEAST_TURN:
            raise Misfit(("shaft", "along"), "allowed: a direction across the gas, not along it")
        if self.shaft.at[2] <= 0.0:
            raise Misfit(("shaft", "at"), "allowed: z above 0, for the shaft lies past the flange's face")
        if self.foot >= self.turbine.diameter:
            raise Misfit(("foot",), f"allowed: below the turbine housing's diameter, {self.turbine.diameter:g} mm")
        least = 0.5 * self.centre.diameter
        if self.centre.drain.length <= least:
            raise Misfit(
                ("centre", "drain", "length"),
                f"allowed: above {least:g} mm, half the centre section's diameter: it is from the shaft's axis",
            )
        if self.centre.drain.bore >= self.centre.drain.diameter:
            raise Misfit(("centre", "drain", "bore"), "allowed: below the drain's diameter over all")
        return self


class InletElbowSpec(Model):
    """A bend of the air's way between the compressor and its filter."""

    angle: Sweep = Field(examples=[90])
    clock: Angle = Field(default=0.0, description="towards which it turns, about the shaft", examples=[90])
    radius: PositiveLength = Field(description="of its centre line", examples=[80])


class FilterSpec(Model):
    """The air filter, and the room before it. straight: between the compressor and the elbow or the filter."""

    diameter: PlateLength = Field(examples=[125])
    length: PlateLength = Field(description="with what it takes to pull it off", examples=[160])
    straight: ZeroOrLength = Field(default=INLET_ROOM, examples=[90])
    elbow: InletElbowSpec | None = Field(default=None, examples=[{"angle": 90, "clock": 90, "radius": 80}])

    @model_validator(mode="after")
    def _bends(self) -> FilterSpec:
        if self.elbow and 2.0 * self.elbow.radius <= self.diameter:
            raise Misfit(("elbow", "radius"), f"allowed: above half the filter's diameter, {0.5 * self.diameter:g} mm")
        return self


class ShieldSpec(Model):
    """A shell of sheet round the turbine housing, off it by a gap."""

    gap: PositiveLength = Field(default=SHIELD_GAP, description="of air under it", examples=[8])
    thickness: PositiveLength = Field(default=1.0, examples=[1])


def _across(mm: float) -> float:
    if mm <= 0.0:
        raise ValueError("allowed: above 0, past the flange's face")
    return mm


class DumpSpec(StubSpec):
    """The pipe by which a gate's gas leaves. height: of its axis over the flange's face, square to the gas."""

    height: Annotated[PositiveLength, AfterValidator(_across)] = Field(examples=[40])


class WastegatePart(Model):
    """The envelope of a gate that stands on a flange of its own. diameter, length: over all, along the gas."""

    name: Name = Field(examples=["wastegate-38"])
    kind: Literal["wastegate"] = Field(examples=["wastegate"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    note: Text = ""
    diameter: PlateLength = Field(examples=[78])
    length: PlateLength = Field(description="from the flange's face, its hose and hand room with it", examples=[115])
    dump: DumpSpec = Field(examples=[{"diameter": 45, "length": 90, "height": 28}])


class _Stands(Model):
    """What every envelope in an assembly says of itself. use: the file of its part; on: the flange that it stands on;
    turn: about the gas there."""

    use: str = Field(examples=["../parts/turbo-single-60.toml"])
    on: str = Field(description="the flange that it stands on", examples=["turbine"])
    turn: Angle = Field(default=0.0, description="about the gas, from how its drawing stands", examples=[180])
    cold: ZeroOrLength = Field(default=COLD, description="least distance of its cold side from everything")


class TurboUse(_Stands):
    """A turbo in an assembly. centre, compressor: clocks of the drain and of the compressor's outlet."""

    centre: Angle = Field(default=0.0, description="clock of the oil drain about the shaft", examples=[0])
    compressor: Angle = Field(default=90.0, description="clock of the compressor's outlet", examples=[90])
    filter: FilterSpec | None = Field(default=None, examples=[{"diameter": 125, "length": 160}])
    shield: ShieldSpec | None = Field(default=None, examples=[{"gap": 8, "thickness": 1}])


class WastegateUse(_Stands):
    """A gate in an assembly; turn: the clock of its dump."""


class StandingTurbo(TurboUse):
    """A turbo in an assembly, its part at hand."""

    part: TurboPart


class StandingWastegate(WastegateUse):
    """A gate in an assembly, its part at hand."""

    part: WastegatePart
