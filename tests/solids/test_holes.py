"""Holes in straight and bent pipes by straight and bent branches, built face by face from splines, against what the
generators of each cut out of the wall (`Cope.hole_volume`, by Gauss quadrature; the volume is the kernel's)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Bending, Tube
from rootgap.joints import Cope
from rootgap.solids import bodies
from rootgap.solids.boundary import has_room
from rootgap.solids.holes import Hole, pierced

LOG = Tube("log", "log-a", Frame.looking((0, 0, 0), (1, 0, 0)), 36.5, 33.5, 150.0)
BEND = Tube("log", "log-a", Frame.looking((0, 0, 0), (1, 0, 0)), 36.5, 33.5, 180.0, Bending(114.0, 40.0))


def straight(target: Tube, station: float, clock: float, *, offset: float = 5.0, lean: float = 20.0) -> Tube:
    """A straight branch that comes to `target` at a station, mm, and a clock, degrees; lean from square, degrees."""
    at, tip = target.at(station), np.radians(lean)
    outward = at.radial(np.radians(clock))
    ahead = -np.cos(tip) * outward + np.sin(tip) * at.axis
    begins = at.origin + offset * np.cross(at.axis, outward) - 150.0 * ahead
    return Tube("b", "b-a", Frame.looking(begins, ahead), 21.1, 18.5, 150.0)


def bent(target: Tube, station: float, clock: float) -> Tube:
    """A bent branch that ends where a straight one would."""
    end, turn = straight(target, station, clock).at(160.0), 70.0
    back = Frame(end.origin, -end.axis, end.ref).bent(95.0, turn, 70.0)
    # Gone along the other way clocks run the other way round.
    frame = Frame(back.origin, -back.axis, back.ref)
    return Tube("b", "b-a", frame, 21.1, 18.5, 95.0 * float(np.radians(turn)), Bending(95.0, -70.0))


@pytest.mark.parametrize("clock", [0.0, 30.0, 160.0, 220.0, 340.0])
@pytest.mark.parametrize("target", [LOG, BEND], ids=["log", "bend"])
@pytest.mark.parametrize("kind", [straight, bent])
def test_takes_what_its_generators_cut_out(
    target: Tube, kind: Callable[[Tube, float, float], Tube], clock: float
) -> None:
    cope = Cope("c", kind(target, 90.0, clock), target, "on", "square", 0.0)
    hole = Hole(cope.branch.wall, cope.hole_radius, cope.meeting)
    made = pierced(target.wall, (target.r_in, target.r_out), hole)
    assert made
    assert has_room(None, None, target.length, [made])
    whole, body = (
        bodies.cut_pipe(target.wall, None, None, target.length, target.r_out, target.r_in, holes)
        for holes in ((), (made,))
    )
    assert bodies.is_sound(body)
    assert bodies.volume(whole) - bodies.volume(body) == pytest.approx(cope.hole_volume, rel=1e-7)
