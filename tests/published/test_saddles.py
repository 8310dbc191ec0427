"""Saddle curves of crossing cylinders.

Source: T. M. Apostol and M. A. Mnatsakanian, "Unwrapping Curves from Cylinders and Cones",
Amer. Math. Monthly 114 (2007) 388-416, for the developed curve: with branch radius r, run
radius R, offset e, angle between the axes a, clock p from the acute side, the height from
the run's axis is [sqrt(R^2 - (e + r sin p)^2) + r cos p cos a] / sin a. The numbers were
evaluated from it with 20 digits (mpmath), independently of this code.
"""

from __future__ import annotations

import mpmath
import numpy as np
import pytest

from rootgap.geometry.frames import Frame
from rootgap.geometry.saddle import Saddle
from rootgap.geometry.sampling import sampled

START = 400.0


def crossing(run: float, angle: float, offset: float = 0.0) -> Saddle:
    """Return a branch that comes down onto a run along x, its clock 0 on the acute side."""
    lean = np.radians(angle)
    axis = np.array([-np.cos(lean), 0.0, -np.sin(lean)])
    target = Frame.looking((0, 0, 0), (1, 0, 0), (0, 0, 1))
    # Clock 90 of this frame is -y: a branch set over that way has the offset on its own clock 90.
    branch = Frame.looking(-START * axis - np.array([0, offset, 0]), axis, (1, 0, 0))
    return Saddle(branch, target, run)


def heights(run: float, branch: float, angle: float, clocks, offset: float = 0.0) -> np.ndarray:
    return START - crossing(run, angle, offset).height(np.radians(clocks), branch)


def edge_length(run: float, branch: float, angle: float, offset: float = 0.0) -> float:
    saddle = crossing(run, angle, offset)
    t = sampled(lambda x: saddle.points(x, branch), 0.0, 1e-6, first=720)
    return float(np.linalg.norm(np.diff(saddle.points(t, branch), axis=0), axis=1).sum())


HALF_TURN = [0, 45, 90, 135, 180]


@pytest.mark.parametrize(
    ("run", "branch", "angle", "expected"),
    [
        (30.15, 21.10, 90, [30.15, 26.199571, 21.536307, 26.199571, 30.15]),
        (30.15, 21.10, 60, [46.996312, 38.866697, 24.867985, 21.638619, 22.632131]),
        (30.15, 21.10, 45, [63.738539, 51.971741, 30.456937, 22.131835, 21.538539]),
        (30.15, 17.54, 90, [30.15, 27.480842, 24.522865, 27.480842, 30.15]),
        (30.15, 17.54, 60, [44.940945, 38.892819, 28.316565, 24.571469, 24.687498]),
        (30.15, 17.54, 45, [60.178539, 51.266433, 34.680568, 26.461127, 25.098539]),
        (30.15, 24.15, 90, [30.15, 24.847761, 18.049931, 24.847761, 30.15]),
        (44.45, 24.15, 90, [44.45, 41.038899, 37.317288, 41.038899, 44.45]),
        (44.45, 24.15, 60, [65.269448, 57.246835, 43.090293, 37.528443, 37.383430]),
        (44.45, 24.15, 45, [87.011793, 75.114397, 52.774615, 40.961139, 38.711793]),
    ],
)
def test_heights_round_the_clock(run, branch, angle, expected):
    assert heights(run, branch, angle, HALF_TURN) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("offset", "expected"),
    [(5.0, [29.732516, 20.024258, 29.732516, 27.418441]), (10.0, [28.443321, 12.270733, 28.443321, 29.191966])],
)
def test_heights_with_an_offset(offset, expected):
    assert heights(30.15, 17.54, 90, [0, 90, 180, 270], offset) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("run", "branch", "angle", "offset", "expected"),
    [
        (30.15, 21.10, 90, 0, 137.937133),
        (30.15, 21.10, 60, 0, 148.748237),
        (30.15, 21.10, 45, 0, 167.413937),
        (30.15, 17.54, 90, 0, 112.990299),
        (30.15, 17.54, 60, 0, 121.860076),
        (30.15, 17.54, 45, 0, 137.225061),
        (44.45, 24.15, 90, 0, 154.995796),
        (44.45, 24.15, 60, 0, 167.168133),
        (44.45, 24.15, 45, 0, 188.272761),
        (30.15, 24.15, 90, 0, 160.855096),
        (30.15, 24.15, 60, 0, 173.439830),
        (30.15, 24.15, 45, 0, 195.084655),
        (30.15, 17.54, 90, 5, 114.386842),
        (30.15, 17.54, 90, 10, 120.153950),
        (30.15, 17.54, 90, 12.61, 134.33945),
    ],
)
def test_edge_length(run, branch, angle, offset, expected):
    assert edge_length(run, branch, angle, offset) == pytest.approx(expected, abs=1e-4)


def test_equal_cylinders_at_90_degrees_have_an_edge_of_4_root_2_e_half():
    # Two half ellipses; mpmath's E takes the parameter m = k^2.
    assert edge_length(1.0, 1.0, 90) == pytest.approx(float(4 * mpmath.sqrt(2) * mpmath.ellipe(0.5)), abs=1e-4)


@pytest.mark.parametrize(
    ("angle", "acute", "obtuse"), [(60, 1.7320508, 0.5773503), (45, 2.4142136, 0.4142136), (30, 3.7320508, 0.2679492)]
)
def test_equal_cylinders_meet_in_two_plane_mitres(angle, acute, obtuse):
    # Slopes cot(a/2) and tan(a/2): the height at clock 0 and 180 of radius 1.
    assert heights(1.0, 1.0, angle, [0, 180]) == pytest.approx([acute, obtuse], abs=1e-7)
    t = np.radians(np.arange(-90, 91))
    expected = np.cos(t) / np.tan(np.radians(angle) / 2)
    assert START - crossing(1.0, angle).height(t, 1.0) == pytest.approx(expected, abs=1e-7)


def test_at_the_tangent_limit_the_outermost_generator_lies_level_with_the_axis():
    assert heights(30.15, 17.54, 90, [90], 12.61) == pytest.approx([0.0], abs=1e-4)


def test_past_the_tangent_the_generator_misses():
    assert np.isnan(heights(30.15, 17.54, 90, [90], 12.7)).all()
