"""Stock that can be bought: pipe, tube, butt-weld fittings and materials, by the words of the trade."""

from __future__ import annotations

from rootgap.stock.clearance import ClearanceHole, bolt_diameter, bolt_through, clearance_holes
from rootgap.stock.fasteners import Fastener, Fit, clearance_hole, fastener, fasteners, threaded
from rootgap.stock.fittings import Cap, Elbow, Reducer, cap, elbow, elbows, reducer, reducers
from rootgap.stock.lookup import search
from rootgap.stock.materials import Material, material, materials
from rootgap.stock.pipes import PipeSize, PipeStock, custom, pipe, pipe_size, pipe_sizes, schedules, sheet, tube

__all__ = [
    "Cap",
    "ClearanceHole",
    "Elbow",
    "Fastener",
    "Fit",
    "Material",
    "PipeSize",
    "PipeStock",
    "Reducer",
    "bolt_diameter",
    "bolt_through",
    "cap",
    "clearance_hole",
    "clearance_holes",
    "custom",
    "elbow",
    "elbows",
    "fastener",
    "fasteners",
    "material",
    "materials",
    "pipe",
    "pipe_size",
    "pipe_sizes",
    "reducer",
    "reducers",
    "schedules",
    "search",
    "sheet",
    "threaded",
    "tube",
]
