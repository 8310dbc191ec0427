"""Holes and ends that the kernel finds hard: near a bend's far wall, steep across a bend's own wall, beside the bore.

`body` holds each that has a closed form against its volume, and `checked` to one sound solid.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope
from rootgap.solids.bodies import volume
from rootgap.solids.whole import parts

Load = Callable[[str], rootgap.Manifold]

TEXT = """
name = "close"
units = "mm"
[stock.log]
pipe = {{ od = {od}, wall = 3.0 }}
material = "304L"
[stock.branch]
pipe = {{ od = {branch}, wall = 2.5 }}
material = "304L"
[run.log]
stock = "log"
start = {start}
pieces = [{pieces}]
[run.b]
stock = "branch"
start = {begins}
pieces = [{own}]
end = {{ cope = "log", set = "{set_}", prep = "{prep}" }}
"""


CASES = {
    # A branch 0.8 as wide as the bend that it lands on, from the inside: a straight tool leaves some wall standing.
    "wide": {
        "od": 60.3,
        "branch": 48.3,
        "start": "{ at = [-150, 0, 0], along = [1, 0, 0] }",
        "pieces": "{ straight = 150 }, { bend = 95, angle = 90, clock = 0 }, { straight = 150 }",
        "begins": "{ at = [295.0673, 23.5747, -69.9335], along = [-0.928708, 0.215299, 0.301906] }",
        "own": '{ straight = "fill" }',
        "set_": "on",
        "prep": "square",
    },
    # A bend that goes into a log, bevelled: its end face goes 7 mm along it within a wall of 2.5 mm.
    "steep": {
        "od": 73.0,
        "branch": 33.4,
        "start": "{ at = [287.064, 458.563, 61.039], along = [-0.35449, -0.925022, -0.136643] }",
        "pieces": "{ straight = 900 }",
        "begins": "{ at = [0, 0, 0], along = [1, 0, 0], ref = [0, 1, 0] }",
        "own": "{ straight = 60 }, { bend = 76.2, angle = 97.52, clock = 0 }",
        "set_": "in",
        "prep": "bevel",
    },
}


@pytest.mark.parametrize("words", CASES.values(), ids=CASES)
def test_volumes_are_those_of_the_closed_forms(words: dict[str, object], loaded: Load):
    made = loaded(TEXT.format(**words))
    (cope,) = (joint for joint in made.joints if isinstance(joint, Cope))
    bodies = {part.name: part.body for part in parts(made.layout, made.joints)}
    whole = next(piece for piece in made.layout.pieces() if piece.id == cope.target.piece)
    taken = whole.volume - volume(bodies[cope.target.piece])
    assert taken == pytest.approx(cope.hole_volume, rel=1e-3)
    assert volume(bodies[cope.branch.piece]) == pytest.approx(cope.branch_volume, rel=3e-4)


BESIDE = {
    # A bend as wide as the log that it ends on: its hole is wider than the bore.
    "equal": {
        "od": 48.3,
        "branch": 48.3,
        "start": "{ at = [192.349, 473.533, 111.455], along = [-0.144745, -0.957187, -0.250685] }",
        "pieces": "{ straight = 900 }",
        "begins": "{ at = [0, 0, 0], along = [1, 0, 0], ref = [0, 1, 0] }",
        "own": "{ straight = 60 }, { bend = 76.2, angle = 107.79, clock = 0 }",
        "set_": "on",
        "prep": "square",
    },
    # A branch 6 mm off the middle of a bend.
    "offset": {
        "od": 60.3,
        "branch": 48.3,
        "start": "{ at = [-150, 0, 0], along = [1, 0, 0] }",
        "pieces": "{ straight = 150 }, { bend = 114, angle = 90, clock = 0 }, { straight = 150 }",
        "begins": "{ at = [52.9031, 219.433, -14.7962], along = [-0.142411, -0.985325, 0.094093] }",
        "own": '{ straight = "fill" }',
        "set_": "on",
        "prep": "square",
    },
}


@pytest.mark.parametrize("words", BESIDE.values(), ids=BESIDE)
def test_a_hole_beside_the_bore_leaves_the_far_wall_whole(words: dict[str, object], loaded: Load):
    made = loaded(TEXT.format(**words))
    (cope,) = (joint for joint in made.joints if isinstance(joint, Cope))
    assert not cope.opens_wholly
    (target,) = (part.body for part in parts(made.layout, made.joints) if part.name == cope.target.piece)
    # A thin strip of the far wall, half way through it, where the branch points at it.
    tube, middle = cope.target, 0.5 * (cope.target.r_in + cope.target.r_out)
    theta = cope.middle_clock + np.pi + np.radians(np.linspace(-60.0, 60.0, 25))
    station = np.full(theta.shape, cope.station)
    points = tube.wall.points(theta, np.full(theta.shape, middle), station)
    assert all(target.isInside(tuple(point)) for point in points)
