"""Bodies as an assembly, and the files of it: STEP and STL in mm, GLB in metres.

The kernel's writers return normally when they fail, so each file here is looked at after it
is written. The same bodies give the same bytes, in whatever state the process is: a mesh
stays on a body, so STL and GLB are written from fresh copies that `meshed` makes.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import TypeVar

import cadquery as cq
from cadquery.occ_impl.assembly import toCAF
from OCP.APIHeaderSection import APIHeaderSection_MakeHeader
from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepTools import BRepTools
from OCP.IFSelect import IFSelect_ReturnStatus
from OCP.Interface import Interface_Static
from OCP.Message import Message_ProgressRange
from OCP.RWGltf import RWGltf_CafWriter
from OCP.STEPCAFControl import STEPCAFControl_Writer
from OCP.STEPControl import STEPControl_StepModelType
from OCP.StepData import StepData_StepModel
from OCP.StlAPI import StlAPI_Writer
from OCP.TCollection import TCollection_AsciiString, TCollection_ExtendedString, TCollection_HAsciiString
from OCP.TColStd import TColStd_IndexedDataMapOfStringString
from OCP.TDataStd import TDataStd_Name
from OCP.TDocStd import TDocStd_Document
from OCP.TopLoc import TopLoc_Location
from OCP.XCAFApp import XCAFApp_Application
from OCP.XCAFDoc import XCAFDoc_DocumentTool
from OCP.XSControl import XSControl_WorkSession

from rootgap.errors import KernelError, WriteError

Body = TypeVar("Body", bound=cq.Shape)

AUTHOR = "rootgap"
TIMESTAMP = "2000-01-01T00:00:00"
"""The date in every STEP header: a build's bytes may not depend on the day."""

METRES_PER_MM = 0.001

#: Where the kernel goes on in another line: where it does hangs on how long its figures are.
_WRAPPED = re.compile(rb"\n +")
#: Figures of a STEP file that are nought but for rounding: what is left of a difference depends on where in memory
#: numpy's arrays happen to lie.
_NOUGHT = re.compile(rb"(?<=[(,])(?:-?\d\.\d*E-(?:1[2-9]|[2-9]\d)|-0\.)(?=[,)])")

LINEAR = 0.05
"""Largest distance of a facet from the surface, mm: below what a printed mock-up shows."""

ANGULAR = 0.2
"""Largest turn between neighbouring facets, radians: 32 facets round a pipe."""


@dataclass(frozen=True)
class Part:
    """A body with its name, color (red, green, blue; 0 to 1, sRGB) and group, the run's name. key: a
    fingerprint of all that it was made from."""

    name: str
    body: cq.Shape
    color: tuple[float, float, float]
    group: str
    key: str = ""


def grouped(name: str, parts: Iterable[Part]) -> dict[str, list[Part]]:
    """Return the parts of the assembly `name` by their groups, both in the order given.

    Raises ValueError where two parts share a name, a part has a group's name, or a group has
    the whole's name.
    """
    members = tuple(parts)
    taken = {name, *(part.group for part in members)}
    if name in {part.group for part in members}:
        raise ValueError(f"a group may not be named {name!r} as the whole is")
    groups: dict[str, list[Part]] = {}
    for part in members:
        if part.name in taken:
            raise ValueError(f"two parts or groups are named {part.name!r}")
        taken.add(part.name)
        groups.setdefault(part.group, []).append(part)
    return groups


def assembly(name: str, parts: Iterable[Part], *, mesh: bool = False) -> cq.Assembly:
    """Return the parts as a colored assembly `name` with one sub-assembly a group, both in the
    order given. mesh: whether the meshes that the bodies carry come along.

    Raises ValueError as `grouped` does.
    """
    whole = cq.Assembly(name=name)
    for group, chain in grouped(name, parts).items():
        run = cq.Assembly(name=group)
        for part in chain:
            # A copy is the part's own: no shared product, and no mesh passed on by a view of it.
            run.add(part.body.copy(mesh=mesh), name=part.name, color=cq.Color(*part.color))
        whole.add(run)
    return whole


def body_in(whole: cq.Assembly, part: Part) -> cq.Shape:
    """Return the body that stands for `part` in an assembly of `assembly` or `meshed`.

    Raises KeyError where the assembly has no such part, and TypeError where the part has no body.
    """
    body = whole.objects[f"{part.group}/{part.name}"].obj
    if not isinstance(body, cq.Shape):
        raise TypeError(f"{part.name} has no body in {whole.name}")
    return body


def step_bytes(body: cq.Shape, name: str) -> bytes:
    """Return a body as the product `name` of a STEP AP214 file in mm. Raises KernelError where there comes none."""
    writer = STEPCAFControl_Writer(XSControl_WorkSession(), False)
    writer.SetColorMode(False)
    writer.SetNameMode(True)
    Interface_Static.SetCVal_s("xstep.cascade.unit", "MM")
    Interface_Static.SetCVal_s("write.step.unit", "MM")
    Interface_Static.SetIVal_s("write.surfacecurve.mode", 1)
    Interface_Static.SetIVal_s("write.precision.mode", 0)
    writer.Transfer(_document(body, name), STEPControl_StepModelType.STEPControl_AsIs)
    _sign(writer.ChangeWriter().Model(), f"{name}.step")
    stream = io.BytesIO()
    if writer.WriteStream(stream) != IFSelect_ReturnStatus.IFSelect_RetDone or not stream.getvalue():
        raise KernelError(name, "the kernel writes no STEP file of it")
    return _NOUGHT.sub(b"0.", _WRAPPED.sub(b"", stream.getvalue()))


def write_step(body: cq.Shape, path: FilePath | str) -> None:
    """Write a body under the file's name as STEP AP214 in mm. Raises WriteError where the file does not come out."""
    file = _target(path)
    write_file(file, step_bytes(body, file.stem))


def meshed_body(body: Body, linear: float = LINEAR, angular: float = ANGULAR) -> Body:
    """Return a copy of a body that carries a mesh and nothing of an earlier one. linear: mm; angular: radians."""
    copy = body.copy()
    # In parallel over edges, then faces, none of which sees another: the mesh is always the same.
    BRepMesh_IncrementalMesh(copy.wrapped, linear, False, angular, True)
    return copy


def meshed(whole: cq.Assembly, linear: float = LINEAR, angular: float = ANGULAR) -> cq.Assembly:
    """Return a copy of the assembly whose bodies carry a mesh, for `write_stl` and `write_glb`.

    linear: largest distance of a facet from the surface, mm; angular: largest turn between
    facets, radians. A mesh that an earlier view has left on a body plays no part.
    """
    obj = meshed_body(whole.obj, linear, angular) if isinstance(whole.obj, cq.Shape) else whole.obj
    copy = cq.Assembly(obj, loc=whole.loc, name=whole.name, color=whole.color)
    for child in whole.children:
        copy.add(meshed(child, linear, angular))
    return copy


def write_stl(body: cq.Shape, path: FilePath | str) -> None:
    """Write a body of an assembly from `meshed` as binary STL in mm.

    Raises ValueError for a body without a mesh, and WriteError where the file does not come out.
    """
    _require_mesh(body)
    file = _target(path)
    writer = StlAPI_Writer()
    writer.ASCIIMode = False
    _confirm(file, done=writer.Write(body.wrapped, str(file)))


def write_glb(whole: cq.Assembly, path: FilePath | str) -> None:
    """Write an assembly from `meshed` as binary glTF 2.0 in metres, y up as in the engine frame.

    Raises ValueError for a body without a mesh, and WriteError where the file does not come out.
    """
    for _, part in whole.traverse():
        if isinstance(part.obj, cq.Shape):
            _require_mesh(part.obj)
    file = _target(path)
    _label, document = toCAF(whole, coloredSTEP=True)
    XCAFDoc_DocumentTool.SetLengthUnit_s(document, METRES_PER_MM)
    writer = RWGltf_CafWriter(TCollection_AsciiString(str(file)), True)
    writer.SetMergeFaces(True)
    done = writer.Perform(document, TColStd_IndexedDataMapOfStringString(), Message_ProgressRange())
    _confirm(file, done=done)


def write_file(path: FilePath, data: bytes) -> None:
    """Write `data` to `path`. Raises WriteError where that fails."""
    try:
        path.write_bytes(data)
    except OSError as error:
        raise WriteError(str(path), error.strerror or str(error)) from error


def _require_mesh(body: cq.Shape) -> None:
    if not BRepTools.Triangulation_s(body.wrapped, math.inf):
        raise ValueError("the body carries no mesh: give the writer what `meshed` returns")


def _document(body: cq.Shape, name: str) -> TDocStd_Document:
    """Return a document that holds one body as a plain product."""
    document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
    XCAFApp_Application.GetApplication_s().InitDocument(document)
    place = body.wrapped.Location()
    shape = body.wrapped
    if not place.IsIdentity():
        # Else the kernel makes a product of the body and another of its place.
        shape = BRepBuilderAPI_Transform(shape.Located(TopLoc_Location()), place.Transformation(), True).Shape()
    label = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()).AddShape(shape, False)
    TDataStd_Name.Set_s(label, TCollection_ExtendedString(name))
    return document


def _sign(model: StepData_StepModel, name: str) -> None:
    """Fill in a STEP header that says nothing of the machine, the day or the person."""
    author = TCollection_HAsciiString(AUTHOR)
    header = APIHeaderSection_MakeHeader(model)
    header.SetName(TCollection_HAsciiString(name))
    header.SetTimeStamp(TCollection_HAsciiString(TIMESTAMP))
    header.SetAuthorValue(1, author)
    header.SetOrganizationValue(1, author)
    header.SetOriginatingSystem(author)
    header.SetPreprocessorVersion(author)
    header.SetAuthorisation(author)
    header.SetDescriptionValue(1, author)


def _target(path: FilePath | str) -> FilePath:
    """Return `path` with an earlier file there removed, so that it cannot pass for the new one."""
    file = FilePath(path)
    if not file.parent.is_dir():
        raise WriteError(str(file), "its folder does not exist")
    try:
        file.unlink(missing_ok=True)
    except OSError as error:
        raise WriteError(str(file), error.strerror or str(error)) from error
    return file


def _confirm(file: FilePath, *, done: bool) -> None:
    """Raise WriteError unless the writer said that it was done and left a file."""
    if not done:
        raise WriteError(str(file), "the writer reports a failure")
    if not file.is_file() or file.stat().st_size == 0:
        raise WriteError(str(file), "the writer left no file")
