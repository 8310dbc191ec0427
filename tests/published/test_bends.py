"""Trimmed elbows and pie-cut bends against published terms and figures worked out by hand, mm."""

from __future__ import annotations

import math

import numpy as np
import pytest

from rootgap import stock
from rootgap.geometry.frames import Frame
from rootgap.layout import Elbow, Pie
from rootgap.patterns.pie import pie_wrap
from rootgap.patterns.trim import trim_strip

FRAME = Frame.looking((0, 0, 0), (1, 0, 0))


def trimmed(nps: str, angle: float) -> Elbow:
    pipe = stock.pipe(f"{nps} sch 40", "A53 B")
    return Elbow("a-b", "a", pipe, FRAME, stock.elbow(nps, "LR", 90).radius, angle, 0.0, "LR", 90.0)


# (R + OD/2), R and (R - OD/2) times one degree, with R = 1.5 x nominal inches; worked out by hand.
@pytest.mark.parametrize(
    ("nps", "back", "side", "throat"),
    [("1-1/4", 1.199, 0.831, 0.463), ("1-1/2", 1.419, 0.998, 0.576), ("2", 1.856, 1.330, 0.804)],
)
def test_arc_lengths_of_a_degree(nps: str, back: float, side: float, throat: float):
    piece = trimmed(nps, 1.0)
    r_out = piece.stock.r_out
    assert piece.arc(r_out, 1.0) == pytest.approx(back, abs=1e-3)
    assert piece.arc(0.0, 1.0) == pytest.approx(side, abs=1e-3)
    assert piece.arc(-r_out, 1.0) == pytest.approx(throat, abs=1e-3)


def test_37_degrees_of_an_inch_and_a_half():
    facts = dict(trim_strip(trimmed("1-1/2", 37.0)).facts)
    assert facts["Cut, at 37 deg"] == "0 throat 21.3, 90 side 36.9, 180 back 52.5, 270 side 36.9 mm"
    assert facts["Left over"].startswith("a piece of 53 deg")


# Pappus-Guldin, sch 40, 90 degrees, metal in mm3: worked out by hand from ASME B36.10M and B16.9 figures.
@pytest.mark.parametrize(("nps", "metal"), [("1-1/4", 32329), ("1-1/2", 46309), ("2", 82909), ("3", 258289)])
def test_metal_of_a_long_radius_elbow(nps: str, metal: float):
    assert trimmed(nps, 90.0).volume == pytest.approx(metal, abs=0.5)


def test_arcs_are_along_the_skin():
    """The same lengths by walking over the outside."""
    piece = trimmed("2", 37.0)
    v = np.linspace(0.0, 1.0, 20001)
    for u, out in ((0.0, 1.0), (0.25, 0.0), (0.5, -1.0)):
        walked = np.linalg.norm(np.diff(piece.skin()(np.full_like(v, u), v), axis=0), axis=1).sum()
        assert walked == pytest.approx(piece.arc(out * piece.stock.r_out, 37.0), rel=1e-6)
        assert math.isfinite(walked)


def mitred(nps: str, radius: float, angle: float, cuts: int) -> Pie:
    return Pie("a-b", "a", stock.pipe(f"{nps} sch 40", "A53 B"), FRAME, radius, angle, cuts, 0.0)


# Spacing of mitres, 2 R tan(saw angle), mm; the terms of ASME B31.3 304.2.3, figures worked out by hand.
@pytest.mark.parametrize(
    ("cuts", "radius", "spacing"), [(2, 76.2, 63.126147), (3, 101.6, 54.447276), (4, 101.6, 40.418993)]
)
def test_spacing_of_a_right_angles_mitres(cuts: int, radius: float, spacing: float):
    piece = mitred("1-1/2", radius, 90.0, cuts)
    assert piece.saw == pytest.approx(90.0 / (2 * cuts))
    assert 2.0 * piece.half(0.0) == pytest.approx(spacing, abs=1e-6)
    assert np.linalg.norm(np.diff(piece.corners, axis=0), axis=1)[1:-1] == pytest.approx(spacing, abs=1e-6)


# Amplitude r tan(saw) and girth of the cut's ellipse, mm: the sine line and 4 a E(e), worked out by hand.
@pytest.mark.parametrize(
    ("nps", "angle", "cuts", "amplitude", "girth"),
    [
        ("1-1/2", 45.0, 1, 10.003258, 158.051816),
        ("2", 90.0, 3, 8.078668, 192.793841),
        ("2", 90.0, 1, 30.15, 230.357927),
        ("2", 45.0, 1, 30.15 * math.tan(math.pi / 8), 197.319348),
        ("1-1/2", 30.0, 1, 24.15 * math.tan(math.pi / 12), 154.426907),
    ],
)
def test_the_mitres_sine_line(nps: str, angle: float, cuts: int, amplitude: float, girth: float):
    piece = mitred(nps, 150.0, angle, cuts)
    heights = np.ptp(piece.edge(np.linspace(0.0, 2.0 * np.pi, 721)))
    assert 0.5 * heights == pytest.approx(amplitude, abs=1e-6)
    assert piece.mitre_length == pytest.approx(girth, abs=1e-5)
    drawn = [np.array(item.shape.vertices) for item in pie_wrap(piece).drawn if item.layer == "cut"]
    assert all(0.5 * np.ptp(line[:, 1]) == pytest.approx(amplitude, abs=0.01) for line in drawn)
