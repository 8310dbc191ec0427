"""The solid half of a build, read back from its files by other libraries and measured."""

from __future__ import annotations

import csv
import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import cadquery as cq
import gmsh
import numpy as np
import pytest
import trimesh

import rootgap
from rootgap.joints import Cope
from rootgap.layout import Cap, Elbow, Plate, Straight
from rootgap.solids.bodies import common_volume, is_sound, volume
from rootgap.solids.whole import envelope_parts

#: kg/mm3 to kg/m3.
PER_M3 = 1e-9


@pytest.fixture(scope="module")
def manifest(built: Path) -> dict:
    return json.loads((built / "manifest.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def names(manifest: dict) -> list[str]:
    return [piece["id"] for piece in manifest["pieces"]]


@pytest.fixture(scope="module")
def bodies(built: Path, names: list[str]) -> dict[str, cq.Solid]:
    """Every part from its own STEP file."""
    read = {name: cq.importers.importStep(str(built / f"solids/{name}.step")).solids().vals() for name in names}
    assert all(len(solids) == 1 for solids in read.values())
    return {name: solids[0] for name, solids in read.items()}


@pytest.fixture(scope="module")
def volumes(manifold: rootgap.Manifold) -> dict[str, float]:
    """What each part's volume must be, mm3, without the kernel."""
    copes = [joint for joint in manifold.joints if isinstance(joint, Cope)]
    # A flange's from its drawing: the outline less what is cut and drilled.
    drawn = {
        pattern.name: sum(
            abs(item.shape.area) * (1.0 if item.layer == "cut.outer" else -1.0)
            for item in pattern.drawn
            if item.layer.startswith(("cut", "drill"))
        )
        for pattern in manifold.patterns
        if pattern.kind == "plate"
    }
    found = {}
    for piece in manifold.layout.pieces():
        if isinstance(piece, Plate):
            found[piece.id] = drawn[piece.id] * piece.part.thickness
            continue
        area = np.pi * (piece.stock.r_out**2 - piece.stock.r_in**2)
        if isinstance(piece, Cap):
            found[piece.id] = piece.volume
        elif isinstance(piece, Elbow):
            found[piece.id] = area * piece.radius * np.radians(piece.angle)
        elif isinstance(piece, Straight):
            ends = [cope.branch_volume for cope in copes if cope.branch.piece == piece.id]
            holes = [cope.hole_volume for cope in copes if cope.target.piece == piece.id]
            found[piece.id] = (ends[0] if ends else area * piece.length) - sum(holes)
    return found


@pytest.fixture
def second_reader() -> Iterator[None]:
    gmsh.initialize(interruptible=False)
    gmsh.option.setNumber("General.Terminal", 0)
    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    yield
    gmsh.finalize()


def read_again(file: Path) -> list[float]:
    """The volumes, mm3, of the solids that the second reader finds in a STEP file."""
    gmsh.clear()
    found = gmsh.model.occ.importShapes(str(file), highestDimOnly=True)
    return [gmsh.model.occ.getMass(3, tag) for dim, tag in found if dim == 3]


@pytest.mark.usefixtures("second_reader")
def test_a_second_reader_finds_the_volume_of_every_part(built: Path, volumes: dict[str, float]):
    for name, wanted in volumes.items():
        assert read_again(built / f"solids/{name}.step") == [pytest.approx(wanted, rel=1e-3)], name


@pytest.mark.usefixtures("second_reader")
def test_a_second_reader_finds_every_part_in_the_assembly(built: Path, manifold, volumes: dict[str, float]):
    found = read_again(built / "solids/assembly.step")
    hulls = [volume(part.body) for part in envelope_parts(manifold.layout)]
    assert sorted(found) == pytest.approx(sorted([*volumes.values(), *hulls]), rel=1e-3)


def test_volumes_are_those_of_the_closed_forms(bodies: dict[str, cq.Solid], volumes: dict[str, float]):
    for name, wanted in volumes.items():
        assert volume(bodies[name]) == pytest.approx(wanted, rel=2e-5), name


def test_masses_of_the_cut_list_are_those_of_the_bodies(built: Path, manifold, bodies: dict[str, cq.Solid]):
    density = {
        piece.id: (piece.part.metal if isinstance(piece, Plate) else piece.stock.material).density
        for piece in manifold.layout.pieces()
    }
    with (built / "cutlist.csv").open(encoding="utf-8", newline="") as file:
        masses = {row["mark"]: float(row["mass_kg"]) for row in csv.DictReader(file)}
    assert set(masses) == {*bodies, *(plate.id for plate in manifold.layout.tools)}
    for name, body in bodies.items():
        # The list gives grams.
        assert masses[name] == pytest.approx(volume(body) * density[name] * PER_M3, abs=0.51e-3, rel=1e-4)


def test_every_part_is_one_valid_closed_solid(bodies: dict[str, cq.Solid]):
    for name, body in bodies.items():
        assert is_sound(body), name


def test_names_colours_and_groups_survive(built: Path, manifold, manifest: dict, bodies: dict[str, cq.Solid]):
    again = cq.Assembly.importStep(str(built / "solids/assembly.step"))
    assert again.name == manifest["name"]
    groups: dict[str, set[str]] = {}
    for piece in manifest["pieces"]:
        groups.setdefault(f"run.{piece['run']}" if "run" in piece else "flanges", set()).add(piece["id"])
    for part in envelope_parts(manifold.layout):
        groups.setdefault(part.group, set()).add(part.name)
    assert {child.name: {part.name for part in child.children} for child in again.children} == groups
    colors = {}
    targets = {joint["target"]["run"] for joint in manifest["joints"] if joint["kind"] == "cope"}
    for piece in manifest["pieces"]:
        group = f"run.{piece['run']}" if "run" in piece else "flanges"
        part = again.objects[f"{group}/{piece['id']}"]
        assert part.color is not None
        kind = "target" if piece["kind"] == "straight" and piece["run"] in targets else piece["kind"]
        colors.setdefault(kind, set()).add(part.color.toTuple())
        assert isinstance(part.obj, cq.Shape)
        assert volume(part.obj) == pytest.approx(volume(bodies[piece["id"]]), rel=1e-6)
        assert part.obj.Center().toTuple() == pytest.approx(bodies[piece["id"]].Center().toTuple(), abs=1e-4)
    # Cap and elbow are both fittings; a flange, a log and a pipe that ends on it differ.
    assert all(len(of_kind) == 1 for of_kind in colors.values())
    assert colors["cap"] == colors["elbow"]
    assert len(set.union(*colors.values())) == len(colors) - 1


def test_no_two_parts_share_metal(bodies: dict[str, cq.Solid]):
    for (one, a), (other, b) in combinations(bodies.items(), 2):
        assert common_volume(a, b) < 1.0, (one, other)


def joined(joint: dict) -> tuple[str, str]:
    """The two parts of a joint of the manifest."""
    if joint["kind"] == "cope":
        return joint["branch"]["piece"], joint["target"]["piece"]
    return (joint["before"], joint["after"]) if joint["kind"] == "butt" else (joint["pipe"], joint["plate"])


def test_parts_of_every_joint_touch(manifest: dict, bodies: dict[str, cq.Solid]):
    # 18 parts hang together by 17 joints; four primaries side by side close three loops more.
    assert len(manifest["joints"]) == 17 + 3
    for joint in manifest["joints"]:
        one, other = joined(joint)
        assert bodies[one].distance(bodies[other]) < 0.01, joint["id"]


def test_every_stl_is_watertight_and_of_its_parts_volume(built: Path, bodies: dict[str, cq.Solid]):
    for name, body in bodies.items():
        mesh = trimesh.load_mesh(built / f"solids/{name}.stl")
        assert mesh.is_watertight, name
        assert mesh.is_winding_consistent, name
        assert mesh.body_count == 1, name
        assert mesh.volume == pytest.approx(volume(body), rel=0.01), name


def test_glb_is_the_step_in_metres(built: Path, manifold, bodies: dict[str, cq.Solid]):
    scene = trimesh.load_scene(built / "solids/assembly.glb")
    shown = {**bodies, **{part.name: part.body for part in envelope_parts(manifold.layout)}}
    box = cq.Compound.makeCompound(list(shown.values())).BoundingBox()
    extents = np.array([[box.xmin, box.ymin, box.zmin], [box.xmax, box.ymax, box.zmax]])
    assert scene.bounds == pytest.approx(extents / 1000.0, abs=1e-4)
    assert set(scene.graph.nodes_geometry) == set(shown)
    for name, body in shown.items():
        transform, geometry = scene.graph[name]
        box = body.BoundingBox()
        mesh = scene.geometry[geometry].copy().apply_transform(transform)
        sizes = np.array([box.xlen, box.ylen, box.zlen])
        assert mesh.extents == pytest.approx(sizes / 1000.0, abs=2e-4), name


def digests(folder: Path) -> dict[str, str]:
    files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def test_same_bytes_twice_in_a_process_and_in_a_fresh_one(built: Path, demo: Path, tmp_path: Path):
    first = digests(built)
    assert len([path for path in first if path.startswith("solids/")]) == 3 + 2 * 18
    again = rootgap.load(demo).build(tmp_path / "again").folder
    assert digests(again) == first
    # Nor does a build load scipy, which would cost a cold one a third of a second.
    call = "import sys, rootgap; rootgap.load(sys.argv[1]).build(sys.argv[2]); assert 'scipy' not in sys.modules"
    subprocess.run(
        [sys.executable, "-c", call, str(demo), str(tmp_path / "fresh")],
        check=True,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(path for path in sys.path if path), "PYTHONHASHSEED": "7"},
    )
    assert digests(tmp_path / "fresh" / built.name) == first
