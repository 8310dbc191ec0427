"""Bodies that metal stays clear of, each with how far and why."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.distance import Body
from rootgap.geometry.mesh import Mesh
from rootgap.layout.pieces import Plate
from rootgap.spec import Assembly
from rootgap.spec.keepouts import MESH_UNITS, KeepoutSpec, Side, StepKeepout, StlKeepout
from rootgap.spec.meshes import likelier
from rootgap.stock.keepouts import Backing, Reason, clearance_rule

#: A mesh smaller than this, mm, was perhaps drawn in inches (common practice, no source).
SMALL = 75.0
FILE = "the parameter file"


@dataclass(frozen=True, eq=False)
class Keepout:
    """A body that metal stays clear of by `clearance` mm. reason: for it, None where only a figure is given;
    shielded: whether a heat shield stands between; side: what it is bolted to; support, source: of the clearance;
    notes: what was found about its body that a person should know; likelier: of a scan that is small, in which unit it
    would be as large as others."""

    body: Body
    clearance: float
    reason: Reason | None = None
    shielded: bool = False
    side: Side = "chassis"
    support: Backing = "the parameter file"
    source: str = FILE
    notes: tuple[str, ...] = ()
    likelier: str = ""


def place_keepouts(assembly: Assembly, heads: Sequence[Plate]) -> Mapping[str, Keepout]:
    """Return the keep-outs of an assembly by name; heads: the flanges that runs begin on.

    Raises GeometryError where one of them holds all ports of a flange.
    """
    placed = {name: _placed(spec, assembly.meshes.get(name)) for name, spec in assembly.keepout.items()}
    for name, keepout in placed.items():
        for head in heads:
            _refuse_to_hold(name, keepout.body, head)
    return placed


def _placed(spec: KeepoutSpec, mesh: Mesh | None) -> Keepout:
    if not isinstance(spec, StlKeepout | StepKeepout):
        keepout = Keepout(spec.body(), 0.0)
    elif mesh is not None:
        unit = _likelier(mesh, spec)
        keepout = Keepout(mesh, 0.0, notes=tuple(_notes(mesh, unit)), likelier=unit)
    else:
        raise LookupError("the mesh of a keep-out was not read; load the file with rootgap.load")
    keepout = replace(keepout, reason=spec.reason, shielded=spec.shielded, side=spec.side)
    if spec.clearance is not None:
        return replace(keepout, clearance=spec.clearance)
    if spec.reason is None:
        raise LookupError("a keep-out without a clearance has a reason")
    rule = clearance_rule(spec.reason)
    least = rule.least(shielded=spec.shielded)
    return replace(keepout, clearance=least, support=rule.support, source=rule.source)


def _likelier(mesh: Mesh, spec: StlKeepout | StepKeepout) -> str:
    """Return in which unit a small scan would be as large as others; "" for a drawing, which says its unit."""
    across = float(mesh.span.max())
    if across >= SMALL or isinstance(spec, StepKeepout):
        return ""
    return likelier(across / MESH_UNITS[spec.stl.units], spec.stl.units)


def _notes(mesh: Mesh, unit: str) -> Iterator[str]:
    """Yield what a person should know of a mesh. unit: in which it would be larger."""
    if unit:
        yield f"{float(mesh.span.max()):.0f} mm across; {unit}"
    if mesh.turned:
        yield "was inside out, and is turned round"
    if not mesh.closed:
        where = "on both sides of its surface, and of what it surrounds"
        yield f"not closed, at {mesh.open_edges} edges: held clear of {where}"


def _refuse_to_hold(name: str, body: Body, head: Plate) -> None:
    """Raise GeometryError where all ports of a flange lie in a body."""
    ports = np.array([head.at(*port.at).origin for port in head.part.port])
    depths = -body.distance(ports)
    if len(ports) and float(depths.min()) > 0.0:
        raise GeometryError(
            f"keepout.{name}",
            f"holds {head.id} and all its ports, {float(depths.min()):.1f} mm deep or more: none can be clear of it",
            "move it or make it smaller; a scan is moved by its at and turn",
        )
