"""Files of bodies: written, read again by other libraries, measured, and the same bytes twice."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import cadquery as cq
import gmsh
import numpy as np
import pytest
import trimesh

from rootgap.errors import KernelError, WriteError
from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Circle
from rootgap.geometry.paths import Path as Outline
from rootgap.geometry.wall import StraightWall
from rootgap.solids.bodies import Hole, cut_pipe, dish_cap, drilled, elbow, plate, straight, volume
from rootgap.solids.boundary import EndFace
from rootgap.solids.export import (
    Part,
    assembly,
    body_in,
    meshed,
    step_bytes,
    write_file,
    write_glb,
    write_step,
    write_stl,
)
from rootgap.solids.step import assembly_step, step_part

START = Frame.looking((-200.0, 95.0, 120.0), (1.0, 0.0, 0.0))
STEEL, RUST, RED = (0.5, 0.5, 0.6), (0.72, 0.35, 0.18), (1.0, 0.0, 0.0)


def small_manifold() -> list[Part]:
    """A log with a cap and a hole, a bend with a coped pipe, and a plate."""
    branch = Frame.looking(START.advanced(200.0).origin - (0.0, 0.0, 150.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))
    theta = np.linspace(0.0, 2.0 * np.pi, 360, endpoint=False)
    inner, outer = (149.5 - np.sqrt(30.15**2 - (r * np.sin(theta)) ** 2) for r in (17.54, 21.10))
    face = EndFace(
        theta, np.array([17.54, 21.10]), np.column_stack([inner, outer]) - 60.0, np.empty(0, dtype=np.intp)
    )
    log = straight(START, 400.0, 30.15, 26.24)
    outline = Outline(((-40, -30, 0), (40, -30, 1), (40, 30, 0), (-40, 30, 1)), closed=True)
    return [
        Part("log.1", drilled(log, [Hole.straight(branch, START, 17.54)], START, 30.15), STEEL, "log"),
        Part("log.2", dish_cap(START.advanced(400.0), 38.0, 30.15, 26.24), RUST, "log"),
        Part(
            "primary.1.1",
            cut_pipe(StraightWall(branch.advanced(60.0)), None, face, 0.0, 21.10, 17.54),
            RED,
            "primary.1",
        ),
        Part("primary.1.2", elbow(branch.advanced(60.0), 47.6, 60.0, 30.0, 21.10, 17.54), STEEL, "primary.1"),
        Part("head.plate", plate(branch, outline, [Circle((0.0, 0.0), 17.54)], 10.0), RUST, "head"),
    ]


def write_whole(name: str, parts: list[Part], path: Path) -> None:
    """Write the STEP file of an assembly, put together from its parts' own."""
    files = {part.name: step_part(step_bytes(part.body, part.name), part.name) for part in parts}
    data = assembly_step(
        path.name, name, parts, lambda part: files[part.name], lambda part, digits: files[part.name].template(digits)
    )
    write_file(path, data)


def write_all(folder: str | Path) -> dict[str, str]:
    """Write every kind of file into `folder`; return their hashes by name."""
    to = Path(folder)
    parts = small_manifold()
    whole = assembly("small", parts)
    write_whole("small", parts, to / "assembly.step")
    mesh = meshed(whole)
    write_glb(mesh, to / "assembly.glb")
    for part in parts:
        write_step(part.body, to / f"{part.name}.step")
        write_stl(body_in(mesh, part), to / f"{part.name}.stl")
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in sorted(to.iterdir())}


def mesh_of(body: cq.Solid, linear: float, angular: float) -> cq.Shape:
    """A copy of one body with a mesh."""
    part = Part("body", body, STEEL, "all")
    return body_in(meshed(assembly("whole", [part]), linear, angular), part)


@pytest.fixture(scope="module")
def parts() -> list[Part]:
    return small_manifold()


@pytest.fixture
def second_kernel() -> Iterator[None]:
    gmsh.initialize(interruptible=False)
    gmsh.option.setNumber("General.Terminal", 0)
    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    yield
    gmsh.finalize()


class TestAssembly:
    def test_tree(self, parts: list[Part]) -> None:
        whole = assembly("small", parts)
        assert [child.name for child in whole.children] == ["log", "primary.1", "head"]
        assert [part.name for part in whole.children[1].children] == ["primary.1.1", "primary.1.2"]

    @pytest.mark.parametrize(("first", "second"), [("a", "a"), ("a", "run"), ("a", "whole"), ("run", "a")])
    def test_names_are_unique(self, parts: list[Part], first: str, second: str) -> None:
        body = parts[0].body
        with pytest.raises(ValueError, match="two parts or groups are named"):
            assembly("whole", [Part(first, body, STEEL, "run"), Part(second, body, STEEL, "run")])

    def test_group_named_as_the_whole(self, parts: list[Part]) -> None:
        with pytest.raises(ValueError, match="a group may not be named 'log'"):
            assembly("log", parts)


class TestStep:
    @pytest.mark.usefixtures("second_kernel")
    def test_second_kernel_finds_the_volumes(self, parts: list[Part], tmp_path: Path) -> None:
        for part in parts:
            file = tmp_path / f"{part.name}.step"
            write_step(part.body, file)
            gmsh.clear()
            (solid,) = [tag for dim, tag in gmsh.model.occ.importShapes(str(file)) if dim == 3]
            assert gmsh.model.occ.getMass(3, solid) == pytest.approx(volume(part.body), rel=1e-3)

    @pytest.mark.usefixtures("second_kernel")
    def test_second_kernel_finds_all_solids(self, parts: list[Part], tmp_path: Path) -> None:
        write_whole("small", parts, tmp_path / "assembly.step")
        solids = [
            tag for dim, tag in gmsh.model.occ.importShapes(str(tmp_path / "assembly.step")) if dim == 3
        ]
        found = sorted(gmsh.model.occ.getMass(3, tag) for tag in solids)
        assert found == pytest.approx(sorted(volume(part.body) for part in parts), rel=1e-3)

    def test_names_colors_and_places_survive(self, parts: list[Part], tmp_path: Path) -> None:
        write_whole("small", parts, tmp_path / "assembly.step")
        again = cq.Assembly.importStep(str(tmp_path / "assembly.step"))
        assert again.name == "small"
        for part in parts:
            found = again.objects[f"{part.group}/{part.name}"]
            assert found.color is not None
            assert found.color.toTuple() == pytest.approx((*part.color, 1.0), abs=1e-6)
            shape = found.obj
            assert isinstance(shape, cq.Shape)
            assert volume(shape) == pytest.approx(volume(part.body), rel=1e-6)
            assert shape.Center().toTuple() == pytest.approx(part.body.Center().toTuple(), abs=1e-4)

    def test_one_body_twice_with_its_own_colors(self, parts: list[Part], tmp_path: Path) -> None:
        body = parts[1].body
        write_whole("pair", [Part("a", body, RED, "g"), Part("b", body, RUST, "g")], tmp_path / "p.step")
        again = cq.Assembly.importStep(str(tmp_path / "p.step"))
        colors = [again.objects[f"g/{name}"].color for name in "ab"]
        assert [color and color.toTuple()[:3] for color in colors] == [
            pytest.approx(RED),
            pytest.approx(RUST),
        ]

    def test_moved_body_keeps_its_color_and_place(self, parts: list[Part], tmp_path: Path) -> None:
        body = parts[1].body.moved(cq.Location(cq.Vector(0, 0, 500)))
        write_whole("one", [Part("a", body, RED, "g")], tmp_path / "p.step")
        found = cq.Assembly.importStep(str(tmp_path / "p.step")).objects["g/a"]
        assert found.color is not None
        assert found.color.toTuple()[:3] == pytest.approx(RED)
        assert isinstance(found.obj, cq.Shape)
        assert found.obj.Center().toTuple() == pytest.approx(body.Center().toTuple(), abs=1e-4)

    def test_header_says_nothing_of_day_or_machine(self, parts: list[Part], tmp_path: Path) -> None:
        write_step(parts[0].body, tmp_path / "log.1.step")
        text = (tmp_path / "log.1.step").read_text()
        header = "".join(text[: text.index("ENDSEC;")].split())
        assert header == (
            "ISO-10303-21;HEADER;FILE_DESCRIPTION(('rootgap'),'2;1');"
            "FILE_NAME('log.1.step','2000-01-01T00:00:00',('rootgap'),('rootgap'),'rootgap','rootgap','rootgap');"
            "FILE_SCHEMA(('AUTOMOTIVE_DESIGN{10103032141111}'));"
        )
        assert "PRODUCT('log.1','log.1'" in text
        assert str(tmp_path) not in text
        assert "SI_UNIT(.MILLI.,.METRE.)" in text


    def test_a_part_of_two_solids_and_odd_names(self, parts: list[Part], tmp_path: Path) -> None:
        """What is cut apart stays one product, and a name keeps its quotes, its number signs and its letters."""
        a = parts[1].body
        two = cq.Compound.makeCompound([a, a.moved(cq.Location(cq.Vector(0, 0, 500)))])
        write_whole("o'clock", [Part("#5 'a'", two, RED, "g\u00fc")], tmp_path / "p.step")
        again = cq.Assembly.importStep(str(tmp_path / "p.step"))
        assert (again.name, [child.name for child in again.children]) == ("o'clock", ["g\u00fc"])
        (found,) = again.children[0].children
        assert found.name == "#5 'a'"
        assert isinstance(found.obj, cq.Shape)
        assert [volume(solid) for solid in found.obj.Solids()] == pytest.approx(2 * [volume(a)], rel=1e-6)
        text = (tmp_path / "p.step").read_text()
        assert text.count("STYLED_ITEM('color'") == 2

    def test_every_reference_is_to_an_entity_of_the_file(self, parts: list[Part], tmp_path: Path) -> None:
        write_whole("small", parts, tmp_path / "a.step")
        text = re.sub(r"'(?:[^']|'')*'", "''", (tmp_path / "a.step").read_text())
        entities = re.findall(r"^#(\d+) = ", text, re.MULTILINE)
        assert len(entities) == len(set(entities))
        assert set(re.findall(r"#(\d+)", text)) == set(entities)

    def test_what_is_no_file_of_one_product_is_refused(self) -> None:
        with pytest.raises(KernelError, match="the kernel does not write it as one product"):
            step_part(b"ISO-10303-21;", "a")


class TestStl:
    def test_watertight_with_its_volume(self, parts: list[Part], tmp_path: Path) -> None:
        whole = meshed(assembly("small", parts))
        for part in parts:
            write_stl(body_in(whole, part), tmp_path / "part.stl")
            mesh = trimesh.load_mesh(tmp_path / "part.stl")
            assert mesh.is_watertight
            assert mesh.is_winding_consistent
            assert mesh.volume == pytest.approx(volume(part.body), rel=5e-3)

    def test_facets_stay_within_the_tolerance(self, tmp_path: Path) -> None:
        upright = straight(Frame.looking((0, 0, 0), (0, 0, 1), (1, 0, 0)), 100.0, 30.15, 26.24)
        write_stl(mesh_of(upright, linear=0.02, angular=1.0), tmp_path / "pipe.stl")
        mesh = trimesh.load_mesh(tmp_path / "pipe.stl")
        middles = mesh.vertices[mesh.edges_unique].mean(axis=1)
        radii = np.hypot(middles[:, 0], middles[:, 1])
        outside = radii[radii > 28.2]
        assert 30.15 - outside[outside > 29.0].min() <= 0.02

    def test_finer_is_finer_whatever_was_viewed_before(self, tmp_path: Path) -> None:
        body = straight(START, 100.0, 30.15, 26.24)
        body.mesh(5.0, 2.0)
        sizes = []
        for linear, angular in ((1.0, 1.0), (0.02, 0.05)):
            write_stl(mesh_of(body, linear, angular), tmp_path / "pipe.stl")
            sizes.append(len(trimesh.load_mesh(tmp_path / "pipe.stl").faces))
        assert sizes[1] > 5 * sizes[0]


class TestGlb:
    def test_metres_y_up_names_and_colors(self, parts: list[Part], tmp_path: Path) -> None:
        write_glb(meshed(assembly("small", parts)), tmp_path / "assembly.glb")
        scene = trimesh.load_scene(tmp_path / "assembly.glb")
        box = cq.Compound.makeCompound([part.body for part in parts]).BoundingBox()
        low, high = np.array([box.xmin, box.ymin, box.zmin]), np.array([box.xmax, box.ymax, box.zmax])
        assert scene.bounds == pytest.approx(np.array([low, high]) / 1000.0, abs=2e-4)
        names = set(scene.graph.nodes)
        assert {"small", "log", "primary.1", "head"} <= names
        assert set(scene.graph.nodes_geometry) == {part.name for part in parts}
        for part in parts:
            srgb = np.array(part.color)
            # IEC 61966-2-1: glTF colors are linear.
            linear = np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
            factor = scene.geometry[part.name].visual.material.baseColorFactor
            assert np.asarray(factor)[:3] / 255.0 == pytest.approx(linear, abs=0.003)

    def test_leaves_the_assembly_as_it_was(self, parts: list[Part], tmp_path: Path) -> None:
        whole = assembly("small", parts)
        place = whole.loc.toTuple()
        write_glb(meshed(whole), tmp_path / "assembly.glb")
        assert whole.loc.toTuple() == place


class TestBytes:
    def test_same_twice_in_a_process_and_in_another(self, tmp_path: Path) -> None:
        folders = [tmp_path / name for name in ("one", "two", "three")]
        for folder in folders:
            folder.mkdir()
        first = write_all(folders[0])
        for part in small_manifold():
            part.body.mesh(3.0, 1.0)
        second = write_all(folders[1])
        call = "import runpy, sys; runpy.run_path(sys.argv[1])['write_all'](sys.argv[2])"
        subprocess.run(
            [sys.executable, "-c", call, __file__, str(folders[2])],
            check=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
        )
        third = {
            file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in sorted(folders[2].iterdir())
        }
        assert len(first) == 12
        assert first == second == third

    def test_many_assemblies_in_a_process(self, parts: list[Part], tmp_path: Path) -> None:
        # Occurrence numbers gain a digit and colors move in memory: neither may show.
        seen = set()
        for _ in range(12):
            whole = assembly("small", parts)
            write_whole("small", parts, tmp_path / "a.step")
            write_glb(meshed(whole), tmp_path / "a.glb")
            seen.add((tmp_path / "a.step").read_bytes() + (tmp_path / "a.glb").read_bytes())
        assert len(seen) == 1


class TestFailures:
    WRITERS = (
        lambda parts, path: write_step(parts[0].body, path),
        lambda parts, path: write_stl(mesh_of(parts[0].body, 1.0, 1.0), path),
        lambda parts, path: write_glb(meshed(assembly("small", parts)), path),
    )

    @pytest.mark.parametrize("writer", WRITERS)
    def test_no_folder(
        self, writer: Callable[[list[Part], Path], None], parts: list[Part], tmp_path: Path
    ) -> None:
        with pytest.raises(WriteError) as caught:
            writer(parts, tmp_path / "none" / "file.out")
        assert str(caught.value) == (
            f"{tmp_path / 'none' / 'file.out'}: cannot be written: its folder does not exist; "
            "choose another folder with --out"
        )

    @pytest.mark.parametrize("writer", WRITERS)
    def test_a_folder_in_the_way(
        self, writer: Callable[[list[Part], Path], None], parts: list[Part], tmp_path: Path
    ) -> None:
        (tmp_path / "file.out").mkdir()
        with pytest.raises(WriteError, match="cannot be written"):
            writer(parts, tmp_path / "file.out")

    @pytest.mark.parametrize("writer", WRITERS)
    def test_a_name_too_long(
        self, writer: Callable[[list[Part], Path], None], parts: list[Part], tmp_path: Path
    ) -> None:
        with pytest.raises(WriteError, match="cannot be written"):
            writer(parts, tmp_path / ("x" * 300))

    def test_body_without_a_mesh(self, parts: list[Part], tmp_path: Path) -> None:
        with pytest.raises(ValueError, match="the body carries no mesh"):
            write_stl(parts[0].body.copy(), tmp_path / "part.stl")
        with pytest.raises(ValueError, match="the body carries no mesh"):
            write_glb(assembly("small", parts), tmp_path / "assembly.glb")
        assert not list(tmp_path.iterdir())

    def test_writer_that_says_no(
        self, parts: list[Part], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("rootgap.solids.export.StlAPI_Writer.Write", lambda *_args: False)
        with pytest.raises(WriteError, match="the writer reports a failure"):
            write_stl(mesh_of(parts[0].body, 1.0, 1.0), tmp_path / "part.stl")

    def test_writer_that_leaves_nothing(
        self, parts: list[Part], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        (tmp_path / "part.stl").write_text("of an earlier build")
        monkeypatch.setattr("rootgap.solids.export.StlAPI_Writer.Write", lambda *_args: True)
        with pytest.raises(WriteError, match="the writer left no file"):
            write_stl(mesh_of(parts[0].body, 1.0, 1.0), tmp_path / "part.stl")
