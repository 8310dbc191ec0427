"""From a validated assembly to placed pieces with frames. numpy only, no solids."""

from rootgap.layout.access import Access, Drain, Plug
from rootgap.layout.collector import Collector
from rootgap.layout.envelope import Envelope, Hull
from rootgap.layout.fixture import Fixture
from rootgap.layout.keepout import Keepout
from rootgap.layout.motion import Motion
from rootgap.layout.onsheet import hold_on_sheet
from rootgap.layout.pieces import (
    Bend,
    Cap,
    Closure,
    Cone,
    Disc,
    Divider,
    Elbow,
    FixturePlate,
    Flat,
    Half,
    LobedCone,
    Member,
    Panel,
    Passage,
    Pie,
    Piece,
    Plate,
    Reducer,
    Ring,
    Sleeve,
    Spike,
    Straight,
    Tongue,
    Transition,
    Tubular,
)
from rootgap.layout.place import Layout, Placer, lay_out
from rootgap.layout.route import Sought
from rootgap.layout.run import After, Face, Outlet, Port, Run, Salvage, Salvaged, Side

__all__ = [
    "Access",
    "After",
    "Bend",
    "Cap",
    "Closure",
    "Collector",
    "Cone",
    "Disc",
    "Divider",
    "Drain",
    "Elbow",
    "Envelope",
    "Face",
    "Fixture",
    "FixturePlate",
    "Flat",
    "Half",
    "Hull",
    "Keepout",
    "Layout",
    "LobedCone",
    "Member",
    "Motion",
    "Outlet",
    "Panel",
    "Passage",
    "Pie",
    "Piece",
    "Placer",
    "Plate",
    "Plug",
    "Port",
    "Reducer",
    "Ring",
    "Run",
    "Salvage",
    "Salvaged",
    "Side",
    "Sleeve",
    "Sought",
    "Spike",
    "Straight",
    "Tongue",
    "Transition",
    "Tubular",
    "hold_on_sheet",
    "lay_out",
]
