"""Wrap templates: a coped end unrolled onto paper, and what every wrap has.

Coordinates: x = u, the arc length from clock 0 developed on the outside diameter plus the
paper's thickness (a sheet bends about its middle); y = v, along the axis from the datum edge.
The seam need not lie at clock 0, so u may run below nought or beyond one turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.paths import Path
from rootgap.geometry.sampling import sampled
from rootgap.joints import Cope
from rootgap.joints.bevel import Bevel, Ground
from rootgap.joints.cope import TOLERANCE
from rootgap.joints.ends import CutEnd
from rootgap.joints.joint import Blank, Which, gas_clock
from rootgap.patterns.pattern import Drawn, Label, Pattern, template_name
from rootgap.stock import PipeStock

Array = NDArray[np.float64]

#: Thickness of the paper, mm, unless the user says otherwise (common practice, no source).
PAPER = 0.10
#: Width of the seam's overlap tab, and of the hatched band on the waste side, mm.
TAB = 12.0
WASTE = 8.0
#: A datum edge further than this below the cut is moved up to it, in steps, mm.
LONGEST_SKIRT = 90.0
SKIRT = 30.0
STEP = 10.0
#: Below this, degrees, nothing is ground.
GRIND = 0.5
#: Said of the grooves of an end on a plane.
HALVED = "; on a plane its own half"
#: How a bevelled end is made from a square one.
GRIND_BACK = (
    "grind the outside back until the bore edge touches all round; bevels count from square, in line with the pipe."
)
#: A corner nearer to a point of the line than this, radians, is that point.
CORNER = 1e-5
#: A name between two clock lines leaves so much room, mm, for their marks, and a sign of it is so wide for its
#: height; its height keeps within limits, mm.
BESIDE, SIGN, LETTERING = 13.0, 0.62, (2.5, 5.0)
#: A name of more letters than this is shortened in a drawing; in full it stands in the template's head and facts.
LONGEST_NAME = 12
#: A match mark of more letters than this is written small.
SHORT_MARK = 5
#: What a branch's marks are lettered, by its end: a run that leaves and ends on one target has two holes there.
LETTERS: dict[Which, str] = {"end": "ABCD", "start": "EFGH"}
#: How a pipe's own clocks run on the wrap of each of its ends.
RUN: dict[Which, str] = {
    "end": ".",
    "start": ": on this end they run from right to left. The datum edge lies towards the gas end.",
}
#: What a pipe needs whose other end is cut as well: the datum of either is what the other cuts off.
BOTH_CUT = "The other end is cut as well: saw the blank to its length, and mark both ends before either is cut."
#: What an end is made from whose pipe is square at the other.
WHOLE = Blank()
#: The clocks that are drawn and numbered, degrees.
CLOCKS = (0, 90, 180, 270)


def developed_diameter(stock: PipeStock, paper: float) -> float:
    """Return the diameter, mm, that a wrap of `paper` mm thickness develops on."""
    return stock.od + paper


def seam_miss(stock: PipeStock) -> float:
    """Return how far, mm, a wrap may miss at its seam by the stock's diameter tolerance."""
    return float(np.pi * stock.od_tolerance)


def datum_station(end: CutEnd, begins: float = 0.0) -> float:
    """Return the station, mm, of the wrap's datum edge: the square end of the blank, which `begins` there, mm, or a
    round number of mm from it where it is far below the cut."""
    least = end.cut_range[0] - begins
    return begins + (0.0 if least <= LONGEST_SKIRT else float(STEP * np.floor((least - SKIRT) / STEP)))


def quiet_clock(end: CutEnd) -> float:
    """Return the clock, radians, where the cut line is flattest over a hand's width: the seam's place."""
    count, window = 360, 10
    t = 2.0 * np.pi * np.arange(count) / count
    slope = np.abs(np.gradient(np.concatenate([end.cut(t)] * 3)))[count - window : 2 * count + window]
    steepest = np.lib.stride_tricks.sliding_window_view(slope, 2 * window + 1).max(axis=1)
    return float(t[int(np.argmin(np.round(steepest, 6)))])


@dataclass(frozen=True)
class Unrolled:
    """A cut end on paper. drawn, labels, waste: as of a pattern; diameter: that it is developed on, mm; datum: its
    datum edge, mm from the blank's square end."""

    drawn: tuple[Drawn, ...]
    labels: tuple[Label, ...]
    waste: tuple[Path, ...]
    diameter: float
    datum: float


def unrolled(
    end: CutEnd, at: Which, run: str, stock: PipeStock, paper: float, letters: str = "ABCD", begins: float = 0.0
) -> Unrolled:
    """Return the cut line of an end with its clock lines, match marks, seam and waste. at: which end of its pipe it
    is; run: the pipe's, lettered in the middle; paper: thickness, mm; letters: of the marks at CLOCKS; begins:
    station of its blank's square end, mm."""
    diameter = developed_diameter(stock, paper)
    half, turn = 0.5 * diameter, np.pi * diameter
    v0, seam = datum_station(end, begins), quiet_clock(end)

    def line(t: Array) -> Array:
        return np.column_stack([half * t, end.cut(t) - v0])

    cut = line(_with(sampled(line, seam, TOLERANCE), end.corners))
    # Both ends of the line are one point of the pipe; rounding must not open the seam.
    cut[-1, 1] = cut[0, 1]
    left, right, rise = half * seam, half * seam + turn, float(cut[0, 1])
    drawn = [
        Drawn("cut", Path.through(cut)),
        Drawn("edge", Path.through([(left, rise), (left, 0.0), (right, 0.0), (right, rise)])),
        Drawn("tab", tab(right, 0.0, rise)),
    ]
    labels = []
    for clock in CLOCKS:
        t = seam + (np.radians(clock) - seam) % (2.0 * np.pi)
        u, top = half * t, float(end.cut(t)) - v0
        drawn.append(Drawn("mark", Path.through([(u, 0.0), (u, top)])))
        mark = match_mark(run, gas_clock(at, clock), letters)
        size = mark_height(mark)
        # A long one that stands to the left of the last line would run into the mark of the line before.
        high = 0.6 if len(mark) <= SHORT_MARK or u < right - 0.25 * turn else 0.45
        labels.append(beside(u, 3.0, f"{gas_clock(at, clock)}", 3.5, right))
        labels.append(_under(cut, beside(u, high * top, mark, size, right)))
    middle = 0.5 * (left + right)
    name = short(run)
    height = float(np.clip((0.25 * turn - BESIDE) / (SIGN * len(name)), *LETTERING))
    # Above the clocks' own words: between two lines of a narrow pipe there is no room beside them.
    labels.append(Label("text", (between(half, seam, middle), 12.0), name, height, anchor="middle"))
    labels.append(Label("text", (between(half, seam, middle), 7.5), "datum edge", 2.5, anchor="middle"))
    band = np.vstack([cut, cut[::-1] + (0.0, WASTE)])
    return Unrolled(tuple(drawn), tuple(labels), (Path.through(band, closed=True),), diameter, v0 - begins)


def _with(clocks: Array, corners: Array) -> Array:
    """Return `clocks`, (n,), radians, rising over one turn, with the corners among them as points of their own."""
    turned = clocks[0] + (corners - clocks[0]) % (2.0 * np.pi)
    apart = np.abs(turned[:, None] - clocks).min(axis=1, initial=np.inf)
    return np.sort(np.concatenate([clocks, turned[apart > CORNER]]))


def cope_wrap(cope: Cope, stock: PipeStock, paper: float = PAPER, made: Blank = WHOLE) -> Pattern:
    """Return the wrap template of a branch's coped end. stock: of the branch; paper: thickness, mm; made: what the
    end is cut from."""
    flat = unrolled(cope, cope.at, cope.branch.run, stock, paper, LETTERS[cope.at], made.begins)
    return Pattern(
        template_name(cope.branch.piece, "wrap", cope.at),
        "wrap",
        f"Wrap for the {_end(cope)} end of {cope.branch.piece}, onto {cope.target.piece}",
        flat.drawn,
        flat.labels,
        flat.waste,
        cope_facts(cope, stock, flat.diameter, datum_facts(cope, flat.datum, made)),
        wrap_notes(after_cut(cope), stock, flat.datum, cope.at, made),
    )


def tab(right: float, low: float, high: float) -> Path:
    """Return the overlap tab of a seam at x = `right` between `low` and `high`, mm."""
    slant = min(4.0, 0.25 * (high - low))
    return Path.through([(right, low), (right + TAB, low + slant), (right + TAB, high - slant), (right, high)])


def between(half: float, seam: float, middle: float) -> float:
    """Return the u, mm, nearest to `middle`, mm, that lies half way between two clock lines. half: of the developed
    diameter, mm; seam: its clock, radians."""
    quarters = seam + (np.radians([45, 135, 225, 315]) - seam) % (2.0 * np.pi)
    return float(min(half * quarters, key=lambda u: abs(u - middle)))


def beside(u: float, v: float, text: str, height: float, right: float) -> Label:
    """Return a label beside a clock line at `u`, mm, on the side that keeps it off the seam at `right`, mm."""
    if right - u < max(5.0 * height, SIGN * height * len(text) + 3.0):
        return Label("text", (u - 1.5, v), text, height, anchor="right")
    return Label("text", (u + 1.5, v), text, height)


def _under(cut: Array, label: Label) -> Label:
    """Return a label, lowered where the cut line, (n, 2), mm, would run through it."""
    wide = SIGN * label.height * len(label.text) * (-1.0 if label.anchor == "right" else 1.0)
    over = np.interp(label.at[0] + np.linspace(0.0, wide, 9), *cut.T)
    return replace(label, at=(label.at[0], min(label.at[1], float(over.min()) - 1.5 * label.height)))


def short(name: str) -> str:
    """Return a name as it is lettered where there is little room: of a long one its beginning and its end, the same on
    every template.

    >>> short("primary.3"), short("the-first-primary-at-the-front")
    ('primary.3', 'the-f..front')
    """
    return name if len(name) <= LONGEST_NAME else f"{name[:5]}..{name[-5:]}"


def match_mark(run: str, clock: int, letters: str = "ABCD") -> str:
    """Return the match mark at a clock, degrees, that a run's end shares with what it lands on: 3B for
    run primary.3 at clock 90."""
    number = run.rpartition(".")[2]
    return f"{number if number.isdigit() else short(run)}{letters[CLOCKS.index(clock)]}"


def mark_height(mark: str) -> float:
    """Return how high a match mark is lettered, mm."""
    return 3.5 if len(mark) <= SHORT_MARK else LETTERING[0]


def mark_of(cope: Cope, clock: int) -> str:
    """Return the match mark on a target at a clock, degrees, of the branch's cut end."""
    return match_mark(cope.branch.run, gas_clock(cope.at, clock), LETTERS[cope.at])


def _end(cope: Cope) -> str:
    return {"on": "set-on", "in": "set-in"}[cope.set_]


def size_text(stock: PipeStock) -> str:
    """Return a stock's outside and wall for people."""
    how = "measured" if stock.measured else "table"
    return f"{stock.od:.2f} x {stock.wall:.2f} mm ({how})"


def stock_facts(stock: PipeStock) -> tuple[tuple[str, str], ...]:
    """Return the rows that say what pipe a wrap is for."""
    return ("Stock", f"{stock.label}, {stock.material.grade}"), ("Outside and wall", size_text(stock))


def datum_facts(end: CutEnd, datum: float, made: Blank) -> tuple[tuple[str, str], ...]:
    """Return the rows that say where a wrap is put. datum: its datum edge, mm from the square end of what is `made`."""
    least, most = (station - made.begins for station in end.cut_range)
    return (
        ("Datum edge", "the square end" if datum == 0.0 else f"{datum:.1f} mm from the square end"),
        ("Cut from the square end", f"{least:.2f} to {most:.2f} mm"),
        *((("Blank", f"{made.length:.1f} mm long, square at both ends"),) if made.length else ()),
    )


def cope_facts(
    cope: Cope, stock: PipeStock, diameter: float, where: tuple[tuple[str, str], ...]
) -> tuple[tuple[str, str], ...]:
    """Return the rows of a coped end's title block. diameter: developed, mm; where: the rows that say where its
    line lies."""
    return (
        ("Part", f"{cope.branch.piece}, {'gas end' if cope.at == 'end' else 'start'}, make 1"),
        *stock_facts(stock),
        ("Sits", f"{_end(cope)}, {cope.prep} cut, on {cope.target.piece}"),
        ("Lean and offset", f"{cope.lean:.2f} deg, {cope.offset:.2f} mm"),
        *where,
        ("Wrap", f"{np.pi * diameter:.2f} mm round"),
        ("Weld length", f"{cope.weld_length:.1f} mm"),
        ("Largest root gap", f"{cope.root_gap_max:.2f} mm"),
        *((("Fitted after", ", ".join(other.run for other in cope.neighbours)),) if cope.neighbours else ()),
        *((("Shares a plane with", ", ".join(mate.run for mate in cope.shares)),) if cope.shares else ()),
        *bevel_facts(cope.bevel_schedule, cope.bevel, cope.at, halved=bool(cope.shares)),
    )


def bevel_facts(
    schedule: Sequence[Ground], bevel: Bevel | None, at: Which, *, halved: bool = False
) -> tuple[tuple[str, str], ...]:
    """Return the rows that say how an end is ground, by the pipe's own clocks. at: which end it is; halved: whether
    it ends on a plane, to which its groove is told, and beyond which the other pipe gives the other half."""
    schedule = sorted(schedule, key=lambda row: gas_clock(at, round(row.clock)))
    wanted = f"groove at least {bevel.angle:g} deg, land {bevel.land:.3g} mm" if bevel else "just to clear"
    if max(row.grind for row in schedule) < GRIND:
        return (("Bevel", "none to clear"),)
    return (
        ("Bevel", wanted),
        ("Bevel at 0, 45, ... 315", _degrees([row.grind for row in schedule])),
        ("Groove that it leaves", _degrees([row.groove for row in schedule]) + (HALVED if halved else "")),
    )


def _degrees(values: Sequence[float]) -> str:
    """Return angles, degrees, for a row."""
    return ", ".join(f"{round(value) + 0:d}" for value in values) + " deg"


def after_cut(cope: Cope) -> str:
    """Return what follows the cut of a coped end, with a blank before it."""
    if cope.prep == "bevel":
        return " Then " + (GRIND_BACK if cope.set_ == "on" else "grind the end flush with the bore of the target.")
    return ""


def wrap_notes(then: str, stock: PipeStock, datum: float, at: Which, made: Blank) -> tuple[str, ...]:
    """Return what must be read before a cut end's wrap is used. then: what follows the cut, with a blank
    before it; datum: its datum edge, mm from the square end of what is `made`; at: which end of its pipe it is."""
    where = "" if datum == 0.0 else f" Put the datum edge {datum:.1f} mm from the square end."
    return (
        *((BOTH_CUT,) if made.length else ()),
        "Cut to the line and leave it; the hatched side is waste." + then + where,
        "The seam's edges must meet edge to edge: how they close is the best scale test there is.",
        "Clocks are the pipe's own, clockwise looking along the gas" + RUN[at],
        *stock_notes(stock),
    )


def stock_notes(stock: PipeStock) -> tuple[str, ...]:
    """Return the caution that a table's diameter needs, in mm; none for a measured one."""
    if stock.measured or not stock.od_tolerance:
        return ()
    miss = (
        f"Table diameter: this wrap may miss by {seam_miss(stock):.2f} mm at the seam "
        f"(outside diameter within {stock.od_tolerance:.2f} mm). Measure the pipe and enter it."
    )
    return (miss,)
