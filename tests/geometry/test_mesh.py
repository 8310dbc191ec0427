"""Distances to bodies of triangles, against closed forms, and against every triangle looked at."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from rootgap.geometry.distance import Block
from rootgap.geometry.frames import Frame, turned, unit, vector
from rootgap.geometry.mesh import TOLERANCE, Mesh
from rootgap.geometry.winding import Winding


def lumpy(subdivisions: int) -> trimesh.Trimesh:
    """A closed body with hollows and humps, 700 mm long."""
    ball = trimesh.creation.icosphere(subdivisions, 1.0)
    swell = 1.0 + 0.3 * np.sin(5.0 * ball.vertices[:, 0]) * np.cos(4.0 * ball.vertices[:, 1])
    return trimesh.Trimesh(ball.vertices * swell[:, None] * (350.0, 200.0, 250.0), ball.faces, process=False)


BODIES = {
    "box": trimesh.creation.box((420.0, 180.0, 190.0)),
    "slender": trimesh.creation.cylinder(4.0, 900.0, sections=12),
    "ring": trimesh.creation.torus(80.0, 20.0),
    "star": trimesh.creation.icosphere(1, 90.0),
    "lumpy": lumpy(4),
}


def solid_angle(triangles: np.ndarray, point: np.ndarray) -> float:
    """What triangles, (n, 3, 3), take up of a point's surroundings, by every one of them.

    Source: A. van Oosterom and J. Strackee, IEEE Transactions on Biomedical Engineering 30 (1983) 125.
    """
    a, b, c = (triangles[:, corner] - point for corner in range(3))
    one, two, three = (np.linalg.norm(each, axis=1) for each in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = one * two * three + (a * b).sum(axis=1) * three + (b * c).sum(axis=1) * one + (c * a).sum(axis=1) * two
    return float(2.0 * np.arctan2(over, under).sum())


def looked_at(body: trimesh.Trimesh, point: np.ndarray) -> float:
    """The signed distance by every triangle, its side by the solid angle of them all."""
    triangles = body.triangles
    nearest = trimesh.triangles.closest_point(triangles, np.repeat(point[None], len(triangles), axis=0))
    gap = float(np.linalg.norm(nearest - point, axis=1).min())
    return -gap if solid_angle(triangles, point) > 2.0 * np.pi else gap


@pytest.mark.parametrize("name", BODIES)
def test_distances_are_those_of_every_triangle(name: str) -> None:
    body, rng = BODIES[name], np.random.default_rng(5)
    mesh = Mesh.welded(body.triangles)
    far = rng.uniform(-600.0, 600.0, (60, 3))
    near = body.vertices[rng.integers(0, len(body.vertices), 60)] + rng.normal(0.0, 3.0, (60, 3))
    points = np.concatenate([far, near])
    told, exact = mesh.distance(points), np.array([looked_at(body, point) for point in points])
    assert mesh.closed
    assert (np.sign(told) == np.sign(exact)).all()
    assert (np.abs(told) >= np.abs(exact) - 1e-9).all()
    assert told == pytest.approx(exact, abs=TOLERANCE)
    assert told[60:] == pytest.approx(exact[60:], abs=1e-9)


def test_a_box_is_the_closed_form_at_its_edges_and_corners_too() -> None:
    mesh, block = Mesh.welded(BODIES["box"].triangles), Block.upright((0, 0, 0), (420.0, 180.0, 190.0))
    sides = [np.array([-0.5, 0.0, 0.5]) * size for size in (420.0, 180.0, 190.0)]
    points = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 3)
    for share in (0.9, 1.0, 1.2):
        assert mesh.distance(share * points) == pytest.approx(block.distance(share * points), abs=1e-9)


def test_no_distance_is_steeper_than_one() -> None:
    mesh, rng = Mesh.welded(BODIES["lumpy"].triangles), np.random.default_rng(6)
    points = rng.uniform(-500.0, 500.0, (2000, 3))
    steps = rng.normal(0.0, 10.0, (2000, 3))
    change = np.abs(mesh.distance(points + steps) - mesh.distance(points))
    assert (change <= np.linalg.norm(steps, axis=1) + 1e-9).all()


def test_what_is_inside_out_is_turned_round_body_by_body() -> None:
    one, other = BODIES["box"].triangles, BODIES["star"].triangles + (0.0, 500.0, 0.0)
    whole = Mesh.welded(np.concatenate([one, other]))
    mixed = Mesh.welded(np.concatenate([one, other[:, ::-1]]))
    points = np.random.default_rng(7).uniform(-400.0, 600.0, (500, 3))
    assert (whole.turned, mixed.turned) == (0, 1)
    assert mixed.distance(points) == pytest.approx(whole.distance(points), abs=1e-9)


def test_inside_any_of_several_bodies_is_inside() -> None:
    """A ball with a hollow, which counts as filled, and a bar that ends inside it, in turn inside out."""
    outer, hollow = trimesh.creation.icosphere(3, 300.0), trimesh.creation.icosphere(2, 50.0)
    bar = trimesh.creation.box((40.0, 40.0, 500.0)).apply_translation((0.0, 0.0, 250.0 + 100.0))
    bodies = [outer.triangles, hollow.triangles, bar.triangles]
    mesh = Mesh.welded(np.concatenate([outer.triangles, hollow.triangles[:, ::-1], bar.triangles]))
    alone = [Mesh.welded(outer.triangles), Mesh.welded(bar.triangles)]
    points = np.random.default_rng(13).uniform(-450.0, 450.0, (400, 3))
    inside = (alone[0].distance(points) < 0.0) | (alone[1].distance(points) < 0.0)
    assert (mesh.closed, mesh.tangled, alone[0].tangled) == (True, True, False)
    assert ((mesh.distance(points) < 0.0) == inside).all()
    gaps = [np.abs(Mesh.welded(each).distance(points)) for each in bodies]
    assert np.abs(mesh.distance(points)) == pytest.approx(np.min(gaps, axis=0), abs=1e-3)


def test_edges_without_a_triangle_are_counted() -> None:
    triangles = BODIES["lumpy"].triangles
    holed = np.delete(triangles, [10, 900], axis=0)
    crossed = triangles.copy()
    crossed[5] = crossed[5, ::-1]
    assert [Mesh.welded(each).open_edges for each in (triangles, holed, crossed)] == [0, 6, 3]


def winding(triangles: np.ndarray, point: np.ndarray) -> float:
    """The winding number by every triangle."""
    return solid_angle(triangles, point) / (4.0 * np.pi)


def test_clusters_wind_as_their_triangles_do() -> None:
    triangles = np.delete(BODIES["lumpy"].triangles, slice(0, 400), axis=0)
    clusters, rng = Winding.of(triangles), np.random.default_rng(11)
    points = np.concatenate([rng.uniform(-400.0, 400.0, (80, 3)), BODIES["lumpy"].vertices[::80] * 0.97])
    found = [clusters.number(point) for point in points]
    assert found == pytest.approx([winding(triangles, point) for point in points], abs=0.02)
    assert max(found) > 0.9
    assert min(found) < 0.05


def test_a_scan_with_holes_has_an_inside_and_a_tub_has_none() -> None:
    box = BODIES["box"].subdivide().subdivide().subdivide()
    holed = np.delete(box.triangles, [5, 90, 300], axis=0)
    points = np.random.default_rng(12).uniform((-150, -60, -60), (150, 60, 60), (200, 3))
    closed = Mesh.welded(box.triangles).distance(points)
    for triangles in (holed, holed[:, ::-1]):
        scan = Mesh.welded(triangles)
        told = scan.distance(points)
        assert not scan.closed
        assert np.abs(told) == pytest.approx(np.abs(closed), abs=6.0)
        assert (told < 0.0).mean() > 0.95
        assert (scan.distance(points + (500.0, 0.0, 0.0)) > 0.0).all()
    tub = Mesh.welded(box.triangles[box.face_normals[:, 1] < 0.9])
    assert (tub.distance(points) > 0.0).all()


def test_nothing_is_no_mesh() -> None:
    with pytest.raises(ValueError, match="no triangle has an area"):
        Mesh.welded(np.zeros((4, 3, 3)))


@pytest.mark.parametrize(
    ("degrees", "axes"),
    [
        ((90, 0, 0), [(1, 0, 0), (0, 0, 1), (0, -1, 0)]),
        ((0, 90, 0), [(0, 0, -1), (0, 1, 0), (1, 0, 0)]),
        ((0, 0, 90), [(0, 1, 0), (-1, 0, 0), (0, 0, 1)]),
        ((90, 0, 90), [(0, 1, 0), (0, 0, 1), (1, 0, 0)]),
    ],
)
def test_turns_are_about_fixed_axes_one_after_the_other(degrees, axes) -> None:
    assert turned(degrees) == pytest.approx(np.array(axes), abs=1e-12)
    x, _, z = turned(degrees)
    frame = Frame(vector((0, 0, 0)), unit(z), unit(x))
    assert frame.side == pytest.approx(np.array(axes[1]), abs=1e-12)
