"""A pattern's own drawing: its lines, its tab, its hatched waste and its lettering on one tile.

Terminology:

    outline    a pattern's shape as chords, with its purpose
    art        a pattern's outlines and the box round everything that it shows
    word       WASTE or TAB, written where there is room

Coordinates are the pattern's own, mm, until a tile is drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Circle, Shape
from rootgap.patterns.pattern import PURPOSES, Label, Pattern, purpose
from rootgap.writers.sheets.labels import (
    Cells,
    grown,
    inside,
    label_box,
    label_style,
    meets,
    placed_labels,
    roomiest,
)
from rootgap.writers.sheets.paper import Box, Tile, TilePlan
from rootgap.writers.sheets.pen import HATCHING, INK, PALE, SLATE, STROKES, WHITE, Pen, Stroke

Array = NDArray[np.float64]
#: Gives points of the drawing, (n, 2), mm, as points on the page, mm.
Move = Callable[[Array], Array]

TOLERANCE = 0.005  # mm between a true curve and the chords drawn for it
HATCH = 3.5  # mm between hatch lines, measured level
DRILL_ARM = 1.5  # mm that a drill's cross stands out of its circle
FEW = 128  # vertices that are enough for any outline in a reduced view
WORD_HEIGHTS = (3.5, 2.6)  # mm

# What must be seen best comes last.
DRAWING_ORDER = ("tab", "text", "mark", "drill", "inside", "edge", "cut")
if set(DRAWING_ORDER) != set(PURPOSES):  # pragma: no cover
    raise AssertionError("every purpose needs a place in the drawing order")


@dataclass(frozen=True, eq=False)
class Outline:
    """A shape as chords. points: (n, 2), mm."""

    purpose: str
    points: Array
    closed: bool
    shape: Shape

    @property
    def box(self) -> Box:
        """The box round it, a drill's cross included."""
        (x0, y0), (x1, y1) = self.points.min(axis=0), self.points.max(axis=0)
        box = (float(x0), float(y0), float(x1), float(y1))
        return grown(box, DRILL_ARM) if self.purpose == "drill" else box

    @property
    def chain(self) -> Array:
        """The points, the first one again at the end if it is closed."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points


@dataclass(frozen=True, eq=False)
class Art:
    """A pattern's outlines in the order to draw them, its waste, and the box round all of it."""

    pattern: Pattern
    outlines: tuple[Outline, ...]
    waste: tuple[Array, ...]
    extent: Box

    @property
    def size(self) -> Array:
        """Width and height, mm."""
        x0, y0, x1, y1 = self.extent
        return np.array([x1 - x0, y1 - y0])


@dataclass(frozen=True)
class Lettering:
    """A pattern's labels and words where a plan's tiles show them whole."""

    labels: tuple[Label, ...]
    words: tuple[Label, ...]


def art(pattern: Pattern) -> Art:
    """Return a pattern ready to be laid on paper.

    Raises: ValueError if nothing is drawn, or for a layer whose purpose is not one of PURPOSES.
    """
    if not pattern.drawn:
        raise ValueError(f"pattern {pattern.name!r}: nothing is drawn on it")
    for item in pattern.drawn:
        if purpose(item.layer) not in PURPOSES:
            raise ValueError(f"pattern {pattern.name!r}: layer {item.layer!r}; allowed: {', '.join(PURPOSES)}")
    drawn = sorted(pattern.drawn, key=lambda item: DRAWING_ORDER.index(purpose(item.layer)))
    outlines = tuple(
        Outline(purpose(item.layer), item.shape.points(TOLERANCE), _is_closed(item.shape), item.shape) for item in drawn
    )
    waste = tuple(region.points(TOLERANCE) for region in pattern.waste)
    boxes = [outline.box for outline in outlines] + [label_box(label) for label in pattern.labels]
    boxes += [(*ring.min(axis=0), *ring.max(axis=0)) for ring in waste]
    left, low, right, high = zip(*boxes, strict=True)
    return Art(pattern, outlines, waste, (float(min(left)), float(min(low)), float(max(right)), float(max(high))))


def _is_closed(shape: Shape) -> bool:
    return isinstance(shape, Circle) or shape.closed


def lettering(drawing: Art, plan: TilePlan) -> Lettering:
    """Return the labels, moved where they would lie on a line, on each other or on no tile whole,
    and a word for the waste and the tab wherever it fits on a tile."""
    chains = [outline.chain for outline in drawing.outlines]
    labels = placed_labels(drawing.pattern.labels, Cells.over(drawing.extent, chains), plan)
    tabs = [outline.points for outline in drawing.outlines if outline.purpose == "tab" and len(outline.points) > 2]
    words = []
    for text, rings in (("WASTE", drawing.waste), ("TAB", tabs)):
        for ring in rings:
            wide, high = np.ptp(ring, axis=0)
            angle = 90.0 if high > 2.0 * wide else 0.0
            sizes = [Label("text", (0.0, 0.0), text, height, angle, "middle") for height in WORD_HEIGHTS]
            bounds = (*ring.min(axis=0), *ring.max(axis=0))
            cells = Cells.over(bounds, chains, [label_box(label) for label in labels], ring)
            for tile in plan.tiles:
                fitting = (word for size in sizes if (word := roomiest(size, cells, plan.core(tile))))
                words += [word for word in [next(fitting, None)] if word]
    return Lettering(labels, tuple(words))


def draw_tile(pen: Pen, drawing: Art, letters: Lettering, plan: TilePlan, tile: Tile) -> None:
    """Draw what `tile` shows of the drawing, true size, clipped to its window."""
    stretch = np.array(plan.stretch)
    shift = np.array(tile.origin) - stretch * np.array(tile.window[:2])

    def move(points: Array) -> Array:
        moved: Array = points * stretch + shift
        return moved

    whole = len(plan.tiles) == 1
    window = (*tile.origin, *plan.to_page(tile, tile.window[2:]))
    shown = [outline for outline in drawing.outlines if meets(outline.box, tile.window)]
    written = [label for label in (*letters.labels, *letters.words) if whole or inside(label_box(label), tile.window)]
    # A single page needs no clip but for the half line width that stands out of its bounds.
    with pen.clipped(grown(window, 0.5) if whole else window):
        for ring in drawing.waste:
            _draw_hatching(pen, ring, move)
        for label in written if drawing.waste else ():
            x0, y0, x1, y1 = grown(label_box(label), 0.8)
            pen.path(move(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])), None, closed=True, fill=WHITE)
        for outline in shown:
            # A tab may leave its seam side open: the fill closes it.
            if outline.purpose == "tab" and len(outline.points) > 2:
                pen.path(move(outline.points), None, closed=True, fill=PALE)
        for outline in shown:
            pen.path(move(outline.points), STROKES[outline.purpose], closed=outline.closed)
            if outline.purpose == "drill" and isinstance(outline.shape, Circle):
                pen.paths([move(arm) for arm in _cross(outline.shape)], STROKES["drill"])
        for label in written:
            x, y = move(np.array(label.at))
            colour = SLATE if label in letters.words else INK
            pen.text(x, y, label.text, label_style(label, colour), label.anchor, label.angle)


def _draw_hatching(pen: Pen, ring: Array, move: Move) -> None:
    """Draw diagonal lines over a region, clipped to it. They pass through multiples of HATCH from
    the drawing's origin, so they run on from tile to tile."""
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    steps = np.arange(np.ceil((x0 - y1) / HATCH), np.floor((x1 - y0) / HATCH) + 1.0) * HATCH
    foot = move(np.column_stack([steps + y0, np.full_like(steps, y0)]))
    top = move(np.column_stack([steps + y1, np.full_like(steps, y1)]))
    with pen.clipped(move(ring)):
        pen.paths(list(np.stack([foot, top], axis=1)), HATCHING)


def _cross(circle: Circle) -> tuple[Array, Array]:
    """Return the two arms of a drill's centre mark."""
    (x, y), arm = circle.center, circle.radius + DRILL_ARM
    return np.array([(x - arm, y), (x + arm, y)]), np.array([(x, y - arm), (x, y + arm)])


def draw_reduced(pen: Pen, drawing: Art, low: Array, scale: float, at: Array) -> None:
    """Draw the lines at `scale` with the drawing's point `low` at the page's point `at`, mm."""
    for outline in drawing.outlines:
        stroke = STROKES[outline.purpose]
        width = 0.25 if outline.purpose == "cut" else 0.1
        thin = Stroke(width, stroke.colour, tuple(0.4 * length for length in stroke.dash))
        points = outline.shape.points(0.01 / scale)
        every = -(-len(points) // FEW)
        points = points if every == 1 else np.vstack([points[:-1:every], points[-1:]])
        pen.path((points - low) * scale + at, thin, closed=outline.closed)


def tile_names(drawing: Art, plan: TilePlan, scale: float) -> list[Label]:
    """Return each tile's name where it is clear of the drawing's lines, for a view at
    `scale`, no unit."""
    names = []
    for tile in plan.tiles:
        core = plan.core(tile)
        name = Label("text", (0.5 * (core[0] + core[2]), 0.5 * (core[1] + core[3])), tile.name, 3.6 / scale)
        cells = Cells.over(core, [outline.chain for outline in drawing.outlines])
        names.append(roomiest(replace(name, anchor="middle"), cells, core, air=1.0 / scale) or name)
    return names
