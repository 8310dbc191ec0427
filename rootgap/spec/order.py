"""Rules about which piece may follow which in a run."""

from __future__ import annotations

from collections.abc import Sequence

from rootgap.spec.fields import Misfit
from rootgap.spec.names import STOCK_KEYS
from rootgap.spec.pieces import BendSpec, ElbowSpec, MitreSpec, PieceSpec, StraightSpec, TransitionSpec


def aimed(pieces: Sequence[PieceSpec]) -> tuple[int, ...]:
    """Return the indices of the pieces whose angle is to be found."""
    return tuple(
        index for index, piece in enumerate(pieces) if isinstance(piece, ElbowSpec | BendSpec) and piece.angle == "aim"
    )


def in_order(pieces: tuple[PieceSpec, ...]) -> tuple[PieceSpec, ...]:
    """Return `pieces`. Raises ValueError for a mitre not between straights, and for pieces that cannot be aimed."""
    for index, piece in enumerate(pieces):
        beside = (*pieces[max(index - 1, 0) : index], *pieces[index + 1 : index + 2])
        if isinstance(piece, MitreSpec) and (
            len(beside) < 2 or not all(isinstance(other, StraightSpec) for other in beside)
        ):
            raise Misfit((index,), "a mitre stands between two straights")
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
