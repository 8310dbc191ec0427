"""Parameter files of flanges."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from rootgap.geometry.loops import anticlockwise, fault_of, overlap
from rootgap.geometry.openings import Dee, Freeform, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Circle, Path
from rootgap.geometry.polygons import inside, to_outline
from rootgap.spec.fields import (
    LONGEST_ON_PLATE,
    Angle,
    Misfit,
    Model,
    Name,
    PlateLength,
    Point2,
    Text,
    at_most,
    length,
)
from rootgap.spec.toml import Key, dotted
from rootgap.spec.words import one_of
from rootgap.stock import Material, material

MOST_PORTS = 64
MOST_BOLTS = 256
#: Vertices of an opening's path, and of an outer edge's: a trace with more wants a coarser tolerance.
MOST_CORNERS = 100
MOST_EDGE_CORNERS = 1000
#: An arc of nearly a whole turn between two corners (no unit): its place has lost its digits.
MOST_BULGE = 100.0
#: How far, mm, a chord may lie from a rim where holes are looked at for overlap.
RIM = 0.02

Array = NDArray[np.float64]


def _material_word(word: str) -> str:
    """Return the word if the tables know it. Raises StockError."""
    return material(word).grade


MaterialWord = Annotated[str, AfterValidator(_material_word)]


def first_overlap(rims: Sequence[Array]) -> tuple[int, int] | None:
    """Return the indices of the first two of the `rims`, each (n, 2), mm, that overlap, or None.

    >>> square = np.array([[0, 0], [2, 0], [2, 2], [0, 2.0]])
    >>> first_overlap([square, square + 3.0, square + 1.0])
    (0, 2)
    """
    low = np.array([rim.min(axis=0) for rim in rims])
    high = np.array([rim.max(axis=0) for rim in rims])
    near = ((low[:, None] < high[None, :]) & (low[None, :] < high[:, None])).all(axis=2)
    for a, b in np.argwhere(np.triu(near, 1)):
        # No line parts two that fit into each other's hollows: then it is asked of the rims themselves.
        if not _parted(rims[a], rims[b]) and not _parted(rims[b], rims[a]) and overlap(rims[a], rims[b]):
            return int(a), int(b)
    return None


def _parted(rim: Array, other: Array) -> bool:
    """Tell whether the line of some side has all of `rim` on one side of it and all of `other` on the other."""
    sides = np.roll(rim, -1, axis=0) - rim
    out = np.column_stack([sides[:, 1], -sides[:, 0]])
    turn = np.sign(np.sum(rim[:, 0] * np.roll(rim[:, 1], -1) - np.roll(rim[:, 0], -1) * rim[:, 1]))
    at = np.sum(rim * out, axis=1)
    parts = ((turn * (other @ out.T - at)).min(axis=0) > -1e-9) & ((turn * (rim @ out.T - at)).max(axis=0) < 1e-9)
    return bool(parts.any())


class RoundOpening(Model):
    """A round opening of a diameter."""

    round: PlateLength = Field(examples=[40])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Round(self.round)


class RoundedOpening(Model):
    """A rectangle of a width and height with rounded corners."""

    rounded: tuple[PlateLength, PlateLength] = Field(examples=[[36, 30]])
    radius: PlateLength = Field(examples=[8])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return RoundedRectangle(*self.rounded, self.radius)


class OvalOpening(Model):
    """Two half circles joined by straights; width and height over all."""

    oval: tuple[PlateLength, PlateLength] = Field(examples=[[44, 30]])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Oval(*self.oval)


class DeeOpening(Model):
    """Flat below, round above; width and height over all, radius of the two flat corners."""

    dee: tuple[PlateLength, PlateLength] = Field(examples=[[40, 36]])
    radius: PlateLength = Field(examples=[5])

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Dee(*self.dee, self.radius)


def _corner(value: Any, info: ValidationInfo) -> tuple[float, float, float]:
    """Return a corner (x, y, bulge), mm and no unit. Raises ValueError for what is none."""
    if not isinstance(value, list | tuple) or not 2 <= len(value) <= 3:
        raise ValueError("allowed: [x, y], or [x, y, bulge] where an arc leaves the corner")
    x, y = (at_most(LONGEST_ON_PLATE, "from a flange's datum")(length(each, info)) for each in value[:2])
    bulge = value[2] if len(value) > 2 else 0.0
    if isinstance(bulge, bool) or not isinstance(bulge, int | float) or not abs(bulge) <= MOST_BULGE:
        raise ValueError(f"allowed: a bulge, tan(sweep / 4), of {-MOST_BULGE:g} to {MOST_BULGE:g}")
    return x, y, float(bulge)


Corner = Annotated[
    tuple[float, float, float],
    BeforeValidator(_corner),
    WithJsonSchema(
        {
            "type": "array",
            "minItems": 2,
            "maxItems": 3,
            "items": {"anyOf": [{"type": "number"}, {"type": "string"}]},
            "description": "[x, y] or [x, y, bulge]: tan(sweep / 4) of the arc that leaves the corner, + anticlockwise",
        }
    ),
]


class PathOpening(Model):
    """A closed path of lines and arcs round the port's middle."""

    path: Annotated[tuple[Corner, ...], Field(min_length=2, max_length=MOST_CORNERS)] = Field(
        examples=[[[-20, -15], [20, -15, 0.4], [20, 15], [-20, 15]]]
    )

    def opening(self) -> Opening:
        """Return the opening in closed form, mm."""
        return Freeform(self.path)


OpeningSpec = Annotated[
    Annotated[RoundOpening, Tag("<round>")]
    | Annotated[RoundedOpening, Tag("<rounded>")]
    | Annotated[OvalOpening, Tag("<oval>")]
    | Annotated[DeeOpening, Tag("<dee>")]
    | Annotated[PathOpening, Tag("<path>")],
    one_of("round", "rounded", "oval", "dee", "path"),
]


class PortSpec(Model):
    """One opening in a flange. at: its centre; angle: turn, anticlockwise in the flange's view."""

    at: Point2 = Field(examples=[[92, 0]])
    opening: OpeningSpec = Field(examples=[{"round": 40}])
    angle: Angle = 0.0

    @model_validator(mode="after")
    def _can_be(self) -> PortSpec:
        try:
            self.opening.opening()
        except ValueError as fault:
            raise Misfit(("opening",), str(fault)) from None
        return self


class BoltSpec(Model):
    """A set of equal bolt holes."""

    at: Annotated[tuple[Point2, ...], Field(min_length=1, max_length=MOST_BOLTS)] = Field(
        examples=[[[-34, 20], [-34, -20]]]
    )
    hole: PlateLength = Field(examples=[9], description="diameter")
    thread: Text = Field(default="", examples=["M8"])


class OutlineSpec(Model):
    """The outer edge: metal round every port and bolt, re-entrant corners filled by an arc."""

    edge: PlateLength = Field(description="metal left round each opening", examples=[13])
    boss: PlateLength = Field(description="radius of the metal round each bolt hole's centre", examples=[13])
    fillet: PlateLength = Field(description="radius of every re-entrant corner", examples=[25])


class PathOutline(Model):
    """The outer edge as somebody drew it."""

    path: Annotated[tuple[Corner, ...], Field(min_length=2, max_length=MOST_EDGE_CORNERS)] = Field(
        examples=[[[-60, -40], [60, -40], [60, 40], [-60, 40]]]
    )

    def edge(self) -> Path:
        """Return the outer edge, anticlockwise, mm. Raises ValueError where it crosses itself."""
        path = Path(self.path, closed=True)
        fault = fault_of(path)
        if fault:
            raise ValueError(fault)
        return anticlockwise(path)


def _outline_tag(value: Any) -> str:
    drawn = "path" in value if isinstance(value, dict) else isinstance(value, PathOutline)
    return "<path>" if drawn else "<edge>"


AnyOutline = Annotated[
    Annotated[OutlineSpec, Tag("<edge>")] | Annotated[PathOutline, Tag("<path>")], Discriminator(_outline_tag)
]


class FlangePart(Model):
    """A flange plate. The drawing's x is right and y up, seen from where the gas goes: a head
    flange from its pipe side, a turbine inlet flange from the turbine."""

    name: Name = Field(examples=["head-sand-rail-four"])
    kind: Literal["flange"] = Field(examples=["flange"])
    title: Text = ""
    units: Literal["mm", "in"] = Field(examples=["mm"])
    material: MaterialWord = Field(examples=["carbon steel"])
    thickness: PlateLength = Field(examples=[12])
    note: Text = ""
    port: Annotated[tuple[PortSpec, ...], Field(min_length=1, max_length=MOST_PORTS)] = Field(
        examples=[[{"at": [0, 0], "opening": {"round": 40}}]]
    )
    bolts: Annotated[tuple[BoltSpec, ...], Field(max_length=MOST_BOLTS)] = Field(
        default=(), examples=[[{"hole": 9, "at": [[-34, 20]]}]]
    )
    outline: AnyOutline = Field(examples=[{"edge": 13, "boss": 13, "fillet": 25}])

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault where the sets of bolt holes have too many in all."""
        groups = values.get("bolts")
        if isinstance(groups, list) and len(groups) <= MOST_BOLTS:
            places = [group["at"] for group in groups if isinstance(group, dict) and isinstance(group.get("at"), list)]
            count = sum(map(len, places))
            if count > MOST_BOLTS and max(map(len, places)) <= MOST_BOLTS:
                yield "bolts", f"{count} holes in all; allowed: at most {MOST_BOLTS}"

    @model_validator(mode="after")
    def _leaves_metal(self) -> FlangePart:
        if isinstance(self.outline, PathOutline):
            return self
        widest = max((group.hole for group in self.bolts), default=0.0)
        if self.outline.boss <= 0.5 * widest:
            allowed = f"allowed: above {0.5 * widest:g} mm, so that metal is left round a hole of {widest:g} mm"
            raise Misfit(("outline", "boss"), allowed)
        return self

    @model_validator(mode="after")
    def _holes_are_apart(self) -> FlangePart:
        if len(self.holes()) > MOST_BOLTS:
            return self  # A fault already, and too many to compare.
        rims = self._rims()
        clash = first_overlap([rim for _, rim in rims])
        if clash:
            (other, _), (key, _) = rims[clash[0]], rims[clash[1]]
            raise Misfit(key, f"overlaps the one of {dotted(other)}; allowed: metal between")
        return self

    @model_validator(mode="after")
    def _lies_within_its_edge(self) -> FlangePart:
        if isinstance(self.outline, PathOutline) and len(self.holes()) <= MOST_BOLTS:
            try:
                edge = self.outline.edge().points(RIM)
            except ValueError as fault:
                raise Misfit(("outline", "path"), f"the path {fault}") from None
            for key, rim in self._rims():
                within = inside(rim, edge)
                if not within.all():
                    past = to_outline(rim[~within], edge).max()
                    raise Misfit(key, f"reaches {past:.2f} mm beyond the path of outline; allowed: metal round it")
        return self

    def _rims(self) -> list[tuple[Key, Array]]:
        """Return (key, points along its rim, (n, 2), mm) of every port and bolt hole."""
        rims: list[tuple[Key, Array]] = [
            (("port", index, "at"), placed(port.opening.opening().shape(), port.at, port.angle).points(RIM))
            for index, port in enumerate(self.port)
        ]
        rims += [
            (("bolts", number, "at", index), Circle(at, 0.5 * group.hole).points(RIM))
            for number, group in enumerate(self.bolts)
            for index, at in enumerate(group.at)
        ]
        return rims

    @property
    def metal(self) -> Material:
        """The material, as the tables have it."""
        return material(self.material)

    def holes(self) -> tuple[tuple[tuple[float, float], float, str], ...]:
        """Return (centre, diameter, thread) of every bolt hole, mm."""
        return tuple((at, group.hole, group.thread) for group in self.bolts for at in group.at)

    def edge(self) -> Path:
        """Return the outer edge as lines and arcs. Raises ValueError where it falls apart."""
        outline = self.outline
        if isinstance(outline, PathOutline):
            return outline.edge()
        openings = [(port.opening.opening(), port.at, port.angle) for port in self.port]
        return flange_outline(openings, [at for at, _, _ in self.holes()], outline.edge, outline.boss, outline.fillet)
