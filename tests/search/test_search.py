"""Searches over a small file, held against every one of its layouts laid out, joined and checked by itself."""

from __future__ import annotations

import itertools
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import rootgap
import rootgap.errors
from rootgap.checks import all_checks
from rootgap.checks.clearance import Space
from rootgap.errors import GeometryError
from rootgap.joints import find_joints
from rootgap.layout import lay_out
from rootgap.search.judge import Judge
from rootgap.search.seek import search
from rootgap.search.space import parameters, whole
from rootgap.search.variants import Variants
from rootgap.spec import load_assembly
from rootgap.stock import material

ROOT = Path(__file__).parents[2]
SPHERE = '\n[keepout.{}]\nsphere = {{ at = {}, diameter = 20 }}\nclearance = 5\nside = "{}"\n'
NEAR_A_TURBO = "".join(
    SPHERE.format(name, at, side)
    for name, at, side in (
        ("one", [355, -65, 297], "engine"),
        ("two", [499, -29, 288], "chassis"),
        ("three", [392, -128, 53], "chassis"),
    )
)
NEAR_TWO_LOGS = "".join(
    SPHERE.format(name, at, side)
    for name, at, side in (
        ("one", [-66, 44, 310], "engine"),
        ("two", [308, 39, -318], "chassis"),
        ("three", [-41, 137, -235], "engine"),
    )
)
STARTER = ("starter", [60.0, 150.0, 140.0], 10.0)
PUMP = ("pump", [60.0, 40.0, 190.0], 10.0)


def every_layout(path):
    """Every combination by itself: its choice, and the least margin of its checks; None where it does not close."""
    assembly, source = load_assembly(path)
    spent = parameters(source, assembly)
    variants = Variants(source, assembly, spent)
    for choice in itertools.product(*(range(len(each.values)) for each in spent)):
        try:
            layout = lay_out(variants.whole(choice))
            findings = all_checks(layout, find_joints(layout))
        except GeometryError:
            yield choice, None, None
            continue
        near = [each.value - each.limit for each in findings if each.check in ("clearance", "hot clearance")]
        failed = {each.check for each in findings if each.verdict == "fail"}
        yield choice, min(near, default=np.inf), failed


class TestAgainstEveryLayoutByItself:
    @pytest.mark.parametrize("keepouts", [(STARTER,), (STARTER, PUMP), (("near", [60.0, 118.0, 180.0], 4.0),)])
    def test_what_is_found_is_the_best_that_passes(self, bay, keepouts):
        path = bay(*keepouts)
        passing = {choice: margin for choice, margin, failed in every_layout(path) if failed == set()}
        result = rootgap.load(path).search(shown=30)
        assert bool(result.found) == bool(passing)
        for found in result.found:
            assert found.choice in passing
            assert found.margin == pytest.approx(passing[found.choice], abs=0.15)
        best = max(min(margin, result.goal.margin.enough) for margin in passing.values())
        assert min(result.found[0].margin, result.goal.margin.enough) == pytest.approx(best, abs=0.15)

    def test_nothing_is_cleared_that_a_check_finds_too_near(self, bay):
        """Nor anything left out that is clear by more than what the fast distances may be off."""
        path = bay(STARTER, PUMP)
        assembly, source = load_assembly(path)
        result = search(source, assembly, lambda *_: None, shown=1)
        margins = [margin for _, margin, _ in every_layout(path) if margin is not None]
        assert sum(margin >= 0.2 for margin in margins) <= result.cleared <= sum(margin >= -0.05 for margin in margins)


def test_a_pipe_ends_flat_where_a_flange_closes_it(searched):
    """8 mm before the face of the flange on the log, wherever that goes: a round end would stick out 24 mm there."""
    result = searched(("door", [200.0, 100.0, 125.0], 5.0))
    assert result.found
    # The face, 172 mm along x from the head's datum, grows towards it.
    grown = 172.0 * material("carbon steel").growth(20.0, 600.0)
    assert max(found.margin for found in result.found) == pytest.approx(3.0 - grown, abs=0.05)


@pytest.mark.parametrize(
    ("demo", "text"),
    [
        # Beside the turbo's housing and its filter, which growth from the head moves.
        ("sand-rail-four", NEAR_A_TURBO),
        # Between two heads, of which each log grows from its own.
        ("jet-boat-v6", NEAR_TWO_LOGS),
    ],
)
def test_growth_and_motion_take_of_the_margin_what_the_check_says(tmp_path, demo, text):
    shutil.copytree(ROOT / "parts", tmp_path / "parts")
    path = tmp_path / "assemblies" / "case.toml"
    path.parent.mkdir()
    whole_ = (ROOT / "assemblies" / f"{demo}.toml").read_text(encoding="utf-8")
    path.write_text(whole_ + text + '[search.x]\nsets = "keepout.one.clearance"\nvalues = [5]\n', encoding="utf-8")
    assembly, source = load_assembly(path)
    variants = Variants(source, assembly, parameters(source, assembly))
    judge = Judge(variants, -1e9)
    (figures,) = judge.judge(whole(variants.parameters), lambda *_: None, whole=True).figures(-np.inf)
    layout = lay_out(variants.whole((0,)))
    space = Space(layout, find_joints(layout))
    for name, margin in zip(judge.names, figures.margins[0], strict=True):
        if name in ("one", "two", "three"):
            row = space.nearest(name, space.cold)
            # Growth takes more than half a millimetre: the cold distances alone would not do.
            assert row.cold.distance - row.hot.distance > 0.5
            assert margin == pytest.approx(row.margin, abs=0.1)


def test_the_same_twice_and_with_other_processes(bay, monkeypatch):
    path = bay(STARTER, PUMP)
    monkeypatch.setattr("rootgap.search.seek._PAYS", -1.0)
    monkeypatch.setattr("rootgap.search.seek._PART", 10)
    results = [rootgap.load(path).search(cores=cores) for cores in (1, 1, 2)]
    plain = [replace(result, seconds=0.0, held=0.0) for result in results]
    assert plain[0] == plain[1] == plain[2]


def test_a_coarse_search_comes_to_the_same_best(bay, monkeypatch):
    path = bay(STARTER, PUMP)
    fine = rootgap.load(path).search()
    monkeypatch.setattr("rootgap.search.seek.MOST_WORK", 20)
    monkeypatch.setattr("rootgap.search.seek._COARSE_WORK", 20)
    coarse = rootgap.load(path).search()
    assert coarse.found[0].settings == fine.found[0].settings
    assert coarse.tried != fine.tried


def test_the_front_is_ordered_and_nothing_on_it_is_dominated(searched):
    result = searched(STARTER)
    costs = [
        (-round(min(each.margin, result.goal.margin.enough), 1), each.welds, round(each.pipe), round(each.turn * 2))
        for each in result.found
    ]
    assert costs == sorted(costs)
    for one, other in itertools.permutations(costs, 2):
        assert any(a < b for a, b in zip(one, other, strict=True))


def test_a_rank_puts_its_figure_first(searched):
    result = searched(STARTER, more='\n[goal]\nrank = ["turn"]\n')
    assert result.goal.order == ("turn", "margin", "welds", "pipe")
    assert result.found[0].turn == min(each.turn for each in result.found)


class TestNothingFits:
    def test_one_keepout_alone(self, searched):
        conflict = searched(("starter", [60.0, 118.0, 170.0], 25.0), PUMP).conflict
        assert conflict is not None
        assert conflict.between == ("keepout.starter",)

    def test_the_smallest_change_lets_it_fit(self, bay):
        """Done in the file as it is told, a search finds that layout; with a millimetre less it does not."""
        at, clearance = [60.0, 118.0, 170.0], 25.0
        result = rootgap.load(bay(("starter", at, clearance))).search()
        change = result.conflict.changes[0]
        assert change.what == "keepout.starter"
        assert change.to == pytest.approx(clearance - change.by)
        eased = rootgap.load(bay(("starter", at, change.to))).search()
        assert change.settings in [found.settings for found in eased.found]
        assert not rootgap.load(bay(("starter", at, change.to + 1.0))).search().found

    def test_a_move_of_a_keepout_lets_it_fit(self, bay):
        at = [60.0, 118.0, 170.0]
        result = rootgap.load(bay(("starter", at, 10.0))).search()
        assert not result.found
        (change,) = result.conflict.changes
        moved = [float(each) for each in np.array(at) + change.move]
        assert rootgap.load(bay(("starter", moved, 10.0))).search().found

    def test_a_move_is_no_longer_than_it_must_be(self, bay):
        """With half a millimetre less nothing fits."""
        at = [20.0, 118.0, 150.0]
        (change,) = rootgap.load(bay(("starter", at, 10.0))).search().conflict.changes
        move = np.array(change.move)
        shorter = (np.array(at) + move * (1.0 - 0.5 / np.linalg.norm(move))).tolist()
        assert rootgap.load(bay(("starter", (at + move).tolist(), 10.0))).search().found
        assert not rootgap.load(bay(("starter", shorter, 10.0))).search().found

    @pytest.mark.parametrize(
        ("goal", "thing"),
        [("welds = { most = 5 }", "welds"), ("pipe = { most = 300 }", "pipe"), ("turn = { most = 60 }", "turn")],
    )
    def test_a_limit_that_excludes_everything_is_named(self, searched, goal, thing):
        result = searched(STARTER, more=f"\n[goal]\n{goal}\n")
        assert result.conflict.between == (f"goal.{thing}",)
        change = result.conflict.changes[0]
        assert change.what == f"goal.{thing}"
        eased = searched(
            STARTER, more=f"\n[goal]\n{thing} = {{ most = {change.to:.1f} }}\n" if thing != "welds" else ""
        )
        assert eased.found

    def test_a_margin_that_nothing_has(self, searched):
        result = searched(STARTER, more="\n[goal]\nmargin = { least = 80, enough = 90 }\n")
        assert result.conflict.between == ("keepout.starter",)

    def test_nothing_closes(self, bay):
        path = bay(STARTER, search='\n[search.out]\nsets = "run.log.start.at.z"\nfrom = 400\nto = 420\nstep = 10\n')
        result = rootgap.load(path).search()
        assert (result.found, result.conflict) == ((), None)
        assert any(first.startswith("primary.1") for _, first in result.refused.values())


def test_from_the_keyboard_it_stops_with_the_best_so_far(bay, monkeypatch):
    monkeypatch.setattr("rootgap.search.seek._PART", 10)
    told = []

    def progress(what: str, done: int, of: int) -> None:
        told.append(what)
        if what == "placing runs" and done > 0.5 * of:
            raise KeyboardInterrupt

    result = rootgap.load(bay(STARTER)).search(progress)
    assert result.stopped
    assert 0 < result.tried < result.combinations
    assert result.found


def test_the_whole_grid_is_every_value():
    assert whole(()).size == 1


class TestWritten:
    def test_only_what_was_chosen_changes_and_comments_stay(self, bay):
        path = bay(STARTER)
        manifold = rootgap.load(path)
        result = manifold.search()
        new = manifold.changed(result, 1, path.with_name("mine.toml"))
        before, after = path.read_text(encoding="utf-8"), new.read_text(encoding="utf-8")
        said, *rest = after.split("\n", 2)
        assert said.startswith("# From case.toml by search: margin ")
        settings = result.found[0].settings
        expected = (
            before.replace('name  = "case"', 'name  = "mine"')
            .replace("at = [-60, 105, 125]", f"at = [-60, {settings['height']:g}, {settings['depth']:g}]")
            .replace('{ elbow = "LR", angle = 62,', f'{{ elbow = "LR", angle = {settings["lean"]:g},')
        )
        assert rest[1] == expected
        assert path.read_text(encoding="utf-8") == before
        assert not [each for each in rootgap.load(new).checks() if each.verdict == "fail"]

    def test_never_over_a_file_unasked(self, bay):
        path = bay(STARTER)
        manifold = rootgap.load(path)
        result = manifold.search()
        before = path.read_bytes()
        with pytest.raises(rootgap.errors.WriteError, match="it is there already; name another file, or add --force"):
            manifold.changed(result, 1, path)
        assert path.read_bytes() == before
        assert manifold.changed(result, 1, path, over=True).read_bytes() != before

    def test_only_beside_the_file(self, bay, tmp_path):
        path = bay(STARTER)
        manifold = rootgap.load(path)
        with pytest.raises(rootgap.errors.WriteError, match=r"its parts are found from the folder of case\.toml"):
            manifold.changed(manifold.search(), 1, tmp_path / "elsewhere" / "a.toml")


def test_a_range_of_whole_numbers_may_count(bay):
    """How many cuts a bend has: a whole number alone will do."""
    path = bay(search="")
    text = path.read_text(encoding="utf-8").replace('elbow = "LR", angle = 62', "pie = 75, angle = 66, cuts = 2")
    more = '\n[search.cuts]\nsets = "run.primary.pieces[2].cuts"\nfrom = 1\nto = 3\nstep = 1\n'
    path.write_text(text + more, encoding="utf-8")
    assembly, source = load_assembly(path)
    (cuts,) = parameters(source, assembly)
    assert [(value, type(value)) for value in cuts.values] == [(1, int), (2, int), (3, int)]


def test_a_file_without_a_search_is_refused(bay):
    with pytest.raises(rootgap.errors.InputErrors, match="search: nothing to search; add a table such as"):
        rootgap.load(bay(STARTER, search="")).search()
