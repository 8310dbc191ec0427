"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.pieces import Bend, Cap, Elbow, Member, Pie, Piece, Plate, Straight
from rootgap.layout.place import Layout, lay_out
from rootgap.layout.run import Keepout, Port, Run

__all__ = [
    "Bend",
    "Cap",
    "Elbow",
    "Keepout",
    "Layout",
    "Member",
    "Pie",
    "Piece",
    "Plate",
    "Port",
    "Run",
    "Straight",
    "lay_out",
]
