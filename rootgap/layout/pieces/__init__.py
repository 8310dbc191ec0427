"""Placed pieces, one module a kind.

A new kind is a module here with a frozen class that answers what `Placed` asks and a function
that places it from its spec, a line each below, and its body in `solids`.
"""

from collections.abc import Callable, Mapping
from typing import Any

from rootgap.layout.pieces.base import Placed, Site, Skin
from rootgap.layout.pieces.bend import Bend, place_bend
from rootgap.layout.pieces.cap import Cap
from rootgap.layout.pieces.elbow import Elbow, place_elbow
from rootgap.layout.pieces.pie import Pie, place_pie
from rootgap.layout.pieces.plate import Plate
from rootgap.layout.pieces.straight import Straight, place_straight
from rootgap.spec import BendSpec, ElbowSpec, PieSpec, StraightSpec

#: What a run is made of along its gas, and everything that is placed.
Member = Straight | Elbow | Bend | Pie
Piece = Member | Cap | Plate

#: How a piece is placed, by the class of its spec.
PLACERS: Mapping[type, Callable[[Any, Site], Member]] = {
    StraightSpec: place_straight,
    ElbowSpec: place_elbow,
    BendSpec: place_bend,
    PieSpec: place_pie,
}

__all__ = ["PLACERS", "Bend", "Cap", "Elbow", "Member", "Pie", "Piece", "Placed", "Plate", "Site", "Skin", "Straight"]
