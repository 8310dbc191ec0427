"""Parameter files of flanges."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from rootgap.errors import StockError, UnitError
from rootgap.geometry.loops import anticlockwise, fault_of, overlap
from rootgap.geometry.openings import Dee, Freeform, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.geometry.polygons import inside, to_outline
from rootgap.kept import Kept, fingerprint
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
    both,
    length,
    neither,
)
from rootgap.spec.outline import Holes, OutlineSpec, edges
from rootgap.spec.toml import Key, dotted
from rootgap.spec.words import one_of
from rootgap.stock import Fit, Material, clearance_hole, fastener, material

MOST_PORTS = 64
MOST_BOLTS = 256
#: The edges of flanges: enough for the parts of a few manifolds.
EDGES: Kept[tuple[Path, ...]] = Kept(200)
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


class SocketSpec(Model):
    """A round pocket, from the pipe's side, that registers the pipe."""

    depth: PlateLength = Field(examples=[5], description="how far the pipe goes into the plate")
    clearance: PlateLength = Field(default=0.2, examples=[0.2], description="on the radius")


class PortSpec(Model):
    """One opening in a flange. at: its centre; angle: turn, anticlockwise in the flange's view."""

    at: Point2 = Field(examples=[[92, 0]])
    opening: OpeningSpec = Field(examples=[{"round": 40}])
    angle: Angle = 0.0
    socket: SocketSpec | None = Field(default=None, examples=[{"depth": 5, "clearance": 0.2}])
    weld: Literal["outside", "inside"] = Field(
        default="outside", description="inside: the pipe goes through the opening, and is welded on the joint's side"
    )
    setback: PlateLength | None = Field(
        default=None, description="of the pipe's end from the joint's face, where it is welded inside", examples=[2]
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each pair of keys that do not go together."""
        if "setback" in values and values.get("weld") != "inside":
            yield "setback", 'allowed: only with weld = "inside"'
        if values.get("weld") == "inside" and "setback" not in values:
            yield "setback", 'missing with weld = "inside"; for example: setback = 2'
        if both(values, "socket", "weld") and values["weld"] == "inside":
            yield "socket", 'leave it out: with weld = "inside" the pipe goes through the opening itself'
        opening = values.get("opening")
        if values.get("weld") == "inside" and isinstance(opening, dict) and "round" not in opening:
            yield "opening", 'allowed with weld = "inside": { round = ... }, for the pipe to go through'

    def sunk(self, thickness: float) -> float:
        """Return how far, mm, a pipe goes into a plate of `thickness` mm here."""
        if self.setback is not None:
            return thickness - self.setback
        return self.socket.depth if self.socket else 0.0

    @model_validator(mode="after")
    def _can_be(self) -> PortSpec:
        try:
            self.opening.opening()
        except ValueError as fault:
            raise Misfit(("opening",), str(fault)) from None
        return self


class BoltSpec(Model):
    """A set of equal bolt holes: of a diameter, or those of a thread and a fit."""

    model_config = ConfigDict(
        json_schema_extra={"anyOf": [{"required": ["hole"]}, {"required": ["thread", "fit"]}]}
    )

    at: Annotated[tuple[Point2, ...], Field(min_length=1, max_length=MOST_BOLTS)] = Field(
        examples=[[[-34, 20], [-34, -20]]]
    )
    hole: PlateLength | None = Field(
        default=None, examples=[9], description="diameter; left out where thread and fit give it"
    )
    thread: Text = Field(default="", examples=["M8"])
    fit: Fit | None = Field(default=None, examples=["medium"], description="of the hole, by ISO 273 or ASME B18.2.8")
    slot: PlateLength | None = Field(
        default=None,
        examples=[2],
        description="how much longer than wide each hole is, along the way from the fixed bolt",
    )

    @classmethod
    def rules(cls, values: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
        """Yield a fault for each pair of keys that do not go together."""
        if neither(values, "hole", "fit"):
            yield "", 'hole is missing; allowed: hole = 9, or thread = "M8" with fit = "medium"'
        if both(values, "hole", "fit"):
            yield "fit", "allowed: hole or fit, not both"
        if "fit" in values and "thread" not in values:
            yield "fit", 'allowed: only with a thread, such as "M8"'

    @model_validator(mode="after")
    def _is_in_the_table(self) -> BoltSpec:
        if self.fit:
            try:
                clearance_hole(self.thread, self.fit)
            except UnitError as fault:
                raise Misfit(("thread",), fault.said) from None
            except StockError as fault:
                raise Misfit(("fit" if "fit of" in fault.table else "thread",), fault.said) from None
        return self

    @property
    def diameter(self) -> float:
        """Diameter of each hole, mm."""
        return clearance_hole(self.thread, self.fit) if self.fit else float(self.hole or 0.0)

    @property
    def nominal(self) -> float:
        """Diameter of the bolt, mm: its thread's; where that is in no table, a tenth less than the hole."""
        try:
            return fastener(self.thread).diameter
        except (UnitError, StockError):
            return self.diameter / 1.1


@dataclass(frozen=True)
class BoltHole:
    """One bolt hole. at: its centre; diameter; slot: how much longer than wide, mm, along `way`, degrees from +x;
    bolts: the set it is of."""

    at: tuple[float, float]
    diameter: float
    slot: float
    way: float
    bolts: BoltSpec

    @property
    def shape(self) -> Shape:
        """Its rim."""
        if not self.slot:
            return Circle(self.at, 0.5 * self.diameter)
        return placed(Oval(self.diameter + self.slot, self.diameter).shape(), self.at, self.way)


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


#: What holds a flange's bolts, None for what usually does there.
Held = Annotated[
    Literal["thread", "nut"] | None,
    Field(
        description="what holds its bolts: a thread or studs in what it is bolted to, or nuts behind that",
        examples=["nut"],
    ),
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
    fixed: Annotated[int, Field(ge=1, le=MOST_BOLTS)] | None = Field(
        default=None, description="number of the bolt, over all sets, that slots point away from; its hole stays round"
    )
    held: Held = None
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

        slotted = isinstance(groups, list) and any(isinstance(group, dict) and "slot" in group for group in groups)
        if slotted and "fixed" not in values:
            yield "fixed", "missing: the number of the bolt that slots point away from"
        if "fixed" in values and not slotted:
            yield "fixed", "leave it out: no bolts have a slot"

    @model_validator(mode="after")
    def _fixed_is_there(self) -> FlangePart:
        count = sum(len(group.at) for group in self.bolts)
        if self.fixed is not None and self.fixed > count:
            raise Misfit(("fixed",), f"allowed: 1 to {count}, a bolt of the file")
        return self

    @model_validator(mode="after")
    def _pipes_stop_in_it(self) -> FlangePart:
        for number, port in enumerate(self.port):
            key, depth = "setback", port.setback
            if depth is None:
                key, depth = "socket", port.sunk(self.thickness)
            if depth >= self.thickness:
                raise Misfit(("port", number, key), f"allowed: less than the thickness, {self.thickness:g} mm")
        return self

    @model_validator(mode="after")
    def _leaves_metal(self) -> FlangePart:
        if isinstance(self.outline, PathOutline):
            return self
        widest = max((group.diameter for group in self.bolts), default=0.0)
        if self.outline.boss <= 0.5 * widest:
            allowed = f"allowed: above {0.5 * widest:g} mm, so that metal is left round a hole of {widest:g} mm"
            raise Misfit(("outline", "boss"), allowed)
        return self

    @model_validator(mode="after")
    def _holes_are_apart(self) -> FlangePart:
        if self._too_many():
            return self  # A fault already.
        rims = self._rims()
        clash = first_overlap([rim for _, rim in rims])
        if clash:
            (other, _), (key, _) = rims[clash[0]], rims[clash[1]]
            raise Misfit(key, f"overlaps the one of {dotted(other)}; allowed: metal between")
        return self

    def _too_many(self) -> bool:
        """Whether there are more bolts than can be, or the fixed one is none of them."""
        count = sum(len(group.at) for group in self.bolts)
        return count > MOST_BOLTS or (self.fixed or 0) > count

    @model_validator(mode="after")
    def _lies_within_its_edge(self) -> FlangePart:
        if isinstance(self.outline, PathOutline) and not self._too_many():
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
        places: list[Key] = [
            ("bolts", number, "at", index) for number, group in enumerate(self.bolts) for index in range(len(group.at))
        ]
        rims += [(key, hole.shape.points(RIM)) for key, hole in zip(places, self.holes(), strict=True)]
        return rims

    @property
    def metal(self) -> Material:
        """The material, as the tables have it."""
        return material(self.material)

    def holes(self) -> tuple[BoltHole, ...]:
        """Return every bolt hole, in the order of the file; slots point along the way from the fixed bolt."""
        at = [(each, group) for group in self.bolts for each in group.at]
        found = []
        for each, group in at:
            away = np.subtract(each, at[self.fixed - 1][0] if self.fixed else each)
            slot = group.slot or 0.0 if away.any() else 0.0
            way = float(np.degrees(np.arctan2(away[1], away[0])))
            found.append(BoltHole(each, group.diameter, slot, way, group))
        return tuple(found)

    def edges(self) -> tuple[Path, ...]:
        """Return the outer edge of each plate as lines and arcs, one where the flange is in one piece. Raises
        ValueError where it cannot be."""
        outline = self.outline
        if isinstance(outline, PathOutline):
            return (outline.edge(),)
        return EDGES.get(fingerprint(self), lambda: self._grown(outline))

    def _grown(self, outline: OutlineSpec) -> tuple[Path, ...]:
        openings = [(port.opening.opening(), port.at, port.angle) for port in self.port]
        holes = self.holes()
        rims = [*(placed(opening.shape(), at, turn) for opening, at, turn in openings), *(hole.shape for hole in holes)]
        return edges(outline, Holes(openings, [hole.at for hole in holes], rims))
