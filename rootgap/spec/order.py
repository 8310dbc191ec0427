"""Rules about which piece may follow which in a run."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.spec.fields import Misfit
from rootgap.spec.names import STOCK_KEYS
from rootgap.spec.pieces import (
    BendSpec,
    ElbowSpec,
    HalfSpec,
    MitreSpec,
    PieceSpec,
    SlipSpec,
    StraightSpec,
    TransitionSpec,
)


def aimed(pieces: Sequence[PieceSpec]) -> tuple[int, ...]:
    """Return the indices of the pieces whose angle is to be found."""
    return tuple(
        index for index, piece in enumerate(pieces) if isinstance(piece, ElbowSpec | BendSpec) and piece.angle == "aim"
    )


def in_order(pieces: tuple[PieceSpec, ...]) -> tuple[PieceSpec, ...]:
    """Return `pieces`. Raises ValueError for a mitre or a slip joint not between straights, a half pipe in company,
    and pieces that cannot be aimed."""
    for index, piece in enumerate(pieces):
        if isinstance(piece, HalfSpec) and len(pieces) > 1:
            raise Misfit((index,), "a half pipe is a run of its own, closed at both ends: take the other pieces out")
        beside = (*pieces[max(index - 1, 0) : index], *pieces[index + 1 : index + 2])
        if isinstance(piece, MitreSpec | SlipSpec) and (
            len(beside) < 2 or not all(isinstance(other, StraightSpec) for other in beside)
        ):
            what = "mitre" if isinstance(piece, MitreSpec) else "slip joint"
            raise Misfit((index,), f"a {what} stands between two straights")
        if index and fitted(piece):
            raise Misfit((index,), f"{fitted(piece)} begins at an opening: it is the first piece of its run")
    where = aimed(pieces)
    if not where:
        return pieces
    if len(where) != 2 or where[1] - where[0] != 2 or not _fills(pieces[where[0] + 1]):
        raise Misfit(
            (where[-1],), 'aimed pieces come in pairs: { elbow, angle = "aim" }, { straight = "fill" }, then another'
        )
    for index in range(where[1] + 1, len(pieces)):
        if not isinstance(pieces[index], StraightSpec) or _fills(pieces[index]):
            raise Misfit((index,), "after the aimed pieces come only straights of a length")
    return pieces


def halved(pieces: Sequence[PieceSpec]) -> HalfSpec | None:
    """Return the half pipe that a run is made of, None where it is made of anything else."""
    return pieces[0] if isinstance(pieces[0], HalfSpec) else None


def following(piece: PieceSpec) -> str | None:
    """Return the name of the stock that a piece says goes on after it, None where it is the one before it."""
    return next((stock for word in STOCK_KEYS if (stock := getattr(piece, word, None)) is not None), None)


def fitted(piece: PieceSpec) -> str:
    """Return what a piece that takes the shape of the opening it begins at is called, "" for any other."""
    if isinstance(piece, TransitionSpec):
        return "a transition"
    return "a formed end" if isinstance(piece, StraightSpec) and piece.formed else ""


def _fills(piece: PieceSpec) -> bool:
    return isinstance(piece, StraightSpec) and piece.straight == "fill"
