"""The body of a straight pipe that planes cut."""

from __future__ import annotations

import cadquery as cq

from rootgap.joints.planes import PlaneCut
from rootgap.solids import bodies
from rootgap.solids.whole import end_face


def cut_straight(cut: PlaneCut) -> cq.Solid:
    """Return the finished body of a cut's pipe, mm, in the engine frame.

    Raises KernelError where it is not sound or not of the volume that the closed form gives.
    """
    tube = cut.tube
    made = bodies.cut_pipe(tube.wall, None, end_face(cut, tube.wall), tube.length, tube.r_out, tube.r_in)
    return bodies.checked(made, tube.piece, cut.branch_volume)
