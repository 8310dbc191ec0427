"""What every cut end of a straight pipe answers, whatever it lands on, so that one template and one body
serve all kinds."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from rootgap.joints.bevel import Ground

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
    def radii(self) -> Array:
        """Radii of the rings of the end face, (k,), mm, from bore to outside."""
        ...

    @property
    def bevel_schedule(self) -> tuple[Ground, ...]:
        """What is ground at each eighth of a turn, and the groove that it leaves."""
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

    def face(self, theta: ArrayLike) -> Array:
        """Return the stations of the end face at its radii, (..., k), mm; between them it is straight."""
        ...
