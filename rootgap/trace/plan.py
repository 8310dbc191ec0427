"""From a picture to a plan: the same part seen square on, at a known scale.

Terminology:

    plan       pixels of one size in mm, x right and y up
    lens       how far a picture's corners are bent out or in by the lens: ideal radius = seen radius
               times (1 + lens times the square of it), radii in half diagonals of the picture
    residual   how far the markers' corners lie from where the sheet has them, mm, as a root mean square
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import PictureError
from rootgap.patterns.printing import Paper
from rootgap.trace.picture import MOST_KEPT, Picture, Pixels
from rootgap.trace.sheet import dictionary, markers, page_of, words
from rootgap.writers.sheets.paper import PAPERS, Box

Array = NDArray[np.float64]

LEAST_MARKERS = 4
#: A flatbed's own scale may be out by this share (from memory, no source): check it with a rule.
SCANNER = 0.002
#: What reading the bars, or trusting the printer, leaves of the sheet's scale (common practice, no source).
PRINTER = 0.001
#: A marker is left out where its corners lie further off than this, mm, and than this many times the rest.
STRAY, TIMES = 0.5, 4.0
#: A finer plan than this, pixels a mm, shows nothing more.
FINEST = 24.0
MM_PER_INCH = 25.4

_PRINT = "print one with rootgap trace --sheet sheet.pdf, lay the part on it and photograph both"


@dataclass(frozen=True, eq=False)
class Plan:
    """A part seen square on.

    pixels: (rows, columns, 3), red, green, blue; pitch: mm a pixel (across, down); corner: where the upper
    left corner of the picture lies, mm; seen: (rows, columns), False beyond the sheet, None where all is seen;
    hidden: boxes in which printed things may be taken for the part's edge, (corners (4, 2), mm); error: of any
    place, mm; share: of any length, no unit; told: what it was made from.
    """

    pixels: Pixels
    pitch: tuple[float, float]
    corner: tuple[float, float]
    error: float
    share: float
    told: str
    seen: NDArray[np.bool_] | None = None
    hidden: tuple[Array, ...] = ()
    painted: tuple[Array, ...] = field(default=())

    def to_mm(self, pixels: Array) -> Array:
        """Return places (n, 2) in pixels (column, row), whole at a pixel's centre, in mm."""
        (sx, sy), (x, y) = self.pitch, self.corner
        return np.column_stack([x + sx * (pixels[:, 0] + 0.5), y - sy * (pixels[:, 1] + 0.5)])

    def to_pixels(self, mm: Array) -> Array:
        """Return places (n, 2), mm, in pixels (column, row)."""
        (sx, sy), (x, y) = self.pitch, self.corner
        return np.column_stack([(mm[:, 0] - x) / sx - 0.5, (y - mm[:, 1]) / sy - 0.5])


def plan_of(picture: Picture, dpi: float | None, bars: tuple[float, float]) -> Plan:
    """Return the plan of a picture.

    dpi: dots an inch that the user gives, None for the file's own; bars: what the sheet's 100 mm bars
    measure, mm. A picture that shows the calibration sheet is scaled by it, whatever its dpi.
    Raises PictureError where neither tells the scale.
    """
    found = _found(picture.pixels)
    if found:
        return _rectified(picture, found, bars)
    if dpi is None and (picture.camera or picture.dpi is None):
        _refuse_a_mirrored_sheet(picture)
    if picture.camera and dpi is None:
        what = "this is a photograph, and no marker of the calibration sheet is found in it"
        raise PictureError(picture.file, what, _PRINT)
    given = (dpi / picture.shrunk, dpi / picture.shrunk) if dpi else picture.dpi
    if given is None:
        what = "nothing tells its scale: no dots an inch in its metadata, no calibration sheet in the picture"
        raise PictureError(picture.file, what, f"give --dpi for a scan; for a photograph {_PRINT}")
    pitch = MM_PER_INCH / given[0], MM_PER_INCH / given[1]
    whose = "given" if dpi else "of the file"
    told = f"a scan at {given[0] * picture.shrunk:.0f} dpi ({whose})"
    return Plan(picture.pixels, pitch, (0.0, 0.0), 0.1 * max(pitch), SCANNER, told)


def _refuse_a_mirrored_sheet(picture: Picture) -> None:
    """Raise PictureError where the sheet's markers can be read in a mirror: nothing of such a picture is the part."""
    if len(_found(np.ascontiguousarray(picture.pixels[:, ::-1]))) >= LEAST_MARKERS:
        what = "the picture is mirrored: the markers of the calibration sheet can be read only from its back"
        raise PictureError(picture.file, what, "turn the camera's mirroring off, or flip the picture, and try again")


def _found(pixels: Pixels) -> dict[int, Array]:
    """Return the corners (4, 2), pixels, of every marker of a sheet in a picture, by its number."""
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    settings.cornerRefinementMaxIterations = 50
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary(), settings).detectMarkers(grey)
    if numbers is None:
        return {}
    return {
        int(number): np.asarray(four, dtype=np.float64).reshape(4, 2)
        for number, four in zip(np.ravel(numbers), corners, strict=True)
        if page_of(int(number))
    }


@dataclass(frozen=True)
class _View:
    """How the sheet's plane, mm, is seen: matrix (3, 3) to ideal pixels, then the lens. size: of the picture."""

    matrix: Array
    lens: float
    size: tuple[int, int]

    def seen(self, mm: Array) -> Array:
        return _bent(_mapped(self.matrix, mm), self.lens, self.size)

    def placed(self, pixels: Array) -> Array:
        return _mapped(np.asarray(np.linalg.inv(self.matrix), np.float64), _straight(pixels, self.lens, self.size))


def _rectified(picture: Picture, found: Mapping[int, Array], bars: tuple[float, float]) -> Plan:
    import cv2

    paper, by_page = _sorted_out(picture, found)
    stretch = np.array(bars) / 100.0
    known = {m.number: m.corners * stretch for page in by_page for m in markers(paper, page)}
    view, poses, used, residual = _seen(picture, by_page, known)
    sheets = {page: _moved(poses[page], _corners((0.0, 0.0, *PAPERS[paper])) * stretch) for page in by_page}
    printed: list[tuple[int, int | None, Box]] = []
    for page in by_page:
        printed += [(page, marker.number, marker.box) for marker in markers(paper, page)]
        printed += [(page, None, box) for box in words(paper)]
    laid = [(number in used, _moved(poses[page], _corners(box) * stretch)) for page, number, box in printed]
    painted, hidden = ([box for seen_, box in laid if seen_ is which] for which in (True, False))
    every = np.vstack(list(sheets.values()))
    (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
    middle = every.mean(axis=0)
    near = view.seen(middle + np.array([[-5.0, 0.0], [5.0, 0.0], [0.0, -5.0], [0.0, 5.0]]))
    fine = 0.1 * max(np.linalg.norm(near[1] - near[0]), np.linalg.norm(near[3] - near[2]))
    per_mm = min(fine, FINEST, np.sqrt(MOST_KEPT / ((x1 - x0) * (y1 - y0))))
    pitch = 1.0 / per_mm
    columns, rows = int((x1 - x0) / pitch), int((y1 - y0) / pitch)
    plan = Plan(np.empty((0, 0, 3), np.uint8), (pitch, pitch), (float(x0), float(y1)), 0.0, 0.0, "")
    pixels = np.empty((rows, columns, 3), np.uint8)
    for top in range(0, rows, 512):
        high = min(512, rows - top)
        grid = np.stack(np.meshgrid(np.arange(columns), np.arange(top, top + high)), axis=-1).reshape(-1, 2)
        at = view.seen(plan.to_mm(grid.astype(np.float64))).astype(np.float32).reshape(high, columns, 2)
        across, down = at[..., 0].copy(), at[..., 1].copy()
        pixels[top : top + high] = cv2.remap(
            picture.pixels, across, down, cv2.INTER_LINEAR, borderValue=(255, 255, 255)
        )
    seen = np.zeros((rows, columns), np.uint8)
    for sheet in sheets.values():
        inner = sheet.mean(axis=0) + (sheet - sheet.mean(axis=0)) * 0.975
        cv2.fillConvexPoly(seen, np.round(plan.to_pixels(inner)).astype(np.int32), 1)
    pages = ", ".join(str(page + 1) for page in sorted(by_page))
    told = (
        f"a photograph on the {paper if paper == 'letter' else 'A4'} calibration sheet (page {pages}), "
        f"{len(used)} markers, residual {residual:.2f} mm{_turned_by(near[3] - near[2])}"
    )
    error = float(np.hypot(residual, 0.1 * pitch))
    return Plan(pixels, (pitch, pitch), plan.corner, error, PRINTER, told, seen > 0, tuple(hidden), tuple(painted))


def _turned_by(up: Array) -> str:
    """Return what to say of a picture in which the sheet's upward direction is `up`, (2,), pixels, y down."""
    across, down = up
    if abs(down) >= abs(across):
        return "" if down < 0.0 else ", upside down, turned upright by the sheet"
    return ", on its side, turned upright by the sheet"


def _sorted_out(picture: Picture, found: Mapping[int, Array]) -> tuple[Paper, dict[int, dict[int, Array]]]:
    """Return the paper of the sheet and the corners found, by page and number; pages with too few are left out."""
    papers: dict[Paper, dict[int, dict[int, Array]]] = {"a4": defaultdict(dict), "letter": defaultdict(dict)}
    for number, corners in found.items():
        paper, page = page_of(number) or ("a4", 0)
        papers[paper][page][number] = corners
    paper = max(papers, key=lambda word: sum(map(len, papers[word].values())))
    whole = {page: all_ for page, all_ in papers[paper].items() if len(all_) >= LEAST_MARKERS}
    if not whole:
        what = f"only {len(found)} {'marker' if len(found) == 1 else 'markers'} of the calibration sheet can be read"
        raise PictureError(
            picture.file, what, "show the whole sheet, sharp and evenly lit, with no part on its markers"
        )
    return paper, whole


def _seen(
    picture: Picture, by_page: Mapping[int, Mapping[int, Array]], known: Mapping[int, Array]
) -> tuple[_View, dict[int, Array], set[int], float]:
    """Return how the plane is seen, each page's pose in it, (3, 3), the markers used, and their residual, mm.

    The page with the most markers is the plane; the others lie beside it as they were laid.
    """
    first = max(by_page, key=lambda page: len(by_page[page]))
    poses = {first: np.eye(3)}
    rows = {number: (page, corners) for page, all_ in by_page.items() for number, corners in all_.items()}
    view, numbers = _fitted(picture, [n for n in rows if rows[n][0] == first], rows, known, poses)
    for _ in range(4 if len(by_page) > 1 else 0):
        for page in by_page:
            if page != first:
                own = [n for n in rows if rows[n][0] == page]
                there = view.placed(np.vstack([rows[n][1] for n in own]))
                poses[page] = _rigid(np.vstack([known[n] for n in own]), there)
        view, numbers = _fitted(picture, list(rows), rows, known, poses)
    miss = [view.placed(rows[n][1]) - _moved(poses[rows[n][0]], known[n]) for n in numbers]
    return view, poses, set(numbers), float(np.sqrt(np.mean(np.sum(np.square(miss), axis=2))))


def _fitted(
    picture: Picture,
    numbers: Sequence[int],
    rows: Mapping[int, tuple[int, Array]],
    known: Mapping[int, Array],
    poses: Mapping[int, Array],
) -> tuple[_View, list[int]]:
    """Return the view that brings the markers nearest to their places, and those that it was made from."""
    high, wide = picture.pixels.shape[:2]
    kept = list(numbers)
    while True:
        mm = np.vstack([_moved(poses[rows[n][0]], known[n]) for n in kept])
        pixels = np.vstack([rows[n][1] for n in kept])
        view = _with_lens(mm, pixels, (wide, high))
        miss = np.linalg.norm(view.placed(pixels) - mm, axis=1).reshape(-1, 4).max(axis=1)
        worst = int(np.argmax(miss))
        if len(kept) <= LEAST_MARKERS or miss[worst] < max(STRAY, TIMES * float(np.median(miss))):
            return view, kept
        del kept[worst]


def _with_lens(mm: Array, pixels: Array, size: tuple[int, int]) -> _View:
    """Return the view with the lens, found by golden section, that leaves the least; none where it helps little."""

    def tried(lens: float) -> tuple[float, _View]:
        import cv2

        matrix: Any = cv2.findHomography(mm, _straight(pixels, lens, size), 0)[0]
        view = _View(np.asarray(matrix, dtype=np.float64), lens, size)
        return float(np.sqrt(np.mean(np.square(view.seen(mm) - pixels)))), view

    plain = tried(0.0)
    if len(mm) < 4 * 8:
        return plain[1]
    low, high, golden = -0.15, 0.15, 0.5 * (np.sqrt(5.0) - 1.0)
    for _ in range(24):
        a, b = high - golden * (high - low), low + golden * (high - low)
        low, high = (low, b) if tried(a)[0] < tried(b)[0] else (a, high)
    bent = tried(0.5 * (low + high))
    return bent[1] if bent[0] < 0.8 * plain[0] else plain[1]


def _straight(pixels: Array, lens: float, size: tuple[int, int]) -> Array:
    middle, half = 0.5 * np.array(size), 0.5 * float(np.hypot(*size))
    off = pixels - middle
    return middle + off * (1.0 + lens * np.sum(np.square(off / half), axis=1, keepdims=True))


def _bent(pixels: Array, lens: float, size: tuple[int, int]) -> Array:
    """Return where the ideal places are seen: the inverse of `_straight`, by repeated substitution."""
    if lens == 0.0:
        return pixels
    middle, half = 0.5 * np.array(size), 0.5 * float(np.hypot(*size))
    ideal = (pixels - middle) / half
    seen = ideal
    for _ in range(5):
        seen = ideal / (1.0 + lens * np.sum(np.square(seen), axis=1, keepdims=True))
    return middle + half * seen


def _mapped(matrix: Array, points: Array) -> Array:
    out = points @ matrix[:, :2].T + matrix[:, 2]
    return out[:, :2] / out[:, 2:]


def _moved(pose: Array, points: Array) -> Array:
    return points @ pose[:2, :2].T + pose[:2, 2]


def _rigid(points: Array, there: Array) -> Array:
    """Return the turn and shift, (3, 3), that bring `points` nearest to `there` (orthogonal Procrustes problem)."""
    a, b = points - points.mean(axis=0), there - there.mean(axis=0)
    turn = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
    c, s = np.cos(turn), np.sin(turn)
    pose = np.eye(3)
    pose[:2, :2] = [[c, -s], [s, c]]
    pose[:2, 2] = there.mean(axis=0) - pose[:2, :2] @ points.mean(axis=0)
    return pose


def _corners(box: Box) -> Array:
    x0, y0, x1, y1 = box
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
