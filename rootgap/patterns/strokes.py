"""Lettering of single strokes, for a torch that scribes: capitals, digits and a few signs, our own.

A glyph is drawn on a grid of 4 by 6 from its baseline; two digits are a point, a space parts points of a stroke,
a bar parts strokes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from rootgap.geometry.paths import Path, Point

#: Width and height of a glyph and the way to the next, in grid units.
WIDE, HIGH, ADVANCE = 4, 6, 6

GLYPHS = {
    "A": "00 26 40|13 33",
    "B": "00 06 36 45 44 33 03|33 42 41 30 00",
    "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00",
    "E": "46 06 00 40|03 33",
    "F": "46 06 00|03 33",
    "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06|40 46|03 43",
    "I": "16 36|26 20|10 30",
    "J": "01 10 30 41 46",
    "K": "00 06|46 03 40",
    "L": "06 00 40",
    "M": "00 06 23 46 40",
    "N": "00 06 40 46",
    "O": "10 01 05 16 36 45 41 30 10",
    "P": "00 06 36 45 44 33 03",
    "Q": "10 01 05 16 36 45 41 30 10|22 40",
    "R": "00 06 36 45 44 33 03|23 40",
    "S": "45 36 16 05 04 13 33 42 41 30 10 01",
    "T": "06 46|26 20",
    "U": "06 01 10 30 41 46",
    "V": "06 20 46",
    "W": "06 10 23 30 46",
    "X": "00 46|06 40",
    "Y": "06 23 46|23 20",
    "Z": "06 46 00 40",
    "0": "10 01 05 16 36 45 41 30 10|12 34",
    "1": "15 26 20|10 30",
    "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 42 41 30 10 01|33 23",
    "4": "30 36 02 42",
    "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 03",
    "7": "06 46 20",
    "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 43",
    ".": "20 21",
    "-": "13 33",
    "+": "03 43|21 25",
    "/": "00 46",
    "_": "00 40",
    ",": "21 10",
    ":": "21 22|24 25",
    "%": "00 46|05 15 16 06 05|30 40 41 31 30",
    "(": "36 25 21 30",
    ")": "16 25 21 10",
    " ": "",
}


def lettered(text: str) -> bool:
    """Tell whether every sign of `text` has a glyph; small letters are written as capitals."""
    return all(sign in GLYPHS for sign in text.upper())


def width(text: str, height: float) -> float:
    """Return the width of a line of `text`, mm, `height` mm high.

    >>> width("AB", 6.0)
    10.0
    """
    return (ADVANCE * len(text) - (ADVANCE - WIDE)) * height / HIGH if text else 0.0


def strokes(text: str, at: Point, height: float, angle: float = 0.0, anchor: str = "left") -> tuple[Path, ...]:
    """Return the strokes of a line of text. at: anchor on its baseline, mm; height: of capitals, mm; angle: degrees;
    anchor: "left", "middle" or "right" end of the baseline. A sign without a glyph leaves its place empty.

    >>> [len(stroke.vertices) for stroke in strokes("t1", (0.0, 0.0), 6.0)]
    [2, 2, 3, 2]
    """
    start = -{"left": 0.0, "middle": 0.5, "right": 1.0}[anchor] * width(text, height)
    unit = height / HIGH
    cosine, sine = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    out = []
    for place, sign in enumerate(text.upper()):
        left = start + ADVANCE * unit * place
        for stroke in filter(None, GLYPHS.get(sign, "").split("|")):
            points = [
                (at[0] + x * cosine - y * sine, at[1] + x * sine + y * cosine) for x, y in _points(stroke, left, unit)
            ]
            out.append(Path.through(points))
    return tuple(out)


def _points(stroke: str, left: float, unit: float) -> Sequence[Point]:
    return [(left + unit * int(point[0]), unit * int(point[1])) for point in stroke.split()]
