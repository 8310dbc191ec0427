"""A spike of sheet on a collector's crotch: its body, its pattern, its rows, and that it shares no metal."""

from __future__ import annotations

import csv
import itertools
import json
from pathlib import Path

import ezdxf
import pytest

import rootgap
from rootgap.joints.merge import SpikeWeld
from rootgap.layout import Spike
from rootgap.solids.bodies import common_volume, is_sound, volume
from rootgap.solids.whole import parts

FILE = Path(__file__).parent / "spike.toml"


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


@pytest.fixture(scope="module")
def folder(manifold: rootgap.Manifold, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return manifold.build(tmp_path_factory.mktemp("spike")).folder


@pytest.fixture(scope="module")
def spike(manifold: rootgap.Manifold) -> Spike:
    (found,) = [piece for piece in manifold.layout.pieces() if isinstance(piece, Spike)]
    return found


def test_it_touches_its_legs_and_shares_no_metal(manifold, spike):
    bodies = {part.name: part.body for part in parts(manifold.layout, manifold.joints)}
    body = bodies[spike.id]
    assert is_sound(body)
    assert volume(body) == pytest.approx(spike.volume, rel=1e-5)
    (weld,) = [joint for joint in manifold.joints if isinstance(joint, SpikeWeld)]
    assert weld.legs == ("a-d", "b-d", "c-d", "d-d")
    for leg in weld.legs:
        assert common_volume(body, bodies[leg]) < 0.01
        assert body.distance(bodies[leg]) < 0.001
    for one, other in itertools.combinations(weld.legs, 2):
        assert common_volume(bodies[one], bodies[other]) < 0.01
    assert {finding.verdict for finding in manifold.checks()} == {"pass"}


def test_its_rims_are_as_long_as_the_kernels(manifold, spike):
    body = next(part.body for part in parts(manifold.layout, manifold.joints) if part.name == spike.id)
    rims = [edge.Length() for edge in body.Edges() if edge.geomType() == "BSPLINE" and edge.Length() > 3.0]
    # Four inside, and four as long outside; a rim's short edges run through the sheet.
    assert len(rims) == 8
    assert sum(rims) == pytest.approx(2.0 * spike.made.rim_length, rel=1e-5)


def test_its_files(folder, spike):
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    (piece,) = [each for each in manifest["pieces"] if each["kind"] == "spike"]
    assert piece["facets"] == 4
    assert piece["fold"] == pytest.approx(spike.made.fold)
    (weld,) = [each for each in manifest["joints"] if each["kind"] == "spike weld"]
    assert weld["weld_length"] == pytest.approx(spike.made.rim_length)
    listed = {entry["path"]: entry["kind"] for entry in manifest["files"]}
    assert listed["flat/spike.four.dxf"] == "spike"
    assert {"solids/spike.four.step", "solids/spike.four.stl"} <= listed.keys()
    rows = csv.DictReader((folder / "cutlist.csv").read_text(encoding="utf-8").splitlines())
    (row,) = [each for each in rows if each["mark"] == "spike.four"]
    assert (row["stock"], row["template"]) == ("sheet 2 mm", "flat/spike.four.dxf")
    assert float(row["mass_kg"]) == pytest.approx(spike.volume * spike.metal.density * 1e-9, abs=6e-4)


def test_its_pattern_read_back(manifold, folder, spike):
    drawing = ezdxf.readfile(folder / "flat" / "spike.four.dxf").modelspace()
    (cut,) = drawing.query('LWPOLYLINE[layer=="cut.outer"]')
    assert cut.closed
    vertices = [(x, y) for x, y, *_ in cut.get_points("xyseb")]
    reach = sorted((x * x + y * y) ** 0.5 for x, y in vertices)
    assert reach[0] == pytest.approx(0.0, abs=1e-9), "the tip"
    assert reach[1] == pytest.approx(spike.made.fold_length, abs=1e-6), "the feet are nearest to it"
    folds = [item for item in drawing if item.dxf.layer == "mark"]
    assert len(folds) == 3
    ends = sorted(item.get_points("xy")[-1] for item in folds)
    assert [x for x, _ in ends] == pytest.approx([-ends[2][0], 0.0, ends[2][0]], abs=1e-6), "evenly about the middle"
    (pattern,) = [pattern for pattern in manifold.patterns if pattern.name == spike.id]
    words = [label.text for label in pattern.labels]
    assert words == [spike.id, "fold 88.3"], "all three folds are alike"
    assert drawing.query('*[layer=="etch"]'), "its words are scribed"
    assert not [item for item in drawing.query("TEXT") if item.dxf.text.startswith("fold")]
