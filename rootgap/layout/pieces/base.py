"""What every placed piece can be asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Body
from rootgap.geometry.frames import Frame
from rootgap.geometry.merging import LobedOpening
from rootgap.geometry.paths import Shape
from rootgap.spec.vband import VbandPart
from rootgap.stock import PipeStock

Array = NDArray[np.float64]

#: Maps two arrays (n,), no unit, over the unit square to points (n, 3), mm, all over a piece's outside.
Skin = Callable[[Array, Array], Array]


#: The stations, mm, between which a piece with cut ends extends.
Span = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Mouth:
    """An opening that a run begins at. shape: its rim, mm, x away from the side of the run's start and y along
    its ref; depth: how far a pipe goes in where it goes in, mm."""

    shape: Shape
    depth: float = 0.0


@dataclass(frozen=True, eq=False)
class Lobes:
    """A collector's opening that a run begins at. stock: of its legs."""

    opening: LobedOpening
    stock: PipeStock


@dataclass(frozen=True, eq=False)
class Site:
    """Where a piece is to stand. mark, run: its own name and its run's; stock: of the run; start: the
    frame it begins at; reach: how far along it the run's target is, mm, for the last piece of a run
    that ends on another's side, None elsewhere; raises GeometryError where it passes the target; stocks,
    vbands: all of the file, by name; marks: of the pieces 1, 2 and so on after this, where it is several; mouth:
    the opening that it begins at, for the first piece of a run that does."""

    mark: str
    run: str
    stock: PipeStock
    start: Frame
    reach: Callable[[], float] | None
    stocks: Mapping[str, PipeStock]
    vbands: Mapping[str, VbandPart]
    marks: Callable[[int], str]
    mouth: Mouth | Lobes | None = None


class Placed(Protocol):
    """A thing that stands somewhere. id: its mark; start: its frame where the gas comes in."""

    kind: ClassVar[str]

    @property
    def id(self) -> str:
        """The piece's mark, unique in a layout."""
        ...

    @property
    def start(self) -> Frame:
        """The frame where the gas comes in."""
        ...

    @property
    def length(self) -> float:
        """Its length along the gas, mm."""
        ...

    @property
    def filled(self) -> Body | None:
        """The body that it fills, bore and all; None where only its skin is known."""
        ...

    @property
    def volume(self) -> float:
        """Metal volume of the whole piece, mm3, before any cope or hole."""
        ...

    @property
    def made_from(self) -> str:
        """What to take and what to do to it, for the cut list."""
        ...

    def skin(self, span: Span | None = None) -> Skin:
        """Return a map over the piece's outside. span: stations to which its cut ends extend, mm."""
        ...

    def record(self) -> dict[str, Any]:
        """Return what only this kind of piece has to say in the manifest, lengths in mm, angles in degrees."""
        ...
