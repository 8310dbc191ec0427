"""Rules of practice, each against figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import rootgap
from rootgap.checks.all import all_checks
from rootgap.checks.angle import joint_angles, saw_angles
from rootgap.checks.bridge import between, bridges
from rootgap.checks.crotch import crotches
from rootgap.checks.finding import at_least, at_most, folded, worst
from rootgap.checks.fit import root_gaps
from rootgap.checks.grind import grinds
from rootgap.checks.size import branch_sizes
from rootgap.checks.step import bore_radii, bore_steps
from rootgap.geometry.frames import Frame, rotated, unit
from rootgap.geometry.tube import Bending, Tube
from rootgap.joints import Cope, Merge, Mitre
from rootgap.joints.bevel import Bevel
from rootgap.joints.cope import Share
from rootgap.joints.mitre import bisector

CONE = """name = "cone"
units = "mm"
[stock.small]
pipe = { od = 43, wall = 1.5 }
material = "304L"
[stock.large]
pipe = { od = 83, wall = 1.5 }
material = "304L"
[run.log]
stock = "small"
start = { at = [0, 0, 0], along = [1, 0, 0] }
pieces = [{ straight = 50 }, { cone = "large", length = LENGTHOFFSET }, { straight = 50 }]
ends = ["open", "open"]
"""
CLOCKS = np.radians(np.arange(0.0, 360.0, 1.0))
LOG = Frame.looking((0, 0, 0), (1, 0, 0), (0, 0, 1))
FAR = 300.0


def log(r_out: float = 50.0, wall: float = 5.0) -> Tube:
    """A straight along x; its clock 0 is up, z."""
    return Tube("log", "log-a", LOG, r_out, r_out - wall, 1000.0)


def branch(target: Tube, x: float, r_out=10.0, wall=2.0, lean=90.0, clock=0.0, offset=0.0, *, set_="on", run="b"):
    """A branch whose axis meets the log's at x, from the side of `clock`."""
    angle = np.radians(lean)
    up, side = LOG.radial(np.radians(clock)), LOG.radial(np.radians(clock + 90.0))
    axis = np.cos(angle) * LOG.axis - np.sin(angle) * up
    frame = Frame.looking(x * LOG.axis + offset * side - FAR * axis, axis)
    return Cope(f"{run}+log", Tube(run, f"{run}-a", frame, r_out, r_out - wall, FAR), target, set_, "bevel", 0.5)


def paired(apart: float) -> Cope:
    """The first of two that stand `apart` degrees from each other and meet in the plane between them."""
    target, lean = log(), 0.5 * apart
    first = branch(target, 498.0, 30.0, lean=90.0 - lean, run="a")
    second = branch(target, 502.0, 30.0, lean=90.0 + lean, run="b")
    return replace(first, shares=(Share("b", "b-a", bisector(first.branch, second.branch)),))


def mitred(turn: float, prep) -> Mitre:
    """Two pipes of 48 x 3 mm that turn by so many degrees."""
    on = np.array([np.sin(np.radians(turn)), 0.0, np.cos(np.radians(turn))])
    before = Tube("a", "a-a", Frame.looking((0, 0, -200), (0, 0, 1)), 24.0, 21.0, 200.0)
    return Mitre("m", before, Tube("a", "a-b", Frame.looking(200.0 * on, -on), 24.0, 21.0, 200.0), prep)


def found(check, *joints, pieces=()):
    return list(check(SimpleNamespace(pieces=lambda: iter(pieces)), joints))


class TestFolding:
    def warning(self, subject: str, value: float):
        return at_most("size", subject, value, 1.0, "mm", "none", "from memory", "less", "warn")

    def test_up_to_three_are_told_one_by_one(self):
        three = [self.warning(name, 2.0) for name in "abc"]
        assert folded(three) == tuple(three)

    def test_more_are_told_as_the_worst_that_names_the_others(self):
        passing = self.warning("p", 0.5)
        first, kept = folded([passing, *(self.warning(name, 2.0 + ord(name) % 3) for name in "abcd")])
        assert first is passing
        assert (kept.subject, kept.value, kept.alike) == ("b", 4.0, ("a", "c", "d"))

    def test_failures_are_told_one_by_one(self):
        many = [at_most("size", name, 2.0, 1.0, "mm", "none", "from memory", "less") for name in "abcde"]
        assert folded(many) == tuple(many)

    def test_the_worst_is_of_the_gravest_verdict_and_farthest_past_its_limit(self):
        low = at_least("room", "a", 3.0, 9.0, "mm", "none", "from memory", "more", "warn")
        lower = at_least("room", "b", 1.0, 9.0, "mm", "none", "from memory", "more", "warn")
        over = at_most("size", "c", 1.1, 1.0, "mm", "none", "from memory", "less")
        assert worst([low, lower]) is lower
        assert worst([low, lower, over]) is over


class TestBranchSize:
    """1-1/2 on 2: 48.3 / 60.3 = 0.80. 1-1/2 on 1-1/2: 1; 0.9 x 48.3 = 43.47, 48.3 / 0.9 = 53.67."""

    def test_one_size_down_passes(self):
        (finding,) = found(branch_sizes, branch(log(30.15), 500.0, 24.15))
        assert finding.value == pytest.approx(0.801, abs=5e-4)
        assert finding.verdict == "pass"

    def test_as_wide_as_its_log_is_warned_of_with_the_figures_that_mend_it(self):
        (finding,) = found(branch_sizes, branch(log(24.15), 500.0, 24.15))
        assert (finding.value, finding.verdict) == (1.0, "warn")
        assert finding.support == "common practice, no source"
        assert "a branch of at most 43.4 mm" in finding.advice
        assert "stock of at least 53.7 mm for run.log" in finding.advice
        (mended,) = found(branch_sizes, branch(log(53.7 / 2), 500.0, 24.15))
        assert mended.verdict == "pass"


class TestConeSlope:
    """From a bore of 40 mm to one of 80 the side goes 20 mm out: at 60 degrees that takes 20 / tan 60 = 11.55 mm."""

    @pytest.mark.parametrize(("length", "offset", "verdict"), [(11.6, 0, "pass"), (11.5, 0, "warn"), (15, 10, "warn")])
    def test_a_cone_is_no_flatter_than_60_degrees(self, tmp_path: Path, length: float, offset: float, verdict: str):
        file = tmp_path / "cone.toml"
        file.write_text(
            CONE.replace("LENGTH", str(length)).replace("OFFSET", f", offset = {offset}" if offset else ""),
            encoding="utf-8",
        )
        (finding,) = [each for each in rootgap.load(file).checks() if each.check == "cone slope"]
        assert finding.value == pytest.approx(np.degrees(np.arctan((20 + offset) / length)), abs=1e-9)
        assert finding.verdict == verdict
        assert f"at least {11.6 if not offset else 17.4} mm long" in finding.advice or verdict == "pass"


class TestGrind:
    """On the middle of a log its section along both axes is a straight line: a face at the grind g stands g + lean - 90
    over the acute side, and the obtuse side must be ground 90 - lean to clear."""

    @pytest.mark.parametrize("lean", [18.0, 25.0, 45.0, 160.0])
    def test_the_obtuse_side_is_ground_as_far_as_the_branch_leans(self, lean: float):
        (finding,) = found(grinds, branch(log(), 500.0, lean=lean))
        wanted = abs(90.0 - lean)
        assert finding.value == pytest.approx(wanted, abs=1e-6)
        assert finding.verdict == ("pass" if wanted <= 70.0 else "warn")
        assert f"turn it {wanted - 70.0:.1f} deg nearer square" in finding.advice or wanted <= 70.0

    @pytest.mark.parametrize(("lean", "least"), [(40.0, 20.0), (60.0, 40.0), (70.0, 45.0)])
    def test_the_acute_side_opens_no_farther_than_a_grind_of_70(self, lean: float, least: float):
        joint = replace(branch(log(), 500.0, lean=lean), bevel=Bevel(0.0, 45.0))
        steepest, groove = found(grinds, joint)
        assert steepest.value <= 70.0
        assert groove.value == pytest.approx(least, abs=1e-6)
        assert groove.verdict == ("pass" if least == 45.0 else "warn")
        assert f"turn it {45.0 - least:.1f} deg nearer square" in groove.advice or least == 45.0

    def test_of_what_two_that_share_a_plane_need_each_gives_half(self):
        """Two that stand 36 degrees apart: each is ground 90 less 18 at the middle, and 40 between them leave 70."""
        steepest, groove = found(grinds, replace(paired(36.0), bevel=Bevel(0.0, 20.0)))
        assert steepest.value == pytest.approx(72.0, abs=1e-3)
        assert "4.0 deg more between them" in steepest.advice
        assert groove.value == pytest.approx(0.0, abs=1e-3)
        _, groove = found(grinds, replace(paired(60.0), bevel=Bevel(0.0, 20.0)))
        assert groove.verdict == "pass"
        assert groove.value == pytest.approx(20.0, abs=1e-3)

    def test_a_mitre_and_a_merge_are_told_what_opens_them(self):
        for finding in found(grinds, mitred(146.0, "bevel")):
            # Source: elementary; half of the turn is ground off at the throat.
            assert finding.value == pytest.approx(73.0, abs=1e-6)
            assert 'let it turn 6.0 deg less, or use prep = "flat"' in finding.advice
        findings = found(grinds, Merge("collector.x", LOG, 4, 12.0, 20.0, 18.0, 400.0, "bevel"))
        # Source: worked out; neighbours of four lean to the plane between them by asin(sin 12 sin 45).
        steepest = 90.0 - np.degrees(np.arcsin(np.sin(np.radians(12.0)) * np.sin(np.radians(45.0))))
        assert [finding.value for finding in findings] == pytest.approx([steepest] * 4, abs=0.1)
        assert 'half_angle of collector.x), or use prep = "flat"' in findings[0].advice

    def test_a_square_end_is_not_ground(self):
        assert found(grinds, replace(branch(log(), 500.0, lean=18.0), prep="square")) == []


class TestRootGap:
    @pytest.mark.parametrize(("turn", "verdict"), [(20.0, "pass"), (40.0, "fail")])
    def test_square_ends_of_a_mitre_stand_open_at_the_bore(self, turn: float, verdict: str):
        """Each is cut off 3 tan(turn / 2) too short for its bore, opposite each other; 1.5 is half the wall."""
        (finding,) = found(root_gaps, mitred(turn, "square"))
        assert finding.value == pytest.approx(6.0 * np.tan(np.radians(0.5 * turn)), abs=1e-9)
        assert (finding.limit, finding.verdict) == (1.5, verdict)
        assert found(root_gaps, mitred(turn, "flat"))[0].value == pytest.approx(0.0, abs=1e-9)

    def test_so_do_square_legs_of_a_merge(self):
        merge = Merge("collector.x", LOG, 3, 20.0, 20.0, 18.0, 400.0, "square")
        (finding,) = found(root_gaps, merge)
        # Source: worked out; neighbours lean to the plane between them by asin(sin a sin(pi / n)).
        lean = np.arcsin(np.sin(np.radians(20.0)) * np.sin(np.pi / 3.0))
        assert finding.value == pytest.approx(2.0 * 2.0 / np.tan(lean), rel=1e-3)
        assert finding.verdict == "fail"
        assert found(root_gaps, replace(merge, prep="bevel"))[0].verdict == "pass"


class TestCrotch:
    @pytest.mark.parametrize("lean", [20.0, 29.0, 31.0, 45.0, 90.0, 150.0, 155.0])
    def test_on_the_middle_it_is_the_lean(self, lean):
        (finding,) = found(crotches, branch(log(), 500.0, lean=lean))
        least = min(lean, 180.0 - lean)
        assert finding.value == pytest.approx(least, abs=1e-9)
        assert finding.verdict == ("pass" if least >= 30.0 - 1e-9 else "warn")
        assert f"at least {30.0 - least:.1f} deg nearer square" in finding.advice or least >= 30.0 - 1e-9

    def test_beside_the_middle_the_near_side_closes(self):
        """Square on, 38 mm beside the middle of a log of 50: the inner side stands at acos((38 - 10) / 50)."""
        (finding,) = found(crotches, branch(log(), 500.0, offset=38.0))
        assert finding.value == pytest.approx(np.degrees(np.arccos(28.0 / 50.0)), abs=1e-6)

    def test_equal_sizes_run_into_each_other_at_the_sides(self):
        joint = branch(log(24.15), 500.0, 24.15)
        angles = joint.crotch(CLOCKS)
        assert np.nanmin(angles) == pytest.approx(90.0, abs=1e-9)
        assert np.nanmax(angles) == pytest.approx(180.0, abs=1e-5)

    def test_of_a_set_in_branch_it_is_the_groove(self):
        joint = branch(log(), 500.0, lean=50.0, offset=20.0, set_="in")
        assert joint.crotch(CLOCKS) == pytest.approx(joint.groove(CLOCKS), abs=1e-7)

    def test_between_two_branches(self):
        """Two that lean 20 degrees apart, feet overlapping: the crotch between them is the less than 30."""
        target = log(50.0)
        first = branch(target, 500.0, 15.0, run="a")
        second = branch(target, 512.0, 15.0, lean=110.0, run="b")
        whole = replace(first.branch, length=first.branch.length + 50.0)
        (finding,) = found(crotches, replace(second, neighbours=(whole,)))
        assert finding.verdict == "warn"
        assert finding.value < 30.0
        assert "between b and a" in finding.advice


    @pytest.mark.parametrize("apart", [24.0, 36.0, 50.0])
    def test_between_two_that_share_a_plane_it_is_what_their_axes_stand_apart(self, apart):
        """Mirror images: where the plane cuts their outer lines these stand as far apart as the axes do."""
        joint = paired(apart)
        (finding,) = found(crotches, joint)
        assert finding.value == pytest.approx(apart, abs=1e-3)
        assert finding.verdict == ("pass" if apart >= 30.0 else "warn")
        # The log alone stands under them as open as they lean.
        alone = replace(joint, shares=()).crotch(CLOCKS)
        assert np.nanmin(alone) == pytest.approx(90.0 - 0.5 * apart, abs=1e-6)


class TestBridge:
    def test_along_a_log_it_is_the_spacing_less_the_bores(self):
        target = log()
        one, other = branch(target, 500.0, run="a"), branch(target, 540.0, run="c")
        assert between(one, other) == pytest.approx(40.0 - 16.0, abs=1e-3)

    def test_its_limit_is_two_legs_the_walls_that_stand_on_it_and_the_logs_wall(self):
        """Walls of 2 on a log's 5: set-on 2 x (2 + 2) + 5 = 13; set-in, whose walls stand in their holes, 2 x 2 + 5."""
        target = log()
        on = [branch(target, x, run=f"b{x}") for x in (500.0, 528.0)]
        into = [branch(target, x, run=f"b{x}", set_="in") for x in (500.0, 529.5)]
        (first,), (second,) = found(bridges, *on), found(bridges, *into)
        assert (first.limit, first.value, first.verdict) == (13.0, pytest.approx(12.0, abs=1e-3), "warn")
        # The set-in hole is the outside and a clearance of 0.5: 29.5 - 2 x 10.5.
        assert (second.limit, second.value, second.verdict) == (9.0, pytest.approx(8.5, abs=1e-3), "warn")
        assert "set them 1.0 mm farther apart on run.log" in first.advice
        (mended,) = found(bridges, on[0], branch(target, 529.1, run="c"))
        assert mended.verdict == "pass"

    @pytest.mark.parametrize("clocks", [(0.0, 60.0), (-30.0, 30.0), (170.0, -170.0), (200.0, 520.0)])
    def test_round_a_log_it_is_the_arc_less_two_half_openings(self, clocks):
        """A bore of 8 in a log of 60 spans 2 x 60 asin(8 / 60) of arc."""
        target = log(60.0)
        one, other = (branch(target, 500.0, clock=clock, run=f"b{clock}") for clock in clocks)
        apart = abs((clocks[1] - clocks[0] + 180.0) % 360.0 - 180.0)
        arc = 60.0 * (np.radians(apart) - 2.0 * np.arcsin(8.0 / 60.0))
        assert between(one, other) == pytest.approx(arc, abs=2e-3)

    def test_openings_that_run_into_each_other_have_less_than_none(self):
        target = log()
        one, other = branch(target, 500.0, run="a"), branch(target, 510.0, run="c")
        # Two circles of 8 mm, 10 apart along the log's top line, are 6 mm into each other there.
        assert between(one, other) == pytest.approx(-6.0, abs=0.05)

    def test_on_a_bend_it_is_the_chord_between_the_outlines(self):
        """In the plane of a bend of 200 mm its back is a circle of 230; bores of 8 reach asin(8 / 230) each way."""
        bend = Tube("log", "log-a", LOG, 30.0, 25.0, 200.0 * np.radians(90.0), Bending(200.0, 180.0))
        centre = LOG.origin - 200.0 * LOG.ref
        joints = []
        for number, angle in enumerate((30.0, 45.0)):
            outward = rotated(LOG.ref, LOG.side, -np.radians(angle))
            frame = Frame.looking(centre + 400.0 * outward, -outward)
            tube = Tube(f"b{number}", f"b{number}-a", frame, 10.0, 8.0, 200.0)
            joints.append(Cope(f"b{number}+log", tube, bend, "on", "bevel", 0.5))
        gap = np.radians(15.0) - 2.0 * np.arcsin(8.0 / 230.0)
        assert between(*joints) == pytest.approx(2.0 * 230.0 * np.sin(gap / 2.0), abs=5e-3)

    def test_only_neighbours_are_told(self, manifold):
        subjects = [finding.subject for finding in bridges(manifold.layout, manifold.joints)]
        assert subjects == ["primary.1 and primary.2", "primary.3 and primary.4"]

    def test_but_all_that_are_short(self):
        target = log()
        joints = [branch(target, 500.0 + 25.0 * n, run=f"b{n}") for n in range(3)]
        assert [finding.verdict for finding in found(bridges, *joints)] == ["warn", "warn"]


class TestAngles:
    def test_pieces_of_a_layout_stand_in_line(self, manifold):
        (finding,) = joint_angles(manifold.layout, manifold.joints)
        assert (finding.subject, finding.verdict) == ("all butt joints", "pass")
        assert finding.value < 1e-6

    @pytest.mark.parametrize(("kink", "verdict"), [(2.9, "pass"), (3.1, "fail"), (10.0, "fail")])
    def test_a_kink_is_found(self, manifold, kink, verdict):
        pieces = list(manifold.layout.pieces())
        (number,) = (n for n, piece in enumerate(pieces) if piece.id == "outlet-b")
        start = pieces[number].start
        bent = replace(start, axis=unit(rotated(start.axis, start.side, np.radians(kink))))
        pieces[number] = replace(pieces[number], start=bent)
        (finding,) = found(joint_angles, *manifold.joints, pieces=pieces)
        assert finding.value == pytest.approx(kink, abs=1e-9)
        assert finding.verdict == verdict
        assert verdict == "pass" or (finding.subject, finding.support) == ("outlet-a+outlet-b", "standard")

    @pytest.mark.parametrize(
        ("angle", "cuts", "verdict", "enough"), [(90, 2, "pass", 2), (90, 1, "warn", 2), (180, 3, "warn", 4)]
    )
    def test_a_mitre_is_sawn_at_22_and_a_half_degrees_at_most(self, tmp_path, angle, cuts, verdict, enough):
        """ASME B31.3 304.2.3; the saw angle is the bend's over twice its cuts."""
        (finding,) = saw_angles(case(tmp_path, f"{{ pie = 95, angle = {angle}, cuts = {cuts} }}").layout, ())
        assert finding.value == pytest.approx(angle / 2 / cuts)
        assert finding.verdict == verdict
        assert verdict == "pass" or f"of {enough} cuts: 22.5 deg each" in finding.advice


CASE = """
name = "case"
units = "mm"
[stock.a]
pipe = "{pipe}"
material = "304L"
[run.a]
stock  = "a"
start  = {{ at = [0, 0, 0], along = [0, 0, 1] }}
pieces = [{{ straight = 40 }}, {piece}, {{ straight = 40 }}]
ends   = ["cap", "cap"]
{more}
"""


def case(folder: Path, piece: str, pipe: str = "1-1/2 sch 10", more: str = "") -> rootgap.Manifold:
    file = folder / "case.toml"
    file.write_text(CASE.format(piece=piece, pipe=pipe, more=more), encoding="utf-8")
    return rootgap.load(file)


class TestStep:
    @pytest.mark.parametrize(
        ("pipe", "step", "verdict"),
        [
            ("1-1/2 sch 10", 0.40 / 2 + 0.125 * 2.77 + 0.8 / 2, "pass"),
            ("2-1/2 sch 40", 0.73 / 2 + 0.125 * 5.16 + 0.8 / 2, "pass"),
            ("2-1/2 sch 80", 0.73 / 2 + 0.125 * 7.01 + 0.8 / 2, "warn"),
            ("3 sch 40", 0.889 / 2 + 0.125 * 5.49 + 1.6 / 2, "warn"),
        ],
    )
    def test_bought_pipe_and_fittings_may_step(self, tmp_path, pipe, step, verdict):
        """ASTM A53: 1/64 in or 1 % on the outside, wall 12.5 % thinner; ASME B16.9: 0.8 mm on the bore to NPS 2-1/2."""
        made = case(tmp_path, '{ elbow = "LR", angle = 60 }', pipe)
        findings = list(bore_steps(made.layout, made.joints))
        assert [finding.value for finding in findings] == pytest.approx([step] * 4, abs=2e-3)
        assert {(finding.check, finding.verdict) for finding in findings} == {("possible bore step", verdict)}
        assert verdict == "pass" or "measure both ends" in findings[0].advice

    def test_four_alike_are_told_as_one(self, tmp_path):
        made = case(tmp_path, '{ elbow = "LR", angle = 60 }', "3 sch 40")
        warned = [finding for finding in all_checks(made.layout, made.joints) if finding.verdict == "warn"]
        assert [(finding.check, len(finding.alike)) for finding in warned] == [("possible bore step", 3)]

    @pytest.mark.parametrize(("wall", "step", "verdict"), [(3.0, 0.23, "pass"), (4.4, 1.63, "warn")])
    def test_measured_ends_make_the_step_that_they_make(self, tmp_path, wall, step, verdict):
        """The run at 48.3 x 2.77 and its elbow at a thicker wall, by caliper."""
        piece = f'{{ elbow = "LR", angle = 60, measured = {{ od = 48.3, wall = {wall} }} }}'
        made = case(tmp_path, piece, more="measured = { od = 48.3, wall = 2.77 }")
        cap, into, out, _ = bore_steps(made.layout, made.joints)
        assert (cap.check, cap.value) == ("bore step", 0.0)
        assert (into.value, out.value) == (pytest.approx(step), pytest.approx(step))
        assert into.verdict == verdict
        assert verdict == "pass" or "taper the bore of a-b out by at least 0.1 mm" in into.advice

    def test_a_mitre_of_two_walls_steps_as_a_butt_joint_does(self, tmp_path):
        """Sch 10 into sch 40: 0.91 mm of wall, and what ASTM A53 lets both be off."""
        thick = "[stock.thick]\npipe = '1-1/2 sch 40'\nmaterial = '304L'"
        made = case(tmp_path, '{ mitre = 20, stock = "thick" }', more=thick)
        (finding,) = (each for each in bore_steps(made.layout, made.joints) if each.subject == "a-a+a-b")
        assert finding.value == pytest.approx(3.68 - 2.77 + 0.40 + 0.125 * 2.77, abs=3e-3)
        assert finding.verdict == "warn"

    @pytest.mark.parametrize(
        ("bore", "verdict", "smaller"), [(44.0, "pass", ""), (46.0, "warn", "a-a"), (39.4, "warn", "salvage.x")]
    )
    def test_a_round_salvaged_piece_steps_too(self, tmp_path, bore, verdict, smaller):
        """Onto 42.76 mm of bore."""
        file = tmp_path / "case.toml"
        text = CASE.format(piece="{ straight = 10 }", pipe="1-1/2 sch 10", more="")
        text = text.replace("{ at = [0, 0, 0], along = [0, 0, 1] }", '"x.cut"').replace('["cap", "cap"]', '["cap"]')
        text = text.replace('ends   = ["cap"]', 'end = "cap"')
        file.write_text(
            text + f"[salvage.x]\nat = [0, 0, 0]\nalong = [0, 0, 1]\nopening = {{ round = {bore} }}\nwall = 6\n"
        )
        made = rootgap.load(file)
        (finding,) = (each for each in bore_steps(made.layout, made.joints) if each.subject == "salvage.x+a-a")
        assert finding.value == pytest.approx(abs(bore - 42.76) / 2.0)
        assert (finding.check, finding.verdict) == ("bore step", verdict)
        assert smaller in finding.advice

    def test_one_measured_end_leaves_the_others_tolerance(self, tmp_path):
        piece = '{ elbow = "LR", angle = 60, measured = { od = 48.3, wall = 2.77 } }'
        made = case(tmp_path, piece)
        _, into, _, _ = bore_steps(made.layout, made.joints)
        assert (into.check, into.value) == ("possible bore step", pytest.approx(0.2 + 0.125 * 2.77, abs=2e-3))

    def test_the_bore_of_a_pipe_is_its_tables_or_larger_but_for_the_outside(self, manifold):
        pipe = manifold.layout.runs["log"].pieces[0]
        assert bore_radii(pipe) == (
            pytest.approx(pipe.stock.r_in - 0.365, abs=1e-3),
            pytest.approx(pipe.stock.r_in + 0.365 + 0.645, abs=1e-3),
        )


def test_the_demo_keeps_every_rule(manifold):
    assert {finding.verdict for finding in manifold.checks()} == {"pass"}


def test_every_warning_and_failure_says_what_would_mend_it_and_how_far_it_is_backed():
    root = Path(__file__).parent.parent
    for finding in rootgap.load(root / "built" / "curved.toml").checks():
        assert finding.support
        assert finding.verdict == "pass" or finding.advice
