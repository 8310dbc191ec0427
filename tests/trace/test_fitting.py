"""Openings from points on their rims, with scatter and dirt."""

from __future__ import annotations

import numpy as np
import pytest

from rootgap.geometry.openings import Dee, Opening, Oval, Round, RoundedRectangle, placed
from rootgap.trace.fitting import fitted, signed_distance

OPENINGS = [
    Round(40),
    Round(6.6),
    Oval(44, 30),
    Oval(30, 44),
    RoundedRectangle(36, 30, 8),
    RoundedRectangle(30, 30, 4),
    RoundedRectangle(50, 20, 0.5),
    Dee(40, 36, 5),
    Dee(40, 24, 5),
    Dee(36, 40, 3),
]


def rim(opening: Opening, angle: float, step: float = 0.1) -> np.ndarray:
    """Points every `step` mm along the rim."""
    points = placed(opening.shape(), (13.0, -7.0), angle).points(1e-3)
    ring = np.vstack([points, points[:1]])
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(ring, axis=0).T))]
    at = np.arange(0.0, along[-1], step)
    return np.column_stack([np.interp(at, along, ring[:, k]) for k in (0, 1)])


@pytest.mark.parametrize("opening", OPENINGS, ids=str)
@pytest.mark.parametrize("angle", [0.0, 23.0, -61.0])
def test_kind_size_and_place_come_back(opening: Opening, angle: float) -> None:
    points = rim(opening, angle)
    points += np.random.default_rng(1).normal(0.0, 0.03, points.shape)
    points[100:120] += [0.9, 0.5]
    fit = fitted(points)
    assert type(fit.opening) is type(opening)
    assert np.hypot(fit.at[0] - 13.0, fit.at[1] + 7.0) < 0.02
    assert fit.opening.area == pytest.approx(opening.area, rel=3e-3)
    assert np.abs(signed_distance(fit.shape, rim(opening, angle))).max() < 0.12
    # Its stated uncertainty is honest: a few of it hold the error, and it is no idle number.
    assert 0.002 < fit.place < 0.03


@pytest.mark.parametrize("opening", OPENINGS, ids=str)
def test_signed_distance_of_the_rim_moved_out_is_how_far(opening: Opening) -> None:
    """Points on the rim, then of it grown by scaling about the centre: outside, and inside when shrunk."""
    points = rim(opening, 12.0)
    shape = placed(opening.shape(), (13.0, -7.0), 12.0)
    assert np.abs(signed_distance(shape, points)).max() < 2e-3
    middle = np.array([13.0, -7.0])
    assert (signed_distance(shape, middle + 1.05 * (points - middle)) > 0.0).all()
    assert (signed_distance(shape, middle + 0.95 * (points - middle)) < 0.0).all()
