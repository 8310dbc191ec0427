"""Pieces that do not join: how near they come to each other, held against the kernel's own distances."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.checks.apart import NEAR, kept_apart, neighbours
from rootgap.checks.gap import covered, gap
from rootgap.checks.overlap import overlaps
from rootgap.geometry.distance import Ball
from rootgap.geometry.frames import vector
from rootgap.joints import cut_ends
from rootgap.manifold import Manifold
from rootgap.solids.whole import body

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", ["sand-rail-four", "jet-boat-v6", "kart-four-collector"])
def test_the_distances_are_the_kernels_and_so_are_the_two_places(name: str) -> None:
    found = rootgap.load(ROOT / "assemblies" / f"{name}.toml")
    pieces, cuts = {piece.id: piece for piece in found.layout.pieces()}, cut_ends(found.joints)
    rows = found.neighbours()
    assert rows
    for row in rows[:3]:
        one, other = (body(pieces[mark], found.joints) for mark in (row.one, row.other))
        assert row.distance == pytest.approx(one.distance(other), abs=0.05)
        assert np.linalg.norm(row.ends[1] - row.ends[0]) == pytest.approx(row.distance, abs=0.05)
        for mark, place in zip((row.one, row.other), row.ends, strict=True):
            assert abs(gap(covered(pieces[mark], cuts), Ball(vector(place), 1e-3))) < 0.05


def test_the_least_is_told_and_no_limit_in_its_stead(manifold: Manifold) -> None:
    (finding,) = kept_apart(manifold.layout, manifold.joints)
    assert finding.value == neighbours(manifold.layout, manifold.joints)[0].distance
    assert finding.limit < finding.value < NEAR


def test_two_plates_that_meet_are_told(manifold: Manifold) -> None:
    """The turbine's flange, left where it is, and another one 3 mm off its face, and then in it."""
    plate = manifold.layout.plates["turbine"]
    for off, verdict in ((3.0, "pass"), (-4.0, "fail")):
        start = plate.end.advanced(off)
        other = replace(plate, id="flange.other", start=start)
        layout = replace(manifold.layout, plates={**manifold.layout.plates, "other": other})
        assert "flange.other" in {piece.id for piece in layout.pieces()}
        (found,) = overlaps(layout, manifold.joints)
        assert found.verdict == verdict
        least = neighbours(layout, manifold.joints)[0]
        assert (least.one, least.other, least.verdict) == (
            "flange.other",
            "flange.turbine",
            "fail" if off < 0.0 else "warn",
        )
        assert least.distance == pytest.approx(off, abs=0.02)
