"""Exact outlines of plates: lines and circular arcs only, nothing sampled.

A plate is the union of convex hulls of discs (an opening with its edge distance, a boss
round a bolt) with every re-entrant corner rounded. Rounding by a radius f is a *closing*:
grow everything by f, take the outer boundary, shrink it by f. Growing only enlarges discs;
shrinking moves lines, changes radii, and turns each re-entrant corner into an arc round it.

Terminology: every edge runs with the plate on its left, so an outline runs anticlockwise.

    hull        convex hull of a group of discs
    edge        a line or an anticlockwise arc; its *carrier* is the whole line or circle
    node        a point where edges end, cross or touch; edges are cut to pieces there
    twins       pieces that lie on each other between the same two nodes
    ring        a closed chain of edges
    normal      the direction out of the plate, square to an edge
    re-entrant  of a corner: it turns right, into the plate
    neck        two re-entrant corners that see each other across the plate from less than two
                fillets apart: the shrunk outline crosses itself there, the plate falls apart

Points and directions are complex numbers x + iy in mm: conj(a) * b is a.b + i (a x b), and a
direction turns by an angle t when multiplied by exp(it).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import NDArray

from rootgap.errors import GeometryError, KernelError
from rootgap.geometry.openings import Disc, Opening
from rootgap.geometry.paths import Path, Point

Points = NDArray[np.complex128]

TOLERANCE = 1e-6
"""mm. Points nearer than this are one node; a node nearer than this to an edge is on it."""
_TANGENT = 1e-9
"""mm. Carriers that overlap, or miss each other, by less than this touch in one point."""
_SLIVER = 1e-9
"""radians. A disc that shows in a hull through a smaller angle is left out of it."""
_SMOOTH = 1e-6
"""radians. A smaller bend is no corner."""
_FIRST = 1.0
"""radians. Hulls and rings begin at their furthest point in this direction, one that no drawing prefers."""

_REMEDY = "let edge, boss or fillet grow until they join"

Segment = tuple[complex, complex, float]
"""Start, end, bulge."""


@dataclass(frozen=True)
class Edge:
    """A line, or an anticlockwise arc round `center`, of the hull of group number `group`."""

    start: complex
    end: complex
    center: complex | None = None
    group: int = 0

    @cached_property
    def radius(self) -> float:
        """Radius of the arc, mm; 0 for a line."""
        return 0.0 if self.center is None else abs(self.start - self.center)

    @cached_property
    def sweep(self) -> float:
        """Angle of the arc, radians, 0 to 2 pi; 0 for a line."""
        if self.center is None:
            return 0.0
        return _angle((self.end - self.center) / (self.start - self.center)) % (2 * np.pi)

    @cached_property
    def length(self) -> float:
        """Length along the edge, mm."""
        return abs(self.end - self.start) if self.center is None else self.radius * self.sweep

    @cached_property
    def along(self) -> complex:
        """Direction of the chord, length 1."""
        return (self.end - self.start) / abs(self.end - self.start)

    def at(self, station: float) -> complex:
        """Return the point `station` mm along the edge from its start."""
        if self.center is None:
            return self.start + station * self.along
        return self.center + (self.start - self.center) * complex(np.exp(1j * station / self.radius))

    def normal(self, point: complex) -> complex:
        """Return the outward direction, length 1, at `point` of the edge."""
        if self.center is None:
            return -1j * self.along
        return (point - self.center) / abs(point - self.center)

    def stations(self, points: Points) -> NDArray[np.float64]:
        """Return how far along the edge each of `points`, (n,), lies, (n,), mm; NaN for those off it."""
        if self.center is None:
            local = (points - self.start) * np.conj(self.along)
            station, miss = local.real, local.imag
        else:
            # Angles from the arc's middle, so that neither end is near the jump from pi to -pi.
            middle = self.normal(self.start) * np.exp(0.5j * self.sweep)
            spokes = (points - self.center) * np.conj(middle)
            station, miss = self.radius * (np.angle(spokes) + self.sweep / 2), np.abs(spokes) - self.radius
        on = (np.abs(miss) <= TOLERANCE) & (station >= -TOLERANCE) & (station <= self.length + TOLERANCE)
        return np.where(on, station, np.nan)


def hull(discs: Sequence[Disc]) -> Path:
    """Return the convex hull of `discs`, anticlockwise. Raises ValueError where it has no area.

    >>> round(hull([Disc(-10, 0, 15), Disc(10, 0, 15)]).area, 6)
    1306.858347
    """
    _check(discs, "hull")
    path = _path((edge.start, edge.end, _bulge(edge.sweep)) for edge in _merged(_hull_edges(discs)))
    if len(path.vertices) < 2 or path.area <= TOLERANCE**2:
        raise ValueError("hull: the discs enclose no area; give one of them a radius")
    return path


def flange_outline(
    openings: Sequence[tuple[Opening, Point, float]],
    bolts: Sequence[Point],
    edge: float,
    boss: float,
    fillet: float,
) -> Path:
    """Return the outline of the plate round `openings` (opening, centre in mm, turn in degrees)
    and `bolts` (centres, mm), anticlockwise.

    edge: least width of plate round an opening, mm; boss: radius of plate round a bolt, mm;
    fillet: radius of the re-entrant corners, mm.

    Raises ValueError for a negative size, and GeometryError where the plate falls apart, naming
    the openings and bolts of each piece.
    """
    if not min(edge, boss) >= 0:
        raise ValueError(f"flange outline: edge is {edge:g} mm, boss is {boss:g} mm; allowed: 0 or more")
    groups = [[disc.placed(at, turn).grown(edge) for disc in item.discs()] for item, at, turn in openings]
    groups += [[Disc(x, y, boss)] for x, y in bolts]
    names = [f"opening {number}" for number in range(1, len(openings) + 1)]
    names += [f"bolt {number}" for number in range(1, len(bolts) + 1)]
    return union_rounded(groups, fillet, names)


def union_rounded(groups: Sequence[Sequence[Disc]], fillet: float, names: Sequence[str] = ()) -> Path:
    """Return the outer boundary of the union of the hulls of `groups`, anticlockwise, with its
    re-entrant corners rounded to the radius `fillet`, mm; holes in the union are filled.

    names: what the groups are called in an error; by their numbers where there are none. Raises ValueError for a
    negative radius or fillet or an empty group, and GeometryError (a ValueError) where the result is more than one
    piece, naming the groups of each.
    """
    names = names or [f"group {number}" for number in range(1, len(groups) + 1)]
    if not groups:
        raise ValueError("outline: no groups of discs; allowed: 1 or more")
    if not fillet >= 0:
        raise ValueError(f"outline: fillet is {fillet:g} mm; allowed: 0 or more")
    for group, name in zip(groups, names, strict=True):
        _check(group, name)
    grown = [[disc.grown(fillet) for disc in group] for group in groups]
    hulls = [_hull_edges(discs, number) for number, discs in enumerate(grown)]
    for edges, name in zip(hulls, names, strict=True):
        if not edges:
            raise ValueError(f"{name}: is a point; give its disc a radius, or the outline a fillet")

    rings = {members: _merged(ring) for members, ring in _outer_rings(hulls)}
    pieces = [part for members, ring in rings.items() for part in _split_at_necks(ring, fillet) or [members]]
    if len(pieces) > 1:
        found = " | ".join(", ".join(names[number] for number in sorted(piece)) for piece in pieces)
        raise GeometryError("outline", f"falls into {len(pieces)} pieces: {found}", _REMEDY)
    (ring,) = rings.values()
    path = _path(_shrunk(ring, fillet))
    if len(path.vertices) < 2:
        raise ValueError("outline: encloses no area; give a disc a radius")
    return path


# Hulls


def _hull_edges(discs: Sequence[Disc], group: int = 0) -> list[Edge]:
    """Return the edges of the convex hull of `discs`, from its furthest point in the direction
    _FIRST, no arc longer than a semicircle; none for a single point.

    The hull is read off the support function h(t) = max over discs of c.u(t) + r: the disc that
    is furthest out at the normal angle t *shows* there. Disc j takes over from disc i where both
    are equally far out, (cj - ci).u = ri - rj, and j is overtaking; the hull has a line there.
    """
    discs = sorted(discs, key=lambda disc: -disc.r)  # of discs that touch from inside the larger is to show
    centers = np.array([complex(disc.x, disc.y) for disc in discs])
    radii = np.array([disc.r for disc in discs])
    starts = np.radians([disc.start for disc in discs])
    sweeps = np.radians([disc.sweep for disc in discs])

    apart = centers[None, :] - centers[:, None]
    larger = radii[:, None] - radii[None, :]
    distance = np.where(np.abs(apart) <= _TANGENT, np.inf, np.abs(apart))
    takeover = np.angle(apart) - np.arccos(np.clip(larger / distance, -1.0, 1.0))
    change = np.concatenate([takeover.ravel(), starts, starts + sweeps]) - _FIRST
    turns = np.sort(np.concatenate([change % (2 * np.pi), [0.0, np.pi, 2 * np.pi]]))
    turns = turns[np.append(True, np.diff(turns) > _SLIVER)] + _FIRST

    middles = (turns[:-1] + turns[1:]) / 2
    support = (centers[:, None] * np.exp(-1j * middles)).real + radii[:, None]
    hidden = (middles - starts[:, None]) % (2 * np.pi) > sweeps[:, None]
    support[hidden] = -np.inf
    furthest = np.max(support, axis=0)
    shown = np.argmax(support >= furthest - _TANGENT, axis=0)
    if not np.isfinite(furthest).all():
        raise ValueError("hull: a cap's rim ends where no other disc takes over")

    halfway = np.abs(turns[:-1] - _FIRST - np.pi) <= _SLIVER
    keep = np.append(True, shown[1:] != shown[:-1]) | halfway
    order, begins = shown[keep], turns[:-1][keep]
    edges: list[Edge] = []
    for k, i in enumerate(order):
        j = order[(k + 1) % len(order)]
        begin = begins[k] if order[k - 1] == i else takeover[order[k - 1], i]
        end = begins[(k + 1) % len(order)] if i == j else takeover[i, j]
        normal = complex(np.exp(1j * end))
        leave = complex(centers[i]) + radii[i] * normal
        arc = Edge(complex(centers[i] + radii[i] * np.exp(1j * begin)), leave, complex(centers[i]), group)
        line = Edge(leave, complex(centers[j]) + radii[j] * normal, None, group)
        edges += [edge for edge in (arc, line) if abs(edge.end - edge.start) > TOLERANCE]
    return [replace(edge, start=edges[k - 1].end) for k, edge in enumerate(edges)]  # over what was left out


# Union


def _outer_rings(hulls: Sequence[Sequence[Edge]]) -> Iterable[tuple[frozenset[int], list[Edge]]]:
    """Yield the outer rings of the union of `hulls`, none inside another: the numbers of the hulls
    in it, and its edges."""
    edges = [edge for each in hulls for edge in each]
    nodes = _nodes(edges)
    leaving = _pieces(edges, nodes)
    heads = [complex(nodes[np.argmin(np.abs(nodes - each[0].start))]) for each in hulls]
    upward = complex(np.exp(1j * _FIRST))
    remaining = sorted(range(len(hulls)), key=lambda number: -(heads[number] * upward.conjugate()).real)
    while remaining:
        ring = _ring(leaving, heads[remaining[0]], upward)
        members = frozenset(number for number in remaining if _encloses(ring, heads[number]))
        yield members, ring
        remaining = [number for number in remaining if number not in members]


def _nodes(edges: Sequence[Edge]) -> Points:
    """Return the ends, crossings and contacts of `edges`, (n,), points nearer than TOLERANCE as one."""
    middles = np.array([(edge.start + edge.end) / 2 for edge in edges])
    reaches = np.array([abs(edge.end - edge.start) / 2 for edge in edges])
    numbers = np.array([edge.group for edge in edges])
    # An arc of at most a semicircle lies in the disc that has its chord as diameter.
    near = np.abs(middles[:, None] - middles) <= reaches[:, None] + reaches + TOLERANCE
    near &= numbers[:, None] < numbers
    # Ends come first: they are sharper than crossings at a small angle, and the first of a cluster stays.
    found = [point for edge in edges for point in (edge.start, edge.end)]
    for i, j in np.argwhere(near):
        found += _crossings(edges[i], edges[j])
    nodes = np.empty(len(found), dtype=np.complex128)
    count = 0
    for point in found:
        if not (np.abs(nodes[:count] - point) <= TOLERANCE).any():
            nodes[count] = point
            count += 1
    return nodes[:count]


def _crossings(a: Edge, b: Edge) -> list[complex]:
    """Return the points that edges `a` and `b` share, where their carriers are not the same."""
    points = np.array(_carriers_meet(a, b), dtype=np.complex128)
    both = ~np.isnan(a.stations(points)) & ~np.isnan(b.stations(points))
    return [complex(point) for point in points[both]]


def _carriers_meet(a: Edge, b: Edge) -> list[complex]:
    """Return the points that two carriers share; none for parallel lines or concentric circles."""
    if a.center is None and b.center is None:
        cross = _cross(a.along, b.along)
        if abs(cross) <= 1e-12:
            return []
        return [a.start + a.along * _cross(b.start - a.start, b.along) / cross]
    if a.center is None:
        a, b = b, a
    if a.center is None:
        raise ValueError("two lines have no circle between them")
    if b.center is None:
        chord = b.along
        foot = b.start + chord * ((a.center - b.start) * chord.conjugate()).real
    else:
        between = b.center - a.center
        distance = abs(between)
        if distance <= _TANGENT:
            return []
        # The common chord lies on the radical line, square to the line of centres.
        chord = 1j * between / distance
        foot = a.center + between * (1 + (a.radius**2 - b.radius**2) / distance**2) / 2
    depth = a.radius - abs(foot - a.center)
    if depth < -_TANGENT:
        return []
    if depth <= _TANGENT:
        return [foot]
    half = np.sqrt(depth * (2 * a.radius - depth))
    return [foot - half * chord, foot + half * chord]


def _pieces(edges: Sequence[Edge], nodes: Points) -> dict[complex, list[Edge]]:
    """Return the pieces of `edges` between `nodes` by the node they leave, one of each set of twins."""
    leaving: dict[complex, list[Edge]] = defaultdict(list)
    for edge in edges:
        stations = edge.stations(nodes)
        order = np.argsort(stations)[: np.count_nonzero(~np.isnan(stations))]
        for start, end in pairwise(complex(node) for node in nodes[order]):
            piece = replace(edge, start=start, end=end)
            if not any(_are_twins(piece, other) for other in leaving[start]):
                leaving[start].append(piece)
    return leaving


def _are_twins(a: Edge, b: Edge) -> bool:
    """Return whether two pieces that leave the same node lie on each other."""
    return a.end == b.end and abs(a.at(a.length / 2) - b.at(b.length / 2)) <= TOLERANCE


def _ring(leaving: dict[complex, list[Edge]], head: complex, upward: complex) -> list[Edge]:
    """Return the ring that keeps the outside on its right, from `head`, its furthest node in the
    direction `upward`.

    At every node the piece that bounds the outside is the first on the right: pieces that run
    inside the union leave further left.
    """
    ring = [_rightmost(Edge(head - 1j * upward, head), leaving[head])]
    for _ in range(sum(map(len, leaving.values()))):
        following = _rightmost(ring[-1], leaving[ring[-1].end])
        if following == ring[0]:
            return ring
        ring.append(following)
    raise KernelError("outline", "the outer ring does not close")


def _rightmost(arriving: Edge, choices: Sequence[Edge]) -> Edge:
    """Return which of `choices`, pieces that leave the end of `arriving`, lies furthest right.

    Compared at half the shorter piece rather than by tangents: pieces that touch leave in one
    direction, and two that are no twins are clearly apart there.
    """
    node = arriving.end
    best = choices[0]
    for other in choices[1:]:
        ahead = min(best.length, other.length) / 2
        back = arriving.at(arriving.length - min(ahead, arriving.length / 2)) - node
        turns = [_angle((piece.at(ahead) - node) / back) % (2 * np.pi) for piece in (other, best)]
        best = other if turns[0] < turns[1] else best
    return best


def _encloses(ring: Sequence[Edge], point: complex) -> bool:
    """Return whether the node `point` lies on or inside `ring`, by its winding number."""
    winding = 0.0
    for edge in ring:
        if edge.start == point:
            return True
        turn = _angle((edge.end - point) / (edge.start - point))
        # Seen from inside its circle an arc turns left, even past its chord, where the chord turns right.
        inside = edge.center is not None and abs(point - edge.center) < edge.radius
        winding += turn % (2 * np.pi) if inside else turn
    return round(winding / (2 * np.pi)) != 0


# Rounding


def _necks(ring: Sequence[Edge], fillet: float) -> list[tuple[int, int]]:
    """Return the pairs of edges of `ring` whose ends are the two corners of a neck.

    A fillet round a corner covers the directions from minus the normal of the edge before to
    minus the normal of the edge after. Where the line between two corners lies in both and they
    are less than two fillets apart, the two arcs cross.
    """
    bends = {k: _bend(edge, after) for k, (edge, after) in enumerate(pairwise([*ring, ring[0]]))}

    def faces(k: int, other: complex) -> bool:
        corner = ring[k].end
        inward = -ring[k].normal(corner)
        return corner == other or bends[k] <= _angle((other - corner) / inward) <= 0

    corners = [k for k, bend in bends.items() if bend < -_SMOOTH]
    return [
        (i, j)
        for i, j in combinations(corners, 2)
        if abs(ring[i].end - ring[j].end) < 2 * fillet + TOLERANCE
        and faces(i, ring[j].end)
        and faces(j, ring[i].end)
    ]


def _split_at_necks(ring: Sequence[Edge], fillet: float) -> list[frozenset[int]]:
    """Return the groups that show in each piece of `ring` when it is cut straight across its
    necks; nothing where it has no necks."""
    necks = _necks(ring, fillet)
    pieces: dict[tuple[bool, ...], set[int]] = defaultdict(set)
    for k, edge in enumerate(ring):
        pieces[tuple(i < k <= j for i, j in necks)].add(edge.group)
    return [frozenset(piece) for piece in pieces.values()] if necks else []


def _shrunk(ring: Sequence[Edge], fillet: float) -> Iterable[Segment]:
    """Yield the segments of `ring` moved in by `fillet` mm, with an arc round each re-entrant corner."""
    for edge, after in pairwise([*ring, ring[0]]):
        leave = edge.end - fillet * edge.normal(edge.end)
        yield edge.start - fillet * edge.normal(edge.start), leave, _bulge(edge.sweep)
        yield leave, after.start - fillet * after.normal(after.start), _bulge(_bend(edge, after))


def _bend(edge: Edge, after: Edge) -> float:
    """Return the angle, radians, -pi to below pi, by which the normal turns from `edge` to `after`."""
    bend = _angle(after.normal(after.start) / edge.normal(edge.end))
    return bend - 2 * np.pi if bend > np.pi - _SMOOTH else bend  # two that touch: turn right, not left


# Edges to paths


def _merged(ring: Sequence[Edge]) -> list[Edge]:
    """Return `ring` with the neighbours on one carrier joined, no arc longer than a semicircle."""
    breaks = [k for k, edge in enumerate(ring) if not _continues(ring[k - 1], edge)]
    if not breaks:
        start, opposite = ring[0].start, ring[0].at(np.pi * ring[0].radius)
        return [replace(ring[0], end=opposite), replace(ring[0], start=opposite, end=start)]
    merged: list[Edge] = []
    for first, following in pairwise([*breaks, breaks[0] + len(ring)]):
        edge = replace(ring[first], end=ring[(following - 1) % len(ring)].end)
        if edge.sweep > np.pi + TOLERANCE:
            middle = edge.at(edge.length / 2)
            merged += [replace(edge, end=middle), replace(edge, start=middle)]
        else:
            merged.append(edge)
    return merged


def _continues(edge: Edge, after: Edge) -> bool:
    """Return whether `after`, which starts at the end of `edge`, lies on the same carrier."""
    if edge.center is None or after.center is None:
        straight = edge.center is None and after.center is None
        return straight and abs(_angle(after.along / edge.along)) * min(edge.length, after.length) < TOLERANCE
    return abs(edge.center - after.center) < TOLERANCE and abs(edge.radius - after.radius) < TOLERANCE


def _path(segments: Iterable[Segment]) -> Path:
    """Return the closed path of `segments` without those shorter than TOLERANCE."""
    kept = [(start, bulge) for start, end, bulge in segments if abs(end - start) > TOLERANCE]
    return Path(tuple((start.real, start.imag, bulge) for start, bulge in kept), closed=True)


def _bulge(sweep: float) -> float:
    return float(np.tan(sweep / 4))


def _angle(ratio: complex) -> float:
    return float(np.angle(ratio))


def _cross(a: complex, b: complex) -> float:
    return (a.conjugate() * b).imag


def _check(discs: Sequence[Disc], name: str) -> None:
    """Raise ValueError unless there are `discs`, none of negative radius."""
    if not discs:
        raise ValueError(f"{name}: no discs; allowed: 1 or more")
    for disc in discs:
        if not disc.r >= 0:
            raise ValueError(f"{name}: disc radius is {disc.r:g} mm; allowed: 0 or more")
