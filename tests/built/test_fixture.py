"""The plates that hold a manifold while it is tacked, built whole: they clear it, let it out, and hold it."""

from __future__ import annotations

import csv
import io
import itertools
import json
import shutil
from pathlib import Path

import cadquery as cq
import ezdxf
import numpy as np
import pytest

import rootgap
from rootgap.checks.fixture import fixture_clear, fixture_holds, fixture_lifts_out, fixture_line
from rootgap.geometry.distance import Rod
from rootgap.geometry.freedom import ways_out
from rootgap.solids.bodies import common_volume, is_sound, volume
from rootgap.solids.whole import fixture_parts, parts

ROOT = Path(__file__).parents[2]
FILE = ROOT / "assemblies" / "sand-rail-four.toml"
#: The room a side of slots cut by plasma, mm: 1/32 in (builders' pages).
PLASMA = 0.8


def changed(folder: Path, text: str, file: Path = FILE) -> rootgap.Manifold:
    """The manifold of `file` with `text` in the place of its fixture, in a workspace of its own."""
    body = file.read_text(encoding="utf-8").partition("[fixture]")[0]
    body = body.replace('"../parts/', '"parts/')
    shutil.copytree(ROOT / "parts", folder / "parts", dirs_exist_ok=True)
    path = folder / "case.toml"
    path.write_text(body + text, encoding="utf-8")
    return rootgap.load(path)


@pytest.fixture(scope="module")
def manifold() -> rootgap.Manifold:
    return rootgap.load(FILE)


@pytest.fixture(scope="module")
def fixture(manifold):
    (fixture,) = manifold.layout.fixtures
    return fixture


@pytest.fixture(scope="module")
def plates(fixture):
    return {plate.id: plate for plate in fixture.plates}


@pytest.fixture(scope="module")
def solids(fixture):
    # Copies: a boolean leaves marks on the bodies that it is given, and these are kept for the files.
    return {part.name: part.body.copy() for part in fixture_parts([fixture])}


@pytest.fixture(scope="module")
def work(manifold):
    return {part.name: part.body.copy() for part in parts(manifold.layout, manifold.joints)}


@pytest.fixture(scope="module")
def folder(manifold, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return manifold.build(tmp_path_factory.mktemp("fixture")).folder


class TestSolids:
    def test_every_plate_is_sound_and_weighs_what_its_outline_says(self, plates, solids):
        assert solids.keys() == plates.keys()
        for name, body in solids.items():
            assert is_sound(body)
            assert volume(body) == pytest.approx(plates[name].volume, rel=1e-7)

    def test_no_plate_shares_metal_with_another_or_with_the_work(self, solids, work):
        for one, other in [*itertools.combinations(solids, 2), *itertools.product(solids, work)]:
            assert common_volume(solids[one], (solids | work)[other]) < 0.01, (one, other)

    @pytest.mark.parametrize("lift", [3.0, 20.0, 45.0, 90.0])
    def test_the_work_lifts_out(self, fixture, solids, work, lift):
        for (one, plate), (other, piece) in itertools.product(solids.items(), work.items()):
            raised = piece.moved(cq.Location(cq.Vector(*(lift * fixture.load))))
            assert common_volume(plate, raised) < 0.01, (one, other)

    def test_seats_clear_their_pipes_by_the_room_and_touch_nothing(self, fixture, solids, work):
        for held in fixture.held.values():
            for seat in held.seats:
                assert solids[seat.plate.id].distance(work[seat.piece]) == pytest.approx(fixture.room, abs=0.02)

    def test_flanges_lie_on_their_plates(self, solids, work):
        assert solids["fixture.base"].distance(work["flange.head"]) < 1e-6
        assert solids["fixture.turbine-post"].distance(work["flange.turbine"]) < 1e-6


class TestFit:
    def test_a_slot_is_its_tab_and_twice_the_room_each_way(self, fixture, plates):
        assert fixture.fit == PLASMA
        base = plates["fixture.base"]
        slots = base.holes[-sum(len(plate.feet) for plate in fixture.plates) :]
        feet = [(plate, foot) for plate in fixture.plates for foot in plate.feet]
        assert len(slots) == len(feet) > 20
        for hole, (plate, foot) in zip(slots, feet, strict=True):
            along, across = ((axis @ base.right, axis @ base.start.ref) for axis in (plate.right, plate.start.axis))
            xy = np.array(hole.vertices)[:, :2]
            assert np.ptp(xy @ along) == pytest.approx(plate.foot + 2 * PLASMA)
            assert np.ptp(xy @ across) == pytest.approx(6.0 + 2 * PLASMA)
            lag = plate.at(foot, 0.0) - base.start.origin
            assert xy.mean(axis=0) == pytest.approx((lag @ base.right, lag @ base.start.ref))

    def test_tabs_end_flush_with_the_base(self, fixture):
        for plate in fixture.plates[1:]:
            assert plate.outline.bounds()[1] == pytest.approx(-6.0 if plate.feet else 0.0)

    def test_tabs_are_as_wide_as_they_say(self, plates):
        plate = plates["fixture.log-cradle-1"]
        low = sorted(x for x, y, _ in plate.outline.vertices if y == pytest.approx(-6.0))
        assert np.diff(low)[::2] == pytest.approx(plate.foot)

    def test_holes_are_the_flanges_own(self, manifold, plates):
        head, base = manifold.layout.plates["head"], plates["fixture.base"]
        assert set(head.bolt_holes) <= set(base.holes)
        turbine, post = manifold.layout.plates["turbine"], plates["fixture.turbine-post"]
        wanted = turbine.placed(np.array([hole.center for hole in turbine.bolt_holes]))
        found = [post.at(*hole.center) - 0.5 * post.length * post.start.axis for hole in post.holes[:4]]
        assert np.array(found) == pytest.approx(wanted)
        assert [hole.radius for hole in post.holes[:4]] == [hole.radius for hole in turbine.bolt_holes]

    def test_a_laser_cuts_closer(self, tmp_path):
        (fixture,) = changed(tmp_path, '[fixture]\nthickness = 5\ncut = "laser"\n').layout.fixtures
        assert fixture.fit == 0.25
        slots = [
            np.array(hole.vertices)[:, :2]
            for hole in fixture.plates[0].holes
            if len(getattr(hole, "vertices", ())) == 8
        ]
        assert min(np.ptp(xy, axis=0).min() for xy in slots) == pytest.approx(5.5)


class TestHold:
    def test_every_run_is_cradled_and_held(self, manifold, fixture):
        assert fixture.held.keys() == manifold.layout.runs.keys()
        assert all(held.seats for held in fixture.held.values())
        found = list(fixture_holds(manifold.layout, manifold.joints))
        assert {(finding.subject, finding.verdict) for finding in found} == {
            (f"run.{name}", "pass") for name in fixture.held
        }

    def test_without_its_plug_a_primary_slides_back(self, fixture):
        pushes = fixture.held["primary.1"].pushes
        normals = np.vstack([*(p.normals for p in pushes if "plug" not in p.by), -fixture.load[None]])
        (way,) = ways_out(normals)
        # Level, away from the log, in the plane of its own axis.
        assert way @ fixture.load == pytest.approx(0.0, abs=1e-9)
        assert way[1] < -0.9

    def test_without_the_hand_on_it_the_work_comes_out_the_way_it_went_in(self, fixture):
        normals = np.vstack([push.normals for push in fixture.held["log"].pushes])
        assert [way.tolist() for way in ways_out(normals)] == [pytest.approx([0, 0, 1])]

    def test_checks_agree_with_the_solids(self, manifold):
        for check in (fixture_clear, fixture_lifts_out):
            (finding,) = check(manifold.layout, manifold.joints)
            assert (finding.verdict, finding.value) == ("pass", 0.0)

    def test_a_cradle_in_the_way_is_told(self, tmp_path):
        manifold = changed(tmp_path, "[fixture]\nthickness = 6\n[fixture.stations]\nlog = [90, 430]\n")
        (clear,) = fixture_clear(manifold.layout, manifold.joints)
        assert (clear.verdict, clear.check) == ("fail", "fixture clear")
        assert "log-cradle-1" in clear.subject
        seats = manifold.layout.fixtures[0].held["log"].seats
        assert [seat.station for seat in seats] == [90.0, 430.0]

    def test_a_mouth_too_narrow_is_told(self, manifold, fixture):
        """The same plates under a pipe that is 1 mm too far aside: it lies in the wall of its seat."""
        seat = fixture.held["log"].seats[0]
        log = manifold.layout.runs["log"].pieces[0]
        aside = np.array((0.0, 1.0, 0.0))
        for shift, inside in ((0.0, False), (1.0, True)):
            rod = Rod(log.start.origin + shift * aside, log.end.origin + shift * aside, log.stock.r_out)
            assert (rod.distance(seat.plate.samples(2.0)).min() < -0.3) == inside


class TestFiles:
    def test_every_plate_has_its_dxf_row_and_record(self, folder, plates):
        manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        kinds = {
            entry["part"]: entry["kind"] for entry in manifest["files"] if entry["path"].startswith("flat/fixture.")
        }
        assert kinds == dict.fromkeys(plates, "fixture plate")
        assert [entry["kind"] for entry in manifest["files"] if entry["path"] == "solids/fixture.step"] == ["fixture"]
        assert {plate["id"] for plate in manifest["fixtures"][0]["plates"]} == plates.keys()
        assert not {piece["id"] for piece in manifest["pieces"]} & plates.keys()
        rows = list(csv.DictReader(io.StringIO((folder / "cutlist.csv").read_text(encoding="utf-8"))))
        masses = {row["mark"]: float(row["mass_kg"]) for row in rows if row["mark"] in plates}
        assert masses == {name: pytest.approx(plate.volume * 7850e-9, abs=6e-4) for name, plate in plates.items()}

    def test_a_dxf_is_closed_lines_and_arcs_of_the_plates_area(self, folder, plates):
        for name in ("fixture.base", "fixture.primary.1-cradle", "fixture.turbine-post"):
            document = ezdxf.readfile(folder / "flat" / f"{name}.dxf")
            lines = [each for each in document.modelspace() if each.dxftype() != "TEXT"]
            assert {each.dxftype() for each in lines} <= {"LWPOLYLINE", "CIRCLE"}
            (outer,) = [each for each in lines if each.dxf.layer == "cut.outer"]
            assert outer.closed
            assert len(list(outer.vertices())) == len(plates[name].outline.vertices)
            words = [each.dxf.text for each in document.modelspace().query("TEXT")]
            assert any(name.removeprefix("fixture.") in word for word in words)

    def test_the_fixture_is_an_assembly_of_its_own(self, manifold, folder, plates):
        whole = manifold.fixture_solid()
        assert {child.name for group in whole.children for child in group.children} == plates.keys()
        assert not {name.rpartition("/")[2] for name in manifold.solid().objects} & plates.keys()
        read = cq.importers.importStep(str(folder / "solids" / "fixture.step"))
        assert len(read.solids().vals()) == len(plates)

    def test_the_print_is_the_same_with_and_without(self, manifold, folder, tmp_path):
        plain = changed(tmp_path, "")
        assert plain.layout.fixtures == ()
        built = plain.templates(tmp_path / "out")
        assert (built.folder / "templates.pdf").read_bytes() == (folder / "templates.pdf").read_bytes()
        with pytest.raises(LookupError, match="no \\[fixture\\]"):
            plain.fixture_solid()


class TestOthers:
    def test_one_bank_of_a_v_has_a_fixture_of_its_own(self, tmp_path):
        """The turbine's flange lies below that head's face: it is welded on later, and has no post."""
        text = '\n[fixture]\nthickness = 6\nflange = "head-starboard"\n'
        (fixture,) = changed(tmp_path, text, ROOT / "assemblies" / "jet-boat-v6.toml").layout.fixtures
        assert set(fixture.held) == {"starboard.1", "starboard.2", "starboard.3", "log-starboard"}
        assert all(held.seats for held in fixture.held.values())
        assert fixture.posts == {}
        assert fixture.load.tolist() == pytest.approx([0.0, -0.5, np.sqrt(0.75)])

    @pytest.mark.parametrize("clock", [195, 270])
    def test_a_post_leans_with_its_flange(self, tmp_path, clock):
        """The outlet turned towards the base: by 15 degrees, and straight down on it."""
        text = FILE.read_text(encoding="utf-8").replace("at = [-40, 105, 125]", "at = [-10, 190, 176]")
        other = tmp_path / "turned.toml"
        other.write_text(text.replace("clock = 180 }", f"clock = {clock} }}"), encoding="utf-8")
        manifold = changed(tmp_path, "[fixture]\nthickness = 6\n", other)
        (fixture,), turbine = manifold.layout.fixtures, manifold.layout.plates["turbine"]
        assert turbine.end.axis @ fixture.load == pytest.approx(-np.sin(np.radians(clock - 180)))
        plates = {plate.id: plate for plate in fixture.plates}
        post = plates[fixture.posts["flange.turbine"]]
        wanted = turbine.placed(np.array([hole.center for hole in turbine.bolt_holes]))
        found = [post.at(*hole.center) - 0.5 * post.length * post.start.axis for hole in post.holes[:4]]
        assert np.array(found) == pytest.approx(wanted)
        solids = {part.name: part.body for part in fixture_parts([fixture])}
        work = {part.name: part.body for part in parts(manifold.layout, manifold.joints)}
        held = [name for name in solids if "turbine" in name]
        for one, two in [*itertools.combinations(solids, 2), *itertools.product(held, work)]:
            assert common_volume(solids[one], (solids | work)[two]) < 0.01, (one, two)
        (lifts,) = fixture_lifts_out(manifold.layout, manifold.joints)
        assert lifts.verdict == "pass"

    def test_each_bank_of_a_v_has_a_fixture_of_its_own(self, tmp_path):
        manifold = changed(tmp_path, "\n[fixture]\nthickness = 6\n", ROOT / "assemblies" / "jet-boat-v6.toml")
        marks = [fixture.mark for fixture in manifold.layout.fixtures]
        assert marks == ["fixture.head-starboard", "fixture.head-port"]
        names = [plate.id for plate in manifold.layout.tools]
        assert len(set(names)) == len(names)
        assert {name.rpartition(".base")[0] for name in names if name.endswith(".base")} == set(marks)

    def test_a_run_that_goes_on_through_a_bend_has_a_stop_beside_the_bend(self, tmp_path):
        text = '\n[fixture]\nthickness = 6\nflange = "head-starboard"\n'
        manifold = changed(tmp_path, text, ROOT / "assemblies" / "jet-boat-v6.toml")
        (fixture,) = manifold.layout.fixtures
        plates = {plate.id: plate for plate in fixture.plates}
        stop, bend = plates["fixture.log-starboard-stop-1"], manifold.layout.members["log-starboard-b"]
        # The bend's outermost: its end's middle and the pipe's radius, and the room.
        reach = bend.end.origin[0] + bend.stock.r_out
        assert stop.start.origin[0] == pytest.approx(reach + fixture.room, abs=0.02)

    def test_what_no_fixture_holds_and_what_lies_in_no_cradle_is_told(self, manifold, tmp_path):
        """A run that leaves a log's side is held where it is named; this one is too steep for a seat."""
        assert fixture_line(manifold.layout) == ""
        six = ROOT / "assemblies" / "hill-climb-six.toml"
        text = "[fixture]\nthickness = 6\n"
        assert fixture_line(changed(tmp_path, text, six).layout) == (
            "Fixture: run.outlet not held: fit after what is, or name in fixture.runs."
        )
        named = changed(tmp_path, text + 'runs = ["log", "primary", "outlet"]\n', six)
        assert fixture_line(named.layout) == "Fixture: no seat has room under run.outlet."
        assert [each.subject for each in fixture_holds(named.layout, named.joints) if each.verdict == "warn"]
        assert fixture_line(changed(tmp_path, "", six).layout) == ""

    def test_a_run_whose_log_is_not_held_is_not_pushed_by_it(self, tmp_path):
        text = '\n[fixture]\nthickness = 6\nruns = ["primary"]\n'
        (fixture,) = changed(tmp_path, text).layout.fixtures
        assert {push.by for held in fixture.held.values() for push in held.pushes}.isdisjoint({"log"})

    @pytest.mark.parametrize("number", [1, 2])
    def test_a_plug_stands_in_a_bore_that_is_not_round(self, number):
        """A transition's and a formed end's: it keeps the room to the wall and comes as near to it as it can."""
        manifold = rootgap.load(ROOT / "assemblies" / "kart-four-collector.toml")
        (fixture,) = manifold.layout.fixtures
        plug = next(plate for plate in fixture.plates if plate.id == f"fixture.primary.{number}-plug")
        body = next(part.body for part in fixture_parts([fixture]) if part.name == plug.id)
        piece = next(
            part.body for part in parts(manifold.layout, manifold.joints) if part.name == f"primary.{number}-a"
        )
        assert fixture.room - 0.02 <= body.distance(piece) <= fixture.room + 0.3
