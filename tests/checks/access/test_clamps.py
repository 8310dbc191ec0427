"""The screws of clamps: at the clock where a wall leaves them room, and nowhere in a box."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.checks.access.clamps import AHEAD, NECK, OFF, SLID, Band, bands, clamp_access, clamp_findings
from rootgap.checks.access.obstacles import Obstacle, Space
from rootgap.checks.access.told import clamp_rows
from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Frame, vector
from rootgap.layout import Clamped, Layout, Ring
from rootgap.manifold import Manifold

BAND = Band("case", Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0)), 40.0, 20.0, 10.0, 5.2)


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("clock", [0.0, 75.0, 200.0])
def test_a_screw_lies_along_its_band(clock: float, way: float) -> None:
    frame = BAND.screw(clock, way).frame
    assert abs(np.hypot(*frame.origin[:2]) - np.hypot(40.0 + OFF, AHEAD)) < 1e-9
    assert abs(frame.axis @ BAND.frame.axis) < 1e-9
    # Nearest to the pipe's axis where it stands at its clock.
    foot = frame.origin - AHEAD * frame.axis
    assert np.allclose(foot, (40.0 + OFF) * BAND.frame.radial(np.radians([clock]))[0])


@pytest.fixture(scope="module")
def case(demo: Path) -> Layout:
    """One clamp alone, round an upright pipe."""
    layout = rootgap.load(demo).layout
    mouth = Frame.looking((0, 0, SLID), (0, 0, 1), (1, 0, 0))
    envelope = replace(layout.envelopes[0], clamped=(Clamped("case", "pipe", mouth, 40.0 - NECK),))
    return replace(layout, plates={}, runs={}, envelopes=(envelope,))


def test_in_the_open_the_first_clock_will_do(case: Layout) -> None:
    (found,) = clamp_access(case, (), Space(()))
    assert (found.clock, found.verdict, found.best.tool) == (0.0, "pass", "socket")
    assert clamp_rows((found,))[1][:3] == ("case", "pass", "socket")


def test_beside_a_wall_it_stands_on_the_other_side(case: Layout) -> None:
    """A wall 10 off the band at clock 0: there neither the screw nor a ratchet on it has room."""
    wall = Obstacle("keepout.wall", HalfSpace(vector((50, 0, 0)), vector((-1, 0, 0))))
    (found,) = clamp_access(case, (), Space((wall,)))
    assert found.verdict == "pass"
    assert found.nut.frame.origin[0] < 40.0
    assert found.clock > 0.0


def test_in_a_box_none_of_its_clocks_will_do(case: Layout) -> None:
    """A square shaft 12 off the band all round, without an end."""
    walls = [
        Obstacle(f"keepout.{number}", HalfSpace(vector((-52 * x, -52 * y, 0)), vector((x, y, 0))))
        for number, (x, y) in enumerate([(1, 0), (-1, 0), (0, 1), (0, -1)])
    ]
    (found,) = clamp_access(case, (), Space(tuple(walls)))
    (finding,) = clamp_findings((found,))
    assert (finding.verdict, "at any clock" in finding.advice, "keepout." in finding.advice) == ("fail", True, True)


def test_a_v_bands_clamp_and_each_of_a_turbos_has_a_row(manifold: Manifold) -> None:
    """The demo's filter and the pipe before it, off the mouth by half a neck; a V-band's at its faces."""
    found = {each.id: each for each in bands(manifold.layout, manifold.joints)}
    assert list(found) == ["turbo.main-filter", "turbo.main-air"]
    hulls = {hull.id: hull for hull in manifold.layout.envelopes[0].hulls}
    for name, band in found.items():
        assert abs(float(np.linalg.norm(band.frame.origin - hulls[name].body.start)) - SLID) < 1e-9
    clamped = rootgap.load(Path(__file__).parents[2] / "built" / "clamps.toml")
    first, *_ = bands(clamped.layout, clamped.joints)
    rings = [piece for piece in clamped.layout.members.values() if isinstance(piece, Ring)]
    assert np.allclose(first.frame.origin, rings[0].end.origin)
