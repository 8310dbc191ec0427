"""Parameter files into validated, frozen objects. All input errors end here."""

from rootgap.spec.assembly import Assembly, RunSpec, StockSpec
from rootgap.spec.ends import CopeEnd, FacePose, FlangeEnd, MergeEnd, Pose, SideStart
from rootgap.spec.part import FlangePart
from rootgap.spec.pieces import BendSpec, ElbowSpec, HalfSpec, MitreSpec, PieSpec, StraightSpec
from rootgap.spec.read import load_assembly, load_part
from rootgap.spec.source import Source

__all__ = [
    "Assembly",
    "BendSpec",
    "CopeEnd",
    "ElbowSpec",
    "FacePose",
    "FlangeEnd",
    "FlangePart",
    "HalfSpec",
    "MergeEnd",
    "MitreSpec",
    "PieSpec",
    "Pose",
    "RunSpec",
    "SideStart",
    "Source",
    "StockSpec",
    "StraightSpec",
    "load_assembly",
    "load_part",
]
