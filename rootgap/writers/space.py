"""A picture of what stands round a manifold: four views, and what is nearest to what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

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

Array = NDArray[np.float64]

#: Pixels across the whole picture, between the views, and below them for the words.
WIDE, BETWEEN, FOOT = 2000, 16, 96
#: Room round the pieces, and beyond what is nearest to them, mm; keep-outs are seen as far as that.
ROOM, BEYOND = 100.0, 25.0
#: Capitals of the words, pixels.
HIGH = 12.0
#: A skin is drawn in so many cells round, a plate's in more, and along; a scan as so many points at most, a small mesh
#: by its triangles.
ROUND, EDGE_ROUND, ALONG, POINTS, FEW = 32, 128, 10, 40_000, 4000
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
    letter = HIGH * FINER / board.scale
    labels = Labels(board, letter)
    bodies = {name: keepout.body for name, keepout in space.layout.keepouts.items()}
    for name, body in bodies.items():
        fill, edge = TONES[worst.get(name, "pass")]
        if isinstance(body, Mesh):
            mesh_on(view, board, body, fill, edge)
        for rim in outlines_on(view, body, box):
            board.polygon(rim, fill)
    rods = {hull.id: hull.body for hull in space.hulls if isinstance(hull.body, Rod)}
    solid = sorted(space.cold.items(), key=lambda each: float((each[1].middles @ view.towards).mean()))
    for mark, cover in solid:
        hull = COOL if mark in space.cool else HULL
        tone = PLATE if mark.startswith("flange.") else METAL if mark in space.pieces else hull
        around = EDGE_ROUND if mark.startswith("flange.") else ROUND
        cells = np.array(list(outlines_on(view, rods[mark], box))) if mark in rods else cells_on(view, cover, around)
        silhouette(board, cells, tone, EDGE, 1.0)
    for name, body in bodies.items():
        _, edge = TONES[worst.get(name, "pass")]
        rims = list(outlines_on(view, body, box))
        for rim in rims:
            board.polyline(np.vstack([rim, rim[:1]]), edge, 1.2)
        at = place_of(view, body, rims)
        if at is not None and view is not VIEWS[3]:
            labels.add(name, at, edge)
    for line in lines:
        _measure(view, board, line, labels)
    x, y = board.left + letter, board.top - 2.2 * letter
    board.words(view.told, (x, y), letter)


def _measure(view: View, board: Board, line: _Line, labels: Labels) -> None:
    """Draw the line of a pair, and its figure in the view that shows its length best."""
    ends = view.flat(line.ends)
    _, tone = TONES[line.verdict]
    board.polyline(ends, tone, 2.0)
    for x, y in board.at(ends):
        board.draw.ellipse((x - 6, y - 6, x + 6, y + 6), fill=tone, outline=PAPER)
    lengths = [float(np.linalg.norm(np.diff(each.flat(line.ends), axis=0))) for each in VIEWS[:3]]
    if view is VIEWS[int(np.argmax(lengths))]:
        labels.add(line.told, ends.mean(axis=0) + labels.letter, tone)


@dataclass(frozen=True, eq=False)
class Labels:
    """The words of a view. letter: height of capitals, mm; taken: corners, mm, of what stands there so far."""

    board: Board
    letter: float
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)

    def add(self, text: str, at: Array, tone: Colour) -> None:
        """Write a text near (2,), mm, where none is yet and the picture reaches."""
        board, letter = self.board, self.letter
        wide, step = width(text, letter), 1.8 * letter
        right = board.left + board.image.width / board.scale
        low = board.top - board.image.height / board.scale
        x = float(np.clip(at[0], board.left + letter, max(right - wide - letter, board.left + letter)))
        y = float(np.clip(at[1], low + letter, board.top - 5.0 * letter))
        ways = [0.0, *(sign * number * step for number in range(1, 12) for sign in (1.0, -1.0))]
        free = (way for way in ways if not any(self._meet(x, y + way, wide, other) for other in self.taken))
        y += next(free, 0.0)
        self.taken.append((x, y, x + wide, y + letter))
        pad = 0.35 * letter
        corners = [(x - pad, y - pad), (x + wide + pad, y - pad), (x + wide + pad, y + letter + pad)]
        board.polygon(np.array([*corners, (x - pad, y + letter + pad)]), PAPER)
        board.words(text, (x, y), letter, tone)

    def _meet(self, x: float, y: float, wide: float, other: tuple[float, float, float, float]) -> bool:
        pad = 0.8 * self.letter
        beside = x > other[2] or x + wide < other[0]
        return not (beside or y > other[3] + pad or y + self.letter + pad < other[1])


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


def mesh_on(view: View, board: Board, mesh: Mesh, fill: Colour, edge: Colour) -> None:
    """Draw a mesh, one of many triangles as points."""
    flat = view.flat(mesh.vertices)
    if len(mesh.faces) <= FEW:
        silhouette(board, flat[mesh.faces], fill, edge, 1.0)
    else:
        red, green, blue = ((2 * low + high) // 3 for low, high in zip(fill, edge, strict=True))
        for x, y in board.at(flat[:: max(len(flat) // POINTS, 1)]):
            board.draw.rectangle((x, y, x + FINER, y + FINER), fill=(red, green, blue))


def place_of(view: View, body: Body, rims: Sequence[Array]) -> Array | None:
    """Return where the name of a keep-out stands, (2,), mm; None where it is not seen."""
    if isinstance(body, HalfSpace):
        return rims[0][:2].mean(axis=0) if rims else None
    if isinstance(body, Mesh):
        return view.flat(body.vertices.mean(axis=0)[None])[0]
    return np.concatenate(rims).mean(axis=0) if rims else None


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
