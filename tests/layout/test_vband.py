"""V-band rings: where they stand, what they weigh, how their volume comes out of simple bodies."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError, InputErrors
from rootgap.joints import Butt, Clamp, PocketWeld
from rootgap.layout import Ring
from rootgap.solids.bodies import common_volume, volume
from rootgap.solids.whole import body
from rootgap.spec import VbandPart, load_part

PARTS = Path(__file__).parent.parent.parent / "parts"
#: Pipe 76.1 x 2: its bore's radius, mm.
BORE = 36.05
FILE = """
name = "case"
units = "mm"
[stock.a]
pipe = {{ od = {od}, wall = 2.0 }}
material = "304"
[vband.a]
name = "a"
kind = "vband"
units = "mm"
material = "304"
pipe = 76.1
outside = 92
length = 20
rim = 3
groove = 20
clamp = {{ outside = 106, width = 20 }}
{more}
[run.a]
stock  = "a"
start  = {{ at = [10, 20, 30], along = [0.6, 0, 0.8] }}
pieces = [{{ straight = 40 }}, {{ vband = "a"{male} }}, {{ straight = 50 }}]
"""
PILOT = "pilot = { diameter = 80, height = 2, clearance = 0.15 }"
POCKET = "pocket = { depth = 5, clearance = 0.2, hub = 81 }"


def clamped(tmp_path: Path, more: str = "", male: str = "", od: float = 76.1) -> rootgap.Manifold:
    file = tmp_path / "case.toml"
    file.write_text(FILE.format(more=more, male=male, od=od), encoding="utf-8")
    return rootgap.load(file)


def rings(manifold: rootgap.Manifold) -> tuple[Ring, Ring]:
    first, second = (piece for piece in manifold.layout.runs["a"].pieces if isinstance(piece, Ring))
    return first, second


def pappus(area: float, centroid: float) -> float:
    """A section's area, mm2, times the way of its centroid, mm."""
    return area * 2.0 * math.pi * centroid


def blank(hub: float, rim: float = 46.0) -> float:
    """The volume of a plain ring, mm3: hub to its end, rim, and the triangle of the slope between."""
    rise = rim - hub
    run = rise * math.tan(math.radians(20.0))
    return (
        pappus(20.0 * (hub - BORE), 0.5 * (hub + BORE))
        + pappus(3.0 * rise, 0.5 * (rim + hub))
        # The slope falls to nothing at the rim's radius: its centroid lies a third of its rise up.
        + pappus(0.5 * rise * run, hub + rise / 3.0)
    )


def tube(length: float, outer: float, inner: float = BORE) -> float:
    return math.pi * (outer**2 - inner**2) * length


@pytest.mark.parametrize("male", ["", ', male = "downstream"'])
def test_volumes_are_those_of_pappus(tmp_path: Path, male: str):
    """Hub, rim and slope, the pilot's tube on the male one, its recess out of the female one."""
    manifold = clamped(tmp_path, PILOT, male)
    wanted = [blank(38.05) + tube(2.0, 40.0), blank(38.05) - tube(2.15, 40.15)]
    for ring, expected in zip(rings(manifold), wanted[:: -1 if male else 1], strict=True):
        assert ring.volume == pytest.approx(expected, rel=1e-12)
        assert volume(body(ring, manifold.joints)) == pytest.approx(expected, rel=1e-7)
    assert [ring.male for ring in rings(manifold)] == ([False, True] if male else [True, False])


def test_a_pocket_is_taken_out_of_the_hub(tmp_path: Path):
    manifold = clamped(tmp_path, POCKET)
    expected = blank(40.5) - tube(5.0, 38.25)
    for ring in rings(manifold):
        assert ring.volume == pytest.approx(expected, rel=1e-12)
        assert volume(body(ring, manifold.joints)) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("more", "stack"), [("", 40.0), ("gap = 1.5", 41.5), (POCKET, 30.0), (f"gap = 0.8\n{POCKET}", 30.8)]
)
def test_the_stack_is_both_rings_less_their_pockets_and_the_gap(tmp_path: Path, more: str, stack: float):
    run = clamped(tmp_path, more).layout.runs["a"]
    assert [piece.id for piece in run.pieces] == ["a-a", "a-b", "a-c", "a-d"]
    assert run.length == pytest.approx(40 + stack + 50)
    assert run.end.origin == pytest.approx(np.array([10, 20, 30]) + (90 + stack) * np.array([0.6, 0, 0.8]))
    first, second = (piece for piece in run.pieces if isinstance(piece, Ring))
    assert first.part.stack == pytest.approx(stack)
    assert float((second.face.origin - first.face.origin) @ run.start.axis) == pytest.approx(first.part.gap)


def test_every_face_of_the_slope_leans_by_the_groove(tmp_path: Path):
    """The kernel's own normals: the cone of each rim's back against the plane square to the axis."""
    manifold = clamped(tmp_path, PILOT)
    for ring, sign in zip(rings(manifold), (-1.0, 1.0), strict=True):
        cones = [face for face in body(ring, ()).Faces() if face.geomType() == "CONE"]
        assert len(cones) == 1
        normal = np.array(cones[0].normalAt(None).toTuple())
        assert float(normal @ ring.start.axis) == pytest.approx(sign * math.cos(math.radians(20.0)), abs=1e-9)


@pytest.mark.parametrize("more", [PILOT, POCKET, f"gap = 1\n{PILOT}\n{POCKET}"])
def test_nothing_shares_metal_and_the_pilot_plays_in_its_recess(tmp_path: Path, more: str):
    manifold = clamped(tmp_path, more)
    solids = [body(piece, manifold.joints) for piece in manifold.layout.runs["a"].pieces]
    for index, one in enumerate(solids):
        for other in solids[index + 1 :]:
            assert common_volume(one, other) < 1e-6
    first, second = rings(manifold)
    if first.part.pilot:
        pilot = max(r for x, r in first.profile if x > first.length + 1e-6)
        recess = first.part.pilot.recess
        assert recess in [pytest.approx(r) for _, r in second.profile]
        assert recess - pilot == pytest.approx(0.15)


def test_joints_of_butted_rings(tmp_path: Path):
    before, between, after = clamped(tmp_path, PILOT).joints
    assert isinstance(before, Butt) and isinstance(between, Clamp) and isinstance(after, Butt)
    for joint in (before, after):
        assert joint.step == 0.0
        assert joint.weld_length == pytest.approx(math.pi * 76.1)
    assert (between.kind, between.weld_length) == ("clamp", 0.0)
    assert (between.groove, between.gap, between.pilot_clearance, between.step) == (20.0, 0.0, 0.15, 0.0)
    assert between.joined == ("a-b", "a-c")


def test_joints_of_rings_with_pockets(tmp_path: Path):
    before, between, after = clamped(tmp_path, POCKET).joints
    assert isinstance(before, PocketWeld) and isinstance(between, Clamp) and isinstance(after, PocketWeld)
    assert [joint.at for joint in (before, after)] == ["end", "start"]
    assert before.clearance == pytest.approx(0.2)
    assert before.weld_length == pytest.approx(math.pi * 76.1)
    assert between.pilot_clearance is None


def verdicts(manifold: rootgap.Manifold, check: str) -> list[str]:
    return [finding.verdict for finding in manifold.checks() if finding.check == check]


def test_a_pipe_of_another_size_fails(tmp_path: Path):
    assert verdicts(clamped(tmp_path, PILOT), "ring for pipe") == ["pass", "pass"]
    assert verdicts(clamped(tmp_path, PILOT, od=73.0), "ring for pipe") == ["fail", "fail"]
    # 76.4 goes into a pocket of 76.1 + 2 x 0.2, and not into one of 76.1 + 2 x 0.1.
    assert verdicts(clamped(tmp_path, POCKET, od=76.4), "ring for pipe") == ["pass", "pass"]
    tight = POCKET.replace("0.2", "0.1")
    assert verdicts(clamped(tmp_path, tight, od=76.4), "ring for pipe") == ["fail", "fail"]


@pytest.mark.parametrize(("clearance", "verdict"), [("0", "fail"), ("0.03", "warn"), ("0.15", "pass")])
def test_a_pilot_has_play(tmp_path: Path, clearance: str, verdict: str):
    manifold = clamped(tmp_path, PILOT.replace("0.15", clearance))
    assert verdicts(manifold, "pilot clearance") == [verdict]


def test_a_bore_that_leaves_no_metal_is_refused(tmp_path: Path):
    with pytest.raises(GeometryError, match=r"keeps 0\.2 mm of metal round its bore"):
        _ = clamped(tmp_path, PILOT.replace("80", "72.5")).layout


def test_the_skin_lies_on_the_profile(tmp_path: Path):
    for ring in rings(clamped(tmp_path, PILOT)):
        u, v = np.meshgrid(np.linspace(0, 1, 13), np.linspace(0, 1, 41))
        local = ring.start.to_local(ring.skin()(u.ravel(), v.ravel()))
        radius = np.hypot(local[:, 0], local[:, 1])
        assert radius.min() == pytest.approx(BORE)
        assert radius.max() <= 46.0 + 1e-9


def test_the_draft_part_is_a_part_and_says_where_it_is_from():
    part = load_part(PARTS / "vband-76.toml")
    assert isinstance(part, VbandPart)
    assert part.pipe == 76.1
    assert "measure your own before buying" in part.note


def test_a_part_of_no_kind_that_there_is(tmp_path: Path):
    (tmp_path / "p.toml").write_text('name = "a"\nkind = "vbnd"\n', encoding="utf-8")
    with pytest.raises(InputErrors, match=r'found "vbnd"; allowed: .*"vband".*; did you mean vband'):
        load_part(tmp_path / "p.toml")


def test_a_part_may_use_another_of_its_kind(tmp_path: Path):
    text = (PARTS / "vband-76.toml").read_text(encoding="utf-8")
    (tmp_path / "base.toml").write_text(text, encoding="utf-8")
    (tmp_path / "own.toml").write_text('use = "base.toml"\nname = "own"\ngap = 1.2\n', encoding="utf-8")
    part = load_part(tmp_path / "own.toml")
    assert isinstance(part, VbandPart)
    assert (part.name, part.gap, part.outside) == ("own", 1.2, 92.0)


def test_a_ring_behind_a_reducer_is_held_against_the_end_that_it_stands_on(tmp_path):
    file = tmp_path / "case.toml"
    text = FILE.format(od=76.1, male="", more="").replace("pieces = [{ straight = 40 },", "pieces = [CONE,")
    cone = '{ straight = 30 }, { cone = "a", length = 60 }'
    wide = '[stock.b]\npipe = { od = 90, wall = 2.0 }\nmaterial = "304"\n[vband.a]'
    text = text.replace("CONE", cone).replace("[vband.a]", wide).replace('stock  = "a"', 'stock  = "b"')
    file.write_text(text, encoding="utf-8")
    assert verdicts(rootgap.load(file), "ring for pipe") == ["pass", "pass"]
