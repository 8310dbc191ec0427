"""Loose lines made into loops: shuffled, turned round, doubled, with gaps."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rootgap.geometry.healing import Line, healed, middle, reversed_line
from rootgap.geometry.loops import anticlockwise
from rootgap.geometry.openings import Dee, Oval, RoundedRectangle, placed
from rootgap.geometry.paths import Path

LOOPS = [
    placed(RoundedRectangle(36, 30, 8).shape(), (0, 0)),
    placed(Dee(40, 36, 5).shape(), (90, 3), 20),
    placed(Oval(44, 30).shape(), (180, -4), 70),
]
LINES: list[Line] = [segment for loop in LOOPS if isinstance(loop, Path) for segment in loop.segments()]


@given(st.permutations(range(len(LINES))), st.integers(0, 2 ** len(LINES) - 1), st.floats(0, 0.04), st.integers(0, 9))
def test_shuffled_turned_and_shaken_lines_come_back(order: list[int], turned: int, shake: float, seed: int) -> None:
    noise = np.random.default_rng(seed).uniform(-1, 1, (len(LINES), 4)) * shake / np.sqrt(2)
    lines = []
    for k in order:
        start, end, bulge = LINES[k]
        line = (tuple(np.array(start) + noise[k, :2]), tuple(np.array(end) + noise[k, 2:]), bulge)
        lines.append(reversed_line(line) if turned >> k & 1 else line)
    found = healed(lines, 0.1)
    assert found.strays == ()
    areas = sorted(anticlockwise(loop).area for loop in found.loops)
    assert areas == pytest.approx(sorted(loop.area for loop in LOOPS), abs=8.0 * shake * 10 + 1e-6)
    assert max(found.gaps, default=0.0) <= 2.0 * shake + 1e-12


def test_doubles_points_and_strays_are_counted_and_left_out() -> None:
    more: list[Line] = [((5, 5), (5, 5), 0.0), ((18, 0), (30, 1), 0.0), ((30, 1), (33, 4), 0.3)]
    lines = [*LINES, LINES[0], reversed_line(LINES[3]), *more]
    found = healed(lines, 0.05)
    assert (len(found.loops), found.points, found.doubles) == (3, 1, 2)
    assert [len(chain) for chain in found.strays] == [2]
    assert found.openings == pytest.approx((np.hypot(15, 4),))


def test_a_gap_wider_than_the_tolerance_is_told_by_its_width() -> None:
    corners = [(0, 0), (10, 0), (10, 10), (0, 10)]
    square: list[Line] = [*((a, b, 0.0) for a, b in pairwise(corners)), ((0, 9.2), (0, 0), 0.0)]
    found = healed(square, 0.5)
    assert found.loops == ()
    assert found.openings == pytest.approx((0.8,))
    assert len(healed(square, 0.9).loops) == 1


def test_an_arc_that_all_but_closes_is_a_circle() -> None:
    """359 degrees of a circle of radius 20: its ends are 2 x 20 x sin(0.5 deg) = 0.349 mm apart."""
    t = np.radians(359.0)
    line: Line = ((20.0, 0.0), (20.0 * np.cos(t), 20.0 * np.sin(t)), float(np.tan(t / 4)))
    found = healed([line], 0.4)
    (loop,) = found.loops
    assert loop.area == pytest.approx(np.pi * 400)
    assert found.gaps == pytest.approx((0.349,), abs=1e-3)
    assert healed([line], 0.3).loops == ()


def test_the_middle_of_an_arc_lies_on_it() -> None:
    assert middle(((10.0, 0.0), (0.0, 10.0), float(np.tan(np.pi / 8)))) == pytest.approx((10 / np.sqrt(2),) * 2)
