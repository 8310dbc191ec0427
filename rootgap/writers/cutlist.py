"""The cut list: one row a piece, with what it is cut from and to."""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Sequence
from dataclasses import astuple, dataclass, fields

from rootgap.joints import (
    Cope,
    Cuts,
    DiscWeld,
    Joint,
    PocketWeld,
    SalvageWeld,
    Slip,
    cut_ends,
    finished_volume,
    milled_volume,
    reach,
)
from rootgap.joints.joint import End
from rootgap.layout import (
    Bend,
    Cap,
    Elbow,
    Flat,
    Half,
    Layout,
    Member,
    Pie,
    Piece,
    Reducer,
    Ring,
    Sleeve,
    Spike,
    Straight,
)
from rootgap.layout.pieces.sheet import Sheet
from rootgap.patterns import Pattern
from rootgap.patterns.pattern import template_names
from rootgap.stock import PipeStock

#: ASME B16.25 3.1: ends of walls up to 3 mm are square or lightly chamfered, thicker ones bevelled.
THICKEST_SQUARE = 3.0


@dataclass(frozen=True)
class CutRow:
    """A row of the cut list. lengths in mm, mass in kg; clock_deg: where a bend turns to, clockwise looking
    along the gas from clock 0 of the piece before it, or the middle of a half pipe."""

    mark: str
    quantity: int
    stock: str
    material: str
    make: str
    clock_deg: str
    length_mm: str
    start_end: str
    gas_end: str
    template: str
    mass_kg: str


def cut_rows(layout: Layout, joints: Sequence[Joint], patterns: Sequence[Pattern]) -> tuple[CutRow, ...]:
    """Return the rows of every piece, flanges first, then along each run."""
    copes = [joint for joint in joints if isinstance(joint, Cope)]
    cuts = cut_ends(joints)
    names = {pattern.name for pattern in patterns}
    square = {end for joint in joints if isinstance(joint, DiscWeld | PocketWeld | Slip) for end in joint.square}
    starts = {joint.after: f"; to {joint.salvage}: {joint.told}" for joint in joints if isinstance(joint, SalvageWeld)}
    return tuple(
        _row(piece, copes, cuts, square, names, milled_volume(joints, piece.id), starts.get(piece.id, ""))
        for piece in layout.pieces()
    )


def cutlist_bytes(rows: Sequence[CutRow]) -> bytes:
    """Return the cut list as CSV in UTF-8."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\r\n")
    table.writerow([field.name for field in fields(CutRow)])
    table.writerows(astuple(row) for row in rows)
    return text.getvalue().encode("utf-8")


def _row(
    piece: Piece,
    copes: Sequence[Cope],
    cuts: Cuts,
    square: Collection[End],
    names: set[str],
    milled: float,
    onto: str,
) -> CutRow:
    """Return a piece's row. milled: volume, mm3, of the slots in a flange; onto: what its start's weld needs told."""
    if isinstance(piece, Flat):
        thickness, file = f"plate {piece.thickness:g} mm", f"flat/{piece.id}.dxf"
        mass = _mass(piece.volume - milled, piece.metal.density)
        return CutRow(piece.id, 1, thickness, piece.metal.grade, piece.made_from, "", "", "", "", file, mass)
    if isinstance(piece, Spike):
        thickness, mass = f"sheet {piece.made.thickness:g} mm", _mass(piece.volume, piece.metal.density)
        file = f"flat/{piece.id}.dxf"
        return CutRow(piece.id, 1, thickness, piece.metal.grade, piece.made_from, "", "", "", "", file, mass)
    if isinstance(piece, Ring | Sleeve):
        metal, length = piece.stock.material, f"{piece.whole_length:.1f}"
        mass = _mass(piece.volume, metal.density)
        return CutRow(
            piece.id, 1, piece.stock.label, metal.grade, piece.made_from, "", length, *piece.told_ends, "", mass
        )
    ends = cuts.get(piece.id, {})
    low, high = reach(cuts, piece.id, piece.length)
    clock = _clock(piece)
    taken = sum(cope.hole_volume for cope in copes if cope.target.piece == piece.id)
    return CutRow(
        piece.id,
        1,
        piece.stock.label,
        piece.stock.material.grade,
        piece.made_from,
        f"{clock % 360.0:g}" if clock is not None else "",
        f"{high - low:.1f}",
        (ends["start"].told if "start" in ends else _start(piece, square=(piece.id, "start") in square)) + onto,
        "crown"
        if isinstance(piece, Cap)
        else ends["end"].told
        if "end" in ends
        else _prep(piece, piece.leaves, square=(piece.id, "end") in square),
        "; ".join(f"flat/{name}.dxf" for name in template_names(piece.id) if name in names),
        _mass(finished_volume(cuts, piece.id, piece.volume) - taken, piece.stock.material.density),
    )


def _clock(piece: Member | Cap) -> float | None:
    """Return where a piece turns to, degrees, None where it is the same all round."""
    if isinstance(piece, Reducer):
        return piece.clock if piece.eccentric else None
    if isinstance(piece, Sheet):
        return piece.clock if piece.offset else None
    return piece.clock if isinstance(piece, Elbow | Bend | Pie | Half) else None


def _start(piece: Member | Cap, *, square: bool) -> str:
    formed = isinstance(piece, Straight) and piece.formed
    return f"{'formed to the opening; ' if formed else ''}{_prep(piece, piece.stock, square=square)}"


def _prep(piece: Member | Cap, stock: PipeStock, *, square: bool) -> str:
    """Return how a whole end is prepared; a `square` one gets a fillet, or none."""
    if isinstance(piece, Half):
        return "square, under a half disc"
    if square:
        return "square, deburred"
    if stock.wall <= THICKEST_SQUARE:
        return "square, light chamfer"
    return "bevel 37.5 +/- 2.5 deg, land 1.6 +/- 0.8"


def _mass(volume: float, density: float) -> str:
    return f"{volume * density * 1e-9:.3f}"

