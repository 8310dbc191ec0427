"""Every flat pattern of a layout, in the order of the work: plates, holes, ends, elbows, pie-cut bends."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.joints import Cope, FlangeWeld, Joint
from rootgap.layout import Elbow, Layout, Pie, Port, Straight
from rootgap.patterns.pattern import Pattern
from rootgap.patterns.pie import pie_wrap
from rootgap.patterns.plate import plate_pattern
from rootgap.patterns.trim import trim_strip
from rootgap.patterns.wrap import PAPER, cope_wrap, holes_wrap


def all_patterns(layout: Layout, joints: Sequence[Joint], paper: float = PAPER) -> tuple[Pattern, ...]:
    """Return the pattern of every part that is cut. paper: thickness of the paper, mm."""
    copes = [joint for joint in joints if isinstance(joint, Cope)]
    welds = [joint for joint in joints if isinstance(joint, FlangeWeld)]
    straights = {piece.id: piece for piece in layout.pieces() if isinstance(piece, Straight)}
    gas_in = {run.begins.flange for run in layout.runs.values() if isinstance(run.begins, Port)}
    plates = [
        plate_pattern(plate, [weld for weld in welds if weld.plate == plate.id], starts=name in gas_in)
        for name, plate in layout.plates.items()
    ]
    targets = dict.fromkeys(cope.target.piece for cope in copes)
    holes = [
        holes_wrap(straights[target], [cope for cope in copes if cope.target.piece == target], paper)
        for target in targets
    ]
    wraps = [cope_wrap(cope, straights[cope.branch.piece].stock, paper) for cope in copes]
    elbows = [piece for piece in layout.pieces() if isinstance(piece, Elbow) and piece.trimmed]
    pies = [pie_wrap(piece, paper) for piece in layout.pieces() if isinstance(piece, Pie)]
    return (*plates, *holes, *wraps, *(trim_strip(elbow, paper) for elbow in elbows), *pies)
