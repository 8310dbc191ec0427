"""DXF: lines, arcs and circles on layers by purpose, in millimetres.

R2000, LWPOLYLINE with bulges and CIRCLE only; $INSUNITS is 4 (mm). Every contour is one
closed polyline. The cut line of a wrap is the one open curve: its two ends are the same
point of the pipe, and with the datum and the seam edges it closes the sheet.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager

from ezdxf._options import options
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.units import MM

from rootgap.geometry.paths import Circle
from rootgap.patterns import Pattern, purpose

#: Colour index by purpose: chosen so that neighbours differ on a dark and on a light screen.
COLORS = {"cut": 1, "inside": 30, "edge": 8, "mark": 140, "drill": 6, "tab": 9, "text": 34}
_ALIGN = {
    "left": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "right": TextEntityAlignment.RIGHT,
}


def dxf_bytes(pattern: Pattern) -> bytes:
    """Return the DXF file of `pattern`; the same pattern gives the same bytes."""
    with _fixed_metadata():
        document = new("R2000", setup=False, units=MM)
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
            else:
                space.add_lwpolyline(item.shape.vertices, format="xyb", close=item.shape.closed, dxfattribs=attributes)
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
    return stream.getvalue().encode(document.encoding)


def caption(pattern: Pattern) -> tuple[str, ...]:
    """Return the lines of text that stand under the drawing: name, unit, the rows of its facts."""
    return (f"{pattern.name}: {pattern.title}", "Unit: mm, 1:1", *(f"{key}: {value}" for key, value in pattern.facts))


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Make ezdxf leave out times and random ids for as long as the block runs."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
