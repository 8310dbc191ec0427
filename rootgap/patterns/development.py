"""Developments: cones and transitions of sheet, laid flat, to cut, roll and fold.

Coordinates: the outside of the sheet faces up; the start of the part, where the gas comes in, is
below. Lengths are those of the sheet's middle (the neutral line of a bend is taken there: for
radii of many thicknesses the difference is small; common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.development import Development, Sector, developed, right_cone
from rootgap.geometry.passages import Lobed
from rootgap.geometry.paths import Circle, Path, Point
from rootgap.geometry.transition import Transition, transition
from rootgap.joints.merge import Merge
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock
from rootgap.patterns.wrap import LETTERING, SIGN

Array = NDArray[np.float64]

#: Where a crease is lettered, as a share of it from the start: below what stands in the middle.
CREASES = 0.15
#: Height of what stands beside a line, mm.
BESIDE = 2.5
#: Height of the word in the middle, and how far off the middle it and the name stand at least, mm.
OUTSIDE, APART = 5.0, 4.0
#: Bend lines are drawn at this spacing round the part, degrees, and where a flat begins or ends.
BENDS = 15.0
#: Nearer than this to a flat's edge none is drawn, degrees.
NEAREST = 5.0
#: mm. Arcs stay this near to the computed points; those lie 0.002 mm from the curve.
TOLERANCE = 0.005
#: Shares of the length at which the area is reported.
STATIONS = (0.0, 0.25, 0.5, 0.75, 1.0)


def cone_pattern(name: str, start: float, end: float, length: float, thickness: float, material: str) -> Pattern:
    """Return the flat of a concentric cone of sheet.

    start, end: bores in the planes of its ends, mm; length: between them, mm; thickness: mm;
    material: what stands in the title block. Raises ValueError for sizes that make no cone.
    """
    made = transition(Circle((0.0, 0.0), start / 2), Circle((0.0, 0.0), end / 2), length, thickness)
    # The sheet leans, so its middle crosses an end's plane further out than half a thickness.
    half = 0.5 * thickness * float(np.hypot(length, (end - start) / 2)) / length
    sector = right_cone(start / 2 + half, end / 2 + half, length)
    count = round(360.0 / BENDS)
    turns = sector.angle * (np.arange(1, count) / count - 0.5)
    seams = (sector.ruling(-sector.angle / 2), sector.ruling(sector.angle / 2))
    fold = BENDS * float(np.cos(np.arctan(abs(end - start) / 2 / length)))
    low, high = (sector.at(0.0, share) for share in ((1.0, 0.0) if sector.wide_start else (0.0, 1.0)))
    labels = _labels(name, low, high, seams)
    return Pattern(
        name,
        "development",
        f"Cone {start:.2f} to {end:.2f} mm bore, {length:g} mm long",
        _drawn(sector.outline, [sector.ruling(float(turn)) for turn in turns], seams),
        labels,
        (),
        (
            ("Part", f"{name}, make 1"),
            ("Material", f"{material}, {thickness:g} mm"),
            ("Bores and length", f"{start:.2f} to {end:.2f} mm, {length:.2f} mm"),
            *_compass(sector),
            ("Bend lines", f"{count - 1}, {fold:.1f} deg between neighbours, or roll evenly"),
            *_common(made, sector.outline, sector.slant),
        ),
        _notes(made),
        PlateStock(material, thickness),
    )


def transition_pattern(
    name: str, made: Transition, material: str, seam: float | None = None, title: str = ""
) -> Pattern:
    """Return the flat of a transition of sheet.

    material: what stands in the title block; seam: direction of the seam from the middle, degrees
    anticlockwise from +x, looking against the gas; without it, see `best_seam`.
    """
    seam = best_seam(made) if seam is None else seam
    flat, directions = made.flat(seam)
    bends = bend_numbers(directions)
    outline = flat.outline(TOLERANCE)
    middle = len(flat.lower) // 2
    low, high = ((float(rim[middle, 0]), float(rim[middle, 1])) for rim in (flat.lower, flat.upper))
    folds = bend_angles(flat, bends)
    return Pattern(
        name,
        "development",
        title or f"Transition, {made.length:g} mm long",
        _drawn(outline, [flat.ruling(number) for number in bends], flat.seams),
        _labels(name, low, high, flat.seams),
        (),
        (
            ("Part", f"{name}, make 1"),
            ("Material", f"{material}, {made.wall:g} mm"),
            ("Length", f"{made.length:.2f} mm between the planes of its ends"),
            ("Bore girths", f"start {made.start.girth:.1f} mm, end {made.end.girth:.1f} mm"),
            ("Bend lines", f"{len(bends)}, from the left, deg: {_told(folds)}"),
            # Clock 0 is +y of a section, and clocks count as its angles do: both are seen against the gas.
            ("Seam at", f"clock {(seam - 90.0) % 360.0:.4g} of the run"),
            *_common(made, outline, flat.seam_length),
        ),
        _notes(made),
        PlateStock(material, made.wall),
    )


def lobed_pattern(
    name: str, merge: Merge, station: float, bore: float, length: float, thickness: float, material: str
) -> Pattern:
    """Return the flat of a cone of sheet from a merge's opening to round.

    station: of the opening's plane on the merge's axis, mm; bore: diameter of the round end, mm; length:
    mm between the planes; thickness: of the sheet, mm; material: what stands in the title block.

    The sheet's bore meets the legs' bores. Its middle is taken half a thickness outside them, in the
    legs and at the round end. Points of equal angle are joined; the sheet twists on its way from a lobe
    to round, and has to be dressed for it: its flat keeps all edges and rulings at their lengths. The seam
    runs in the middle of the first leg's lobe. Raises ValueError where a size is not positive.
    """
    if not (bore > 0 and length > 0 and thickness > 0):
        raise ValueError(
            f"lobed cone: bore {bore:g} mm, length {length:g} mm, sheet {thickness:g} mm; allowed: more than 0"
        )
    corners = np.array([merge.wedge * (2 * number + 1) for number in range(merge.count)])
    inside, middle = (
        Lobed(partial(_opening, merge, station, merge.r_in + out), corners, bore / 2 + out, length)
        for out in (0.0, thickness / 2)
    )
    low, high, psi = middle.rims(also=np.radians(np.arange(0.0, 360.0, BENDS)))
    flat = developed(low, high)
    creases = {int(np.argmin(np.abs(psi - corner))) for corner in corners}
    bends = _spread(np.degrees(psi), creases)
    outline = flat.outline(TOLERANCE)
    half = len(flat.lower) // 2
    start, end = ((float(rim[half, 0]), float(rim[half, 1])) for rim in (flat.lower, flat.upper))
    girth, least = merge.girth(station, merge.r_in), inside.least_area
    folds = [angle for number, angle in zip(bends, bend_angles(flat, bends), strict=True) if number not in creases]
    turn = _crease(middle, float(corners[0]))
    way, side = "towards you" if turn < 0 else "away from you", "before" if station < 0 else "past"
    plain = [number for number in bends if number not in creases]
    lines = [flat.ruling(number) for number in sorted(creases)]
    return Pattern(
        name,
        "development",
        f"Lobed cone, {merge.count} legs to {bore:.2f} mm bore, {length:g} mm long",
        (
            *_drawn(outline, [flat.ruling(number) for number in plain], flat.seams),
            *(Drawn("mark.crease", line) for line in lines),
        ),
        (*_labels(name, start, end, flat.seams), *(_beside(line, "crease", 2.5, CREASES) for line in lines)),
        (),
        (
            ("Part", f"{name}, make 1"),
            ("Material", f"{material}, {thickness:g} mm"),
            ("Opening", f"{merge.count} lobes, {abs(station):.2f} mm {side} {merge.id}'s apex"),
            ("Length", f"{length:.2f} mm between the planes of its ends"),
            ("Bore girths", f"start {girth:.1f} mm, as round {girth / np.pi:.1f} mm; end {np.pi * bore:.1f} mm"),
            ("Bend lines", f"{len(folds)} besides the creases, from the left, deg: {_told(folds)}"),
            ("Creases", f"{merge.count}, {abs(turn):.1f} deg {way} at the start, dying out to the end"),
            ("Twist", f"up to {_twist(low, high):.1f} deg from end to end of a bend line"),
            *_sheet(outline, flat.seam_length, inside.areas(STATIONS), least),
            ("Walls lean up to", f"{inside.largest_lean:.1f} deg"),
        ),
        (
            f"Outside up: the marked face comes out outside. Bend every line away from you, creases {way}.",
            "The sheet twists between a lobe and the round end: dress it over a former or a tube as it is bent.",
            _net(thickness),
        ),
        PlateStock(material, thickness),
    )


def _opening(merge: Merge, station: float, radius: float, psi: Array) -> Array:
    return merge.outline(station, radius, psi)


def _crease(made: Lobed, corner: float) -> float:
    """Return the turn of the outline at a corner between two equal lobes, degrees, negative inwards."""
    step = 1e-6
    rho = made.outline(corner - step * np.array([2.0, 1.0]))
    return float(2.0 * np.degrees(np.arctan2(rho[1] - rho[0], step * rho[1])))


def _twist(low: Array, high: Array) -> float:
    """Return the largest angle between a panel's faces at its two rims, degrees. low, high: (n, 3), mm."""
    steps = [np.roll(rim, -1, axis=0) - rim for rim in (low, high)]
    ruling = high - low + 0.5 * (steps[1] - steps[0])
    first, last = (np.cross(step, ruling) for step in steps)
    across = np.linalg.norm(np.cross(first, last), axis=1)
    return float(np.degrees(np.arctan2(across, np.einsum("ij,ij->i", first, last)).max()))


def best_seam(made: Transition) -> float:
    """Return the direction for a seam, degrees: the middle of the longest flat, where its edges stay
    straight and level; with no flats, the shortest ruling."""
    rims = (made.start, made.end)
    if max(float(rim.flats.max()) for rim in rims) > 1.0:
        rim = max(rims, key=lambda each: float(each.flats.max()))
        return float(np.degrees(rim.starts[int(np.argmax(np.round(rim.flats, 6)))]))
    low, high, directions = made.rims(0.0)
    lengths = np.round(np.linalg.norm(high - low, axis=1), 6)
    return float(np.degrees(directions[int(np.argmin(lengths))]) % 360.0)


def bend_numbers(directions: Array) -> list[int]:
    """Return the numbers of the rulings to bend at. directions: of all rulings, (n + 1,), radians.

    A flat is a pair of rulings of one direction: both are bend lines but where the seam lies in it.
    """
    turned = np.degrees(directions - directions[0])
    inner = np.arange(1, len(directions) - 1)
    same = np.isclose(np.diff(turned), 0.0, atol=1e-3)
    flats = {int(number) for number in inner if same[number] or same[number - 1]}
    return _spread(turned, flats)


def _spread(turned: Array, fixed: set[int]) -> list[int]:
    """Return `fixed` numbers of rulings and those spread between them. turned: of all, degrees from the seam."""
    edges = np.array([0.0, 360.0, *(turned[number] for number in fixed)])
    wanted = BENDS * np.arange(1, round(360.0 / BENDS))
    free = [turn for turn in wanted if np.abs(edges - turn).min() >= NEAREST]
    return sorted({*fixed, *(int(np.argmin(np.abs(turned - turn))) for turn in free)})


def bend_angles(flat: Development, bends: Sequence[int]) -> list[float]:
    """Return the bend at each of `bends`, degrees: every ruling's fold goes to the nearest of them.

    On either side of the seam the sheet is bent as far as the weld asks.
    """
    numbers = np.arange(1, len(flat.folds) - 1)
    nearest = np.abs(numbers[:, None] - np.array(bends)).argmin(axis=1)
    return [float(angle) for angle in np.bincount(nearest, flat.folds[1:-1], len(bends))]


def _drawn(outline: Path, bends: Sequence[Path], seams: Sequence[Path]) -> tuple[Drawn, ...]:
    return (
        Drawn("cut", outline),
        *(Drawn("mark", line) for line in bends),
        *(Drawn("edge.seam", line) for line in seams),
    )


def _compass(sector: Sector) -> tuple[tuple[str, str], ...]:
    first, last = (sector.r_outer, sector.r_inner) if sector.wide_start else (sector.r_inner, sector.r_outer)
    chord = 2.0 * sector.r_outer * float(np.sin(np.radians(min(sector.angle, 180.0) / 2)))
    over = f", outer chord {chord:.2f} mm" if sector.angle <= 180.0 else ""
    return (("Compass", f"start {first:.2f}, end {last:.2f} mm, {sector.angle:.3f} deg{over}"),)


def _common(made: Transition, outline: Path, seam_length: float) -> tuple[tuple[str, str], ...]:
    out = 0.5 * made.wall * float(np.sin(np.radians(made.largest_lean)))
    return (
        *_sheet(outline, seam_length, made.areas(STATIONS), made.least_area),
        ("Walls lean up to", f"{made.largest_lean:.1f} deg"),
        ("Ends before dressing", f"within {out:.2f} mm of flat: they are cut square to the sheet"),
    )


def _sheet(
    outline: Path, seam_length: float, areas: Array, least: tuple[float, float]
) -> tuple[tuple[str, str], ...]:
    """Return the rows on the sheet and the bore's areas. areas: at STATIONS, mm2; least: area, mm2, and its share."""
    left, low, right, high = outline.bounds()
    area, share = least
    where = {0.0: "at the start", 1.0: "at the end"}.get(share, f"{100.0 * share:.0f} % of the way")
    return (
        ("Seen from", "outside; start (gas in) below"),
        ("Developed on", "the middle of the sheet"),
        ("Sheet", f"{right - left:.1f} x {high - low:.1f} mm, {abs(outline.area):.0f} mm2"),
        ("Seam", f"{seam_length:.2f} mm, edges butt"),
        ("Bore area on the way", ", ".join(f"{each:.0f}" for each in areas) + " mm2 at each quarter"),
        ("Least bore area", f"{area:.0f} mm2, {where}"),
        ("Least against start", f"{area / areas[0]:.3f}"),
    )


def _notes(made: Transition) -> tuple[str, ...]:
    return ("Outside up: the marked face comes out outside. Bend every line away from you.", _net(made.wall))


def _net(thickness: float) -> str:
    return f"Made for {thickness:g} mm sheet: measure the sheet."


def _labels(name: str, low: Point, high: Point, seams: Sequence[Path]) -> tuple[Label, ...]:
    """Return the lettering, the rims' and seams' names outside. low, high: ends of the middle ruling, mm."""
    start, end = complex(*low), complex(*high)
    seams = sorted(seams, key=lambda seam: float(np.mean(seam.vertices, axis=0)[0]))
    left, right = (complex(*np.mean(seam.vertices, axis=0)[:2]) for seam in (seams[0], seams[-1]))
    height = float(np.clip(0.9 * abs(right - left) / (SIGN * len(name)), *LETTERING))
    # Square to the way from seam to seam: the middle ruling itself may be the slanted edge of a flat.
    along = 1j * (right - left) / abs(right - left)
    middle, apart = start + 0.45 * (end - start), max(0.1 * abs(end - start), APART)
    places = ((middle + apart * along, name, height), (middle - apart * along, "OUTSIDE", OUTSIDE),
              (start - 7.0 * along, "start", 3.5), (end + 3.5 * along, "end", 3.5))  # fmt: skip
    angle = float(np.degrees(np.angle(along))) - 90.0
    out = [Label("text", (at.real, at.imag), text, height, angle, "middle") for at, text, height in places]
    out += [_beside(line, "seam", aside) for line, aside in zip(seams, (2.5, -5.0), strict=True)]
    return tuple(out)


def _beside(line: Path, text: str, aside: float, share: float = 0.5) -> Label:
    """Return lettering along a line of two points, `aside` mm to its left, seen from below up, at a share of its
    length from below."""
    first, last = sorted((complex(x, y) for x, y, _ in line.vertices), key=lambda z: z.imag)
    along = (last - first) / abs(last - first)
    if along.real < 0.0:
        # Lettering stands to the left of its baseline: turned, so as not to lean on its head, it needs the other one.
        aside += BESIDE
    at = first + share * (last - first) + 1j * aside * along
    angle = float(np.degrees(np.angle(along if along.real >= 0.0 else -along)))
    return Label("text", (at.real, at.imag), text, BESIDE, angle, "middle")


def _told(folds: Sequence[float]) -> str:
    """Return the bends from left to right in whole degrees, equal neighbours together."""
    groups = [(word, len(list(group))) for word, group in groupby(f"{fold:.0f}" for fold in folds)]
    return ", ".join(word if count == 1 else f"{count} of {word}" for word, count in groups)
