"""How much of every weld a torch can come at, in the order of the file and when everything is in place.

Terminology
    seam       the line of a weld on the outside, as points all round it
    cone       what a torch and the eye behind it need: its tip at the seam, round the torch
    middle     of a groove: the mean of all directions from which a cone reaches the seam past the two parts alone
    neighbour  any other piece; in order: what earlier joints have brought into place

All is looked at off the engine, on the bench: no keep-outs, no turbo. A torch leans from the middle by no more than
its table allows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.access.obstacles import Obstacle, Space
from rootgap.checks.finding import Finding, at_least
from rootgap.geometry.directions import evenly
from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.joints import Butt, Cope, DiscWeld, FlangeWeld, Joint, Merge, Mitre
from rootgap.layout import Layout, Straight
from rootgap.stock.handtools import hand_tools

Array = NDArray[np.float64]

#: Places round a seam, and directions over the sphere, that are tried.
PLACES, DIRECTIONS = 36, 240
#: Nearer to the seam than this, mm, is the groove itself; how much farther on the cone is looked at each time.
NEAREST, RATIO = 6.0, 1.2
#: A weld of which a torch comes at this much is filled at the rest from both sides; one of which it comes at less than
#: half cannot be made; percent (common practice, no source).
ENOUGH, LEAST = 90.0, 50.0
_CLOCKS = 2.0 * np.pi * np.arange(PLACES) / PLACES
SOURCE = "common practice, no source: a torch and its cup as measured, leant no more than {lean:g} deg from the groove"


@dataclass(frozen=True)
class WeldReach:
    """How a torch comes at a weld. weld: the joint; length: mm; alone, in_order, at_last: shares of the seam, percent,
    that it reaches past the two parts alone, past what is in place before it, and past everything; blocks,
    blocks_at_last: what keeps it from most of the rest, "" where nothing does."""

    weld: str
    length: float
    alone: float
    in_order: float
    at_last: float
    blocks: str
    blocks_at_last: str


def torch_reach(layout: Layout, joints: Sequence[Joint], space: Space) -> tuple[WeldReach, ...]:
    """Return how a torch comes at every weld whose seam is known, in the order in which they are made."""
    pieces = {piece.id: piece for piece in layout.pieces()}
    things = {thing.name: thing for thing in space.things if thing.name in pieces}
    placed: set[str] = set()
    found = []
    for joint in in_order(joints):
        placed |= set(joint.joined)
        seam = _seam(joint, pieces)
        own = [things[mark] for mark in joint.joined if mark in things]
        if seam is None or len(own) < len(joint.joined):
            continue
        others = [thing for name, thing in things.items() if name not in joint.joined]
        found.append(_reach(joint, seam, own, others, placed))
    return tuple(found)


def in_order(joints: Sequence[Joint]) -> list[Joint]:
    """Return joints in the order of the file, of crowded copes those first that the others are fitted onto."""
    copes = iter(sorted((joint for joint in joints if isinstance(joint, Cope)), key=lambda cope: len(cope.neighbours)))
    return [next(copes) if isinstance(joint, Cope) else joint for joint in joints]


def _reach(
    joint: Joint, seam: Array, own: Sequence[Obstacle], others: Sequence[Obstacle], placed: set[str]
) -> WeldReach:
    torch = hand_tools().torch
    directions = evenly(DIRECTIONS)
    free = np.ones((len(seam), len(directions)), dtype=np.bool_)
    for thing in own:
        free &= cones_free(seam, directions, thing.body, free)
    middle = free @ directions
    middle /= np.maximum(np.linalg.norm(middle, axis=1), 1e-9)[:, None]
    free &= middle @ directions.T >= np.cos(np.radians(torch.lean))
    alone = free.any(axis=1)
    shares, blocked = [], []
    for there in (placed, None):
        left, taken = free.copy(), {}
        for thing in others:
            if there is None or thing.name in there:
                clear = cones_free(seam, directions, thing.body, free)
                taken[thing.name] = int((free & ~clear).sum())
                left &= clear
        shares.append(left.any(axis=1))
        worst = max(taken, key=lambda name: taken[name], default="")
        blocked.append("" if shares[-1].all() else worst if not alone.all() or taken.get(worst) else "")
    return WeldReach(
        joint.id,
        joint.weld_length,
        100.0 * float(alone.mean()),
        100.0 * float(shares[0].mean()),
        100.0 * float(shares[1].mean()),
        *blocked,
    )


def cones_free(seam: Array, directions: Array, body: Body, asked: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return for which places of a seam, (n, 3), mm, and directions, (k, 3), unit, a torch's cone is free of `body`:
    (n, k). asked: (n, k), those that matter.

    The cone is looked at in balls that it holds, each `RATIO` times as far as the one before.
    """
    torch = hand_tools().torch
    free = asked.copy()
    slope, steps = np.sin(np.radians(torch.cup)), int(np.ceil(np.log(torch.length / NEAREST) / np.log(RATIO)))
    if float(body.distance(seam).min()) > torch.length * (1.0 + slope):
        return free
    for step in range(steps + 1):
        place, way = np.nonzero(free)
        if not place.size:
            break
        off = min(NEAREST * RATIO**step, torch.length)
        free[place, way] = body.distance(seam[place] + off * directions[way]) >= off * slope
    return free


def _seam(joint: Joint, pieces: Mapping[str, Any]) -> Array | None:
    """Return the points, (n, 3), mm, of a weld's seam, None where it is not known."""
    found = SEAMS.get(type(joint))
    return found(joint, pieces) if found and joint.weld_length > 0.0 else None


def _circle(frame: Frame, radius: float) -> Array:
    return frame.origin + radius * frame.radial(_CLOCKS)


def _on_flange(weld: FlangeWeld, _pieces: Mapping[str, Any]) -> Array | None:
    """Return the seam round a pipe on a plate; one that is welded from inside is not known."""
    if weld.through:
        return None
    # In a socket the weld is where the pipe comes out.
    lift = weld.sunk if weld.gas_in else -weld.sunk
    frame = weld.frame.advanced(lift)
    if weld.outline is None:
        return _circle(frame, weld.r_out) if weld.girth is None else None
    points = weld.outline.points(0.5)
    return frame.origin - points[:, :1] * frame.side + points[:, 1:] * frame.ref


def _coped(cope: Cope, _pieces: Mapping[str, Any]) -> Array:
    return cope.outside.points(_CLOCKS, np.full(PLACES, cope.branch.r_out))


def _cut(joint: Mitre | Merge, pieces: Mapping[str, Any]) -> Array | None:
    """Return the seam along the outsides of plane cuts."""
    found = []
    for end in joint.cuts:
        piece = pieces.get(end.piece)
        if not isinstance(piece, Straight):
            return None
        station = np.asarray(end.cut.cut(_CLOCKS))
        if end.at == "end":
            axis, origin, across = piece.start.axis, piece.start.origin, piece.start.radial(_CLOCKS)
        else:
            axis, origin, across = -piece.start.axis, piece.end.origin, piece.start.radial(-_CLOCKS)
        found.append(origin + station[:, None] * axis + piece.stock.r_out * across)
        if isinstance(joint, Mitre):
            break
    return np.vstack(found) if found else None


#: Where the seam of each kind of joint is.
SEAMS: Mapping[type, Callable[[Any, Mapping[str, Any]], Array | None]] = {
    Butt: lambda butt, _: _circle(butt.frame, min(butt.r_out)),
    DiscWeld: lambda weld, _: _circle(weld.frame, weld.r_out),
    FlangeWeld: _on_flange,
    Cope: _coped,
    Mitre: _cut,
    Merge: _cut,
}


def torch_findings(found: Sequence[WeldReach]) -> Iterator[Finding]:
    """Yield, for each weld, how much of it a torch comes at when it is made, percent."""
    source = SOURCE.format(lean=hand_tools().torch.lean)
    for reach in found:
        yield at_least(
            "torch reach",
            reach.weld,
            round(reach.in_order, 1),
            ENOUGH,
            "%",
            source,
            "common practice, no source",
            f"{reach.blocks} is in the way: weld this first, or tack and turn it"
            if reach.blocks
            else "the groove is too narrow for a torch there: bevel it wider, or fill it from the sides",
            "warn" if reach.in_order >= LEAST else "fail",
        )
