"""The boundary of a coped pipe, built face by face from its two closed end curves.

Terminology: a *run* here is a smooth stretch of the curves between two corners; a *span* is
a part of a run that becomes one face; a *node* is a sample of the curves.

No boolean is needed: the end curves are cubic splines in the clock angle, so the same
parameter serves the curve in space, its trace on the cylinder and the edge of the ruled end
surface, and the three agree to the spline's own error.
"""

from __future__ import annotations

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
    Geom_CylindricalSurface,
    Geom_Line,
    Geom_Plane,
    Geom_Surface,
)
from OCP.Geom2d import Geom2d_BSplineCurve, Geom2d_Curve, Geom2d_Line
from OCP.gp import gp_Ax3, gp_Dir, gp_Dir2d, gp_Pnt, gp_Pnt2d
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TColStd import TColStd_Array1OfInteger, TColStd_Array1OfReal
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex, TopoDS_Wire
from scipy.interpolate import CubicSpline, make_interp_spline

from rootgap.geometry.frames import Frame

Array = NDArray[np.float64]

TOLERANCE = 1e-7
"""Least tolerance of an edge, mm: the kernel's own confusion distance."""

THINNING = 1e-4
"""Largest error, mm, at the samples that the splines may leave out."""

BULGE = 5e-6
"""Largest distance, mm, that a thinned end curve may have from its cylinder."""

CORNER_ERROR = 2e-4
"""A slope that jumps becomes a corner where a smooth spline would be off by more than this, mm."""


@dataclass(frozen=True, eq=False)
class Span:
    """One face's stretch of the two end curves.

    theta: (n,), radians; inner, outer: (n,), stations, mm; slopes: (2, 2), station slopes,
    mm per radian, rows inner and outer, columns first and last node.
    """

    theta: Array
    inner: Array
    outer: Array
    slopes: Array


def coped_pipe(
    frame: Frame, theta: Array, inner: Array, outer: Array, r_out: float, r_in: float, start: float
) -> TopoDS_Solid:
    """Return the solid between the plane at station `start`, mm, and the ruled surface through
    the bore curve (r_in, theta, inner) and the outside curve (r_out, theta, outer).

    theta: (n,), radians, increasing over one turn, the end not repeated; inner, outer: (n,),
    stations, mm; r_out, r_in: mm.
    """
    parts = spans(theta, inner, outer, r_out)
    tolerance = max(TOLERANCE, *(2.0 * _bulge(part.theta, r_out) for part in parts))
    return _Boundary(frame, (r_in, r_out), start, tolerance).solid(parts)


def corners(theta: Array, stations: Array) -> NDArray[np.intp]:
    """Return the indices of the nodes where the slope of a periodic curve jumps.

    theta: (n,), radians; stations: (n,), mm. A jump counts where it stands out from its
    neighbours and a smooth curve would miss by more than CORNER_ERROR.
    """
    step = np.diff(theta, append=theta[0] + 2.0 * np.pi)
    slope = (np.roll(stations, -1) - stations) / step
    jump = np.abs(slope - np.roll(slope, 1))
    around = np.median([np.roll(jump, k) for k in range(-4, 5)], axis=0)
    # A cubic with the mean slope at a corner is off by jump / 2 * step * 4 / 27.
    missed = (2.0 / 27.0) * jump * np.maximum(step, np.roll(step, 1))
    return np.flatnonzero((missed > CORNER_ERROR) & (jump > 4.0 * around))


def spans(theta: Array, inner: Array, outer: Array, r_out: float) -> list[Span]:
    """Return the spans of two periodic end curves, split at corners, none over half a turn."""
    both = np.stack([inner, outer])
    at = np.union1d(corners(theta, inner), corners(theta, outer))
    first = int(at[0]) if at.size else 0
    angle = np.append(np.roll(theta, -first), theta[first] + 2.0 * np.pi)
    angle[:-1] += np.where(angle[:-1] < theta[first], 2.0 * np.pi, 0.0)
    both = np.roll(both, -first, axis=1)
    both = np.append(both, both[:, :1], axis=1)
    ends = np.append(at - first, theta.size) if at.size else np.array([0, theta.size])
    found: list[Span] = []
    for low, high in pairwise(ends):
        t, s = angle[low : high + 1], both[:, low : high + 1]
        kind = "not-a-knot" if at.size else "periodic"
        slope = CubicSpline(t, s, axis=1, bc_type=kind)(t, 1)
        parts = max(1, int(np.ceil((t[-1] - t[0]) / np.pi - 1e-9)))
        cuts = np.unique(np.rint(np.linspace(0, t.size - 1, parts + 1)).astype(int))
        for i, j in pairwise(cuts):
            full = Span(t[i : j + 1], s[0, i : j + 1], s[1, i : j + 1], slope[:, [i, j]])
            found.append(_thinned(full, r_out))
    return found


def _thinned(span: Span, radius: float) -> Span:
    """Return the span with the fewest nodes that keep it within THINNING and BULGE mm."""
    last = span.theta.size - 1
    for stride in (16, 8, 4, 2):
        keep = np.unique(np.rint(np.linspace(0, last, max(1, last // stride) + 1)).astype(int))
        if keep.size < 5:
            continue
        few = Span(span.theta[keep], span.inner[keep], span.outer[keep], span.slopes)
        errors = [
            _spline(few.theta, stations, ends)(span.theta) - wanted
            for stations, wanted, ends in zip(
                (few.inner, few.outer), (span.inner, span.outer), span.slopes, strict=True
            )
        ]
        if float(np.abs(errors).max()) < THINNING and _bulge(few.theta, radius) < BULGE:
            return few
    return span


def _bulge(theta: Array, radius: float) -> float:
    """Return how far, mm, the cubic through nodes `theta` on a circle of `radius` leaves it.

    Source: error of cubic spline interpolation, h^4 / 384 times the fourth derivative.
    """
    return float(radius * np.diff(theta).max() ** 4 / 384.0)


def _spline(theta: Array, values: Array, ends: Array) -> CubicSpline:
    """Return the cubic spline through `values` with the slopes `ends`, (2, ...)."""
    return CubicSpline(theta, values, bc_type=((1, ends[0]), (1, ends[1])))


class _Boundary:
    """Faces of a coped pipe that share their edges. A builder, used once."""

    def __init__(self, frame: Frame, radii: tuple[float, float], start: float, tolerance: float) -> None:
        """Start a boundary. radii: bore and outside, mm; start: of the square end, mm; tolerance: mm."""
        self.frame, self.radii, self.start, self.tolerance = frame, radii, start, tolerance
        self.build = BRep_Builder()

    def solid(self, parts: list[Span]) -> TopoDS_Solid:
        """Return the closed solid of the given spans."""
        count = len(parts)
        shell = TopoDS_Shell()
        self.build.MakeShell(shell)
        feet, tips = self._vertices(parts)
        generators = [
            [self._generator(parts[k], w, feet[k][w], tips[k][w]) for w in (0, 1)] for k in range(count)
        ]
        rims = [self._rim(parts[k], tips[k]) for k in range(count)]
        arcs = [
            [self._arc(parts[k], w, feet[k][w], feet[(k + 1) % count][w]) for w in (0, 1)]
            for k in range(count)
        ]
        cuts = [
            [self._cut(parts[k], w, tips[k][w], tips[(k + 1) % count][w]) for w in (0, 1)]
            for k in range(count)
        ]
        for k, part in enumerate(parts):
            after = (k + 1) % count
            for w in (0, 1):
                face = self._wall(part, w, arcs[k][w], generators[after][w], cuts[k][w], generators[k][w])
                self.build.Add(shell, face if w else face.Reversed())
            self.build.Add(shell, self._end(part, cuts[k], rims[after], rims[k]).Reversed())
        self.build.Add(shell, self._base(arcs).Reversed())
        shell.Closed(True)
        solid = TopoDS_Solid()
        self.build.MakeSolid(solid)
        self.build.Add(solid, shell)
        return solid

    def _point(self, theta: float, radius: float, station: float) -> gp_Pnt:
        frame = self.frame
        return gp_Pnt(*map(float, frame.origin + station * frame.axis + radius * frame.radial(theta)))

    def _vertices(self, parts: list[Span]) -> tuple[list[list[TopoDS_Vertex]], list[list[TopoDS_Vertex]]]:
        def vertex(theta: float, radius: float, station: float) -> TopoDS_Vertex:
            made = TopoDS_Vertex()
            self.build.MakeVertex(made, self._point(theta, radius, station), self.tolerance)
            return made

        feet = [[vertex(part.theta[0], r, self.start) for r in self.radii] for part in parts]
        tips = [
            [
                vertex(part.theta[0], r, s[0])
                for r, s in zip(self.radii, (part.inner, part.outer), strict=True)
            ]
            for part in parts
        ]
        return feet, tips

    def _edge(
        self, curve: Geom_Curve, low: float, high: float, a: TopoDS_Vertex, b: TopoDS_Vertex
    ) -> TopoDS_Edge:
        edge = TopoDS_Edge()
        self.build.MakeEdge(edge, curve, self.tolerance)
        self.build.Add(edge, a.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
        self.build.Add(edge, b.Oriented(TopAbs_Orientation.TopAbs_REVERSED))
        self.build.Range(edge, low, high)
        return edge

    def _generator(self, part: Span, w: int, foot: TopoDS_Vertex, tip: TopoDS_Vertex) -> TopoDS_Edge:
        """Return the line up the wall, whose parameter is the station."""
        origin = self._point(part.theta[0], self.radii[w], 0.0)
        line = Geom_Line(origin, gp_Dir(*map(float, self.frame.axis)))
        return self._edge(line, self.start, float((part.inner, part.outer)[w][0]), foot, tip)

    def _rim(self, part: Span, tips: list[TopoDS_Vertex]) -> TopoDS_Edge:
        """Return the line across the wall at a span's start, whose parameter runs 0 to 1."""
        poles = TColgp_Array1OfPnt(1, 2)
        for w, stations in enumerate((part.inner, part.outer)):
            poles.SetValue(w + 1, self._point(part.theta[0], self.radii[w], stations[0]))
        return self._edge(Geom_BezierCurve(poles), 0.0, 1.0, tips[0], tips[1])

    def _arc(self, part: Span, w: int, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return the arc at the square end, whose parameter is the angle from the span's start."""
        axes = self._axes(part.theta[0], self.start)
        return self._edge(
            Geom_Circle(axes.Ax2(), self.radii[w]), 0.0, float(part.theta[-1] - part.theta[0]), a, b
        )

    def _cut(self, part: Span, w: int, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return an end curve, whose parameter is the clock angle."""
        knots, multiplicities = _knots(part.theta)
        poles = TColgp_Array1OfPnt(1, part.theta.size + 2)
        for i, pole in enumerate(self._poles(part, w)):
            poles.SetValue(i + 1, gp_Pnt(*map(float, pole)))
        curve = Geom_BSplineCurve(poles, knots, multiplicities, 3)
        return self._edge(curve, float(part.theta[0]), float(part.theta[-1]), a, b)

    def _poles(self, part: Span, w: int) -> Array:
        """Return the control points of an end curve, (n + 2, 3), mm."""
        t, radius, frame = part.theta, self.radii[w], self.frame
        stations, ends = (part.inner, part.outer)[w], part.slopes[w]
        points = frame.origin + radius * frame.radial(t) + stations[:, None] * frame.axis
        turning = radius * frame.radial(t[[0, -1]] + 0.5 * np.pi) + ends[:, None] * frame.axis
        return _control(t, points, turning)

    def _axes(self, theta: float, station: float) -> gp_Ax3:
        frame = self.frame
        normal, across = gp_Dir(*map(float, frame.axis)), gp_Dir(*map(float, frame.radial(theta)))
        return gp_Ax3(self._point(theta, 0.0, station), normal, across)

    def _wall(
        self, part: Span, w: int, arc: TopoDS_Edge, after: TopoDS_Edge, cut: TopoDS_Edge, before: TopoDS_Edge
    ) -> TopoDS_Face:
        """Return a face of the outside or the bore, its normal away from the axis."""
        t, turn = part.theta, float(part.theta[-1] - part.theta[0])
        face = self._face(
            Geom_CylindricalSurface(self._axes(t[0], 0.0), self.radii[w]),
            [(arc, True), (after, True), (cut, False), (before, False)],
        )
        knots, multiplicities = _knots(t)
        trace = np.column_stack([t - t[0], (part.inner, part.outer)[w]])
        ends = np.column_stack([np.ones(2), part.slopes[w]])
        poles = TColgp_Array1OfPnt2d(1, t.size + 2)
        for i, pole in enumerate(_control(t, trace, ends)):
            poles.SetValue(i + 1, gp_Pnt2d(*map(float, pole)))
        self._trace(face, cut, Geom2d_BSplineCurve(poles, knots, multiplicities, 3))
        self._trace(face, arc, Geom2d_Line(gp_Pnt2d(0.0, self.start), gp_Dir2d(1.0, 0.0)))
        self._trace(face, before, Geom2d_Line(gp_Pnt2d(0.0, 0.0), gp_Dir2d(0.0, 1.0)))
        self._trace(face, after, Geom2d_Line(gp_Pnt2d(turn, 0.0), gp_Dir2d(0.0, 1.0)))
        return face

    def _end(
        self, part: Span, cuts: list[TopoDS_Edge], after: TopoDS_Edge, before: TopoDS_Edge
    ) -> TopoDS_Face:
        """Return a face of the ruled end surface, its normal back along the axis."""
        t = part.theta
        poles = TColgp_Array2OfPnt(1, t.size + 2, 1, 2)
        for w in (0, 1):
            for i, pole in enumerate(self._poles(part, w)):
                poles.SetValue(i + 1, w + 1, gp_Pnt(*map(float, pole)))
        knots, multiplicities = _knots(t)
        across, ones = TColStd_Array1OfReal(1, 2), TColStd_Array1OfInteger(1, 2)
        for i in (0, 1):
            across.SetValue(i + 1, float(i))
            ones.SetValue(i + 1, 2)
        surface = Geom_BSplineSurface(poles, knots, across, multiplicities, ones, 3, 1)
        face = self._face(surface, [(cuts[0], True), (after, True), (cuts[1], False), (before, False)])
        for w in (0, 1):
            self._trace(face, cuts[w], Geom2d_Line(gp_Pnt2d(0.0, float(w)), gp_Dir2d(1.0, 0.0)))
        for edge, angle in ((before, t[0]), (after, t[-1])):
            self._trace(face, edge, Geom2d_Line(gp_Pnt2d(float(angle), 0.0), gp_Dir2d(0.0, 1.0)))
        return face

    def _base(self, arcs: list[list[TopoDS_Edge]]) -> TopoDS_Face:
        """Return the square end, its normal along the axis."""
        face = self._face(Geom_Plane(self._axes(0.0, self.start)), [(pair[1], True) for pair in arcs])
        self.build.Add(face, self._wire([(pair[0], False) for pair in reversed(arcs)]))
        return face

    def _face(self, surface: Geom_Surface, edges: list[tuple[TopoDS_Edge, bool]]) -> TopoDS_Face:
        face = TopoDS_Face()
        self.build.MakeFace(face, surface, TOLERANCE)
        self.build.Add(face, self._wire(edges))
        return face

    def _wire(self, edges: list[tuple[TopoDS_Edge, bool]]) -> TopoDS_Wire:
        wire = TopoDS_Wire()
        self.build.MakeWire(wire)
        for edge, forward in edges:
            self.build.Add(wire, edge if forward else edge.Reversed())
        wire.Closed(True)
        return wire

    def _trace(self, face: TopoDS_Face, edge: TopoDS_Edge, curve: Geom2d_Curve) -> None:
        self.build.UpdateEdge(edge, curve, face, self.tolerance)


def _control(theta: Array, values: Array, ends: Array) -> Array:
    """Return the control points, (n + 2, d), of the cubic through `values`, (n, d), whose
    derivatives at the ends are `ends`, (2, d)."""
    return np.asarray(make_interp_spline(theta, values, k=3, bc_type=([(1, ends[0])], [(1, ends[1])])).c)


def _knots(theta: Array) -> tuple[TColStd_Array1OfReal, TColStd_Array1OfInteger]:
    """Return the knots of a cubic through nodes `theta` and how often each is repeated."""
    knots, multiplicities = TColStd_Array1OfReal(1, theta.size), TColStd_Array1OfInteger(1, theta.size)
    for i, angle in enumerate(theta, start=1):
        knots.SetValue(i, float(angle))
        multiplicities.SetValue(i, 4 if i in {1, theta.size} else 1)
    return knots, multiplicities
