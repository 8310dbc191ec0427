"""What cannot be welded, refused with the figure that mends it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from itertools import combinations
from operator import itemgetter

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.contact import Contact, Traced
from rootgap.geometry.distance import Union
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.sampling import leap
from rootgap.joints.butt import FlangeWeld
from rootgap.joints.cope import Cope
from rootgap.joints.ends import Array, CutEnd
from rootgap.joints.joint import Which
from rootgap.joints.merge import Merge
from rootgap.layout import Half, LobedCone, Member, Straight, Tubular
from rootgap.layout.aim import at_least, onwards, or_turn, sideways

#: Closer than this, mm, a wall is taken to graze the target's side.
GRAZE = 0.01
#: A cut line that leaps by more than this, mm, along its branch from one generator to the next is torn.
TORN = 1.0
#: Leans outside these, degrees, leave no crotch that a torch reaches (common practice, no source).
LEANS = (15.0, 165.0)
#: An angle within this of its limit, degrees, is at it.
SURE = 1e-6
#: A bevel steeper than this, degrees, lies along its pipe: none is ground so.
STEEPEST = 86.0
#: How far, radians, an end is looked at beside where it passes from one body to another.
BESIDE = 1e-4
#: A piece shorter than this, mm, on its short side cannot be held or welded (common practice, no source).
SHORTEST = 3.0
#: A wall between two pockets thinner than this, mm, cannot be milled (common practice, no source).
THINNEST = 1.0
_CLOCKS = 2.0 * np.pi * np.arange(360) / 360
_FEW_CLOCKS = _CLOCKS[::4]


def plain(piece: Member, how: str) -> Tubular:
    """Return a piece whose end is to be cut. Raises GeometryError where it is no pipe, or formed at its start."""
    if not isinstance(piece, Tubular):
        raise GeometryError(piece.id, f"a {piece.kind}'s own end cannot be {how}", "add a straight there")
    if isinstance(piece, Straight) and piece.formed:
        raise GeometryError(piece.id, f"its start is formed; its other end cannot be {how}", "add a straight after it")
    return piece


def not_larger(cope: Cope, limit: float) -> None:
    """Raise GeometryError for a branch that is larger than its target, or than the room in its bore, `limit` mm."""
    branch, target = cope.branch, cope.target
    if branch.r_out > limit + GRAZE:
        surface = "bore" if cope.set_ == "in" else "outside"
        raise GeometryError(
            branch.piece,
            f"outside {2 * branch.r_out:.1f} mm is larger than the {surface} of {target.piece}, {2 * limit:.1f} mm",
            f"give run.{target.run} stock that is {at_least(2.0 * (branch.r_out - limit))} mm larger, "
            f"or {branch.run} smaller",
        )


def lobed(first: Member, merge: Merge) -> None:
    """Raise GeometryError for a first piece on a collector's opening that has not its lobes."""
    if not isinstance(first, LobedCone):
        raise GeometryError(
            first.id,
            f"is round where it begins; the opening of {merge.id} has {merge.count} lobes",
            "begin with a cone: { cone = STOCK, length = ... }",
        )


def leaves_metal(piece: str, length: float, ends: Mapping[Which, CutEnd]) -> None:
    """Raise GeometryError for a piece of `length` mm whose cut `ends` leave too little between them at some clock."""
    near, far = _faces(ends, length, _CLOCKS)
    least = float(np.min(far - near))
    if least < SHORTEST:
        raise GeometryError(
            piece,
            f"what is cut off leaves {least:.1f} mm on the short side, at least {SHORTEST:g} needed",
            f"make it {at_least(SHORTEST - least)} mm longer",
        )


def _faces(ends: Mapping[Which, CutEnd], length: float, theta: Array) -> tuple[Array, Array]:
    """Return between which stations, (n,) each, mm, the whole wall of a piece of `length` mm stands at clocks
    `theta`, (n,), radians, along the gas."""
    far = _edges(ends["end"], theta) if "end" in ends else np.full(theta.shape, length)
    # A cut at the start is told against the gas: its clocks run the other way round.
    near = length - _edges(ends["start"], -theta) if "start" in ends else np.zeros(theta.shape)
    return near, far


def _edges(end: CutEnd, theta: Array) -> Array:
    """Return the least station, (n,), mm, of a finished end at the clocks `theta`, (n,), radians."""
    return end.face(theta).min(axis=-1)


def leans(cope: Cope, *, elbow: bool) -> None:
    """Raise GeometryError for a branch that lies too nearly along its target. elbow: whether one comes before."""
    if not LEANS[0] - SURE <= cope.lean <= LEANS[1] + SURE:
        raise GeometryError(
            cope.branch.piece,
            f"leans {cope.lean:.1f} degrees to {cope.target.piece}; allowed {LEANS[0]:g} to {LEANS[1]:g}",
            f"turn it {at_least(max(LEANS[0] - cope.lean, cope.lean - LEANS[1]))} degrees away from the "
            f"target's axis{', with the elbow before it' if elbow else ''}",
        )


def no_graze(cope: Cope, saddle: Saddle, limit: float, *, elbow: bool) -> None:
    """Raise GeometryError for a branch whose side lies too near the target's, of radius `limit` mm. elbow: as in
    `leans`."""
    graze = cope.offset + cope.branch.r_out - limit
    if graze > -GRAZE and cope.offset > GRAZE:
        past = f"{graze:.2f} mm past" if graze > 0 else f"{-graze:.2f} mm short of"
        raise GeometryError(
            cope.branch.piece,
            f"grazes {cope.target.piece}: its side lies {past} the target's (axes {cope.offset:.2f} mm apart)",
            sideways(saddle, cope.target.run, max(limit - cope.branch.r_out - 1.0, 0.0), elbow=elbow),
        )


def all_meet(cope: Cope, *, elbow: bool) -> None:
    """Raise GeometryError for a traced branch any of whose generators passes the target, or runs out before it. elbow:
    as in `leans`."""
    contact = cope.inside if cope.set_ == "in" else cope.on_target
    wall = np.array([cope.branch.r_in, cope.branch.r_out])
    heights = contact.height(_CLOCKS[:, None], wall)
    missing = np.isnan(heights).any(axis=1)
    if missing.any():
        clock = float(np.degrees(_CLOCKS[int(np.argmax(missing))]))
        bend = cope.branch.bending
        ends = f" within its {np.degrees(cope.branch.length / bend.radius):.0f} degrees" if bend else ""
        raise GeometryError(
            cope.branch.piece,
            f"its wall passes {cope.target.piece}{ends} at {missing.mean():.0%} of the clocks, clock {clock:.0f} first",
            f"{_turned_on(cope, contact, wall)}bring the axes nearer (they are {cope.offset:.1f} mm apart): move "
            f"run.{cope.target.run}{or_turn(elbow=elbow)}",
        )


def _turned_on(cope: Cope, contact: Contact, wall: Array) -> str:
    """Return how far a bend would have to go on so that all of its wall lands, with what a sentence goes on with;
    nothing where it does not even so, or is straight. wall: radii, (2,), mm."""
    bend = cope.branch.bending
    if bend is None or not isinstance(contact, Traced):
        return ""
    farther = replace(contact, reach=np.pi * bend.radius).height(_FEW_CLOCKS[:, None], wall)
    if np.isnan(farther).any():
        return ""
    return f"turn it on to {at_least(float(np.degrees(farther.max() / bend.radius)))} degrees, or "


def no_leap(cope: Cope, *, elbow: bool) -> None:
    """Raise GeometryError for a traced branch whose cut line is torn: beside a bump of the target its next generator
    goes on to where the target comes back. elbow: as in `leans`."""
    edges = [cope.cut, cope.bore_edge, *([cope.outer_edge] if cope.set_ == "in" else [])]
    found = max((torn for edge in edges if (torn := leap(edge, TORN))), key=itemgetter(1), default=None)
    if found:
        lands = f", and lands {found[1]:.1f} mm farther on" if np.isfinite(found[1]) else ""
        raise GeometryError(
            cope.branch.piece,
            f"its cut line on {cope.target.piece} is torn: at clock {np.degrees(found[0]):.0f} it passes beside{lands}",
            f"bring the axes nearer (they are {cope.offset:.1f} mm apart) or make it lean less along the target: move "
            f"run.{cope.target.run}{or_turn(elbow=elbow)}",
        )


def pockets_apart(welds: Iterable[FlangeWeld]) -> None:
    """Raise GeometryError for two pockets in one side of a flange between which no wall is left."""
    for one, other in combinations([weld for weld in welds if weld.pocket], 2):
        if (one.plate, one.gas_in) == (other.plate, other.gas_in):
            apart = float(np.linalg.norm(one.frame.origin - other.frame.origin))
            wall = apart - (one.pocket or 0.0) - (other.pocket or 0.0)
            if wall < THINNEST:
                raise GeometryError(
                    one.plate,
                    f"the sockets of {one.pipe} and {other.pipe} leave a wall of {wall:.1f} mm between them, at least "
                    f"{THINNEST:g} needed",
                    f"set their ports {at_least(THINNEST - wall)} mm farther apart, use smaller pipe, or take the "
                    "sockets out",
                )


def reaches(cope: Cope) -> None:
    """Raise GeometryError for a branch whose bore comes out wholly in the branches that it is fitted after."""
    if not cope.neighbours:
        return
    rho = cope.hole_radius * np.linspace(0.0, 1.0, 9)
    points = cope.on_target.points(_FEW_CLOCKS[:, None], rho).reshape(-1, 3)
    crowd = Union(tuple(other.filled(other.r_out) for other in cope.neighbours))
    if (crowd.distance(points[np.isfinite(points).all(axis=1)]) < 0.0).all():
        first = cope.neighbours[0].run
        raise GeometryError(
            cope.branch.piece,
            f"lands wholly on {' and '.join(other.piece for other in cope.neighbours)}: nothing of it reaches "
            f"{cope.target.piece}",
            f'end it there (cope = "{first}"), move it away, or give it an earlier order than run.{first}',
        )


def bevel_clears(cope: Cope) -> None:
    """Raise GeometryError for a bevel that would have to lie along the branch to clear its neighbours: a wall that
    passes beside one with its bore and into it with its outside."""
    if not cope.crowd or (cope.set_, cope.prep) != ("on", "bevel"):
        return
    theta = np.concatenate([_CLOCKS, cope.crossings - BESIDE, cope.crossings + BESIDE])
    grind = cope.grind(theta)
    worst = int(np.argmax(grind))
    if grind[worst] > STEEPEST:
        raise GeometryError(
            cope.branch.piece,
            f"its wall passes partly beside {' and '.join(cope.joined[2:])} at clock "
            f"{np.degrees(theta[worst]) % 360.0:.0f}: no bevel clears that ({grind[worst]:.0f} degrees, at most "
            f"{STEEPEST:g})",
            f'use prep = "square" for run.{cope.branch.run}, or give it an earlier order',
        )


def fits_branch(cope: Cope, piece: Member) -> None:
    """Raise GeometryError for a cut that runs off its own `piece`."""
    least, most = cope.cut_range
    if least < SHORTEST and cope.at == "start":
        raise GeometryError(
            piece.id,
            f"the cut runs off its far end: {least:.1f} mm left on the short side, at least {SHORTEST:g} needed",
            f"make it {at_least(SHORTEST - least)} mm longer",
        )
    if least < SHORTEST:
        raise GeometryError(
            piece.id,
            f"the cut runs off its start: {least:.1f} mm left on the short side, at least {SHORTEST:g} needed",
            onwards(piece.start, cope.target.run, SHORTEST - least),
        )
    if cope.at == "end" and isinstance(piece, Straight) and not piece.fills and most > piece.length:
        raise GeometryError(
            piece.id,
            f"the cut runs off its end: {most:.1f} mm needed, {piece.length:.1f} mm there",
            f'use straight = "fill", or make it {at_least(most)} mm',
        )


def fits_target(cope: Cope, ends: Mapping[Which, CutEnd]) -> None:
    """Raise GeometryError for a foot that runs off the target's start or end, as those are cut."""
    target, points = cope.target, _foot(cope)
    clock, along = target.unrolled(points).T
    near, far = _faces(ends, target.length, clock)
    # A wrap of holes goes no further than the axis does, even where a slanted end is longer at this clock.
    near, far = np.maximum(near, 0.0), np.minimum(far, target.length)
    past_start, past_end = float((near - along).max()), float((along - far).max())
    off = np.linalg.norm(target.rolled(clock, along) - points, axis=1)
    if not target.round and (off > GRAZE).any():
        # It lands on the bend's or the cone's flat end: by how much it would run on there is not known.
        raise GeometryError(
            cope.branch.piece,
            f"its foot runs off the {'start' if past_start > -GRAZE else 'end'} of {target.piece}",
            f"move it along run.{target.run}" if target.taper else "turn the elbow before it, or use a larger bend",
        )
    offs: tuple[tuple[float, Which], ...] = ((past_start, "start"), (past_end, "end"))
    for past, where in offs:
        if past > 0.0:
            raise GeometryError(
                cope.branch.piece,
                f"its foot runs {past:.1f} mm off the {where} of {target.piece}",
                _room(cope, past, where, ends),
            )


def _room(cope: Cope, past: float, where: Which, ends: Mapping[Which, CutEnd]) -> str:
    """Return what gives room to a foot that runs `past` mm off an end of its target. ends: the target's cut ends."""
    target, by = cope.target, at_least(past)
    if cope.at == "start":
        return f"make its station {by} mm {'more' if where == 'start' else 'less'}"
    if where in ends:
        return f"move it {by} mm along run.{target.run}, away from where {target.piece} is cut"
    return f"lengthen run.{target.run} by {by} mm at its {where}"


def split_margin(cope: Cope, half: Half) -> float:
    """Return the least distance round the outside, mm, from a branch's foot to the split of the half pipe that it
    stands on; below nought it crosses it."""
    clock = cope.target.unrolled(_foot(cope))[:, 0] - np.radians(half.clock)
    off = np.abs((clock + np.pi) % (2.0 * np.pi) - np.pi)
    return float(cope.target.r_out * (0.5 * np.pi - off.max()))


def fits_half(cope: Cope, half: Half) -> None:
    """Raise GeometryError for a foot that crosses the split of the half pipe that it stands on."""
    margin = split_margin(cope, half)
    if margin < 0.0:
        turn = np.degrees(-margin / half.stock.r_out)
        raise GeometryError(
            cope.branch.piece,
            f"its foot crosses the split of {half.id} by {-margin:.1f} mm: there is no wall there",
            f"bring it at least {at_least(float(turn))} degrees round it towards clock {half.clock:g}, its middle",
        )


def _foot(cope: Cope) -> Array:
    """Return points, (n, 3), mm, round what a branch covers of its target."""
    # A branch as wide as its target has no foot beyond the target's own side.
    widest = cope.target.r_out - cope.offset if isinstance(cope.on_target, Saddle) else np.inf
    return cope.on_target.points(_CLOCKS, min(max(cope.branch.r_out, cope.hole_radius), widest))
