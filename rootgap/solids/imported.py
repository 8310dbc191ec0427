"""STEP files that others drew, as triangles."""

from __future__ import annotations

from pathlib import Path

import cadquery as cq
import numpy as np
from numpy.typing import NDArray
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Message import Message, Message_PrinterOStream
from OCP.STEPControl import STEPControl_Reader

from rootgap.solids.export import meshed_body

Array = NDArray[np.float64]

#: Largest turn between neighbouring facets, radians: the tolerance decides, not this.
ANGULAR = 0.5
#: What the kernel is asked for, a share of the tolerance: its facets lie up to twice as far off as that.
SHARE = 0.4


def step_triangles(path: Path, tolerance: float) -> Array:
    """Return the triangles, (m, 3, 3), mm, of all faces in the STEP file at `path`, none farther than `tolerance` mm
    from its face. Raises ValueError where the file cannot be read or holds no face."""
    # The kernel's reader prints what is wrong.
    Message.DefaultMessenger_s().RemovePrinters(Message_PrinterOStream.get_type_descriptor_s())
    reader = STEPControl_Reader()
    if reader.ReadFile(str(path)) != IFSelect_ReturnStatus.IFSelect_RetDone:
        raise ValueError("no STEP file, or cut short; export it again")
    reader.TransferRoots()
    shapes = [cq.Shape.cast(reader.Shape(number)) for number in range(1, reader.NbShapes() + 1)]
    triangles = [_triangles(shape, tolerance) for shape in shapes if shape.Faces()]
    if not triangles:
        raise ValueError("the file holds no solid and no face; export it again")
    return np.concatenate(triangles)


def _triangles(shape: cq.Shape, tolerance: float) -> Array:
    body = meshed_body(shape, SHARE * tolerance, ANGULAR)
    points, faces = body.tessellate(tolerance)
    corners = np.array([point.toTuple() for point in points])
    return corners[np.array(faces, dtype=np.intp).reshape(-1, 3)]
