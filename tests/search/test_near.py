"""Distances of many layouts at a time, held against the exact ones of one layout."""

from __future__ import annotations

import numpy as np
import pytest

from rootgap.checks.gap import covered, gap
from rootgap.geometry.distance import Ball, Block, Rod, Shifted, Shrunk
from rootgap.geometry.frames import vector
from rootgap.layout import Elbow, Straight
from rootgap.search.near import CLOSE, Near

RNG = np.random.default_rng(11)


def bodies():
    middle = np.array([160.0, 60.0, 90.0])
    for _ in range(8):
        away = RNG.normal(size=3)
        place = middle + away / np.linalg.norm(away) * (260, 210, 210)
        yield Rod(vector(place), vector(place + RNG.normal(size=3) * 60), float(RNG.uniform(10, 60)))
        yield Ball(vector(place), float(RNG.uniform(10, 60)))
        yield Block.upright(place, RNG.uniform(20, 120, size=3))


@pytest.mark.parametrize("body", bodies())
def test_each_piece_is_as_near_as_its_skin(manifold, body):
    """A pipe's flat ends too, which nothing continues here."""
    pieces = list(manifold.layout.pieces())
    found = Near().stacked([[piece] for piece in pieces]).distances([body])[:, 0]
    for piece, near in zip(pieces, found, strict=True):
        exact = gap(covered(piece, {}), body)
        # A pipe's is held from below; of anything else it is the nearest place that was found.
        off = 0.05 if isinstance(piece, Straight | Elbow) else 0.5
        assert exact - CLOSE - off <= near <= exact + off, piece.id


@pytest.mark.parametrize("body", bodies())
def test_a_whole_layout_is_as_near_as_its_nearest_skin(manifold, body):
    pieces = list(manifold.layout.pieces())
    exact = min(gap(covered(piece, {}), body) for piece in pieces)
    near = Near().stacked([pieces]).distances([body])[0, 0]
    assert near == pytest.approx(exact, abs=0.1)


def test_hulls_are_as_near_as_their_skins(manifold):
    from rootgap.checks.gap import cover_of

    (envelope,) = manifold.layout.envelopes
    for body in bodies():
        found = Near().stacked([[hull] for hull in envelope.hulls]).distances([body])[:, 0]
        for hull, near in zip(envelope.hulls, found, strict=True):
            exact = gap(cover_of(hull.skin), body)
            assert near == pytest.approx(exact, abs=0.1), hull.id


def test_many_groups_are_judged_as_each_alone(manifold):
    pieces = list(manifold.layout.pieces())
    groups = [pieces[:4], pieces[4:9], pieces[9:]]
    some = list(bodies())[:5]
    together = Near().stacked(groups).distances(some)
    alone = np.vstack([Near().stacked([group]).distances(some) for group in groups])
    assert together == pytest.approx(alone, abs=1e-9)


def test_a_shifted_body_is_the_body_elsewhere():
    points = RNG.normal(size=(50, 3)) * 100
    block, by = Block.upright((1, 2, 3), (10, 20, 30)), np.array([5.0, -7.0, 2.0])
    assert Shifted(block, by).distance(points) == pytest.approx(
        Block.upright((6, -5, 5), (10, 20, 30)).distance(points)
    )


def test_what_grows_sees_a_body_nearer_by_its_growth():
    """A ball of 40 that grows by 1 % about the origin, 300 mm out, beside a block."""
    block, about, share = Block.upright((420, 0, 0), (40, 40, 40)), np.zeros(3), 0.01
    centre = np.array([[300.0, 0.0, 0.0]])
    hot = (1 + share) * (Shrunk(block, about, share).distance(centre)[0] - 40.0)
    assert hot == pytest.approx(400.0 - 1.01 * 300.0 - 1.01 * 40.0)
