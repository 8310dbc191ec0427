"""Whether a pattern's lines and arcs can be cut as they are: nothing twice, nothing of no length, no gap."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from rootgap.errors import PatternError
from rootgap.geometry.paths import Circle, Path
from rootgap.patterns.pattern import Drawn, Pattern, purpose

#: mm. Ends further apart than this do not meet.
GAP = 0.001
#: mm. Ends nearer than this were meant to.
MEANT = 0.5
#: mm. A shorter line or arc is none.
LEAST = 1e-5
#: Purposes whose lines close on each other: a wrap's cut on its sheet's edges.
CLOSING = ("cut", "edge")


def faults(pattern: Pattern) -> tuple[str, ...]:
    """Return what is wrong with a pattern's lines, each with its layer and place; nothing for a clean one."""
    found = [fault for item in pattern.drawn for fault in _of_one(item, table=pattern.plate is not None)]
    return tuple(found) if found else (*_twice(pattern), *_gaps(pattern))


def hold_clean(pattern: Pattern) -> None:
    """Raise PatternError where a pattern has faults."""
    found = faults(pattern)
    if found:
        raise PatternError(pattern.name, found)


def _of_one(item: Drawn, *, table: bool) -> Iterator[str]:
    shape = item.shape
    if isinstance(shape, Circle):
        if not (np.isfinite([*shape.center, shape.radius]).all() and shape.radius > LEAST):
            yield f"{item.layer}: a circle of radius {shape.radius:g}"
        return
    if not np.isfinite(shape.vertices).all():
        yield f"{item.layer}: a point that does not exist"
        return
    if len(shape.vertices) < 2:
        yield f"{item.layer}: a path of one point at {_place(shape.vertices[0])}"
        return
    for start, end, _ in shape.segments():
        if np.hypot(end[0] - start[0], end[1] - start[1]) < LEAST:
            yield f"{item.layer}: a line or arc of no length at {_place(start)}"
    if table and purpose(item.layer) == "cut" and not shape.closed:
        yield f"{item.layer}: a contour that is not closed, at {_place(shape.vertices[0])}"


def _twice(pattern: Pattern) -> Iterator[str]:
    """Yield a fault for every line, arc or circle that is there twice on layers of one purpose."""
    seen: set[tuple[object, ...]] = set()
    for item in pattern.drawn:
        for key, place in _keys(item):
            if key in seen:
                yield f"{item.layer}: twice the same at {_place(place)}"
            seen.add(key)


def _keys(item: Drawn) -> Iterator[tuple[tuple[object, ...], tuple[float, ...]]]:
    kind = purpose(item.layer)
    if isinstance(item.shape, Circle):
        yield (kind, *(round(value / GAP) for value in (*item.shape.center, item.shape.radius))), item.shape.center
        return
    for start, end, bulge in item.shape.segments():
        # Whichever way it is gone, its ends and the middle of its arc are the same.
        x = 0.5 * (start[0] + end[0]) + 0.5 * bulge * (end[1] - start[1])
        y = 0.5 * (start[1] + end[1]) - 0.5 * bulge * (end[0] - start[0])
        ends = sorted((round(p[0] / GAP), round(p[1] / GAP)) for p in (start, end))
        yield (kind, *ends, round(x / GAP), round(y / GAP)), start


def _gaps(pattern: Pattern) -> Iterator[str]:
    """Yield a fault for each end of an open cut that nearly meets the end of another line, and does not."""
    open_paths = [
        (item, item.shape)
        for item in pattern.drawn
        if purpose(item.layer) in CLOSING and isinstance(item.shape, Path) and not item.shape.closed
    ]
    ends = [(item, path.vertices[at][:2], number) for number, (item, path) in enumerate(open_paths) for at in (0, -1)]
    for item, end, number in ends:
        off = [np.hypot(end[0] - x, end[1] - y) for _, (x, y), other in ends if other != number]
        nearest = min(off, default=np.inf)
        if purpose(item.layer) == "cut" and GAP < nearest < MEANT:
            yield f"{item.layer}: a gap of {nearest:.4f} mm at {_place(end)}"


def _place(point: tuple[float, ...]) -> str:
    return f"({point[0]:.3f}, {point[1]:.3f})"
