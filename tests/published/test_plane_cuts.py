"""Mitres and merges of equal pipes.

Source: plane geometry worked out. A plane that leans b from square cuts a cylinder of radius r in the
developed curve r tan b cos p, an ellipse of half axes r and r / cos b. Of n pipes whose axes lean a from
one axis, each is cut by the planes half way to its neighbours at

    t(p) = r [ |sin p| cot(pi/n) / sin a - cos p cot a ]

back from the apex, with p = 0 outward, and most, r sqrt(cot^2(pi/n) / sin^2 a + cot^2 a), at
p = 180 - atan(cot(pi/n) / cos a) degrees. n equal circles touch round a centre at the pitch radius
r / sin(pi/n). The numbers were evaluated from these independently of this code.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from rootgap.geometry.frames import Frame
from rootgap.geometry.merging import outlet_station
from rootgap.geometry.tube import Tube
from rootgap.joints.merge import Merge
from rootgap.joints.mitre import Mitre

LENGTH = 400.0


def mitre(r_out: float, turn: float, wall: float = 2.77) -> Mitre:
    angle = np.radians(turn)
    on = np.array([np.cos(angle), np.sin(angle), 0.0])
    before = Frame.looking((-LENGTH, 0, 0), (1, 0, 0))
    after = Frame.looking(LENGTH * on, -on)
    first, second = (Tube("", "", frame, r_out, r_out - wall, LENGTH) for frame in (before, after))
    return Mitre("a+b", first, second, "flat")


def merge(count: int, half_angle: float, r_out: float = 24.15, **more) -> Merge:
    frame = Frame.looking((12, -5, 40), (1, 2, 3))
    return Merge("collector", frame, count, half_angle, r_out, 0.9 * r_out, more.pop("length", 1000.0), **more)


@pytest.mark.parametrize(
    ("od", "lean", "amplitude", "edge"),
    [(48.3, 22.5, 10.003258, 158.051816), (60.3, 15.0, 8.078668, 192.793841), (60.3, 45.0, 30.15, 230.357927)],
)
def test_a_mitre_is_a_sinusoid_of_amplitude_r_tan_b_and_its_edge_an_ellipse(od, lean, amplitude, edge):
    for cut in mitre(0.5 * od, 2.0 * lean).sides:
        short, long = cut.cut_range
        assert 0.5 * (long - short) == pytest.approx(amplitude, abs=1e-6)
        assert 0.5 * (long + short) == pytest.approx(LENGTH, abs=1e-9)
        assert cut.weld_length == pytest.approx(edge, abs=1e-6)
        b = mpmath.radians(lean)
        whole = 2 * od / mpmath.cos(b) * mpmath.ellipe(mpmath.sin(b) ** 2)
        assert cut.weld_length == pytest.approx(float(whole), abs=1e-9)


@pytest.mark.parametrize(
    ("od", "lean", "major", "perimeter", "area"),
    [(60.3, 22.5, 65.268250, 197.319348, 3091.0723), (48.3, 15.0, 50.003840, 154.426907, 1896.8822)],
)
def test_the_ellipse_of_a_plane_cut(od, lean, major, perimeter, area):
    joint = mitre(0.5 * od, 2.0 * lean)
    assert joint.weld_length == pytest.approx(perimeter, abs=1e-6)
    for cut in joint.sides:
        turn = 2.0 * np.pi * np.arange(720) / 720
        rim = cut.points(turn, cut.tube.r_out)
        middle = rim.mean(axis=0)
        assert 2.0 * np.linalg.norm(rim - middle, axis=1).max() == pytest.approx(major, abs=1e-4)
        swept = 0.5 * np.cross(rim - middle, np.roll(rim, -1, axis=0) - middle).sum(axis=0)
        # A polygon of n corners in an ellipse has n sin(2 pi / n) / 2 pi of its area.
        assert np.linalg.norm(swept) / np.sinc(2.0 / 720) == pytest.approx(area, abs=1e-3)


@pytest.mark.parametrize(
    ("count", "half_angle", "expected", "most", "at"),
    [
        (2, 7.5, (-183.437462, 0.0, 183.437462), 183.437462, 180.0),
        (3, 10.0, (-136.961456, 80.294589, 136.961456), 158.762909, 149.6187),
        (4, 10.0, (-136.961456, 139.074307, 136.961456), 195.192478, 134.5615),
        (4, 7.5, (-183.437462, 185.020336, 183.437462), 260.541412, 134.7539),
    ],
)
def test_a_merges_legs(count, half_angle, expected, most, at):
    joint = merge(count, half_angle, outlet=None, prep="flat")
    quarters = np.radians([0.0, 90.0, 180.0])
    for leg in joint.legs:
        assert joint.length - leg.cut(quarters) == pytest.approx(expected, abs=1e-6)
        assert joint.length - leg.cut_range[0] == pytest.approx(most, abs=1e-6)
        turn = np.radians(np.linspace(at - 0.01, at + 0.01, 201))
        assert np.degrees(turn[np.argmin(leg.cut(turn))]) == pytest.approx(at, abs=2e-4)
    assert joint.back(quarters, joint.r_out) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("count", "pitch", "enclosing"), [(2, 1.0, 2.0), (3, 1.1547005, 2.1547005), (4, 1.4142136, 2.4142136)]
)
def test_where_legs_first_touch_they_lie_as_equal_circles_round_a_centre(count, pitch, enclosing):
    """The leaner the legs the nearer to parallel: the sections are ellipses, out by a^2 / 2."""
    joint = merge(count, 2.0, r_out=1.0, outlet=None, length=200.0)
    a = np.radians(2.0)
    assert joint.pitch_radius(joint.first_touch) == pytest.approx(pitch, rel=a**2)
    assert joint.enclosing_diameter(joint.first_touch) == pytest.approx(2.0 * enclosing, rel=a**2)
    back = outlet_station(2.0 * enclosing, joint.r_out, joint.half_angle)
    assert back == pytest.approx(joint.first_touch, rel=2.0 * a**2)
