"""A former for a pipe's end, and what its sheet says of girths."""

from __future__ import annotations

import pytest

from rootgap.geometry.openings import Oval, RoundedRectangle
from rootgap.geometry.transition import formed
from rootgap.patterns.former import former_pattern
from rootgap.patterns.pattern import TEMPLATES
from rootgap.writers.dxf import dxf_bytes


@pytest.mark.parametrize(
    ("port", "said"), [(Oval(50, 30), "must shrink"), (RoundedRectangle(45, 35, 8), "must stretch")]
)
def test_former(port, said):
    end = formed(port.shape(), 48.3, 2.77)
    pattern = former_pattern("port.1.former", end, "1-1/2 sch 10S")
    (cut,) = [item.shape for item in pattern.drawn if item.layer == "cut"]
    assert cut.length == pytest.approx(port.girth)
    assert cut.area == pytest.approx(port.area)
    assert said in pattern.notes[0]
    facts = dict(pattern.facts)
    assert facts["Girth, bore to bore"] == f"pipe 134.3 mm, to be {port.girth:.1f} mm"
    assert facts["Size"] == f"{port.width:.2f} x {port.height:.2f} mm"
    assert pattern.kind in TEMPLATES
    assert dxf_bytes(pattern) == dxf_bytes(pattern)


def test_an_end_that_goes_into_the_plate_keeps_its_shape_so_far_and_is_worked_on_from_there():
    end = formed(Oval(50, 30).shape(), 48.3, 2.77, "in")
    facts = dict(former_pattern("a", end, "1-1/2 sch 10S", held=10.0).facts)
    assert facts["Work the end"] == f"{10.0 + end.worked:.0f} mm in"
    assert facts["Former goes in"] == "10 mm, full size"
    assert "Former goes in" not in dict(former_pattern("a", end, "1-1/2 sch 10S").facts)
