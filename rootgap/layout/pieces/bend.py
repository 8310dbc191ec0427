"""Pipe or tube bent on a former."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.layout.pieces.arc import Arc
from rootgap.layout.pieces.base import Site
from rootgap.spec import BendSpec

#: The least radius of a bend's throat, mm: at nought the pipe's side would turn on the spot.
#: No bender comes near it; the bend's own maker knows how near (common practice, no source).
LEAST_THROAT = 1.0


@dataclass(frozen=True, eq=False)
class Bend(Arc):
    """Pipe or tube bent to the radius that its former has. Its wall is taken as everywhere the same."""

    kind: ClassVar[str] = "bend"

    @property
    def made_from(self) -> str:
        """How to bend it."""
        return f"bend {self.angle:g} deg at {self.radius:.1f} mm on the centre line, {self.length:.1f} mm of arc"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"bend {self.angle:g}"

    def record(self) -> dict[str, Any]:
        """Return the bend's figures."""
        return {"radius": self.radius, "angle": self.angle, "clock": self.clock}


def place_bend(spec: BendSpec, site: Site) -> Bend:
    """Return the bend of `spec`. Raises GeometryError where its radius leaves no throat."""
    refuse_no_throat(site, spec.bend)
    return Bend(site.mark, site.run, site.stock, site.start, spec.bend, spec.angle, spec.clock)


def refuse_no_throat(site: Site, radius: float) -> None:
    """Raise GeometryError where a bend of centre-line `radius`, mm, leaves the stock no throat."""
    least = site.stock.r_out + LEAST_THROAT
    if radius < least:
        raise GeometryError(
            site.mark,
            f"a centre-line radius of {radius:.1f} mm leaves no throat on {site.stock.od:.1f} mm outside diameter",
            f"make it at least {np.ceil(10.0 * least) / 10.0:.1f} mm",
        )
