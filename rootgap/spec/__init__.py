"""Parameter files into validated, frozen objects. All input errors end here."""

from rootgap.spec.assembly import (
    LEAST_GROOVE,
    LEAST_LAND,
    MOST_GROOVE,
    Assembly,
    CopeEnd,
    FlangeEnd,
    Pose,
    RunSpec,
    StockSpec,
)
from rootgap.spec.part import FlangePart
from rootgap.spec.pieces import BendSpec, ElbowSpec, PieSpec, StraightSpec
from rootgap.spec.read import load_assembly, load_part
from rootgap.spec.source import Source

__all__ = [
    "LEAST_GROOVE",
    "LEAST_LAND",
    "MOST_GROOVE",
    "Assembly",
    "BendSpec",
    "CopeEnd",
    "ElbowSpec",
    "FlangeEnd",
    "FlangePart",
    "PieSpec",
    "Pose",
    "RunSpec",
    "Source",
    "StockSpec",
    "StraightSpec",
    "load_assembly",
    "load_part",
]
