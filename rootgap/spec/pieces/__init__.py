"""The pieces that a run can be made of, one module a kind; a new one is a line here."""

from __future__ import annotations

from typing import Annotated

from pydantic import Tag

from rootgap.spec.pieces.bend import BendSpec
from rootgap.spec.pieces.elbow import ElbowSpec
from rootgap.spec.pieces.half import HalfSpec
from rootgap.spec.pieces.mitre import MitreSpec
from rootgap.spec.pieces.pie import PieSpec
from rootgap.spec.pieces.reducer import ReducerSpec
from rootgap.spec.pieces.sheet import ConeSpec, TransitionSpec
from rootgap.spec.pieces.slip import SlipSpec
from rootgap.spec.pieces.straight import StraightSpec
from rootgap.spec.pieces.vband import VbandSpec
from rootgap.spec.words import one_of

PieceSpec = Annotated[
    Annotated[StraightSpec, Tag("<straight>")]
    | Annotated[ElbowSpec, Tag("<elbow>")]
    | Annotated[BendSpec, Tag("<bend>")]
    | Annotated[PieSpec, Tag("<pie>")]
    | Annotated[MitreSpec, Tag("<mitre>")]
    | Annotated[HalfSpec, Tag("<half>")]
    | Annotated[VbandSpec, Tag("<vband>")]
    | Annotated[SlipSpec, Tag("<slip>")]
    | Annotated[ReducerSpec, Tag("<reducer>")]
    | Annotated[ConeSpec, Tag("<cone>")]
    | Annotated[TransitionSpec, Tag("<transition>")],
    one_of(
        "straight", "elbow", "bend", "pie", "mitre", "half", "vband", "slip", "reducer", "cone", "transition"
    ),
]

__all__ = [
    "BendSpec",
    "ConeSpec",
    "ElbowSpec",
    "HalfSpec",
    "MitreSpec",
    "PieSpec",
    "PieceSpec",
    "ReducerSpec",
    "SlipSpec",
    "StraightSpec",
    "TransitionSpec",
    "VbandSpec",
]
