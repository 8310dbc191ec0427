"""Solid bodies of made passages: transitions, reducers, formed pipe ends and lobed cones.

Each is the space between two skins, built face by face, so that no boolean is needed. Rims that
are arcs stay true arcs and skins that are right cones or cylinders true ones; everything else is
cubic splines in the direction of the normal (or the angle), which the rims and the ruled faces share.
Samples 1 degree apart keep a spline within 1e-7 mm. Where a bore has a sharp corner, a face
closes in a point: the kernel's mesh of it has one triangle without area there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cadquery as cq
import numpy as np
from numpy.typing import NDArray
from OCP.BRep import BRep_Builder
from OCP.Geom import (
    Geom_BSplineCurve,
    Geom_BSplineSurface,
    Geom_Circle,
    Geom_ConicalSurface,
    Geom_Curve,
    Geom_CylindricalSurface,
    Geom_Line,
    Geom_Plane,
    Geom_Surface,
)
from OCP.Geom2d import Geom2d_BSplineCurve
from OCP.gp import gp_Ax3, gp_Dir, gp_Pnt, gp_Pnt2d
from OCP.TColgp import TColgp_Array1OfPnt, TColgp_Array1OfPnt2d, TColgp_Array2OfPnt
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Edge, TopoDS_Face, TopoDS_Shell, TopoDS_Solid, TopoDS_Vertex

from rootgap.geometry.convex import convex
from rootgap.geometry.frames import Frame
from rootgap.geometry.passages import (
    Lobed,
    Strip,
    arc_of,
    round_rim,
    skin,
    straight_on,
    straight_to,
    towards,
    transition_skin,
)
from rootgap.geometry.splines import clamped_slopes, free_slopes, poles
from rootgap.geometry.transition import Formed, Transition
from rootgap.solids.rims import Edges, knots, trimmed, wire

Array = NDArray[np.float64]
Points = NDArray[np.complex128]

#: Tolerance of edges and vertices, mm: above the splines' error and the kernel's own 1e-7.
TOLERANCE = 2e-7


@dataclass(frozen=True, eq=False)
class Storey:
    """A skin between two planes. strips: once round; low, high: stations of the planes, mm."""

    strips: tuple[Strip, ...]
    low: float
    high: float


def passage(frame: Frame, made: Transition) -> cq.Solid:
    """Return the sheet of a transition, mm, that stands on `frame`, the axis along the gas.

    The rims' x points away from the frame's side and their y along its ref, as in a plate's drawing.
    Both ends are flat.
    """
    outside, bore = ((Storey(transition_skin(made, depth), 0.0, made.length),) for depth in (1.0, 0.0))
    return _Boundary(frame).solid(outside, bore)


def frustum(
    frame: Frame,
    length: float,
    start: tuple[float, float],
    end: tuple[float, float],
    offset: float = 0.0,
    clock: float = 0.0,
) -> cq.Solid:
    """Return a reducer of `length`, mm, from `frame` along its axis, a cone from end to end.

    start, end: radii of outside and bore, mm; offset: of the far end, mm, towards `clock`, degrees.
    Both ends are square to the axis; the bore's and the outside's radii are those in the ends' planes.
    Raises ValueError where a size is not positive or leaves no wall.

    >>> from rootgap.solids.bodies import volume
    >>> body = frustum(Frame.looking((0, 0, 0), (1, 0, 0)), 76.0, (30.15, 26.24), (24.15, 20.47))
    >>> round(volume(body), 2)
    45816.35
    """
    if not (length > 0.0 and all(r_out > r_in > 0.0 for r_out, r_in in (start, end))):
        raise ValueError(f"a reducer of {length=} mm, {start=} and {end=} mm has no wall")
    middle = towards(offset, clock)
    outside, bore = (
        (Storey(skin(round_rim(a), round_rim(b, middle)), 0.0, length),) for a, b in zip(start, end, strict=True)
    )
    return _Boundary(frame).solid(outside, bore)


def formed_pipe(frame: Frame, end: Formed, worked: float, length: float, held: float = 0.0) -> cq.Solid:
    """Return a pipe of `length`, mm, from `frame` along its axis, whose start is formed to a port.

    The port lies in x and y about the pipe's axis, x away from the frame's side and y along its
    ref. worked: mm over which the wall becomes round in straight lines; held: mm from the start for which
    it keeps the port's shape before that. Raises ValueError unless 0 < worked <= length - held and held >= 0.
    """
    if not (0.0 < worked <= length - held and held >= 0.0):
        raise ValueError(f"a pipe of {length=} mm cannot be formed over {worked=} mm, {held=} mm in")
    skins = []
    for port, radius in ((end.outside, 0.5 * end.od), (end.bore, 0.5 * end.od - end.wall)):
        strips = skin(convex(port), round_rim(radius))
        skins.append([Storey(straight_to(strips), 0.0, held)] if held else [])
        skins[-1].append(Storey(strips, held, held + worked))
        if length > held + worked:
            skins[-1].append(Storey(straight_on(strips), held + worked, length))
    return _Boundary(frame).solid(*skins)


def lobed(
    frame: Frame,
    bore: Callable[[Array], Array],
    outside: Callable[[Array], Array],
    corners: Array,
    r_in_end: float,
    r_out_end: float,
    length: float,
) -> cq.Solid:
    """Return a cone of `length`, mm, from `frame` along its axis, from a star-shaped outline to round.

    bore, outside: distance from the axis, mm, (n,), at angles psi, radians from the frame's ref, (n,);
    corners: (k,), radians, where the slope of either may jump; r_in_end, r_out_end: radii of the far
    end, mm. Points of equal angle are joined by straight lines.
    """
    skins = (Lobed(outside, corners, r_out_end, length), Lobed(bore, corners, r_in_end, length))
    return _Boundary(frame).solid(*((Storey(each.strips(), 0.0, length),) for each in skins))


class _Boundary:
    """Faces of a passage that share their edges. A builder, used once."""

    def __init__(self, frame: Frame) -> None:
        """Start a boundary in `frame`, mm."""
        self.frame = frame
        self.build = BRep_Builder()
        self.shell = TopoDS_Shell()
        self.build.MakeShell(self.shell)
        self.vertices: dict[tuple[complex, float], TopoDS_Vertex] = {}
        self.rulings: dict[tuple[complex, complex, float], TopoDS_Edge] = {}

    def solid(self, outside: Sequence[Storey], bore: Sequence[Storey]) -> cq.Solid:
        """Return the solid between two skins of one or more storeys each."""
        starts, ends = zip(self._skin(outside, out=True), self._skin(bore, out=False), strict=True)
        for station, (rim, hole), forward in ((outside[0].low, starts, False), (outside[-1].high, ends, True)):
            face = self._face(Geom_Plane(self._axes(0j, station)), [(edge, True) for edge in rim])
            self.build.Add(face, wire(self.build, [(edge, False) for edge in reversed(hole)]))
            self.build.Add(self.shell, face if forward else face.Reversed())
        self.shell.Closed(True)
        made = TopoDS_Solid()
        self.build.MakeSolid(made)
        self.build.Add(made, self.shell)
        return cq.Solid(made)

    def _skin(self, storeys: Sequence[Storey], *, out: bool) -> tuple[list[TopoDS_Edge], list[TopoDS_Edge]]:
        """Add a skin's faces, and return the edges of its first and of its last rim."""
        below = first = [
            None if strip.are_points[0] else self._rim(strip, strip.low, storeys[0].low) for strip in storeys[0].strips
        ]
        for storey in storeys:
            above = [
                None if strip.are_points[1] else self._rim(strip, strip.high, storey.high) for strip in storey.strips
            ]
            edges = iter(edge for edge in below if edge is not None)
            below = [None if strip.are_points[0] else next(edges) for strip in storey.strips]
            for strip, low, high in zip(storey.strips, below, above, strict=True):
                face = self._panel(strip, storey, low, high)
                self.build.Add(self.shell, face if out else face.Reversed())
            below = above
        return [edge for edge in first if edge is not None], [edge for edge in below if edge is not None]

    def _panel(
        self, strip: Strip, storey: Storey, low: TopoDS_Edge | None, high: TopoDS_Edge | None
    ) -> TopoDS_Face:
        """Return a strip's face, its normal outward. low, high: its rims, None for a point."""
        before, after = (self._ruling(strip.low[k], strip.high[k], storey) for k in (0, -1))
        if strip.is_flat:
            sides = [(low, True), (after, True), (high, False), (before, False)]
            return self._face(
                self._plane(strip, storey), [(edge, forward) for edge, forward in sides if edge is not None]
            )
        surface, (u0, u1), v1 = self._surface(strip, storey)
        low = low or self._collapsed(strip.low[0], storey.low)
        high = high or self._collapsed(strip.high[0], storey.high)
        face = self._face(surface, [(low, True), (after, True), (high, False), (before, False)])
        t = (float(strip.t[0]), float(strip.t[-1]))
        for edge, v in ((low, 0.0), (high, v1)):
            self._trace(face, edge, (u0, v), (u1, v), t)
        for edge, u, k in ((before, u0, 0), (after, u1, -1)):
            self._trace(face, edge, (u, 0.0), (u, v1), (0.0, self._reach(strip.low[k], strip.high[k], storey)))
        return face

    def _surface(self, strip: Strip, storey: Storey) -> tuple[Geom_Surface, tuple[float, float], float]:
        """Return a curved strip's surface, its first and last u and its last v; the first v is nought."""
        t, rise = strip.t, storey.high - storey.low
        arc, far = arc_of(t, strip.low), arc_of(t, strip.high)
        if arc is not None and far is not None and abs(arc[0] - far[0]) < 1e-9:
            (center, radius), other = arc, far[1]
            axes = self._axes(center, storey.low, float(t[0]))
            span, slant = (0.0, float(t[-1] - t[0])), float(np.hypot(rise, other - radius))
            if abs(other - radius) < 1e-9:
                return Geom_CylindricalSurface(axes, radius), span, slant
            return Geom_ConicalSurface(axes, float(np.arctan2(other - radius, rise)), radius), span, slant
        control = TColgp_Array2OfPnt(1, t.size + 2, 1, 2)
        for j, (rim, station) in enumerate(((strip.low, storey.low), (strip.high, storey.high)), start=1):
            for i, pole in enumerate(self._poles(t, rim, station), start=1):
                control.SetValue(i, j, gp_Pnt(*pole))
        at, multiplicities = knots(t, 3)
        across, twice = knots(np.array([0.0, 1.0]), 1)
        surface = Geom_BSplineSurface(control, at, across, multiplicities, twice, 3, 1)
        return surface, (float(t[0]), float(t[-1])), 1.0

    def _plane(self, strip: Strip, storey: Storey) -> Geom_Plane:
        first, last = (self._space(strip.low[k], storey.low) for k in (0, -1))
        far, farther = (self._space(strip.high[k], storey.high) for k in (0, -1))
        normal = np.cross(farther - first, far - last)
        return Geom_Plane(gp_Pnt(*map(float, first)), gp_Dir(*map(float, normal)))

    def _rim(self, strip: Strip, rim: Points, station: float) -> TopoDS_Edge:
        """Return a rim's edge, whose parameter is the strip's."""
        t, ends = strip.t, (self._vertex(rim[0], station), self._vertex(rim[-1], station))
        if strip.is_flat:
            return self._line(rim[[0, -1]], (station, station), *ends)
        arc = arc_of(t, rim)
        if arc is not None:
            curve: Geom_Curve = Geom_Circle(self._axes(arc[0], station).Ax2(), arc[1])
        else:
            control = TColgp_Array1OfPnt(1, t.size + 2)
            for i, pole in enumerate(self._poles(t, rim, station), start=1):
                control.SetValue(i, gp_Pnt(*pole))
            curve = Geom_BSplineCurve(control, *knots(t, 3), 3)
        return self._edge(curve, float(t[0]), float(t[-1]), *ends)

    def _ruling(self, low: complex, high: complex, storey: Storey) -> TopoDS_Edge:
        """Return the edge between two strips, whose parameter is the length from its foot."""
        key = (low, high, storey.low)
        if key not in self.rulings:
            ends = self._vertex(low, storey.low), self._vertex(high, storey.high)
            self.rulings[key] = self._line(np.array([low, high]), (storey.low, storey.high), *ends)
        return self.rulings[key]

    def _collapsed(self, point: complex, station: float) -> TopoDS_Edge:
        """Return the edge without length that a face has at a point in which its rim is gathered."""
        edge, vertex = TopoDS_Edge(), self._vertex(point, station)
        self.build.MakeEdge(edge)
        self.build.Add(edge, vertex.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
        self.build.Add(edge, vertex.Oriented(TopAbs_Orientation.TopAbs_REVERSED))
        self.build.UpdateEdge(edge, TOLERANCE)
        self.build.Degenerated(edge, True)
        return edge

    def _line(
        self, points: Points, stations: tuple[float, float], a: TopoDS_Vertex, b: TopoDS_Vertex
    ) -> TopoDS_Edge:
        first, last = (self._space(point, station) for point, station in zip(points, stations, strict=True))
        along = last - first
        line = Geom_Line(gp_Pnt(*map(float, first)), gp_Dir(*map(float, along)))
        return self._edge(line, 0.0, float(np.linalg.norm(along)), a, b)

    @staticmethod
    def _reach(low: complex, high: complex, storey: Storey) -> float:
        return float(np.hypot(abs(high - low), storey.high - storey.low))

    def _edge(
        self, curve: Geom_Curve, low: float, high: float, a: TopoDS_Vertex, b: TopoDS_Vertex
    ) -> TopoDS_Edge:
        edge = TopoDS_Edge()
        self.build.MakeEdge(edge, curve, TOLERANCE)
        self.build.Add(edge, a.Oriented(TopAbs_Orientation.TopAbs_FORWARD))
        self.build.Add(edge, b.Oriented(TopAbs_Orientation.TopAbs_REVERSED))
        self.build.Range(edge, low, high)
        return edge

    def _vertex(self, point: complex, station: float) -> TopoDS_Vertex:
        key = (complex(point), station)
        if key not in self.vertices:
            self.vertices[key] = TopoDS_Vertex()
            self.build.MakeVertex(self.vertices[key], gp_Pnt(*map(float, self._space(point, station))), TOLERANCE)
        return self.vertices[key]

    def _space(self, points: complex | Points, station: float) -> Array:
        """Return points of the plane at `station`, mm, in space, (..., 3), mm."""
        z = np.asarray(points)[..., None]
        frame = self.frame
        return frame.origin + station * frame.axis - z.real * frame.side + z.imag * frame.ref

    def _poles(self, t: Array, rim: Points, station: float) -> list[list[float]]:
        """Return the control points of a rim's spline, (n + 2, 3), mm."""
        values = np.column_stack([rim.real, rim.imag])
        arc = arc_of(t, rim)
        if arc is None:
            slopes = free_slopes(t, values)
        else:
            turning = 1j * arc[1] * np.exp(1j * t[[0, -1]])
            slopes = clamped_slopes(t, values, np.column_stack([turning.real, turning.imag]))
        x, y = poles(t, values, slopes).T
        found: list[list[float]] = self._space(x + 1j * y, station).tolist()
        return found

    def _axes(self, center: complex, station: float, turn: float = 0.0) -> gp_Ax3:
        """Return axes along the gas about `center`, mm, whose x lies at `turn`, radians, from the plane's."""
        frame = self.frame
        across = np.sin(turn) * frame.ref - np.cos(turn) * frame.side
        origin, normal, x = (map(float, each) for each in (self._space(center, station), frame.axis, across))
        return gp_Ax3(gp_Pnt(*origin), gp_Dir(*normal), gp_Dir(*x))

    def _face(self, surface: Geom_Surface, edges: Edges) -> TopoDS_Face:
        return trimmed(self.build, surface, edges, TOLERANCE)

    def _trace(
        self,
        face: TopoDS_Face,
        edge: TopoDS_Edge,
        first: tuple[float, float],
        last: tuple[float, float],
        span: tuple[float, float],
    ) -> None:
        """Give an edge its straight line on a face's surface, from `first` to `last` over its parameters `span`."""
        control = TColgp_Array1OfPnt2d(1, 2)
        control.SetValue(1, gp_Pnt2d(*first))
        control.SetValue(2, gp_Pnt2d(*last))
        line = Geom2d_BSplineCurve(control, *knots(np.array(span), 1), 1)
        self.build.UpdateEdge(edge, line, face, TOLERANCE)
        self.build.Range(edge, face, *span)
