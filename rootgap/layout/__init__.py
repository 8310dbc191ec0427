"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.collector import Collector
from rootgap.layout.pieces import Bend, Cap, Divider, Elbow, Member, Pie, Piece, Plate, Straight, Tongue
from rootgap.layout.place import Layout, lay_out
from rootgap.layout.run import After, Keepout, Outlet, Port, Run, Side

__all__ = [
    "After",
    "Bend",
    "Cap",
    "Collector",
    "Divider",
    "Elbow",
    "Keepout",
    "Layout",
    "Member",
    "Outlet",
    "Pie",
    "Piece",
    "Plate",
    "Port",
    "Run",
    "Side",
    "Straight",
    "Tongue",
    "lay_out",
]
