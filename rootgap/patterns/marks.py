"""Meridian marks: cuts and holes on elbows, whose outside cannot be unrolled, and holes in cones.

Terminology
    meridian   the line along the outside at one clock, from one of the piece's ends
    comb       a paper band round that end, with a finger along each meridian; the mark on
               each finger is where the cut crosses it

The band develops on the outside diameter plus the paper, as any wrap; a finger bends along its arc
and keeps its length.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path
from rootgap.geometry.tube import Tube
from rootgap.joints import Cope
from rootgap.patterns.holes import fitting_facts, outline_of, own_parts
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.wrap import after_cut, cope_facts, developed_diameter, size_text, stock_notes, tab
from rootgap.stock import PipeStock

Array = NDArray[np.float64]

#: Height of the band, and the widest that a finger is, mm.
BAND, WIDEST = 16.0, 7.0
#: Between clocks that are numbered, degrees: all counts of fingers have them.
NUMBERED = 30.0
#: Fingers round a target: the first of these that meets every hole on as many as LEAST_MET, or the last.
FINGERS, LEAST_MET = (24, 48), 5


def cut_marks(cope: Cope) -> Array:
    """Return the cut of an elbow branch as (meridians, 2): clock, degrees, and arc, mm, from its start."""
    clocks = _clocks(cope.meridians)
    theta = np.radians(clocks)
    return np.column_stack([clocks, cope.branch.meridian_arcs(theta, cope.cut(theta))])


def cope_comb(cope: Cope, stock: PipeStock, paper: float) -> Pattern:
    """Return the comb of an elbow branch's coped end. stock: of the branch; paper: thickness, mm."""
    marks = cut_marks(cope)
    turn = np.pi * developed_diameter(stock, paper)
    # Tips tell the cut: a finger ends there.
    fingers = [(clock, (arc,), arc) for clock, arc in marks]
    where = (("Cut from the factory end", f"{marks[:, 1].min():.1f} to {marks[:, 1].max():.1f} mm along the outside"),)
    rows = tuple((f"Clock {clock:g}", f"{arc:.1f} mm") for clock, arc in marks)
    return _comb(
        f"{cope.branch.piece}.comb",
        f"Comb for the {cope.branch.piece} end that sits on {cope.target.piece}",
        turn,
        cope.meridians,
        fingers,
        f"{cope.branch.run}: this edge up, on the factory end",
        (*cope_facts(cope, stock, developed_diameter(stock, paper), where), *_throat(cope.branch), *rows),
        (
            "Band square round the factory end, the throat at its clock; fingers along the outside. Mark each tip.",
            "Join the marks; cut to the line and leave it." + after_cut(cope),
            "Clocks are the pipe's own, clockwise looking along the gas.",
            *stock_notes(stock),
        ),
    )


def holes_comb(copes: Sequence[Cope], stock: PipeStock, paper: float) -> Pattern:
    """Return the comb of all holes in an elbow or a cone, the target of `copes`. stock: of it; paper: thickness, mm."""
    target = copes[0].target
    outlines = [_outlines(cope) for cope in copes]
    for count in FINGERS:
        met = [_met(each, count) for each in outlines]
        if min(map(len, met)) >= LEAST_MET:
            break
    crossings: dict[float, list[float]] = {}
    rows: list[tuple[str, str]] = []
    for cope, arcs_at in zip(copes, met, strict=True):
        for clock, arcs in arcs_at.items():
            crossings.setdefault(clock, []).extend(arcs)
            text = " and ".join(f"{arc:.1f}" for arc in arcs)
            rows.append((f"{cope.called}, clock {clock:g}", f"{text} mm"))
    fingers = [(clock, tuple(arcs), max(arcs) + 6.0) for clock, arcs in sorted(crossings.items())]
    return _comb(
        f"{target.piece}.comb",
        f"Comb for the holes of {target.piece}",
        np.pi * developed_diameter(stock, paper),
        count,
        fingers,
        f"{target.run}: this edge up, on the end where the gas starts",
        (
            ("Part", f"{target.piece}, make 1"),
            ("Outside and wall", size_text(stock)),
            *_throat(target),
            *fitting_facts(copes),
            *rows,
        ),
        (
            "Band square round the end where the gas starts; fingers along the outside. Join the marks.",
            "Hold the torch along the branch's axis.",
            *stock_notes(stock),
        ),
    )


def _throat(tube: Tube) -> tuple[tuple[str, str], ...]:
    """Return the row that says where the throat of a bent piece lies; none of a cone."""
    return (("Throat lies at", f"clock {tube.bending.clock % 360.0:g}"),) if tube.bending else ()


def _clocks(count: int) -> Array:
    """Return the clocks, (count,), degrees, of so many meridians."""
    return 360.0 * np.arange(count) / count


def _outlines(cope: Cope) -> list[tuple[Array, Array]]:
    """Return the lines along which a hole is cut: of each the clocks, (n,), radians, and the arcs along the target's
    outside, (n,), mm."""
    parts = own_parts(cope, outline_of(cope))
    return [(part[:, 0], cope.target.meridian_arcs(*part.T)) for part in parts]


def _met(outlines: Sequence[tuple[Array, Array]], count: int) -> dict[float, list[float]]:
    """Return the arcs, mm, at which each of `count` meridians crosses a hole's outlines, by its clock, degrees."""
    found: dict[float, list[float]] = {}
    for at in _clocks(count):
        crossed: list[float] = []
        for clock, arcs in outlines:
            # Where the outline passes the clock, once going and once coming back.
            apart = (clock - np.radians(at) + np.pi) % (2.0 * np.pi) - np.pi
            before, after = apart[:-1], apart[1:]
            passes = np.flatnonzero(((before <= 0.0) != (after <= 0.0)) & (np.abs(after - before) < 1.0))
            share = before[passes] / (before[passes] - after[passes])
            crossed += (arcs[passes] + share * (arcs[passes + 1] - arcs[passes])).tolist()
        if crossed:
            found[float(at)] = sorted(crossed)
    return found


def _comb(
    name: str,
    title: str,
    turn: float,
    count: int,
    fingers: Sequence[tuple[float, tuple[float, ...], float]],
    told: str,
    facts: tuple[tuple[str, str], ...],
    notes: tuple[str, ...],
) -> Pattern:
    """Return a comb. turn: mm round the band; count: of fingers that it has room for; fingers: (clock in degrees,
    arcs of marks in mm, length in mm), the band's top edge being the piece's end; told: where that edge goes."""
    pitch = turn / count
    width = min(WIDEST, 0.6 * pitch)
    drawn = [
        Drawn("edge", Path.through([(0.0, -BAND), (turn, -BAND), (turn, 0.0), (0.0, 0.0)], closed=True)),
        Drawn("tab", tab(turn, -BAND, 0.0)),
    ]
    labels = [Label("text", (2.0, -BAND + 1.5), told, 2.5)]
    for clock, arcs, length in fingers:
        u = turn * clock / 360.0 + 0.5 * pitch
        low, high = u - 0.5 * width, u + 0.5 * width
        drawn.append(Drawn("edge", Path.through([(low, 0.0), (low, length), (high, length), (high, 0.0)])))
        drawn += [Drawn("cut", Path.through([(low, arc), (high, arc)])) for arc in arcs]
        drawn.append(Drawn("mark", Path.through([(u, -0.3 * BAND), (u, min(arcs) - 1.0)])))
        if clock % NUMBERED == 0.0:
            labels.append(Label("text", (u, -BAND + 7.5), f"{clock:.0f}", 2.5, anchor="middle"))
    return Pattern(name, "comb", title, tuple(drawn), tuple(labels), (), facts, notes)
