"""Two bends and a straight between two poses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.layout.closing import closing

PART = st.floats(-1.0, 1.0)
WAY = st.tuples(PART, PART, PART).filter(lambda way: np.linalg.norm(way) > 0.1)


@given(st.tuples(PART, PART, PART), WAY, WAY, st.floats(20.0, 120.0), st.floats(20.0, 120.0))
def test_the_pieces_lead_from_one_pose_to_the_other(at, along, on, first, second):
    start, end = Frame.looking((0.0, 0.0, 0.0), along), Frame.looking(1000.0 * np.array(at), on)
    try:
        found = closing("a", start, end, (first, second))
    except GeometryError:
        # There is room where the poses are far apart and neither looks away from the other.
        near = np.linalg.norm(end.origin) < 8.0 * max(first, second)
        assert near or min(start.axis @ end.origin, end.axis @ end.origin) < 0.0
        return
    assert found.length >= 0.0
    there = start.bent(first, found.angles[0], found.clocks[0]).advanced(found.length)
    there = there.bent(second, found.angles[1], found.clocks[1])
    assert there.origin == pytest.approx(end.origin, abs=1e-6)
    assert there.axis == pytest.approx(end.axis, abs=1e-8)


@given(st.floats(5.0, 60.0), st.floats(30.0, 90.0), st.floats(20.0, 300.0), st.floats(0.0, 360.0))
def test_a_parallel_offset_is_the_closed_form_of_the_rolling_offset(angle, radius, middle, clock):
    """Equal bends: offset = 2 R (1 - cos a) + L sin a, advance = 2 R sin a + L cos a (plane geometry)."""
    turn = np.radians(angle)
    offset = 2.0 * radius * (1.0 - np.cos(turn)) + middle * np.sin(turn)
    advance = 2.0 * radius * np.sin(turn) + middle * np.cos(turn)
    start = Frame.looking((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    end = Frame.looking(offset * start.radial(np.radians(clock)) + (0.0, 0.0, advance), start.axis)
    found = closing("a", start, end, (radius, radius))
    assume(found.angles[0] < 90.0)
    assert found.angles == pytest.approx((angle, angle), abs=1e-6)
    assert found.length == pytest.approx(middle, abs=1e-6)


def test_no_room_is_refused_with_the_distance():
    start, end = Frame.looking((0, 0, 0), (0, 0, 1)), Frame.looking((36, 0, 48), (1, 0, 0.2))
    with pytest.raises(GeometryError, match="60 mm apart"):
        closing("a", start, end, (50.0, 50.0))
