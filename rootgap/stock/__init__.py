"""Stock that can be bought: pipe, tube, butt-weld fittings and materials, by the words of the trade."""

from __future__ import annotations

from rootgap.stock.cuts import Expected, expected, squareness
from rootgap.stock.fittings import Cap, Elbow, Reducer, cap, elbow, elbows, reducer, reducers
from rootgap.stock.lookup import search
from rootgap.stock.materials import Material, material, materials
from rootgap.stock.pipes import PipeSize, PipeStock, custom, pipe, pipe_size, pipe_sizes, sheet, tube

__all__ = [
    "Cap",
    "Elbow",
    "Expected",
    "Material",
    "PipeSize",
    "PipeStock",
    "Reducer",
    "cap",
    "custom",
    "elbow",
    "elbows",
    "expected",
    "material",
    "materials",
    "pipe",
    "pipe_size",
    "pipe_sizes",
    "reducer",
    "reducers",
    "search",
    "sheet",
    "squareness",
    "tube",
]
