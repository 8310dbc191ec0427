"""What bodies that are put together face by face have in common: wires, trimmed faces, and knots of splines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Builder
from OCP.Geom import Geom_Surface
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Wire

#: Edges in their order, each with whether it is gone along forwards.
Edges = Sequence[tuple[TopoDS_Edge, bool]]


def wire(build: BRep_Builder, edges: Edges) -> TopoDS_Wire:
    """Return a closed wire of `edges`."""
    made = TopoDS_Wire()
    build.MakeWire(made)
    for edge, forward in edges:
        build.Add(made, edge if forward else edge.Reversed())
    made.Closed(True)
    return made


def trimmed(build: BRep_Builder, surface: Geom_Surface, edges: Edges, tolerance: float) -> TopoDS_Face:
    """Return the face of a surface within `edges`. tolerance: mm."""
    face = TopoDS_Face()
    build.MakeFace(face, surface, tolerance)
    build.Add(face, wire(build, edges))
    return face


def knots(t: NDArray[np.float64], degree: int) -> tuple[TColStd_Array1OfReal, TColStd_Array1OfInteger]:
    """Return the knots `t`, (n,), of no unit, each once but the ends as often as a clamped spline of `degree` wants."""
    found, multiplicities = TColStd_Array1OfReal(1, t.size), TColStd_Array1OfInteger(1, t.size)
    for i, value in enumerate(t, start=1):
        found.SetValue(i, float(value))
        multiplicities.SetValue(i, degree + 1 if i in {1, t.size} else 1)
    return found, multiplicities
