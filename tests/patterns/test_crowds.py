"""Templates of branches that crowd each other: their holes are one where they run together, and their marks stand on
what is cut."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Polygon, box, union_all
from shapely.ops import polygonize

import rootgap
from rootgap.joints import Cope
from rootgap.patterns.holes import holes_wrap
from rootgap.patterns.pattern import Label, Pattern
from rootgap.patterns.wrap import PAPER, SIGN, Unrolled, unrolled

FILE = """
name = "crowd"
units = "mm"
[stock.primary]
pipe = "1-1/4 sch 40"
material = "A53 B"
[stock.small]
pipe = "1 sch 40"
material = "A53 B"
[stock.log]
pipe = "2-1/2 sch 40"
material = "A53 B"
[run.log]
stock = "log"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 420 }]
ends = ["cap", "cap"]
[run.one]
stock = "primary"
start = { at = [248, 4, 150], along = [0.3, 0, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log", order = 1, prep = "square" }
[run.two]
stock = "primary"
start = { at = [332, 4, 150], along = [-0.3, 0, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log", order = 1, prep = "square" }
[run.first]
stock = "primary"
start = { at = [100, 20, 140], along = [0, -0.1, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log", order = 1, prep = "square" }
[run.next]
stock = "small"
start = { at = [60, -40, 150], along = [0.18, 0.3, -1] }
pieces = [{ straight = "fill" }]
end = { cope = "log", order = 3, prep = "square" }
"""


@pytest.fixture(scope="module")
def manifold(tmp_path_factory: pytest.TempPathFactory) -> rootgap.Manifold:
    file = tmp_path_factory.mktemp("crowd") / "crowd.toml"
    file.write_text(FILE, encoding="utf-8")
    return rootgap.load(file)


@pytest.fixture(scope="module")
def copes(manifold: rootgap.Manifold) -> dict[str, Cope]:
    return {joint.branch.run: joint for joint in manifold.joints if isinstance(joint, Cope)}


@pytest.fixture(scope="module")
def holes(manifold: rootgap.Manifold, copes: dict[str, Cope]) -> Pattern:
    return holes_wrap(manifold.layout.members["log-a"], tuple(copes.values()))


def cut(pattern: Pattern | Unrolled, layer: str) -> list[np.ndarray]:
    """The lines on a layer, (n, 2) each, mm."""
    return [np.array(each.shape.vertices)[:, :2] for each in pattern.drawn if each.layer == layer]


def test_two_holes_that_share_a_plane_are_cut_as_one(
    manifold: rootgap.Manifold, copes: dict[str, Cope], holes: Pattern
) -> None:
    """What the two lines go round is the union of the two whole holes, by a library of regions."""
    arcs = [line for name in ("one", "two") for line in cut(holes, f"cut.{name}")]
    assert len(arcs) == 2
    (one,) = polygonize(union_all([LineString(np.round(arc, 4)) for arc in arcs]))
    half = 0.5 * (manifold.layout.members["log-a"].stock.od + PAPER)
    turn = 2.0 * np.pi * np.arange(2880) / 2880
    whole = [Polygon(copes[name].hole(turn) * (half, 1.0)) for name in ("one", "two")]
    assert one.area == pytest.approx(union_all(whole).area, rel=3e-4)
    assert one.area < 0.95 * sum(each.area for each in whole), "they do overlap"
    # End to end the two arcs leave no gap that a table would stop at.
    ends = [sorted(map(tuple, arc[[0, -1]])) for arc in arcs]
    assert np.array(ends[0]) == pytest.approx(np.array(ends[1]), abs=1e-3)


def test_a_hole_has_the_marks_that_lie_on_it(holes: Pattern) -> None:
    words = {label.text for label in holes.labels}
    # Clock 90 of one and 270 of two look at each other, past the plane between them.
    assert {"oneA", "oneC", "oneD", "twoA", "twoB", "twoC"} <= words
    assert not words & {"oneB", "twoD"}
    assert {f"first{letter}" for letter in "ABCD"} <= words
    assert not {f"next{letter}" for letter in "ABCD"} <= words


def test_no_mark_of_a_wrap_runs_through_its_cut(manifold: rootgap.Manifold, copes: dict[str, Cope]) -> None:
    flat = unrolled(copes["next"], "end", "next", manifold.layout.members["next-a"].stock, PAPER)
    (line,) = cut(flat, "cut")
    for label in flat.labels:
        assert not outline(label).intersects(LineString(line)), label.text


def outline(label: Label) -> Polygon:
    """What a level label covers."""
    wide = SIGN * label.height * len(label.text)
    left = label.at[0] - {"left": 0.0, "middle": 0.5, "right": 1.0}[label.anchor] * wide
    return box(left, label.at[1], left + wide, label.at[1] + label.height)
