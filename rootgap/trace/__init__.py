"""From a picture of a gasket or a plate to a flange file.

One module a step:

    picture    a file into pixels
    sheet      the calibration sheet as data; `printed` is its PDF
    plan       pixels into a view square on, at scale
    regions    what of it is the part, its edge and its holes
    edges      edges to a fraction of a pixel
    fitting    openings fitted to edges
    freehand   edges of no kind as lines and arcs
    gasket     ports, bolt holes, outline, datum
    written    the flange file
    likeness   whether it agrees with a known flange as it was pictured
    drawing    what was found, drawn over the picture
"""

from __future__ import annotations

from pathlib import Path

from rootgap.trace.drawing import drawing, png
from rootgap.trace.gasket import Traced, told, traced
from rootgap.trace.picture import Picture, read_picture
from rootgap.trace.plan import plan_of
from rootgap.trace.regions import regions
from rootgap.trace.written import CAUTION, flange_name, flange_toml, read_back

__all__ = [
    "CAUTION",
    "Picture",
    "Traced",
    "drawing",
    "flange_name",
    "flange_toml",
    "png",
    "read_back",
    "read_picture",
    "told",
    "trace",
]


def trace(
    picture: Picture | Path | str,
    *,
    dpi: float | None = None,
    bars: tuple[float, float] = (100.0, 100.0),
    mirror: bool = False,
    turn: bool = False,
) -> Traced:
    """Return the ports, bolt holes and outline of the part in a picture.

    dpi: dots an inch of a scan, None for its own; bars: what the calibration sheet's 100 mm bars measure on
    the print, across and up, mm; mirror: the picture shows the face that lies on the head; turn: x runs to the
    picture's left, or down. Raises PictureError.
    """
    if not isinstance(picture, Picture):
        picture = read_picture(Path(picture))
    plan = plan_of(picture, dpi, bars)
    return traced(plan, regions(plan, picture.file), picture.file, mirror=mirror, turn=turn)
