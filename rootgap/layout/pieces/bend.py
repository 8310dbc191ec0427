"""Pipe or tube bent on a former."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.layout.pieces.arc import Arc
from rootgap.layout.pieces.base import Site
from rootgap.spec import BendSpec
from rootgap.stock import PipeStock

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
        return f"bend {self.angle:.4g} deg at {self.radius:.1f} mm on the centre line, {self.length:.1f} mm of arc"

    @property
    def label(self) -> str:
        """A few signs for a run's table."""
        return f"bend {self.angle:.4g}"

    def record(self) -> dict[str, Any]:
        """Return the bend's figures."""
        return {"radius": self.radius, "angle": self.angle, "clock": self.clock}


def place_bend(spec: BendSpec, site: Site) -> Bend:
    """Return the bend of `spec`. Raises GeometryError where its radius leaves no throat."""
    bend_radius(spec, site.mark, site.stock)
    return Bend(site.mark, site.run, site.stock, site.start, spec.bend, float(spec.angle), spec.clock)


def bend_radius(spec: BendSpec, mark: str, pipe: PipeStock) -> float:
    """Return the centre-line radius, mm, of a bend. Raises GeometryError where it leaves the pipe no throat."""
    least = pipe.r_out + LEAST_THROAT
    if spec.bend < least:
        raise GeometryError(
            mark,
            f"a centre-line radius of {spec.bend:.1f} mm leaves no throat on {pipe.od:.1f} mm outside diameter",
            f"make it at least {np.ceil(10.0 * least) / 10.0:.1f} mm",
        )
    return spec.bend
