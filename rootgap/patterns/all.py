"""Every flat pattern of a layout, in the order of the work: plates, splits and holes, ends, elbows, pie-cut bends,
sheet, and the plates that hold it all."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import Any

from rootgap.joints import Cope, DividerEnd, EdgeWeld, FlangeWeld, Joint, Merge, Mitre, OutletWeld, blank, cut_ends
from rootgap.joints.joint import Blank, Cuts, Which
from rootgap.layout import (
    Cone,
    Disc,
    Divider,
    Elbow,
    Flat,
    Half,
    Layout,
    LobedCone,
    Member,
    Panel,
    Pie,
    Plate,
    Spike,
    Straight,
    Transition,
)
from rootgap.patterns.compensation import compensated
from rootgap.patterns.cutting import for_table
from rootgap.patterns.development import cone_pattern, lobed_pattern, transition_pattern
from rootgap.patterns.divider import divider_pattern
from rootgap.patterns.etching import etched
from rootgap.patterns.fixture import fixture_patterns
from rootgap.patterns.former import former_pattern
from rootgap.patterns.half import half_wrap
from rootgap.patterns.holes import holes_wrap
from rootgap.patterns.marks import cope_comb, holes_comb
from rootgap.patterns.panel import panel_pattern
from rootgap.patterns.pattern import Pattern, template_name
from rootgap.patterns.pie import pie_wrap
from rootgap.patterns.plane_wrap import leg_wrap, mitre_wraps
from rootgap.patterns.plate import disc_pattern, plate_pattern
from rootgap.patterns.spike import spike_pattern
from rootgap.patterns.trim import trim_strip
from rootgap.patterns.wrap import PAPER, cope_wrap
from rootgap.spec import TablePart


def all_patterns(layout: Layout, joints: Sequence[Joint], paper: float = PAPER) -> tuple[Pattern, ...]:
    """Return the pattern of every part that is cut. paper: thickness of the paper, mm."""
    copes = [joint for joint in joints if isinstance(joint, Cope)]
    pieces = layout.members
    flats = [FLATS[type(piece)](piece, layout, joints) for piece in layout.pieces() if isinstance(piece, Flat)]
    spikes = [spike_pattern(piece) for piece in layout.pieces() if isinstance(piece, Spike)]
    split = [piece.id for piece in pieces.values() if isinstance(piece, Half)]
    targets = dict.fromkeys([*(cope.target.piece for cope in copes), *split])
    onto = {target: [cope for cope in copes if cope.target.piece == target] for target in targets}
    cuts = cut_ends(joints)
    holes = [_holes(pieces[target], onto[target], paper, cuts.get(target, {})) for target in targets]
    ends = [pattern for joint in joints for pattern in _ends(joint, pieces, paper, cuts)]
    trims = [trim_strip(piece, paper) for piece in pieces.values() if isinstance(piece, Elbow) and piece.trimmed]
    pies = [pie_wrap(piece, paper) for piece in pieces.values() if isinstance(piece, Pie)]
    standing = {joint.after: joint for joint in joints if isinstance(joint, OutletWeld)}
    sheets = [pattern for piece in pieces.values() for pattern in _sheets(piece, standing)]
    tacked = [pattern for fixture in layout.fixtures for pattern in fixture_patterns(fixture)]
    whole = (*flats, *holes, *ends, *trims, *pies, *sheets, *spikes, *tacked)
    return tuple(for_table(pattern, layout.table) for pattern in whole)


def _flange(plate: Plate, layout: Layout, joints: Sequence[Joint]) -> Pattern:
    """Return the flat pattern of a flange with all that stands on it."""
    on = [joint for joint in joints if plate.id in joint.joined]
    return plate_pattern(
        plate,
        [joint for joint in on if isinstance(joint, FlangeWeld)],
        [joint for joint in on if isinstance(joint, DividerEnd)],
        [joint for joint in on if isinstance(joint, EdgeWeld)],
        starts=any(f"flange.{name}" == plate.id for name in layout.begun),
    )


#: How the flat pattern of a part cut from plate is made, by its class.
FLATS: Mapping[type, Callable[[Any, Layout, Sequence[Joint]], Pattern]] = {
    Plate: _flange,
    Disc: lambda disc, _layout, _joints: disc_pattern(disc),
    Divider: lambda divider, layout, _joints: divider_pattern(divider, layout),
    Panel: lambda panel, _layout, _joints: panel_pattern(panel),
}


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
            title = f"{piece.kind.capitalize()} to {piece.leaves.bore:.2f} mm bore, {piece.length:g} mm long"
            yield transition_pattern(name, piece.made, metal, title=title)
    elif isinstance(piece, Straight) and piece.formed:
        yield former_pattern(template_name(piece.id, "former"), piece.formed, piece.stock.label, piece.held)


def _holes(piece: Member, copes: Sequence[Cope], paper: float, cut: Collection[Which]) -> Pattern:
    """Return the template of the holes in `piece`, and of the split of a half pipe. cut: its ends that are cut."""
    if isinstance(piece, Half):
        return half_wrap(piece, copes, paper)
    if isinstance(piece, Straight):
        return holes_wrap(piece, copes, paper, cut)
    return holes_comb(copes, piece.stock, paper)


def _ends(joint: Joint, pieces: Mapping[str, Member], paper: float, cuts: Cuts) -> Iterator[Pattern]:
    """Yield the templates of the ends that a joint cuts. cuts: all cut ends, for what each is cut from."""

    def made(piece: str, at: Which) -> Blank:
        return blank(cuts, piece, pieces[piece].length, at)

    if isinstance(joint, Cope):
        piece = pieces[joint.branch.piece]
        if isinstance(piece, Straight):
            yield cope_wrap(joint, piece.stock, paper, made(piece.id, joint.at))
        else:
            yield cope_comb(joint, piece.stock, paper)
    elif isinstance(joint, Mitre):
        before, after = joint.before.piece, joint.after.piece
        blanks = made(before, "end"), made(after, "start")
        yield from mitre_wraps(joint, pieces[before].stock, pieces[after].stock, paper, blanks)
    elif isinstance(joint, Merge):
        for leg in joint.legs:
            yield leg_wrap(joint, leg, pieces[leg.tube.piece].stock, paper, made(leg.tube.piece, "end"))
