"""Stock that can be bought: pipe, tube, butt-weld fittings and materials, by the words of the trade."""

from __future__ import annotations

from rootgap.stock.fasteners import Fastener, Fit, clearance_hole, fastener, fasteners, threaded
from rootgap.stock.fittings import Cap, Elbow, Reducer, cap, elbow, elbows, reducer, reducers
from rootgap.stock.lookup import search
from rootgap.stock.materials import Material, material, materials
from rootgap.stock.pipes import PipeSize, PipeStock, custom, pipe, pipe_size, pipe_sizes, sheet, tube

__all__ = [
    "Cap",
    "Elbow",
    "Fastener",
    "Fit",
    "Material",
    "PipeSize",
    "PipeStock",
    "Reducer",
    "cap",
    "clearance_hole",
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
    "search",
    "sheet",
    "threaded",
    "tube",
]
