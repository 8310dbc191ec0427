"""A picture of a sheet with its parts: what is cut, what is scribed, and the order."""

from __future__ import annotations

from rootgap.geometry.paths import Circle, Path
from rootgap.patterns.cutting import outside
from rootgap.patterns.pattern import purpose
from rootgap.patterns.sheets import BADGE, CutSheet
from rootgap.writers.board import INK, PAPER, Board, Colour

#: Pixels across the sheet.
WIDE = 1600
#: Room round the sheet for its words, as a share of its width.
BORDER, FOOT = 0.015, 0.05
#: Height of the words under the sheet, as a share of the length that is shown.
WORDS = 0.011
#: So many times the length taken are shown, and of a long sheet at least so many widths; the line that the picture is
#: broken off by goes this share of the width to either side, so many times.
MORE, LEAST, BREAK, BREAKS = 1.2, 2.1, 0.01, 7

SHEET: Colour = (226, 228, 230)
TAKEN: Colour = (212, 215, 218)
METAL: Colour = (143, 164, 184)
CUT: Colour = (150, 32, 24)
SCRIBED: Colour = (24, 62, 108)
DRILLED: Colour = (122, 30, 122)
LEAD: Colour = (20, 120, 50)
_LINES = {"cut": CUT, "etch": SCRIBED, "mark": SCRIBED, "drill": DRILLED, "lead": LEAD}


def sheet_picture(sheet: CutSheet) -> bytes:
    """Return the picture of `sheet` as a PNG; the same sheet gives the same bytes."""
    length, width = sheet.spec.size
    shown = min(length, max(MORE * sheet.length, LEAST * width))
    border = BORDER * shown
    board = Board((-border, -border - FOOT * shown), (shown + border, width + border), WIDE)
    board.fill(_box(shown, width), SHEET)
    board.fill(_box(sheet.length, width), TAKEN)
    contours = [item for part in sheet.parts for item in part.pattern.drawn if purpose(item.layer) == "cut"]
    # A part that lies in another's opening comes after that opening.
    for item in sorted(contours, key=lambda item: -abs(item.shape.area)):
        board.fill(item.shape, METAL if outside(item.layer) else TAKEN)
    for item in (item for part in sheet.parts for item in part.pattern.drawn):
        board.line(item.shape, _LINES[purpose(item.layer)], 1.4 if purpose(item.layer) == "cut" else 1.0)
    board.line(_rim(shown, length, width), INK, 1.5)
    for label in sheet.pattern.labels:
        badge = Circle((label.at[0], label.at[1] + 0.5 * label.height), BADGE * label.height)
        board.fill(badge, PAPER)
        board.line(badge, INK, 1.0)
        board.words(label.text, label.at, label.height, anchor=label.anchor)
    high = WORDS * shown
    taken = f"{100 * sheet.use:.0f} % of the length taken ({sheet.length:.0f} mm)"
    count = f"{len(sheet.parts)} {'part' if len(sheet.parts) == 1 else 'parts'}"
    told = (
        f"{sheet.pattern.title}, {length:g} x {width:g} mm",
        f"{taken}, {100 * sheet.use * sheet.length / length:.0f} % of the sheet, {count}",
    )
    for row, words in enumerate(told):
        board.words(words, (0.0, -(2.2 + 1.9 * row) * high), high)
    return board.png()


def _rim(shown: float, length: float, width: float) -> Path:
    """Return the sheet's edge, broken off where the picture ends before the sheet."""
    ends = [(shown, 0.0)]
    if shown < length:
        ends = [(shown + width * BREAK * (side % 2 - 0.5), width * side / BREAKS) for side in range(BREAKS, -1, -1)]
    return Path.through([*ends, (0.0, 0.0), (0.0, width), *([(shown, width)] if shown == length else [])], closed=True)


def _box(length: float, width: float) -> Path:
    return Path.through([(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)], closed=True)
