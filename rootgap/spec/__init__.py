"""Parameter files into validated, frozen objects. All input errors end here."""

from rootgap.spec.assembly import Assembly, RunSpec, StockSpec
from rootgap.spec.divider import DividerSpec
from rootgap.spec.ends import (
    LEAST_GROOVE,
    LEAST_LAND,
    MOST_GROOVE,
    CopeEnd,
    DiscEnd,
    FacePose,
    FlangeEnd,
    MergeEnd,
    Pose,
    SideStart,
)
from rootgap.spec.part import FlangePart
from rootgap.spec.pieces import BendSpec, ElbowSpec, HalfSpec, MitreSpec, PieSpec, SlipSpec, StraightSpec, VbandSpec
from rootgap.spec.read import load_assembly, load_part
from rootgap.spec.source import Source
from rootgap.spec.vband import VbandPart

__all__ = [
    "LEAST_GROOVE",
    "LEAST_LAND",
    "MOST_GROOVE",
    "Assembly",
    "BendSpec",
    "CopeEnd",
    "DiscEnd",
    "DividerSpec",
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
    "SlipSpec",
    "Source",
    "StockSpec",
    "StraightSpec",
    "VbandPart",
    "VbandSpec",
    "load_assembly",
    "load_part",
]
