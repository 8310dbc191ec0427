"""The weld of a run's first piece to one cut off a casting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.openings import Round
from rootgap.joints.butt import shaped_girth
from rootgap.joints.clamp import no_pocket
from rootgap.joints.joint import CutAt
from rootgap.joints.mitre import OVERLAP, too_little
from rootgap.layout import Member, Salvage


@dataclass(frozen=True, eq=False)
class SalvageWeld:
    """A salvaged piece and what stands on its cut. frame: in the middle of the cut, its axis along the gas; girths:
    of the bores of the two, mm; walls: of the two, mm; metal: of the salvaged piece, None where it is not known."""

    kind: ClassVar[str] = "salvage weld"
    id: str
    salvage: str
    after: str
    frame: Frame
    girths: tuple[float, float]
    walls: tuple[float, float]
    metal: str | None
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The two pieces' marks."""
        return self.salvage, self.after

    @property
    def told(self) -> str:
        """The salvaged piece's metal, in words."""
        return self.metal or "metal unknown until stated"

    @property
    def weld_length(self) -> float:
        """Girth of the smaller outside, mm: those of bore and outside of a wall differ by 2 pi times the wall."""
        return min(girth + 2.0 * np.pi * wall for girth, wall in zip(self.girths, self.walls, strict=True))

    @property
    def step(self) -> float:
        """Difference of the bores, mm on the radius, the mean round the clock where they are not round; positive
        where the gas meets an edge."""
        return (self.girths[0] - self.girths[1]) / (2.0 * np.pi)


def on_salvage(salvage: Salvage, first: Member) -> SalvageWeld:
    """Return the weld of a run's first piece to a salvaged one. Raises GeometryError where it is round and the
    opening is not."""
    no_pocket(first, salvage.id)
    opening, shaped = salvage.opening, shaped_girth(first)
    if shaped is None and not isinstance(opening, Round):
        raise GeometryError(
            first.id,
            f"is round where it begins; the opening of {salvage.id} is not",
            'begin with a transition, or with a formed end: { straight = ..., formed = "on" }',
        )
    if shaped is None and isinstance(opening, Round):
        r_in = 0.5 * opening.diameter
        overlap = min(r_in + salvage.spec.wall, first.stock.r_out) - max(r_in, first.stock.r_in)
        if overlap < OVERLAP:
            raise GeometryError(
                first.id,
                f"its wall and that of {salvage.id} {too_little(overlap)}",
                "begin with a transition or a formed end, or use pipe of another size",
            )
    bore = 2.0 * np.pi * first.stock.r_in if shaped is None else opening.girth
    return SalvageWeld(
        f"{salvage.id}+{first.id}",
        salvage.id,
        first.id,
        salvage.frame,
        (opening.girth, float(bore)),
        (salvage.spec.wall, first.stock.wall),
        salvage.spec.material,
    )
