"""The flat half of a build, read back as a stranger would: from the manifest and the files alone."""

from __future__ import annotations

import csv
import hashlib
import json
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf.math import bulge_to_arc

ALLOWED = {"LWPOLYLINE", "CIRCLE", "TEXT"}


@pytest.fixture(scope="module")
def manifest(built: Path) -> dict:
    return json.loads((built / "manifest.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def copes(manifest: dict) -> list[dict]:
    found = [joint for joint in manifest["joints"] if joint["kind"] == "cope"]
    assert len(found) == 4
    return found


def polylines(path: Path, layer: str) -> list[np.ndarray]:
    document = ezdxf.readfile(path)
    return [
        np.array(entity.get_points("xyb"))
        for entity in document.modelspace().query("LWPOLYLINE")
        if entity.dxf.layer == layer
    ]


def on_pipe(uv: np.ndarray, frame: dict, r_out: float, developed: float, v0: float) -> np.ndarray:
    """The sentence of the manifest's documentation, written out again."""
    origin, axis, ref = (np.array(frame[key]) for key in ("origin", "axis", "ref"))
    t = 2.0 * uv[:, 0] / developed
    across = np.cos(t)[:, None] * ref + np.sin(t)[:, None] * np.cross(axis, ref)
    return origin + (v0 + uv[:, 1])[:, None] * axis + r_out * across


def off_axis(points: np.ndarray, cylinder: dict) -> np.ndarray:
    """Distance of points from a cylinder's axis."""
    lag = points - np.array(cylinder["origin"])
    axis = np.array(cylinder["axis"])
    return np.linalg.norm(lag - (lag @ axis)[:, None] * axis, axis=1)


def along(line: np.ndarray, steps: int = 9, *, closed: bool = False) -> np.ndarray:
    """The points of a polyline, (n, 3), and points within each of its lines and arcs."""
    share = np.linspace(0.0, 1.0, steps)
    out = []
    for (x0, y0, bulge), (x1, y1, _) in pairwise(np.vstack([line, line[:1]]) if closed else line):
        start, end = complex(x0, y0), complex(x1, y1)
        if abs(bulge) < 1e-12:
            z = start + share * (end - start)
        else:
            center = 0.5 * (start + end) + 0.25j * (end - start) * (1.0 - bulge**2) / bulge
            z = center + (start - center) * np.exp(4j * np.arctan(bulge) * share)
        out.append(np.column_stack([z.real, z.imag]))
    return np.vstack(out)


def reach_of_bore(cope: dict, points: np.ndarray) -> np.ndarray:
    """For points of the cut on the branch's outside: where the generator of the bore at the same clock
    first meets the target, less the point's station, mm. By marching, without the closed form."""
    branch, target = cope["branch"], cope["target"]
    axis, origin = np.array(branch["axis"]), np.array(branch["origin"])
    lag = points - origin
    station = lag @ axis
    radial = lag - station[:, None] * axis
    radial /= np.linalg.norm(radial, axis=1, keepdims=True)
    start = origin + branch["r_in"] * radial
    low, high = np.zeros(len(points)), np.full(len(points), np.nan)
    for s in np.arange(0.0, 400.0, 0.25):
        inside = off_axis(start + s * axis, target) < target["r_out"]
        high = np.where(np.isnan(high) & inside, s, high)
    low = high - 0.25
    for _ in range(60):
        mid = 0.5 * (low + high)
        inside = off_axis(start + mid[:, None] * axis, target) < target["r_out"]
        low, high = np.where(inside, low, mid), np.where(inside, mid, high)
    return 0.5 * (low + high) - station


def test_the_cut_line_and_its_arcs_are_within_a_hundredth(built: Path, copes: list[dict]):
    """The demo's ends are bevelled: at the cut line's clock and station, the bore lies on the log."""
    for cope in copes:
        cut = cope["cut"]
        (line,) = polylines(built / cut["file"], cut["layer"])
        # Some fifty lines and arcs, for a hundred and fifty points on the curve.
        assert line[:, 2].any() and len(line) < 60
        uv = along(line)
        points = on_pipe(uv, cope["branch"], cope["branch"]["r_out"], cut["developed_diameter"], cut["v0"])
        assert off_axis(points, cope["branch"]) == pytest.approx(cope["branch"]["r_out"], abs=1e-9)
        assert np.abs(reach_of_bore(cope, points)).max() < 0.01


def test_the_cut_line_goes_once_round_and_closes(built: Path, copes: list[dict]):
    for cope in copes:
        cut = cope["cut"]
        (line,) = polylines(built / cut["file"], cut["layer"])
        turn = np.pi * cut["developed_diameter"]
        assert line[-1, 0] - line[0, 0] == pytest.approx(turn, abs=1e-6)
        assert line[-1, 1] == line[0, 1]
        shrink = 2 * cope["branch"]["r_out"] / cut["developed_diameter"]
        length = np.hypot(*np.diff(along(line) * (shrink, 1), axis=0).T)
        assert length.sum() == pytest.approx(cope["weld_length"], rel=1e-4)


def test_the_holes_outline_lies_on_the_branchs_bore(built: Path, copes: list[dict]):
    for cope in copes:
        hole = cope["hole"]
        (line,) = polylines(built / hole["file"], hole["layer"])
        points = on_pipe(along(line, closed=True), hole, cope["target"]["r_out"], hole["developed_diameter"], 0.0)
        assert np.abs(off_axis(points, cope["branch"]) - cope["branch"]["r_in"]).max() < 0.01


def test_cut_and_hole_close_on_each_other_in_space(built: Path, copes: list[dict]):
    """The cut line carried in to the bore is the hole's outline, to the files' tolerance."""
    for cope in copes:
        cut, hole, branch = cope["cut"], cope["hole"], cope["branch"]
        (line,) = polylines(built / cut["file"], cut["layer"])
        outside = on_pipe(along(line), branch, branch["r_out"], cut["developed_diameter"], cut["v0"])
        axis, origin = np.array(branch["axis"]), np.array(branch["origin"])
        station = (outside - origin) @ axis
        edge = origin + station[:, None] * axis
        edge = edge + (outside - edge) * branch["r_in"] / branch["r_out"]
        (ring,) = polylines(built / hole["file"], hole["layer"])
        rim = on_pipe(
            along(ring, 200, closed=True), hole, cope["target"]["r_out"],
            hole["developed_diameter"], 0.0,
        )
        gap = np.array([np.linalg.norm(rim - point, axis=1).min() for point in edge[::7]])
        assert gap.max() < 0.05


def test_every_dxf_is_clean(built: Path, manifest: dict):
    files = [entry for entry in manifest["files"] if entry["path"].endswith(".dxf")]
    # Two plates, four wraps, one wrap of holes, four trimmed elbows, the fixture's plates, and a sheet of them and
    # one of the flanges.
    (fixture,) = manifest["fixtures"]
    assert len(files) == 2 + 4 + 1 + 4 + len(fixture["plates"]) + 2
    for entry in files:
        document = ezdxf.readfile(built / entry["path"])
        auditor = document.audit()
        assert not auditor.errors and not auditor.fixes
        assert document.dxfversion == "AC1015"
        assert document.header["$INSUNITS"] == 4
        assert entry["units"] == "mm"
        entities = list(document.modelspace())
        assert {entity.dxftype() for entity in entities} <= ALLOWED
        assert entry["entities"] == sum(entity.dxftype() != "TEXT" for entity in entities)
        seen = set()
        for entity in entities:
            if entity.dxftype() == "LWPOLYLINE":
                points = np.array(entity.get_points("xyb"))
                steps = np.diff(np.vstack([points, points[:1]]) if entity.closed else points, axis=0)[:, :2]
                assert np.hypot(*steps.T).min() > 1e-6, "a zero-length step or a repeated end point"
                key = (entity.dxf.layer, points.round(6).tobytes())
            elif entity.dxftype() == "CIRCLE":
                key = (tuple(entity.dxf.center), entity.dxf.radius)
            else:
                continue
            assert key not in seen, "a duplicate"
            seen.add(key)


def test_plates_and_holes_are_closed_contours_and_a_wraps_sheet_closes(built: Path, manifest: dict):
    for entry in manifest["files"]:
        if not entry["path"].endswith(".dxf"):
            continue
        space = ezdxf.readfile(built / entry["path"]).modelspace()
        cuts = [entity for entity in space.query("LWPOLYLINE") if entity.dxf.layer.startswith("cut")]
        if entry["kind"] not in {"wrap template", "trim strip"}:
            assert cuts and all(entity.closed for entity in cuts)
            continue
        (cut,) = cuts
        (edge,) = [entity for entity in space.query("LWPOLYLINE") if entity.dxf.layer == "edge"]
        ends = np.array(cut.get_points("xy"))[[0, -1]]
        assert np.abs(np.array(edge.get_points("xy"))[[0, -1]] - ends).max() < 1e-3


def region(space, layers: set[str]) -> shapely.Polygon:
    """The outer contour less the inner ones, arcs sampled finely."""
    rings = []
    for entity in space:
        if entity.dxf.layer not in layers:
            continue
        if entity.dxftype() == "CIRCLE":
            center = shapely.Point(entity.dxf.center.x, entity.dxf.center.y)
            rings.append(center.buffer(entity.dxf.radius, quad_segs=512))
        elif entity.dxftype() == "LWPOLYLINE":
            rings.append(shapely.Polygon(flattened(np.array(entity.get_points("xyb")))))
    rings.sort(key=lambda ring: -ring.area)
    return rings[0].difference(shapely.union_all(rings[1:]))


def flattened(points: np.ndarray) -> np.ndarray:
    out = []
    for (x0, y0, bulge), (x1, y1, _) in zip(points, np.vstack([points[1:], points[:1]]), strict=True):
        out.append((x0, y0))
        if bulge:
            center, start, end, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
            sweep = (end - start) % (2 * np.pi)
            t = start + np.linspace(0, sweep, 200)[1:-1]
            arc = np.column_stack([center.x + radius * np.cos(t), center.y + radius * np.sin(t)])
            out.extend(arc if bulge > 0 else arc[::-1])
    return np.array(out)


def test_the_head_flange_is_the_region_that_the_part_describes(built: Path, manifold):
    """Area of plate, arcs and all, against an offset hull made by another library."""
    space = ezdxf.readfile(built / "flat" / "flange.head.dxf").modelspace()
    drawn = region(space, {"cut.outer", "cut.inner", "drill"})
    port = shapely.box(-18 + 8, -15 + 8, 18 - 8, 15 - 8).buffer(8, quad_segs=512)
    ports = [shapely.affinity.translate(port, x) for x in (0, 92, 214, 306)]
    bolts = [(x, side * y) for x, y in ((-34, 20), (46, 30), (153, 24), (260, 30), (340, 20)) for side in (1, -1)]
    metal = [p.buffer(13, quad_segs=512) for p in ports] + [shapely.Point(b).buffer(13, quad_segs=512) for b in bolts]
    outer = shapely.union_all(metal).buffer(25, quad_segs=512).buffer(-25, quad_segs=512)
    outer = shapely.Polygon(outer.exterior)
    holes = shapely.union_all([*ports, *(shapely.Point(b).buffer(4.5, quad_segs=512) for b in bolts)])
    assert drawn.area == pytest.approx(outer.difference(holes).area, rel=2e-5)
    assert drawn.symmetric_difference(outer.difference(holes)).area < 1.0


def test_the_manifest_lists_every_file_with_its_digest(built: Path, manifest: dict):
    on_disk = {str(path.relative_to(built)) for path in built.rglob("*") if path.is_file()} - {"manifest.json"}
    assert {entry["path"] for entry in manifest["files"]} == on_disk
    for entry in manifest["files"]:
        assert hashlib.sha256((built / entry["path"]).read_bytes()).hexdigest() == entry["sha256"]
        assert entry["kind"] and entry["part"] and entry["units"]


def test_the_cut_list_has_a_row_a_piece(built: Path, manifest: dict):
    with (built / "cutlist.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    (fixture,) = manifest["fixtures"]
    assert [row["mark"] for row in rows] == [piece["id"] for piece in (*manifest["pieces"], *fixture["plates"])]
    for row in rows:
        assert float(row["mass_kg"]) > 0
        for template in filter(None, row["template"].split("; ")):
            assert (built / template).is_file()


def test_frames_are_right_handed_and_runs_are_chains(manifest: dict):
    by_id = {piece["id"]: piece for piece in manifest["pieces"]}
    for piece in manifest["pieces"]:
        for frame in (piece["start"], piece.get("end")):
            if frame:
                axis, ref = np.array(frame["axis"]), np.array(frame["ref"])
                assert axis @ axis == pytest.approx(1) and ref @ ref == pytest.approx(1)
                assert axis @ ref == pytest.approx(0, abs=1e-8)
    for joint in manifest["joints"]:
        if joint["kind"] == "butt" and "end" in by_id[joint["before"]]:
            before, after = by_id[joint["before"]]["end"], by_id[joint["after"]]["start"]
            assert before["origin"] == pytest.approx(after["origin"], abs=1e-6)
