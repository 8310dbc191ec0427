"""What meets what, and the exact curves, gaps and bevels there. Closed forms, numpy only."""

from rootgap.joints.butt import Butt, FlangeWeld
from rootgap.joints.cope import Cope
from rootgap.joints.find import Joint, find_joints

__all__ = ["Butt", "Cope", "FlangeWeld", "Joint", "find_joints"]
