"""Dividers in their runs: where they stand, their seams, their plates and bodies."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError
from rootgap.joints import DividerEnd, DividerWeld
from rootgap.manifold import Manifold
from rootgap.solids import bodies, whole

ROOT = Path(__file__).parent.parent.parent

LOG = """
name  = "case"
units = "mm"
[stock.log]
pipe     = "2-1/2 sch 40"
material = "A53 B"
[stock.outlet]
pipe     = "2 sch 10"
material = "304L"
[run.log]
stock  = "log"
start  = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 300 }]
ends   = ["cap", "cap"]
"""
OUTLET = """
[run.outlet]
stock  = "outlet"
start  = {{ off = "log", station = 150, clock = 30, lean = {lean} }}
pieces = [{{ straight = 50 }}, {{ straight = 40 }}]
[divider.plate]
run       = "outlet"
clock     = {clock}
through   = {through}
thickness = 4
gap       = 0.4
material  = "304L"
"""
BULKHEAD = """
[divider.wall]
run       = "log"
station   = 120
thickness = 5
gap       = 1
material  = "A53 B"
"""
#: Inside radii, mm, from ASME B36.10M / B36.19M outside diameters and walls.
R_LOG, R_LOG_OUT, R_OUTLET = 0.5 * (73.0 - 2 * 5.16), 36.5, 0.5 * (60.3 - 2 * 2.77)


def made(folder: Path, text: str) -> Manifold:
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8")
    return rootgap.load(path)


def welds(manifold: Manifold) -> dict[str, float]:
    return {joint.piece: joint.weld_length for joint in manifold.joints if isinstance(joint, DividerWeld)}


def shared(manifold: Manifold) -> dict[tuple[str, str], float]:
    """The volumes, mm3, that any two bodies share, each body of the volume that the closed forms give."""
    made = {piece.id: whole.body(piece, manifold.joints) for piece in manifold.layout.pieces()}
    found = {
        (one, other): bodies.common_volume(made[one], made[other]) for one, other in combinations(made, 2)
    }
    return {pair: volume for pair, volume in found.items() if volume > 0.01}


def test_a_bulkhead_is_a_round_plate_across_its_run(tmp_path):
    manifold = made(tmp_path, LOG + BULKHEAD)
    (wall,) = manifold.layout.dividers.values()
    assert wall.middle.origin == pytest.approx([120.0, 0.0, 0.0])
    assert abs(wall.middle.axis) == pytest.approx([1.0, 0.0, 0.0])
    assert wall.volume == pytest.approx(np.pi * (R_LOG - 1.0) ** 2 * 5.0)
    assert welds(manifold) == {"log-a": pytest.approx(2.0 * np.pi * (R_LOG - 1.0), rel=1e-6)}
    assert not shared(manifold)


def test_a_divider_alone_goes_down_its_run_from_end_to_end(tmp_path):
    manifold = made(tmp_path, LOG + OUTLET.format(lean=90, clock=0, through="false"))
    (plate,) = manifold.layout.dividers.values()
    wide = 2.0 * np.sqrt((R_OUTLET - 0.4) ** 2 - 2.0**2)
    assert plate.volume == pytest.approx(wide * 90.0 * 4.0)
    assert welds(manifold) == {"outlet-a": pytest.approx(100.0), "outlet-b": pytest.approx(80.0)}


@pytest.mark.parametrize(("lean", "clock"), [(90, 90), (90, 270), (65, 90), (90, 70), (120, 100)])
def test_a_divider_through_a_log_is_one_plate_that_touches_nothing(tmp_path, lean, clock):
    manifold = made(tmp_path, LOG + OUTLET.format(lean=lean, clock=clock, through="true"))
    (plate,) = manifold.layout.dividers.values()
    outlet = manifold.layout.runs["outlet"]
    assert abs((outlet.end.origin - plate.middle.origin) @ plate.middle.axis) < 1e-9
    assert abs(outlet.end.axis @ plate.middle.axis) < 1e-12
    # The origin lies on the log's axis at the station that the outlet leaves.
    assert plate.middle.origin == pytest.approx([150.0, 0.0, 0.0], abs=1e-9)
    assert not shared(manifold)
    # Outline and body lie within log and outlet, the gap off their bores.
    points = plate.outline.points(0.01)
    for side in (-2.0, 2.0):
        face = plate.middle.advanced(side)
        world = face.origin - points[:, :1] * face.side + points[:, 1:] * face.ref
        in_log = np.hypot(world[:, 1], world[:, 2]) - (R_LOG - 0.4)
        lag = world - outlet.start.origin
        in_outlet = np.linalg.norm(np.cross(lag, outlet.start.axis), axis=1) - (R_OUTLET - 0.4)
        assert np.minimum(in_log, in_outlet).max() < 1e-6


def test_the_seams_of_a_square_one_add_up_to_its_edge(tmp_path):
    manifold = made(tmp_path, LOG + OUTLET.format(lean=90, clock=90, through="true"))
    (plate,) = manifold.layout.dividers.values()
    assert plate.tongue is not None
    seams = welds(manifold)
    half = plate.tongue.half
    assert sum(seams.values()) + 2.0 * half == pytest.approx(plate.outline.length, rel=1e-6)
    assert seams["outlet-a"] == pytest.approx(2.0 * (R_LOG_OUT + 50.0 - np.sqrt(R_LOG_OUT**2 - half**2)))
    assert seams["outlet-b"] == pytest.approx(80.0)


def test_the_demos_slot_is_milled_into_its_land(tmp_path):
    manifold = rootgap.load(ROOT / "assemblies" / "hill-climb-six.toml")
    (end,) = [joint for joint in manifold.joints if isinstance(joint, DividerEnd)]
    assert (end.land, end.depth, end.weld_length) == (pytest.approx(6.0, abs=1e-3), 4.0, 0.0)
    plate = manifold.layout.plates["turbine"]
    body = whole.body(plate, manifold.joints)
    wide = 2.0 * (manifold.layout.dividers["twin"].tongue.half + 0.5)
    assert bodies.volume(body) == pytest.approx(plate.volume - wide * 4.0 * 4.0, rel=1e-6)
    (pattern,) = [pattern for pattern in manifold.patterns if pattern.name == "flange.turbine"]
    (slot,) = [item.shape for item in pattern.drawn if item.layer == "mark.slot"]
    assert abs(slot.area) == pytest.approx(wide * 4.0)


def test_the_demos_plate_has_a_pattern_with_true_arcs_and_marks():
    manifold = rootgap.load(ROOT / "assemblies" / "hill-climb-six.toml")
    (pattern,) = [pattern for pattern in manifold.patterns if pattern.kind == "divider"]
    plate = manifold.layout.dividers["twin"]
    cut = [item.shape for item in pattern.drawn if item.layer.startswith("cut")]
    assert cut == [plate.outline]
    assert cut[0].closed
    assert {label.text for label in pattern.labels} == {
        "bore of log-a",
        "outside of log-a",
        "end of outlet-a: face of the flange",
        "log-a, axis here",
        "saw here to get it in",
    }
    assert any("does not go in through the hole of log-a" in note for note in pattern.notes)


def test_a_tongue_wider_than_the_log_it_goes_through_is_refused(tmp_path):
    text = LOG + OUTLET.format(lean=90, clock=90, through="true")
    thin = text.replace('pipe     = "2 sch 10"', "pipe     = { od = 73, wall = 1.6 }")
    with pytest.raises(GeometryError, match=r"divider\.plate: in log-a a tongue .* is wider than the disc"):
        _ = made(tmp_path, thin).layout
