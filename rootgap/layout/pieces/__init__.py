"""Placed pieces, one module a kind.

A new kind is a module here with a frozen class that answers what `Placed` asks and a function
that places it from its spec, as one piece or several in line, a line each below, and its body in `solids`.
"""

from collections.abc import Callable, Mapping
from typing import Any

from rootgap.layout.pieces.base import Lobes, Mouth, Placed, Site, Skin
from rootgap.layout.pieces.bend import Bend, bend_radius, place_bend
from rootgap.layout.pieces.cap import Cap
from rootgap.layout.pieces.disc import Disc, place_disc
from rootgap.layout.pieces.divider import Divider, Tongue
from rootgap.layout.pieces.elbow import Elbow, elbow_radius, place_elbow
from rootgap.layout.pieces.flat import Flat
from rootgap.layout.pieces.half import Half, place_half
from rootgap.layout.pieces.panel import Panel
from rootgap.layout.pieces.pie import Pie, place_pie
from rootgap.layout.pieces.plate import Plate
from rootgap.layout.pieces.reducer import Reducer, place_reducer
from rootgap.layout.pieces.sheet import Cone, LobedCone, Transition, place_cone, place_transition
from rootgap.layout.pieces.slip import Sleeve, place_slip
from rootgap.layout.pieces.spike import Spike
from rootgap.layout.pieces.straight import Straight, place_straight
from rootgap.layout.pieces.vband import Ring, place_vband
from rootgap.spec import (
    BendSpec,
    ConeSpec,
    ElbowSpec,
    HalfSpec,
    PieSpec,
    ReducerSpec,
    SlipSpec,
    StraightSpec,
    TransitionSpec,
    VbandSpec,
)
from rootgap.spec.fields import MOST_SWEEP
from rootgap.stock import PipeStock

#: Pipe of one stock; passages from one section to another; what a run is made of along its gas.
Tubular = Straight | Elbow | Bend | Pie | Half
Passage = Reducer | Cone | LobedCone | Transition
Member = Tubular | Passage | Ring | Sleeve
#: What closes a run's end.
Closure = Cap | Disc
#: Everything that is placed.
Piece = Member | Cap | Plate | Disc | Divider | Panel | Spike

#: How a piece is placed, by the class of its spec.
PLACERS: Mapping[type, Callable[[Any, Site], Member | tuple[Member, ...]]] = {
    StraightSpec: place_straight,
    ElbowSpec: place_elbow,
    BendSpec: place_bend,
    PieSpec: place_pie,
    VbandSpec: place_vband,
    SlipSpec: place_slip,
    HalfSpec: place_half,
    ReducerSpec: place_reducer,
    ConeSpec: place_cone,
    TransitionSpec: place_transition,
}

#: What an aimed bend turns on, mm, and how far it can, degrees, by the class of its spec.
RADII: Mapping[type, Callable[[Any, str, PipeStock], float]] = {ElbowSpec: elbow_radius, BendSpec: bend_radius}
MOST: Mapping[type, Callable[[Any], float]] = {
    ElbowSpec: lambda spec: float(spec.from_),
    BendSpec: lambda _: MOST_SWEEP,
}

__all__ = [
    "MOST",
    "PLACERS",
    "RADII",
    "Bend",
    "Cap",
    "Closure",
    "Cone",
    "Disc",
    "Divider",
    "Elbow",
    "Flat",
    "Half",
    "LobedCone",
    "Lobes",
    "Member",
    "Mouth",
    "Panel",
    "Passage",
    "Pie",
    "Piece",
    "Placed",
    "Plate",
    "Reducer",
    "Ring",
    "Site",
    "Skin",
    "Sleeve",
    "Spike",
    "Straight",
    "Tongue",
    "Transition",
    "Tubular",
    "place_disc",
]
