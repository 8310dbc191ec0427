"""Does any one weld turn the pipe farther than a plain joint, or a mitre, may?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from rootgap.checks.finding import Finding, at_most
from rootgap.geometry.frames import Array
from rootgap.joints import Butt, Joint, Mitre
from rootgap.layout import Cap, Flat, Layout, Pie, Spike
from rootgap.layout.aim import at_least as rounded_up
from rootgap.layout.pieces import Member

#: Largest turn of a plain butt joint, degrees.
LARGEST = 3.0
#: Largest saw angle of a mitre, degrees.
LARGEST_SAW = 22.5
MITRES = (
    "ASME B31.3 304.2.3: mitres of several cuts are sawn at 22.5 degrees at most (a sound target, not a rule here)"
)


def joint_angles(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the largest angle between the axes of two pieces butted together, degrees.

    Pieces are placed end on end and elbows cut through the centre of their bend, so that it is nought
    unless something here has gone wrong.
    """
    pieces = {piece.id: piece for piece in layout.pieces() if not isinstance(piece, Flat | Spike)}
    turns = {
        joint.id: _turn(_leaving(pieces[joint.before]), _entering(pieces[joint.after]))
        for joint in joints
        if isinstance(joint, Butt)
    }
    if turns:
        most = max(turns, key=lambda joint: turns[joint])
        yield at_most(
            "joint angle",
            most if turns[most] > LARGEST else "all butt joints",
            turns[most],
            LARGEST,
            "deg",
            "ASME B31.3: trimmed fittings may make up to 3 degrees at a joint without special proof "
            "(a sound target, not a rule here)",
            "standard",
            f"turn one piece {rounded_up(turns[most] - LARGEST)} deg nearer in line, "
            f"or put an elbow of {turns[most]:.1f} deg there",
        )


def saw_angles(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the saw angle of each mitre, and of each pie-cut bend's, degrees."""
    for joint in joints:
        if isinstance(joint, Mitre):
            yield at_most(
                "saw angle",
                joint.id,
                0.5 * joint.turn,
                LARGEST_SAW,
                "deg",
                MITRES,
                "standard",
                f"turn in {int(np.ceil(joint.turn / (2.0 * LARGEST_SAW) - 1e-9))} mitres, or put an elbow there",
                "warn",
            )
    for piece in layout.pieces():
        if isinstance(piece, Pie):
            cuts = int(np.ceil(piece.angle / (2.0 * LARGEST_SAW) - 1e-9))
            yield at_most(
                "saw angle",
                piece.id,
                piece.saw,
                LARGEST_SAW,
                "deg",
                MITRES,
                "standard",
                f"make it of {cuts} cuts: {0.5 * piece.angle / cuts:.1f} deg each",
                "warn",
            )


def _leaving(piece: Member | Cap) -> Array:
    """Return the axis, (3,), no unit, along which the gas leaves a piece."""
    return -piece.start.axis if isinstance(piece, Cap) else piece.end.axis


def _entering(piece: Member | Cap) -> Array:
    """Return the axis, (3,), no unit, along which the gas enters a piece."""
    return piece.start.axis


def _turn(one: Array, other: Array) -> float:
    """Return the angle, degrees, between two directions, (3,), exact near nought."""
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(one, other)), one @ other)))
