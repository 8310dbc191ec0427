"""Patterns that bolt onto each other, turned, flipped, slotted or never, against figures worked out by hand."""

from __future__ import annotations

import json
import re
import sys
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from rootgap import cli
from rootgap.errors import GeometryError
from rootgap.plates.match import LONGEST_SLOT, Fit, match
from rootgap.plates.told import match_rows, port_fit_rows
from rootgap.spec import FlangePart
from rootgap.stock import bolt_diameter, bolt_through
from rootgap.writers.overlay import overlay_svg

#: Four bolts and two ports that no turn and no mirror brings back: the plate has a hand.
HANDED = [(0.0, 0.0), (96.0, 4.0), (90.0, 62.0), (-18.0, 34.0)]
PORTS = [((22.0, 26.0), {"rounded": [36, 30], "radius": 8}), ((70.0, 32.0), {"dee": [34, 30], "radius": 6})]


def flange(
    bolts: Sequence[tuple[float, float]],
    ports: Sequence[tuple[tuple[float, float], dict]] = (((45.0, 28.0), {"round": 40}),),
    hole: float = 9.0,
    thread: str = "M8",
    name: str = "plate",
) -> FlangePart:
    return FlangePart.model_validate(
        {
            "name": name,
            "kind": "flange",
            "units": "mm",
            "material": "carbon steel",
            "thickness": 12,
            "outline": {"edge": 12, "boss": 12, "fillet": 30},
            "port": [{"at": list(at), "opening": opening} for at, opening in ports],
            "bolts": [{"hole": hole, "thread": thread, "at": [list(at) for at in bolts]}] if len(bolts) else [],
        }
    )


def by_name(fits: Sequence[Fit]) -> dict[str, Fit]:
    return {fit.orientation: fit for fit in fits}


def test_a_plate_fits_itself_as_it_is_and_a_handed_one_no_other_way() -> None:
    fits = by_name(match(flange(HANDED, PORTS), flange(HANDED, PORTS)))
    assert fits["as it is"].verdict == "bolts up"
    assert fits["as it is"].worst == pytest.approx(-0.5, abs=1e-6)  # ISO 273: M8 in 9 mm, half a millimetre round it
    assert {fit.verdict for word, fit in fits.items() if word != "as it is"} == {"never"}


def test_a_plate_fits_its_own_mirror_when_it_is_mirrored() -> None:
    other = flange([(-x, y) for x, y in HANDED], [((-x, y), opening) for (x, y), opening in PORTS])
    fits = by_name(match(flange(HANDED, PORTS), other))
    assert [word for word, fit in fits.items() if fit.verdict == "bolts up"] == ["mirrored"]
    fit = fits["mirrored"]
    assert fit.shift == pytest.approx((0.0, 0.0), abs=1e-4)
    assert [(pair.hole, pair.bolt) for pair in fit.pairs] == [(1, 1), (2, 2), (3, 3), (4, 4)]
    # The openings are their own mirrors about their middles, so every port is open.
    for port in fit.ports:
        assert (port.masked, port.dam, port.ledge) == pytest.approx((0, 0, 0), abs=0.03)


def test_upside_down_is_mirrored_and_turned() -> None:
    fits = by_name(match(flange(HANDED), flange([(x, -y) for x, y in HANDED], [((45.0, -28.0), {"round": 40})])))
    assert [word for word, fit in fits.items() if fit.verdict == "bolts up"] == ["mirrored and turned"]


@settings(max_examples=15)
@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(-4, 4), st.permutations(range(4)))
def test_a_known_shift_and_turn_come_back_however_the_bolts_are_counted(
    x: float, y: float, turn: float, order: list[int]
) -> None:
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    there = np.array(HANDED) @ np.array([[cos, -sin], [sin, cos]]).T + (x, y)
    middle = np.array([45.0, 28.0]) @ np.array([[cos, -sin], [sin, cos]]).T + (x, y)
    other = flange([tuple(there[k]) for k in order], [(tuple(middle), {"round": 40})])
    fit = by_name(match(flange(HANDED), other))["as it is"]
    assert fit.verdict == "bolts up"
    assert (fit.turn, *fit.shift) == pytest.approx((turn, x, y), abs=1e-3)
    assert [pair.hole for pair in fit.pairs] == [k + 1 for k in order]
    assert fit.worst == pytest.approx(-0.5, abs=1e-4)


def test_two_bolts_farther_apart_need_slots_of_that_length_in_all() -> None:
    """100 on 103 mm, M8 in 9 mm holes: 3 less half a millimetre at each end is 2 mm of slot, along the plate."""
    ports = (((50.0, 0.0), {"round": 40}),)
    there = (((51.5, 0.0), {"round": 40}),)
    fit = by_name(match(flange([(0, 0), (100, 0)], ports), flange([(0, 0), (103, 0)], there)))["as it is"]
    assert fit.verdict == "with slots"
    assert sum(pair.excess for pair in fit.slots) == pytest.approx(2.0, abs=1e-3)
    assert all(abs(np.sin(np.radians(pair.direction))) < 1e-2 for pair in fit.slots)
    assert all(pair.slot == pytest.approx(9.0 + pair.excess) for pair in fit.slots)


def test_one_bolt_out_of_place_is_one_slot() -> None:
    """One of six is 3 mm up: the plate slides up by its clearance of 0.5, the bolt has 0.5, and 2 mm are left."""
    six = [(0, 0), (60, 0), (120, 0), (0, 50), (60, 50), (120, 50.0)]
    ports = (((30.0, 25.0), {"round": 30}), ((90.0, 25.0), {"round": 30}))
    moved = [*six[:4], (60, 53.0), six[5]]
    fit = by_name(match(flange(six, ports), flange(moved, ports)))["as it is"]
    (slot,) = fit.slots
    assert (slot.hole, slot.bolt) == (5, 5)
    assert slot.excess == pytest.approx(2.0, abs=1e-3)
    assert slot.direction == pytest.approx(90.0, abs=0.1)
    assert fit.verdict == "with slots"


@settings(max_examples=12)
@given(st.lists(st.tuples(st.floats(-1.2, 1.2), st.floats(-1.2, 1.2)), min_size=4, max_size=4))
def test_no_other_pose_is_better(errors: list[tuple[float, float]]) -> None:
    """Against a search that knows no slopes: the worst where it bolts up, the sum of slots where not."""
    bolts = np.array(HANDED) + errors
    fit = by_name(match(flange(HANDED), flange([tuple(row) for row in bolts])))["as it is"]
    holes = np.array(HANDED)

    def excesses(x: np.ndarray) -> np.ndarray:
        turn = x[2] / 50.0
        turned = (holes - 45.0) @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]).T + 45.0
        return np.hypot(*(bolts - turned - x[:2]).T) - 0.5

    def cost(x: np.ndarray) -> float:
        past = excesses(x)
        return float(past.max()) if fit.verdict == "bolts up" else float(np.maximum(past, 0.0).sum())

    options = {"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000}
    found = min(
        minimize(cost, np.random.default_rng(k).normal(0, 0.5, 3), method="Nelder-Mead", options=options).fun
        for k in range(6)
    )
    ours = fit.worst if fit.verdict == "bolts up" else sum(pair.excess for pair in fit.slots)
    assert ours <= found + 2e-3


def test_slots_share_a_misfit_that_is_too_much_for_one() -> None:
    """Two bolts 106 apart on holes 100 apart: 5 mm of slot in all, more than the 4.5 that one hole takes."""
    ports = (((50.0, 0.0), {"round": 40}),)
    there = (((53.0, 0.0), {"round": 40}),)
    fit = by_name(match(flange([(0, 0), (100, 0)], ports), flange([(0, 0), (106, 0)], there)))["as it is"]
    assert fit.verdict == "with slots"
    assert fit.worst < 4.5
    assert sum(pair.excess for pair in fit.slots) == pytest.approx(5.0, abs=0.01)


def test_bolts_that_miss_are_named_with_how_far() -> None:
    far = [*HANDED[:3], (-18.0, 58.0)]
    fit = by_name(match(flange(HANDED), flange(far)))["as it is"]
    assert fit.verdict == "never"
    assert fit.why[0].startswith("bolt 4 misses hole 4 by ")
    assert fit.why[0].endswith(f"a slot may be {9 * LONGEST_SLOT:.2f} mm at most")


def test_patterns_with_nothing_in_common_are_shown_middle_on_middle() -> None:
    """A round pattern on a rectangular one: no half of the bolts goes in, wherever it is shifted."""
    ring = flange([(75.0, 20.0), (10.0, 85.0), (-55.0, 20.0), (10.0, -45.0)], [((10.0, 20.0), {"round": 35})])
    four = flange([(44.0, 38.0), (-44.0, 38.0), (-44.0, -38.0), (44.0, -38.0)], [((0.0, 0.0), {"round": 50})])
    for fit in match(ring, four):
        assert fit.verdict == "never"
        assert fit.placed(np.array([[10.0, 20.0]]))[0] == pytest.approx((0.0, 0.0), abs=0.05)
        # Every bolt misses, and none by more than the nearest two holes leave it.
        assert len(fit.slots) == 4
        assert max(np.hypot(*pair.offset) for pair in fit.pairs) < 65.0


def test_a_bolt_without_a_hole_and_one_too_large() -> None:
    fit = by_name(match(flange(HANDED[:3]), flange(HANDED)))["as it is"]
    assert fit.verdict == "never"
    assert "no hole for bolt 4: 3 holes, 4 bolts" in fit.why
    small = by_name(match(flange(HANDED, hole=9.0), flange(HANDED, hole=11.0, thread="M10")))["as it is"]
    assert small.why[0] == "hole 1, 9 mm, is smaller than bolt 1, 10 mm"


def test_holes_to_spare_do_no_harm() -> None:
    assert by_name(match(flange(HANDED), flange(HANDED[:3])))["as it is"].verdict == "bolts up"


def test_a_slot_that_breaks_into_a_port_is_none() -> None:
    ports = (((50.0, 0.0), {"round": 40}),)
    near = flange([(24.9, 0), (110, 0)], ports)
    other = flange([(27.9, 0), (110, 0)], (((52.9, 0.0), {"round": 40}),))
    fit = by_name(match(near, other))["as it is"]
    assert fit.verdict == "never"
    assert "the slot of hole 1 breaks into port 1" in fit.why


class TestPorts:
    """Circles over circles, in closed form."""

    @staticmethod
    def over(a: float, b: float, off: float) -> Fit:
        bolts = [(-50.0, 0.0), (50.0, 0.0), (0.0, 60.0)]
        ports = [[((0.0, 0.0), {"round": b})], [((off, 0.0), {"round": a})]]
        return by_name(match(flange(bolts, ports[1]), flange(bolts, ports[0])))["as it is"]

    def test_a_smaller_opening_dams_all_round(self) -> None:
        (port,) = self.over(40, 44, 0.0).ports
        assert port.masked == pytest.approx(np.pi * (22**2 - 20**2), abs=1.0)
        assert port.dam == pytest.approx(2.0, abs=0.02)
        assert (port.ledge, port.bare) == (0.0, 0.0)

    def test_a_larger_opening_leaves_a_ledge(self) -> None:
        (port,) = self.over(44, 40, 0.0).ports
        assert (port.ledge, port.dam, port.masked) == pytest.approx((2.0, 0.0, 0.0), abs=0.02)

    def test_equal_openings_side_by_side_are_open_by_the_lens(self) -> None:
        """Area common to two circles of radius r at d: 2 r2 acos(d / 2r) - d / 2 sqrt(4 r2 - d2), elementary."""
        (port,) = self.over(40, 40, 3.0).ports
        lens = 2 * 400 * np.arccos(3 / 40) - 1.5 * np.sqrt(1600 - 9)
        assert port.open == pytest.approx(lens, rel=1e-3)
        assert port.masked == pytest.approx(np.pi * 400 - lens, rel=1e-2)
        assert (port.dam, port.ledge, *port.offset) == pytest.approx((3.0, 3.0, 3.0, 0.0), abs=0.02)

    def test_nothing_over_a_port_masks_it(self) -> None:
        bolts = [(-50.0, 0.0), (150.0, 0.0), (0.0, 60.0)]
        a = flange(bolts, [((100.0, 0.0), {"round": 40})])
        b = flange(bolts, [((0.0, 0.0), {"round": 40}), ((100.0, 0.0), {"round": 40})])
        first, second = by_name(match(a, b))["as it is"].ports
        assert (first.over, first.open, second.over) == ((), 0.0, (1,))
        assert first.masked == pytest.approx(np.pi * 400, rel=1e-3)
        # It has no dam of so many mm: it is covered.
        assert [row[5] for row in port_fit_rows(by_name(match(a, b))["as it is"])] == ["dam mm", "covered", "0.00"]
        assert match_rows(match(a, b))[1][7] == "covered"
        a, b = flange(HANDED, PORTS[:1]), flange(HANDED, PORTS)
        assert re.search(r"port 2 masked (\d+) of \1 mm2, under no opening", overlay_svg(a, b, match(a, b)))


def test_threads_and_holes() -> None:
    """ISO 273: M8 9 mm, M10 11 mm, medium; 3/8 in is 9.525 mm."""
    assert [bolt_through(hole).thread for hole in (6.6, 9.0, 10.0, 11.0, 13.5)] == ["M6", "M8", "M8", "M10", "M12"]
    assert bolt_through(3.0) is None
    assert bolt_diameter("3/8-16") == pytest.approx(9.525)
    assert bolt_diameter("M8x1.25") == 8.0


def test_no_bolts_is_refused() -> None:
    with pytest.raises(GeometryError, match="plate: has no bolts to match"):
        match(flange([]), flange(HANDED))


def test_the_picture_has_a_panel_an_orientation_and_a_mark_a_bolt() -> None:
    a, b = flange(HANDED, PORTS, name="a-b"), flange(HANDED, PORTS)
    text = overlay_svg(a, b, match(a, b))
    root = ET.fromstring(text)
    assert "a-b as it is: bolts up" in text
    circles = list(root.iter("{http://www.w3.org/2000/svg}circle"))
    assert len(circles) == 4 * 8
    assert overlay_svg(a, b, match(a, b)) == text


FILE = """name = "{name}"
kind = "flange"
units = "mm"
material = "carbon steel"
thickness = 12
outline = {{ edge = 12, boss = 12, fillet = 30 }}
[[port]]
at = [45, 28]
opening = {{ round = 40 }}
"""
BOLTS = '[[bolts]]\nhole = 9\nthread = "M8"\nat = [[0, 0], [96, 4], [90, 62], [-18, 34]]\n'


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


class TestCommand:
    @pytest.fixture(autouse=True)
    def shop(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.chdir(tmp_path)
        Path("a.toml").write_text(FILE.format(name="a") + BOLTS, encoding="utf-8")
        Path("bare.toml").write_text(FILE.format(name="bare"), encoding="utf-8")
        Path("far.toml").write_text(FILE.format(name="far") + BOLTS.replace("96, 4", "99, 14"), encoding="utf-8")

    def test_says_which_way_it_goes_and_writes_the_picture(self, monkeypatch, capsys) -> None:
        assert command(monkeypatch, "match", "a.toml", "a.toml", "--out", "o.svg") == 0
        said = capsys.readouterr().out
        assert "as it is             bolts up" in said
        assert "mirrored, never: bolt " in said
        assert ET.parse("o.svg").getroot().tag.endswith("svg")

    def test_json_has_every_pair(self, monkeypatch, capsys) -> None:
        assert command(monkeypatch, "match", "a.toml", "a.toml", "--json") == 0
        answer = json.loads(capsys.readouterr().out)
        assert [len(fit["pairs"]) for fit in answer["fits"]] == [4, 4, 4, 4]

    def test_no_way_is_a_failure(self, monkeypatch, capsys) -> None:
        assert command(monkeypatch, "match", "a.toml", "far.toml") == 1

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (("a.toml", "bare.toml"), "bare: has no bolts to match; give it a [[bolts]] table\n"),
            (("a.toml", "none.toml"), "none.toml: no such file\n"),
            (("a.toml", "a.toml", "--out", "o.jpg"), "--out: o.jpg: allowed: a file that ends in .svg"),
        ],
    )
    def test_wrong_input_is_one_line(self, words, said, monkeypatch, capsys) -> None:
        assert command(monkeypatch, "match", *words) == 2
        err = capsys.readouterr().err
        assert said in err
        assert err.count("\n") == 1
