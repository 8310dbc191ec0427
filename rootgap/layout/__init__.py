"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.collector import Collector
from rootgap.layout.pieces import (
    Bend,
    Cap,
    Cone,
    Elbow,
    LobedCone,
    Member,
    Passage,
    Pie,
    Piece,
    Plate,
    Reducer,
    Straight,
    Transition,
    Tubular,
)
from rootgap.layout.place import Layout, lay_out
from rootgap.layout.run import After, Keepout, Outlet, Port, Run, Salvage, Salvaged, Side

__all__ = [
    "After",
    "Bend",
    "Cap",
    "Collector",
    "Cone",
    "Elbow",
    "Keepout",
    "Layout",
    "LobedCone",
    "Member",
    "Outlet",
    "Passage",
    "Pie",
    "Piece",
    "Plate",
    "Port",
    "Reducer",
    "Run",
    "Salvage",
    "Salvaged",
    "Side",
    "Straight",
    "Transition",
    "Tubular",
    "lay_out",
]
