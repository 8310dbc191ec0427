"""A picture of what stands round a manifold: four views, and what is nearest to what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.checks import Neighbours
from rootgap.checks.clearance import Clearance, Space
from rootgap.checks.finding import Verdict
from rootgap.checks.gap import RIM, Cover
from rootgap.geometry.distance import Ball, Block, Body, HalfSpace, Rod
from rootgap.geometry.frames import Frame
from rootgap.geometry.mesh import Mesh
from rootgap.patterns.strokes import width
from rootgap.writers.board import FINER, PAPER, Board, Colour
from rootgap.writers.lettering import Dots, Labels, roomiest, thickest

Array = NDArray[np.float64]

#: Pixels across the whole picture, between the views, and below them for the words.
WIDE, BETWEEN, FOOT = 2000, 16, 96
#: Room round the pieces, and beyond what is nearest to them, mm; keep-outs are seen as far as that.
ROOM, BEYOND = 100.0, 25.0
#: Capitals of the words, pixels.
HIGH = 12.0
#: A skin is drawn in so many cells round, a plate's in more, and along.
ROUND, EDGE_ROUND, ALONG = 32, 128, 10
#: A mesh of no more triangles than this is drawn by them; one of more by dots, so many pixels apart, in a mix of so
#: many parts of its fill with one of its edge; no more places than this are looked at.
FEW, THIN, PALE, POINTS = 4000, 5, 1, 200_000
#: Steps, no unit, that fill a square evenly: powers of the inverse of the root of x^3 = x + 1.
EVEN = np.array((0.7548776662, 0.5698402910))
#: Lines of that many pairs of a keep-out are drawn at most, the least margin first, and of so many pieces beside each
#: other.
MOST, PAIRS = 2, 3

METAL: Colour = (143, 164, 184)
PLATE: Colour = (120, 140, 160)
HULL: Colour = (190, 182, 170)
COOL: Colour = (216, 222, 226)
EDGE: Colour = (70, 84, 98)
FRAME: Colour = (170, 174, 178)
#: A keep-out's fill, its edge, and its lines, by verdict.
TONES: Mapping[Verdict, tuple[Colour, Colour]] = {
    "pass": ((222, 238, 226), (32, 120, 64)),
    "warn": ((250, 236, 200), (176, 116, 0)),
    "fail": ((248, 214, 208), (176, 36, 24)),
}


#: What the tones mean.
CALLED: Mapping[Verdict, str] = {"pass": "clear", "warn": "clear, but tolerances may eat it", "fail": "too near"}
#: What the bodies are.
BODIES: Mapping[str, Colour] = {"metal": METAL, "housing, heated": HULL, "cold side and filter": COOL}


@dataclass(frozen=True, eq=False)
class View:
    """A way of looking. right, up: (3,), no unit, on the paper; told: in words."""

    told: str
    right: Array
    up: Array

    @property
    def towards(self) -> Array:
        """The direction, (3,), to who looks."""
        return np.cross(self.right, self.up)

    def flat(self, points: Array) -> Array:
        """Return points, (n, 3), mm, on the paper: (n, 2), mm."""
        return points @ np.array([self.right, self.up]).T


@dataclass(frozen=True, eq=False)
class _Line:
    """Two places that are nearest to each other. ends: (2, 3), mm; told: the figure beside it."""

    ends: Array
    verdict: Verdict
    told: str


def _lines(rows: Sequence[Clearance], beside: Sequence[Neighbours]) -> list[_Line]:
    """Return what is drawn of pairs with keep-outs, and of pieces beside each other."""
    lines = [
        _Line(
            np.array([row.ends[0].at, row.ends[1]]),
            row.verdict,
            f"{row.piece} {row.worst.distance:.1f} of {row.limit:g}",
        )
        for row in rows
    ]
    return lines + [_Line(each.ends, each.verdict, f"{each.distance:.1f} apart") for each in beside[:PAIRS]]


def _oblique() -> View:
    frame = Frame.looking((0.0, 0.0, 0.0), (0.55, 0.45, 0.7), (0.0, 1.0, 0.0))
    # Seen against its axis, a frame's side is to the left.
    return View("from the right, above", -frame.side, frame.ref)


VIEWS = (
    View("from above", np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, -1.0])),
    View("towards the head", np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])),
    View("from the right", np.array([0.0, 0.0, -1.0]), np.array([0.0, 1.0, 0.0])),
    _oblique(),
)


def space_picture(space: Space, rows: Sequence[Clearance], beside: Sequence[Neighbours]) -> bytes:
    """Return the views of a layout with its keep-outs, and the nearest of `rows` and of the pieces `beside` each other
    drawn in, as a PNG."""
    points = np.concatenate([cover.middles for cover in space.cold.values()])
    drawn = _drawn(rows)
    feet = np.array([row.ends[1] for row in drawn]).reshape(-1, 3)
    low = np.min([points.min(axis=0) - ROOM, *(feet - BEYOND)], axis=0)
    box = np.array([low, np.max([points.max(axis=0) + ROOM, *(feet + BEYOND)], axis=0)])
    corners = np.stack(np.meshgrid(*box.T, indexing="ij"), axis=-1).reshape(-1, 3)
    bounds = [(flat.min(axis=0), flat.max(axis=0)) for flat in (view.flat(corners) for view in VIEWS)]
    _, front, side, _ = bounds
    scale = (WIDE - 3 * BETWEEN) / float(front[1][0] - front[0][0] + side[1][0] - side[0][0])
    boards = [_board(low, high, scale) for low, high in bounds[:3]]
    low, high = _cropped(bounds[3], boards[2].image.width, boards[0].image.height, scale)
    boards.append(_board(low, high, boards[2].image.width / FINER / float(high[0] - low[0])))
    for view, board in zip(VIEWS, boards, strict=True):
        _draw(view, board, space, drawn, (box[0], box[1]), _lines(drawn, beside))
    return _together(boards, space)


def _board(low: Array, high: Array, scale: float) -> Board:
    """Return the paper of a view from `low` to `high`, (2,), mm, at so many pixels a mm."""
    corners = (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))
    return Board(*corners, round(scale * float(high[0] - low[0])))


def _cropped(bounds: tuple[Array, Array], wide: int, high: int, scale: float) -> tuple[Array, Array]:
    """Return the corners, mm, of the oblique view in a frame of so many pixels, no larger than the others."""
    middle, size = 0.5 * (bounds[0] + bounds[1]), bounds[1] - bounds[0]
    shape = np.array([wide, high]) / (FINER * scale)
    half = 0.5 * shape * float(max((size / shape).max(), 1.0)) * 0.8
    return middle - half, middle + half


def _drawn(rows: Sequence[Clearance]) -> list[Clearance]:
    """Return the rows whose lines are drawn: of each keep-out the worst, and others that fail."""
    kept: list[Clearance] = []
    for row in rows:
        before = sum(other.name == row.name for other in kept)
        if before == 0 or (before < MOST and row.verdict == "fail"):
            kept.append(row)
    return kept


def _draw(
    view: View,
    board: Board,
    space: Space,
    rows: Sequence[Clearance],
    box: tuple[Array, Array],
    lines: Sequence[_Line],
) -> None:
    worst = {row.name: row.verdict for row in reversed(rows)}
    labels = Labels(board, HIGH * FINER / board.scale, view.told)
    bodies = {name: keepout.body for name, keepout in space.layout.keepouts.items()}
    tones = {name: TONES[worst.get(name, "pass")] for name in bodies}
    # Scans lie behind all else, which they would drown.
    dots = {name: mesh_on(view, board, body, tones[name]) for name, body in bodies.items() if isinstance(body, Mesh)}
    rims = {name: list(outlines_on(view, body, box)) for name, body in bodies.items()}
    for name, outlines in rims.items():
        for rim in outlines:
            board.polygon(rim, tones[name][0])
    rods = {hull.id: hull.body for hull in space.hulls if isinstance(hull.body, Rod)}
    solid = sorted(space.cold.items(), key=lambda each: float((each[1].middles @ view.towards).mean()))
    for mark, cover in solid:
        hull = COOL if mark in space.cool else HULL
        tone = PLATE if mark.startswith("flange.") else METAL if mark in space.pieces else hull
        around = EDGE_ROUND if mark.startswith("flange.") else ROUND
        cells = np.array(list(outlines_on(view, rods[mark], box))) if mark in rods else cells_on(view, cover, around)
        silhouette(board, cells, tone, EDGE, 1.0)
    for name, (fill, edge) in tones.items():
        at = thickest(board, dots[name]) if name in dots else roomiest(board, rims[name], fill)
        if at is not None and view is not VIEWS[3]:
            labels.add(name, at, edge)
    for name, outlines in rims.items():
        for rim in outlines:
            board.polyline(np.vstack([rim, rim[:1]]), tones[name][1], 1.2)
    for line in lines:
        _measure(view, board, line, labels)
    labels.write()


def _measure(view: View, board: Board, line: _Line, labels: Labels) -> None:
    """Draw the line of a pair, and its figure in the view that shows its length best."""
    ends = view.flat(line.ends)
    _, tone = TONES[line.verdict]
    board.polyline(ends, tone, 2.0)
    labels.keep(ends[0] + np.linspace(0.0, 1.0, 9)[:, None] * (ends[1] - ends[0]))
    for x, y in board.at(ends):
        board.draw.ellipse((x - 6, y - 6, x + 6, y + 6), fill=tone, outline=PAPER)
    lengths = [float(np.linalg.norm(np.diff(each.flat(line.ends), axis=0))) for each in VIEWS[:3]]
    if view is VIEWS[int(np.argmax(lengths))]:
        labels.add(line.told, ends.mean(axis=0), tone)


def outlines_on(view: View, body: Body, box: tuple[Array, Array]) -> Iterator[Array]:
    """Yield the outline, (n, 2), mm, of a simple body; of a mesh none."""
    from shapely import MultiPoint

    if isinstance(body, HalfSpace):
        yield from _behind(view, body, box)
    elif not isinstance(body, Mesh):
        hull = MultiPoint(view.flat(_points(body))).convex_hull
        if hull.geom_type == "Polygon":
            yield np.array(hull.exterior.coords)[:-1]


def _points(body: Body) -> Array:
    """Return points, (n, 3), mm, whose hull is a body."""
    turn = np.linspace(0.0, 2.0 * np.pi, 48, endpoint=False)
    if isinstance(body, Rod):
        rim = Frame.looking(body.start, body.end - body.start).radial(turn) * body.radius
        return np.concatenate([body.start + rim, body.end + rim])
    if isinstance(body, Block):
        signs = np.stack(np.meshgrid(*[(-0.5, 0.5)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
        frame = body.frame
        return frame.origin + (signs * body.size) @ np.array([frame.ref, frame.side, frame.axis])
    if isinstance(body, Ball):
        tilt = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 25)
        ring = np.stack([np.cos(turn), np.sin(turn), np.zeros(turn.size)], axis=-1)
        around = np.cos(tilt)[:, None, None] * ring + np.sin(tilt)[:, None, None] * np.array([0.0, 0.0, 1.0])
        return body.center + body.radius * around.reshape(-1, 3)
    raise TypeError(f"a {type(body).__name__} has no outline")


def _behind(view: View, plane: HalfSpace, box: tuple[Array, Array]) -> Iterator[Array]:
    """Yield what is behind a plane that is seen from its edge, as far as it can be seen."""
    normal = view.flat(plane.normal[None])[0]
    if float(np.linalg.norm(normal)) < 0.999:
        return
    far = float(np.linalg.norm(box[1] - box[0]))
    middle = 0.5 * (box[0] + box[1])
    at = view.flat((middle - ((middle - plane.point) @ plane.normal) * plane.normal)[None])[0]
    along = np.array([-normal[1], normal[0]])
    yield np.array([at - far * along, at + far * along, at + far * (along - normal), at - far * (along + normal)])


def mesh_on(view: View, board: Board, mesh: Mesh, tones: tuple[Colour, Colour]) -> Dots:
    """Draw a mesh in the tones of its fill and edge, one of many triangles as thin dots all over it, and return places
    of it that are on the paper."""
    triangles = view.flat(mesh.vertices)[mesh.faces]
    places = _dots(triangles, board)
    if len(triangles) <= FEW:
        silhouette(board, triangles, *tones, 1.0)
        return Dots(places, tones[0])
    red, green, blue = ((PALE * low + high) // (PALE + 1) for low, high in zip(*tones, strict=True))
    for x, y in board.at(places):
        board.draw.rectangle((x, y, x + 1, y + 1), fill=(red, green, blue))
    return Dots(places, (red, green, blue))


def _dots(triangles: Array, board: Board) -> Array:
    """Return places on triangles, (k, 3, 2), mm, that are on the paper, one a square of `THIN` pixels: (n, 2), mm."""
    space = THIN * FINER / board.scale
    low = np.array((board.left, board.top - board.image.height / board.scale))
    high = np.array((board.left + board.image.width / board.scale, board.top))
    seen = triangles[((triangles.max(axis=1) > low) & (triangles.min(axis=1) < high)).all(axis=1)]
    one, other = seen[:, 1] - seen[:, 0], seen[:, 2] - seen[:, 0]
    # Large triangles get a place a square, small ones their first corner.
    area = 0.5 * np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
    count = np.minimum(area / space**2, POINTS).astype(int)
    which = np.repeat(np.arange(len(seen)), count)[:POINTS]
    # Steps that fill a square evenly, folded onto the triangle.
    share = (np.arange(1, len(which) + 1)[:, None] * EVEN) % 1.0
    share = np.where(share.sum(axis=1, keepdims=True) > 1.0, 1.0 - share, share)
    inside = seen[which, 0] + share[:, :1] * one[which] + share[:, 1:] * other[which]
    every = np.vstack([seen[:, 0], inside])
    every = every[((every > low) & (every < high)).all(axis=1)]
    columns, rows = np.floor((every - low) / space).astype(int).T
    first = np.full((columns.max(initial=0) + 1, rows.max(initial=0) + 1), len(every))
    np.minimum.at(first, (columns, rows), np.arange(len(every)))
    return every[np.sort(first[first < len(every)])]


def cells_on(view: View, cover: Cover, around: int = ROUND) -> Array:
    """Return a skin as cells, (n, 4, 2), mm, `around` of them round it."""
    # The rim of a square end is a corner: no cell goes over it.
    along = np.unique([*np.linspace(0.0, 1.0, ALONG + 1), RIM, 1.0 - RIM])
    u, v = np.meshgrid(np.linspace(0.0, 1.0, around + 1), along, indexing="ij")
    grid = view.flat(cover.skin(u.ravel(), v.ravel())).reshape(around + 1, len(along), 2)
    return np.stack([grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]], axis=2).reshape(-1, 4, 2)


def silhouette(board: Board, polygons: Array, fill: Colour, edge: Colour, pixels: float) -> None:
    """Draw polygons, (n, k, 2), mm, as one shape: what is left of their own edges is its edge."""
    for polygon in polygons:
        board.polyline(np.vstack([polygon, polygon[:1]]), edge, 2.0 * pixels)
    for polygon in polygons:
        board.polygon(polygon, fill)


def _together(boards: Sequence[Board], space: Space) -> bytes:
    """Return the views beside and above each other, with what they are below, as a PNG."""
    above, front, side, oblique = (board.image for board in boards)
    gap, foot = FINER * BETWEEN, FINER * FOOT
    size = (3 * gap + front.width + side.width, 3 * gap + above.height + front.height + foot)
    whole = Board((0.0, 0.0), (size[0] / FINER, size[1] / FINER), size[0] // FINER)
    places = ((gap, gap), (gap, 2 * gap + above.height), (2 * gap + front.width, 2 * gap + above.height),
              (2 * gap + front.width, gap))
    for image, (right, down) in zip((above, front, side, oblique), places, strict=True):
        whole.image.paste(image, (right, down))
        whole.draw.rectangle((right, down, right + image.width, down + image.height), outline=FRAME, width=FINER)
    left, y = float(BETWEEN), FOOT - 1.2 * HIGH
    whole.words(f"{space.layout.title or space.layout.name}: what is near, mm", (left, y), 1.3 * HIGH)
    told = "figures: least distance, cold or running, of what is asked. apart: of pieces that do not join"
    whole.words(told, (left, y - 2.2 * HIGH), HIGH)
    for verdict, words in CALLED.items():
        fill, edge = TONES[verdict]
        box = np.array([(0, -5.0), (2, -5.0), (2, -3.9), (0, -3.9)]) * HIGH + (left, y)
        whole.polygon(box, fill)
        whole.polyline(np.vstack([box, box[:1]]), edge, 1.5)
        whole.words(words, (left + 2.8 * HIGH, y - 4.95 * HIGH), HIGH, edge)
        left += 5.8 * HIGH + width(words, HIGH)
    for words, fill in BODIES.items() if space.hulls else ():
        whole.polygon(np.array([(0, -5.0), (2, -5.0), (2, -3.9), (0, -3.9)]) * HIGH + (left, y), fill)
        whole.words(words, (left + 2.8 * HIGH, y - 4.95 * HIGH), HIGH)
        left += 5.8 * HIGH + width(words, HIGH)
    return whole.png()
