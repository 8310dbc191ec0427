"""The calibration sheet: its PDF, printed, shows its markers where the data has them."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pypdfium2
import pytest

from rootgap.trace.picture import Picture
from rootgap.trace.plan import _found, plan_of
from rootgap.trace.printed import sheet_pdf
from rootgap.trace.sheet import ON_PAGE, PAGES, cells, markers, middle, words
from rootgap.writers.sheets.paper import PAPERS


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_read_back_from_the_print(paper: Any) -> None:
    scale = 300 / 72
    pdf = pypdfium2.PdfDocument(sheet_pdf(paper))
    assert len(pdf) == PAGES
    for number in (0, PAGES - 1):
        pixels = np.asarray(pdf[number].render(scale=scale).to_pil().convert("RGB"))
        found = _found(pixels)
        known = {marker.number: marker.corners for marker in markers(paper, number)}
        assert set(found) == set(known)
        for which, corners in found.items():
            mm = (corners + 0.5) * 25.4 / 300
            there = np.column_stack([mm[:, 0], PAPERS[paper][1] - mm[:, 1]])
            # The renderer lays a page on whole pixels, up to one of them, 0.085 mm, off.
            assert np.abs(there - known[which]).max() < 0.1
        plan = plan_of(Picture("sheet", pixels), None, (100.0, 100.0))
        assert plan.error < 0.03
        assert f"{ON_PAGE} markers" in plan.told


def test_no_two_markers_are_alike_and_none_overlap() -> None:
    numbers = [marker.number for paper in ("a4", "letter") for page in range(PAGES) for marker in markers(paper, page)]
    assert len(set(numbers)) == len(numbers)
    seen = [cells(number) for number in numbers]
    assert all((np.rot90(a, k) != b).any() for a, b in combinations(seen[:40], 2) for k in range(4))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_is_printed_in_the_middle(paper: Any) -> None:
    x0, y0, x1, y1 = middle(paper)
    for box in (*words(paper), *(marker.box for marker in markers(paper, 0))):
        assert box[2] <= x0 or box[0] >= x1 or box[3] <= y0 or box[1] >= y1


def test_same_bytes() -> None:
    assert sheet_pdf("a4") == sheet_pdf("a4")
