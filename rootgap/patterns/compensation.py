"""Cut paths for a table whose software takes them as they are: half a kerf in the waste, with leads, one way round.

Terminology
    waste      what is not the part: outside its outside, inside its insides
    travel     outsides are gone round clockwise and insides anticlockwise, so that the waste lies to the left
               (common practice for a torch whose gas swirls clockwise)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.offsets import offset, turned_back
from rootgap.geometry.paths import Array, Circle, Path, Shape
from rootgap.patterns.cutting import outside
from rootgap.patterns.pattern import Drawn, Pattern, purpose
from rootgap.spec import LeadSpec, TablePart

#: Shares of a lead's length that are tried where it is to pierce far enough off, the first before the next; and those
#: where there is no such room.
LONGER = (1.0, 1.25, 1.5)
SHORTER = (1.0, 0.8, 0.6, 0.45, 0.3, 0.2)
#: Even a short lead's outer end is this share of its reach from every contour.
OPEN = 0.6
#: A line that leads off leaves the contour at this angle, degrees, so that it is not the one that led in.
OFF = 45.0
_EIGHTH = float(np.tan(np.pi / 8))


def compensated(pattern: Pattern, table: TablePart) -> Pattern:
    """Return a plate's pattern with every cut half a kerf in the waste and its leads on layers `lead.in` and
    `lead.out`. Raises GeometryError where a contour is narrower than the kerf."""
    if table.offset != "here":
        return pattern
    moved: list[tuple[str, Path]] = []
    for item in pattern.drawn:
        if purpose(item.layer) == "cut":
            try:
                moved.append((item.layer, _placed(item.shape, 0.5 * table.kerf, out=outside(item.layer))))
            except ValueError as fault:
                what = f"{fault}, half the kerf"
                remedy = f"raise hole.least of the table {table.name} to drill it, or leave the offset to the table"
                raise GeometryError(pattern.name, what, remedy) from None
    rims = [path.points(0.05) for _, path in moved]
    drawn = [item for item in pattern.drawn if purpose(item.layer) != "cut"]
    short = 0
    for number, (layer, path) in enumerate(moved):
        begun, lead_in, lead_out, enough = _led(path, rims, number, table, hole=not outside(layer))
        short += int(not enough)
        drawn += [Drawn("lead.in", lead_in)] if lead_in else []
        drawn.append(Drawn(layer, begun))
        drawn += [Drawn("lead.out", lead_out)] if lead_out else []
    notes = (f"Cuts are moved {0.5 * table.kerf:g} mm into the waste: switch the software's kerf off.", *pattern.notes)
    if short:
        which = f"{short} contours have" if short > 1 else "1 contour has"
        notes += (f"{which} no room to pierce {table.pierce:g} mm from the edge: drill a start hole.",)
    return replace(pattern, drawn=tuple(drawn), notes=notes)


def _placed(shape: Shape, aside: float, *, out: bool) -> Path:
    """Return a contour `aside` mm in the waste, gone round with the waste to the left."""
    moved = offset(shape, aside if out else -aside)
    if isinstance(moved, Circle):
        (x, y), r = moved.center, moved.radius
        moved = Path(((x + r, y, 1.0), (x - r, y, 1.0)), closed=True)
    return turned_back(moved) if (moved.area > 0.0) == out else moved


def _led(
    path: Path, rims: Sequence[Array], own: int, table: TablePart, *, hole: bool
) -> tuple[Path, Path | None, Path | None, bool]:
    """Return `path`, begun where there is room for its leads, the leads, None where there are none, and whether it is
    pierced as far off as the table wants. rims: points of all contours, (n, 2), mm; own: the number of this one."""
    spec = table.lead_in
    if spec.form == "none":
        return path, None, None, True
    begins = tuple(_begins(path))
    for enough, shares in ((True, LONGER), (False, SHORTER)):
        for share in shares:
            least = table.pierce - 1e-6 if enough else max(OPEN * share * spec.reach, table.kerf)
            for begun, at, way in begins:
                lead = _lead(spec, at, way, share, off=False)
                if lead is not None and _off(lead, rims, own, hole=hole) >= least:
                    return begun, lead, _lead(table.lead_out, at, way, min(share, 1.0), off=True), enough
    return path, None, None, False


def _begins(path: Path) -> Iterator[tuple[Path, complex, complex]]:
    """Yield `path` begun in the middle of a segment, the longest first, with that point, mm, and the way there."""
    segments = [(complex(*start), complex(*end), bulge) for start, end, bulge in path.segments()]
    sizes = [round(abs(b - a) * (1.0 if not bulge else 0.999), 6) for a, b, bulge in segments]
    for number in sorted(range(len(segments)), key=lambda index: (-sizes[index], index)):
        a, b, bulge = segments[number]
        half = np.tan(0.5 * np.arctan(bulge))
        at = 0.5 * (a + b) - 0.5j * bulge * (b - a)
        vertices = list(path.vertices[number + 1 :] + path.vertices[: number + 1])
        vertices[-1] = (*vertices[-1][:2], float(half))
        yield Path(((at.real, at.imag, float(half)), *vertices), closed=True), at, (b - a) / abs(b - a)


def _lead(spec: LeadSpec, at: complex, way: complex, share: float, *, off: bool) -> Path | None:
    """Return a lead to the point `at`, mm, of a contour that goes on in direction `way`, or `off` it."""
    waste, reach = 1j * way, share * spec.reach
    if spec.form == "none":
        return None
    if spec.form == "arc":
        ends = at + waste * reach + (way if off else -way) * reach
        bulge = _EIGHTH
    else:
        lean = np.exp(-1j * np.radians(OFF)) if off else 1.0
        ends, bulge = at + waste * lean * reach, 0.0
    first, last = (at, ends) if off else (ends, at)
    return Path(((first.real, first.imag, bulge), (last.real, last.imag, 0.0)))


def _off(lead: Path, rims: Sequence[Array], own: int, *, hole: bool) -> float:
    """Return how far a lead's outer end is from every contour, mm; 0 where it is not in the waste."""
    (x, y, _), _ = lead.vertices
    if _inside(x, y, rims[own]) != hole:
        return 0.0
    return min(float(np.hypot(*(rim - (x, y)).T).min()) for rim in rims)


def _inside(x: float, y: float, rim: Array) -> bool:
    (x0, y0), (x1, y1) = rim.T, np.roll(rim, -1, axis=0).T
    crossing = (y0 > y) != (y1 > y)
    at = x0[crossing] + (y - y0[crossing]) * (x1[crossing] - x0[crossing]) / (y1[crossing] - y0[crossing])
    return bool((at > x).sum() % 2)
