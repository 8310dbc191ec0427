"""Parameter files into validated, frozen objects. All input errors end here."""

from rootgap.spec.assembly import Assembly, RunSpec, StockSpec
from rootgap.spec.ends import CopeEnd, FlangeEnd, MergeEnd, Pose, SideStart
from rootgap.spec.part import FlangePart
from rootgap.spec.pieces import (
    BendSpec,
    ConeSpec,
    ElbowSpec,
    MitreSpec,
    PieSpec,
    ReducerSpec,
    StraightSpec,
    TransitionSpec,
)
from rootgap.spec.read import load_assembly, load_part
from rootgap.spec.salvage import SalvageSpec
from rootgap.spec.source import Source

__all__ = [
    "Assembly",
    "BendSpec",
    "ConeSpec",
    "CopeEnd",
    "ElbowSpec",
    "FlangeEnd",
    "FlangePart",
    "MergeEnd",
    "MitreSpec",
    "PieSpec",
    "Pose",
    "ReducerSpec",
    "RunSpec",
    "SalvageSpec",
    "SideStart",
    "Source",
    "StockSpec",
    "StraightSpec",
    "TransitionSpec",
    "load_assembly",
    "load_part",
]
