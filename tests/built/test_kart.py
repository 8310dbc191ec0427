"""The demo with a collector: all of it closes, nothing shares metal, the gas never meets a sudden change."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.joints import Cope, Merge, Mitre
from rootgap.layout import Cone, LobedCone, Port, Straight, Transition

FILE = Path(__file__).parent.parent.parent / "assemblies" / "kart-four-collector.toml"


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


def test_every_check_passes(manifold):
    assert {finding.verdict for finding in manifold.checks()} == {"pass"}


def test_what_is_welded_touches(manifold, bodies):
    for joint in manifold.joints:
        if isinstance(joint, Merge):
            pairs = [tuple(itertools.islice(joint.joined, k, k + 2)) for k in range(joint.count - 1)]
        else:
            pairs = [joint.joined[-2:]]
        for one, other in pairs:
            assert bodies[one].distance(bodies[other]) < 0.01, joint.id


def test_every_part_that_is_cut_has_its_pattern(manifold):
    names = {pattern.name for pattern in manifold.patterns}
    for piece in manifold.layout.pieces():
        if isinstance(piece, Cone | LobedCone | Transition):
            assert f"{piece.id}.development" in names
        if isinstance(piece, Straight) and piece.formed:
            assert f"{piece.id}.former" in names
    for joint in manifold.joints:
        if isinstance(joint, Cope | Mitre | Merge):
            assert {f"{cut.piece}.wrap" for cut in joint.cuts} <= names
    assert {"flange.head", "flange.outlet"} <= names


def test_the_gas_bore_is_continuous_in_area(manifold):
    """Port to pipe, pipe to pipe, collector to cone, cone to pipe: never more than 0.01 % from one to the next."""
    (merge,) = [joint for joint in manifold.joints if isinstance(joint, Merge)]
    for run in manifold.layout.runs.values():
        if isinstance(run.begins, Port):
            port = manifold.layout.plates[run.begins.flange].part.port[run.begins.number - 1]
            area = port.opening.opening().area
        else:
            area = merge.opening_area(merge.outlet, merge.r_in)
        for piece in run.pieces:
            if isinstance(piece, Cone | LobedCone | Transition):
                start = piece.areas[0]
            elif isinstance(piece, Straight) and piece.formed:
                start = piece.formed.area
            else:
                start = np.pi * piece.stock.r_in**2
            assert start == pytest.approx(area, rel=1e-4), piece.id
            area = np.pi * piece.leaves.r_in**2


def test_the_lengths_of_the_primaries_are_near_each_other(manifold):
    lengths = [run.length for run in manifold.layout.runs.values() if run.merge]
    assert max(lengths) / min(lengths) < 1.07
