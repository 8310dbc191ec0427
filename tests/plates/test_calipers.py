"""Networks of caliper distances with a known truth: found, with their uncertainty, and the wrong reading named."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import least_squares

from rootgap import cli
from rootgap.errors import GeometryError, InputErrors
from rootgap.plates.calipers import Fitted, measure
from rootgap.spec import FlangePart, load_part

#: Where the bolts and the ports of an invented head truly are, mm.
BOLTS = np.array([[-34.2, 20.1], [-33.8, -20.4], [46.1, 30.3], [45.7, -29.6], [126.4, 19.8], [125.9, -20.2]])
PORTS = np.array([[0.0, 0.0], [92.3, 0.2]])
SKETCH = """name = "head"
kind = "flange"
units = "mm"
material = "carbon steel"
thickness = 12
[[port]]
at = [0, 0]
opening = { rounded = [36, 30], radius = 8 }
[[port]]
at = [92, 0]
opening = { rounded = [36, 30], radius = 8 }
[[bolts]]
thread = "M8"
hole = 9
at = [[-36, 22], [-33, -23], [48, 27], [43, -30], [128, 22], [124, -17]]
[outline]
edge = 13
boss = 13
fillet = 25
"""
HEAD = 'name = "head-measured"\nkind = "calipers"\nunits = "mm"\nuse = "head.toml"\n'


SIDES = '"bolt.3", "port.1" (its middle) or "port.1.left", .right, .bottom, .top\n'
GIVE = "give each point distances to two others at least, not in one line with it\n"


@pytest.fixture(autouse=True)
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("head.toml").write_text(SKETCH, encoding="utf-8")


def sheet(rows: Iterable[str], head: str = "stud = 7.9\n") -> Path:
    file = Path("sheet.toml")
    file.write_text(HEAD + head + "".join(f"[[distance]]\n{row}\n" for row in rows), encoding="utf-8")
    return file


def true(a: int, b: int) -> float:
    return float(np.hypot(*(BOLTS[a] - BOLTS[b])))


def over_studs(errors: dict[tuple[int, int], float] | None = None, scatter: float = 0.0, seed: int = 1) -> list[str]:
    """Every bolt to every other, over the outsides of 7.9 mm studs."""
    noise = np.random.default_rng(seed).normal(0.0, scatter, 15)
    off = errors or {}
    return [
        row(a, b, "outside", true(a, b) + 7.9 + noise[k] + off.get((a, b), 0.0))
        for k, (a, b) in enumerate(combinations(range(6), 2))
    ]


def row(a: int, b: int, way: str, value: float) -> str:
    return f'from = "bolt.{a + 1}"\nto = "bolt.{b + 1}"\n{way} = {value}'


def shape_error(found: Fitted) -> float:
    """The largest difference between fitted and true distances of the bolts, mm."""
    at = {place.feature.number - 1: np.array(place.at) for place in found.places if place.feature.kind == "bolt"}
    return max(abs(np.hypot(*(at[a] - at[b])) - true(a, b)) for a, b in combinations(sorted(at), 2))


def test_perfect_readings_give_the_truth_from_a_rough_sketch() -> None:
    found = measure(sheet(over_studs()))
    assert shape_error(found) < 1e-6
    assert found.spare == 15 - (2 * 6 - 3)
    assert found.scatter == pytest.approx(0.0, abs=1e-6)
    assert not found.again
    # The pattern stays where its sketch has it on the whole.
    assert np.mean([place.moved for place in found.places], axis=0) == pytest.approx((0, 0), abs=1e-9)
    assert [str(each) for each in found.unmeasured] == ["port.1", "port.2"]


def test_the_hand_of_the_sketch_is_kept() -> None:
    found = measure(sheet(over_studs()))
    at = np.array([place.at for place in found.places])
    (a, b, c), (p, q, r) = at[:3], BOLTS[:3]
    assert np.sign(np.linalg.det([b - a, c - a])) == np.sign(np.linalg.det([q - p, r - p]))


@pytest.mark.parametrize("way", ["outside", "inside", "centres"])
def test_each_way_of_measuring_comes_to_the_same(way: str) -> None:
    add = {"outside": 7.9, "inside": -7.9, "centres": 0.0}[way]
    rows = [row(a, b, way, true(a, b) + add) for a, b in combinations(range(6), 2)]
    assert shape_error(measure(sheet(rows))) < 1e-6


def test_holes_are_what_the_jaws_lie_in_where_no_stud_is_told() -> None:
    rows = [row(a, b, "outside", true(a, b) + 9.0) for a, b in combinations(range(6), 2)]
    assert shape_error(measure(sheet(rows, head=""))) < 1e-6


def test_a_gross_error_is_found_and_told_and_left_out() -> None:
    found = measure(sheet(over_studs({(1, 4): 0.9}, scatter=0.04)))
    (again,) = found.again
    assert (str(again.start), str(again.end)) == ("bolt.2", "bolt.5")
    assert again.residual == pytest.approx(0.9, abs=0.2)
    assert shape_error(found) < 0.15


def test_two_gross_errors_are_both_found() -> None:
    found = measure(sheet(over_studs({(1, 4): 1.2, (0, 2): -0.8}, scatter=0.03)))
    assert {(each.start.number, each.end.number) for each in found.again} == {(2, 5), (1, 3)}


def test_an_error_is_the_difference_from_a_fit_without_that_reading() -> None:
    """Residual by redundancy is the leave-one-out difference: exact for linear fits, here to second order."""
    rows = over_studs(scatter=0.05)
    whole = measure(sheet(rows))
    assert not whole.again
    for number in (1, 8, 15):
        left = measure(sheet(rows[: number - 1] + rows[number:]))
        at = {place.feature.number: np.array(place.at) for place in left.places}
        reading = whole.readings[number - 1]
        apart = np.hypot(*(at[reading.start.number] - at[reading.end.number]))
        assert reading.error == pytest.approx(reading.measured - apart, abs=2e-3)


def test_it_is_the_least_squares_solution_of_another_solver() -> None:
    rows = over_studs(scatter=0.1, seed=4)
    found = measure(sheet(rows, head="stud = 7.9\nunsure = 0.1\n"))
    pairs = list(combinations(range(6), 2))
    read = np.array([each.measured for each in found.readings])

    def residual(x: np.ndarray) -> np.ndarray:
        at = x.reshape(-1, 2)
        return np.array([np.hypot(*(at[a] - at[b])) for a, b in pairs]) - read

    other = least_squares(residual, BOLTS.ravel(), xtol=1e-14, ftol=1e-14)
    assert sum(each.residual**2 for each in found.readings) == pytest.approx(2.0 * other.cost, rel=1e-6)


def test_the_stated_uncertainty_is_what_many_sheets_scatter_by() -> None:
    """Two hundred sheets of the same head: the places scatter as the covariance says."""
    made = [measure(sheet(over_studs(scatter=0.05, seed=seed))) for seed in range(200)]
    found = [each for each in made if not each.again]
    assert len(found) > 180
    at = np.array([[place.at for place in each.places] for each in found])
    told = np.mean([[place.unsure for place in each.places] for each in found], axis=0)
    assert at.std(axis=0) == pytest.approx(told, rel=0.25)


def test_ports_are_held_by_their_sides() -> None:
    """The near side of a port from two bolts square to it: 34.2 - 18 to the left side, 20.1 - 15 to the top."""
    rows = over_studs()
    for port, bolts in ((1, (1, 2)), (2, (5, 6))):
        left = port == 1
        for bolt in bolts:
            apart = abs(BOLTS[bolt - 1][0] - PORTS[port - 1][0]) - 18.0
            side = "left" if left else "right"
            rows.append(f'from = "bolt.{bolt}"\nto = "port.{port}.{side}"\ncentres = {apart}')
            over = abs(BOLTS[bolt - 1][1] - PORTS[port - 1][1]) - 15.0
            word = "top" if BOLTS[bolt - 1][1] > 0 else "bottom"
            rows.append(f'from = "bolt.{bolt}"\nto = "port.{port}.{word}"\ninside = {over - 3.95}')
    found = measure(sheet(rows))
    places = {str(place.feature): np.array(place.at) for place in found.places}
    # Sides fix the turn too: all of it lies as the truth does, but for its shift.
    shift = places["bolt.1"] - BOLTS[0]
    for port in (1, 2):
        assert places[f"port.{port}"] - shift == pytest.approx(PORTS[port - 1], abs=1e-6)
    assert shape_error(found) < 1e-6
    assert not found.again


def test_no_distance_to_spare_says_so(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [over_studs()[k] for k in (0, 1, 5)]  # a triangle of bolts 1, 2 and 3
    found = measure(sheet(rows))
    assert (found.spare, found.scatter) == (0, None)
    assert command(monkeypatch, "calipers", "sheet.toml") == 0
    assert "No distance is to spare: nothing tells a wrong one." in capsys.readouterr().out


class TestScale:
    """A traced gasket whose scan was 0.8 % long in x and 0.5 % short in y."""

    SCALE = (1.008, 0.995)

    def rows(self, error: float = 0.0) -> list[str]:
        part = load_part("head.toml")
        assert isinstance(part, FlangePart)
        at = np.array([hole.at for hole in part.holes()]) * self.SCALE
        pairs = [(1, 5), (1, 2), (2, 6), (3, 4), (1, 6)]
        rows = [
            f'from = "bolt.{a}"\nto = "bolt.{b}"\ncentres = {np.hypot(*(at[a - 1] - at[b - 1]))}' for a, b in pairs
        ]
        rows[0] = f'from = "bolt.1"\nto = "bolt.5"\ncentres = {np.hypot(*(at[0] - at[4])) + error}'
        return [*rows, f'from = "port.1.left"\nto = "port.1.right"\ncentres = {36 * self.SCALE[0]}']

    def test_both_scales_come_back(self) -> None:
        found = measure(sheet(self.rows(), head='fit = "scale"\n'))
        assert found.scale == pytest.approx(self.SCALE, abs=1e-9)
        assert found.spare == 4
        port = found.part.port[1]
        assert port.at == pytest.approx((92 * 1.008, 0.0))
        assert port.opening.rounded == pytest.approx((36 * 1.008, 30 * 0.995))
        assert found.part.holes()[4].at == pytest.approx((128 * 1.008, 22 * 0.995))
        assert found.part.holes()[4].diameter == 9.0

    def test_a_gross_error_does_not_bend_it(self) -> None:
        found = measure(sheet(self.rows(1.5), head='fit = "scale"\n'))
        assert [each.number for each in found.again] == [1]
        assert found.scale == pytest.approx(self.SCALE, abs=1e-6)

    def test_distances_along_one_axis_hold_one_scale(self) -> None:
        rows = ['from = "port.1.left"\nto = "port.1.right"\ncentres = 36.1']
        with pytest.raises(GeometryError, match="scale of y: is not held: every distance lies along x"):
            measure(sheet(rows, head='fit = "scale"\n'))

    def test_wrong_units_are_no_scale(self) -> None:
        rows = [f'from = "bolt.{a}"\nto = "bolt.{b}"\ncentres = {4 + a}' for a, b in ((1, 5), (1, 2), (3, 4))]
        with pytest.raises((GeometryError, InputErrors)):
            measure(sheet(rows, head='fit = "scale"\n'))


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


class TestCommand:
    def test_writes_the_corrected_flange(self, monkeypatch, capsys) -> None:
        sheet(over_studs(scatter=0.03))
        assert command(monkeypatch, "calipers", "sheet.toml", "--out", "measured.toml") == 0
        said = capsys.readouterr().out
        assert "6 distances to spare" in said
        assert said.endswith("Wrote measured.toml\n")
        part = load_part("measured.toml")
        assert isinstance(part, FlangePart)
        at = np.array([hole.at for hole in part.holes()])
        assert max(abs(np.hypot(*(at[a] - at[b])) - true(a, b)) for a, b in combinations(range(6), 2)) < 0.1
        text = Path("measured.toml").read_text("utf-8")
        assert text.startswith("# Corrected by the caliper distances of sheet.toml.\n")

    def test_a_distance_to_take_again_is_a_failure(self, monkeypatch, capsys) -> None:
        sheet(over_studs({(1, 4): 0.9}))
        assert command(monkeypatch, "calipers", "sheet.toml", "--json") == 1
        answer = json.loads(capsys.readouterr().out)
        assert [each["number"] for each in answer["readings"] if each["aside"]] == [8]
        assert Path(answer["file"]) == Path("out/head-measured.toml")

    @pytest.mark.parametrize(
        ("rows", "head", "said"),
        [
            (
                ['from = "bolt.1"\nto = "bolt.9"\noutside = 40'],
                "",
                'sheet.toml:7: distance[1].to: found "bolt.9"; allowed: bolt.1 to bolt.6\n',
            ),
            (
                ['from = "bolt.1"\nto = "bolt.2"\noutside = 40\ninside = 30'],
                "",
                "sheet.toml:9: distance[1].inside: found 30; allowed: exactly one of outside, inside, centres\n",
            ),
            (
                ['from = "bolt.1"\nto = "bolt.2"'],
                "",
                "sheet.toml:5: distance[1]: allowed: exactly one of outside, inside, centres\n",
            ),
            (
                ['from = "bolt.1.left"\nto = "bolt.2"\ncentres = 40'],
                "",
                'sheet.toml:6: distance[1].from: found "bolt.1.left"; allowed: ' + SIDES,
            ),
            (
                ['from = "bolt.2"\nto = "bolt.2"\ncentres = 40'],
                "",
                'sheet.toml:7: distance[1].to: found "bolt.2"; allowed: another bolt, port or side than from\n',
            ),
            (
                ['from = "bolt.1"\nto = "bolt.2"\ncentres = 40'],
                "unsure = 3\n",
                "sheet.toml:5: unsure: found 3; allowed: 0.005 to 1 mm\n",
            ),
            (
                over_studs()[:4],
                "",
                "bolt.2, bolt.3, bolt.4, bolt.5: are not held in place by the distances; " + GIVE,
            ),
            (
                [*over_studs()[:2], over_studs()[5], over_studs()[2]],
                "",
                "bolt.4: is not held in place by the distances; " + GIVE,
            ),
            (
                [over_studs()[k] for k in (0, 5, 9, 2)],
                "",
                "the sheet: its distances do not hold the pattern together; " + GIVE,
            ),
        ],
    )
    def test_wrong_input_is_one_line(self, rows, head, said, monkeypatch, capsys) -> None:
        sheet(rows, head)
        assert command(monkeypatch, "calipers", "sheet.toml") == 2
        assert capsys.readouterr().err == said
        assert not Path("out").exists()

    def test_distances_that_contradict_are_told_with_how_far(self, monkeypatch, capsys) -> None:
        sheet(over_studs({(1, 4): 30.0}))
        assert command(monkeypatch, "calipers", "sheet.toml") == 2
        assert capsys.readouterr().err == (
            f"sheet.toml:37: distance[8].outside: found {true(1, 4) + 37.9}; contradicts the other distances by "
            f"30.00 mm: they put its middles {true(1, 4):.2f} mm apart, it says {true(1, 4) + 30:.2f} mm\n"
        )

    def test_a_flange_is_no_sheet_and_a_sheet_no_flange(self, monkeypatch, capsys) -> None:
        assert command(monkeypatch, "calipers", "head.toml") == 2
        assert capsys.readouterr().err == (
            'head.toml:2: kind: found "flange"; allowed: "calipers", a sheet of caliper distances\n'
        )
        sheet(over_studs())
        assert command(monkeypatch, "match", "sheet.toml", "head.toml") == 2
        assert command(monkeypatch, "calipers", "sheet.toml", "--out", "sheet.toml") == 2
        assert "it is what was read" in capsys.readouterr().err
