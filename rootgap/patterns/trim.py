"""Trim strips: where the saw goes on an elbow that is cut to less than its stock angle.

An elbow's outside does not unroll, but a square cut is a circle: four arc lengths from the
factory end place it, and a straight strip with one edge through the four marks is its line.

Coordinates: x = u, the arc length clockwise from the throat, looking along the gas, developed on
the outside diameter plus the paper's thickness; y, along the gas. The strip lies on what is kept.
"""

from __future__ import annotations

import numpy as np

from rootgap.geometry.paths import Path
from rootgap.layout import Elbow
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.wrap import CLOCKS, PAPER, WASTE, developed_diameter, size_text, tab

#: What lies at each of CLOCKS of an elbow, its clock 0 at the throat.
NAMES = ("throat", "side", "back", "side")
#: Height of the strip, mm.
STRIP = 24.0
#: How much larger the outside of a fitting of NPS 1/2 to 2-1/2 may be at its end, mm; of larger ones, up to NPS 4.
#: Source: ASME B16.9, tolerances, by public transcriptions.
OVERSIZE = 1.6


def trim_strip(piece: Elbow, paper: float = PAPER) -> Pattern:
    """Return the strip and the figures for the cuts of a trimmed elbow. paper: thickness, mm."""
    stock = piece.stock
    diameter = developed_diameter(stock, paper)
    half, turn = 0.5 * diameter, np.pi * diameter
    # The seam runs at a side, so that throat and back lie whole on the paper.
    first = -0.25 * turn
    cut, far = (0.0, STRIP) if piece.trim == "start" else (STRIP, 0.0)
    waste = cut + np.copysign(WASTE, cut - far)
    last = first + turn
    drawn = [
        Drawn("cut", Path.through([(first, cut), (last, cut)])),
        Drawn("edge", Path.through([(first, cut), (first, far), (last, far), (last, cut)])),
        Drawn("tab", tab(last, 0.0, STRIP)),
    ]
    labels = []
    for clock, name in zip((0, 90, 180, -90), NAMES, strict=True):
        u = half * np.radians(clock)
        if name != "side" or clock > 0:
            drawn.append(Drawn("mark", Path.through([(u, 0.0), (u, STRIP)])))
        labels.append(Label("text", (u + 1.5, 0.5 * STRIP - 4.0), f"{clock % 360} {name}", 3.5))
    labels.append(Label("text", (0.5 * half * np.pi / 2.0, 0.5 * STRIP + 4.0), piece.id, 3.5, anchor="middle"))
    band = [(first, cut), (last, cut), (last, waste), (first, waste)]
    return Pattern(
        f"{piece.id}.trim",
        "trim",
        f"Trim strip for {piece.id}, {piece.angle:.4g} of {piece.stock_angle:g} degrees",
        tuple(drawn),
        tuple(labels),
        (Path.through(band, closed=True),),
        _facts(piece, turn),
        _notes(piece),
    )


def _facts(piece: Elbow, turn: float) -> tuple[tuple[str, str], ...]:
    stock = piece.stock
    ends = {"end": "the start, where the gas comes in", "start": "the end, where the gas leaves", "both": "neither end"}
    cuts = [
        (f"Cut{f' {number}' if len(piece.cuts) > 1 else ''}, at {angle:.4g} deg", _marks(piece, angle))
        for number, angle in enumerate(piece.cuts, 1)
    ]
    return (
        ("Part", f"{piece.id}, make 1"),
        ("Cut from", f"{piece.series} {piece.stock_angle:g} elbow, {stock.label}, {stock.material.grade}"),
        ("Outside and wall", size_text(stock)),
        ("Centre-line radius", f"{piece.radius:.2f} mm"),
        ("Factory end kept", ends[piece.trim]),
        *cuts,
        ("Throat lies at", f"clock {piece.clock % 360.0:g} of the run"),
        ("Strip", f"{turn:.2f} mm round"),
        ("Left over", piece.left_over),
    )


def _marks(piece: Elbow, angle: float) -> str:
    r_out = piece.stock.r_out
    arcs = [piece.arc(-r_out * np.cos(np.radians(clock)), angle) for clock in CLOCKS]
    return ", ".join(f"{clock} {name} {arc:.1f}" for clock, name, arc in zip(CLOCKS, NAMES, arcs, strict=True)) + " mm"


def _notes(piece: Elbow) -> tuple[str, ...]:
    from_end = "one factory end, the same for both cuts" if piece.trim == "both" else "the factory end that is kept"
    notes = [
        (
            f"Lengths are along the outside, from {from_end}: mark throat, back and both sides, then lay the "
            "strip's cut edge through the four marks."
        ),
        (
            "Clock 0 is the throat; clocks count clockwise looking along the gas. The cut's plane goes through the "
            "bend's centre: off it the end is an ellipse. The kerf is waste."
        ),
    ]
    if piece.trim == "both":
        notes.append("The strip serves both cuts: at the second, turn it end for end, and the sides change places.")
    if not piece.stock.measured:
        notes.append(
            f"A fitting's end may be {OVERSIZE:g} mm over its table diameter (ASME B16.9, NPS 1/2 to 4): the strip "
            f"then misses by {np.pi * OVERSIZE:.1f} mm at the seam. Measure the elbow and enter it."
        )
    return tuple(notes)
