"""Parameter files into validated, frozen objects. All input errors end here."""

from rootgap.spec.assembly import Assembly, RunSpec, StockSpec
from rootgap.spec.calipers import CaliperSheet, DistanceSpec, Feature
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
from rootgap.spec.fixture import FixtureSpec
from rootgap.spec.part import FlangePart
from rootgap.spec.pieces import (
    BendSpec,
    ConeSpec,
    ElbowSpec,
    HalfSpec,
    MitreSpec,
    PieSpec,
    ReducerSpec,
    SlipSpec,
    StraightSpec,
    TransitionSpec,
    VbandSpec,
)
from rootgap.spec.read import assembly_of, load_assembly, load_calipers, load_part
from rootgap.spec.salvage import SalvageSpec
from rootgap.spec.search import FIGURES, Figure, GoalSpec, SearchSpec
from rootgap.spec.source import Source
from rootgap.spec.table import HoleSpec, LeadSpec, SheetSpec, TablePart
from rootgap.spec.turbo import FilterSpec, StandingTurbo, StandingWastegate, TurboPart, WastegatePart
from rootgap.spec.vband import VbandPart

__all__ = [
    "FIGURES",
    "LEAST_GROOVE",
    "LEAST_LAND",
    "MOST_GROOVE",
    "Assembly",
    "BendSpec",
    "CaliperSheet",
    "ConeSpec",
    "CopeEnd",
    "DiscEnd",
    "DistanceSpec",
    "DividerSpec",
    "ElbowSpec",
    "FacePose",
    "Feature",
    "Figure",
    "FilterSpec",
    "FixtureSpec",
    "FlangeEnd",
    "FlangePart",
    "GoalSpec",
    "HalfSpec",
    "HoleSpec",
    "LeadSpec",
    "MergeEnd",
    "MitreSpec",
    "PieSpec",
    "Pose",
    "ReducerSpec",
    "RunSpec",
    "SalvageSpec",
    "SearchSpec",
    "SheetSpec",
    "SideStart",
    "SlipSpec",
    "Source",
    "StandingTurbo",
    "StandingWastegate",
    "StockSpec",
    "StraightSpec",
    "TablePart",
    "TransitionSpec",
    "TurboPart",
    "VbandPart",
    "VbandSpec",
    "WastegatePart",
    "assembly_of",
    "load_assembly",
    "load_calipers",
    "load_part",
]
