"""Every flat pattern of a layout, in the order of the work: plates, splits and holes, ends, elbows, pie-cut bends."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rootgap.joints import Cope, DividerEnd, EdgeWeld, FlangeWeld, Joint, Merge, Mitre, OutletWeld
from rootgap.layout import (
    Cone,
    Disc,
    Elbow,
    Face,
    Half,
    Layout,
    LobedCone,
    Member,
    Pie,
    Port,
    Straight,
    Transition,
    Tubular,
)
from rootgap.patterns.compensation import compensated
from rootgap.patterns.cutting import for_table
from rootgap.patterns.development import cone_pattern, lobed_pattern, transition_pattern
from rootgap.patterns.divider import divider_pattern
from rootgap.patterns.etching import etched
from rootgap.patterns.former import former_pattern
from rootgap.patterns.half import half_wrap
from rootgap.patterns.marks import cope_comb, holes_comb
from rootgap.patterns.panel import panel_pattern
from rootgap.patterns.pattern import Pattern, template_name
from rootgap.patterns.pie import pie_wrap
from rootgap.patterns.plane_wrap import leg_wrap, mitre_wraps
from rootgap.patterns.plate import disc_pattern, plate_pattern
from rootgap.patterns.trim import trim_strip
from rootgap.patterns.wrap import PAPER, cope_wrap, holes_wrap
from rootgap.spec import TablePart
from rootgap.stock import PipeStock


def all_patterns(layout: Layout, joints: Sequence[Joint], paper: float = PAPER) -> tuple[Pattern, ...]:
    """Return the pattern of every part that is cut. paper: thickness of the paper, mm."""
    copes = [joint for joint in joints if isinstance(joint, Cope)]
    welds = [joint for joint in joints if isinstance(joint, FlangeWeld)]
    pieces = {piece.id: piece for run in layout.runs.values() for piece in run.pieces}
    halves = [joint for joint in joints if isinstance(joint, EdgeWeld)]
    gas_in = {run.begins.flange for run in layout.runs.values() if isinstance(run.begins, Port)}
    gas_in |= {run.begins.pose.on for run in layout.runs.values() if isinstance(run.begins, Face)}
    plates = [
        plate_pattern(
            plate,
            [weld for weld in welds if weld.plate == plate.id],
            [end for end in joints if isinstance(end, DividerEnd) and end.plate == plate.id],
            [half for half in halves if half.plate == plate.id],
            starts=name in gas_in,
        )
        for name, plate in layout.plates.items()
    ]
    discs = [disc_pattern(piece) for piece in layout.pieces() if isinstance(piece, Disc)]
    parted = [divider_pattern(divider, layout) for divider in layout.dividers.values()]
    panels = [panel_pattern(panel) for run in layout.runs.values() if run.half for panel in run.half.panels]
    split = [piece.id for piece in pieces.values() if isinstance(piece, Half)]
    targets = dict.fromkeys([*(cope.target.piece for cope in copes), *split])
    onto = {target: [cope for cope in copes if cope.target.piece == target] for target in targets}
    holes = [_holes(pieces[target], onto[target], paper) for target in targets]
    stocks = {mark: piece.stock for mark, piece in pieces.items()}
    ends = [pattern for joint in joints for pattern in _ends(joint, pieces, stocks, paper)]
    trims = [trim_strip(piece, paper) for piece in pieces.values() if isinstance(piece, Elbow) and piece.trimmed]
    pies = [pie_wrap(piece, paper) for piece in pieces.values() if isinstance(piece, Pie)]
    standing = {joint.after: joint for joint in joints if isinstance(joint, OutletWeld)}
    sheets = [pattern for piece in pieces.values() for pattern in _sheets(piece, standing)]
    whole = (*plates, *discs, *parted, *panels, *holes, *ends, *trims, *pies, *sheets)
    return tuple(for_table(pattern, layout.table) for pattern in whole)


def table_pattern(pattern: Pattern, table: TablePart | None) -> Pattern:
    """Return a part's pattern as its file has it for the table: lettering to scribe, and, where the table wants it, the
    offset and leads; a pattern of paper as it is. Raises GeometryError where an opening is narrower than the kerf."""
    if pattern.plate is None:
        return pattern
    scribed = etched(pattern)
    return compensated(scribed, table) if table else scribed


def _sheets(piece: Member, standing: Mapping[str, OutletWeld]) -> Iterator[Pattern]:
    """Yield the development of a passage of sheet, or the former of a formed end. standing: by the marks of what
    stands on a collector."""
    metal = piece.stock.material.grade
    if isinstance(piece, Cone | Transition | LobedCone):
        name = template_name(piece.id, "development")
        if isinstance(piece, LobedCone):
            weld = standing[piece.id]
            yield lobed_pattern(
                name, weld.merge, weld.station, piece.leaves.bore, piece.length, piece.stock.wall, metal
            )
        elif isinstance(piece, Cone) and not piece.offset:
            bores = piece.stock.bore, piece.leaves.bore
            yield cone_pattern(name, *bores, piece.length, piece.stock.wall, metal)
        else:
            title = f"{piece.kind.capitalize()} to {piece.leaves.bore:g} mm bore, {piece.length:g} mm long"
            yield transition_pattern(name, piece.made, metal, title=title)
    elif isinstance(piece, Straight) and piece.formed:
        yield former_pattern(template_name(piece.id, "former"), piece.formed, piece.stock.label)


def _holes(piece: Member, copes: Sequence[Cope], paper: float) -> Pattern:
    """Return the template of the holes in `piece`, and of the split of a half pipe."""
    if isinstance(piece, Half):
        return half_wrap(piece, copes, paper)
    if isinstance(piece, Straight):
        return holes_wrap(piece, copes, paper)
    if not isinstance(piece, Tubular):
        raise TypeError(f"{piece.id} is no pipe to cut holes in")
    return holes_comb(piece.tube, copes, piece.stock, paper)


def _ends(
    joint: Joint, pieces: Mapping[str, Member], stocks: Mapping[str, PipeStock], paper: float
) -> Iterator[Pattern]:
    """Yield the templates of the ends that a joint cuts."""
    if isinstance(joint, Cope):
        piece = pieces[joint.branch.piece]
        yield (cope_wrap if isinstance(piece, Straight) else cope_comb)(joint, piece.stock, paper)
    elif isinstance(joint, Mitre):
        yield from mitre_wraps(joint, stocks[joint.before.piece], stocks[joint.after.piece], paper)
    elif isinstance(joint, Merge):
        for leg in joint.legs:
            yield leg_wrap(joint, leg, stocks[leg.tube.piece], paper)
