"""The wrap of a pie-cut bend's repeated segment: both of its edges sine lines, in closed form.

Coordinates: x = u, the arc length clockwise from the throat, looking along the gas, developed on
the outside diameter plus the paper's thickness; y = v, along the axis. The seam lies at the back.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path
from rootgap.geometry.sampling import sampled
from rootgap.joints.cope import TOLERANCE
from rootgap.layout import Pie
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.trim import NAMES
from rootgap.patterns.wrap import CLOCKS, PAPER, WASTE, developed_diameter, size_text, stock_notes, tab

Array = NDArray[np.float64]


def pie_wrap(piece: Pie, paper: float = PAPER) -> Pattern:
    """Return the wrap of a whole segment, or of a half one where a bend has no other. paper: thickness, mm."""
    diameter = developed_diameter(piece.stock, paper)
    half, whole = 0.5 * diameter, piece.cuts > 1
    middle = piece.half(piece.stock.r_out) if whole else 0.0

    def line(turn: Array) -> Array:
        return np.column_stack([half * turn, piece.edge(turn)])

    up = line(sampled(line, -np.pi, TOLERANCE))
    # Both ends of the line are one point of the pipe; rounding must not open the seam.
    up[-1, 1] = up[0, 1]
    top, bottom = up + (0.0, middle), up * (1.0, -1.0) + (0.0, middle)
    left, right, high, low = -half * np.pi, half * np.pi, float(top[0, 1]), float(bottom[0, 1]) if whole else 0.0
    drawn = [Drawn("cut", Path.through(top)), Drawn("tab", tab(right, low, high))]
    waste = [Path.through(np.vstack([top, top[::-1] + (0.0, WASTE)]), closed=True)]
    if whole:
        drawn += [
            Drawn("cut", Path.through(bottom)),
            Drawn("edge", Path.through([(left, low), (left, high)])),
            Drawn("edge", Path.through([(right, low), (right, high)])),
            Drawn("mark", Path.through([(left, middle), (right, middle)])),
        ]
        waste.append(Path.through(np.vstack([bottom, bottom[::-1] - (0.0, WASTE)]), closed=True))
    else:
        drawn.append(Drawn("edge", Path.through([(left, high), (left, 0.0), (right, 0.0), (right, high)])))
    labels = []
    for clock, name in zip((0, 90, -180, -90), NAMES, strict=True):
        u = half * np.radians(clock)
        reach = float(piece.edge(np.radians(clock)))
        if name != "back":
            drawn.append(Drawn("mark", Path.through([(u, middle - reach if whole else 0.0), (u, middle + reach)])))
        labels.append(Label("text", (u + 1.5, middle + 0.4 * reach), f"{clock % 360} {name}", 3.5))
    labels.append(Label("text", (0.25 * half * np.pi, middle + 2.0), piece.id, 3.5, anchor="middle"))
    return Pattern(
        f"{piece.id}.pie",
        "pie",
        f"Wrap for {'the whole segments' if whole else 'both half segments'} of {piece.id}",
        tuple(drawn),
        tuple(labels),
        tuple(waste),
        _facts(piece, np.pi * diameter),
        _notes(piece),
    )


def _facts(piece: Pie, turn: float) -> tuple[tuple[str, str], ...]:
    r_out = piece.stock.r_out
    lengths = ", ".join(
        f"{clock} {name} {2.0 * piece.half(-r_out * np.cos(np.radians(clock))):.2f}"
        for clock, name in zip(CLOCKS, NAMES, strict=True)
    )
    many = "s" if piece.cuts > 1 else ""
    outside = piece.radius * (1.0 / np.cos(np.radians(piece.saw)) - 1.0)
    return (
        ("Part", f"{piece.id}, make 1"),
        ("Stock", f"{piece.stock.label}, {piece.stock.material.grade}"),
        ("Outside and wall", size_text(piece.stock)),
        ("Bend", f"{piece.angle:.4g} deg at {piece.radius:.1f} mm, {piece.cuts} mitre{many}"),
        ("Segments", piece.segments),
        *((("Whole segment", f"{lengths} mm"),) if piece.cuts > 1 else ()),
        ("Saw", f"{piece.saw:.3f} deg off square"),
        ("Pipe needed", f"{piece.length:.1f} mm and {piece.cuts} kerf{many}"),
        ("Corners", f"outside the arc by {outside:.2f} mm; each segment touches it at its middle"),
        ("Wrap", f"{turn:.2f} mm round"),
        ("Weld length", f"{piece.mitre_length:.1f} mm each mitre"),
        ("Throat lies at", f"clock {piece.clock % 360.0:g} of the run"),
    )


def _notes(piece: Pie) -> tuple[str, ...]:
    halves = "A half segment is cut square on the middle line, and nowhere else: a leaning cut is an ellipse."
    return (
        (
            "On one pipe, turn it 180 deg after each cut: the back of one segment follows the throat of the next. "
            "Number the segments, and line the throat marks up when they are joined."
        ),
        *((halves,) if piece.cuts > 1 else ()),
        "The seam's edges must meet edge to edge: how they close is the best scale test there is.",
        *stock_notes(piece.stock),
    )
