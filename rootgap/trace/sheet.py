"""The calibration sheet: where its markers lie, as data.

Terminology:

    sheet      up to four printed pages, all of one paper, that a part lies on while it is photographed
    marker     a square of black and white cells that tells its number; it is found with its four corners
    middle     the part of a page that markers, bars and words leave free

Places are mm on a page, x right and y up from its lower left corner.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from rootgap.patterns.printing import Paper
from rootgap.writers.sheets.paper import PAPERS, Box

Array = NDArray[np.float64]

#: Side of a marker, mm: seven cells of 2 mm, the black rim included.
SIDE = 14.0
#: White left round a marker, mm: one cell.
QUIET = 2.0
#: What bars and words take of a page on the left, below, on the right and above, mm.
FREE: tuple[float, float, float, float] = (18.0, 18.0, 10.0, 32.0)
PAGES = 4
#: Markers across the top and the foot, and up each side, the corners counted in both.
ACROSS, UP = 4, 5
ON_PAGE = 2 * ACROSS + 2 * UP - 4
#: The first marker of a sheet of each paper, so that a picture tells which one it is of.
FIRST: dict[Paper, int] = {"a4": 0, "letter": 100}
#: The dictionary has 5 x 5 cells and 250 markers, and any two differ in at least 6 cells.
DICTIONARY = "DICT_5X5_250"


@dataclass(frozen=True)
class Marker:
    """A marker. number: what it tells; at: its lower left corner, mm."""

    number: int
    at: tuple[float, float]

    @property
    def corners(self) -> Array:
        """The corners, (4, 2), mm: upper left, upper right, lower right, lower left."""
        (x, y), s = self.at, SIDE
        return np.array([[x, y + s], [x + s, y + s], [x + s, y], [x, y]])

    @property
    def box(self) -> Box:
        """The marker with its quiet rim, mm."""
        (x, y), q = self.at, QUIET
        return x - q, y - q, x + SIDE + q, y + SIDE + q


@cache
def markers(paper: Paper, page: int) -> tuple[Marker, ...]:
    """Return the markers of a page, which counts from 0.

    >>> len(markers("a4", 0)), markers("letter", 1)[0].number
    (14, 114)
    """
    left, low, right, high = _rim(paper)
    xs, ys = np.linspace(left, right - SIDE, ACROSS), np.linspace(low, high - SIDE, UP)
    places = [(x, y) for y in ys for x in xs if y in (ys[0], ys[-1]) or x in (xs[0], xs[-1])]
    first = FIRST[paper] + ON_PAGE * page
    return tuple(Marker(first + k, (float(x), float(y))) for k, (x, y) in enumerate(places))


def page_of(number: int) -> tuple[Paper, int] | None:
    """Return the paper and the page of the marker with this number, None where no sheet has it.

    >>> page_of(15), page_of(113), page_of(99)
    (('a4', 1), ('letter', 0), None)
    """
    for paper, first in FIRST.items():
        page, _ = divmod(number - first, ON_PAGE)
        if 0 <= page < PAGES:
            return paper, page
    return None


def middle(paper: Paper) -> Box:
    """Return the free part of a page, mm."""
    left, low, right, high = _rim(paper)
    inset = SIDE + QUIET
    return left + inset, low + inset, right - inset, high - inset


def words(paper: Paper) -> tuple[Box, ...]:
    """Return the boxes of a page, mm, that hold its bars and its words."""
    wide, high = PAPERS[paper]
    left, low, _, top = _rim(paper)
    rim = 6.0
    foot, side = (rim, rim, wide - rim, low - QUIET), (rim, rim, left - QUIET, high - rim)
    return foot, side, (rim, top + QUIET, wide - rim, high - rim)


def cells(number: int) -> NDArray[np.bool_]:
    """Return the cells of a marker, (7, 7), no unit, row 0 on top, True where black."""
    import cv2

    size = 7
    drawn = cv2.aruco.generateImageMarker(dictionary(), number, size)
    return np.asarray(drawn) < 128


def dictionary() -> cv2.aruco.Dictionary:  # type: ignore[name-defined]  # noqa: F821  the library is imported where it is used
    """Return the markers that there are."""
    import cv2

    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))


def _rim(paper: Paper) -> Box:
    """Return the box round all markers, mm."""
    wide, high = PAPERS[paper]
    left, low, right, top = FREE
    return left, low, wide - right, high - top
