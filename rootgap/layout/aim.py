"""Where a run that ends on another's side meets it, and what would mend it where it does not."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.contact import Traced
from rootgap.geometry.frames import Frame
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.layout.pieces import Cone, Half, Member, Pie, Reducer, Ring, Sleeve, Straight, Tubular
from rootgap.layout.pieces.arc import Arc
from rootgap.layout.run import Run

#: How a branch sits on its target: on its outside, or in a hole up to its bore.
SetOn = Literal["on", "in"]

#: Farther along its axis than this, mm, no branch looks for its target.
FAR = 4000.0
#: Places along a bent axis at which its distance from the target is looked at.
_PLACES = 400


@dataclass(frozen=True)
class _Meeting:
    """An axis that meets a piece at `height` mm."""

    height: float
    piece: Member


@dataclass(frozen=True)
class _Miss:
    """An axis that does not meet a piece: by how much, mm, in what way, and what mends it."""

    by: float
    what: str
    remedy: str


def turns(pieces: Iterable[Member]) -> bool:
    """Tell whether any of `pieces` turns the gas, so that its clock says where the next ones point."""
    return any(isinstance(piece, Arc | Pie) for piece in pieces)


def or_turn(*, elbow: bool) -> str:
    """Return what a remedy ends with where an `elbow` comes before."""
    return ", or turn the elbow's clock" if elbow else ""


def axis_reach(mark: str, frame: Frame, target: Run, set_: SetOn, before: Sequence[Member]) -> float:
    """Return how far along `frame`, after the pieces `before`, its axis meets `target`, mm. Raises GeometryError."""
    return aimed_at(mark, Tube("", mark, frame, 0.0, 0.0, FAR), target, set_, elbow=turns(before))[1]


def aimed_at(mark: str, branch: Tube, target: Run, set_: SetOn, *, elbow: bool) -> tuple[Tube, float]:
    """Return the piece of `target` that the axis of `branch` meets first (its bore for a set-in branch), as a side
    of a joint, and the station there, mm. elbow: whether one comes before, whose clock may be turned.

    Raises GeometryError with the figure that would mend it where the axis meets none, or one that takes no branch.
    """
    seen = [_meets(branch, piece, target.name, set_, elbow=elbow) for piece in target.pieces]
    met = [one for one in seen if isinstance(one, _Meeting)]
    if met:
        first = min(met, key=lambda one: one.height)
        tube = tube_of(first.piece)
        if tube is None:
            raise GeometryError(
                mark,
                f"its axis meets {first.piece.id}, a {first.piece.kind}, on which nothing can end",
                "move one of the two along the run",
            )
        return tube, first.height
    nearest = min((one for one in seen if isinstance(one, _Miss)), key=lambda one: one.by)
    raise GeometryError(mark, nearest.what, nearest.remedy)


def tube_of(piece: Member) -> Tube | None:
    """Return a piece as a side of a joint; None for what is neither pipe nor cone in line."""
    return piece.tube if isinstance(piece, Tubular | Reducer | Cone) else None


def _meets(branch: Tube, piece: Member, target: str, set_: SetOn, *, elbow: bool) -> _Meeting | _Miss:
    if isinstance(piece, Ring | Sleeve):
        return _bars(branch, piece)
    tube = None if isinstance(piece, Pie) or (isinstance(piece, Straight) and piece.formed) else tube_of(piece)
    if tube is None:
        return _no_target(piece)
    radius = tube.r_in if set_ == "in" else tube.r_out
    if branch.bending is None and isinstance(piece, Straight | Half):
        return _straight_meets(branch.frame, piece, radius, target, elbow=elbow)
    reach = branch.length if branch.bending else FAR
    body = tube.filled(radius)
    height = float(Traced(branch.wall, body, reach).height(0.0, 0.0))
    if height > 0.0:
        return _Meeting(height, piece)
    if height <= 0.0:
        inside = -float(body.distance(branch.frame.origin[None])[0])
        what = f"starts {inside:.1f} mm inside {piece.id}"
        return _Miss(inside, what, f"move run.{target} {at_least(inside)} mm away")
    station = np.linspace(0.0, reach, _PLACES)
    nought = np.zeros(_PLACES)
    by = float(np.min(body.distance(branch.wall.points(nought, nought, station))))
    return _Miss(
        by,
        f"its axis passes {by:.1f} mm beside {piece.id}",
        f"bring run.{target} {at_least(by)} mm nearer{or_turn(elbow=elbow)}",
    )


def _bars(branch: Tube, piece: Ring | Sleeve) -> _Meeting | _Miss:
    """Return where a branch's axis meets what stands in its way and takes no branch."""
    height = float(Traced(branch.wall, piece.filled, branch.length if branch.bending else FAR).height(0.0, 0.0))
    if height > 0.0:
        return _Meeting(height, piece)
    return _Miss(np.inf, f"{piece.id} is a {piece.kind}, on which nothing can end", "end it on a straight")


def _no_target(piece: Member) -> _Miss:
    """Return why nothing can end on a piece."""
    if isinstance(piece, Pie):
        return _Miss(np.inf, f"{piece.id} is a pie-cut bend, on which nothing can end", "use an elbow or a bend there")
    if isinstance(piece, Straight):
        return _Miss(np.inf, f"{piece.id} has a formed end, so nothing can end on it", "add a straight after it")
    return _Miss(np.inf, f"{piece.id} is a {piece.kind}, on which nothing can end", "aim at a pipe or a bend beside it")


def _straight_meets(
    frame: Frame, piece: Straight | Half, radius: float, target: str, *, elbow: bool
) -> _Meeting | _Miss:
    try:
        saddle = Saddle(frame, piece.start, radius)
    except ValueError:
        remedy = f"{'turn its last elbow' if elbow else 'put an elbow before it,'} towards run.{target}"
        return _Miss(np.inf, f"runs parallel to {piece.id}", remedy)
    offset = abs(saddle.offset)
    if offset >= piece.stock.r_out:
        past = offset - piece.stock.r_out
        return _Miss(
            past,
            f"passes {past:.1f} mm beside {piece.id} (axes {offset:.1f} mm apart)",
            sideways(saddle, target, 0.0, elbow=elbow),
        )
    height = float(saddle.height(0.0, 0.0)) if offset < radius else float("nan")
    if not np.isfinite(height):
        return _Miss(offset - radius, f"meets only the wall of {piece.id}", sideways(saddle, target, 0.0, elbow=elbow))
    if height <= 0.0:
        what = f"starts {-height:.1f} mm beyond the side of {piece.id}"
        return _Miss(-height, what, onwards(frame, target, -height))
    along = float((saddle.points(0.0, 0.0) - piece.start.origin) @ piece.start.axis)
    past = max(-along, along - piece.length)
    if past <= 0.0:
        return _Meeting(height, piece)
    side, end = ("before the start", "start") if along < 0.0 else ("beyond the end", "end")
    return _Miss(
        past,
        f"meets the line of {piece.id} {past:.1f} mm {side} of it",
        f"lengthen run.{target} by {at_least(past)} mm at its {end}{or_turn(elbow=elbow)}",
    )


def sideways(saddle: Saddle, target: str, offset: float, *, elbow: bool) -> str:
    """Return the remedy that brings a saddle's axes to `offset` mm apart: which way the run `target`
    must move, and how far, along the one axis that does it best. elbow: as in `aimed_at`."""
    across = np.cross(saddle.target.axis, saddle.branch.axis)
    across = across / np.linalg.norm(across)
    apart = float((saddle.branch.origin - saddle.target.origin) @ across)
    axis = int(np.argmax(np.abs(across)))
    move = (apart - np.copysign(offset, apart)) / across[axis]
    sign = "-" if move < 0 else "+"
    return f"move run.{target} by {sign}{at_least(abs(move))} mm in {'xyz'[axis]}{or_turn(elbow=elbow)}"


def onwards(frame: Frame, target: str, by: float) -> str:
    """Return the remedy that moves the run `target` on along a branch's axis by `by` mm."""
    move = ", ".join(f"{by * part:.1f}" for part in frame.axis * (1.0 + 0.1 / by))
    return f"move run.{target} by [{move}] mm, on along the branch, or shorten the pieces before"


def at_least(figure: float) -> str:
    """Return a figure, mm or degrees, rounded up to a tenth, so that who does it has done enough."""
    return f"{np.ceil(10.0 * figure - 1e-9) / 10.0:.1f}"
