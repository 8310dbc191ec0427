"""What two crossing cylinders share, and what one cuts out of the other.

Sources: MathWorld, "Steinmetz Solid" (equal cylinders, 16 r^3 / 3 and surface 16 r^2) and "Cylinder-Cylinder
Intersection" (unequal ones, after J. H. Hubbell, J. Res. Natl. Bur. Stand. 69C, 1965, 139-143). With
k = r / R, and K and E the complete elliptic integrals of modulus k, axes that meet at an angle b share

    (8 R / 3 sin b) [(R^2 + r^2) E(k) - (R^2 - r^2) K(k)]

and at right angles the hole in the larger has the area 4 R^2 [E(k) - (1 - k^2) K(k)], unrolled, and half the
width R asin(r / R); the smaller's wall from the larger's axis to the saddle, 4 r R E(k). The numbers were evaluated
from these with 20 digits (mpmath), and by quadrature, independently of this code. mpmath's E and K take m = k^2.
"""

from __future__ import annotations

import cadquery as cq
import mpmath
import numpy as np
import pytest

from rootgap.geometry.frames import Frame
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.tube import Tube
from rootgap.joints import Cope
from rootgap.solids.bodies import common_volume, rod

TURN = 2.0 * np.pi * np.arange(4096) / 4096
#: Outside of the run and radius of the branch, mm: NPS 1-1/4 on 2 by outside and by bore, 1-1/2 by bore on 2,
#: 2 by bore on 3.
PAIRS = [(30.15, 21.10), (30.15, 17.54), (30.15, 20.47), (44.45, 26.24)]


def shared(large: float, small: float, angle: float) -> float:
    """The volume by the elliptic integrals."""
    m, sin = (mpmath.mpf(small) / large) ** 2, mpmath.sin(mpmath.radians(angle))
    e, k = mpmath.ellipe(m), mpmath.ellipk(m) if m < 1 else mpmath.mpf(0)
    return float(8 * large / (3 * sin) * ((large**2 + small**2) * e - (large**2 - small**2) * k))


def crossed(large: float, small: float, angle: float, half: float) -> float:
    """The volume by the kernel."""
    lean = np.radians(angle)
    frames = [Frame.looking((0, 0, 0), (1, 0, 0)), Frame.looking((0, 0, 0), (np.cos(lean), np.sin(lean), 0))]
    return common_volume(*(rod(frame, -half, half, r) for frame, r in zip(frames, (large, small), strict=True)))


def on(run: float, branch: float) -> Cope:
    """A set-on branch square over the middle of a run along x, its bore of `branch` mm."""
    start = Frame.looking((0, 0, 200.0), (0, 0, -1), (1, 0, 0))
    target = Frame.looking((-200.0, 0, 0), (1, 0, 0), (0, 0, 1))
    return Cope(
        "a+log",
        Tube("a", "a-a", start, 1.15 * branch, branch, 200.0),
        Tube("log", "log-a", target, run, 0.9 * run, 400.0),
        "on",
        "bevel",
        0.0,
    )


@pytest.mark.parametrize(
    ("large", "small", "volume"),
    [
        (1.0, 1.0, 16.0 / 3.0),
        (1.0, 0.5, 1.52003998817),
        (1.0, 0.8, 3.66641308490),
        (1.0, 0.9, 4.49991287796),
        (2.0, 1.0, 12.1603199054),
    ],
)
def test_axes_at_right_angles(large, small, volume):
    assert shared(large, small, 90.0) == pytest.approx(volume, rel=1e-9)
    assert crossed(large, small, 90.0, 4.0 * large) == pytest.approx(volume, rel=1e-6)


@pytest.mark.parametrize(("angle", "volume"), [(90.0, 78797.6964), (45.0, 111436.771)])
def test_nps_1_1_4_and_2(angle, volume):
    assert shared(30.15, 21.10, angle) == pytest.approx(volume, rel=1e-8)
    assert crossed(30.15, 21.10, angle, 200.0) == pytest.approx(volume, rel=1e-6)


@pytest.mark.parametrize("angle", [90.0, 60.0, 30.0])
def test_equal_ones_at_an_angle(angle):
    # 16 r^3 / (3 sin b).
    expected = 16.0 * 24.15**3 / (3.0 * np.sin(np.radians(angle)))
    assert shared(24.15, 24.15, angle) == pytest.approx(expected, rel=1e-12)
    assert crossed(24.15, 24.15, angle, 250.0) == pytest.approx(expected, rel=1e-6)


def test_the_surface_of_equal_ones():
    # 16 r^2 over four pieces of wall, of which each branch cuts two: its own up to the run's axis is 4 r^2.
    heights = 10.0 - Saddle(
        Frame.looking((0, 0, 10.0), (0, 0, -1)), Frame.looking((0, 0, 0), (1, 0, 0)), 1.0
    ).height(TURN, 1.0)
    assert 2.0 * np.pi * heights.mean() == pytest.approx(4.0, rel=1e-6)
    lens = cq.Workplane("YZ").circle(1.0).extrude(4.0, both=True).val()
    other = cq.Workplane("XZ").circle(1.0).extrude(4.0, both=True).val()
    assert lens.intersect(other).Area() == pytest.approx(16.0, rel=1e-6)


@pytest.mark.parametrize(
    ("pair", "area", "width", "wall"),
    list(
        zip(
            PAIRS,
            (1505.861124, 1013.756094, 1409.809762, 2272.507123),
            (23.371234, 18.719781, 22.501429, 28.068527),
            (3449.992027, 3020.651946, 3382.204963, 6640.772166),
            strict=True,
        )
    ),
)
def test_hole_and_wall(pair, area, width, wall):
    run, branch = pair
    joint = on(run, branch)
    hole = joint.hole(TURN) * (run, 1.0)
    x, y = hole.T
    # The trapezoid rule round a smooth closed curve; here on its polygon, second order in the step.
    assert 0.5 * abs(x @ np.roll(y, -1) - y @ np.roll(x, -1)) == pytest.approx(area, rel=1e-6)
    assert 0.5 * np.ptp(x) == pytest.approx(width, abs=1e-6)
    m = (mpmath.mpf(branch) / run) ** 2
    assert float(4 * run**2 * (mpmath.ellipe(m) - (1 - m) * mpmath.ellipk(m))) == pytest.approx(area, rel=1e-9)
    assert float(4 * branch * run * mpmath.ellipe(m)) == pytest.approx(wall, rel=1e-9)
    unrolled = 200.0 - joint.cut(TURN)
    assert branch * 2.0 * np.pi * unrolled.mean() == pytest.approx(wall, rel=1e-9)


# Depth of a square cope, R - sqrt(R^2 - r^2), mm, by the branch's outside and by its bore: a cope laid out on the
# outside is too deep by the difference.
@pytest.mark.parametrize(
    ("run", "outside", "bore", "depths"),
    [
        (30.15, 21.10, 17.54, (8.6137, 5.6271)),
        (30.15, 24.15, 20.47, (12.1001, 8.0140)),
        (44.45, 30.15, 26.24, (11.7884, 8.5715)),
    ],
)
def test_depth_by_outside_and_by_bore(run, outside, bore, depths):
    joint = on(run, bore)
    found = [np.ptp(joint.outside.height(TURN, rho)) for rho in (outside, bore)]
    assert found == pytest.approx(depths, abs=1e-4)
    assert np.ptp(joint.cut(TURN)) == pytest.approx(depths[1], abs=1e-4), "the template is the bore's"


@pytest.mark.parametrize(
    ("run", "outside", "bore", "too_deep"),
    [
        (30.15, 21.10, 17.54, 2.987),
        (30.15, 24.15, 20.47, 4.086),
        (24.15, 21.10, 17.54, 4.852),
        (21.10, 21.10, 17.54, 11.729),
        (24.15, 24.15, 20.47, 12.814),
        (44.45, 30.15, 26.24, 3.217),
    ],
)
def test_how_much_too_deep_a_cope_laid_out_on_the_outside_is(run, outside, bore, too_deep):
    saddle = on(run, bore).outside
    assert np.ptp(saddle.height(TURN, outside)) - np.ptp(saddle.height(TURN, bore)) == pytest.approx(too_deep, abs=6e-4)
