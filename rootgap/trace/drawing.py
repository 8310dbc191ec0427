"""What was found, drawn over the picture that it was found in."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from rootgap.trace.gasket import SPECK, Traced
from rootgap.trace.picture import Pixels

Array = NDArray[np.float64]

#: The longer side of the drawing, pixels: features stay clear, and the file small.
LONGEST = 2400
PORT, BOLT, EDGE, LEFT, AXIS = (0, 130, 0), (0, 90, 220), (200, 0, 140), (235, 110, 0), (215, 0, 0)
_CHORD = 0.02  # mm
_SHIFT = 4  # binary places of a pixel that lines are drawn to


def drawing(found: Traced) -> Pixels:
    """Return the plan with all features, the axes, and rings round what was left out, (rows, columns, 3)."""
    import cv2

    plan = found.plan
    share = min(1.0, LONGEST / max(plan.pixels.shape[:2]))
    high, wide = (max(1, round(side * share)) for side in plan.pixels.shape[:2])
    paper = cv2.resize(plan.pixels, (wide, high), interpolation=cv2.INTER_AREA)
    # Paler, so that colours stand out on a dark part.
    paper = np.asarray(np.round(110.0 + 0.57 * paper), np.uint8)
    thick = max(1, round(max(high, wide) / 1200))

    def at(mm: Array) -> Array:
        return (plan.to_pixels(found.axes.to_plan(mm)) + 0.5) * share - 0.5

    def line(mm: Array, colour: tuple[int, int, int], *, closed: bool = True) -> None:
        points = np.round(at(mm) * 2**_SHIFT).astype(np.int32)
        cv2.polylines(paper, [points], closed, colour, thick, cv2.LINE_AA, _SHIFT)

    def word(mm: tuple[float, float], text: str, colour: tuple[int, int, int], size: float) -> None:
        x, y = at(np.array([mm]))[0]
        (across, up), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, size, thick)
        right, low = x - 0.5 * across, y + 0.5 * up
        where = int(np.clip(right, 2, max(2, wide - across - 2))), int(np.clip(low, up + 2, high - 3))
        cv2.putText(paper, text, where, cv2.FONT_HERSHEY_SIMPLEX, size, (255, 255, 255), 3 * thick, cv2.LINE_AA)
        cv2.putText(paper, text, where, cv2.FONT_HERSHEY_SIMPLEX, size, colour, thick, cv2.LINE_AA)

    size = max(high, wide) / 2400
    edge = found.outline.free or found.outline.path
    if edge is not None:
        line(edge.points(_CHORD), EDGE)
    for number, port in enumerate(found.ports, 1):
        line(port.shape.points(_CHORD), PORT)
        word(port.fit.at, f"port {number}", PORT, 1.2 * size)
    for number, bolt in enumerate(found.bolts, 1):
        line(bolt.fit.shape.points(_CHORD), BOLT)
        word(bolt.fit.at, str(number), BOLT, 1.0 * size)
    for item in found.left_out:
        if item.size >= SPECK or "notch" in item.what:
            turn = np.linspace(0.0, 2.0 * np.pi, 40)
            ring = np.column_stack([np.cos(turn), np.sin(turn)]) * (0.6 * item.size + 2.0)
            line(np.array(item.at) + ring, LEFT)
    _draw_axes(line, word, size)
    return np.asarray(paper, np.uint8)


def _draw_axes(line: Callable[..., None], word: Callable[..., None], size: float) -> None:
    length, barb = 24.0, 3.0
    for (x, y), name in (((1.0, 0.0), "x"), ((0.0, 1.0), "y")):
        tip, side = np.array([x, y]) * length, np.array([-y, x])
        line(np.array([[0.0, 0.0], tip]), AXIS, closed=False)
        back = tip - barb * np.array([x, y])
        line(np.array([back + 0.4 * barb * side, tip, back - 0.4 * barb * side]), AXIS, closed=False)
        word((float(tip[0] + 4.0 * x), float(tip[1] + 4.0 * y)), name, AXIS, 1.0 * size)


def png(pixels: Pixels) -> bytes:
    """Return a picture as a PNG file."""
    import cv2

    return bytes(cv2.imencode(".png", cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR))[1])
