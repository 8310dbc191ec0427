"""The features of a traced part: ports, bolt holes, outline, in a frame of its own.

Terminology:

    datum      the first bolt hole of the row that runs the length of the part: the origin; the far hole of
               that row lies on x
    rough      the frame in which features are found: the plan's, mirrored where the picture shows the other face
    left out   what was seen and is no feature: specks, marks, notches in an edge
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import GeometryError, PictureError
from rootgap.geometry.loops import fault_of
from rootgap.geometry.openings import Dee, Freeform, Oval, RoundedRectangle, placed
from rootgap.geometry.outlines import flange_outline
from rootgap.geometry.paths import Path, Shape
from rootgap.spec.fields import LONGEST_ON_PLATE
from rootgap.spec.part import MOST_BOLTS, MOST_PORTS, first_overlap
from rootgap.trace.edges import fine_edge
from rootgap.trace.fitting import Fit, fitted, fitted_round, least_squares, scatter_of, signed_distance
from rootgap.trace.freehand import freehand
from rootgap.trace.plan import Plan
from rootgap.trace.regions import Regions

Array = NDArray[np.float64]
Point = tuple[float, float]

#: A hole smaller than this, mm, is no bolt's: a rivet, a pin, a flaw (common practice, no source).
LEAST_BOLT = 4.5
#: A bolt hole is no larger than this, mm, nor than this share of the largest opening (common practice, no source).
MOST_BOLT, OF_PORT = 20.0, 0.6
#: Holes whose diameters differ by less than this, mm, are one set (common practice, no source).
ALIKE = 0.5
#: A hole or a patch smaller than this, mm, is counted as a speck and not told one by one.
SPECK = 1.5
#: Where an opening narrows by this share between two wider places, two openings run into each other.
PINCH = 0.8
#: An edge that leaves its fit by more than this, mm, over more than this length, mm, has a notch or a burr.
NOTCH, NOTCH_LENGTH = 0.5, 1.5
#: How near the fitted outline must come to the traced one, mm, for 90 of 100 points.
OUTLINE_TOLERANCE = 0.6
MOST_TOLD = 12


@dataclass(frozen=True)
class Axes:
    """Where the part's frame lies in the plan. mirror: whether the picture shows the other face; origin: mm, rough;
    angle: of x, degrees, rough."""

    mirror: bool
    origin: Point = (0.0, 0.0)
    angle: float = 0.0

    def of_plan(self, mm: Array) -> Array:
        """Return places (n, 2) of the plan, mm, in this frame, mm."""
        c, s = np.cos(np.radians(self.angle)), np.sin(np.radians(self.angle))
        flip = np.array([-1.0 if self.mirror else 1.0, 1.0])
        return (mm * flip - self.origin) @ np.array([[c, -s], [s, c]])

    def to_plan(self, mm: Array) -> Array:
        """Return places (n, 2) of this frame, mm, in the plan, mm."""
        c, s = np.cos(np.radians(self.angle)), np.sin(np.radians(self.angle))
        flip = np.array([-1.0 if self.mirror else 1.0, 1.0])
        return (mm @ np.array([[c, s], [-s, c]]) + self.origin) * flip


@dataclass(frozen=True)
class LeftOut:
    """Something seen that is no feature. at: mm; size: mm."""

    what: str
    at: Point
    size: float


@dataclass(frozen=True, eq=False)
class Feature:
    """A port or a bolt hole. fit: in the part's frame, mm; of_place, of_size: expanded uncertainty (k = 2) of its
    centre from the datum and of its measures, mm; free: its own rim round its centre, mm, where it is of no kind."""

    fit: Fit
    of_place: float
    of_size: float
    free: Freeform | None = None

    @property
    def shape(self) -> Shape:
        """The rim as the file has it, mm."""
        return placed(self.free.shape(), self.fit.at) if self.free else self.fit.shape


@dataclass(frozen=True, eq=False)
class Outline:
    """The outer edge as a flange file says it, mm. path: of edge, boss and fillet, None where that falls apart; free:
    the traced line, where it is of no such kind; misfit: what 90 of 100 points keep to path, mm; worst, where: mm."""

    edge: float
    boss: float
    fillet: float
    path: Path | None
    free: Path | None
    misfit: float
    worst: float
    where: Point

    @property
    def fits(self) -> bool:
        """Whether the traced edge is of this kind, within OUTLINE_TOLERANCE."""
        return self.path is not None and self.misfit <= OUTLINE_TOLERANCE


@dataclass(frozen=True, eq=False)
class Traced:
    """A traced part. rim: points of its outer edge, (n, 2), mm; size: width and height, mm; notices: what to know."""

    plan: Plan
    axes: Axes
    ports: tuple[Feature, ...]
    bolts: tuple[Feature, ...]
    outline: Outline
    rim: Array
    left_out: tuple[LeftOut, ...]
    notices: tuple[str, ...]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the part, mm."""
        wide, high = np.ptp(self.rim, axis=0)
        return float(wide), float(high)


@dataclass(frozen=True, eq=False)
class _Hole:
    """A hole, rough. points: of its edge, (n, 2), mm; area: mm2; size: width and height, the larger first, mm."""

    points: Array
    area: float
    size: tuple[float, float]

    @property
    def diameter(self) -> float:
        return float(2.0 * np.sqrt(self.area / np.pi))

    @property
    def at(self) -> Point:
        low, high = self.points.min(axis=0), self.points.max(axis=0)
        return float(0.5 * (low[0] + high[0])), float(0.5 * (low[1] + high[1]))


def traced(plan: Plan, seen: Regions, name: str, *, mirror: bool, turn: bool) -> Traced:
    """Return the features of the part that was `seen` in the plan.

    name: of the picture's file, for messages; mirror: the picture shows the face that lies on the head;
    turn: x runs to the picture's left, or down. Raises PictureError for what can be no flange.
    """
    rough = Axes(mirror)
    holes = [hole for ring in seen.holes if (hole := _hole(plan, seen, ring, rough))]
    ports, bolts, left = _sorted_out(holes, name)
    found_ports, found_bolts = [fitted(hole.points) for hole in ports], [fitted_round(hole.points) for hole in bolts]
    for hole, fit in zip(ports, found_ports, strict=True):
        _refuse_a_bulge(hole, fit, name)
    _refuse_overlaps(found_ports, found_bolts, name)
    axes, notices = _datum(found_ports, found_bolts, rough, turn=turn)
    features = [sorted((_moved(fit, axes) for fit in fits), key=_place) for fits in (found_ports, found_bolts)]
    # Numbered as the file has them, set by set, which is how a caliper sheet counts them.
    features[1] = [features[1][k] for group in bolt_sets(features[1]) for k in group]
    ports_at, bolts_at = (tuple(_feature(fit, plan) for fit in fits) for fits in features)
    ports_at = tuple(replace(port, free=_free(port.fit)) for port in ports_at)
    notices += [_misfit(f"port {k}", port) for k, port in enumerate(ports_at, 1) if not port.fit.fits]
    notices += [
        f"bolt hole {k} is not round: a circle of {_diameter(bolt.fit):.1f} mm, misfit {bolt.fit.misfit:.1f} mm"
        for k, bolt in enumerate(bolts_at, 1)
        if not bolt.fit.fits
    ]
    rim = axes.of_plan(_without_hidden(plan.to_mm(fine_edge(seen.cover, seen.rim)), plan.hidden))
    if len(rim) < 50:
        raise PictureError(name, "the part's outer edge is blurred away", "take it again, sharp and evenly lit")
    outline, misses = _outline([p.fit for p in ports_at], [b.fit for b in bolts_at], rim)
    notices += list(_outline_notice(outline))
    shown = (item for item in left if _is_shown(plan, rough.to_plan(np.array([item.at]))))
    turned = [LeftOut(item.what, _at(axes, item.at), item.size) for item in shown]
    turned += [
        LeftOut(f"a notch or burr in port {k}", where, depth)
        for k, port in enumerate(ports_at, 1)
        for where, depth in _notches(port.fit.points, port.fit.misses, port.fit.scatter)
        if port.free is None
    ]
    if outline.fits:
        places = _notches(rim, misses, scatter_of(misses))
        turned += [LeftOut("a notch or burr in the outer edge", where, depth) for where, depth in places]
    turned += list(_others(plan, seen, axes, [p.fit for p in ports_at]))
    return Traced(plan, axes, ports_at, bolts_at, outline, rim, tuple(turned), tuple(notices))


def _at(axes: Axes, at: Point) -> Point:
    """Return a rough place, mm, in the part's frame."""
    flip = -1.0 if axes.mirror else 1.0
    x, y = axes.of_plan(np.array([[flip * at[0], at[1]]]))[0]
    return float(x), float(y)


def _hole(plan: Plan, seen: Regions, ring: Array, rough: Axes) -> _Hole | None:
    """Return a hole with its fine edge, or with the ring's own points where no edge is clear."""
    points = plan.to_mm(fine_edge(seen.cover, ring)) if len(ring) >= 16 else plan.to_mm(ring)
    points = _without_hidden(points, plan.hidden)
    if len(points) < 8:
        points = plan.to_mm(ring)
    if len(points) < 8:
        return None
    points = rough.of_plan(points)
    outline = rough.of_plan(plan.to_mm(ring))
    x, y = outline[:, 0], outline[:, 1]
    area = 0.5 * abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)))
    # Twice the spread along the main directions, scaled so that a box gives its own sides.
    _, _, turned = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
    sides = np.ptp(points @ turned.T, axis=0)
    return _Hole(points, area, (float(sides.max()), float(sides.min())))


def _without_hidden(points: Array, hidden: Sequence[Array]) -> Array:
    """Return the points, mm, that lie in none of the boxes, (4, 2), mm, of printed things, nor within 1 mm of them."""
    keep = np.ones(len(points), bool)
    for box in hidden:
        sides = np.roll(box, -1, axis=0) - box
        out = np.column_stack([sides[:, 1], -sides[:, 0]]) / np.linalg.norm(sides, axis=1, keepdims=True)
        keep &= ((points[:, None, :] - box) * out).sum(axis=2).max(axis=1) > 1.0
    return points[keep]


def _is_shown(plan: Plan, place: Array) -> bool:
    """Return whether a place of the plan, (1, 2), mm, is none of the sheet's own print."""
    return len(_without_hidden(place, plan.hidden)) > 0


def _sorted_out(holes: Sequence[_Hole], name: str) -> tuple[list[_Hole], list[_Hole], list[LeftOut]]:
    """Return the ports, the bolt holes, and what is neither. Raises PictureError."""
    widest = max((hole.diameter for hole in holes), default=0.0)
    if widest < LEAST_BOLT:
        raise PictureError(name, "no opening is found in the part", "show it with the ground seen through its ports")
    most = min(MOST_BOLT, OF_PORT * widest)
    ports, bolts, left = [], [], []
    for hole in holes:
        longer, shorter = hole.size
        if hole.diameter > most:
            _refuse_a_pinch(hole, name)
            ports.append(hole)
        elif shorter >= LEAST_BOLT and longer <= 1.8 * shorter and hole.area > 0.7 * longer * shorter:
            bolts.append(hole)
        else:
            is_round = hole.diameter >= SPECK and longer < 1.3 * shorter
            what = "a hole, of a rivet or a pin" if is_round else "a mark or a hole"
            left.append(LeftOut(what, hole.at, hole.diameter))
    if not ports:
        what = f"no port is found: the widest of {len(holes)} holes is {widest:.1f} mm"
        raise PictureError(name, what, "check --dpi, and that the ground shows through the ports")
    for count, allowed, what in ((len(ports), MOST_PORTS, "ports"), (len(bolts), MOST_BOLTS, "bolt holes")):
        if count > allowed:
            raise PictureError(name, f"{count} {what} are found; allowed: at most {allowed}", "picture the part alone")
    return ports, bolts, left


def _refuse_a_pinch(hole: _Hole, name: str) -> None:
    """Raise PictureError where two openings have run into one: it narrows between two wider places.

    The largest discs that go in at each place are found on a raster of the opening; a level at which they
    fall into two groups, each with a disc clearly larger, is a neck.
    """
    import cv2

    low = hole.points.min(axis=0)
    scale = 160.0 / max(hole.size)
    ring = np.round((hole.points - low) * scale + 2.0).astype(np.int32)
    mask = np.zeros((ring[:, 1].max() + 4, ring[:, 0].max() + 4), np.uint8)
    cv2.fillPoly(mask, [ring], 1)
    room = np.asarray(cv2.distanceTransform(mask, cv2.DIST_L2, 5), np.float64) / scale
    for level in np.arange(0.95, 0.15, -0.04) * float(room.max()):
        count, labels = cv2.connectedComponents((room > level).astype(np.uint8))
        peaks = sorted(((float(room[labels == k].max()), k) for k in range(1, count)), reverse=True)
        if len(peaks) > 1 and peaks[1][0] >= 0.5 * LEAST_BOLT:
            two = [int(np.argmax(np.where(labels == k, room, 0.0))) for _, k in peaks[:2]]
            if _neck(room, *two) <= PINCH * peaks[1][0]:
                raise _pinched(hole, 2.0 * peaks[0][0], 2.0 * peaks[1][0], name)


def _pinched(hole: _Hole, wide: float, less: float, name: str) -> PictureError:
    """Return the error of an opening made of two, `wide` and `less` mm across."""
    x, y = hole.at
    one = "a bolt hole runs into a port" if less < min(MOST_BOLT, OF_PORT * wide) else "two ports overlap"
    where = f"in the opening at ({x:.0f}, {y:.0f}) mm of the picture, {hole.size[0]:.0f} mm long"
    return PictureError(
        name, f"{one}, {where}", "part them with a strip of paper of the part's colour and take the picture again"
    )


def _refuse_a_bulge(hole: _Hole, fit: Fit, name: str) -> None:
    """Raise PictureError where the edge of a port leaves it outwards along a circle of a bolt hole's size."""
    most = min(MOST_BOLT, OF_PORT * hole.diameter)
    for where, stretch, misses in _stretches(hole.points, fit.misses, fit.scatter):
        if misses.max() < 0.3 * LEAST_BOLT or misses.min() < 0.0 or len(stretch) < 12:
            continue
        bolt = fitted_round(stretch)
        inside = signed_distance(fit.shape, np.array([bolt.at]))[0] < 0.5 * _diameter(bolt)
        if (
            inside
            and LEAST_BOLT <= _diameter(bolt) <= most
            and bolt.fits
            and np.hypot(*np.subtract(where, bolt.at)) < most
        ):
            raise _pinched(hole, hole.diameter, _diameter(bolt), name)


def _neck(room: Array, a: int, b: int) -> float:
    """Return the half width, mm, of the narrowest place on the widest way between two pixels, by their flat index."""
    import cv2

    low, high = 0.0, float(min(room.flat[a], room.flat[b]))
    for _ in range(10):
        level = 0.5 * (low + high)
        _, labels = cv2.connectedComponents((room > level).astype(np.uint8))
        low, high = (level, high) if labels.flat[a] == labels.flat[b] else (low, level)
    return low


def _refuse_overlaps(ports: Sequence[Fit], bolts: Sequence[Fit], name: str) -> None:
    """Raise PictureError where the fitted openings leave no metal between."""
    fits = [*ports, *bolts]
    frees = [_free(fit) for fit in ports] + [None] * len(bolts)
    shapes = [placed(free.shape(), fit.at) if free else fit.shape for fit, free in zip(fits, frees, strict=True)]
    clash = first_overlap([shape.points(0.02) for shape in shapes])
    if clash is None:
        return
    words = [("port" if k < len(ports) else "bolt hole") for k in clash]
    (x0, y0), (x1, y1) = (fits[k].at for k in clash)
    what = f"a {words[0]} and a {words[1]} overlap, {np.hypot(x1 - x0, y1 - y0):.1f} mm from centre to centre"
    remedy = "clean the part or the glass there, so that each shows its own whole edge, and take the picture again"
    raise PictureError(name, what, remedy)


def _datum(ports: Sequence[Fit], bolts: Sequence[Fit], rough: Axes, *, turn: bool) -> tuple[Axes, list[str]]:
    """Return the part's frame: from the row of bolts that runs its length, or, without two bolts, of ports."""
    notices = []
    whose = bolts if len(bolts) > 1 else ports
    if len(bolts) < 2:
        count = "no bolt hole" if not bolts else "one bolt hole"
        notices.append(f"{count} is found: the datum is the first port, and x runs to the last")
    places = np.array([fit.at for fit in whose])
    every = np.array([fit.at for fit in (*ports, *bolts)])
    if len(places) < 2:
        angle = ports[0].angle if ports[0].kind != "round" else 0.0
        angle = (angle + 45.0) % 90.0 - 45.0
        if len(every) > 1:  # One port and one bolt: x runs along their line.
            angle = float(np.degrees(np.arctan2(*(every[1] - every[0])[::-1])))
        return Axes(rough.mirror, whose[0].at, angle + (180.0 if turn else 0.0)), notices
    _, _, main = np.linalg.svd(every - every.mean(axis=0), full_matrices=False)
    angle = float(np.degrees(np.arctan2(main[0, 1], main[0, 0])))
    angle = rightward(angle, turn=turn)
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    local = places @ np.array([[c, -s], [s, c]])
    pairs = [(a, b) if local[a, 0] < local[b, 0] else (b, a) for a, b in combinations(range(len(local)), 2)]
    span = np.array([local[b, 0] - local[a, 0] for a, b in pairs])
    slope = np.array([abs(local[b, 1] - local[a, 1]) for a, b in pairs]) / np.maximum(span, 1e-9)
    long = span >= 0.85 * span.max()
    # Of the long pairs the most level, and of those as level, the lowest.
    level = long & (slope <= slope[long].min() + 0.01)
    first, last = min(
        (pair for pair, ok in zip(pairs, level, strict=True) if ok),
        key=lambda pair: (round(local[pair[0], 1], 0), local[pair[0], 0]),
    )
    x, y = places[last] - places[first]
    return Axes(rough.mirror, _point(places[first]), float(np.degrees(np.arctan2(y, x)))), notices


def rightward(angle: float, *, turn: bool) -> float:
    """Return which way x runs along a line at `angle`, degrees: to the right, or up where the part lies along the
    picture's height; with turn the other way."""
    return (angle + 60.0) % 180.0 - 60.0 + (180.0 if turn else 0.0)


def _point(place: Array) -> Point:
    return float(place[0]), float(place[1])


def _moved(fit: Fit, axes: Axes) -> Fit:
    """Return a rough fit in the part's frame, its angle the least that says the same."""
    at = _at(axes, fit.at)
    flip = np.array([-1.0 if axes.mirror else 1.0, 1.0])
    fit = replace(fit, points=axes.of_plan(fit.points * flip))
    angle = fit.angle - axes.angle
    opening = fit.opening
    if fit.kind == "round":
        return replace(fit, at=at, angle=0.0)
    if isinstance(opening, Dee):
        return replace(fit, at=at, angle=_settled((angle + 180.0) % 360.0 - 180.0, fit))
    angle = (angle + 90.0) % 180.0 - 90.0
    if abs(angle) > 45.0 and isinstance(opening, Oval | RoundedRectangle):
        opening = replace(opening, width=opening.height, height=opening.width)
        angle -= np.copysign(90.0, angle)
    return replace(fit, at=at, angle=_settled(float(angle), fit), opening=opening)


def _settled(angle: float, fit: Fit) -> float:
    """Return an angle, degrees, as a whole quarter where it cannot be told from one."""
    quarter = 90.0 * round(angle / 90.0)
    doubt = np.degrees(2.0 * (fit.place + 0.05) / (0.5 * fit.opening.reach))
    return quarter if abs(angle - quarter) <= doubt else angle


def _place(fit: Fit) -> tuple[float, float]:
    """Order of features: along x; of those above each other, the upper first."""
    return round(fit.at[0] / 5.0), -fit.at[1]


def bolt_sets(bolts: Sequence[Fit]) -> list[list[int]]:
    """Return the places in `bolts` of those of each diameter, in order, the set of the first one first."""
    sets: list[list[int]] = []
    for k in sorted(range(len(bolts)), key=lambda k: bolts[k].opening.reach):
        if sets and _diameter(bolts[k]) - _diameter(bolts[sets[-1][0]]) < ALIKE:
            sets[-1].append(k)
        else:
            sets.append([k])
    return sorted(map(sorted, sets))


def _feature(fit: Fit, plan: Plan) -> Feature:
    away = float(np.hypot(*fit.at))
    of_place = 2.0 * float(np.sqrt(2.0 * fit.place**2 + 2.0 * plan.error**2 + (plan.share * away) ** 2))
    of_size = 2.0 * float(np.sqrt(2.0 * fit.place**2 + 2.0 * plan.error**2 + (plan.share * _diameter(fit)) ** 2))
    return Feature(fit, of_place, of_size)


def _diameter(fit: Fit) -> float:
    return 2.0 * fit.opening.reach


def _free(fit: Fit) -> Freeform | None:
    """Return the rim of an opening of no kind round its centre, None where it is of one, or cannot stand in a file."""
    if fit.fits:
        return None
    try:
        return Freeform(freehand(fit.points - fit.at).vertices)
    except ValueError:
        return None


def _misfit(what: str, port: Feature) -> str:
    fit = port.fit
    word = {"round": "round", "oval": "oval", "rounded": "a rounded rectangle", "dee": "a dee"}[fit.kind]
    return (
        f"{what} is none of round, oval, rounded rectangle or dee: the nearest, {word}, leaves its edge "
        f"by up to {np.abs(fit.misses).max():.1f} mm ({fit.misfit:.1f} mm for 90 of 100 points); "
        + ("its traced line is written, dirt and all" if port.free else "correct it in the file")
    )


def _outline(ports: Sequence[Fit], bolts: Sequence[Fit], rim: Array) -> tuple[Outline, Array]:
    """Return the outline of edge, boss and fillet that comes nearest to the traced rim, and its misses, mm."""
    openings = [(fit.opening, fit.at, fit.angle) for fit in ports]
    centres = [fit.at for fit in bolts]
    some = rim[:: max(1, len(rim) // 900)]
    widest = max((_diameter(fit) for fit in bolts), default=0.0)

    def allowed(figures: Array) -> list[float]:
        """Return edge, boss and fillet, mm, as a file may have them: a straight side's fillet has no end."""
        return np.clip(figures, [0.5, 0.5 * widest + 0.2, 0.1], LONGEST_ON_PLATE).tolist()

    def path(figures: Array) -> Path | None:
        try:
            return flange_outline(openings, centres, *allowed(figures))
        except (GeometryError, ValueError):
            return None

    def misses(figures: Array) -> Array:
        shape = path(figures)
        return np.full(len(some), 50.0) if shape is None else signed_distance(shape, some)

    edge = float(np.median([np.abs(signed_distance(fit.shape, rim)).min() for fit in ports]))
    boss = float(np.median([np.hypot(*(rim - at).T).min() for at in centres])) if bolts else edge
    starts = [np.array([edge, boss, fillet]) for fillet in (3.0, 8.0, 16.0, 30.0, 60.0)]
    best = min(starts, key=lambda start: float(np.mean(np.minimum(np.abs(misses(start)), 5.0))))
    figures, _ = least_squares(misses, best, rounds=8, step=0.02)
    if np.median(np.abs(misses(figures))) > np.median(np.abs(misses(best))):
        figures = best
    shape = path(figures)
    every = np.full(len(rim), 50.0) if shape is None else signed_distance(shape, rim)
    worst = int(np.argmax(np.abs(every)))
    edge, boss, fillet = allowed(figures)
    misfit = float(np.quantile(np.abs(every), 0.90))
    found = Outline(edge, boss, fillet, shape, None, misfit, float(abs(every[worst])), _point(rim[worst]))
    if not found.fits:
        free = freehand(rim)
        found = replace(found, free=None if fault_of(free) else free)
    return found, every


def _outline_notice(outline: Outline) -> Iterator[str]:
    then = "its traced line is written, dirt and all" if outline.free else "correct it in the file"
    if outline.path is None:
        yield f"the outer edge falls apart as metal of one width round ports and bolts: {then}"
    elif not outline.fits:
        x, y = outline.where
        yield (
            f"the outer edge is not of metal of one width round ports and bolts: the nearest such outline leaves it "
            f"by up to {outline.worst:.1f} mm, at ({x:.0f}, {y:.0f}) mm "
            f"({outline.misfit:.1f} mm for 90 of 100 points); {then}"
        )


def _notches(points: Array, misses: Array, scatter: float) -> list[tuple[Point, float]]:
    """Return (where, how deep), mm, of each stretch of an edge that leaves its fit."""
    return [(where, float(np.abs(off).max())) for where, _, off in _stretches(points, misses, scatter)]


def _stretches(points: Array, misses: Array, scatter: float) -> Iterator[tuple[Point, Array, Array]]:
    """Yield (where it is furthest off, points, misses), mm, of each stretch of an edge that leaves its fit."""
    off = np.abs(misses) > max(NOTCH, 5.0 * scatter)
    if not off.any() or off.all():
        return
    start = int(np.argmin(off))
    off, points, misses = np.roll(off, -start), np.roll(points, -start, axis=0), np.roll(misses, -start)
    changes = np.flatnonzero(np.diff(off.astype(int)))
    edges = [int(k) + 1 for k in changes] + ([len(off)] if off[-1] else [])
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        stretch = points[a:b]
        if float(np.sum(np.hypot(*np.diff(stretch, axis=0).T))) >= NOTCH_LENGTH:
            yield _point(stretch[int(np.argmax(np.abs(misses[a:b])))]), stretch, misses[a:b]


def _others(plan: Plan, seen: Regions, axes: Axes, ports: Sequence[Fit]) -> Iterator[LeftOut]:
    """Yield what lies off the part: in its openings, or beside it."""
    for ring in seen.others:
        if not _is_shown(plan, plan.to_mm(0.5 * (ring.min(axis=0) + ring.max(axis=0))[None])):
            continue
        places = axes.of_plan(plan.to_mm(ring))
        size = float(np.hypot(*np.ptp(places, axis=0)))
        middle = 0.5 * (places.min(axis=0) + places.max(axis=0))
        inside = next((k for k, fit in enumerate(ports, 1) if signed_distance(fit.shape, middle[None])[0] < 0.0), None)
        what = f"something in port {inside}" if inside else "something beside the part"
        yield LeftOut(what, _point(middle), size)


def told(left: Sequence[LeftOut]) -> list[str]:
    """Return what was left out, a line each, the smallest only counted.

    >>> told([LeftOut("a mark", (1.0, 2.0), 3.0), LeftOut("a mark", (5.0, 2.0), 0.4)])
    ['a mark, 3.0 mm, at (1, 2) mm', '1 speck below 1.5 mm']
    """
    large = sorted((item for item in left if item.size >= SPECK or "notch" in item.what), key=lambda item: -item.size)
    lines = [
        f"{item.what}, {item.size:.1f} mm, at ({item.at[0]:.0f}, {item.at[1]:.0f}) mm" for item in large[:MOST_TOLD]
    ]
    more, small = len(large) - MOST_TOLD, len(left) - len(large)
    if more > 0:
        lines.append(f"{more} more like these")
    if small:
        lines.append(f"{small} {'speck' if small == 1 else 'specks'} below {SPECK:g} mm")
    return lines
