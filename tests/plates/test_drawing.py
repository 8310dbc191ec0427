"""Outlines that were drawn every way there is, written and read by another library, and what comes of them."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path as File

import ezdxf
import numpy as np
import pytest
from ezdxf.math import bulge_to_arc
from shapely.geometry import Polygon

import rootgap
from rootgap import cli
from rootgap.errors import InputErrors
from rootgap.geometry.openings import Dee, Freeform, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.geometry.paths import Circle, Path, Shape
from rootgap.patterns import table_pattern
from rootgap.plates.drawing import LARGEST_DRAWING, Imported, imported
from rootgap.plates.shapes import recognised
from rootgap.spec import FlangePart, load_part
from rootgap.writers.dxf import dxf_bytes

ROOT = File(__file__).parent.parent.parent
HEAD = load_part(ROOT / "parts" / "head-sand-rail-four.toml")
MM, INCH, UNITLESS = 4, 1, 0


def shapes(part: FlangePart) -> list[Shape]:
    ports = [placed(port.opening.opening().shape(), port.at, port.angle) for port in part.port]
    return [part.edges()[0], *ports, *(Circle(hole.at, 0.5 * hole.diameter) for hole in part.holes())]


def as_entities(space, shape: Shape, scale: float = 1.0, shake: float = 0.0, rng=None) -> None:
    """Draw lines and arcs one by one, some of them the other way round."""
    if isinstance(shape, Circle):
        space.add_circle(np.array(shape.center) * scale, shape.radius * scale)
        return
    for number, (start, end, bulge) in enumerate(shape.segments()):
        a, b = (
            (np.array(point) + (rng.uniform(-shake, shake, 2) if shake else 0.0)) * scale for point in (start, end)
        )
        if bulge:
            center, begin, stop, radius = bulge_to_arc(a, b, bulge)
            space.add_arc(center, radius, np.degrees(begin), np.degrees(stop))
        else:
            space.add_line(*((a, b) if number % 2 else (b, a)))


def as_polylines(space, shape: Shape) -> None:
    if isinstance(shape, Circle):
        as_entities(space, shape)
    else:
        space.add_lwpolyline(shape.vertices, format="xyb", close=True)


def as_old_polylines(space, shape: Shape) -> None:
    if isinstance(shape, Circle):
        as_entities(space, shape)
    else:
        space.add_polyline2d(shape.vertices, format="xyb", close=True)


def as_splines(space, shape: Shape) -> None:
    """Every segment a spline through many of its points."""
    if isinstance(shape, Circle):
        space.add_ellipse(shape.center, major_axis=(shape.radius, 0), ratio=1.0)
        return
    for start, end, bulge in shape.segments():
        points = Path(((*start, bulge), (*end, 0.0))).points(1e-3)
        if bulge:
            space.add_spline(points)
        else:
            space.add_line(start, end)


def as_crumbs(space, shape: Shape) -> None:
    """Straight bits of half a millimetre, as a scanner's outline has them."""
    rim = shape.points(0.01)
    count = int(shape.length / 0.5)
    ring = np.vstack([rim, rim[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    at = np.linspace(0, along[-1], count, endpoint=False)
    points = np.column_stack([np.interp(at, along, ring[:, k]) for k in (0, 1)])
    space.add_lwpolyline(points, close=True)


def drawing(
    file: File, part: FlangePart, draw: Callable = as_entities, units: int = MM, version: str = "R2010", **how
) -> File:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    for shape in shapes(part):
        draw(document.modelspace(), shape, **how)
    document.saveas(file)
    return file


def read(file: File, **how) -> Imported:
    return imported(file, **({"name": "again", "thickness": 12.0, "material": "carbon steel"} | how))


def same(one: FlangePart, other: FlangePart, off: float) -> None:
    """Edges, openings and holes lie within `off` mm of each other."""
    assert len(one.port) == len(other.port)
    for a, b in zip(shapes(one)[: 1 + len(one.port)], shapes(other), strict=False):
        assert Polygon(a.points(1e-3)).hausdorff_distance(Polygon(b.points(1e-3))) < off
    holes, others = (np.array([(*hole.at, hole.diameter) for hole in part.holes()]) for part in (one, other))
    assert len(holes) == len(others)
    for hole in holes:
        assert np.abs(others - hole).max(axis=1).min() < off


@pytest.mark.parametrize(
    ("draw", "version", "off"),
    [
        (as_entities, "R2010", 2e-3),
        (as_entities, "R12", 2e-3),
        (as_polylines, "R2000", 2e-3),
        (as_old_polylines, "R12", 2e-3),
        (as_splines, "R2010", 0.05),
        (as_crumbs, "R2010", 0.15),
    ],
)
@pytest.mark.parametrize("name", ["head-sand-rail-four", "turbine-four-bolt", "turbine-divided", "outlet-three-bolt"])
def test_a_flange_comes_back_however_it_was_drawn(name, draw, version, off, tmp_path: File) -> None:
    part = load_part(ROOT / "parts" / f"{name}.toml")
    assert isinstance(part, FlangePart)
    found = read(drawing(tmp_path / "a.dxf", part, draw, MM, version), units="mm" if version == "R12" else "")
    same(part, found.part, off)
    kinds = sorted(next(iter(port.opening.model_dump())) for port in part.port)
    assert sorted(next(iter(port.opening.model_dump())) for port in found.part.port) == kinds


def test_our_own_flange_drawing_comes_back(tmp_path: File) -> None:
    """The DXF of a build has marks and words too: only what is cut and drilled is read."""
    manifold = rootgap.load(ROOT / "assemblies" / "sand-rail-four.toml")
    (flange,) = (pattern for pattern in manifold.patterns if pattern.name == "flange.head")
    file = tmp_path / "flange.head.dxf"
    file.write_bytes(dxf_bytes(table_pattern(flange, manifold.layout.table)))
    assert isinstance(HEAD, FlangePart)
    same(HEAD, read(file).part, 2e-3)


def test_gaps_doubles_points_and_strays_are_healed_and_told(tmp_path: File) -> None:
    assert isinstance(HEAD, FlangePart)
    file = drawing(tmp_path / "a.dxf", HEAD, shake=0.03, rng=np.random.default_rng(2))
    document = ezdxf.readfile(file)
    space = document.modelspace()
    space.add_circle(HEAD.holes()[0].at, 4.5)
    first = next(iter(space.query("LINE")))
    space.add_line(first.dxf.end, first.dxf.start)
    space.add_line((0, 0), (5, 1))
    space.add_line((5, 5), (5, 5))
    space.add_text("head")
    document.saveas(file)
    found = read(file)
    same(HEAD, found.part, 0.09)
    told = "\n".join(found.told)
    assert "1 line drawn twice dropped." in told
    assert "1 line of no length dropped." in told
    assert "1 circle drawn twice dropped." in told
    assert "an open chain of 1 line from (0.00, 0.00) to (5.00, 1.00), ends 5.099 mm apart" in told
    assert "gaps joined, the widest 0.0" in told


def test_blocks_and_mirrored_blocks_are_taken_apart(tmp_path: File) -> None:
    assert isinstance(HEAD, FlangePart)
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = MM
    block = document.blocks.new("plate")
    for shape in shapes(HEAD):
        as_entities(block, shape)
    document.modelspace().add_blockref("plate", (300, 0), dxfattribs={"xscale": -1.0})
    document.saveas(tmp_path / "a.dxf")
    found = read(tmp_path / "a.dxf").part
    truth = Polygon(HEAD.edges()[0].points(1e-3))
    mirrored = Polygon([(300 - x, y) for x, y in truth.exterior.coords])
    assert Polygon(found.edges()[0].points(1e-3)).hausdorff_distance(mirrored) < 2e-3
    wanted = sorted(300 - hole.at[0] for hole in HEAD.holes())
    assert sorted(hole.at[0] for hole in found.holes()) == pytest.approx(wanted)


MM_WIDE = "Units: mm, by its size (396.1 mm wide); "
INCH_WIDE = "Units: in, by its size (396.1 mm wide); "


class TestUnits:
    @pytest.mark.parametrize(
        ("code", "scale", "said"),
        [
            (MM, 1.0, "Units: mm, as the file says."),
            (INCH, 1 / 25.4, "Units: in, as the file says."),
            (INCH, 1.0, f"{MM_WIDE}the file says in, which would make it 1.006e+04 mm wide."),
            (MM, 1 / 25.4, f"{INCH_WIDE}the file says mm, which would make it 15.59 mm wide."),
            (UNITLESS, 1.0, "Units: mm, by its size (396.1 mm wide); the file names none."),
            (UNITLESS, 1 / 25.4, "Units: in, by its size (396.1 mm wide); the file names none."),
        ],
    )
    def test_wrong_and_missing_units_are_seen_by_the_size(self, code, scale, said, tmp_path: File) -> None:
        assert isinstance(HEAD, FlangePart)
        found = read(drawing(tmp_path / "a.dxf", HEAD, units=code, scale=scale))
        assert found.told[0] == said
        same(HEAD, found.part, 3e-3)

    def test_no_unit_fits(self, tmp_path: File) -> None:
        assert isinstance(HEAD, FlangePart)
        with pytest.raises(InputErrors, match=r"the file says mm, which would make it 3.961e\+07 mm wide; no unit"):
            read(drawing(tmp_path / "a.dxf", HEAD, scale=1e5))


OPENINGS: list[Opening] = [
    Round(40),
    Oval(44, 30),
    Oval(30, 52),
    RoundedRectangle(36, 30, 8),
    RoundedRectangle(40, 40, 3),
    Dee(40, 36, 5),
    Dee(40, 20, 4),
    Dee(36, 60, 9),
]


@pytest.mark.parametrize("angle", [0.0, 27.3, 90.0, -140.0])
@pytest.mark.parametrize("opening", OPENINGS, ids=str)
def test_every_kind_of_opening_is_recognised_at_any_angle(opening: Opening, angle: float) -> None:
    shape = placed(opening.shape(), (50.0, 3.0), angle)
    if isinstance(shape, Circle):
        shape = Path(((shape.center[0] + 20, 3, 1.0), (shape.center[0] - 20, 3, 1.0)), closed=True)
    found = recognised(shape, 0.1)
    assert found.kind == {Round: "round", Oval: "oval", RoundedRectangle: "rounded", Dee: "dee"}[type(opening)]
    assert found.at == pytest.approx((50.0, 3.0), abs=2e-3)
    assert found.off < 4e-3
    sizes = [value for word, value in vars(opening).items() if word in ("diameter", "width", "height")]
    assert sorted(np.ravel(found.opening[found.kind])) == pytest.approx(sorted(sizes), abs=3e-3)
    if hasattr(opening, "radius"):
        assert found.opening["radius"] == pytest.approx(opening.radius, abs=0.01)


def test_what_no_kind_fits_is_a_path() -> None:
    loop = Path(((-20, -12, 0.6), (0, -2, 0.3), (20, -12, 0), (20, 12, 0), (-20, 12, 0)), closed=True)
    found = recognised(loop, 0.1)
    assert found.kind == "path"
    assert Freeform(tuple(tuple(row) for row in found.opening["path"])).area == pytest.approx(abs(loop.area), rel=1e-4)


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


PLATE = Path.through([(0, 0), (200, 0), (200, 80), (0, 80)], closed=True)


def plate(*inside: Shape, edge: Path = PLATE, file: str = "o.dxf") -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = MM
    for shape in (edge, *inside):
        as_polylines(document.modelspace(), shape)
    document.saveas(file)


ONE_ONLY = "allowed: one flange a file, or name its layer with --layer\n"


class TestCommand:
    @pytest.fixture(autouse=True)
    def here(self, tmp_path: File, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)

    def test_writes_a_flange_that_loads(self, monkeypatch, capsys) -> None:
        plate(Circle((100, 40), 20), Circle((20, 40), 5), Circle((180, 40), 5))
        assert command(monkeypatch, "import", "o.dxf", "--thickness", "3/8 in", "--material", "304L") == 0
        said = capsys.readouterr().out
        assert "Port 1 at (100, 40): round 40, within 0.000 mm.\n2 bolt holes: 10 mm.\n" in said
        part = load_part("out/o.toml")
        assert isinstance(part, FlangePart)
        assert (part.thickness, part.material) == (9.525, "304L")
        assert part.edges()[0].area == pytest.approx(200 * 80)

    def test_json(self, monkeypatch, capsys) -> None:
        plate(Circle((100, 40), 20))
        assert command(monkeypatch, "import", "o.dxf", "--json", "--out", "p.toml", "--name", "mine") == 0
        answer = json.loads(capsys.readouterr().out)
        assert (answer["name"], answer["file"]) == ("mine", "p.toml")
        assert load_part("p.toml").name == "mine"

    def refused(self, monkeypatch, capsys, *words: str) -> str:
        assert command(monkeypatch, "import", "o.dxf", *words) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert not File("out").exists()
        return said.err

    @pytest.mark.parametrize(
        ("inside", "edge", "said"),
        [
            (
                [Circle((20, 40), 5)],
                PLATE,
                "o.dxf: 1 bolt hole and no port: no closed loop but circles up to 20 mm inside the edge\n",
            ),
            (
                [Circle((100, 40), 20)],
                Path.through([(0, 0), (200, 80), (200, 0), (0, 80)], closed=True),
                "o.dxf: a closed outline crosses itself near (100, 40) mm; draw its rim once round\n",
            ),
            (
                [Circle((100, 40), 20), Circle((125, 40), 20)],
                PLATE,
                "o.dxf: port[2].at: overlaps the one of port[1].at; allowed: metal between\n",
            ),
            (
                [Circle((100, 40), 20), Circle((121, 40), 5)],
                PLATE,
                "o.dxf: bolts[1].at[1]: overlaps the one of port[1].at; allowed: metal between\n",
            ),
            (
                [Circle((100, 40), 20), Circle((105, 40), 5)],
                PLATE,
                (
                    "o.dxf: a bolt hole of 10 mm at (105.0, 40.0) lies in the port at (100.0, 40.0); allowed: "
                    "metal round it; move it, or take it out of the drawing, or read other layers with --layer\n"
                ),
            ),
            (
                [Circle((100, 40), 20), Circle((300, 40), 15)],
                PLATE,
                "o.dxf: 1 outline beside the largest, the first 30.0 x 30.0 mm at (300.0, 40.0); " + ONE_ONLY,
            ),
            (
                [Circle((182, 40), 20)],
                PLATE,
                "o.dxf: port[1].at: reaches 2.00 mm beyond the path of outline; allowed: metal round it\n",
            ),
        ],
        ids=["no port", "crosses", "ports overlap", "bolt on port", "bolt in port", "beside", "over the edge"],
    )
    def test_wrong_drawings_are_one_line(self, inside, edge, said, monkeypatch, capsys) -> None:
        plate(*inside, edge=edge)
        assert self.refused(monkeypatch, capsys) == said

    def test_nothing_in_it(self, monkeypatch, capsys) -> None:
        document = ezdxf.new()
        document.saveas("o.dxf")
        assert self.refused(monkeypatch, capsys).startswith("o.dxf: nothing is drawn in it; allowed: lines, arcs")
        document.modelspace().add_text("head")
        document.modelspace().add_3dface([(0, 0), (1, 0), (1, 1)])
        document.saveas("o.dxf")
        assert self.refused(monkeypatch, capsys).startswith("o.dxf: nothing is drawn in it but 1 3DFACE; allowed:")

    def test_an_open_edge_says_where_and_what_would_join_it(self, monkeypatch, capsys) -> None:
        document = ezdxf.new()
        document.header["$INSUNITS"] = MM
        document.modelspace().add_lwpolyline([(0, 0), (200, 0), (200, 80), (0, 80), (0, 0.8)])
        document.saveas("o.dxf")
        assert self.refused(monkeypatch, capsys) == (
            "o.dxf: no closed outline: its longest chain is open by 0.800 mm, from (0.00, 0.00) to (0.00, 0.80); "
            "close it, or join wider gaps with --tolerance 0.81\n"
        )

    def test_an_edge_of_open_chains_round_its_ports(self, monkeypatch, capsys) -> None:
        """Not the largest port is the edge then."""
        for gap, cure in ((0.5, ", or join wider gaps with --tolerance 0.71"), (8.0, " in the drawing")):
            document = ezdxf.new()
            document.header["$INSUNITS"] = MM
            space = document.modelspace()
            corners = np.array([(0, 0), (200, 0), (200, 80), (0, 80)])
            for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
                along = (end - start) / np.linalg.norm(end - start)
                space.add_line(start + gap * along, end - gap * along)
            space.add_circle((60, 40), 20)
            space.add_circle((140, 40), 20)
            document.saveas("o.dxf")
            said = self.refused(monkeypatch, capsys)
            wide = gap * 2**0.5
            assert said.startswith(f"o.dxf: no closed outline: its longest chain is open by {wide:.3f} mm, from ")
            assert said.endswith(f"; close it{cure}\n")

    def test_cut_short(self, monkeypatch, capsys) -> None:
        """At any place from half of the file on, so that what is left out of it may be an outline or a port."""
        plate(Circle((100, 40), 20))
        whole = File("o.dxf").read_bytes()
        for share in (0.5, 0.9, 0.999):
            File("o.dxf").write_bytes(whole[: int(share * len(whole))])
            assert self.refused(monkeypatch, capsys) == (
                "o.dxf: is cut short: its end mark is missing; copy it again, or save it again as DXF\n"
            )

    def test_larger_than_any_outline(self, monkeypatch, capsys) -> None:
        """A file with nothing in it takes no room on the disk."""
        with File("o.dxf").open("wb") as file:
            file.truncate(LARGEST_DRAWING + 1)
        said = self.refused(monkeypatch, capsys)
        assert said == "o.dxf: found 50000001 bytes; allowed: up to 50000000: the outline of one flange\n"

    def test_no_drawing(self, monkeypatch, capsys) -> None:
        assert self.refused(monkeypatch, capsys) == "o.dxf: no such file\n"
        File("o.dxf").write_text("not a drawing", encoding="utf-8")
        assert self.refused(monkeypatch, capsys) == "o.dxf: cannot be read: allowed: a DXF file\n"
        File("o.dxf").write_bytes(bytes(range(256)) * 40)
        assert self.refused(monkeypatch, capsys) == "o.dxf: cannot be read: allowed: a DXF file\n"
        File("o.dxf").write_bytes(b"")
        assert self.refused(monkeypatch, capsys).startswith("o.dxf: is cut short")
        File("o.dxf").unlink()
        File("o.dxf").mkdir()
        assert self.refused(monkeypatch, capsys) == "o.dxf: found a folder; allowed: a DXF file\n"

    def test_layers_and_options(self, monkeypatch, capsys) -> None:
        plate(Circle((100, 40), 20))
        said = self.refused(monkeypatch, capsys, "--layer", "gasket")
        assert said == "o.dxf: has no layer gasket; it has 0, Defpoints\n"
        assert "--tolerance" in self.refused(monkeypatch, capsys, "--tolerance", "9 mm")
        assert "no such material" in self.refused(monkeypatch, capsys, "--material", "cheese")
