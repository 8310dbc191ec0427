"""Placed pieces, one module a kind.

A new kind is a module here with a frozen class that answers what `Placed` asks and a function
that places it from its spec, a line each below, and its body in `solids`.
"""

from collections.abc import Callable, Mapping
from typing import Any

from rootgap.layout.pieces.base import Lobes, Mouth, Placed, Site, Skin
from rootgap.layout.pieces.bend import Bend, bend_radius, place_bend
from rootgap.layout.pieces.cap import Cap
from rootgap.layout.pieces.elbow import Elbow, elbow_radius, place_elbow
from rootgap.layout.pieces.pie import Pie, place_pie
from rootgap.layout.pieces.plate import Plate
from rootgap.layout.pieces.reducer import Reducer, place_reducer
from rootgap.layout.pieces.sheet import Cone, LobedCone, Transition, place_cone, place_transition
from rootgap.layout.pieces.straight import Straight, place_straight
from rootgap.spec import BendSpec, ConeSpec, ElbowSpec, PieSpec, ReducerSpec, StraightSpec, TransitionSpec
from rootgap.spec.fields import MOST_SWEEP
from rootgap.stock import PipeStock

#: Round pipe of one stock; passages from one section to another; what a run is made of along its gas, and
#: everything that is placed.
Tubular = Straight | Elbow | Bend | Pie
Passage = Reducer | Cone | LobedCone | Transition
Member = Tubular | Passage
Piece = Member | Cap | Plate

#: How a piece is placed, by the class of its spec.
PLACERS: Mapping[type, Callable[[Any, Site], Member]] = {
    StraightSpec: place_straight,
    ElbowSpec: place_elbow,
    BendSpec: place_bend,
    PieSpec: place_pie,
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
    "Cone",
    "Elbow",
    "LobedCone",
    "Lobes",
    "Member",
    "Mouth",
    "Passage",
    "Pie",
    "Piece",
    "Placed",
    "Plate",
    "Reducer",
    "Site",
    "Skin",
    "Straight",
    "Transition",
    "Tubular",
]
