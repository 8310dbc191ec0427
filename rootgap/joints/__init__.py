"""What meets what, and the exact curves, gaps and bevels there. Closed forms, numpy only."""

from rootgap.joints.butt import Butt, DiscWeld, FlangeWeld
from rootgap.joints.clamp import Clamp, PocketWeld
from rootgap.joints.cope import Cope
from rootgap.joints.coping import refuse_alone
from rootgap.joints.divider import DividerEnd, DividerWeld, milled_volume
from rootgap.joints.find import find_joints
from rootgap.joints.half import EdgeWeld, HalfDiscWeld
from rootgap.joints.joint import Blank, CutAt, Cuts, Joint, blank, cut_ends, finished_volume, reach
from rootgap.joints.merge import Merge, OutletWeld, SpikeWeld
from rootgap.joints.mitre import Mitre
from rootgap.joints.planes import PlaneCut
from rootgap.joints.salvage import SalvageWeld
from rootgap.joints.slip import Slip

__all__ = [
    "Blank",
    "Butt",
    "Clamp",
    "Cope",
    "CutAt",
    "Cuts",
    "DiscWeld",
    "DividerEnd",
    "DividerWeld",
    "EdgeWeld",
    "FlangeWeld",
    "HalfDiscWeld",
    "Joint",
    "Merge",
    "Mitre",
    "OutletWeld",
    "PlaneCut",
    "PocketWeld",
    "SalvageWeld",
    "Slip",
    "SpikeWeld",
    "blank",
    "cut_ends",
    "find_joints",
    "finished_volume",
    "milled_volume",
    "reach",
    "refuse_alone",
]
