"""What meets what, and the exact curves, gaps and bevels there. Closed forms, numpy only."""

from rootgap.joints.butt import Butt, FlangeWeld
from rootgap.joints.cope import Cope
from rootgap.joints.find import find_joints
from rootgap.joints.joint import CutAt, Cuts, Joint, cut_ends, finished_volume, reach
from rootgap.joints.merge import Merge, OutletWeld
from rootgap.joints.mitre import Mitre
from rootgap.joints.planes import PlaneCut
from rootgap.joints.salvage import SalvageWeld

__all__ = [
    "Butt",
    "Cope",
    "CutAt",
    "Cuts",
    "FlangeWeld",
    "Joint",
    "Merge",
    "Mitre",
    "OutletWeld",
    "PlaneCut",
    "SalvageWeld",
    "cut_ends",
    "find_joints",
    "finished_volume",
    "reach",
]
