"""The boundary of a straight or bent pipe with either end cut and with holes through its wall, built face by face from
the closed rings of its end faces and the rims of its holes.

Terminology
    ring       a closed curve of an end face: its bore's edge, its outside's, and any between them
    node       a sample of the rings
    corner     a node at which the slope of a ring may jump
    stretch    what lies between two corners, or the whole turn where there are none
    seam       one of the two clocks, half a turn apart, at which the walls are parted; both ends share them
    span       a part of a stretch between seams, that becomes one face between two rings

No boolean is needed: the rings are cubic splines in the clock angle, so the same parameter serves the
curve in space, its trace on the wall and the edge of the ruled end surfaces, and the three agree to
the spline's own error. Each half of a wall is one face from one end to the other, whatever corners the
ends have, so that neither end asks anything of the other but its vertices at the seams.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Builder
from OCP.Geom import (
    Geom_BezierCurve,
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_Circle,
    Geom_Curve,
    Geom_Plane,
    Geom_Surface,
)
from OCP.Geom2d import Geom2d_BSplineCurve, Geom2d_Curve, Geom2d_Line
from OCP.gp import gp_Dir2d, gp_Pnt, gp_Pnt2d
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex

from rootgap.geometry.splines import (
    clamped_slopes,
    evaluated,
    evaluated_slopes,
    free_slopes,
    periodic_slopes,
    poles,
)
from rootgap.geometry.wall import StraightWall, Wall
from rootgap.solids.holes import ERROR, OWN, SPACE, TRACE, Half, Pierced, all_apart
from rootgap.solids.rims import Edges, knots, trimmed, wire
from rootgap.solids.walls import axes, generator, generator_image, images, rate, ring_image, surface

Array = NDArray[np.float64]

TOLERANCE = 1e-7
"""Least tolerance of an edge, mm: the kernel's own confusion distance."""

THINNING = 1e-4
"""Largest error, mm, at the samples that the splines may leave out."""

BULGE = 5e-6
"""Largest distance, mm, that a thinned end curve may have from its wall."""

#: Largest step between the clocks that are tried as seams, radians.
SEAM_STEP = np.radians(1.0)

#: A node nearer to a seam than this, radians, gives way to it.
NODES_APART = 1e-4


@dataclass(frozen=True, eq=False)
class EndFace:
    """A cut end of a pipe: rings about its axis, and the faces ruled from each ring to the next.

    theta: (n,), radians from the frame's ref, rising over one turn, the end not repeated; radii: (k,), mm, of
    the rings, rising from the bore's to the outside's; stations: (n, k), mm, along the centre line;
    corners: (m,), rising indices of the samples at which the slope of a ring may jump: with any, the
    first must be sample 0. Rings are cubic splines from corner to corner. Between samples 1 degree apart
    they stay within 0.001 mm of a curve that is smooth there.

    Raises ValueError for rings or corners that are not such.
    """

    theta: Array
    radii: Array
    stations: Array
    corners: NDArray[np.intp]

    def __post_init__(self) -> None:
        n, k = self.theta.size, self.radii.size
        if self.theta.shape != (n,) or self.radii.shape != (k,) or self.stations.shape != (n, k) or n < 8 or k < 2:
            raise ValueError("theta (n,), radii (k,) and stations (n, k) must agree, n at least 8 and k at least 2")
        if np.any(np.diff(self.theta) <= 0.0) or self.theta[-1] - self.theta[0] >= 2.0 * np.pi:
            raise ValueError("theta must increase over one turn without repeating its end")
        if np.any(np.diff(self.radii) <= 0.0):
            raise ValueError("radii must rise from the bore's to the outside's")
        at = self.corners
        if at.size and (at[0] != 0 or np.any(np.diff(at) <= 0) or at[-1] >= n):
            raise ValueError("corners must be rising indices of samples, the first of them 0")

    def facing(self, length: float) -> EndFace:
        """Return the face as it is told from the other end of a pipe of `length` mm: stations count from
        there, and clock t becomes 360 - t degrees."""
        count = self.theta.size
        back = -np.arange(count) % count
        theta = -self.theta[back] + np.where(back, 2.0 * np.pi, 0.0)
        return EndFace(theta, self.radii, length - self.stations[back], np.sort(-self.corners % count))

    def level(self, theta: Array, rho: Array) -> Array:
        """Return the stations, (m, j), mm, at clocks, (m,), radians, and radii, (j,), mm, straight from
        sample to sample."""
        rings = np.column_stack([np.interp(theta, self.theta, ring, period=2.0 * np.pi) for ring in self.stations.T])
        return np.stack([np.interp(rho, self.radii, row) for row in rings])


@dataclass(frozen=True, eq=False)
class Span:
    """One part of the rings of an end face.

    theta: (n,), radians; stations: (n, k), mm, of each ring; slopes: (2, k), mm per radian, of the
    stations at the first and the last node.
    """

    theta: Array
    stations: Array
    slopes: Array


@dataclass(frozen=True, eq=False)
class End:
    """One end as built. vertices: at each seam, of bore and outside; chains: of each half and wall,
    the edges along it with their images on the wall; stations: (2, 2), mm, of the vertices; faces: turned
    out of the metal."""

    vertices: list[list[TopoDS_Vertex]]
    chains: list[list[list[tuple[TopoDS_Edge, Geom2d_Curve]]]]
    stations: Array
    faces: list[TopoDS_Face]


@dataclass(frozen=True, eq=False)
class Opened:
    """A hole as built. chains: of each wall, the edges round it with their traces on the pipe; half: of the pipe that
    it lies in; faces: turned out of the metal."""

    chains: list[list[tuple[TopoDS_Edge, Geom2d_Curve]]]
    half: int
    faces: list[TopoDS_Face]


def has_room(near: EndFace | None, far: EndFace | None, length: float, holes: Sequence[Pierced]) -> bool:
    """Tell whether `pipe_solid` can build holes: they lie apart from each other, from both ends and from some seam.
    near, far, length: as there, mm."""
    low = 0.0 if near is None else float(near.stations.max())
    high = length if far is None else float(far.stations.min())
    within = all(low < hole.stations[0] and hole.stations[1] < high for hole in holes)
    return within and seam(near, far, holes)[1] > NODES_APART and all_apart(holes)


def pipe_solid(
    pipe: Wall,
    near: EndFace | None,
    far: EndFace | None,
    length: float,
    radii: tuple[float, float],
    holes: Sequence[Pierced] = (),
) -> TopoDS_Solid:
    """Return the solid pipe between two ends. near, far: None where square, at station 0 and at `length`, mm, of the
    centre line; radii: of bore and outside, mm; holes: that have room. Raises ValueError where the ends are not of
    these radii, or reach into each other."""
    for end in (near, far):
        if end is not None and not np.allclose(end.radii[[0, -1]], radii, rtol=0.0, atol=TOLERANCE):
            raise ValueError("an end face must run from the pipe's bore to its outside")
    if _shortest(near, far, length) <= 0.0:
        raise ValueError("the far end may not reach back past the near end")
    first, _ = seam(near, far, holes)
    parts = [None if end is None else spans(pipe, end, first) for end in (near, far)]
    built = [span for halves in parts if halves for half in halves for span in half]
    off = [2.0 * _bulge(pipe, span, radius, j) for span in built for j, radius in zip((0, -1), radii, strict=True)]
    build = _Boundary(pipe, first, radii, max([TOLERANCE, *off, *(2.0 * ERROR for _ in holes)]))
    sides = zip((near, far), parts, (0.0, length), (False, True), strict=True)
    ends = [
        build.cut(end, halves, far=is_far) if end and halves else build.square(station, far=is_far)
        for end, halves, station, is_far in sides
    ]
    return build.solid(ends[0], ends[1], [build.hole(hole) for hole in holes])


def _shortest(near: EndFace | None, far: EndFace | None, length: float) -> float:
    """Return the least length of the pipe's generators, mm, within its wall."""
    ends = [end for end in (near, far) if end is not None]
    if not ends:
        return length
    theta = np.concatenate([end.theta for end in ends])
    rho = np.unique(np.concatenate([end.radii for end in ends]))
    start = np.zeros(1) if near is None else near.level(theta, rho)
    return float(np.min((length if far is None else far.level(theta, rho)) - start))


def seam(near: EndFace | None, far: EndFace | None, holes: Sequence[Pierced] = ()) -> tuple[float, float]:
    """Return the clock, radians, of the first seam: with the other, half a turn on, farthest from every corner and
    hole; and how far that is, radians, below nought where every seam runs into one."""
    ends = [end for end in (far, near) if end is not None]
    corners = [(clock, 0.0) for end in ends for clock in end.theta[end.corners]]
    spread = [(0.5 * (low + high), 0.5 * (high - low)) for low, high in (hole.clocks for hole in holes)]
    tried = (ends[0].theta[0] if ends else 0.0) + SEAM_STEP * np.arange(180)
    middles, halves = np.array([*corners, *spread]).reshape(-1, 2).T
    apart = np.abs((tried[:, None] - middles + 0.5 * np.pi) % np.pi - 0.5 * np.pi) - halves
    room = apart.min(axis=1, initial=np.pi)
    best = int(np.argmax(room))
    return float(tried[best]), float(room[best])


def spans(pipe: Wall, end: EndFace, first: float) -> list[list[Span]]:
    """Return the spans of an end's rings, of the half turn from the first seam, radians, and of the other."""
    angle = np.append(end.theta, end.theta[0] + 2.0 * np.pi)
    rings = np.concatenate([end.stations, end.stations[:1]])
    start = first + 2.0 * np.pi * np.ceil((angle[0] - first) / (2.0 * np.pi) - 1e-9)
    seams = start + np.pi * np.arange(3)
    if not end.corners.size:
        slopes = periodic_slopes(angle, rings)
        twice = np.concatenate([angle, angle[1:] + 2.0 * np.pi])
        whole = twice, np.concatenate([rings, rings[1:]]), np.concatenate([slopes, slopes[1:]])
        return [[_thinned(pipe, end.radii, _part(*whole, low, high, first - start))] for low, high in pairwise(seams)]
    halves: list[list[Span]] = [[], []]
    bounds = [*end.corners, end.theta.size]
    # From the stretch that the first seam cuts, round to what lies before that seam.
    for turn in (0.0, 2.0 * np.pi):
        for i, j in pairwise(bounds):
            t, s = angle[i : j + 1] + turn, rings[i : j + 1]
            slopes = free_slopes(t, s)
            for half, (low, high) in zip(halves, pairwise(seams), strict=True):
                a, b = max(low, t[0]), min(high, t[-1])
                if b - a > NODES_APART:
                    half.append(_thinned(pipe, end.radii, _part(t, s, slopes, a, b, first - start)))
    return halves


def _part(theta: Array, stations: Array, slopes: Array, low: float, high: float, turn: float) -> Span:
    """Return what lies from `low` to `high`, radians, of rings with their slopes at the nodes, turned by `turn`
    radians. Arrays as of `Span`, slopes at every node."""
    within = theta[(theta > low + NODES_APART) & (theta < high - NODES_APART)]
    nodes = np.concatenate([[low], within, [high]])
    ends = evaluated_slopes(theta, stations, slopes, nodes[[0, -1]])
    return Span(nodes + turn, evaluated(theta, stations, slopes, nodes), ends)


def _thinned(pipe: Wall, radii: Array, span: Span) -> Span:
    """Return the span with the fewest nodes that keep it within THINNING and BULGE mm. radii: (k,), mm."""
    last = span.theta.size - 1
    for stride in (16, 8, 4, 2):
        if last < 4 * stride:
            continue
        keep = np.rint(np.linspace(0, last, last // stride + 1)).astype(int)
        thin = Span(span.theta[keep], span.stations[keep], span.slopes)
        missed = _stations(thin, span.theta) - span.stations
        if np.abs(missed).max() < THINNING and max(_bulge(pipe, thin, radii[j], j) for j in (0, -1)) < BULGE:
            return thin
    return span


def _stations(span: Span, theta: Array) -> Array:
    """Return the stations, (m, k), mm, of a span's rings at clocks, (m,), radians."""
    nodes, stations = span.theta, span.stations
    return evaluated(nodes, stations, clamped_slopes(nodes, stations, span.slopes), theta)


def _ring(pipe: Wall, span: Span, radius: float, j: int) -> tuple[Array, Array]:
    """Return the points, (n, 3), mm, of a span of ring j at its nodes, and the slopes there of the cubic through
    them."""
    theta, station, rho = span.theta, span.stations[:, j], np.full(span.theta.shape, radius)
    points, ends = pipe.points(theta, rho, station), [0, -1]
    going = span.slopes[:, j] * pipe.pace(theta[ends], rho[ends])
    turning = radius * pipe.radials(theta[ends] + 0.5 * np.pi, station[ends])
    slopes = turning + going[:, None] * pipe.directions(theta[ends], station[ends])
    return points, clamped_slopes(theta, points, slopes)


def _bulge(pipe: Wall, span: Span, radius: float, j: int) -> float:
    """Return how far, mm, the cubic through a span of ring j in space lies from its image on the wall half way between
    its nodes.

    Source, on a straight wall, where the image is off along the circle alone: error of cubic spline interpolation,
    h^4 / 384 times the fourth derivative (C. de Boor, "A Practical Guide to Splines", chapter V).
    """
    if isinstance(pipe, StraightWall):
        return float(radius * np.diff(span.theta).max() ** 4 / 384.0)
    points, slopes = _ring(pipe, span, radius, j)
    middles = 0.5 * (span.theta[1:] + span.theta[:-1])
    on_wall = pipe.points(middles, np.full(middles.shape, radius), _stations(span, middles)[:, j])
    return float(np.linalg.norm(evaluated(span.theta, points, slopes, middles) - on_wall, axis=1).max())


class _Boundary:
    """Faces of a pipe that share their edges. A builder, used once."""

    def __init__(self, pipe: Wall, first: float, radii: tuple[float, float], tolerance: float) -> None:
        """Start a boundary. first: the first seam, radians; radii: bore and outside, mm; tolerance: mm."""
        self.pipe, self.radii, self.tolerance = pipe, radii, tolerance
        self.seams = (first, first + np.pi)
        self.build = BRep_Builder()

    def solid(self, near: End, far: End, holes: Sequence[Opened]) -> TopoDS_Solid:
        """Return the closed solid between two ends, with holes."""
        shell = TopoDS_Shell()
        self.build.MakeShell(shell)
        lines = [[self._side(h, w, near, far) for w in (0, 1)] for h in (0, 1)]
        for h in (0, 1):
            for w in (0, 1):
                face = self._wall(h, w, near.chains[h][w], lines[1 - h][w], far.chains[h][w], lines[h][w])
                for hole in holes:
                    if hole.half == h:
                        self._open(face, hole.chains[w])
                self.build.Add(shell, face if w else face.Reversed())
        for face in [*near.faces, *far.faces, *(face for hole in holes for face in hole.faces)]:
            self.build.Add(shell, face)
        shell.Closed(True)
        solid = TopoDS_Solid()
        self.build.MakeSolid(solid)
        self.build.Add(solid, shell)
        return solid

    def square(self, station: float, *, far: bool) -> End:
        """Return a square end at a station, mm."""
        vertices = [[self._vertex(angle, radius, station) for radius in self.radii] for angle in self.seams]
        frame = self.pipe.at(station)
        chains: list[list[list[tuple[TopoDS_Edge, Geom2d_Curve]]]] = [[], []]
        for h in (0, 1):
            image = ring_image(self.pipe, self.seams[h], station)
            for w in (0, 1):
                circle = Geom_Circle(axes(frame, self.seams[h]).Ax2(), self.radii[w])
                chains[h].append([(self._edge(circle, 0.0, np.pi, vertices[h][w], vertices[1 - h][w]), image)])
        face = self._face(Geom_Plane(axes(frame, 0.0)), [(chains[h][1][0][0], True) for h in (0, 1)])
        self.build.Add(face, wire(self.build, [(chains[h][0][0][0], False) for h in (1, 0)]))
        return End(vertices, chains, np.full((2, 2), station), [face if far else _reversed(face)])

    def cut(self, end: EndFace, halves: list[list[Span]], *, far: bool) -> End:
        """Return a cut end of the given spans."""
        parts, radii = [span for half in halves for span in half], end.radii
        count, rings = len(parts), range(radii.size)
        tips = [[self._vertex(part.theta[0], radii[j], part.stations[0, j]) for j in rings] for part in parts]
        rims = [
            [self._rim(part, radii[j : j + 2], j, tips[k]) for j in rings[:-1]] for k, part in enumerate(parts)
        ]
        control = [[poles(part.theta, *_ring(self.pipe, part, radii[j], j)) for j in rings] for part in parts]
        cuts = [
            [self._cut(part, control[k][j], tips[k][j], tips[(k + 1) % count][j]) for j in rings]
            for k, part in enumerate(parts)
        ]
        faces = [
            self._end(part, control[k][j : j + 2], cuts[k][j : j + 2], rims[(k + 1) % count][j], rims[k][j])
            for k, part in enumerate(parts)
            for j in rings[:-1]
        ]
        starts, chains = (0, len(halves[0])), []
        for h, half in enumerate(halves):
            chains.append(
                [
                    [(cuts[starts[h] + i][j], self._on_wall(part, j, h)) for i, part in enumerate(half)]
                    for j in (0, radii.size - 1)
                ]
            )
        return End(
            [[tips[k][0], tips[k][-1]] for k in starts],
            chains,
            np.array([parts[k].stations[0, [0, -1]] for k in starts]),
            [_reversed(face) if far else face for face in faces],
        )

    def hole(self, pierced: Pierced) -> Opened:
        """Return a hole through the wall: two halves of its own surface, which part at its clocks 0 and 180."""
        branch, radius = pierced.hole.branch, pierced.hole.radius
        half = int((pierced.clocks[0] - self.seams[0]) // np.pi % 2)
        seam = self.seams[half]
        turns = 2.0 * np.pi * ((pierced.clocks[0] - seam) // (2.0 * np.pi))
        tips = [[self._tip(part) for part in rim.halves] for rim in pierced.rims]
        edges = [
            [self._along(part, a, b) for part, a, b in zip(rim.halves, ends, ends[::-1], strict=True)]
            for rim, ends in zip(pierced.rims, tips, strict=True)
        ]
        lines = []
        for h in (0, 1):
            low, high = (rim.halves[h].height for rim in reversed(pierced.rims))
            lines.append(self._generator(branch, h * np.pi, radius, (low, high), tips[1][h], tips[0][h]))
        faces = []
        for h in (0, 1):
            inner, outer = edges[0][h], edges[1][h]
            sides = [(outer, True), (lines[1 - h], True), (inner, False), (lines[h], False)]
            face = self._face(surface(branch, h * np.pi, radius), sides)
            for rim, edge in zip(pierced.rims, (inner, outer), strict=True):
                self._trace(face, edge, _image(branch, rim.halves[h], OWN, h * np.pi, 0.0))
            for edge, angle in ((lines[h], h * np.pi), (lines[1 - h], (h + 1) * np.pi)):
                self._trace(face, edge, generator_image(branch, h * np.pi, angle))
            faces.append(_reversed(face))
        chains = [
            [
                (edge, _image(self.pipe, part, TRACE, seam, turns))
                for edge, part in zip(edges[w], rim.halves, strict=True)
            ]
            for w, rim in enumerate(pierced.rims)
        ]
        return Opened(chains, half, faces)

    def _open(self, face: TopoDS_Face, chain: list[tuple[TopoDS_Edge, Geom2d_Curve]]) -> None:
        """Open half of a wall where a hole goes through it: clockwise as one looks at it from outside the pipe."""
        self.build.Add(face, wire(self.build, [(edge, True) for edge, _ in chain]))
        for edge, trace in chain:
            self._trace(face, edge, trace)

    def _tip(self, part: Half) -> TopoDS_Vertex:
        """Return the vertex at the start of half of a rim."""
        return self._node(gp_Pnt(*map(float, part.values[0, SPACE])))

    def _along(self, part: Half, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return half of a rim, whose parameter is the clock of its hole."""
        curve = _space_spline(part.theta, part.poles[:, SPACE])
        return self._edge(curve, float(part.theta[0]), float(part.theta[-1]), a, b)

    def _vertex(self, theta: float, radius: float, station: float) -> TopoDS_Vertex:
        return self._node(_point(self.pipe, theta, radius, station))

    def _node(self, point: gp_Pnt) -> TopoDS_Vertex:
        made = TopoDS_Vertex()
        self.build.MakeVertex(made, point, self.tolerance)
        return made

    def _edge(
        self, curve: Geom_Curve, low: float, high: float, a: TopoDS_Vertex, b: TopoDS_Vertex
    ) -> TopoDS_Edge:
        edge = TopoDS_Edge()
        self.build.MakeEdge(edge, curve, self.tolerance)
        self.build.Add(edge, a.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
        self.build.Add(edge, b.Oriented(TopAbs_Orientation.TopAbs_REVERSED))
        self.build.Range(edge, low, high)
        return edge

    def _side(self, h: int, w: int, near: End, far: End) -> TopoDS_Edge:
        """Return the generator up a wall at a seam."""
        ends = float(near.stations[h, w]), float(far.stations[h, w])
        return self._generator(
            self.pipe, self.seams[h], self.radii[w], ends, near.vertices[h][w], far.vertices[h][w]
        )

    def _generator(
        self, wall: Wall, theta: float, radius: float, ends: tuple[float, float], a: TopoDS_Vertex, b: TopoDS_Vertex
    ) -> TopoDS_Edge:
        """Return a generator of a wall from one station to another, mm."""
        low, high = (rate(wall) * station for station in ends)
        return self._edge(generator(wall, theta, radius), low, high, a, b)

    def _rim(self, part: Span, radii: Array, j: int, tips: list[TopoDS_Vertex]) -> TopoDS_Edge:
        """Return the line from ring j to the next at a span's start, whose parameter runs 0 to 1."""
        ends = TColgp_Array1OfPnt(1, 2)
        for i in (0, 1):
            ends.SetValue(i + 1, _point(self.pipe, part.theta[0], radii[i], part.stations[0, j + i]))
        return self._edge(Geom_BezierCurve(ends), 0.0, 1.0, tips[j], tips[j + 1])

    def _cut(self, part: Span, control: Array, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return a span of a ring, whose parameter is the clock angle. control: its poles, (n + 2, 3), mm."""
        curve = _space_spline(part.theta, control)
        return self._edge(curve, float(part.theta[0]), float(part.theta[-1]), a, b)

    def _on_wall(self, part: Span, j: int, h: int) -> Geom2d_BSplineCurve:
        """Return the image of a span of ring j on a half of the wall."""
        trace = np.column_stack([part.theta, part.stations[:, j]])
        turning = np.column_stack([np.ones(2), part.slopes[:, j]])
        control = poles(part.theta, trace, clamped_slopes(part.theta, trace, turning))
        return _plane_spline(part.theta, images(self.pipe, self.seams[h], control))

    def _wall(
        self,
        h: int,
        w: int,
        near: list[tuple[TopoDS_Edge, Geom2d_Curve]],
        after: TopoDS_Edge,
        far: list[tuple[TopoDS_Edge, Geom2d_Curve]],
        before: TopoDS_Edge,
    ) -> TopoDS_Face:
        """Return half of the outside or the bore, its normal away from the axis."""
        face = self._face(
            surface(self.pipe, self.seams[h], self.radii[w]),
            [
                *((edge, True) for edge, _ in near),
                (after, True),
                *((edge, False) for edge, _ in reversed(far)),
                (before, False),
            ],
        )
        for edge, trace in [*near, *far]:
            self._trace(face, edge, trace)
        for edge, angle in ((before, self.seams[h]), (after, self.seams[h] + np.pi)):
            self._trace(face, edge, generator_image(self.pipe, self.seams[h], angle))
        return face

    def _end(
        self,
        part: Span,
        control: Sequence[Array],
        cuts: Sequence[TopoDS_Edge],
        after: TopoDS_Edge,
        before: TopoDS_Edge,
    ) -> TopoDS_Face:
        """Return the face ruled from a ring to the next, its normal back along the axis. control, cuts: the poles,
        (n + 2, 3), mm, and the edges of the two."""
        t = part.theta
        listed = TColgp_Array2OfPnt(1, t.size + 2, 1, 2)
        for w in (0, 1):
            for i, pole in enumerate(control[w].tolist(), start=1):
                listed.SetValue(i, w + 1, gp_Pnt(*pole))
        at, multiplicities = knots(t, 3)
        across, twice = TColStd_Array1OfReal(1, 2), TColStd_Array1OfInteger(1, 2)
        for i in (0, 1):
            across.SetValue(i + 1, float(i))
            twice.SetValue(i + 1, 2)
        surface = Geom_BSplineSurface(listed, at, across, multiplicities, twice, 3, 1)
        inner, outer = cuts
        face = self._face(surface, [(inner, True), (after, True), (outer, False), (before, False)])
        for edge, height in ((inner, 0.0), (outer, 1.0)):
            self._trace(face, edge, Geom2d_Line(gp_Pnt2d(0.0, height), gp_Dir2d(1.0, 0.0)))
        for edge, angle in ((before, t[0]), (after, t[-1])):
            self._trace(face, edge, Geom2d_Line(gp_Pnt2d(float(angle), 0.0), gp_Dir2d(0.0, 1.0)))
        return face

    def _face(self, surface: Geom_Surface, edges: Edges) -> TopoDS_Face:
        return trimmed(self.build, surface, edges, TOLERANCE)

    def _trace(self, face: TopoDS_Face, edge: TopoDS_Edge, curve: Geom2d_Curve) -> None:
        self.build.UpdateEdge(edge, curve, face, self.tolerance)


def _point(pipe: Wall, theta: float, radius: float, station: float) -> gp_Pnt:
    return gp_Pnt(*map(float, pipe.points(*(np.array([value]) for value in (theta, radius, station)))[0]))


def _reversed(face: TopoDS_Face) -> TopoDS_Face:
    """Return a face with its normal the other way."""
    return face.Reversed()


def _image(wall: Wall, part: Half, columns: slice, first: float, turns: float) -> Geom2d_BSplineCurve:
    """Return the image of half of a rim on a wall that counts from `first`, radians. turns: that its clocks are ahead
    of that, radians."""
    return _plane_spline(part.theta, images(wall, first, part.poles[:, columns] - (turns, 0.0)))


def _space_spline(theta: Array, control: Array) -> Geom_BSplineCurve:
    """Return the cubic with the nodes `theta`, (n,), and the control points, (n + 2, 3), mm."""
    listed = TColgp_Array1OfPnt(1, len(control))
    for i, pole in enumerate(control.tolist(), start=1):
        listed.SetValue(i, gp_Pnt(*pole))
    return Geom_BSplineCurve(listed, *knots(theta, 3), 3)


def _plane_spline(theta: Array, control: Array) -> Geom2d_BSplineCurve:
    """Return the plane cubic with the nodes `theta`, (n,), and the control points, (n + 2, 2)."""
    listed = TColgp_Array1OfPnt2d(1, len(control))
    for i, pole in enumerate(control.tolist(), start=1):
        listed.SetValue(i, gp_Pnt2d(*pole))
    return Geom2d_BSplineCurve(listed, *knots(theta, 3), 3)
