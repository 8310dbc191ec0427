"""Meridian marks: cuts and holes on elbows, whose outside cannot be unrolled.

Terminology
    meridian   the arc along an elbow's outside at one clock, from one of its ends
    comb       a paper band round the end of the elbow, with a finger along each meridian; the mark on
               each finger is where the cut crosses it

The band develops on the outside diameter plus the paper, as any wrap; a finger bends along its arc
and keeps its length.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path
from rootgap.joints import Cope
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.wrap import cope_facts, cope_notes, developed_diameter, size_text, stock_notes, tab
from rootgap.stock import PipeStock

Array = NDArray[np.float64]

#: Fingers round an elbow, height of the band, and the widest that a finger is, mm.
FINGERS, BAND, WIDEST = 24, 14.0, 7.0


def cut_marks(cope: Cope) -> Array:
    """Return the cut of an elbow branch as (FINGERS, 2): clock, degrees, and arc, mm, from its start."""
    theta = 2.0 * np.pi * np.arange(FINGERS) / FINGERS
    return np.column_stack([np.degrees(theta), cope.branch.meridian_arcs(theta, cope.cut(theta))])


def cope_comb(cope: Cope, stock: PipeStock, paper: float) -> Pattern:
    """Return the comb of an elbow branch's coped end. stock: of the branch; paper: thickness, mm."""
    marks = cut_marks(cope)
    pitch = np.pi * developed_diameter(stock, paper) / FINGERS
    # Tips tell the cut: a finger ends there.
    fingers = [(clock, (arc,), arc) for clock, arc in marks]
    rows = tuple((f"Clock {clock:.0f}", f"{arc:.1f} mm") for clock, arc in marks)
    return _comb(
        f"{cope.branch.piece}.comb",
        f"Comb for the {cope.branch.piece} end that sits on {cope.target.piece}",
        pitch,
        fingers,
        cope.branch.run,
        (*cope_facts(cope, stock, developed_diameter(stock, paper), 0.0), *rows),
        (
            "Band square round the factory end, clock 0 to the elbow's own; fingers along the elbow. Mark each tip.",
            *cope_notes(cope, stock, 0.0),
        ),
    )


def holes_comb(copes: Sequence[Cope], stock: PipeStock, paper: float) -> Pattern:
    """Return the comb of all holes in an elbow or a cone, the target of `copes`. stock: of it; paper: thickness, mm."""
    target = copes[0].target
    pitch = np.pi * developed_diameter(stock, paper) / FINGERS
    crossings: dict[int, list[float]] = {}
    rows: list[tuple[str, str]] = []
    for cope in copes:
        theta = 2.0 * np.pi * np.arange(1440) / 1440
        clock, station = cope.hole(theta).T
        arcs = target.meridian_arcs(clock, station)
        for finger in range(FINGERS):
            # Where the outline passes the finger's clock, once going and once coming back.
            apart = (clock - 2.0 * np.pi * finger / FINGERS + np.pi) % (2.0 * np.pi) - np.pi
            after = np.roll(apart, -1)
            passes = np.flatnonzero((apart <= 0.0) != (after <= 0.0))
            passes = passes[np.abs(after[passes] - apart[passes]) < 1.0]
            if not passes.size:
                continue
            share = apart[passes] / (apart[passes] - after[passes])
            found = sorted(arcs[passes] + share * (np.roll(arcs, -1)[passes] - arcs[passes]))
            crossings.setdefault(finger, []).extend(found)
            text = " and ".join(f"{arc:.1f}" for arc in found)
            rows.append((f"{cope.called}, clock {360 * finger // FINGERS}", f"{text} mm"))
    fingers = [
        (360.0 * finger / FINGERS, tuple(arcs), max(arcs) + 6.0) for finger, arcs in sorted(crossings.items())
    ]
    return _comb(
        f"{target.piece}.comb",
        f"Comb for the holes of {target.piece}",
        pitch,
        fingers,
        target.run,
        (("Part", f"{target.piece}, make 1"), ("Outside and wall", size_text(stock)), *rows),
        (
            "Band square round the end where the gas starts; fingers along the elbow. Join the marks.",
            "Hold the torch along the branch's axis.",
            *stock_notes(stock),
        ),
    )


def _comb(
    name: str,
    title: str,
    pitch: float,
    fingers: Sequence[tuple[float, tuple[float, ...], float]],
    owner: str,
    facts: tuple[tuple[str, str], ...],
    notes: tuple[str, ...],
) -> Pattern:
    """Return a comb. pitch: mm between fingers; fingers: (clock in degrees, arcs of marks in mm, length
    in mm), the band's top edge being the elbow's end."""
    width, right = min(WIDEST, 0.6 * pitch), pitch * FINGERS
    drawn = [
        Drawn("edge", Path.through([(0.0, -BAND), (right, -BAND), (right, 0.0), (0.0, 0.0)], closed=True)),
        Drawn("tab", tab(right, -BAND, 0.0)),
    ]
    labels = [Label("text", (2.0, -BAND + 1.5), f"{owner}: this edge up, on the elbow's end", 2.5)]
    for clock, arcs, length in fingers:
        u = pitch * (clock / 360.0 * FINGERS + 0.5)
        low, high = u - 0.5 * width, u + 0.5 * width
        drawn.append(Drawn("edge", Path.through([(low, 0.0), (low, length), (high, length), (high, 0.0)])))
        drawn += [Drawn("cut", Path.through([(low, arc), (high, arc)])) for arc in arcs]
        drawn.append(Drawn("mark", Path.through([(u, -0.35 * BAND), (u, min(arcs) - 1.0)])))
        if clock % 30.0 == 0.0:
            labels.append(Label("text", (u, -BAND + 6.0), f"{clock:.0f}", 2.5, anchor="middle"))
    return Pattern(name, "comb", title, tuple(drawn), tuple(labels), (), facts, notes)
