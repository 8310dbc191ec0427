"""Pipe for a port: girths against published tables and hand figures."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

from rootgap import cli
from rootgap.plates.ports import pipes_for
from rootgap.spec import FlangePart, load_part

ROOT = Path(__file__).parent.parent.parent


def flange(*openings: dict, angle: float = 0.0) -> FlangePart:
    return FlangePart.model_validate(
        {
            "name": "p", "kind": "flange", "units": "mm", "material": "304L", "thickness": 12,
            "outline": {"edge": 60, "boss": 12, "fillet": 20},
            "port": [{"at": [100 * k, 0], "opening": each, "angle": angle} for k, each in enumerate(openings)],
        }
    )  # fmt: skip


def test_an_oval_port_by_hand() -> None:
    """50 x 30 oval: girth 2 x 20 + 30 pi = 134.248 mm, as a circle of 42.732 mm. NPS 1-1/2 sch 10 has a bore of
    48.3 - 2 x 2.77 = 42.76 mm (ASME B36.10M, B36.19M): 0.028 mm larger."""
    (found,) = pipes_for(flange({"oval": [50, 30]}))
    assert (found.girth, found.equal_round) == pytest.approx((134.2478, 42.7324), abs=1e-4)
    best = found.pipes[0]
    assert (best.stock, best.verdict) == ("NPS 1-1/2 sch 10", "fits")
    assert best.bore == pytest.approx(42.76)
    assert best.difference == pytest.approx(0.0276, abs=1e-4)
    assert best.girth_difference == pytest.approx(np.pi * 42.76 - 134.2478, abs=1e-3)
    # Left round: the port's ends lie 25 mm off its middle, its flats 15; +x is clock 270 in the drawing, -x 90.
    assert best.dam == pytest.approx(25.0 - 21.38, abs=1e-3)
    assert best.dam_clock % 180.0 == pytest.approx(90.0, abs=1.0)
    assert best.oversize == pytest.approx(21.38 - 15.0, abs=1e-3)
    assert (best.oversize_clock + 0.25) % 180.0 == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize(
    ("port", "verdict"), [(42.76, "fits"), (42.0, "fits"), (41.99, "larger"), (42.77, "smaller")]
)
def test_the_limit_is_equal_or_up_to_076_larger_and_never_smaller(port: float, verdict: str) -> None:
    """0.030 in, from a published article."""
    (found,) = pipes_for(flange({"round": port}))
    assert {each.stock: each.verdict for each in found.pipes}["NPS 1-1/2 sch 10"] == verdict


def test_round_in_round_steps_evenly() -> None:
    (found,) = pipes_for(flange({"round": 42.0}))
    pipe = next(each for each in found.pipes if each.stock == "NPS 1-1/2 sch 10")
    assert (pipe.dam, pipe.oversize, pipe.difference) == pytest.approx((0.0, 0.38, 0.76), abs=2.5e-3)


def test_the_clock_runs_anticlockwise_in_the_drawing() -> None:
    """A slot that is turned 30 degrees anticlockwise, from lying along x: its ends lie at clock 300 and 120."""
    (found,) = pipes_for(flange({"oval": [50, 30]}, angle=30.0))
    assert found.pipes[0].dam_clock % 180.0 == pytest.approx(120.0, abs=1.0)


def test_ranked_fits_first_then_nearest_larger_then_nearest_smaller() -> None:
    (found,) = pipes_for(flange({"rounded": [36, 30], "radius": 8}))
    order = [{"fits": 0, "larger": 1, "smaller": 2}[each.verdict] for each in found.pipes]
    assert order == sorted(order)
    for verdict in ("fits", "larger", "smaller"):
        off = [abs(each.difference) for each in found.pipes if each.verdict == verdict]
        assert off == sorted(off)


def test_alike_ports_are_told_once_and_hollow_ones_so() -> None:
    bean = {"path": [[-18, -14], [18, -14], [18, 14], [0, 5], [-18, 14]]}
    first, second = pipes_for(flange({"round": 40}, bean, {"round": 40}))
    assert (first.ports, second.ports) == ((1, 3), (2,))
    assert (first.hollow, second.hollow) == (False, True)


def test_tube_beside_the_table() -> None:
    """1.75 in x 16 BWG (1.651 mm): bore 44.45 - 3.302 = 41.148 mm."""
    (found,) = pipes_for(flange({"round": 41.0}), ["1.75 in x 16 ga"])
    assert found.pipes[0].bore == pytest.approx(41.148)
    assert found.pipes[0].stock.startswith("tube 1-3/4 in") or "44.45" in found.pipes[0].stock


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


def test_command(monkeypatch, capsys) -> None:
    head = str(ROOT / "parts" / "head-sand-rail-four.toml")
    code = command(monkeypatch, "ports", head)
    said = capsys.readouterr().out
    assert "Ports 1, 2, 3, 4: rounded 36 x 30, radius 8, 118.27 mm round (as a circle of 37.65)" in said
    assert "[published article]" in said
    (found,) = pipes_for(load_part(head))
    assert code == (0 if found.fitting else 1)
    assert command(monkeypatch, "ports", head, "--json") == code
    assert json.loads(capsys.readouterr().out)["support"] == "published article"


def test_wrong_input_is_one_line(monkeypatch, capsys) -> None:
    head = str(ROOT / "parts" / "head-sand-rail-four.toml")
    for words in ([head, "--also", "cheese"], [head, "--larger", "cheese"], [str(ROOT / "parts" / "vband-57.toml")]):
        assert command(monkeypatch, "ports", *words) == 2
        said = capsys.readouterr()
        assert (said.out, said.err.count("\n")) == ("", 1)
