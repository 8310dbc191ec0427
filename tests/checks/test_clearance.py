"""Least distances from pieces to keep-outs, held against the kernel's own."""

from __future__ import annotations

from dataclasses import replace

import cadquery as cq
import numpy as np
import pytest

from rootgap.checks.clearance import clearances
from rootgap.geometry.distance import Ball, Block, Rod
from rootgap.geometry.frames import vector
from rootgap.layout import Keepout
from rootgap.solids.whole import parts


@pytest.fixture(scope="module")
def bodies(manifold) -> dict[str, cq.Solid]:
    return {part.name: part.body for part in parts(manifold.layout, manifold.joints)}


def rod(start, end, radius) -> tuple[Rod, cq.Solid]:
    along = np.subtract(end, start)
    solid = cq.Solid.makeCylinder(radius, float(np.linalg.norm(along)), cq.Vector(*start), cq.Vector(*along))
    return Rod(vector(start), vector(end), radius), solid


def ball(center, radius) -> tuple[Ball, cq.Solid]:
    return Ball(vector(center), radius), cq.Solid.makeSphere(radius, cq.Vector(*center), angleDegrees1=-90)


def block(center, size) -> tuple[Block, cq.Solid]:
    corner = cq.Vector(*np.subtract(center, np.divide(size, 2)))
    return Block.upright(center, size), cq.Solid.makeBox(*size, pnt=corner)


def cases():
    rng = np.random.default_rng(7)
    middle = np.array([160.0, 60.0, 90.0])
    for _ in range(4):
        away = rng.normal(size=3)
        away /= np.linalg.norm(away)
        place = middle + away * (250, 200, 200)
        yield rod(place, place + rng.normal(size=3) * 60, rng.uniform(10, 60))
        yield ball(place, rng.uniform(10, 60))
        yield block(place, rng.uniform(20, 120, size=3))


@pytest.mark.parametrize(("body", "solid"), cases())
def test_the_nearest_piece_and_its_distance_are_the_kernels(manifold, bodies, body, solid):
    layout = replace(manifold.layout, keepouts={"thing": Keepout(body, 10.0)})
    (finding,) = clearances(layout, manifold.joints)
    kernel = {name: solid.distance(part) for name, part in bodies.items()}
    nearest = min(kernel.values())
    assert finding.value == pytest.approx(nearest, abs=0.05) or (nearest == 0 and finding.value <= 0)
    if finding.value > 0:
        assert kernel[finding.subject.split()[-1]] == pytest.approx(min(kernel.values()), abs=0.1)
    assert finding.verdict == ("pass" if finding.value >= 10.0 else "fail")
