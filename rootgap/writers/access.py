"""A picture of access: the tool on each bolt and plug, and each part on its way out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.access.install import Way
from rootgap.checks.access.judge import Reached
from rootgap.checks.access.obstacles import Obstacle
from rootgap.checks.access.tools import Nut, Try, column
from rootgap.checks.finding import Verdict
from rootgap.geometry.distance import Rod
from rootgap.geometry.mesh import Mesh
from rootgap.layout import Layout
from rootgap.patterns.strokes import width
from rootgap.writers.board import FINER, Board, Colour
from rootgap.writers.lettering import Labels, roomiest, thickest
from rootgap.writers.space import (
    EDGE,
    EDGE_ROUND,
    FRAME,
    HULL,
    METAL,
    PLATE,
    ROUND,
    TONES,
    VIEWS,
    View,
    cells_on,
    mesh_on,
    outlines_on,
    silhouette,
)

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Moved:
    """A part on its way. name: with its number in the order in which parts go in; things: its bodies, and of what goes
    out on it; way; by: (3,), mm, how far it is drawn moved."""

    name: str
    things: tuple[Obstacle, ...]
    way: Way
    by: Array

#: Pixels across, between the two views, and below them for the words; capitals of the words, pixels.
WIDE, BETWEEN, FOOT, HIGH = 2000, 16, 76, 12.0
#: Room round all that is drawn, and how much of a way is drawn, mm.
ROOM, SHOWN = 40.0, 260.0
GHOST: Colour = (238, 240, 244)
GHOST_EDGE: Colour = (190, 197, 208)
KEEPOUT: Colour = (226, 219, 208)
KEEPOUT_EDGE: Colour = (140, 126, 104)
ARROW: Colour = (40, 70, 150)
STOPPER: Colour = (176, 36, 24)
WAYS = "pale: on the way out. numbers: the order in which they go in"
CALLED: dict[Verdict, str] = {
    "pass": "a tool turns it",
    "warn": "only before something else is on",
    "fail": "no tool turns it",
}


def access_picture(layout: Layout, found: Reached) -> bytes:
    """Return two views of a layout with the tools on its bolts and its parts on their ways, as a PNG."""
    moved = _moved(found)
    box = _box(found, moved)
    corners = np.stack(np.meshgrid(*box.T, indexing="ij"), axis=-1).reshape(-1, 3)
    views = VIEWS[1:3]
    bounds = [(flat.min(axis=0), flat.max(axis=0)) for flat in (view.flat(corners) for view in views)]
    scale = (WIDE - 3 * BETWEEN) / sum(float(high[0] - low[0]) for low, high in bounds)
    boards = []
    for view, (low, high) in zip(views, bounds, strict=True):
        left, right = (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))
        board = Board(left, right, round(scale * float(high[0] - low[0])))
        _draw(view, board, found, moved, (box[0], box[1]))
        boards.append(board)
    return _together(boards, layout)


def _moved(found: Reached) -> list[Moved]:
    """Return the parts that have a way, the first to come out first."""
    by_name = {unit.name: unit for unit in found.units}
    clear = [way for way in found.ways if way.clear]
    return [
        Moved(
            f"{len(clear) - index}. {way.unit}",
            tuple(thing for name in (way.unit, *way.takes) for thing in by_name[name].things),
            way,
            _by(way),
        )
        for index, way in enumerate(clear)
    ]


def _by(way: Way) -> Array:
    """Return how far, (3,), mm, a part is drawn moved: along its way, as far as `SHOWN`."""
    left, by = SHOWN, np.zeros(3)
    for stage in way.stages:
        step = min(stage.length, left)
        by = by + step * np.array(stage.direction)
        left -= step
    return by


def _box(found: Reached, moved: Sequence[Moved]) -> Array:
    """Return the corners, (2, 3), mm, of all that is drawn but keep-outs."""
    points = [middles for _, middles in _skins(found.space.things)]
    points += [middles + each.by for each in moved for _, middles in _skins(each.things)]
    points += [np.array([rod.start, rod.end]) for _, rods in _tools(found) for rod in rods]
    every = np.concatenate(points)
    return np.array([every.min(axis=0) - ROOM, every.max(axis=0) + ROOM])


def _tools(found: Reached) -> Iterator[tuple[Verdict, tuple[Rod, ...]]]:
    """Yield the verdict of every bolt and plug, and the rods of the tool on it."""
    for access in found.bolts:
        verdict: Verdict = "warn" if access.before else "pass" if access.works else "fail"
        yield verdict, _rods(access.turned, access.best)
        if access.holder and access.still:
            yield verdict, _rods(access.still, access.holder)
    for clamp in found.clamps:
        yield clamp.verdict, _rods(clamp.nut, clamp.best)
    for plug in found.plugs:
        yield "pass" if plug.best.works else "fail", _rods(plug.nut, plug.best)


def _rods(nut: Nut, best: Try) -> tuple[Rod, ...]:
    """Return a socket's column, mm, or a spanner's end as a short rod."""
    if best.extension is not None:
        return column(nut, best.extension)
    return (Rod(nut.frame.advanced(nut.seat).origin, nut.frame.advanced(nut.seat + 12.0).origin, 0.5 * nut.tools.ring),)


def _draw(view: View, board: Board, found: Reached, moved: Sequence[Moved], box: tuple[Array, Array]) -> None:
    labels = Labels(board, HIGH * FINER / board.scale, view.told)
    keepouts = [thing for thing in found.space.things if thing.cover is None]
    tones = KEEPOUT, KEEPOUT_EDGE
    dots = {
        thing.name: mesh_on(view, board, thing.body, tones) for thing in keepouts if isinstance(thing.body, Mesh)
    }
    for each in moved:
        for thing in each.things:
            silhouette(board, _shape(view, thing, box) + view.flat(each.by[None])[0], GHOST, GHOST_EDGE, 1.0)
    rims = [rim for thing in keepouts for rim in outlines_on(view, thing.body, box)]
    for rim in rims:
        board.polygon(rim, KEEPOUT)
    depth = {thing.name: float((middles @ view.towards).mean()) for thing, middles in _skins(found.space.things)}
    for thing in sorted((thing for thing in found.space.things if thing.name in depth), key=lambda at: depth[at.name]):
        tone = PLATE if thing.name.startswith("flange.") else METAL if thing.unit == "manifold" else HULL
        silhouette(board, _shape(view, thing, box), tone, EDGE, 1.0)
    _rims(board, rims, KEEPOUT_EDGE)
    for verdict, rods in _tools(found):
        fill, edge = TONES[verdict]
        ends = [rim for rod in rods for rim in outlines_on(view, rod, box)]
        for rim in ends:
            board.polygon(rim, fill)
        _rims(board, ends, edge)
    for each in moved:
        _arrow(view, board, each, labels)
    stops = _stops(found)
    for thing in keepouts:
        outlines = list(outlines_on(view, thing.body, box))
        at = thickest(board, dots[thing.name]) if thing.name in dots else roomiest(board, outlines, KEEPOUT)
        if at is not None:
            labels.add(thing.name.removeprefix("keepout."), at, STOPPER if thing.name in stops else KEEPOUT_EDGE)
    labels.write()


def _stops(found: Reached) -> set[str]:
    """Return the names of what stops a part on its way, or a bolt."""
    ways = {way.blocks for way in found.ways if not way.clear}
    return ways | {access.stopper for access in found.bolts} | {
        clamp.best.blocks for clamp in found.clamps if not clamp.best.works
    }


def _skins(things: Sequence[Obstacle]) -> Iterator[tuple[Obstacle, Array]]:
    """Yield each thing that has a skin, and points on it, (n, 3), mm."""
    for thing in things:
        if thing.cover is not None:
            yield thing, thing.cover.middles


def _shape(view: View, thing: Obstacle, box: tuple[Array, Array]) -> Array:
    """Return what a thing with a skin is drawn as: polygons, (n, k, 2), mm; a hull that is a rod by its outline."""
    if isinstance(thing.body, Rod) and thing.unit != "manifold":
        return np.array(list(outlines_on(view, thing.body, box)))
    around = EDGE_ROUND if thing.name.startswith("flange.") else ROUND
    return cells_on(view, thing.cover, around) if thing.cover is not None else np.empty((0, 3, 2))


def _rims(board: Board, rims: Sequence[Array], edge: Colour) -> None:
    for rim in rims:
        board.polyline(np.vstack([rim, rim[:1]]), edge, 1.3)


def _arrow(view: View, board: Board, moved: Moved, labels: Labels) -> None:
    """Draw a way as an arrow from the middle of its part, its name at the tip."""
    middles = np.concatenate([middles for _, middles in _skins(moved.things)])
    at, left = 0.5 * (middles.min(axis=0) + middles.max(axis=0)), SHOWN
    points = [at]
    for stage in moved.way.stages:
        step = min(stage.length, left)
        points.append(points[-1] + step * np.array(stage.direction))
        left -= step
    flat = view.flat(np.array(points))
    along, letter = flat[-1] - flat[0], labels.letter
    if float(np.linalg.norm(along)) > 4.0 * letter:
        along = along / np.linalg.norm(along)
        aside = np.array([-along[1], along[0]])
        board.polyline(flat, ARROW, 2.5)
        tip = flat[-1]
        board.polygon(np.array([tip + letter * along, tip + 0.5 * letter * aside, tip - 0.5 * letter * aside]), ARROW)
        labels.keep(np.vstack([flat, tip + letter * along]))
        labels.add(moved.name, tip + 2.0 * letter * along, ARROW)


def _together(boards: Sequence[Board], layout: Layout) -> bytes:
    """Return the views beside each other, with what they show below, as a PNG."""
    gap, foot = FINER * BETWEEN, FINER * FOOT
    wide = sum(board.image.width for board in boards) + gap * (len(boards) + 1)
    high = max(board.image.height for board in boards) + 2 * gap + foot
    whole = Board((0.0, 0.0), (wide / FINER, high / FINER), wide // FINER)
    left = gap
    for board in boards:
        whole.image.paste(board.image, (left, gap))
        frame = (left, gap, left + board.image.width, gap + board.image.height)
        whole.draw.rectangle(frame, outline=FRAME, width=FINER)
        left += board.image.width + gap
    x, y = float(BETWEEN), FOOT - 1.2 * HIGH
    whole.words(f"{layout.title or layout.name}: tools on bolts, and ways out", (x, y), 1.3 * HIGH)
    for verdict, words in CALLED.items():
        fill, edge = TONES[verdict]
        box = np.array([(0, -2.9), (2, -2.9), (2, -1.8), (0, -1.8)]) * HIGH + (x, y)
        whole.polygon(box, fill)
        whole.polyline(np.vstack([box, box[:1]]), edge, 1.5)
        whole.words(words, (x + 2.8 * HIGH, y - 2.85 * HIGH), HIGH, edge)
        x += 5.8 * HIGH + width(words, HIGH)
    whole.words(WAYS, (x, y - 2.85 * HIGH), HIGH)
    return whole.png()
