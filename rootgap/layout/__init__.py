"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.collector import Collector
from rootgap.layout.pieces import Bend, Cap, Elbow, Half, Member, Panel, Pie, Piece, Plate, Straight
from rootgap.layout.place import Layout, lay_out
from rootgap.layout.run import After, Face, Keepout, Outlet, Port, Run, Side

__all__ = [
    "After",
    "Bend",
    "Cap",
    "Collector",
    "Elbow",
    "Face",
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
    "Run",
    "Side",
    "Straight",
    "lay_out",
]
