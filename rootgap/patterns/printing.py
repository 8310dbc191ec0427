"""How patterns are printed at true size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from rootgap.patterns.wrap import PAPER

#: A sheet's name.
Paper = Literal["letter", "a4"]

#: True length of a print's bars, mm.
NOMINAL = 100.0


@dataclass(frozen=True)
class PrintSetup:
    """How templates are printed.

    paper: sheet; thickness: of the paper, mm; bar_x, bar_y: what the 100 mm bars X and Y of an earlier print without
    them measured, mm: the drawing is stretched to come out true. Raises ValueError for a sheet that is not held, a
    thickness outside 0 to 2 or a bar outside 90 to 110.
    """

    paper: Paper = "a4"
    thickness: float = PAPER
    bar_x: float = NOMINAL
    bar_y: float = NOMINAL

    def __post_init__(self) -> None:
        if self.paper not in get_args(Paper):
            raise ValueError(f"paper {self.paper!r}; allowed: {', '.join(sorted(get_args(Paper)))}")
        if not 0.0 <= self.thickness <= 2.0:
            raise ValueError(f"paper thickness {self.thickness:g} mm; allowed: 0 to 2")
        for name, bar in (("bar-x", self.bar_x), ("bar-y", self.bar_y)):
            if not 90.0 <= bar <= 110.0:
                raise ValueError(f"{name} {bar:g} mm; allowed: 90 to 110, the measured length of a 100 mm bar")

    @property
    def stretch(self) -> tuple[float, float]:
        """Drawn over true length, (across, along) the paper, no unit."""
        return NOMINAL / self.bar_x, NOMINAL / self.bar_y
