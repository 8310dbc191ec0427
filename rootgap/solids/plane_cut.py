"""The body of a straight pipe that planes cut."""

from __future__ import annotations

import cadquery as cq

from rootgap.joints.planes import PlaneCut
from rootgap.solids import bodies
from rootgap.solids.whole import edge_clocks


def cut_straight(cut: PlaneCut) -> cq.Solid:
    """Return the finished body of a cut's pipe, mm, in the engine frame.

    Raises KernelError where it is not sound or not of the volume that the closed form gives.
    """
    theta, corners = edge_clocks(cut)
    tube = cut.tube
    made = bodies.coped_straight(
        tube.frame, theta, cut.bore_edge(theta), cut.outer_edge(theta), tube.r_out, tube.r_in, corners=corners
    )
    return bodies.checked(made, tube.piece, cut.branch_volume)
