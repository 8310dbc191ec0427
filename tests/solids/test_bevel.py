"""Bodies of bevelled ends against the volumes of their closed forms, and against the target itself."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.geometry.distance import HalfSpace
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.geometry.wall import StraightWall
from rootgap.joints import Cope
from rootgap.joints.bevel import Bevel
from rootgap.joints.planes import PlaneCut
from rootgap.layout import Elbow, Straight
from rootgap.solids.bodies import common_volume, cut_pipe, is_sound, straight, volume
from rootgap.solids.plane_cut import cut_straight
from rootgap.solids.whole import body, end_face

CURVED = Path(__file__).parent.parent / "built" / "curved.toml"


@pytest.mark.parametrize("bevel", [Bevel(1.6, 45.0), Bevel(0.0, 60.0), Bevel(1.0, 37.5)])
@pytest.mark.parametrize(("lean", "offset", "log_out"), [(90.0, 0.0, 36.5), (60.0, 4.0, 36.5), (45.0, 0.0, 24.15)])
def test_copes(bevel: Bevel, lean: float, offset: float, log_out: float) -> None:
    angle = np.radians(lean)
    axis = np.array([-np.cos(angle), 0.0, -np.sin(angle)])
    frame = Frame.looking(-200.0 * axis + (0.0, offset, 0.0), axis, (1, 0, 0))
    branch = Tube("branch", "branch-a", frame, 24.15, 20.47, 200.0)
    log = Tube("log", "log-a", Frame.looking((-150.0, 0, 0), (1, 0, 0)), log_out, log_out - 3.68, 300.0)
    cope = Cope("x", branch, log, "on", "bevel", 0.5, bevel=bevel)
    made = cut_pipe(StraightWall(frame), None, end_face(cope, StraightWall(frame)), 200.0, 24.15, 20.47)
    assert is_sound(made)
    assert volume(made) == pytest.approx(cope.branch_volume, rel=1e-5)
    assert common_volume(made, straight(log.frame, 300.0, log.r_out, log.r_in)) < 0.05
    assert sum(face.geomType() == "CYLINDER" for face in made.Faces()) == 4


@pytest.mark.parametrize("lean", [0.0, 22.5, 45.0])
@pytest.mark.parametrize("land", [0.0, 1.6])
def test_mitres(lean: float, land: float) -> None:
    frame = Frame.looking((3.0, -2.0, 8.0), (0.2, 1.0, -0.4))
    normal = np.sin(np.radians(lean)) * frame.radial(0.7) - np.cos(np.radians(lean)) * frame.axis
    tube = Tube("pipe", "pipe-a", frame, 30.15, 26.24, 120.0)
    cut = PlaneCut("cut", tube, (HalfSpace(frame.advanced(120.0).origin, normal),), "bevel", Bevel(land, 75.0))
    made = cut_straight(cut)
    assert volume(made) == pytest.approx(cut.branch_volume, rel=1e-6)


def test_elbows_and_branches_on_them(pytestconfig: pytest.Config) -> None:
    """Traced ends: a straight branch on a bend, and a bend as a branch; one of each, all of them with --sweep."""
    manifold = rootgap.load(CURVED)
    pieces = {piece.id: piece for piece in manifold.layout.pieces()}
    seen = set()
    for cope in manifold.joints:
        if not isinstance(cope, Cope) or (cope.set_, cope.prep) != ("on", "bevel") or cope.neighbours:
            continue
        piece = pieces[cope.branch.piece]
        if type(piece) in seen and not pytestconfig.getoption("--sweep"):
            continue
        wanted = replace(cope, bevel=Bevel(1.0, 40.0))
        made, plain = body(piece, [wanted]), body(piece, [cope])
        taken = cope.branch_volume - wanted.branch_volume
        assert volume(plain) - volume(made) == pytest.approx(taken, rel=0.03)
        seen.add(type(piece))
    assert seen == {Straight, Elbow}
