"""The boundary of a coped pipe, built face by face from its two closed end curves.

Terminology
    node       a sample of the curves
    corner     a node at which the slope of a curve may jump
    stretch    what lies between two corners, or the whole turn where there are none
    span       a part of a stretch, at most half a turn, that becomes one face

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

from rootgap.geometry.frames import Frame
from rootgap.geometry.splines import clamped_slopes, evaluated, free_slopes, periodic_slopes, poles

Array = NDArray[np.float64]

TOLERANCE = 1e-7
"""Least tolerance of an edge, mm: the kernel's own confusion distance."""

THINNING = 1e-4
"""Largest error, mm, at the samples that the splines may leave out."""

BULGE = 5e-6
"""Largest distance, mm, that a thinned end curve may have from its cylinder."""


@dataclass(frozen=True, eq=False)
class Span:
    """One face's part of the two end curves.

    theta: (n,), radians; stations: (n, 2), mm, of the bore's and the outside's curve; slopes:
    (2, 2), mm per radian, of the stations at the first and the last node.
    """

    theta: Array
    stations: Array
    slopes: Array


def coped_pipe(
    frame: Frame,
    theta: Array,
    stations: Array,
    radii: tuple[float, float],
    start: float,
    corners: NDArray[np.intp],
) -> TopoDS_Solid:
    """Return the solid between the plane at station `start`, mm, and the ruled surface through
    the end curves of bore and outside.

    theta: (n,), radians, increasing over one turn, the end not repeated; stations: (n, 2), mm,
    of the two curves; radii: of bore and outside, mm; corners: (k,), indices into theta, the
    first of them 0.
    """
    parts = spans(theta, stations, radii[1], corners)
    tolerance = max(TOLERANCE, *(2.0 * _bulge(part.theta, radii[1]) for part in parts))
    return _Boundary(frame, radii, start, tolerance).solid(parts)


def spans(theta: Array, stations: Array, r_out: float, corners: NDArray[np.intp]) -> list[Span]:
    """Return the spans of two periodic end curves. Arguments, mm and radians, as of `coped_pipe`."""
    angle = np.append(theta, theta[0] + 2.0 * np.pi)
    both = np.concatenate([stations, stations[:1]])
    found: list[Span] = []
    for low, high in pairwise([*corners, theta.size] if corners.size else [0, theta.size]):
        t, s = angle[low : high + 1], both[low : high + 1]
        slopes = free_slopes(t, s) if corners.size else periodic_slopes(t, s)
        parts = max(1, int(np.ceil((t[-1] - t[0]) / np.pi - 1e-9)))
        cuts = np.rint(np.linspace(0, t.size - 1, parts + 1)).astype(int)
        for i, j in pairwise(cuts):
            found.append(_thinned(Span(t[i : j + 1], s[i : j + 1], slopes[[i, j]]), r_out))
    return found


def _thinned(span: Span, radius: float) -> Span:
    """Return the span with the fewest nodes that keep it within THINNING and BULGE mm."""
    last = span.theta.size - 1
    for stride in (16, 8, 4, 2):
        if last < 4 * stride:
            continue
        keep = np.rint(np.linspace(0, last, last // stride + 1)).astype(int)
        t, s = span.theta[keep], span.stations[keep]
        missed = evaluated(t, s, clamped_slopes(t, s, span.slopes), span.theta) - span.stations
        if np.abs(missed).max() < THINNING and _bulge(t, radius) < BULGE:
            return Span(t, s, span.slopes)
    return span


def _bulge(theta: Array, radius: float) -> float:
    """Return how far, mm, the cubic through nodes `theta` on a circle of `radius` leaves it.

    Source: error of cubic spline interpolation, h^4 / 384 times the fourth derivative (C. de
    Boor, "A Practical Guide to Splines", chapter V).
    """
    return float(radius * np.diff(theta).max() ** 4 / 384.0)


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
            [vertex(part.theta[0], r, s) for r, s in zip(self.radii, part.stations[0], strict=True)]
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
        return self._edge(line, self.start, float(part.stations[0, w]), foot, tip)

    def _rim(self, part: Span, tips: list[TopoDS_Vertex]) -> TopoDS_Edge:
        """Return the line across the wall at a span's start, whose parameter runs 0 to 1."""
        ends = TColgp_Array1OfPnt(1, 2)
        for w in (0, 1):
            ends.SetValue(w + 1, self._point(part.theta[0], self.radii[w], part.stations[0, w]))
        return self._edge(Geom_BezierCurve(ends), 0.0, 1.0, tips[0], tips[1])

    def _arc(self, part: Span, w: int, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return the arc at the square end, whose parameter is the angle from the span's start."""
        axes = self._axes(part.theta[0], self.start)
        return self._edge(
            Geom_Circle(axes.Ax2(), self.radii[w]), 0.0, float(part.theta[-1] - part.theta[0]), a, b
        )

    def _cut(self, part: Span, w: int, a: TopoDS_Vertex, b: TopoDS_Vertex) -> TopoDS_Edge:
        """Return an end curve, whose parameter is the clock angle."""
        control = TColgp_Array1OfPnt(1, part.theta.size + 2)
        for i, pole in enumerate(self._poles(part, w), start=1):
            control.SetValue(i, gp_Pnt(*pole))
        curve = Geom_BSplineCurve(control, *_knots(part.theta), 3)
        return self._edge(curve, float(part.theta[0]), float(part.theta[-1]), a, b)

    def _poles(self, part: Span, w: int) -> list[list[float]]:
        """Return the control points of an end curve, (n + 2, 3), mm."""
        t, radius, frame = part.theta, self.radii[w], self.frame
        points = frame.origin + radius * frame.radial(t) + part.stations[:, w, None] * frame.axis
        turning = radius * frame.radial(t[[0, -1]] + 0.5 * np.pi) + part.slopes[:, w, None] * frame.axis
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
        trace = np.column_stack([t - t[0], part.stations[:, w]])
        turning = np.column_stack([np.ones(2), part.slopes[:, w]])
        control = TColgp_Array1OfPnt2d(1, t.size + 2)
        for i, pole in enumerate(_control(t, trace, turning), start=1):
            control.SetValue(i, gp_Pnt2d(*pole))
        self._trace(face, cut, Geom2d_BSplineCurve(control, *_knots(t), 3))
        self._trace(face, arc, Geom2d_Line(gp_Pnt2d(0.0, self.start), gp_Dir2d(1.0, 0.0)))
        self._trace(face, before, Geom2d_Line(gp_Pnt2d(0.0, 0.0), gp_Dir2d(0.0, 1.0)))
        self._trace(face, after, Geom2d_Line(gp_Pnt2d(turn, 0.0), gp_Dir2d(0.0, 1.0)))
        return face

    def _end(
        self, part: Span, cuts: list[TopoDS_Edge], after: TopoDS_Edge, before: TopoDS_Edge
    ) -> TopoDS_Face:
        """Return a face of the ruled end surface, its normal back along the axis."""
        t = part.theta
        control = TColgp_Array2OfPnt(1, t.size + 2, 1, 2)
        for w in (0, 1):
            for i, pole in enumerate(self._poles(part, w), start=1):
                control.SetValue(i, w + 1, gp_Pnt(*pole))
        knots, multiplicities = _knots(t)
        across, twice = TColStd_Array1OfReal(1, 2), TColStd_Array1OfInteger(1, 2)
        for i in (0, 1):
            across.SetValue(i + 1, float(i))
            twice.SetValue(i + 1, 2)
        surface = Geom_BSplineSurface(control, knots, across, multiplicities, twice, 3, 1)
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


def _control(theta: Array, values: Array, ends: Array) -> list[list[float]]:
    """Return the control points, (n + 2, d), of the cubic through `values`, (n, d), whose
    derivatives at the ends are `ends`, (2, d)."""
    found: list[list[float]] = poles(theta, values, clamped_slopes(theta, values, ends)).tolist()
    return found


def _knots(theta: Array) -> tuple[TColStd_Array1OfReal, TColStd_Array1OfInteger]:
    """Return the knots of a cubic through nodes `theta` and how often each is repeated."""
    knots, multiplicities = TColStd_Array1OfReal(1, theta.size), TColStd_Array1OfInteger(1, theta.size)
    for i, angle in enumerate(theta, start=1):
        knots.SetValue(i, float(angle))
        multiplicities.SetValue(i, 4 if i in {1, theta.size} else 1)
    return knots, multiplicities
