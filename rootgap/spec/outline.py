"""The outer edge of a flange: grown round its holes or a straight bar, cut apart or slit between its ports.

Terminology: the *row* is the direction from a flange's first port to its last, the drawing's x where it has one.
Between two ports a *free strip* is a stretch along the row, square across, that no opening or bolt hole reaches into.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import ConfigDict, Field

from rootgap.geometry.clipping import left_of, notched, right_of, span_at, turned
from rootgap.geometry.gaps import gap
from rootgap.geometry.openings import Opening, RoundedRectangle
from rootgap.geometry.outlines import flange_outline, hull
from rootgap.geometry.paths import Path, Point, Shape
from rootgap.geometry.polygons import inside
from rootgap.spec.fields import Model, PlateLength, both, neither, words_of

#: How far, mm, a chord may lie from a rim where its reach along the row is looked at.
RIM = 1e-4
#: Metal, mm, left between a cut and a bolt hole beside it where it goes between two (common practice, no source).
BESIDE = 3.0

Array = NDArray[np.float64]
Placing = tuple[Opening, Point, float]


class BarSpec(Model):
    """A straight bar along the row."""

    height: PlateLength = Field(examples=[80])
    radius: PlateLength = Field(examples=[10], description="of its four corners")


class SplitSpec(Model):
    """Plates cut apart between the ports."""

    gap: PlateLength = Field(examples=[3], description="between two plates")


class ReliefSpec(Model):
    """A saw cut between every two ports, from the edge in."""

    width: PlateLength = Field(examples=[3])
    depth: PlateLength = Field(examples=[25], description="from the edge to the bottom of its round end")
    side: Literal["up", "down", "both"] = Field(default="both", description="of the row: the edge it starts at")


class OutlineSpec(Model):
    """The outer edge: metal round every port and bolt, re-entrant corners filled by an arc; or a bar; cut apart or
    slit between the ports where asked."""

    model_config = ConfigDict(json_schema_extra={"anyOf": [{"required": ["fillet"]}, {"required": ["bar"]}]})

    edge: PlateLength = Field(description="metal left round each opening", examples=[13])
    boss: PlateLength = Field(description="radius of the metal round each bolt hole's centre", examples=[13])
    fillet: PlateLength | None = Field(
        default=None, description="radius of every re-entrant corner; needed where it is no bar", examples=[25]
    )
    bar: BarSpec | None = Field(default=None, description="a straight bar in place of the grown edge")
    split: SplitSpec | Literal["individual"] | None = Field(
        default=None, description='plates cut apart between the ports; "individual": each port\'s own edge'
    )
    relief: ReliefSpec | None = Field(default=None, description="saw cuts between the ports")

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each pair of keys that do not go together."""
        if neither(values, "fillet", "bar") and not set(values) - set(words_of(cls)):
            yield "fillet", "this key is missing; allowed: fillet, or bar"
        if both(values, "fillet", "bar"):
            yield "fillet", "leave it out: a bar has no re-entrant corners"
        if both(values, "split", "relief"):
            yield "relief", "leave it out: the plates are cut apart there already"
        if both(values, "split", "bar") and values["split"] == "individual":
            yield "split", "allowed with a bar: { gap = ... }"


@dataclass(frozen=True)
class Holes:
    """What an edge goes round. openings: (opening, centre, turn in degrees); bolts: centres; rims: of all holes in
    the plate, openings first; mm."""

    openings: Sequence[Placing]
    bolts: Sequence[Point]
    rims: Sequence[Shape]

    @property
    def row(self) -> complex:
        """The direction of the row, of length 1."""
        (x, y), (to_x, to_y) = self.openings[0][1], self.openings[-1][1]
        along = complex(to_x - x, to_y - y)
        return along / abs(along) if along else 1.0 + 0.0j

    def along(self, points: Array) -> Array:
        """Return points (n, 2), mm, along and across the row."""
        moved = (points[:, 0] + 1j * points[:, 1]) * self.row.conjugate()
        return np.column_stack([moved.real, moved.imag])


def edges(outline: OutlineSpec, holes: Holes) -> tuple[Path, ...]:
    """Return the outer edges of the plates of a flange, one where it is in one piece, in the order of its row.

    Raises ValueError where a grown edge falls apart, a bar is too low, or a cut finds no room.
    """
    if outline.split == "individual":
        return _individual(outline, holes)
    edge = _bar(outline, outline.bar, holes) if outline.bar else _grown(outline, holes.openings, holes.bolts)
    level = turned(edge, holes.row.conjugate())
    if outline.relief:
        level = _relieved(level, outline.relief, holes)
    parts: tuple[Path, ...] = (level,)
    if isinstance(outline.split, SplitSpec):
        half = 0.5 * outline.split.gap
        for at in _cuts(holes, outline.split.gap):
            last = parts[-1]
            parts = (*parts[:-1], *left_of(last, at - half), *right_of(last, at + half))
        if len(parts) != len(holes.openings):
            raise ValueError(f"the cuts leave {len(parts)} plates of {len(holes.openings)} ports; lower the fillet")
    found = tuple(turned(part, holes.row) for part in parts)
    if outline.relief or outline.split:
        _keep_metal(found, holes)
    return found


def _grown(outline: OutlineSpec, openings: Sequence[Placing], bolts: Sequence[Point]) -> Path:
    return flange_outline(openings, bolts, outline.edge, outline.boss, outline.fillet or 0.0)


def _bar(outline: OutlineSpec, bar: BarSpec, holes: Holes) -> Path:
    """Return the edge of a bar whose ends keep `edge` and `boss`, its middle that of all it goes round."""
    reach = [
        (*holes.along(np.array([(disc.x, disc.y)]))[0], disc.r + outline.edge)
        for opening, at, turn in holes.openings
        for disc in (disc.placed(at, turn) for disc in opening.discs())
    ]
    reach += [(*holes.along(np.array([at]))[0], outline.boss) for at in holes.bolts]
    x, y, r = np.array(reach).T
    low, high = (float((x - r).min()), float((y - r).min())), (float((x + r).max()), float((y + r).max()))
    if bar.height < high[1] - low[1]:
        raise ValueError(
            f"the bar is {bar.height:g} mm high; allowed: at least {np.ceil(10 * (high[1] - low[1])) / 10:g} mm, "
            "so that edge and boss are kept"
        )
    middle = complex(0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]))
    corners = RoundedRectangle(high[0] - low[0], bar.height, bar.radius)
    level = hull([disc.placed((middle.real, middle.imag), 0.0) for disc in corners.discs()])
    return turned(level, holes.row)


def _individual(outline: OutlineSpec, holes: Holes) -> tuple[Path, ...]:
    """Return an edge a port, each round the bolts that are nearer to its port than to any other."""
    ports = np.array([complex(*at) for _, at, _ in holes.openings])
    nearest = [int(np.argmin(np.abs(ports - complex(*at)))) for at in holes.bolts]
    found = tuple(
        _grown(outline, [opening], [at for at, port in zip(holes.bolts, nearest, strict=True) if port == number])
        for number, opening in enumerate(holes.openings)
    )
    for (one, a), (other, b) in pairwise(enumerate(found, start=1)):
        points, others = a.points(0.01), b.points(0.01)
        if inside(points, others).any() or inside(others, points).any():
            raise ValueError(f"the plates of ports {one} and {other} overlap; lower edge or boss, or split = {{ gap }}")
    return found


def _relieved(level: Path, relief: ReliefSpec, holes: Holes) -> Path:
    """Return a level edge with its saw cuts."""
    for at in _cuts(holes, relief.width):
        low, high = span_at(level, at)
        deep = relief.depth * (2.0 if relief.side == "both" else 1.0)
        if deep >= high - low:
            raise ValueError(
                f"relief: the cuts leave no metal of {high - low:.1f} mm; make them less deep, or use split"
            )
        for side in ("up", "down"):
            if relief.side in {side, "both"}:
                try:
                    if side == "up":
                        level = notched(level, at, relief.width, relief.depth)
                    else:
                        level = turned(notched(turned(level, -1.0), -at, relief.width, relief.depth), -1.0)
                except ValueError as fault:
                    raise ValueError(f"relief: {fault}") from None
    return level


def _cuts(holes: Holes, width: float) -> list[float]:
    """Return the places along the row, mm, of the cuts between neighbouring ports: in the middle of the widest free
    strip between bolts of each two, else of the widest there is. Raises ValueError where that is narrower than
    `width`, mm."""
    if len(holes.openings) < 2:
        raise ValueError("one port has nothing to cut between; allowed: two ports or more")
    spans = [holes.along(rim.points(RIM))[:, 0] for rim in holes.rims]
    reach = [(float(span.min()), float(span.max())) for span in spans]
    ports = sorted(range(len(holes.openings)), key=lambda number: reach[number])
    found = []
    for one, other in pairwise(ports):
        low, high = reach[one][1], reach[other][0]
        between = sorted(span for span in reach if span[1] > low and span[0] < high)
        strips, begin = [], low
        for span in between:
            strips.append((span[0] - begin, begin))
            begin = max(begin, span[1])
        strips.append((high - begin, begin))
        # A strip with bolts on both sides leaves each plate its own.
        inner = [strip for strip in strips[1:-1] if strip[0] >= width + 2.0 * BESIDE]
        free, begin = max(inner or strips, key=lambda strip: (round(strip[0], 6), -strip[1]))
        if free <= width:
            raise ValueError(
                f"between ports {one + 1} and {other + 1} the widest strip free of holes is {max(free, 0.0):.1f} mm; "
                f"a cut of {width:g} mm needs more"
            )
        found.append(begin + 0.5 * free)
    return found


def _keep_metal(plates: Sequence[Path], holes: Holes) -> None:
    """Raise ValueError where a cut leaves a hole no metal round it."""
    outlines = [plate.points(0.01) for plate in plates]
    for rim in holes.rims:
        point = rim.points(1.0)[:1]
        within = [plate for plate, outline in zip(plates, outlines, strict=True) if inside(point, outline)[0]]
        if not within or gap(rim, within[0]) < 0.1:
            x, y = rim.points(1.0).mean(axis=0)
            raise ValueError(f"a cut leaves no metal round the hole at [{x:.1f}, {y:.1f}]; make it less deep")
