"""Port openings in closed form, in mm, centred on the origin, x right and y up.

Terminology: the *girth* is the length of the rim, the *reach* is how far the rim gets from
the origin (the centre of the box width x height), the *discs* are those whose convex hull
is the opening: grown by an edge distance they give the plate that the opening needs. An opening
that somebody drew may be hollow somewhere: there the discs' hull bridges the hollow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rootgap.geometry.loops import anticlockwise, farthest, fault_of, tangent_corner
from rootgap.geometry.paths import Circle, Path, Point, Shape, arc_center
from rootgap.geometry.polygons import inside

_LEAST = 1e-9  # mm: a shorter line or arc is left out of a rim


@dataclass(frozen=True)
class Disc:
    """A disc, a building block of convex outlines. x, y: its centre, mm; r: radius, mm, 0 for a point.

    start, sweep: the part of its rim that may show in the outline, degrees anticlockwise from
    +x. Only a cap needs them: a semicircle on a flat side is an arc whose whole disc would
    stick out below. Other discs must take over at the ends of a cap.
    """

    x: float
    y: float
    r: float
    start: float = 0.0
    sweep: float = 360.0

    def grown(self, by: float) -> Disc:
        """Return the disc with its radius larger by `by` mm."""
        return Disc(self.x, self.y, self.r + by, self.start, self.sweep)

    def placed(self, at: Point, angle: float) -> Disc:
        """Return the disc turned by `angle` degrees about the origin and moved by `at` mm."""
        x, y = _turned(self.x, self.y, angle)
        return Disc(x + at[0], y + at[1], self.r, self.start + angle, self.sweep)


@dataclass(frozen=True)
class Round:
    """A circular opening. diameter: mm. Raises ValueError unless positive.

    >>> round(Round(40).area, 3)
    1256.637
    """

    diameter: float

    def __post_init__(self) -> None:
        _check_positive("round opening", diameter=self.diameter)

    def discs(self) -> tuple[Disc, ...]:
        """Return the disc that the opening is."""
        return (Disc(0.0, 0.0, self.diameter / 2),)

    def shape(self) -> Circle:
        """Return the rim, mm."""
        return Circle((0.0, 0.0), self.diameter / 2)

    @property
    def area(self) -> float:
        """Open area, mm2."""
        return float(np.pi * self.diameter**2 / 4)

    @property
    def girth(self) -> float:
        """Length of the rim, mm."""
        return float(np.pi * self.diameter)

    @property
    def reach(self) -> float:
        """Largest distance of the rim from the centre, mm."""
        return self.diameter / 2


@dataclass(frozen=True)
class RoundedRectangle:
    """A rectangular opening with round corners. width, height, radius: mm.

    Raises ValueError where a side is not positive, or the radius is negative or more than
    half of the smaller side.

    >>> round(RoundedRectangle(36, 30, 8).area, 3)
    1025.062
    """

    width: float
    height: float
    radius: float

    def __post_init__(self) -> None:
        _check_positive("rounded rectangle", width=self.width, height=self.height)
        _check_corner("rounded rectangle", self.width, self.height, self.radius)

    def discs(self) -> tuple[Disc, ...]:
        """Return the four corner discs; their convex hull is the opening."""
        x, y = self.width / 2 - self.radius, self.height / 2 - self.radius
        return tuple(Disc(sx * x, sy * y, self.radius) for sx, sy in ((1, -1), (1, 1), (-1, 1), (-1, -1)))

    def shape(self) -> Shape:
        """Return the rim, mm: four lines and four arcs, or a circle where no lines are left."""
        x, y, r = self.width / 2, self.height / 2, self.radius
        if max(x, y) - r <= _LEAST:
            return Circle((0.0, 0.0), r)
        quarter = np.tan(np.pi / 8)
        return _rim(
            (x, y - r, quarter), (x - r, y, 0.0),
            (r - x, y, quarter), (-x, y - r, 0.0),
            (-x, r - y, quarter), (r - x, -y, 0.0),
            (x - r, -y, quarter), (x, r - y, 0.0),
        )  # fmt: skip

    @property
    def area(self) -> float:
        """Open area, mm2."""
        return float(self.width * self.height - (4 - np.pi) * self.radius**2)

    @property
    def girth(self) -> float:
        """Length of the rim, mm."""
        return float(2 * (self.width + self.height) - (8 - 2 * np.pi) * self.radius)

    @property
    def reach(self) -> float:
        """Largest distance of the rim from the centre, mm."""
        return float(np.hypot(self.width / 2 - self.radius, self.height / 2 - self.radius) + self.radius)


@dataclass(frozen=True)
class Oval:
    """Two semicircles joined by straights along the longer side. width, height: mm.

    Raises ValueError where a side is not positive.

    >>> oval = Oval(50, 30)
    >>> round(oval.girth, 6), round(oval.area, 6)
    (134.24778, 1306.858347)
    """

    width: float
    height: float

    def __post_init__(self) -> None:
        _check_positive("oval", width=self.width, height=self.height)

    @property
    def _radius(self) -> float:
        return min(self.width, self.height) / 2

    @property
    def _straight(self) -> float:
        return abs(self.width - self.height)

    def discs(self) -> tuple[Disc, ...]:
        """Return the two end discs; their convex hull is the opening."""
        x, y, r = self.width / 2 - self._radius, self.height / 2 - self._radius, self._radius
        return Disc(x, y, r), Disc(-x, -y, r)

    def shape(self) -> Shape:
        """Return the rim, mm: two lines and two arcs, or a circle where the sides are equal."""
        half, r = self._straight / 2, self._radius
        if half <= _LEAST:
            return Circle((0.0, 0.0), r)
        level = _rim((half, -r, 1.0), (half, r, 0.0), (-half, r, 1.0), (-half, -r, 0.0))
        return level if self.width > self.height else placed(level, angle=90.0)

    @property
    def area(self) -> float:
        """Open area, mm2."""
        return float(2 * self._radius * self._straight + np.pi * self._radius**2)

    @property
    def girth(self) -> float:
        """Length of the rim, mm."""
        return float(2 * self._straight + 2 * np.pi * self._radius)

    @property
    def reach(self) -> float:
        """Largest distance of the rim from the centre, mm."""
        return max(self.width, self.height) / 2


@dataclass(frozen=True)
class Dee:
    """A flat side below, two corners of `radius` on it, and one circular arc over the top.

    width, height, radius: mm. Where height >= width / 2 + radius the top is a semicircle of
    diameter `width` and upright straights join it to the corners. A lower opening has no
    straights: its top is the flatter arc that touches both corner arcs and reaches `height`.

    Raises ValueError where a side is not positive, the radius is negative or more than half of
    the width, or the corners alone are as high as the opening.

    >>> dee = Dee(40, 35, 5)
    >>> round(dee.crown, 6), round(dee.area, 3)
    (20.0, 1217.588)
    """

    width: float
    height: float
    radius: float

    def __post_init__(self) -> None:
        _check_positive("dee", width=self.width, height=self.height)
        _check_corner("dee", self.width, self.height, self.radius)
        if 2 * self.radius >= self.height:
            raise ValueError(
                f"dee: corner radius {self.radius:g} mm leaves no room for the top arc; "
                f"allowed: less than half of the height, {self.height / 2:g} mm"
            )

    @property
    def crown(self) -> float:
        """Radius of the top arc, mm.

        Source: the arc of centre (0, height - R) touches the corner disc from inside:
        a^2 + (R - height + r)^2 = (R - r)^2, a = width / 2 - r, both from the flat side.
        """
        if self.height >= self.width / 2 + self.radius:
            return self.width / 2
        a, h, r = self.width / 2 - self.radius, self.height, self.radius
        return (a**2 + h**2 - 2 * h * r) / (2 * (h - 2 * r))

    @property
    def _spring(self) -> float:
        """Angle, radians, above +x at which the top arc begins; 0 for a semicircle."""
        across = self.width / 2 - self.radius
        rise = self.crown + self.radius - self.height
        return float(np.arctan2(rise, across)) if rise > 0 else 0.0

    @property
    def _straight(self) -> float:
        return max(0.0, self.height - self.width / 2 - self.radius)

    def discs(self) -> tuple[Disc, ...]:
        """Return the cap of the top and the two corner discs; their convex hull is the opening."""
        x, y, start = self.width / 2 - self.radius, self.radius - self.height / 2, np.degrees(self._spring)
        cap = Disc(0.0, self.height / 2 - self.crown, self.crown, float(start), float(180 - 2 * start))
        return Disc(x, y, self.radius), cap, Disc(-x, y, self.radius)

    def shape(self) -> Path:
        """Return the rim, mm: the flat side, two corners, the top arc and any straights."""
        r, spring = self.radius, self._spring
        x, y = self.width / 2 - r, r - self.height / 2
        corner, top = np.tan((np.pi / 2 + spring) / 4), np.tan((np.pi - 2 * spring) / 4)
        edge, rise = x + r * np.cos(spring), y + r * np.sin(spring)
        return _rim(
            (x, y - r, corner), (edge, rise, 0.0),
            (edge, rise + self._straight, top), (-edge, rise + self._straight, 0.0),
            (-edge, rise, corner), (-x, y - r, 0.0),
        )  # fmt: skip

    @property
    def area(self) -> float:
        """Open area, mm2."""
        r, crown, spring = self.radius, self.crown, self._spring
        x = self.width / 2 - r
        sector = crown**2 * (np.pi / 2 - spring)
        corners = r**2 * (np.pi / 2 + spring)
        flat = 2 * x * r + self.width * self._straight
        # The crown's centre lies `apex` above the corners' level; where that is below it, the sector
        # counts the triangle of the three centres a second time.
        apex = self.height - crown - r - self._straight
        return float(sector + corners + flat + x * apex)

    @property
    def girth(self) -> float:
        """Length of the rim, mm."""
        x, spring = self.width / 2 - self.radius, self._spring
        arcs = self.crown * (np.pi - 2 * spring) + self.radius * (np.pi + 2 * spring)
        return float(arcs + 2 * x + 2 * self._straight)

    @property
    def reach(self) -> float:
        """Largest distance of the rim from the centre, mm: always at a corner of the flat side."""
        return float(np.hypot(self.width / 2 - self.radius, self.height / 2 - self.radius) + self.radius)


@dataclass(frozen=True)
class Freeform:
    """An opening along a closed path of lines and arcs, drawn by somebody, round the origin.

    vertices: (x, y, bulge), mm and no unit; either way round. Raises ValueError where the path crosses or
    touches itself, encloses nothing, or has the origin outside.

    >>> wedge = Freeform(((-10.0, -5.0, 0.0), (10.0, -5.0, 0.0), (0.0, 15.0, 0.0)))
    >>> wedge.area, wedge.reach
    (200.0, 15.0)
    """

    vertices: tuple[tuple[float, float, float], ...]

    def __post_init__(self) -> None:
        fault = fault_of(Path(self.vertices, closed=True))
        if fault:
            raise ValueError(f"path: {fault}")
        if not inside(np.zeros((1, 2)), self.shape().points(0.01))[0]:
            raise ValueError("path: has the port's own middle, [0, 0], outside; allowed: a path round it")

    def discs(self) -> tuple[Disc, ...]:
        """Return the corners and the arcs that bulge outwards; their convex hull is the opening, hollows bridged."""
        corners = _hull_corners([(x, y) for x, y, _ in self.shape().vertices])
        found = [Disc(x, y, 0.0) for x, y in corners]
        for start, end, bulge in self.shape().segments():
            if bulge > 0.0:
                tip = tangent_corner(start, end, bulge)
                if tip is None or not inside(np.array([tip]), np.array(corners))[0]:
                    center = arc_center(start, end, bulge)
                    lag = np.subtract(start, center)
                    turn = float(np.degrees(np.arctan2(lag[1], lag[0])))
                    found.append(Disc(*center, float(np.hypot(*lag)), turn, float(4 * np.degrees(np.arctan(bulge)))))
                    # An arc's cap hands over to its own ends, which may lie within the hull of the corners.
                    found += [Disc(*point, 0.0) for point in (start, end) if point not in corners]
        return tuple(found)

    def shape(self) -> Path:
        """Return the rim, mm, anticlockwise."""
        return anticlockwise(Path(self.vertices, closed=True))

    @property
    def area(self) -> float:
        """Open area, mm2."""
        return self.shape().area

    @property
    def girth(self) -> float:
        """Length of the rim, mm."""
        return self.shape().length

    @property
    def reach(self) -> float:
        """Largest distance of the rim from the origin, mm."""
        return farthest(self.shape())


Opening = Round | RoundedRectangle | Oval | Dee | Freeform


def placed(shape: Shape, at: Point = (0.0, 0.0), angle: float = 0.0) -> Shape:
    """Return `shape` turned by `angle` degrees about the origin, then moved by `at` mm.

    >>> placed(Circle((10.0, 0.0), 4.0), at=(1.0, 2.0), angle=90).center
    (1.0, 12.0)
    """
    if isinstance(shape, Circle):
        x, y = _turned(*shape.center, angle)
        return Circle((x + at[0], y + at[1]), shape.radius)
    turned = ((*_turned(x, y, angle), bulge) for x, y, bulge in shape.vertices)
    return Path(tuple((x + at[0], y + at[1], bulge) for x, y, bulge in turned), shape.closed)


def _turned(x: float, y: float, angle: float) -> Point:
    """Return (x, y) turned by `angle` degrees about the origin; right angles turn exactly."""
    quarters = round(angle / 90)
    if angle == 90 * quarters:
        cos, sin = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[quarters % 4]
    else:
        cos, sin = float(np.cos(np.radians(angle))), float(np.sin(np.radians(angle)))
    return x * cos - y * sin, x * sin + y * cos


def _rim(*vertices: tuple[float, float, float]) -> Path:
    """Return the closed path of `vertices` (x, y, bulge) without its zero-length segments."""
    path = Path(vertices, closed=True)
    kept = tuple(
        (float(start[0]), float(start[1]), float(bulge))
        for start, end, bulge in path.segments()
        if np.hypot(end[0] - start[0], end[1] - start[1]) > _LEAST
    )
    return Path(kept, closed=True)


def _hull_corners(points: list[Point]) -> list[Point]:
    """Return the corners of the convex hull of `points`, anticlockwise.

    Source: A. M. Andrew, "Another efficient algorithm for convex hulls in two dimensions", 1979.
    """
    halves: list[list[Point]] = []
    for order in (sorted(set(points)), sorted(set(points), reverse=True)):
        chain: list[Point] = []
        for point in order:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], point) <= 0.0:
                chain.pop()
            chain.append(point)
        halves.append(chain[:-1])
    return halves[0] + halves[1]


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _check_positive(what: str, **sizes: float) -> None:
    for name, size in sizes.items():
        if not size > 0:
            raise ValueError(f"{what}: {name} is {size:g} mm; allowed: more than 0")


def _check_corner(what: str, width: float, height: float, radius: float) -> None:
    limit = min(width, height) / 2
    if not 0 <= radius <= limit:
        raise ValueError(
            f"{what}: corner radius is {radius:g} mm; "
            f"allowed: 0 to half of the smaller side of {width:g} x {height:g}, {limit:g} mm"
        )
