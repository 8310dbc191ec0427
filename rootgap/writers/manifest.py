"""The manifest: every file, piece, joint and check of a build, so that a stranger can verify it.

All figures are in mm and degrees in the engine frame. A frame is `origin`, `axis` (unit,
along the gas) and `ref` (unit, clock 0).

How a cut line lies on its pipe: a point (u, v) of the cut polyline then lies, on the pipe's
outside, at origin + (v0 + v)·axis + r_out·(cos t·ref + sin t·(axis × ref)) with
t = 2u / developed_diameter, and v counts along the axis.

A hole's outline lies on its target by the same sentence, with the hole's own origin, axis
and ref, the target's r_out, and v0 = 0. `weld_length` is the length of the cut line on the
branch's outside; `root_gap_max` is measured along the branch's axis, from the bore edge of
its end to the target. `grind` is the angle of the end face from square, in the plane through
the branch's axis, beyond the land of a wanted `bevel`; `finished_groove` is measured square to the
root, from the target's surface to that face.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from rootgap.checks import Finding, gas_of
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.joints import (
    Butt,
    Clamp,
    Cope,
    Cuts,
    DiscWeld,
    DividerEnd,
    DividerWeld,
    EdgeWeld,
    FlangeWeld,
    HalfDiscWeld,
    Joint,
    Merge,
    Mitre,
    OutletWeld,
    PlaneCut,
    PocketWeld,
    SalvageWeld,
    Slip,
    SpikeWeld,
    blank,
    cut_ends,
)
from rootgap.joints.joint import Which
from rootgap.layout import Cap, Fixture, Flat, Layout, Piece, Spike
from rootgap.patterns.marks import cut_marks
from rootgap.patterns.pattern import template_name
from rootgap.patterns.printing import PrintSetup
from rootgap.patterns.sheets import CutSheet
from rootgap.patterns.wrap import datum_station, developed_diameter
from rootgap.stock import PipeStock

VERSION = 1
#: Clocks at which a cope's root gap, groove and bevel are listed, degrees.
LISTED = np.arange(0.0, 360.0, 15.0)


@dataclass(frozen=True)
class Paper:
    """What the wraps are made for. thickness: of the paper, mm; cuts: every cut end of the layout."""

    thickness: float
    cuts: Cuts

    def begins(self, tube: Tube, at: Which) -> float:
        """Return the station, mm, at which the blank of a tube that is cut at `at` begins."""
        return blank(self.cuts, tube.piece, tube.length, at).begins


@dataclass(frozen=True)
class FileEntry:
    """A file of a build. path: from the build's folder; kind: what it is; part: whose; entities: how many lines,
    circles and paths a drawing has, its text left out, None for other files."""

    path: str
    kind: str
    part: str
    units: str
    sha256: str
    entities: int | None = None

    def record(self) -> dict[str, Any]:
        """Return the entry as the manifest has it."""
        return {key: value for key, value in asdict(self).items() if value is not None}


def file_entry(path: str, kind: str, part: str, units: str, data: bytes, entities: int | None = None) -> FileEntry:
    """Return the entry of a file that holds `data`."""
    return FileEntry(path, kind, part, units, hashlib.sha256(data).hexdigest(), entities)


def manifest_bytes(
    layout: Layout,
    joints: Sequence[Joint],
    findings: Iterable[Finding],
    files: Iterable[FileEntry],
    setup: PrintSetup,
    sheets: Sequence[CutSheet] = (),
) -> bytes:
    """Return the manifest as JSON in UTF-8. setup: of the print; sheets: that plate is cut from."""
    paper = Paper(setup.thickness, cut_ends(joints))
    content = {
        "format": "rootgap manifest",
        "version": VERSION,
        "name": layout.name,
        "title": layout.title,
        "units": "mm",
        "options": asdict(setup),
        "files": [entry.record() for entry in files],
        "pieces": [_piece(piece) for piece in layout.pieces()],
        **({"envelopes": [each.record() for each in layout.envelopes]} if layout.envelopes else {}),
        **({"fixtures": [_fixture(each) for each in layout.fixtures]} if layout.fixtures else {}),
        "joints": [_joint(joint, layout, paper) for joint in joints],
        **({"sheets": [_sheet(sheet) for sheet in sheets]} if sheets else {}),
        "gas": gas_of(layout, joints).record(),
        "checks": [_rounded(asdict(finding)) for finding in findings],
    }
    return (json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _piece(piece: Piece) -> dict[str, Any]:
    record: dict[str, Any] = {"id": piece.id, "kind": piece.kind, "start": _frame(piece.start)}
    if not isinstance(piece, Cap):
        record["end"] = _frame(piece.end)
    if not isinstance(piece, Flat | Spike):
        record |= {"run": piece.run, "stock": _stock(piece.stock), "length": _number(piece.length)}
    return record | _rounded(piece.record())


def _fixture(fixture: Fixture) -> dict[str, Any]:
    """Return where every plate of the fixture stands and what holds each run. `load`: the direction in which the work
    lifts out; `fit`: room a side between tab and slot, `room` round a pipe in its seat."""
    return {
        "mark": fixture.mark,
        "flange": fixture.work.head.id,
        "load": _numbers(fixture.load),
        "fit": fixture.fit,
        "room": fixture.room,
        "plates": [
            {"id": plate.id, "kind": plate.kind, "start": _frame(plate.start), **_rounded(plate.record())}
            for plate in fixture.plates
        ],
        "posts": dict(fixture.posts),
        "held": [
            {
                "run": held.run,
                "cradles": [{"plate": seat.plate.id, "station": _number(seat.station)} for seat in held.seats],
                "pushes": [
                    {"by": push.by, "normals": [_numbers(normal) for normal in push.normals]} for push in held.pushes
                ],
            }
            for held in fixture.held.values()
        ],
    }


def _sheet(sheet: CutSheet) -> dict[str, Any]:
    """Return a sheet: its parts in the order of cutting, each turned about its drawing's origin and then moved."""
    return {
        "name": sheet.name,
        "material": sheet.plate.material,
        "thickness": _number(sheet.plate.thickness),
        "size": _numbers(sheet.spec.size),
        "length_taken": _number(sheet.length),
        "use": _number(round(sheet.use, 4)),
        "parts": [
            {"part": part.pattern.name, "turn": 90 * part.turn, "x": _number(part.x), "y": _number(part.y)}
            for part in sheet.parts
        ],
    }


def _stock(stock: PipeStock) -> dict[str, Any]:
    return {
        "label": stock.label,
        "od": _number(stock.od),
        "wall": _number(stock.wall),
        "material": stock.material.grade,
        "measured": stock.measured,
    }


def _joint(joint: Joint, layout: Layout, paper: Paper) -> dict[str, Any]:
    record = RECORDS[type(joint)](joint, layout, paper)
    return {"id": joint.id, "kind": joint.kind, **record, "weld_length": _number(joint.weld_length)}


def _butt(butt: Butt, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {"before": butt.before, "after": butt.after, "at": _frame(butt.frame), "step": _number(butt.step)}


def _disc_weld(weld: DiscWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "pipe": weld.pipe,
        "disc": weld.disc,
        "at": _frame(weld.frame),
        "r_out": _number(weld.r_out),
        "r_in": _number(weld.r_in),
    }


def _clamp(clamp: Clamp, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    part, pilot = clamp.part, clamp.part.pilot
    return {
        "before": clamp.before,
        "after": clamp.after,
        "at": _frame(clamp.frame),
        "part": part.name,
        "groove": _number(clamp.groove),
        "gap": _number(clamp.gap),
        "step": _number(clamp.step),
        "outside": _number(part.outside),
        "rim": _number(part.rim),
        "pilot": pilot and {"diameter": pilot.diameter, "height": pilot.height, "clearance": pilot.clearance},
        "clamp": {"outside": _number(part.clamp.outside), "width": _number(part.clamp.width)},
    }


def _pocket_weld(weld: PocketWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "pipe": weld.pipe,
        "ring": weld.ring,
        "at": _frame(weld.frame),
        "r_out": _number(weld.r_out),
        "r_in": _number(weld.r_in),
        "r_pocket": _number(weld.r_pocket),
        "depth": _number(weld.depth),
        "clearance": _number(weld.clearance),
    }


def _slip(slip: Slip, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "before": slip.before,
        "sleeve": slip.sleeve,
        "after": slip.after,
        "at": _frame(slip.frame),
        "r_out": _numbers(slip.r_out),
        "bore": _number(slip.bore),
        "gap": _number(slip.gap),
        "overlap": _number(slip.overlap),
        "seat": _number(slip.seat),
        "clearance": _number(slip.clearance),
        "welded_to": slip.after,
    }


def _flange_weld(weld: FlangeWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "pipe": weld.pipe,
        "plate": weld.plate,
        "ports": list(weld.ports),
        "at": _frame(weld.frame),
        "r_out": _number(weld.r_out),
        "r_in": _number(weld.r_in),
        "girth": None if weld.girth is None else _number(weld.girth),
        **({"sunk": _number(weld.sunk)} if weld.sunk else {}),
        **({"r_pocket": _number(weld.pocket)} if weld.pocket is not None else {}),
    }


def _salvage_weld(weld: SalvageWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "salvage": weld.salvage,
        "after": weld.after,
        "at": _frame(weld.frame),
        "bore_girths": _numbers(weld.girths),
        "walls": _numbers(weld.walls),
        "step": _number(weld.step),
        "metal": weld.told,
    }


def _edge_weld(weld: EdgeWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "half": weld.half,
        "plate": weld.plate,
        "ports": list(weld.ports),
        "at": _frame(weld.frame),
        "length": _number(weld.length),
        "r_out": _number(weld.r_out),
        "r_in": _number(weld.r_in),
    }


def _half_disc_weld(weld: HalfDiscWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {
        "disc": weld.disc,
        "half": weld.half,
        "plate": weld.plate,
        "at": _frame(weld.frame),
        "thickness": _number(weld.thickness),
        "r_out": _number(weld.r_out),
    }


def _mitre(mitre: Mitre, layout: Layout, paper: Paper) -> dict[str, Any]:
    before, after = mitre.sides
    return {
        "turn": _number(mitre.turn),
        "prep": mitre.prep,
        "step": _number(mitre.step),
        "ends": [_plane_cut(before, "end", layout, paper), _plane_cut(after, "start", layout, paper)],
        "root_gap_max": _number(mitre.root_gap_max),
    }


def _merge(merge: Merge, layout: Layout, paper: Paper) -> dict[str, Any]:
    return {
        "apex": _frame(merge.frame),
        "half_angle": _number(merge.half_angle),
        "prep": merge.prep,
        "outlet_station": None if merge.outlet is None else _number(merge.outlet),
        "crotch": _number(merge.crotch),
        "crotch_bore": _number(merge.crotch_bore),
        "seams": merge.seams,
        "seam_length": _number(merge.seam_length),
        "legs": [_plane_cut(leg, "end", layout, paper) for leg in merge.legs],
        "root_gap_max": _number(merge.root_gap_max),
    }


def _spike_weld(weld: SpikeWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {"spike": weld.spike, "legs": list(weld.legs)}


def _outlet_weld(weld: OutletWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    merge, station = weld.merge, weld.station
    return {
        "merge": merge.id,
        "after": weld.after,
        "station": _number(station),
        "bore_area": _number(merge.opening_area(station, merge.r_in)),
        "bore_girth": _number(merge.girth(station, merge.r_in)),
    }


def _divider_weld(weld: DividerWeld, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    return {"divider": weld.divider, "piece": weld.piece, "gap": _number(weld.gap)}


def _divider_end(end: DividerEnd, _layout: Layout, _paper: Paper) -> dict[str, Any]:
    land = None if np.isnan(end.land) else _number(end.land)
    return {"divider": end.divider, "plate": end.plate, "land": land, "slot": _number(end.depth)}


def _plane_cut(cut: PlaneCut, at: Which, layout: Layout, paper: Paper) -> dict[str, Any]:
    stock, theta = layout.members[cut.tube.piece].stock, np.radians(LISTED)
    return {
        "run": cut.tube.run,
        "piece": cut.tube.piece,
        **_tube(cut.tube),
        "planes": [{"point": _numbers(plane.point), "normal": _numbers(plane.normal)} for plane in cut.planes],
        "cut": {
            "file": f"flat/{template_name(cut.tube.piece, 'wrap', at)}.dxf",
            "layer": "cut",
            "developed_diameter": _number(developed_diameter(stock, paper.thickness)),
            "v0": _number(datum_station(cut, paper.begins(cut.tube, at))),
        },
        "round_the_clock": {
            "clock": [float(clock) for clock in LISTED],
            "root_gap": _numbers(cut.root_gap(theta)),
            "groove": _numbers(cut.groove(theta)),
            "grind": _numbers(cut.grind(theta)),
        },
    }


def _cope(cope: Cope, layout: Layout, paper: Paper) -> dict[str, Any]:
    branch, target, theta = cope.branch, cope.target, np.radians(LISTED)
    return {
        "branch": {"run": branch.run, "piece": branch.piece, **_tube(branch)},
        "target": {"run": target.run, "piece": target.piece, "kind": target.kind, **_tube(target)},
        "at": cope.at,
        "neighbours": [{"run": other.run, "kind": other.kind, **_tube(other)} for other in cope.neighbours],
        "shared_planes": [
            {"run": mate.run, "point": _numbers(mate.plane.point), "normal": _numbers(mate.plane.normal)}
            for mate in cope.shares
        ],
        "set": cope.set_,
        "prep": cope.prep,
        "bevel": _rounded(asdict(cope.bevel)) if cope.bevel else None,
        "clearance": _number(cope.clearance) if cope.set_ == "in" else 0.0,
        "lean": _number(cope.lean),
        "offset": _number(cope.offset),
        "cut": _cut(cope, developed_diameter(layout.members[branch.piece].stock, paper.thickness), paper),
        "hole": _hole(cope, developed_diameter(layout.members[target.piece].stock, paper.thickness)),
        "root_gap_max": _number(cope.root_gap_max),
        "round_the_clock": {
            "clock": [float(clock) for clock in LISTED],
            "root_gap": _numbers(cope.root_gap(theta)),
            "groove": _numbers(cope.groove(theta)),
            "grind": _numbers(cope.grind(theta)),
            "finished_groove": _numbers(cope.finished_groove(theta)),
        },
        "bevel_schedule": [_rounded(asdict(row)) for row in cope.bevel_schedule],
    }


def _cut(cope: Cope, developed: float, paper: Paper) -> dict[str, Any]:
    """Return where the cut line is: unrolled on a wrap, or as meridian marks on an elbow's comb."""
    branch = cope.branch
    if branch.bending:
        marks = [_numbers(mark) for mark in cut_marks(cope)]
        return {"file": f"flat/{branch.piece}.comb.dxf", "layer": "cut", "meridians": marks}
    return {
        "file": f"flat/{template_name(branch.piece, 'wrap', cope.at)}.dxf",
        "layer": "cut",
        "developed_diameter": _number(developed),
        "v0": _number(datum_station(cope, paper.begins(branch, cope.at))),
    }


def _hole(cope: Cope, developed: float) -> dict[str, Any]:
    """Return where the hole's outline is."""
    target = cope.target
    if not target.round:
        return {"file": f"flat/{target.piece}.comb.dxf", "layer": "cut", **_frame(target.frame)}
    return {
        "file": f"flat/{target.piece}.holes.dxf",
        "layer": f"cut.{cope.called}",
        "developed_diameter": _number(developed),
        **_frame(target.frame),
    }


def _tube(tube: Tube) -> dict[str, Any]:
    """Return a tube's frame, radii and bend."""
    record: dict[str, Any] = {**_frame(tube.frame), "r_out": _number(tube.r_out), "r_in": _number(tube.r_in)}
    if tube.bending:
        record |= {"bend_radius": _number(tube.bending.radius), "bend_clock": _number(tube.bending.clock)}
    if tube.taper:
        r_out, r_in = tube.radii(tube.length)
        record |= {"length": _number(tube.length), "r_out_end": _number(r_out), "r_in_end": _number(r_in)}
    return record


def _frame(frame: Frame) -> dict[str, list[float]]:
    return {"origin": _numbers(frame.origin), "axis": _numbers(frame.axis), "ref": _numbers(frame.ref)}


def _numbers(values: Iterable[float]) -> list[float]:
    return [_number(value) for value in values]


def _number(value: float) -> float:
    """Return `value` to 1e-12, so that rounding noise of the last bits never shows, and no -0."""
    return round(float(value), 12) + 0.0


def _rounded(record: dict[str, Any]) -> dict[str, Any]:
    return {key: _number(value) if isinstance(value, float) else value for key, value in record.items()}


#: What a joint has to say of itself, by its class.
RECORDS: Mapping[type, Callable[[Any, Layout, Paper], dict[str, Any]]] = {
    Butt: _butt,
    FlangeWeld: _flange_weld,
    EdgeWeld: _edge_weld,
    DiscWeld: _disc_weld,
    Cope: _cope,
    Mitre: _mitre,
    Merge: _merge,
    OutletWeld: _outlet_weld,
    SpikeWeld: _spike_weld,
    HalfDiscWeld: _half_disc_weld,
    Clamp: _clamp,
    PocketWeld: _pocket_weld,
    Slip: _slip,
    DividerWeld: _divider_weld,
    DividerEnd: _divider_end,
    SalvageWeld: _salvage_weld,
}
