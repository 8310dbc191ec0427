"""DXF: lines, arcs and circles on layers by purpose, in millimetres.

R2000 with LWPOLYLINE and CIRCLE and $INSUNITS 4 (mm), or R12 with POLYLINE, which has no word for units: there the
file's name and its text say them. Bulges, never a spline or an ellipse. Every contour is one closed polyline. The cut
line of a wrap is the one open curve: its two ends are the same point of the pipe, and with the datum and the seam edges
it closes the sheet. Every pattern is held to `rootgap.writers.clean` before it is written.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Literal

from ezdxf._options import options
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.units import MM

from rootgap.geometry.arcs import smoothed, smoothed_ring
from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.patterns import Pattern, purpose
from rootgap.writers.clean import hold_clean

Version = Literal["R2000", "R12"]

#: Colour index by purpose: chosen so that neighbours differ on a dark and on a light screen.
COLORS = {
    "cut": 1,
    "inside": 30,
    "edge": 8,
    "mark": 140,
    "drill": 6,
    "tab": 9,
    "text": 34,
    "etch": 4,
    "lead": 3,
}
#: mm. Arcs stay this near to the chords that they stand for, which are within 0.005 mm of their curve.
FIT = 0.0045
#: A path of fewer points than this, all of them corners, is no curve.
FEWEST = 12
_ALIGN = {
    "left": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "right": TextEntityAlignment.RIGHT,
}


def dxf_bytes(pattern: Pattern, version: Version = "R2000") -> bytes:
    """Return the DXF file of `pattern`; the same pattern gives the same bytes.

    Raises PatternError where something in it is no contour that a table can cut.
    """
    pattern = fitted(pattern)
    hold_clean(pattern)
    with _fixed_metadata():
        # An R12 file has no word for units: to set them would be told to the user's screen.
        document = Drawing.new(version)
        if version != "R12":
            document.units = MM
            document.header["$MEASUREMENT"] = 1
        least_x, least_y, most_x, most_y = pattern.bounds()
        document.header["$EXTMIN"] = (least_x, least_y, 0.0)
        document.header["$EXTMAX"] = (most_x, most_y, 0.0)
        space = document.modelspace()
        for layer in dict.fromkeys([*(item.layer for item in pattern.drawn), "text"]):
            document.layers.add(layer, color=COLORS[purpose(layer)])
        for item in pattern.drawn:
            attributes = {"layer": item.layer}
            if isinstance(item.shape, Circle):
                space.add_circle(item.shape.center, item.shape.radius, dxfattribs=attributes)
                continue
            draw = space.add_polyline2d if version == "R12" else space.add_lwpolyline
            draw(item.shape.vertices, format="xyb", close=item.shape.closed, dxfattribs=attributes)
        for label in pattern.labels:
            text = space.add_text(
                label.text, height=label.height, rotation=label.angle, dxfattribs={"layer": label.layer}
            )
            text.set_placement(label.at, align=_ALIGN[label.anchor])
        for row, line in enumerate(caption(pattern)):
            text = space.add_text(line, height=4.0, dxfattribs={"layer": "text"})
            text.set_placement((least_x, least_y - 10.0 - 6.0 * row))
        stream = io.StringIO()
        document.write(stream)
    return stream.getvalue().encode(document.encoding, "dxfreplace")


def file_name(pattern: Pattern, version: Version = "R2000") -> str:
    """Return the name of a pattern's file: one that cannot state its units bears them in its name."""
    return f"{pattern.name}.mm.dxf" if version == "R12" else f"{pattern.name}.dxf"


def entity_count(pattern: Pattern) -> int:
    """Return how many entities a pattern's file has, its lettering and caption left out."""
    return len(pattern.drawn)


def caption(pattern: Pattern) -> tuple[str, ...]:
    """Return the lines of text that stand under the drawing: name, unit, the rows of its facts."""
    return (f"{pattern.name}: {pattern.title}", "Unit: mm, 1:1", *(f"{key}: {value}" for key, value in pattern.facts))


def fitted(pattern: Pattern) -> Pattern:
    """Return the pattern with arcs for every free-form curve that is given by its points."""
    return replace(pattern, drawn=tuple(replace(item, shape=_fitted(item.shape)) for item in pattern.drawn))


def _fitted(shape: Shape) -> Shape:
    if isinstance(shape, Circle) or len(shape.vertices) < FEWEST or any(bulge for _, _, bulge in shape.vertices):
        return shape
    points = [(x, y) for x, y, _ in shape.vertices]
    made: Path = smoothed_ring(points, FIT) if shape.closed else smoothed(points, FIT)
    return made


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Make ezdxf leave out times and random ids for as long as the block runs."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
