"""The crowded bay: as it is drawn first it fails on an alternator, a mount and its own air filter; what the search
finds clears them all, and the kernel's solids say so too."""

from __future__ import annotations

import shutil
from pathlib import Path

import cadquery as cq
import numpy as np
import pytest

import rootgap
from rootgap.geometry.distance import Block, Body, HalfSpace, Rod
from rootgap.search import Search
from rootgap.solids.bodies import is_sound
from rootgap.solids.whole import parts

ROOT = Path(__file__).parents[2]
FILE = "ice-racer-four.toml"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bay")
    for name in ("assemblies", "parts"):
        shutil.copytree(ROOT / name, folder / name)
    return folder / "assemblies"


@pytest.fixture(scope="module")
def first(shop: Path) -> rootgap.Manifold:
    return rootgap.load(shop / FILE)


@pytest.fixture(scope="module")
def result(first: rootgap.Manifold) -> Search:
    return first.search()


@pytest.fixture(scope="module")
def chosen(first: rootgap.Manifold, result: Search, shop: Path) -> rootgap.Manifold:
    return rootgap.load(first.changed(result, 1, shop / "chosen.toml"))


def solid(body: Body) -> cq.Shape:
    if isinstance(body, Rod):
        along = body.end - body.start
        return cq.Solid.makeCylinder(
            body.radius, float(np.linalg.norm(along)), cq.Vector(*body.start), cq.Vector(*along)
        )
    if isinstance(body, Block):
        corner = body.frame.origin - 0.5 * body.size @ np.array([body.frame.ref, body.frame.side, body.frame.axis])
        plane = cq.Plane(tuple(corner), xDir=tuple(body.frame.ref), normal=tuple(body.frame.axis))
        return cq.Workplane(plane).box(*body.size, centered=False).val()
    assert isinstance(body, HalfSpace)
    plane = cq.Plane(tuple(body.point), normal=tuple(-body.normal))
    return cq.Workplane(plane).rect(4000, 4000).extrude(500).val()


def test_as_drawn_first_three_things_are_in_the_way(first):
    failed = [finding for finding in first.checks() if finding.verdict == "fail"]
    told = " ".join(finding.subject for finding in failed)
    assert "keepout.alternator" in told
    assert "keepout.engine-mount to log-a" in told
    assert "turbo.main-filter to keepout.fan-shroud" in told


def test_the_search_finds_what_passes_every_check(result, chosen):
    assert result.tried == result.combinations
    assert result.found
    assert not [finding for finding in chosen.checks() if finding.verdict == "fail"]


def test_the_solids_clear_every_keepout(result, chosen, tmp_path):
    """Cold, by the kernel's own distances from solids that are built: the margin that was told is kept."""
    built = chosen.build(tmp_path)
    assert (built.folder / "solids" / "assembly.step").is_file()
    bodies = {part.name: part.body for part in parts(chosen.layout, chosen.joints)}
    assert all(is_sound(bodies[piece.id]) for piece in chosen.layout.pieces())
    for name, keepout in chosen.layout.keepouts.items():
        other = solid(keepout.body)
        least = min(other.distance(bodies[piece.id]) for piece in chosen.layout.pieces())
        assert least - keepout.clearance >= result.found[0].margin - 0.05, name


def test_the_air_filter_has_its_room(chosen):
    bodies = {part.name: part.body for part in parts(chosen.layout, chosen.joints)}
    (envelope,) = chosen.layout.envelopes
    for name, keepout in chosen.layout.keepouts.items():
        other = solid(keepout.body)
        for hull in envelope.hulls:
            body = bodies.get(hull.id)
            if body is not None:
                asked = keepout.clearance if hull.hot else envelope.cold
                assert other.distance(body) >= asked - 0.05, (name, hull.id)
    assert any(hull.id == "turbo.main-filter" for hull in envelope.hulls)
