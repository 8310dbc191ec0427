"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.collector import Collector
from rootgap.layout.pieces import (
    Bend,
    Cap,
    Closure,
    Disc,
    Divider,
    Elbow,
    Flat,
    Half,
    Member,
    Panel,
    Pie,
    Piece,
    Plate,
    Ring,
    Sleeve,
    Straight,
    Tongue,
)
from rootgap.layout.place import Layout, lay_out
from rootgap.layout.run import After, Face, Keepout, Outlet, Port, Run, Side

__all__ = [
    "After",
    "Bend",
    "Cap",
    "Closure",
    "Collector",
    "Disc",
    "Divider",
    "Elbow",
    "Face",
    "Flat",
    "Half",
    "Keepout",
    "Layout",
    "Member",
    "Outlet",
    "Panel",
    "Pie",
    "Piece",
    "Plate",
    "Port",
    "Ring",
    "Run",
    "Side",
    "Sleeve",
    "Straight",
    "Tongue",
    "lay_out",
]
