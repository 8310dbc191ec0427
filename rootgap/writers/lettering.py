"""Where the names and figures of a picture stand: each near what it names, apart from the others, off what is drawn.

Terminology
    anchor  the place that a label names; a label that stands off it is tied to it by a thin line, its leader
    mark    a place that no label should hide, such as an end of a measured line
    ink     what is drawn dark: metal and lines; the pale fills of keep-outs are written over
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from rootgap.patterns.strokes import width
from rootgap.writers.board import INK as PEN
from rootgap.writers.board import PAPER, Board, Colour

Array = NDArray[np.float64]

#: Steps in which places are tried beside an anchor and above it, and how far off at most; in letters' heights.
STEP, ASIDE, ABOVE = (1.5, 0.8), 36.0, 20.0
#: Darker than this, of 255, is ink; pixels a cell in which it is counted.
DARK, CELL = 200, 4
#: What a place costs beside its distance in letters' heights: all of it over ink, each mark under it, a leader through
#: another label, and standing over another label.
INK, MARK, THROUGH, OVER = 24.0, 4.0, 6.0, 1000.0
#: A label farther off its anchor than this, in letters' heights, has a leader; points that one is looked at in.
TIED, ALONG = 0.9, 16
#: Room round a label, in letters' heights: of its paper, and up to another label.
PAD, AIR = 0.35, 0.45
#: Cells each way over which the thick of a scan's dots is looked for.
THICK = 31
#: What is so deep, of the deepest, counts as much.
DEEP = 0.9


@dataclass(frozen=True)
class _Label:
    """A text that is to stand near an anchor, (2,), mm."""

    text: str
    at: Array
    tone: Colour


@dataclass(frozen=True, eq=False)
class Labels:
    """The words of a view, written when all are known. letter: height of capitals, mm; title: what it shows, for
    its corner; waiting: what is to be written;
    taken: corners, mm, of where nothing else may stand; marks: places, (2,), mm, that are not hidden."""

    board: Board
    letter: float
    title: str
    waiting: list[_Label] = field(default_factory=list)
    taken: list[tuple[float, float, float, float]] = field(default_factory=list)
    marks: list[Array] = field(default_factory=list)

    def add(self, text: str, at: Array, tone: Colour) -> None:
        """Have a text written near (2,), mm."""
        self.waiting.append(_Label(text, at, tone))

    def keep(self, points: Array) -> None:
        """Have places, (n, 2), mm, not hidden."""
        self.marks.extend(points)

    def write(self) -> None:
        """Write all that waits: leaders first, so that no line runs over a word."""
        ink, letter, pad = _Ink.of(self.board), self.letter, PAD * self.letter
        corner = np.array((self.board.left + letter, self.board.top - 2.2 * letter))
        head = _Label(self.title, corner, PEN)
        self.taken.append((*(corner - letter), *(corner + (width(self.title, letter) + letter, 2.2 * letter))))
        # A long word has fewest places.
        todo = sorted(self.waiting, key=lambda each: -width(each.text, self.letter))
        placed: list[tuple[_Label, Array, Array | None]] = []
        for label in todo:
            low = self._place(label, ink)
            high = low + (width(label.text, letter), letter)
            self.taken.append((*(low - pad), *(high + pad)))
            end = np.clip(label.at, low - pad, high + pad)
            leader = np.array([end, label.at]) if _length(label.at - end) > TIED * letter else None
            if leader is not None:
                self.marks.extend(_between(leader))
            placed.append((label, low, leader))
        self.waiting.clear()
        for label, _, leader in placed:
            if leader is not None:
                self.board.polyline(leader, label.tone, 0.8)
                ((x, y),) = self.board.at(leader[1:])
                self.board.draw.ellipse((x - 3, y - 3, x + 3, y + 3), fill=label.tone)
        for label, low in ((head, corner), *((label, low) for label, low, _ in placed)):
            self._write(label, low)

    def _write(self, label: _Label, low: Array) -> None:
        pad = PAD * self.letter
        x, y = low - pad
        right, top = low + (width(label.text, self.letter), self.letter) + pad
        self.board.polygon(np.array([(x, y), (right, y), (right, top), (x, top)]), PAPER)
        self.board.words(label.text, (float(low[0]), float(low[1])), self.letter, label.tone)

    def _place(self, label: _Label, ink: _Ink) -> Array:
        """Return the best place, (2,), mm, of a label's lower left corner."""
        letter, board = self.letter, self.board
        size, pad = np.array((width(label.text, letter), letter)), PAD * letter
        steps = [np.arange(-far, far + 0.1, step) * letter for far, step in zip((ASIDE, ABOVE), STEP, strict=True)]
        lows = label.at + np.stack(np.meshgrid(*steps, indexing="ij"), axis=-1).reshape(-1, 2) - 0.5 * size
        corner = np.array((board.left, board.top - board.image.height / board.scale)) + letter
        most = np.array((board.left + board.image.width / board.scale, board.top)) - letter - size
        # Where the picture ends the places end, so that one near the rim has some there.
        lows = np.clip(lows, corner, np.maximum(corner, most))
        boxes = np.hstack([lows - pad, lows + size + pad])
        ends = np.clip(label.at, boxes[:, :2], boxes[:, 2:])
        cost = np.linalg.norm(ends - label.at, axis=1) / letter + INK * ink.share(boxes)
        # Of two that are as near, the one whose middle is nearer.
        cost += 0.02 * np.linalg.norm(lows + 0.5 * size - label.at, axis=1) / letter
        if self.marks:
            marks = np.array(self.marks)
            cost += MARK * _holds(boxes, marks).sum(axis=1)
        if self.taken:
            taken, air = np.array(self.taken), AIR * letter
            grown = boxes + np.array((-air, -air, air, air))
            cost += OVER * _meet(grown, taken).any(axis=1)
            leaders = ends[:, None] + np.linspace(0.0, 1.0, ALONG)[:, None] * (label.at - ends)[:, None]
            through = _holds(taken, leaders.reshape(-1, 2)).any(axis=0).reshape(len(lows), ALONG).any(axis=1)
            cost += THROUGH * through
        return lows[int(np.argmin(cost))]


@dataclass(frozen=True, eq=False)
class _Ink:
    """How much of a board is ink. sums: over all cells below and beside each; scale: cells a mm."""

    board: Board
    sums: Array

    @classmethod
    def of(cls, board: Board) -> _Ink:
        """Return the ink of what is drawn so far."""
        small = board.image.convert("L").reduce(CELL)
        dark = np.asarray(small) < DARK
        return cls(board, np.pad(dark.cumsum(axis=0).cumsum(axis=1).astype(float), ((1, 0), (1, 0))))

    def share(self, boxes: Array) -> Array:
        """Return how much, no unit, of each of `boxes`, (n, 4), mm, is ink: (n,)."""
        board, scale = self.board, self.board.scale / CELL
        across = [np.clip(scale * (boxes[:, k] - board.left), 0, self.sums.shape[1] - 1).astype(int) for k in (0, 2)]
        down = [np.clip(scale * (board.top - boxes[:, k]), 0, self.sums.shape[0] - 1).astype(int) for k in (3, 1)]
        total = sum(
            sign * self.sums[row, column]
            for row, column, sign in (
                (down[1], across[1], 1.0), (down[0], across[1], -1.0),
                (down[1], across[0], -1.0), (down[0], across[0], 1.0),
            )
        )
        area = np.maximum((down[1] - down[0]) * (across[1] - across[0]), 1)
        return np.asarray(total / area)


def _length(lag: Array) -> float:
    return float(np.linalg.norm(lag))


def _between(leader: Array) -> Array:
    """Return places along a leader, (n, 2), mm."""
    return leader[0] + np.linspace(0.0, 1.0, ALONG)[:, None] * (leader[1] - leader[0])


def _holds(boxes: Array, points: Array) -> NDArray[np.bool_]:
    """Return which of `boxes`, (n, 4), hold which of `points`, (m, 2), mm: (n, m)."""
    above = (points[None] >= boxes[:, None, :2]).all(axis=2)
    return np.asarray(above & (points[None] <= boxes[:, None, 2:]).all(axis=2))


def _meet(boxes: Array, others: Array) -> NDArray[np.bool_]:
    """Return which of `boxes`, (n, 4), overlap which of `others`, (m, 4), mm: (n, m)."""
    low, high = boxes[:, None, :2] < others[None, :, 2:], boxes[:, None, 2:] > others[None, :, :2]
    return np.asarray((low & high).all(axis=2))


def roomiest(board: Board, polygons: Sequence[Array], fill: Colour) -> Array | None:
    """Return the place, (2,), mm, farthest inside what is seen of polygons, (n, 2), mm, that were filled with a colour;
    of those that other things hide altogether, inside them; None where they are off the paper."""
    from scipy.ndimage import distance_transform_edt

    wide, high = (-(-side // CELL) for side in board.image.size)
    drawn = Image.new("L", (wide, high), 0)
    for polygon in polygons:
        ImageDraw.Draw(drawn).polygon([(x / CELL, y / CELL) for x, y in board.at(polygon)], fill=1)
    mine = np.asarray(drawn).astype(bool)
    seen = mine & (np.asarray(board.image)[::CELL, ::CELL] == fill).all(axis=2)
    mask = seen if seen.any() else mine
    if not mask.any():
        return None
    # The paper's rim is an edge too.
    deep = distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1]
    # Of a long bar all along the middle is as deep: its midst.
    cells = np.argwhere(deep >= DEEP * deep.max())
    off = np.linalg.norm(cells - cells.mean(axis=0), axis=1)
    return _place_at(board, cells[int(np.argmin(off))])


@dataclass(frozen=True, eq=False)
class Dots:
    """Places, (n, 2), mm, of a scan on the paper, and their colour there."""

    places: Array
    tone: Colour


def thickest(board: Board, dots: Dots) -> Array | None:
    """Return where a scan is seen best, (2,), mm: in the thick of its dots that nothing drawn later hides, or of all
    where each is hidden; None where there are none."""
    from scipy.ndimage import uniform_filter

    if not len(dots.places):
        return None
    high, wide = board.image.height, board.image.width
    across, down = np.array(board.at(dots.places)).astype(int).T
    # A dot is two pixels wide, and a corner of a small mesh has an edge round it.
    near = [(np.clip(down + y, 0, high - 1), np.clip(across + x, 0, wide - 1)) for x in (0, 1, 2) for y in (0, 1, 2)]
    pixels = np.asarray(board.image)
    seen = np.any([(pixels[place] == dots.tone).all(axis=1) for place in near], axis=0)
    if seen.any():
        across, down = across[seen], down[seen]
    counts = np.zeros((-(-high // CELL), -(-wide // CELL)))
    np.add.at(counts, (down // CELL, across // CELL), 1.0)
    thick = np.where(counts > 0.0, uniform_filter(counts, THICK, mode="constant"), -1.0)
    return _place_at(board, np.array(np.unravel_index(int(np.argmax(thick)), thick.shape)))


def _place_at(board: Board, cell: NDArray[np.intp]) -> Array:
    """Return the middle, (2,), mm, of a cell of `CELL` pixels, (row, column)."""
    down, across = (cell + 0.5) * CELL / board.scale
    return np.array((board.left + across, board.top - down))
