"""What every cut end of a straight pipe answers, whatever it lands on, so that one template and one body
serve all kinds."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


class CutEnd(Protocol):
    """The finished far end of a straight pipe. theta: (...), radians; stations in mm."""

    @property
    def told(self) -> str:
        """A few words for the cut list."""
        ...

    @property
    def corners(self) -> Array:
        """Clocks, (k,), radians, 0 to 2 pi, rising, at which an edge of the end may have a corner."""
        ...

    @property
    def cut_range(self) -> tuple[float, float]:
        """Least and largest station of the finished end, mm."""
        ...

    @property
    def branch_volume(self) -> float:
        """Metal volume, mm3, of the finished pipe."""
        ...

    def cut(self, theta: ArrayLike) -> Array:
        """Return the stations of the cut line on the outside, mm."""
        ...

    def bore_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the end face meets the bore, mm."""
        ...

    def outer_edge(self, theta: ArrayLike) -> Array:
        """Return the stations at which the end face meets the outside, mm."""
        ...
