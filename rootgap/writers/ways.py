"""The ways of a run as a picture: each in its own colour among the keep-outs and the other pieces, from three sides.

SVG, for the screen, mm of the engine frame. What is drawn of a keep-out is its outline as seen: of a scan, about.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.arriving import across
from rootgap.geometry.chains import Places
from rootgap.geometry.distance import Body
from rootgap.geometry.routing import Route, Task
from rootgap.layout import Layout, Sought
from rootgap.layout.pieces import Piece
from rootgap.layout.pieces.arc import Arc

Array = NDArray[np.float64]

PAPER, GROUND, INK, FAINT = "#ffffff", "#f6f3ec", "#22252a", "#7b776d"
KEEPOUT, KEEPOUT_EDGE, METAL, METAL_EDGE = "#efc9b5", "#b3672f", "#c9ccd0", "#8b9097"
#: Colours of ways, told apart by every kind of eye, the first the best.
WAYS = ("#0f6fae", "#d1791a", "#11855b", "#b0388f", "#7a5230", "#4b4fa8", "#8a8a1d", "#c23b3b", "#3a3f45")
#: Where a view's x and y lie in the engine frame, and from where one looks.
_VIEWS = (
    ("from the front", (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    ("from the right", (0.0, 0.0, -1.0), (0.0, 1.0, 0.0)),
    ("from above", (1.0, 0.0, 0.0), (0.0, 0.0, -1.0)),
)
#: Room round what is drawn, mm, pixels across the picture, and shares of it for gaps and letters.
_ROOM, _WIDE, _GAP, _LETTER = 70.0, 1400.0, 0.012, 0.0105
#: Points each way of the grid from which a body's outside is felt for, rounds of that, and how near is on it, mm.
_GRID, _ROUNDS, _NEAR = 15, 4, 0.5
_PLACES, _RIM = 24, 33


@dataclass(frozen=True, eq=False)
class _View:
    """A drawing seen along one direction. across, up: (3,), no unit, of the engine frame; low, high: (2,), mm."""

    words: str
    across: Array
    up: Array
    low: Array
    high: Array

    def flat(self, points: Array) -> Array:
        """Return points, (n, 3), mm, as they are drawn, (n, 2), y down."""
        return np.column_stack([points @ self.across - self.low[0], self.high[1] - points @ self.up])

    @property
    def size(self) -> Array:
        """Its width and height, mm."""
        return self.high - self.low


def ways_svg(layout: Layout, run: str, sought: Sought) -> str:
    """Return a drawing of the ways of `run`, of which `sought.choice` is on top."""
    lines = [_line(sought.task, route) for route in sought.routes]
    pieces = [piece for piece in layout.pieces() if not piece.id.startswith(f"{run}-")]
    shapes = {piece.id: _outside(piece) for piece in pieces}
    seen = np.concatenate([*lines, *shapes.values()])
    low, high = np.concatenate(lines).min(axis=0) - 150.0, np.concatenate(lines).max(axis=0) + 150.0
    # Pieces far from every way tell nothing.
    low, high = np.maximum(low, seen.min(axis=0) - _ROOM), np.minimum(high, seen.max(axis=0) + _ROOM)
    keepouts = {name: surface(keepout.body, low, high) for name, keepout in layout.keepouts.items()}
    views = [_view(words, np.array(across), np.array(up), low, high) for words, across, up in _VIEWS]
    gap = _GAP * float(views[0].size[0] + views[1].size[0])
    wide = float(views[0].size[0] + views[1].size[0]) + 3.0 * gap
    letter = _LETTER * wide
    head, row = 4.0 * letter, 1.9 * letter
    top = head + gap
    below = top + float(views[0].size[1]) + 2.0 * gap + 1.5 * letter
    foot = below + max(float(views[2].size[1]), row * (len(lines) + 4)) + gap + letter
    box = f'width="{_WIDE:.0f}" height="{_WIDE * foot / wide:.0f}" viewBox="0 0 {wide:.2f} {foot:.2f}"'
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {box} font-family="sans-serif">',
        f'<rect width="{wide:.2f}" height="{foot:.2f}" fill="{PAPER}"/>',
        _text(gap, 2.2 * letter, 1.7 * letter, f"{layout.title or layout.name}: ways of {run}", INK),
    ]
    places = ((gap, top), (2.0 * gap + float(views[0].size[0]), top), (gap, below))
    for number, (view, (x, y)) in enumerate(zip(views, places, strict=True)):
        clip = f"view{number}"
        out += [
            f'<clipPath id="{clip}"><rect width="{view.size[0]:.2f}" height="{view.size[1]:.2f}"/></clipPath>',
            f'<g transform="translate({x:.2f} {y:.2f})">',
            f'<g clip-path="url(#{clip})">',
            f'<rect width="{view.size[0]:.2f}" height="{view.size[1]:.2f}" fill="{GROUND}"/>',
            *_surroundings(view, pieces, shapes, keepouts, letter),
            *_ways(view, sought, lines, letter),
            *_names(view, keepouts, letter),
            "</g>",
            _text(0.6 * letter, float(view.size[1]) - 0.7 * letter, letter, view.words, FAINT),
            "</g>",
        ]
    out += _legend(places[1][0], below, letter, row, sought)
    return "\n".join([*out, "</svg>"]) + "\n"


def surface(body: Body, low: Array, high: Array) -> Array:
    """Return points of a body's outside, (n, 3), mm, in the box from `low` to `high`, (3,), mm: those nearest to the
    points of a grid, found by going back along the slope of the distance."""
    axes = [np.linspace(low[i], high[i], _GRID) for i in range(3)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    nudge = 0.02 * np.eye(3)
    for _ in range(_ROUNDS):
        gaps = body.distance(points)
        slope = np.stack([body.distance(points + step) - body.distance(points - step) for step in nudge], axis=1)
        size = np.linalg.norm(slope, axis=1)[:, None]
        points = points - gaps[:, None] * slope / np.maximum(size, 1e-9)
    kept = (np.abs(body.distance(points)) < _NEAR) & ((points > low - 1.0) & (points < high + 1.0)).all(axis=1)
    return points[kept]


def _view(words: str, across: Array, up: Array, low: Array, high: Array) -> _View:
    corners = np.array([[a, b, c] for a in (low[0], high[0]) for b in (low[1], high[1]) for c in (low[2], high[2])])
    flat = np.column_stack([corners @ across, corners @ up])
    return _View(words, across, up, flat.min(axis=0), flat.max(axis=0))


def _line(task: Task, route: Route) -> Array:
    """Return the centre line of a route, (n, 3), mm, both ends on it."""
    chain = route.chains(task.start)
    points = chain.points(Places.even(chain.elbows, 2, _PLACES))[0]
    return np.concatenate([task.start.origin[None], points, chain.end[0]])


def _outside(piece: Piece) -> Array:
    """Return points of a piece's outside, (n, 3), mm."""
    even = np.linspace(0.0, 1.0, 33)
    return piece.skin()(*(part.ravel() for part in np.meshgrid(even, even)))


def _surroundings(
    view: _View, pieces: Sequence[Piece], shapes: dict[str, Array], keepouts: dict[str, Array], letter: float
) -> Iterator[str]:
    """Yield the keep-outs and the pieces, those farther away first."""
    towards = np.cross(view.across, view.up)
    thin = 0.09 * letter
    for piece in sorted(pieces, key=lambda piece: float(shapes[piece.id].mean(axis=0) @ towards)):
        if isinstance(piece, Arc):
            stations = np.linspace(0.0, piece.length, _PLACES)
            line = np.array([piece.tube.at(float(station)).origin for station in stations])
            yield _shape(_pipe(view, line, piece.stock.r_out), METAL, METAL_EDGE, thin)
        else:
            yield _shape(_hull(view.flat(shapes[piece.id])), METAL, METAL_EDGE, thin)
    for points in keepouts.values():
        if len(points) < 3:
            continue
        yield _shape(_hull(view.flat(points)), KEEPOUT, KEEPOUT_EDGE, thin, "0.6")


def _names(view: _View, keepouts: dict[str, Array], letter: float) -> Iterator[str]:
    """Yield the names of the keep-outs, to be read on the ways too."""
    for name, points in keepouts.items():
        if len(points) < 3:
            continue
        x, y = np.clip(_hull(view.flat(points)).mean(axis=0), 2.0 * letter, view.size - 2.0 * letter)
        wide = 0.62 * letter * len(name)
        box = f'x="{x - 0.5 * wide:.2f}" y="{y - letter:.2f}" width="{wide:.2f}" height="{1.4 * letter:.2f}"'
        yield f'<rect {box} rx="{0.3 * letter:.2f}" fill="{GROUND}" fill-opacity="0.8"/>'
        yield _text(x, y, 0.95 * letter, name, KEEPOUT_EDGE, "middle")


def _ways(view: _View, sought: Sought, lines: Sequence[Array], letter: float) -> Iterator[str]:
    """Yield the ways, the one that is taken last, with a number on each where it is away from the others."""
    order = sorted(range(len(lines)), key=lambda number: number == sought.choice - 1)
    for number in order:
        yield _shape(_pipe(view, lines[number], sought.task.r_out), _colour(number), "#ffffff", 0.12 * letter, "0.82")
    for number in order:
        others = np.concatenate(
            [view.flat(line) for other, line in enumerate(lines) if other != number] or [np.full((1, 2), np.inf)]
        )
        mine = view.flat(lines[number])
        apart = np.linalg.norm(mine[:, None] - others, axis=2).min(axis=1)
        x, y = mine[int(np.argmax(apart))] if np.isfinite(apart).all() else mine[len(mine) // 2]
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{0.95 * letter:.2f}" fill="#ffffff"/>'
        yield _text(x, y + 0.42 * letter, 1.2 * letter, str(number + 1), _colour(number), "middle")


def _legend(x: float, y: float, letter: float, row: float, sought: Sought) -> Iterator[str]:
    """Yield what each way comes to, from (x, y) on."""
    yield _text(x, y + letter, 1.2 * letter, "fewest welds first, then the shortest", FAINT)
    for number, route in enumerate(sought.routes):
        at = y + row * (number + 1.8)
        chosen = number == sought.choice - 1
        box = f'x="{x:.2f}" y="{at - letter:.2f}" width="{2.2 * letter:.2f}" height="{1.2 * letter:.2f}"'
        yield f'<rect {box} fill="{_colour(number)}"/>'
        spare = f", {max(route.spare, 0.0):.1f} mm to spare at {route.near}" if route.near else ""
        words = f"{number + 1}: {route.welds} welds, {route.length:.0f} mm, turns {route.turn:.0f} deg{spare}"
        yield _text(x + 3.0 * letter, at, 1.15 * letter, words + (", taken" if chosen else ""), INK)


def _pipe(view: _View, line: Array, r_out: float) -> Array:
    """Return the outline, (n, 2), of a pipe of radius `r_out`, mm, along a centre line, (n, 3), mm, as it is seen:
    round its discs, each joined to the next."""
    from shapely import MultiPoint, union_all

    kept = line[np.linalg.norm(np.diff(line, axis=0, prepend=line[:1] - 1.0), axis=1) > 1e-6]
    axes = np.gradient(kept, axis=0)
    axes /= np.linalg.norm(axes, axis=1)[:, None]
    one, other = across(axes)
    turn = np.linspace(0.0, 2.0 * np.pi, _RIM)[:, None]
    rims = [
        view.flat(at + r_out * (np.cos(turn) * a + np.sin(turn) * b)) for at, a, b in zip(kept, one, other, strict=True)
    ]
    joined = [MultiPoint(np.concatenate(pair)).convex_hull for pair in pairwise(rims)]
    return np.array(union_all(joined).buffer(0.0).exterior.coords)


def _hull(points: Array) -> Array:
    """Return the outline round points, (n, 2), drawn."""
    from shapely import MultiPoint

    hull = MultiPoint(points).convex_hull
    return np.array(hull.exterior.coords if hull.geom_type == "Polygon" else hull.coords)


def _colour(number: int) -> str:
    return WAYS[number % len(WAYS)]


def _shape(ring: Array, fill: str, edge: str, thin: float, opacity: str = "1") -> str:
    path = "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in ring) + " Z"
    return f'<path d="{path}" fill="{fill}" fill-opacity="{opacity}" stroke="{edge}" stroke-width="{thin:.2f}"/>'


def _text(x: float, y: float, size: float, words: str, tone: str, anchor: str = "start") -> str:
    how = f'font-size="{size:.2f}" fill="{tone}" text-anchor="{anchor}"'
    return f'<text x="{x:.2f}" y="{y:.2f}" {how}>{escape(words)}</text>'
