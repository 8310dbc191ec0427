"""Plates made ready for a cutting table: drills, corners, offset, leads, lettering, and sheets of them."""

from __future__ import annotations

import io
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import bulge_to_arc

from rootgap.errors import GeometryError, PatternError
from rootgap.geometry.offsets import offset, turned_back
from rootgap.geometry.paths import Circle, Path
from rootgap.patterns import table_pattern
from rootgap.patterns.cutting import for_table, width
from rootgap.patterns.nesting import nested, placed
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock, purpose
from rootgap.patterns.sheets import cut_sheets
from rootgap.patterns.strokes import GLYPHS, strokes
from rootgap.spec import LeadSpec, SheetSpec, TablePart
from rootgap.writers.clean import faults
from rootgap.writers.dxf import dxf_bytes
from rootgap.writers.picture import sheet_picture

TABLE = TablePart(
    name="t", kind="table", units="mm", kerf=1.6, pierce=4.0, sheet=SheetSpec(size=(600.0, 400.0), spacing=8.0)
)
HERE = TABLE.model_copy(
    update={
        "offset": "here",
        "lead_in": LeadSpec(form="arc", length=8.0),
        "lead_out": LeadSpec(form="line", length=3.0),
    }
)


def plate(name: str, outer: Path | Circle, *inner: Path | Circle, thickness: float = 10.0) -> Pattern:
    drawn = (Drawn("cut.outer", outer), *(Drawn("cut.inner", shape) for shape in inner))
    return Pattern(name, "plate", "A plate", drawn, plate=PlateStock("carbon steel", thickness))


def box(wide: float, high: float, x: float = 0.0, y: float = 0.0) -> Path:
    return Path.through([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], closed=True)


def sampling_flange() -> Pattern:
    """The 160 mm gas-sampling flange of the MARPOL rules: bore 35, 9 thick, 4 holes of 12 on 130.

    Source: IMO Marine Environment Protection Committee, sampling flange, fully dimensioned there.
    """
    holes = [Circle((65.0 * np.cos(t), 65.0 * np.sin(t)), 6.0) for t in np.radians([45, 135, 225, 315])]
    return plate("sampling", Circle((0.0, 0.0), 80.0), Circle((0.0, 0.0), 17.5), *holes, thickness=9.0)


def region(entities) -> shapely.Polygon:
    """The largest contour less the others, from what a reader of DXF finds."""
    rings = []
    for entity in entities:
        if entity.dxftype() == "CIRCLE":
            t = 2 * np.pi * np.arange(20000) / 20000
            rings.append(np.column_stack([np.cos(t), np.sin(t)]) * entity.dxf.radius + np.array(entity.dxf.center)[:2])
            continue
        points = (
            np.array(entity.get_points("xyb"))
            if entity.dxftype() == "LWPOLYLINE"
            else np.array([(*v.dxf.location.vec2, v.dxf.bulge) for v in entity.vertices])
        )
        out = []
        for (x0, y0, bulge), (x1, y1, _) in zip(points, np.roll(points, -1, axis=0), strict=True):
            out.append((x0, y0))
            if bulge:
                center, start, end, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
                sweep = (end - start) % (2 * np.pi)
                t = start + np.linspace(0.0, sweep, int(20000 * sweep) + 2)[1:-1]
                arc = np.column_stack([center.x + radius * np.cos(t), center.y + radius * np.sin(t)])
                out.extend(arc if bulge > 0 else arc[::-1])
        rings.append(np.array(out))
    polygons = sorted((shapely.Polygon(ring) for ring in rings), key=lambda ring: -ring.area)
    return polygons[0].difference(shapely.union_all(polygons[1:]))


def drawn_region(pattern: Pattern, fine: float = 1e-4) -> shapely.Polygon:
    cuts = [item.shape for item in pattern.drawn if purpose(item.layer) in ("cut", "drill")]
    polygons = sorted((shapely.Polygon(shape.points(fine)) for shape in cuts), key=lambda ring: -ring.area)
    return polygons[0].difference(shapely.union_all(polygons[1:]))


def read(data: bytes):
    document = ezdxf.read(io.StringIO(data.decode("utf-8")))
    auditor = document.audit()
    assert not auditor.errors and not auditor.fixes
    return document


class TestDrills:
    def test_a_hole_under_the_limit_is_drilled_and_listed(self):
        made = for_table(sampling_flange(), None)
        assert [item.layer for item in made.drawn] == ["drill"] * 4 + ["cut.inner", "cut.outer"]
        assert ("Drill", "4 of 12 mm") in made.facts
        assert "4 holes are under 1.5 x thickness (13.5 mm)" in made.notes[1]

    def test_the_larger_of_share_and_absolute_decides(self):
        thin = sampling_flange()
        hole = TABLE.hole.model_copy(update={"ratio": 1.0, "least": 20.0})
        made = for_table(thin, TABLE.model_copy(update={"hole": hole}))
        assert "20 mm, the table's least" in made.notes[1]
        hole = TABLE.hole.model_copy(update={"ratio": 1.0, "least": 0.0})
        made = for_table(thin, TABLE.model_copy(update={"hole": hole}))
        assert not any(item.layer == "drill" for item in made.drawn)

    def test_inside_corners_are_told_and_outside_ones_not(self):
        made = for_table(plate("p", box(90, 60), box(40, 20, 20, 20)), TABLE)
        assert any(note.startswith("4 inside corners are sharper than the kerf") for note in made.notes)
        made = for_table(plate("p", box(90, 60)), TABLE)
        assert not any("corner" in note for note in made.notes)

    def test_paper_is_left_as_it_is(self):
        wrap = Pattern("w", "wrap", "", (Drawn("cut", Path.through([(0, 0), (9, 0)])),))
        assert table_pattern(for_table(wrap, HERE), HERE) is wrap


    @pytest.mark.parametrize("turn", [0.0, 20.0, 45.0, 71.3, 90.0])
    def test_a_narrow_slot_is_told_however_it_lies(self, turn):
        """Its width by another library, from the least of all rectangles round it."""
        cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        for wide, is_told in ((14.9, True), (15.1, False)):
            slot = Path(tuple((cos * x - sin * y, sin * x + cos * y, b) for x, y, b in box(30.0, wide).vertices), True)
            corners = shapely.minimum_rotated_rectangle(shapely.Polygon(slot.points(0.01))).exterior.coords
            assert width(slot) == pytest.approx(min(np.hypot(*np.diff(corners, axis=0).T)), abs=1e-6)
            notes = for_table(plate("p", box(90, 90, -45, -45), slot), TABLE).notes
            assert any("1 opening is narrower than 15 mm" in note for note in notes) == is_told


class TestOffset:
    @pytest.mark.parametrize("distance", [0.8, -0.8, 3.0, -3.0])
    def test_against_another_library(self, distance):
        bulge = np.tan(np.pi / 8)
        oval = Path(((0, 0, 0.0), (60, 0, 1.0), (60, 20, 0.0), (0, 20, 1.0)), closed=True)
        corners = ((0, 0, 0.0), (40, 0, bulge), (50, 10, 0.0), (50, 40, 0.0), (25, 25, 0.0), (0, 40, 0.0))
        cross = Path(corners, closed=True)
        for path in (oval, cross, turned_back(cross)):
            wanted = shapely.Polygon(path.points(1e-5)).buffer(distance, quad_segs=256)
            made = shapely.Polygon(offset(path, distance).points(1e-5))
            assert made.is_valid and made.symmetric_difference(wanted).area < 0.005 * path.length
            assert offset(path, distance).area * path.area > 0

    def test_nothing_left_is_refused(self):
        with pytest.raises(ValueError, match="no room"):
            offset(box(4, 40), -2.5)


class TestHere:
    def test_half_a_kerf_in_the_waste(self):
        net = for_table(plate("p", box(120, 80), Circle((60.0, 40.0), 20.0)), HERE)
        made = table_pattern(net, HERE)
        cut = {item.layer: item.shape for item in made.drawn if purpose(item.layer) == "cut"}
        assert abs(cut["cut.outer"].area) == pytest.approx(120 * 80 + 0.8 * 400 + np.pi * 0.8**2, abs=1e-9)
        assert abs(cut["cut.inner"].area) == pytest.approx(np.pi * 19.2**2, abs=1e-9)
        # The waste to the left: outsides clockwise, insides anticlockwise.
        assert cut["cut.outer"].area < 0 < cut["cut.inner"].area

    @pytest.mark.parametrize("form", ["arc", "line"])
    def test_leads_begin_in_the_waste_and_end_on_their_contour(self, form):
        table = HERE.model_copy(update={"lead_in": LeadSpec(form=form, length=8.0)})
        net = for_table(plate("p", box(120, 80), Circle((60.0, 40.0), 20.0)), table)
        drawn = table_pattern(net, table).drawn
        metal = drawn_region(net)
        for before, item in pairwise(drawn):
            if before.layer == "lead.in":
                start, end = before.shape.vertices[0][:2], before.shape.vertices[-1][:2]
                assert item.layer.startswith("cut")
                assert end == pytest.approx(item.shape.vertices[0][:2], abs=1e-9)
                assert metal.distance(shapely.Point(start)) >= table.pierce
                assert not metal.intersects(shapely.LineString(before.shape.points(0.01)))
        assert sum(item.layer == "lead.in" for item in drawn) == 2
        assert [item.layer for item in drawn if purpose(item.layer) == "cut"] == ["cut.inner", "cut.outer"]

    def test_an_opening_narrower_than_the_kerf_is_refused(self):
        with pytest.raises(GeometryError, match=r"half the kerf; raise hole.least"):
            table_pattern(plate("p", box(50, 50), box(1, 9, 20, 20)), HERE)


class TestFiles:
    @pytest.mark.parametrize("version", ["R2000", "R12"])
    @pytest.mark.parametrize("table", [None, TABLE, HERE], ids=["none", "table", "here"])
    def test_the_region_comes_back(self, version, table, caplog):
        made = table_pattern(for_table(sampling_flange(), table), table)
        document = read(dxf_bytes(made, version))
        assert not caplog.records, "the library's own warnings would be told on the user's screen"
        space = document.modelspace()
        found = region(e for e in space if e.dxf.layer.startswith(("cut", "drill")))
        wanted = drawn_region(made, 1e-7)
        assert found.area == pytest.approx(wanted.area, rel=1e-6)
        assert np.array(found.centroid.coords[0]) == pytest.approx(np.array(wanted.centroid.coords[0]), abs=1e-6)
        kinds = {entity.dxftype() for entity in space}
        assert kinds <= {"TEXT", "CIRCLE", "POLYLINE" if version == "R12" else "LWPOLYLINE"}
        assert document.dxfversion == {"R12": "AC1009", "R2000": "AC1015"}[version]
        assert ("$INSUNITS" in document.header) == (version == "R2000")
        assert any(text.dxf.text == "Unit: mm, 1:1" for text in space.query("TEXT"))

    def test_the_flange_itself(self):
        """Area in closed form; neighbouring holes on a bolt circle of D are D sin(pi / n) apart."""
        space = read(dxf_bytes(for_table(sampling_flange(), None))).modelspace()
        area = np.pi * (80**2 - 17.5**2 - 4 * 6**2)
        assert region(space.query("CIRCLE")).area == pytest.approx(area, rel=1e-6)
        drills = sorted(tuple(e.dxf.center)[:2] for e in space.query("CIRCLE") if e.dxf.layer == "drill")
        assert np.hypot(*np.subtract(drills[0], drills[1])) == pytest.approx(130 * np.sin(np.pi / 4), abs=1e-9)

    @pytest.mark.parametrize(
        ("drawn", "said"),
        [
            ((Drawn("cut", Path.through([(0, 0), (9, 0), (9, 9)])),), "not closed"),
            ((Drawn("cut", Path.through([(0, 0), (9, 0), (9, 0), (9, 9)], closed=True)),), "of no length"),
            ((Drawn("cut", box(9, 9)), Drawn("cut.inner", turned_back(box(9, 9)))), "twice the same"),
            ((Drawn("cut", Circle((0.0, 0.0), 0.0)),), "radius 0"),
            ((Drawn("cut", Path(((0, 0, 0.0), (np.nan, 1, 0.0), (3, 3, 0.0)), closed=True)),), "does not exist"),
        ],
    )
    def test_what_cannot_be_cut_is_refused_loudly(self, drawn, said):
        pattern = Pattern("p", "plate", "", drawn, plate=PlateStock("304", 3.0))
        assert any(said in fault for fault in faults(pattern))
        with pytest.raises(PatternError, match=said) as caught:
            dxf_bytes(pattern)
        assert caught.value.exit_code == 3

    def test_a_gap_on_paper(self):
        edge = Drawn("edge", Path.through([(0, 5), (0, 0), (9, 0), (9, 5)]))
        for off, count in ((0.0, 0), (0.0005, 0), (0.01, 1)):
            wrap = Pattern("w", "wrap", "", (Drawn("cut", Path.through([(0, 5 + off), (4, 7), (9, 5)])), edge))
            assert len(faults(wrap)) == count


class TestLettering:
    def test_every_glyph_stays_in_its_box_and_has_no_line_twice(self):
        for sign in GLYPHS:
            lines = strokes(sign, (0.0, 0.0), 6.0)
            points = np.vstack([np.array(line.vertices) for line in lines]) if lines else np.zeros((1, 3))
            assert (points >= 0).all() and (points[:, :2].max(axis=0) <= (4, 6)).all()
            drawn = Pattern("g", "plate", "", tuple(Drawn("etch", line) for line in lines))
            assert faults(drawn) == ()
        assert {*"ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-+"} <= set(GLYPHS)
        shapes = {str(strokes(sign, (0.0, 0.0), 6.0)) for sign in GLYPHS}
        assert len(shapes) == len(GLYPHS)

    def test_the_name_is_on_the_metal(self):
        made = table_pattern(sampling_flange(), None)
        metal = drawn_region(made)
        lines = [shapely.LineString(np.array(i.shape.vertices)[:, :2]) for i in made.drawn if i.layer == "etch"]
        assert len(lines) > 8
        assert all(metal.contains(line) for line in lines)

    def test_a_plate_too_small_for_its_mark_bears_what_its_file_calls_it(self):
        for wide, word in ((60, "flange.drain"), (20, "drain")):
            made = table_pattern(plate("flange.drain", box(wide, 12)), None)
            etched = [item for item in made.drawn if item.layer == "etch"]
            assert len(etched) == len(strokes(word, (0.0, 0.0), 3.0))

    def test_a_label_in_an_opening_goes_beside_it_and_one_without_room_stays_text(self):
        net = plate("p", box(120, 60), Circle((30.0, 30.0), 18.0))
        labels = (Label("text", (30.0, 28.0), "primary.1", 5.0, anchor="middle"), Label("text", (300.0, 300.0), "far"))
        made = table_pattern(Pattern(**{**net.__dict__, "labels": labels}), None)
        assert [label.text for label in made.labels] == ["far"]
        metal = drawn_region(net)
        assert all(
            metal.contains(shapely.LineString(i.shape.points(0.1))) for i in made.drawn if i.layer == "etch"
        )


class TestSheets:
    def parts(self) -> list[Pattern]:
        ring = [plate(f"ring-{n}", Circle((0.0, 0.0), 70.0), Circle((0.0, 0.0), 50.0)) for n in range(2)]
        wedge = Path.through([(0, 0), (150, 0), (40, 90)], closed=True)
        wedges = [plate(f"wedge-{n}", wedge) for n in range(6)]
        discs = [plate(f"disc-{n}", Circle((5.0, -3.0), 30.0)) for n in range(4)]
        return [for_table(part, TABLE) for part in (*ring, *wedges, *discs)]

    def test_parts_keep_their_spacing_and_the_margin(self):
        (sheet,) = cut_sheets(self.parts(), TABLE)
        spec = sheet.spec
        regions = [drawn_region(part.pattern) for part in sheet.parts]
        inside = shapely.box(spec.margin, spec.margin, spec.size[0] - spec.margin, spec.size[1] - spec.margin)
        assert all(inside.buffer(0.01).contains(each) for each in regions)
        apart = [a.distance(b) for i, a in enumerate(regions) for b in regions[:i]]
        assert min(apart) >= spec.spacing
        assert sum(part.area for part in sheet.parts) == pytest.approx(sum(each.area for each in regions), rel=1e-5)

    def test_what_lies_in_a_drop_is_cut_before_it(self):
        parts = [plate("ring", box(180, 180), box(140, 140, 20, 20)), plate("disc", Circle((0.0, 0.0), 40.0))]
        table = TABLE.model_copy(update={"sheet": SheetSpec(size=(200.0, 200.0), spacing=8.0)})
        (sheet,) = cut_sheets(parts, table)
        assert [part.pattern.name for part in sheet.parts] == ["disc", "ring"]

    @pytest.mark.parametrize("order", ["part", "sheet"])
    def test_insides_come_before_outsides(self, order):
        (sheet,) = cut_sheets(self.parts(), TABLE.model_copy(update={"order": order}))
        layers = [item.layer for item in sheet.pattern.drawn if purpose(item.layer) == "cut"]
        early = sum(part.in_drop for part in sheet.parts)
        if order == "sheet":
            assert layers[early:] == sorted(layers[early:])
        assert layers.count("cut.inner") == 2 and layers.count("cut.outer") == 12
        document = read(dxf_bytes(sheet.pattern))
        assert sum(e.dxf.layer.startswith("cut") for e in document.modelspace()) == 14

    def test_the_same_parts_give_the_same_sheet(self):
        first, again = cut_sheets(self.parts(), TABLE), cut_sheets(self.parts(), TABLE)
        assert first == again
        assert sheet_picture(first[0]) == sheet_picture(again[0])
        assert sheet_picture(first[0]).startswith(b"\x89PNG")

    def test_materials_and_thicknesses_lie_apart_and_more_sheets_are_begun(self):
        parts = [plate(f"p{n}", box(300, 300)) for n in range(3)] + [plate("thin", box(50, 50), thickness=3.0)]
        sheets = cut_sheets(parts, TABLE)
        names = [f"carbon-steel-10mm-{n}" for n in (1, 2, 3)]
        assert [sheet.name for sheet in sheets] == [*names, "carbon-steel-3mm-1"]

    def test_a_part_as_large_as_the_room_lies_on_it_and_one_larger_is_refused(self):
        (spot,) = nested([plate("p", box(380, 580))], SheetSpec(size=(600.0, 400.0)))
        assert spot.turn % 2 == 1
        with pytest.raises(GeometryError, match=r"p: 380.0 x 581.0 mm is more than a sheet of 600 x 400 mm holds"):
            cut_sheets([plate("p", box(380, 581))], TABLE)

    @pytest.mark.parametrize("turn", [0, 1, 2, 3])
    def test_turns_are_anticlockwise_quarters(self, turn):
        wedge = Path(((0, 0, 0.3), (15, 0, 0.0), (4, 9, -0.2)), closed=True)
        made = placed(wedge, turn, 3.0, -2.0)
        t = np.pi / 2 * turn
        rotation = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
        assert made.points(0.01) == pytest.approx(wedge.points(0.01) @ rotation + (3.0, -2.0), abs=1e-9)
        assert made.area == pytest.approx(wedge.area)
