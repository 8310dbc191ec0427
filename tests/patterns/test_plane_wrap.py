"""Wraps of mitres and merge legs, rolled up again."""

from __future__ import annotations

import numpy as np
import pytest

import rootgap
from rootgap import stock
from rootgap.geometry.distance import Union
from rootgap.geometry.frames import Frame
from rootgap.geometry.tube import Tube
from rootgap.joints.merge import Merge
from rootgap.joints.mitre import Mitre
from rootgap.patterns.plane_wrap import leg_wrap, mitre_wraps

PIPE = stock.pipe("1-1/2 sch 10", "304L")
PAPER = 0.1
#: What every file promises of a cut line, mm.
PROMISED = 0.01


def rolled(pattern, frame: Frame, between: int = 9) -> np.ndarray:
    """Return the cut line of a wrap, and points on its chords, back on its pipe, (n, 3), mm."""
    (line,) = [drawn.shape for drawn in pattern.drawn if drawn.layer == "cut"]
    flat = np.array(line.vertices)[:, :2]
    share = np.linspace(0.0, 1.0, between)[:, None, None]
    flat = (flat[:-1] + share * np.diff(flat, axis=0)).reshape(-1, 2)
    facts = dict(pattern.facts)
    words = facts["Datum edge"]
    v0 = 0.0 if words == "the square end" else float(words.split()[0])
    t = flat[:, 0] / (0.5 * (PIPE.od + PAPER))
    return frame.origin + PIPE.r_out * frame.radial(t) + (v0 + flat[:, 1:]) * frame.axis


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize("half_angle", [5.0, 12.0, 20.0])
def test_a_flat_legs_line_lies_on_its_planes(count, half_angle):
    frame = Frame.looking((0, 0, 0), (0, 0, 1))
    joint = Merge("collector", frame, count, half_angle, PIPE.r_out, PIPE.r_in, 700.0, "flat", -40.0)
    for number, leg in enumerate(joint.legs):
        pattern = leg_wrap(joint, leg, PIPE, PAPER)
        apart = Union(joint.planes(number)).distance(rolled(pattern, leg.tube.frame))
        # A plane that leans l to the pipe is passed by the sine of it for each mm on the pipe.
        assert np.abs(apart).max() < PROMISED
        assert pattern.name == f"collector.{number + 1}.wrap"


@pytest.mark.parametrize("prep", ["square", "bevel", "flat"])
def test_corners_are_points_of_the_line(prep):
    joint = Merge("collector", Frame.looking((0, 0, 0), (0, 0, 1)), 4, 9.0, PIPE.r_out, PIPE.r_in, 700.0, prep, -40.0)
    leg = joint.legs[1]
    (line,) = [drawn.shape for drawn in leg_wrap(joint, leg, PIPE, PAPER).drawn if drawn.layer == "cut"]
    clocks = np.array(line.vertices)[:, 0] / (0.5 * (PIPE.od + PAPER))
    apart = np.abs((clocks[:, None] - leg.corners + np.pi) % (2.0 * np.pi) - np.pi).min(axis=0)
    assert leg.corners.size >= 3
    assert apart.max() < 2e-5


def test_what_a_legs_sheet_says():
    frame = Frame.looking((0, 0, 0), (0, 0, 1))
    joint = Merge("collector", frame, 4, 9.0, PIPE.r_out, PIPE.r_in, 700.0, "bevel", -40.0)
    pattern = leg_wrap(joint, joint.legs[0], PIPE)
    facts = dict(pattern.facts)
    assert facts["Merges"] == "1 of 4, 9.00 deg to the collector's axis"
    assert facts["Outlet"] == "-40.0 mm from the apex along the gas"
    # Source: by brute force, the radius of the opening round the axis.
    psi = np.linspace(0.0, 2.0 * np.pi, 20001)
    area = 0.5 * np.trapezoid(joint.outline(-40.0, PIPE.r_in, psi) ** 2, psi)
    assert facts["Opening there"] == f"{area:.0f} mm2 of bore, {area / (np.pi * PIPE.r_in**2):.2f} of one leg's"
    assert facts["Largest root gap"] == "0.00 mm, and as much on the pipe that it meets"
    assert facts["Preparation"] == "bevel cut"
    assert pattern.notes[0].startswith("Cut to the line and leave it; the hatched side is waste. Then grind")
    assert {label.text for label in pattern.labels} >= {"1A", "1B", "1C", "1D", "0", "90", "180", "270"}


def test_a_mitres_two_wraps_meet():
    on = np.array([np.cos(0.6), np.sin(0.6), 0.0])
    frames = (Frame.looking((-300, 0, 0), (1, 0, 0)), Frame.looking(300 * on, -on))
    tubes = [Tube(n, f"{n}-a", f, PIPE.r_out, PIPE.r_in, 300.0) for n, f in zip("ab", frames, strict=True)]
    joint = Mitre("a+b", tubes[0], tubes[1], "flat")
    for pattern, frame in zip(mitre_wraps(joint, PIPE, PIPE, PAPER), frames, strict=True):
        apart = (rolled(pattern, frame)) @ joint.sides[0].planes[0].normal
        assert np.abs(apart).max() < PROMISED
        assert dict(pattern.facts)["Turn"] == "34.38 deg, sawn at 17.19 deg"


#: A straight between two mitres that turn by as much, there and back: its ends are parallel planes.
JOG = """
name = "jog"
units = "mm"
[stock.pipe]
pipe = "1-1/2 sch 10"
material = "304L"
[run.jog]
stock = "pipe"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [
    { straight = 80 }, { mitre = 40, clock = 25 }, { straight = LONG }, { mitre = 40, clock = 205 }, { straight = 80 },
]
ends = ["cap", "cap"]
"""


@pytest.mark.parametrize("length", [76.0, 310.0])
def test_a_pipe_cut_at_both_ends_is_marked_from_the_ends_of_its_blank(length, tmp_path):
    """Laid out from the square ends of the blank, every line along the pipe is left as long as its axis."""
    file = tmp_path / "jog.toml"
    file.write_text(JOG.replace("LONG", f"{length}"), encoding="utf-8")
    patterns = {pattern.name: pattern for pattern in rootgap.load(file).patterns}
    far, near = (patterns[f"jog-b.{name}"] for name in ("wrap", "wrap-start"))
    # Source: elementary; each plane leans 20 degrees, so that the blank stands over by r tan 20 at both ends.
    blank = length + 2.0 * PIPE.r_out * np.tan(np.radians(20.0))
    clocks = np.radians(np.arange(0.0, 360.0, 15.0))
    left = np.full(clocks.shape, -blank)
    for pattern, sign in ((far, 1.0), (near, -1.0)):
        facts = dict(pattern.facts)
        assert facts["Blank"] == f"{blank:.1f} mm long, square at both ends"
        assert facts["Cut from the square end"].endswith(f" to {blank:.2f} mm")
        assert "mark both ends before either is cut" in pattern.notes[0]
        (line,) = [drawn.shape for drawn in pattern.drawn if drawn.layer == "cut"]
        u, v = np.array(line.vertices)[:, :2].T
        words = facts["Datum edge"]
        datum = 0.0 if words == "the square end" else float(words.split()[0])
        assert datum >= 0.0
        turn = np.pi * (PIPE.od + PAPER)
        # Clocks run the other way round on the wrap of a start.
        at = u[0] + (sign * clocks / (2.0 * np.pi) * turn - u[0]) % turn
        left += datum + np.interp(at, u, v)
    assert left == pytest.approx(np.full(clocks.shape, length), abs=2.0 * PROMISED)


def test_a_pipe_that_is_square_at_one_end_needs_no_blank():
    on = np.array([np.cos(0.6), np.sin(0.6), 0.0])
    frames = (Frame.looking((-300, 0, 0), (1, 0, 0)), Frame.looking(300 * on, -on))
    tubes = [Tube(n, f"{n}-a", f, PIPE.r_out, PIPE.r_in, 300.0) for n, f in zip("ab", frames, strict=True)]
    for pattern in mitre_wraps(Mitre("a+b", tubes[0], tubes[1], "flat"), PIPE, PIPE, PAPER):
        assert "Blank" not in dict(pattern.facts)
        assert "both ends" not in " ".join(pattern.notes)
