"""Wrap templates of the holes in a pipe, unrolled onto paper as its ends are.

Coordinates: those of a wrap, y = v from the start of the pipe's axis.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.distance import Union
from rootgap.geometry.paths import Path
from rootgap.geometry.sampling import sampled, sign_changes
from rootgap.joints import Cope
from rootgap.joints.cope import TOLERANCE
from rootgap.joints.joint import Which
from rootgap.layout import Straight
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.wrap import (
    BESIDE,
    CLOCKS,
    LETTERING,
    PAPER,
    SIGN,
    beside,
    between,
    developed_diameter,
    mark_height,
    mark_of,
    short,
    stock_facts,
    stock_notes,
    tab,
)

Array = NDArray[np.float64]

#: Distance of the seam of a hole wrap from the hole that follows it, mm.
HOLE_MARGIN = 22.0
#: A point nearer to a shared plane than this, mm, lies on it.
ON_PLANE = 1e-6


@dataclass(frozen=True)
class Datum:
    """Where a hole template is measured from. above: whether that is its upper edge."""

    above: bool
    lettered: str
    told: str


#: By whether a pipe's start and its end are square.
DATUMS = {
    (True, True): Datum(
        above=False, lettered="datum edge, gas comes in here", told="Datum edge on the square end where the gas starts."
    ),
    (True, False): Datum(
        above=False, lettered="datum edge, gas comes in here", told="Datum edge on the square end where the gas starts."
    ),
    (False, True): Datum(
        above=True,
        lettered="datum edge, gas leaves here",
        told="The start is cut: datum edge, the upper one, on the square end where the gas leaves.",
    ),
    (False, False): Datum(
        above=False,
        lettered="nominal start, gas comes in here",
        told="Both ends are cut: set this wrap by the match marks, before the ends are cut off, with its lower edge "
        "where the axis starts.",
    ),
}


def holes_wrap(
    piece: Straight, copes: Sequence[Cope], paper: float = PAPER, cut: Collection[Which] = ()
) -> Pattern:
    """Return the wrap of all holes in `piece` that `copes` need. paper: thickness, mm; cut: its ends that are not
    square."""
    datum = DATUMS["start" not in cut, "end" not in cut]
    diameter = developed_diameter(piece.stock, paper)
    half, turn = 0.5 * diameter, np.pi * diameter
    outlines = [outline_of(cope) for cope in copes]
    seam = _clear_clock([clocks[:, 0] for clocks in outlines], HOLE_MARGIN / half)
    left, right, length = half * seam, half * seam + turn, piece.length
    drawn = [
        Drawn("edge", Path.through([(left, 0.0), (right, 0.0), (right, length), (left, length)], closed=True)),
        Drawn("tab", tab(right, 0.0, length)),
    ]
    labels = []
    for clock in CLOCKS:
        u = half * (seam + (np.radians(clock) - seam) % (2.0 * np.pi))
        drawn.append(Drawn("mark", Path.through([(u, 0.0), (u, length)])))
        labels += [beside(u, v, f"{clock}", 3.5, right) for v in (3.0, length - 7.0)]
    # Clear of the clocks' words where it does not go between two of them.
    off = 2.0 if SIGN * 2.5 * len(datum.lettered) < 0.25 * turn - BESIDE else 8.0
    at = (between(half, seam, left + 0.5 * turn), length - off - 2.5 if datum.above else off)
    labels.append(Label("text", at, datum.lettered, 2.5, anchor="middle"))
    for cope, outline in zip(copes, outlines, strict=True):
        shapes, words = hole_marks(cope, outline, half, seam)
        drawn += shapes
        labels += words
    return Pattern(
        f"{piece.id}.holes",
        "holes",
        f"Wrap for the holes of {piece.id}",
        tuple(drawn),
        tuple(labels),
        (),
        (
            ("Part", f"{piece.id}, make 1"),
            *stock_facts(piece.stock),
            ("Wrap", f"{turn:.2f} mm round, {length:.1f} mm long"),
            *hole_facts(copes, length if datum.above else None),
        ),
        (
            f"{datum.told} The seam's edges must meet edge to edge.",
            "Cut on the full line; hold the torch so that the edge comes out on the dashed line inside.",
            *stock_notes(piece.stock),
        ),
    )


def hole_marks(cope: Cope, outline: Array, half: float, seam: float) -> tuple[list[Drawn], list[Label]]:
    """Return a hole with its match marks and the name of what stands there. outline: as `outline_of` gives it; half:
    of the developed diameter, mm; seam: clock of the seam, radians."""
    drawn: list[Drawn] = []
    labels: list[Label] = []
    name = short(cope.called)
    shift = seam + (cope.middle_clock - seam) % (2.0 * np.pi) - cope.middle_clock
    drawn += [Drawn(f"cut.{cope.called}", _laid(ring, shift, half)) for ring in own_parts(cope, outline)]
    inside = cope.hole_inside(_hole_clocks(cope))
    if np.isfinite(inside).all() and not cope.crowd:
        drawn.append(Drawn(f"inside.{cope.called}", _laid(inside, shift, half)))
    center = np.array([half * (cope.middle_clock + shift), cope.station])
    reach = cope.hole(np.radians(CLOCKS)) + (shift, 0.0)
    clear = np.ones(len(CLOCKS), dtype=bool)
    if cope.crowd:
        # Elsewhere the branch meets its crowd, and nothing is cut in the target.
        clear = Union(cope.crowd).distance(cope.on_target.points(np.radians(CLOCKS), cope.hole_radius)) > -ON_PLANE
    for clock, point in zip(np.array(CLOCKS)[clear].tolist(), (reach * (half, 1.0))[clear], strict=True):
        out = (point - center) / np.linalg.norm(point - center)
        drawn.append(Drawn("mark", Path.through([point + out, point + 9.0 * out])))
        at, text = point + 12.0 * out - (0.0, 1.5), mark_of(cope, clock)
        size = mark_height(text)
        aside = 0.5 * SIGN * size * len(text)
        u = np.clip(at[0], half * seam + aside, half * (seam + 2.0 * np.pi) - aside)
        labels.append(Label("text", (float(u), float(at[1])), text, size, anchor="middle"))
    height = float(np.clip(2.0 * cope.hole_radius / (SIGN * len(name)), *LETTERING))
    labels.append(Label("text", (float(center[0]), float(center[1]) - 0.4 * height), name, height, anchor="middle"))
    return drawn, labels


def _hole_clocks(cope: Cope) -> Array:
    r_out = cope.target.r_out
    return sampled(lambda t: cope.hole(t) * (r_out, 1.0), 0.0, TOLERANCE)


def _laid(ring: Array, shift: float, half: float) -> Path:
    """Return part of an outline, (n, 2), clock in radians and station in mm, on paper, closed where it ends as it
    begins. shift: of its clocks, radians; half: of the developed diameter, mm."""
    closed = bool(np.allclose(ring[0], ring[-1], rtol=0.0, atol=1e-9))
    return Path.through((ring[:-1] if closed else ring) * (half, 1.0) + (half * shift, 0.0), closed=closed)


def own_parts(cope: Cope, outline: Array) -> list[Array]:
    """Return the parts, (n, 2) each, of a hole's outline, clock in radians and station in mm, on the branch's own side
    of the planes that it shares: all of it where it shares none. Where the holes of two mates run into each other
    they are one."""
    if not cope.shares:
        return [outline]
    own = _side(cope, cope.target.rolled(*outline.T)) > -ON_PLANE
    if own.all():
        return [outline]
    # Begun where a part begins, so that none is parted by where the outline starts.
    first = int(np.flatnonzero(own & ~np.roll(own, 1))[0])
    ring, own = np.roll(outline[:-1], -first, axis=0), np.roll(own[:-1], -first)
    parts = np.split(np.arange(len(ring)), np.flatnonzero(np.diff(own)) + 1)
    return [ring[part] for part in parts if own[part[0]]]


def _side(cope: Cope, points: Array) -> Array:
    """Return how far points, (n, 3), mm, lie on the branch's own side of the planes that it shares, mm."""
    return Union(tuple(mate.plane for mate in cope.shares)).distance(points)


def outline_of(cope: Cope) -> Array:
    """Return the hole's outline, (n, 2), clock in radians and station in mm, the first point again at the end; where a
    neighbour stands on the target, its foot is left whole. Where it crosses a shared plane it has a point."""
    clocks = _hole_clocks(cope)
    if cope.shares:
        crossings = sign_changes(lambda t: _side(cope, cope.on_target.points(t, cope.hole_radius)))
        clocks = np.sort(np.concatenate([clocks, crossings]))
    ring = cope.hole(clocks)
    if not cope.neighbours:
        return ring
    from shapely import Polygon, make_valid, union_all

    turn = 2.0 * np.pi * np.arange(1440) / 1440
    scale = (cope.target.r_out, 1.0)
    # The foot of a neighbour as wide as the target touches itself at its sides.
    feet = union_all([make_valid(Polygon(cope.foot(other, turn) * scale)) for other in cope.neighbours])
    left = make_valid(Polygon(ring * scale)).difference(feet)
    largest = max(getattr(left, "geoms", [left]), key=lambda part: part.area)
    return np.asarray(largest.exterior.coords) / scale


def _clear_clock(outlines: Sequence[Array], margin: float) -> float:
    """Return the clock, radians, for a seam that no hole touches: in the widest clear strip, at most
    `margin` radians before the hole that follows, so that the holes lie together on one sheet."""
    count = 720
    taken = np.zeros(count, dtype=bool)
    for clocks in outlines:
        first, last = (int(np.floor(end / (2.0 * np.pi) * count)) for end in (clocks.min(), clocks.max()))
        taken[np.arange(first, last + 2) % count] = True
    if taken.all() or not taken.any():
        return 0.0
    edges = np.flatnonzero(taken)
    widths = np.diff(np.append(edges, edges[0] + count))
    widest = int(np.argmax(widths))
    after, width = edges[widest] + widths[widest], widths[widest]
    back = min(margin / (2.0 * np.pi) * count, 0.5 * width)
    return float(2.0 * np.pi * ((after - back) % count) / count)


def hole_facts(copes: Sequence[Cope], above: float | None = None) -> tuple[tuple[str, str], ...]:
    """Return the rows that say where each hole lies, stations in mm, clocks in degrees. above: station of a datum
    from which they are measured back, None where it is the start."""
    return (*((f"Hole for {cope.called}", _hole_fact(cope, above)) for cope in copes), *fitting_facts(copes))


def fitting_facts(copes: Sequence[Cope]) -> tuple[tuple[str, str], ...]:
    """Return the row that says in which order the branches of one target are fitted; none where any order serves."""
    if not any(cope.neighbours for cope in copes):
        return ()
    left, order = list(copes), list[Cope]()
    while left:
        waiting = {cope.branch.piece for cope in left}
        # What copes onto another was placed after it, so that there is always one that waits for none.
        first = next(cope for cope in left if not waiting & {other.piece for other in cope.neighbours})
        left.remove(first)
        order.append(first)
    return (("Fit in this order", ", ".join(cope.called for cope in order)),)


def _hole_fact(cope: Cope, above: float | None) -> str:
    clock = np.degrees(cope.middle_clock)
    station = cope.station if above is None else above - cope.station
    return f"{station:.1f} mm from datum, clock {clock:.1f} deg, lean {cope.lean:.1f} deg"
