"""Frusta laid flat, and where a plane across a lobed or round passage leaves them.

Source: similar triangles, elementary: slant s = sqrt(H^2 + (R1 - R2)^2), outer radius s R1 / (R1 - R2), sector
360 R1 / outer radius degrees, area pi (R1 + R2) s. Figures worked out by hand with 20 digits, apart from this code.
"""

from __future__ import annotations

import numpy as np
import pytest

from rootgap.geometry.development import right_cone
from rootgap.patterns.development import cone_pattern


@pytest.mark.parametrize(
    ("wide", "narrow", "height", "slant", "outer", "inner", "sector", "area"),
    [
        (60.3, 48.3, 76.0, 76.236474, 383.088283, 306.851809, 28.332895, 13005.064),
        (76.2, 50.8, 50.0, 51.587692, 154.763077, 103.175385, 88.625790, 10291.287),
        (100.0, 50.0, 100.0, 103.077641, 206.155281, 103.077641, 87.312825, 24287.097),
        (80.0, 40.0, 60.0, 63.245553, 126.491106, 63.245553, 113.841996, 11921.506),
    ],
)
def test_frustum(wide, narrow, height, slant, outer, inner, sector, area):
    for first, last in ((wide, narrow), (narrow, wide)):
        cone = right_cone(0.5 * first, 0.5 * last, height)
        assert cone.slant == pytest.approx(slant, abs=6e-7)
        assert (cone.r_outer, cone.r_inner) == pytest.approx((outer, inner), abs=6e-7)
        assert cone.angle == pytest.approx(sector, abs=6e-7)
        assert cone.area == pytest.approx(area, abs=6e-4)
        assert cone.outline.area == pytest.approx(area, abs=6e-4)


def test_a_drawn_cone_of_no_thickness_to_speak_of_is_that_sector():
    pattern = cone_pattern("a.development", 60.3, 48.3, 76.0, 1e-6, "304L")
    (cut,) = [item.shape for item in pattern.drawn if item.layer.partition(".")[0] == "cut"]
    assert abs(cut.area) == pytest.approx(13005.064, rel=1e-5)
    points = np.array(cut.vertices)[:, :2]
    assert np.hypot(*points.T).max() == pytest.approx(383.088283, abs=1e-4)
