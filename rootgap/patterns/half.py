"""The wrap of a half pipe: where to split the pipe, and the holes in the half that is kept.

Coordinates: x = u, the arc length clockwise from clock 0, looking along the gas, developed on the outside diameter
plus the paper's thickness; y = v, along the axis. The seam lies in the middle of the other half, so that the kept
half is in one piece.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from rootgap.geometry.paths import Path
from rootgap.joints import Cope
from rootgap.layout import Half
from rootgap.patterns.holes import DATUMS, hole_facts, hole_marks, outline_of
from rootgap.patterns.pattern import Drawn, Label, Pattern, template_name
from rootgap.patterns.wrap import (
    CLOCKS,
    PAPER,
    developed_diameter,
    stock_facts,
    stock_notes,
    tab,
)

#: Clocks nearer to each other than this, radians, are one line.
ONE_LINE = 1e-6
#: Distance of lettering from a line, mm, its height, and that of what must not be missed.
OFF, HEIGHT, LARGE = 1.5, 3.5, 5.0


def half_wrap(piece: Half, copes: Sequence[Cope], paper: float = PAPER) -> Pattern:
    """Return the wrap that a pipe is split by, with all holes that `copes` need. paper: thickness, mm."""
    diameter = developed_diameter(piece.stock, paper)
    half, turn, length = 0.5 * diameter, np.pi * diameter, piece.length
    middle = np.radians(piece.clock)
    seam = middle - np.pi
    left, right = half * seam, half * seam + turn
    splits = (middle - 0.5 * np.pi, middle + 0.5 * np.pi)
    drawn = [
        Drawn("edge", Path.through([(left, 0.0), (right, 0.0), (right, length), (left, length)], closed=True)),
        Drawn("tab", tab(right, 0.0, length)),
        *(Drawn("cut", Path.through([(half * split, 0.0), (half * split, length)])) for split in splits),
    ]
    # Lettering up a line stands to the left of where it is anchored: both words lie in the other half.
    labels = [
        Label("text", (half * split + off, 0.5 * length), "split here", LARGE, 90.0, "middle")
        for split, off in zip(splits, (-OFF, OFF + LARGE), strict=True)
    ]
    labels += [
        Label("text", (half * at + OFF, 0.5 * length), "the other half", HEIGHT, 90.0, "middle")
        for at in (middle - 0.75 * np.pi, middle + 0.75 * np.pi)
    ]
    clocks = [seam + (np.radians(clock) - seam) % (2.0 * np.pi) for clock in CLOCKS]
    for clock, at in zip(CLOCKS, clocks, strict=True):
        if all(abs(at - line) > ONE_LINE for line in (seam, *splits)):
            drawn.append(Drawn("mark", Path.through([(half * at, 0.0), (half * at, length)])))
        labels += [Label("text", (half * at + OFF, v), f"{clock}", HEIGHT) for v in (13.0, length - 7.0)]
    clear = half * _clearest([at for at in clocks if splits[0] < at < splits[1]], splits)
    labels += [
        Label("text", (clear, 7.0), f"{piece.run}: keep this half", HEIGHT, anchor="middle"),
        Label("text", (clear, 2.0), DATUMS[True, True].lettered, 2.5, anchor="middle"),
    ]
    for cope in copes:
        shapes, words = hole_marks(cope, outline_of(cope), half, seam)
        drawn += shapes
        labels += words
    return Pattern(
        template_name(piece.id, "holes"),
        "holes",
        f"Wrap for the split{' and the holes' if copes else ''} of {piece.id}",
        tuple(drawn),
        tuple(labels),
        (),
        (
            ("Part", f"{piece.id}, make 1"),
            *stock_facts(piece.stock),
            ("Split", f"clock {(piece.clock - 90.0) % 360.0:g} and {(piece.clock + 90.0) % 360.0:g}, through the axis"),
            ("Bore area", piece.bore_told),
            ("Wrap", f"{turn:.2f} mm round, {length:.1f} mm long"),
            *hole_facts(copes),
        ),
        _notes(piece, copes),
    )


def _clearest(lines: Sequence[float], splits: tuple[float, float]) -> float:
    """Return the clock, radians, in the middle of the widest room between the splits and the clock lines."""
    edges = np.sort([*splits, *lines])
    widest = int(np.argmax(np.round(np.diff(edges), 6)))
    return float(0.5 * (edges[widest] + edges[widest + 1]))


def _notes(piece: Half, copes: Sequence[Cope]) -> tuple[str, ...]:
    holes = "Cut each hole on the full line; hold the torch so that the edge comes out on the dashed line inside."
    return (
        (
            "Split on the lines and leave them on the half that is kept: the other half loses a kerf at each. Two "
            "halves of one pipe, cut down the middle of the lines, are each half a kerf short at both edges."
        ),
        "Datum edge on the square end where the gas starts; the seam's edges must meet edge to edge.",
        *((holes,) if copes else ()),
        "A split pipe springs: tack it to its plate from the middle outwards, side by side.",
        *stock_notes(piece.stock),
    )
