"""Bodies against closed forms, quadrature and each other."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import cadquery as cq
import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import quad
from scipy.optimize import brentq

from rootgap.errors import KernelError
from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Array, Frame
from rootgap.geometry.paths import Circle, Path
from rootgap.geometry.tube import Tube
from rootgap.geometry.wall import BentWall, StraightWall
from rootgap.joints import Cope
from rootgap.joints.mitre import facing
from rootgap.joints.planes import PlaneCut, Prep
from rootgap.solids.bodies import (
    checked,
    common_volume,
    cut_pipe,
    dish_cap,
    drilled,
    elbow,
    is_sound,
    plate,
    straight,
    volume,
)
from rootgap.solids.boundary import EndFace, has_room, seam, spans
from rootgap.solids.holes import Hole, pierced
from rootgap.solids.whole import end_face

Curve = Callable[[ArrayLike], NDArray[np.float64]]

TILTED = Frame.looking((10.0, -20.0, 30.0), (1.0, 2.0, 0.5), (0.0, 1.0, 0.3))
THETA = np.linspace(0.0, 2.0 * np.pi, 360, endpoint=False)
NONE = np.empty(0, dtype=np.intp)

# Outside and bore radii of NPS 1-1/4, 1-1/2, 2 and 3, schedule 40, mm. Source: ASME B36.10M.
NPS_1_1_4, NPS_1_1_2, NPS_2, NPS_3 = (21.10, 17.54), (24.15, 20.47), (30.15, 26.24), (44.45, 38.96)


def rod(radius: float, length: float, axis: ArrayLike) -> cq.Solid:
    """A solid rod centred on the origin."""
    along = np.asarray(axis, dtype=float) / np.linalg.norm(axis)
    return cq.Solid.makeCylinder(radius, length, cq.Vector(*(-0.5 * length * along)), cq.Vector(*along))


def across(frame: Frame, station: float, angle: float, offset: float, clock: float = 0.0) -> Frame:
    """A branch that meets `frame`'s axis at `station` under `angle` degrees, from `clock`."""
    turned = frame.advanced(station).clocked(clock)
    a = np.radians(angle)
    axis = np.cos(a) * turned.axis - np.sin(a) * turned.ref
    return Frame.looking(turned.origin + offset * turned.side - 150.0 * axis, axis)


def wall_cut(r_out: float, r_in: float, radius: float, angle: float, offset: float) -> float:
    """Volume that a drill takes from a pipe's near wall: chords of the drill times the wall's height."""

    def slice_(y: float) -> float:
        wall = np.sqrt(max(r_out**2 - y**2, 0.0)) - np.sqrt(max(r_in**2 - y**2, 0.0))
        return float(2.0 * np.sqrt(max(radius**2 - (y - offset) ** 2, 0.0)) * wall)

    low, high = offset - radius, offset + radius
    edges = [y for y in (-r_in, r_in) if low < y < high] or None
    return float(
        quad(slice_, low, high, points=edges, epsrel=1e-11, limit=400)[0] / np.sin(np.radians(angle))
    )


def coped_volume(inner: Curve, outer: Curve, r_out: float, r_in: float, kinks: list[float]) -> float:
    """Volume between station 0 and the ruled end: the integral of r s(r) with s linear in r."""
    wall = r_out - r_in
    moment = (r_out**3 - r_in**3) / 3.0
    middle = 0.5 * (r_out**2 - r_in**2)
    at_inner, at_outer = (r_out * middle - moment) / wall, (moment - r_in * middle) / wall
    turn = 2.0 * np.pi
    means = [quad(s, 0.0, turn, points=kinks or None, epsrel=1e-11, limit=400)[0] for s in (inner, outer)]
    return float(at_inner * means[0] + at_outer * means[1])


def cope(
    target: float, angle: float, offset: float, radius: float
) -> Callable[[ArrayLike], NDArray[np.float64]]:
    """Station, from 150 mm before the target's axis, where a branch's generators meet the target.

    Source: the line (radius cos t, radius sin t + offset) along an axis at `angle` to the axis of
    a cylinder: s = (sqrt(R^2 - y^2) + x cos a) / sin a.
    """
    a = np.radians(angle)

    def station(t: ArrayLike) -> NDArray[np.float64]:
        x, y = radius * np.cos(t), radius * np.sin(t) + offset
        return np.asarray(150.0 - (np.sqrt(np.maximum(target**2 - y**2, 0.0)) + x * np.cos(a)) / np.sin(a))

    return station


def end(
    inner: ArrayLike, outer: ArrayLike, r_out: float, r_in: float, theta: ArrayLike = THETA, corners: ArrayLike = ()
) -> EndFace:
    """An end face of two rings."""
    stations = np.column_stack([inner, outer])
    return EndFace(np.asarray(theta), np.array([r_in, r_out]), stations, np.asarray(corners, dtype=np.intp))


def coped(
    inner: ArrayLike, outer: ArrayLike, r_out: float, r_in: float, theta: ArrayLike = THETA, corners: ArrayLike = ()
) -> cq.Solid:
    """A pipe from a square end to an end face of two rings."""
    return cut_pipe(StraightWall(TILTED), None, end(inner, outer, r_out, r_in, theta, corners), 0.0, r_out, r_in)


@dataclass(frozen=True, eq=False)
class Leaping:
    """A cut end, 60 mm from the start, and 80 mm between its two corners."""

    corners: Array
    radii: Array

    def face(self, theta: Array) -> Array:
        within = (theta > self.corners[0]) & (theta < self.corners[1])
        return np.where(within, 80.0, 60.0)[:, None] + np.zeros(2)


class TestStraight:
    def test_volume(self) -> None:
        body = straight(TILTED, 123.0, *NPS_2)
        assert volume(body) == pytest.approx(np.pi * (30.15**2 - 26.24**2) * 123.0, rel=1e-9)
        assert is_sound(body)

    def test_lies_along_the_axis(self) -> None:
        body = straight(TILTED, 100.0, *NPS_2)
        assert np.allclose(body.Center().toTuple(), TILTED.advanced(50.0).origin, atol=1e-9)

    @pytest.mark.parametrize("seam", [0.0, 90.0, 180.0])
    def test_seam_stands_at_its_clock(self, seam: float) -> None:
        lines = [
            edge for edge in straight(TILTED, 50.0, *NPS_2, seam=seam).Edges() if edge.geomType() == "LINE"
        ]
        for line in lines:
            local = TILTED.to_local(line.Center().toTuple())
            assert np.allclose(
                local[:2] / np.hypot(*local[:2]), [np.cos(np.radians(seam)), np.sin(np.radians(seam))]
            )


class TestElbow:
    @pytest.mark.parametrize(
        ("inches", "radii", "metal", "bore"),
        [
            (1.25, NPS_1_1_4, 32_329, 72_304),
            (1.5, NPS_1_1_2, 46_309, 118_174),
            (2.0, NPS_2, 82_909, 258_912),
            (3.0, NPS_3, 258_289, 856_158),
        ],
    )
    def test_long_radius_volumes(
        self, inches: float, radii: tuple[float, float], metal: float, bore: float
    ) -> None:
        # Pappus-Guldin, with the long radius of ASME B16.9, 1.5 times the nominal size.
        radius = 1.5 * 25.4 * inches
        body = elbow(TILTED, radius, 90.0, 40.0, *radii)
        by_hand = np.pi * (radii[0] ** 2 - radii[1] ** 2) * 0.5 * np.pi * radius
        assert volume(body) == pytest.approx(by_hand, rel=1e-9)
        assert round(volume(body)) == metal
        assert np.pi * radii[1] ** 2 * 0.5 * np.pi * radius == pytest.approx(bore, abs=0.5)
        assert is_sound(body)

    @pytest.mark.parametrize("clock", [0.0, 35.0, 90.0, 200.0, 315.0])
    @pytest.mark.parametrize("angle", [15.0, 45.0, 90.0, 180.0])
    def test_ends_where_the_bent_frame_says(self, angle: float, clock: float) -> None:
        body = elbow(TILTED, 57.15, angle, clock, *NPS_1_1_2)
        end = TILTED.bent(57.15, angle, clock)
        flat = {
            tuple(np.round([*face.Center().toTuple(), *face.normalAt().toTuple()], 6))
            for face in body.Faces()
            if face.geomType() == "PLANE"
        }
        expected = {
            tuple(np.round([*TILTED.origin, *-TILTED.axis], 6)),
            tuple(np.round([*end.origin, *end.axis], 6)),
        }
        assert np.allclose(sorted(flat), sorted(expected), atol=2e-6)

    def test_small_bends_tend_to_a_straight(self) -> None:
        bend = elbow(TILTED, 1e5, np.degrees(1e-3), 0.0, *NPS_2)
        assert volume(bend) == pytest.approx(volume(straight(TILTED, 100.0, *NPS_2)), rel=1e-9)


class TestCap:
    @pytest.mark.parametrize(
        ("length", "r_out", "r_in"), [(38.0, 36.5, 31.35), (51.0, 44.45, 38.96), (60.0, 12.0, 5.0)]
    )
    def test_volume(self, length: float, r_out: float, r_in: float) -> None:
        depth, height = 0.5 * r_in, 0.5 * r_in + r_out - r_in
        skirt = np.pi * (r_out**2 - r_in**2) * (length - height)
        # Half of an ellipsoid: 2/3 pi a^2 b.
        dish = 2.0 / 3.0 * np.pi * (r_out**2 * height - r_in**2 * depth)
        body = dish_cap(TILTED, length, r_out, r_in)
        assert volume(body) == pytest.approx(skirt + dish, rel=1e-6)
        assert is_sound(body)

    def test_open_end_is_at_the_frame(self) -> None:
        body = dish_cap(TILTED, 38.0, 36.5, 31.35)
        stations = TILTED.to_local([v.toTuple() for v in body.Vertices()])[:, 2]
        assert stations.min() == pytest.approx(0.0, abs=1e-9)
        assert stations.max() == pytest.approx(38.0, abs=1e-3)
        ring = next(face for face in body.Faces() if face.geomType() == "PLANE")
        assert np.allclose(ring.normalAt().toTuple(), -TILTED.axis)

    def test_too_short_is_refused(self) -> None:
        with pytest.raises(ValueError, match=r"needs a length over 20\.825 mm"):
            dish_cap(TILTED, 20.0, 36.5, 31.35)


class TestPlate:
    OUTLINE = Path(((0, 0, 0), (50, 0, 0.4), (50, 40, 0), (10, 40, -0.3), (0, 30, 0)), closed=True)
    SLOT = Path(((30, 10, 0), (38, 10, 1), (38, 16, 0), (30, 16, 1)), closed=True)

    def test_volume(self) -> None:
        hole = Circle((14.0, 18.0), 6.0)
        body = plate(TILTED, self.OUTLINE, [hole, self.SLOT], 9.5)
        area = self.OUTLINE.area - hole.area - self.SLOT.area
        assert volume(body) == pytest.approx(9.5 * area, rel=1e-9)
        assert is_sound(body)

    def test_arcs_stay_arcs(self) -> None:
        body = plate(TILTED, self.OUTLINE, [Circle((14.0, 18.0), 6.0), self.SLOT], 9.5)
        kinds = [face.geomType() for face in body.Faces()]
        assert kinds.count("CYLINDER") == 2 + 1 + 2
        assert kinds.count("PLANE") == 3 + 2 + 2

    def test_either_sense_of_the_outline(self) -> None:
        turned = Path(((0, 0, 0), (0, 30, 0), (40, 30, 0), (40, 0, 0)), closed=True)
        assert volume(plate(TILTED, turned, [], 2.0)) == pytest.approx(2400.0)

    def test_x_y_and_axis(self) -> None:
        corner = Path(((100, 10, 0), (101, 10, 0), (101, 11, 0), (100, 11, 0)), closed=True)
        # Looking at a head's face: y up, z towards the viewer, so x is to the right.
        face = Frame.looking((0, 0, 0), (0, 0, 1), (0, 1, 0))
        box = plate(face, corner, [], 3.0).BoundingBox()
        assert (box.xmin, box.ymin, box.zmin) == pytest.approx((100, 10, 0), abs=1e-6)
        assert (box.xmax, box.ymax, box.zmax) == pytest.approx((101, 11, 3), abs=1e-6)

    def test_open_outline_is_refused(self) -> None:
        with pytest.raises(ValueError, match="outline must be closed"):
            plate(TILTED, Path(((0, 0, 0), (1, 0, 0), (1, 1, 0))), [], 1.0)


class TestCutPipe:
    @pytest.mark.parametrize(
        ("target", "radii", "angle", "offset"),
        [
            (30.15, NPS_1_1_4, 90.0, 0.0),
            (30.15, NPS_1_1_4, 60.0, 0.0),
            (30.15, NPS_1_1_4, 45.0, 8.0),
            (30.15, NPS_1_1_2, 30.0, -5.0),
            (44.45, NPS_1_1_2, 150.0, 12.0),
        ],
    )
    def test_volume_and_end(
        self, target: float, radii: tuple[float, float], angle: float, offset: float
    ) -> None:
        r_out, r_in = radii
        inner, outer = cope(target, angle, offset, r_in), cope(target, angle, offset, r_out)
        body = coped(inner(THETA), outer(THETA), r_out, r_in)
        assert volume(body) == pytest.approx(coped_volume(inner, outer, r_out, r_in, []), rel=1e-7)
        assert len(body.Faces()) == 7
        assert is_sound(body)
        # The kernel's own edges, between the samples, against the closed form.
        found = 0
        for edge in body.Edges():
            if edge.geomType() != "BSPLINE":
                continue
            points = TILTED.to_local([edge.positionAt(u).toTuple() for u in np.linspace(0.0, 1.0, 517)])
            radius = np.hypot(points[:, 0], points[:, 1])
            assert np.ptp(radius) < 2e-5
            curve = outer if abs(radius[0] - r_out) < 1e-3 else inner
            assert points[:, 2] == pytest.approx(curve(np.arctan2(points[:, 1], points[:, 0])), abs=0.001)
            found += 1
        assert found == 4

    def test_square_ends(self) -> None:
        body = cut_pipe(StraightWall(TILTED), None, None, 80.0, *NPS_2)
        plain = straight(TILTED, 80.0, *NPS_2)
        assert volume(body) == pytest.approx(volume(plain), rel=1e-9)
        assert common_volume(body, plain) == pytest.approx(volume(plain), rel=1e-6)
        assert len(body.Faces()) == 6
        assert is_sound(body)

    @pytest.mark.parametrize("start", [-10.0, 0.0, 25.0])
    def test_stations_count_from_the_frame(self, start: float) -> None:
        near, far = (end(np.full(360, at), np.full(360, at), *NPS_2) for at in (start, 80.0))
        body = cut_pipe(StraightWall(TILTED), near, far, 0.0, *NPS_2)
        plain = straight(TILTED.advanced(start), 80.0 - start, *NPS_2)
        assert volume(body) == pytest.approx(volume(plain), rel=1e-7)
        assert common_volume(body, plain) == pytest.approx(volume(plain), rel=1e-6)

    def test_theta_may_begin_anywhere(self) -> None:
        curve = cope(30.15, 60.0, 4.0, 21.10)
        whole = coped(curve(THETA), curve(THETA), *NPS_1_1_4)
        for first in (-2.0, 0.3, 5.0):
            theta = THETA + first
            body = coped(curve(theta), curve(theta), *NPS_1_1_4, theta)
            assert volume(body) == pytest.approx(volume(whole), rel=1e-7)

    def test_equal_diameters_have_two_corners(self) -> None:
        # On a pipe of its own size a square joint's outside follows |cos|, with corners at the sides.
        inner, outer = cope(24.15, 90.0, 0.0, 20.47), cope(24.15, 90.0, 0.0, 24.15)
        theta = THETA + 0.5 * np.pi
        body = coped(inner(theta), outer(theta), *NPS_1_1_2, theta, [0, 180])
        expected = coped_volume(inner, outer, *NPS_1_1_2, [0.5 * np.pi, 1.5 * np.pi])
        assert volume(body) == pytest.approx(expected, rel=1e-7)
        assert is_sound(body)
        # Without them the splines round the corners off.
        rounded = coped(inner(theta), outer(theta), *NPS_1_1_2, theta)
        assert volume(rounded) != pytest.approx(expected, rel=1e-6)

    def test_corner_where_two_targets_meet(self) -> None:
        one = cope(30.15, 60.0, 0.0, 21.10)

        def lowest(t: ArrayLike) -> NDArray[np.float64]:
            return np.minimum(one(t), 130.0 + 10.0 * np.sin(t))

        apart = one(THETA) - 130.0 - 10.0 * np.sin(THETA)
        turns = np.flatnonzero(apart[:-1] * apart[1:] < 0.0)
        kinks = [brentq(lambda t: one(t) - 130.0 - 10.0 * np.sin(t), THETA[i], THETA[i + 1]) for i in turns]
        assert len(kinks) == 2
        near, far = (
            np.linspace(kinks[0], kinks[1], 180, endpoint=False),
            np.linspace(kinks[1], kinks[0] + 2.0 * np.pi, 180, endpoint=False),
        )
        theta = np.concatenate([near, far])
        body = coped(lowest(theta), lowest(theta), *NPS_1_1_4, theta, [0, 180])
        expected = coped_volume(lowest, lowest, *NPS_1_1_4, kinks)
        assert volume(body) == pytest.approx(expected, rel=1e-7)

    def test_one_corner(self) -> None:
        # A parabola over the turn that comes back to its start with another slope; its mean is a third.
        pointed = 100.0 + 10.0 * (THETA / np.pi - 1.0) ** 2
        body = coped(pointed, pointed, *NPS_2, corners=[0])
        plain = straight(TILTED, 100.0 + 10.0 / 3.0, *NPS_2)
        assert volume(body) == pytest.approx(volume(plain), rel=1e-8)
        assert is_sound(body)

    def test_takes_part_in_booleans(self) -> None:
        # A pipe that is coped to the outside of another shares nothing with it.
        inner, outer = cope(30.15, 60.0, 0.0, 17.54), cope(30.15, 60.0, 0.0, 21.10)
        square = np.minimum(inner(THETA), outer(THETA))
        log = straight(TILTED, 300.0, *NPS_2)
        a = np.radians(60.0)
        axis = np.cos(a) * TILTED.axis - np.sin(a) * TILTED.ref
        ref = -np.sin(a) * TILTED.axis - np.cos(a) * TILTED.ref
        branch = Frame.looking(TILTED.advanced(150.0).origin - 150.0 * axis, axis, ref)
        clear = cut_pipe(StraightWall(branch), None, end(square - 0.2, square - 0.2, *NPS_1_1_4), 0.0, *NPS_1_1_4)
        assert common_volume(clear, log) == 0.0
        plunged = cut_pipe(StraightWall(branch), None, end(square + 2.0, square + 2.0, *NPS_1_1_4), 0.0, *NPS_1_1_4)
        both = common_volume(plunged, log)
        assert both > 100.0
        assert volume(plunged.cut(log)) + both == pytest.approx(volume(plunged), rel=1e-6)

    @pytest.mark.parametrize("preps", [("flat", "flat"), ("square", "bevel"), ("bevel", "flat")])
    @pytest.mark.parametrize("clock", [0.0, 77.7])
    def test_mitred_at_both_ends(self, preps: tuple[Prep, Prep], clock: float) -> None:
        """Volumes of both ends, each from the other's square, less the whole pipe."""
        r_out, r_in, length = *NPS_2, 120.0
        pipe = Tube("run", "run-a", TILTED, r_out, r_in, length)
        faced = facing(pipe, TILTED.advanced(length))
        cuts = []
        for tube, prep, lean, at in ((faced, preps[0], 30.0, 10.0), (pipe, preps[1], 22.5, clock)):
            a, axis = np.radians(lean), tube.frame.axis
            normal = np.sin(a) * tube.frame.radial(np.radians(at)) - np.cos(a) * axis
            cuts.append(PlaneCut("cut", tube, (HalfSpace(tube.frame.advanced(length).origin, normal),), prep))
        near, far = (end_face(cut, StraightWall(TILTED)) for cut in cuts)
        body = cut_pipe(StraightWall(TILTED), near.facing(length), far, length, r_out, r_in)
        expected = sum(cut.branch_volume for cut in cuts) - np.pi * (r_out**2 - r_in**2) * length
        assert volume(body) == pytest.approx(expected, rel=1e-7)
        assert is_sound(body)
        # What each plane leaves of the pipe is all that there is.
        for cut in cuts:
            plane = cut.planes[0]
            beyond = min(
                (np.asarray(vertex.toTuple()) - plane.point) @ plane.normal for vertex in body.Vertices()
            )
            assert beyond > -1e-6

    def test_coped_and_mitred(self) -> None:
        r_out, r_in, length = *NPS_1_1_4, 150.0
        log = Tube("log", "log-a", Frame.looking((0.0, 0.0, 0.0), (1.0, 0.0, 0.0)), *NPS_2, 400.0)
        frame = Frame.looking(log.frame.advanced(200.0).origin + (-75.0, 129.9, 4.0), (0.5, -0.866, 0.0))
        pipe = Tube("primary.1", "primary.1-b", frame, r_out, r_in, length)
        faced = facing(pipe, frame.advanced(length))
        normal = np.array([0.0, -0.94, 0.34])
        mitre = PlaneCut("cut", faced, (HalfSpace(frame.origin, normal),), "flat")
        cope = Cope("cope", pipe, log, "on", "square", 0.0)
        near, far = end_face(mitre, StraightWall(frame)).facing(length), end_face(cope, StraightWall(frame))
        body = cut_pipe(StraightWall(frame), near, far, length, r_out, r_in)
        expected = mitre.branch_volume + cope.branch_volume - np.pi * (r_out**2 - r_in**2) * length
        assert volume(body) == pytest.approx(expected, rel=1e-6)
        assert is_sound(body)
        sunk = common_volume(body, straight(log.frame, 400.0, *NPS_2))
        assert sunk < 0.05
        # The walls are two faces each, however many corners the ends have.
        assert sum(face.geomType() == "CYLINDER" for face in body.Faces()) == 4

    def test_ends_that_overlap_in_station(self) -> None:
        """Two parallel mitres so steep that no square ring lies between them: the volume is the middle's."""
        slant = 60.0 * np.cos(THETA)
        near, far = end(slant, slant, *NPS_2), end(slant + 50.0, slant + 50.0, *NPS_2)
        body = cut_pipe(StraightWall(TILTED), near, far, 0.0, *NPS_2)
        assert volume(body) == pytest.approx(volume(straight(TILTED, 50.0, *NPS_2)), rel=1e-7)
        assert is_sound(body)

    def test_rings_between(self) -> None:
        """A face square for a land of 1.6 mm, then ground back at 37.5 degrees: by Pappus-Guldin the ground
        ring is a triangle about its centroid."""
        r_out, r_in = NPS_2
        land, level = r_in + 1.6, np.full(360, 90.0)
        back = (r_out - land) * np.tan(np.radians(37.5))
        face = EndFace(THETA, np.array([r_in, land, r_out]), np.column_stack([level, level, level - back]), NONE)
        body = cut_pipe(StraightWall(TILTED), None, face, 0.0, r_out, r_in)
        middle = r_out - (r_out - land) / 3.0
        ground = 2.0 * np.pi * middle * 0.5 * back * (r_out - land)
        assert volume(body) == pytest.approx(volume(straight(TILTED, 90.0, r_out, r_in)) - ground, rel=1e-7)
        assert len(body.Faces()) == 4 + 1 + 4
        assert is_sound(body)

    def test_an_end_that_leaps(self) -> None:
        """From 60 mm to 80 mm and back at its corners, as beside a neighbour that part of a wall passes."""
        r_out, r_in = NPS_2
        torn = Leaping(np.array([1.0, 4.0]), np.array([r_in, r_out]))
        body = cut_pipe(StraightWall(TILTED), None, end_face(torn, StraightWall(TILTED)), 0.0, r_out, r_in)
        length = 60.0 + 20.0 * (4.0 - 1.0) / (2.0 * np.pi)
        assert is_sound(body)
        assert volume(body) == pytest.approx(np.pi * (r_out**2 - r_in**2) * length, rel=1e-6)

    @pytest.mark.parametrize("clock", [0.0, 77.0, 180.0, 300.0])
    def test_a_bend_is_the_kernels_own(self, clock: float) -> None:
        """By Pappus-Guldin, and with its middle where a turned ring has it."""
        wall, angle = BentWall(TILTED, 95.0, clock), 75.0
        body = cut_pipe(wall, None, None, 95.0 * np.radians(angle), *NPS_2)
        turned = elbow(TILTED, 95.0, angle, clock, *NPS_2)
        assert is_sound(body)
        assert volume(body) == pytest.approx(volume(turned), rel=1e-9)
        assert body.Center().toTuple() == pytest.approx(turned.Center().toTuple(), abs=1e-6)

    def test_facing_twice_is_the_face_itself(self) -> None:
        curve = cope(24.15, 75.0, 0.0, 24.15)(THETA)
        face = end(curve, curve + 1.0, *NPS_1_1_2, THETA, [0, 90, 270])
        again = face.facing(200.0).facing(200.0)
        assert again.theta == pytest.approx(face.theta)
        assert again.stations == pytest.approx(face.stations)
        assert again.corners.tolist() == [0, 90, 270]

    @pytest.mark.parametrize("first", [-7.0, 0.0, 0.5, 4.0])
    def test_spans_cover_one_turn(self, first: float) -> None:
        curve = cope(24.15, 75.0, 0.0, 24.15)(THETA)
        for corners in ([], [0], [0, 90, 270]):
            halves = spans(StraightWall(TILTED), end(curve, curve, *NPS_1_1_2, THETA, corners), first + 0.1)
            for half, start in zip(halves, (first + 0.1, first + 0.1 + np.pi), strict=True):
                assert half[0].theta[0] == pytest.approx(start)
                assert half[-1].theta[-1] == pytest.approx(start + np.pi)
                assert all(a.theta[-1] == b.theta[0] for a, b in pairwise(half))
                assert all(a.stations[-1] == pytest.approx(b.stations[0], abs=1e-12) for a, b in pairwise(half))
            starts = np.array([part.theta[0] for half in halves for part in half])
            for corner in THETA[corners]:
                assert np.abs((starts - corner + np.pi) % (2.0 * np.pi) - np.pi).min() < 1e-9

    def test_seams_keep_off_corners(self) -> None:
        level = np.full(360, 50.0)
        near, far = (end(level, level, *NPS_2, THETA, corners) for corners in ([0, 100], [0, 130, 220]))
        first, room = seam(near, far)
        clocks = np.degrees(first) + (0.0, 180.0)
        apart = np.abs((clocks[:, None] - (0, 100, 130, 220) + 180.0) % 360.0 - 180.0)
        assert apart.min() == pytest.approx(30.0)
        assert np.degrees(room) == pytest.approx(30.0)

    @pytest.mark.parametrize(
        ("theta", "stations", "what"),
        [
            (THETA[::-1], np.full(360, 50.0), "must increase"),
            (np.linspace(0.0, 2.0 * np.pi, 360), np.full(360, 50.0), "without repeating"),
            (THETA, np.full(359, 50.0), "must agree"),
            (THETA[:4], np.full(4, 50.0), "at least 8"),
        ],
    )
    def test_bad_rings_are_refused(
        self, theta: NDArray[np.float64], stations: NDArray[np.float64], what: str
    ) -> None:
        with pytest.raises(ValueError, match=what):
            end(stations, stations, *NPS_2, theta)

    @pytest.mark.parametrize("corners", [[1], [0, 0], [0, 360], [0, 20, 10]])
    def test_bad_corners_are_refused(self, corners: list[int]) -> None:
        level = np.full(360, 50.0)
        with pytest.raises(ValueError, match="rising indices of samples, the first of them 0"):
            end(level, level, *NPS_2, corners=corners)

    def test_radii_must_rise(self) -> None:
        with pytest.raises(ValueError, match="radii must rise"):
            end(THETA, THETA, *NPS_2[::-1])

    def test_ends_that_do_not_fit_are_refused(self) -> None:
        level = np.full(360, 50.0)
        wavy = end(10.0 * np.cos(THETA), 10.0 * np.cos(THETA), *NPS_2)
        with pytest.raises(ValueError, match="back past"):
            cut_pipe(StraightWall(TILTED), None, wavy, 0.0, *NPS_2)
        with pytest.raises(ValueError, match="back past"):
            cut_pipe(StraightWall(TILTED), end(level, level, *NPS_2), wavy, 0.0, *NPS_2)
        with pytest.raises(ValueError, match="back past"):
            cut_pipe(StraightWall(TILTED), None, None, 0.0, *NPS_2)
        with pytest.raises(ValueError, match="from the pipe's bore to its outside"):
            cut_pipe(StraightWall(TILTED), None, end(level, level, *NPS_1_1_2), 0.0, *NPS_2)


class TestDrilled:
    @pytest.mark.parametrize("angle", [30.0, 60.0, 90.0, 120.0, 150.0])
    @pytest.mark.parametrize(("radius", "offset"), [(17.54, 0.0), (17.54, 8.6), (21.10, -5.0)])
    def test_takes_the_near_wall_only(self, angle: float, radius: float, offset: float) -> None:
        log = straight(TILTED, 260.0, *NPS_2)
        body = drilled(log, [Hole.straight(across(TILTED, 130.0, angle, offset), TILTED, radius)], TILTED, 30.15)
        cut = wall_cut(*NPS_2, radius, angle, offset)
        assert volume(log) - volume(body) == pytest.approx(cut, rel=1e-7)

    @pytest.mark.parametrize(("radius", "offset"), [(26.24, 0.0), (26.24, 3.0), (30.15, 0.0), (12.61, 13.63)])
    def test_equal_and_tangent_bores(self, radius: float, offset: float) -> None:
        log = straight(TILTED, 260.0, *NPS_2)
        body = drilled(log, [Hole.straight(across(TILTED, 130.0, 75.0, offset), TILTED, radius)], TILTED, 30.15)
        assert volume(log) - volume(body) == pytest.approx(wall_cut(*NPS_2, radius, 75.0, offset), rel=1e-6)

    def test_several_holes_at_once(self) -> None:
        log = straight(TILTED, 420.0, *NPS_2)
        stand = [
            (60.0, 60.0, 0.0, 0.0),
            (160.0, 90.0, 5.0, 20.0),
            (260.0, 90.0, 0.0, -20.0),
            (360.0, 110.0, -4.0, 90.0),
        ]
        branches = [across(TILTED, s, angle, offset, clock) for s, angle, offset, clock in stand]
        holes = [Hole.straight(branch, TILTED, 17.54) for branch in branches]
        cut = sum(wall_cut(*NPS_2, 17.54, angle, offset) for _, angle, offset, _ in stand)
        assert volume(log) - volume(drilled(log, holes, TILTED, 30.15)) == pytest.approx(cut, rel=1e-7)

    def test_branch_may_be_given_at_any_station(self) -> None:
        log = straight(TILTED, 260.0, *NPS_2)
        branch = across(TILTED, 130.0, 70.0, 4.0)
        near, far = (
            volume(drilled(log, [Hole.straight(branch.advanced(by), TILTED, 17.54)], TILTED, 30.15))
            for by in (200.0, -500.0)
        )
        assert near == pytest.approx(far, rel=1e-9)

    def test_coped_pipe(self) -> None:
        curve = cope(30.15, 60.0, 0.0, 24.15)(THETA) + 100.0
        body = coped(curve, curve, *NPS_1_1_2)
        cut = volume(body) - volume(
            drilled(body, [Hole.straight(across(TILTED, 80.0, 70.0, 3.0), TILTED, 15.0)], TILTED, 24.15)
        )
        assert cut == pytest.approx(wall_cut(*NPS_1_1_2, 15.0, 70.0, 3.0), rel=1e-6)

    def test_no_holes_change_nothing(self) -> None:
        log = straight(TILTED, 100.0, *NPS_2)
        assert drilled(log, [], TILTED, 30.15) is log

    def test_branch_along_the_pipe_is_refused(self) -> None:
        with pytest.raises(ValueError, match="may not run along"):
            drilled(straight(TILTED, 100.0, *NPS_2), [Hole.straight(TILTED, TILTED, 10.0)], TILTED, 30.15)

    def test_body_cut_in_two_is_an_error(self) -> None:
        wire = straight(Frame.looking(TILTED.origin + 20.0 * TILTED.ref, TILTED.axis), 200.0, 5.0, 4.0)
        with pytest.raises(KernelError, match=r"^wire: a boolean left 2 solids where one is expected"):
            drilled(wire, [Hole.straight(across(TILTED, 100.0, 90.0, 0.0), TILTED, 8.0)], TILTED, 30.0, part="wire")


class TestHolesBuiltFaceByFace:
    """Against the closed form of what a hole takes out of the wall, and against the kernel's booleans."""

    def built(self, holes: list[Hole], length: float = 420.0) -> cq.Solid:
        through = [made for hole in holes if (made := pierced(StraightWall(TILTED), NPS_2[::-1], hole))]
        assert len(through) == len(holes)
        assert has_room(None, None, length, through)
        return cut_pipe(StraightWall(TILTED), None, None, length, *NPS_2, through)

    @pytest.mark.parametrize("angle", [25.0, 60.0, 90.0, 155.0])
    @pytest.mark.parametrize(("radius", "offset"), [(17.54, 0.0), (17.54, 6.0), (21.10, -2.0), (24.0, 0.0)])
    def test_takes_the_near_wall_only(self, angle: float, radius: float, offset: float) -> None:
        body = self.built([Hole.straight(across(TILTED, 210.0, angle, offset, 77.0), TILTED, radius)])
        assert is_sound(body)
        cut = wall_cut(*NPS_2, radius, angle, offset)
        assert volume(straight(TILTED, 420.0, *NPS_2)) - volume(body) == pytest.approx(cut, rel=2e-6)

    def test_several_are_what_booleans_make(self) -> None:
        stand = [
            (60.0, 60.0, 0.0, 0.0),
            (160.0, 90.0, 5.0, 20.0),
            (260.0, 90.0, 0.0, 172.0),
            (360.0, 110.0, -4.0, 190.0),
        ]
        branches = [across(TILTED, s, angle, offset, clock) for s, angle, offset, clock in stand]
        holes = [Hole.straight(branch, TILTED, 17.54) for branch in branches]
        body, other = self.built(holes), drilled(straight(TILTED, 420.0, *NPS_2), holes, TILTED, 30.15)
        assert is_sound(body)
        assert volume(body) == pytest.approx(volume(other), rel=1e-8)
        assert body.Center().toTuple() == pytest.approx(other.Center().toTuple(), abs=1e-3)

    def test_beside_a_coped_end(self) -> None:
        curve = cope(30.15, 60.0, 0.0, 24.15)(THETA) + 100.0
        far, hole = end(curve, curve, *NPS_1_1_2), Hole.straight(across(TILTED, 60.0, 70.0, 3.0), TILTED, 15.0)
        made = pierced(StraightWall(TILTED), NPS_1_1_2[::-1], hole)
        assert made
        body = cut_pipe(StraightWall(TILTED), None, far, 100.0, *NPS_1_1_2, [made])
        assert is_sound(body)
        cut = volume(cut_pipe(StraightWall(TILTED), None, far, 100.0, *NPS_1_1_2)) - volume(body)
        assert cut == pytest.approx(wall_cut(*NPS_1_1_2, 15.0, 70.0, 3.0), rel=1e-5)

    @pytest.mark.parametrize(
        "holes",
        [
            # Tangent to the bore, wider than it, into each other, over the pipe's end, all round the pipe.
            [Hole.straight(across(TILTED, 130.0, 75.0, 13.63), TILTED, 12.61)],
            [Hole.straight(across(TILTED, 130.0, 90.0, 0.0), TILTED, 28.0)],
            [Hole.straight(across(TILTED, 100.0 + 20.0 * k, 90.0, 0.0), TILTED, 17.0) for k in (0, 1)],
            [Hole.straight(across(TILTED, 5.0, 90.0, 0.0), TILTED, 17.0)],
            [Hole.straight(across(TILTED, 60.0 + 60.0 * k, 90.0, 0.0, 60.0 * k), TILTED, 20.0) for k in (0, 1, 2)],
        ],
    )
    def test_what_it_has_no_room_for_is_left_to_the_kernel(self, holes: list[Hole]) -> None:
        radii = NPS_2[::-1]
        through = [made for hole in holes if (made := pierced(StraightWall(TILTED), radii, hole))]
        assert len(through) < len(holes) or not has_room(None, None, 260.0, through)


class TestCommonVolume:
    def test_equal_rods(self) -> None:
        # Archimedes: 16/3 r^3.
        both = common_volume(rod(1.0, 6.0, (1, 0, 0)), rod(1.0, 6.0, (0, 1, 0)))
        assert both == pytest.approx(16.0 / 3.0, rel=1e-6)

    @pytest.mark.parametrize(
        ("large", "small", "expected"),
        # Numerical integration of 8 sqrt(R^2 - y^2) sqrt(r^2 - y^2) for y from 0 to r.
        [
            (1.0, 0.5, 1.52003998817),
            (1.0, 0.8, 3.66641308490),
            (1.0, 0.9, 4.49991287796),
            (2.0, 1.0, 12.1603199054),
        ],
    )
    def test_unequal_rods(self, large: float, small: float, expected: float) -> None:
        both = common_volume(rod(large, 8.0, (1, 0, 0)), rod(small, 8.0, (0, 1, 0)))
        assert both == pytest.approx(expected, rel=1e-7)

    @pytest.mark.parametrize(("angle", "expected"), [(90.0, 78_797.6964), (45.0, 111_436.771)])
    def test_nps_1_1_4_through_2(self, angle: float, expected: float) -> None:
        # The same integral over sin(angle), for outside diameters 42.2 and 60.3 mm of ASME B36.10M.
        a = np.radians(angle)
        both = common_volume(rod(30.15, 400.0, (1, 0, 0)), rod(21.10, 400.0, (np.cos(a), np.sin(a), 0)))
        assert both == pytest.approx(expected, rel=1e-8)

    def test_volumes_add_up(self) -> None:
        a, b = straight(TILTED, 200.0, *NPS_2), straight(across(TILTED, 100.0, 70.0, 5.0), 300.0, *NPS_1_1_4)
        assert volume(a.fuse(b)) + common_volume(a, b) == pytest.approx(volume(a) + volume(b), rel=1e-7)

    def test_apart(self) -> None:
        a = straight(TILTED, 100.0, *NPS_2)
        assert common_volume(a, straight(TILTED.advanced(500.0), 100.0, *NPS_2)) == 0.0

    def test_boxes_meet_but_bodies_do_not(self) -> None:
        a = straight(TILTED, 200.0, *NPS_2)
        assert common_volume(a, straight(TILTED.advanced(50.0), 50.0, 20.0, 18.0)) == 0.0

    def test_coarse_mesh_does_not_shrink_the_box(self) -> None:
        # A coarse mesh of a rod lies inside it, by more than the two overlap here.
        a, b = rod(10.0, 50.0, (0, 0, 1)), rod(10.0, 50.0, (0, 0, 1)).translate(cq.Vector(19.9, 0, 0))
        true = common_volume(a, b)
        for body in (a, b):
            body.mesh(5.0, 2.0)
        assert common_volume(a, b) == pytest.approx(true)
        assert true > 0.0


class TestChecked:
    def test_sound_body_passes(self) -> None:
        body = straight(TILTED, 100.0, *NPS_2)
        assert checked(body, "log", volume(body)) is body

    def test_implausible_volume(self) -> None:
        with pytest.raises(KernelError) as caught:
            checked(straight(TILTED, 100.0, *NPS_2), "log", 70_000.0)
        assert str(caught.value) == (
            "log: its volume is 69267.4 mm3 where 70000.0 mm3 are expected; "
            "please report this with the parameter file"
        )
        assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)

    def test_two_solids_are_not_sound(self) -> None:
        a = straight(TILTED, 100.0, *NPS_2)
        pair = cq.Compound.makeCompound([a, straight(TILTED.advanced(500.0), 100.0, *NPS_2)])
        assert is_sound(a)
        assert not is_sound(pair)

    def test_open_shell_is_not_sound(self) -> None:
        faces = straight(TILTED, 100.0, *NPS_2).Faces()[:-1]
        assert not is_sound(cq.Solid.makeSolid(cq.Shell.makeShell(faces)))
        with pytest.raises(KernelError, match="not one valid, closed solid"):
            checked(cq.Solid.makeSolid(cq.Shell.makeShell(faces)), "log")
