"""Every demo, built whole: sound bodies, no shared metal, closed roots, gas that gets where it must, a file for
every part."""

from __future__ import annotations

import csv
import itertools
import json
from pathlib import Path

import cadquery as cq
import ezdxf
import numpy as np
import pytest
from ezdxf.path import make_path
from shapely import LineString, Point, Polygon, unary_union

import rootgap
from rootgap.layout import Bend, Cap, Elbow, Reducer, Ring, Sleeve, Straight
from rootgap.patterns import table_pattern
from rootgap.patterns.cutting import outside
from rootgap.patterns.sheets import BADGE, CELL, NUMBER, cut_sheets
from rootgap.solids.bodies import common_volume, is_sound
from rootgap.solids.whole import fixture_parts, parts

ASSEMBLIES = Path(__file__).parents[2] / "assemblies"
#: All but the one whose file does not fit its bay as it stands: what is shown with it is the search.
DEMOS = sorted(set(ASSEMBLIES.glob("*.toml")) - {ASSEMBLIES / "ice-racer-four.toml"})
#: How far, mm, the work is lifted out of its fixture where the bodies are looked at.
LIFTS = (0.0, 12.0, 50.0)
#: Chords of a sheet's contours stay this near to them, mm.
CHORD = 0.02


@pytest.fixture(scope="module", params=DEMOS, ids=lambda path: path.stem)
def demo_of(request: pytest.FixtureRequest) -> rootgap.Manifold:
    return rootgap.load(request.param)


@pytest.fixture(scope="module")
def folder(demo_of: rootgap.Manifold, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demo_of.build(tmp_path_factory.mktemp("demo")).folder


def test_no_two_parts_share_volume_and_all_are_closed_and_valid(demo_of):
    bodies = {part.name: part.body for part in parts(demo_of.layout, demo_of.joints)}
    for name, body in bodies.items():
        assert is_sound(body), name
    for one, other in itertools.combinations(bodies, 2):
        assert common_volume(bodies[one], bodies[other]) < 0.01, (one, other)


def test_each_fixture_clears_its_work_lets_it_out_and_holds_all_of_it(demo_of):
    """In solids: no metal shared with the work as it lies, nor as it is lifted."""
    bodies = {part.name: part.body.copy() for part in parts(demo_of.layout, demo_of.joints)}
    assert {fixture.work.head.id for fixture in demo_of.layout.fixtures} == {
        f"flange.{name}" for name in demo_of.layout.begun
    }
    for fixture in demo_of.layout.fixtures:
        # Copies: a boolean leaves marks on the bodies that it is given, and these are kept for the files.
        plates = {part.name: part.body.copy() for part in fixture_parts([fixture])}
        assert all(is_sound(body) for body in plates.values())
        for one, other in itertools.combinations(plates, 2):
            assert common_volume(plates[one], plates[other]) < 0.01, (one, other)
        work = [piece.id for piece in fixture.work.pieces()]
        for lift in LIFTS:
            for one, other in itertools.product(plates, work):
                raised = bodies[other].moved(cq.Location(cq.Vector(*(lift * fixture.load))))
                assert common_volume(plates[one], raised) < 0.01, (one, other, lift)
        assert all(held.seats for held in fixture.held.values())
    found = [finding for finding in demo_of.checks() if finding.check.startswith("fixture")]
    assert {finding.check for finding in found} == {"fixture clear", "fixture lifts out", "fixture holds"}
    assert all(finding.verdict == "pass" for finding in found)


def test_all_plate_lies_on_sheets_once_apart_and_within_them(demo_of, folder):
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    table = demo_of.layout.table
    assert table is not None
    laid = [part["part"] for sheet in manifest["sheets"] for part in sheet["parts"]]
    assert sorted(laid) == sorted(pattern.name for pattern in demo_of.patterns if pattern.plate)
    for fixture in demo_of.layout.fixtures:
        assert {plate.id for plate in fixture.plates} <= set(laid)
    for sheet in manifest["sheets"]:
        drawing = ezdxf.readfile(folder / "flat" / "sheets" / f"{sheet['name']}.dxf").modelspace()
        outer = [each for each in drawing if outside(each.dxf.layer)]
        rims = [Polygon([(at.x, at.y) for at in make_path(each).flattening(CHORD)]) for each in outer]
        assert len(rims) == len(sheet["parts"])
        boxes, margin = np.array([rim.bounds for rim in rims]), table.sheet.margin - CHORD
        assert (boxes[:, :2] >= margin).all()
        assert (boxes[:, 2:] <= np.array(table.sheet.size) - margin).all()
        for one, other in itertools.combinations(rims, 2):
            assert one.exterior.distance(other.exterior) > table.sheet.spacing - 2 * CHORD


def test_every_check_passes_or_is_a_warning_that_the_file_explains(demo_of):
    findings = demo_of.checks()
    assert not [finding for finding in findings if finding.verdict == "fail"]
    gaps = [finding for finding in findings if finding.check == "root gap"]
    assert all(finding.value <= finding.limit for finding in gaps)
    warned = {finding.check for finding in findings if finding.verdict == "warn"}
    assert warned <= ({"gas kept apart"} if demo_of.layout.name == "jet-boat-v6-undivided" else set())


def test_gas_from_every_port_reaches_an_outlet_of_its_own_side_only(demo_of):
    gas = demo_of.gas
    sides = {"jet-boat-v6": 2, "hill-climb-six": 2}.get(demo_of.layout.name, 1)
    assert gas.kind == ("divided" if sides == 2 else "undivided")
    fed = [side for side in gas.sides if side.ports]
    assert len(fed) == sides
    assert all(side.outlets for side in fed)
    assert sum(len(side.ports) for side in fed) == len(gas.ports)
    assert not any(set(one.outlets) & set(other.outlets) for one, other in itertools.combinations(fed, 2))


def test_every_joint_has_its_record_and_every_part_its_files(demo_of, folder):
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    assert {joint["id"] for joint in manifest["joints"]} == {joint.id for joint in demo_of.joints}
    assert all("kind" in joint and joint["weld_length"] >= 0.0 for joint in manifest["joints"])
    files = {entry["path"] for entry in manifest["files"]}
    for entry in manifest["pieces"]:
        assert {f"solids/{entry['id']}.step", f"solids/{entry['id']}.stl"} <= files
    rows = csv.DictReader((folder / "cutlist.csv").read_text(encoding="utf-8").splitlines())
    listed = {row["mark"]: row["template"] for row in rows}
    whole = (Cap, Ring, Sleeve, Reducer, Bend)
    for piece in demo_of.layout.pieces():
        # Bought or bent whole, or a straight sawn square: nothing to draw.
        sawn = isinstance(piece, whole) or (isinstance(piece, Elbow) and not piece.trimmed)
        cut = any(piece.id == cut.piece for joint in demo_of.joints for cut in joint.cuts)
        holed = any(piece.id == getattr(getattr(joint, "target", None), "piece", "") for joint in demo_of.joints)
        plain = isinstance(piece, Straight) and not piece.formed
        wanted = cut or holed or not (sawn or plain)
        assert bool(listed[piece.id]) == wanted, piece.id
        for file in filter(None, listed[piece.id].split("; ")):
            assert file in files


def test_numbers_on_a_sheet_cover_no_hole_and_no_lettering(demo_of):
    flats = [table_pattern(pattern, demo_of.layout.table) for pattern in demo_of.patterns]
    for sheet in cut_sheets(flats, demo_of.layout.table):
        drawn = [item for part in sheet.parts for item in part.pattern.drawn if not outside(item.layer)]
        lines = unary_union([LineString(item.shape.points(0.1)) for item in drawn])
        for label, part in zip(sheet.pattern.labels, sheet.parts, strict=True):
            middle = Point(label.at[0], label.at[1] + 0.5 * label.height)
            corner = Point(part.outline.bounds()[:2])
            assert middle.distance(lines) > BADGE * NUMBER - CELL or middle.distance(corner) < CELL
