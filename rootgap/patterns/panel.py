"""Flat plates that close a half pipe, for the cutting table."""

from __future__ import annotations

from rootgap.layout import Panel
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock


def panel_pattern(panel: Panel) -> Pattern:
    """Return the flat pattern of a closing plate or a half disc, with the line that the half's bore lies on."""
    low_x, low_y, high_x, high_y = panel.outline.bounds()
    at = (0.5 * (low_x + high_x), 0.5 * (low_y + high_y) - 2.0)
    return Pattern(
        panel.id,
        "panel",
        f"{panel.name.capitalize()} {panel.id}",
        (Drawn("cut.outer", panel.outline), Drawn("mark", panel.bore)),
        (Label("text", at, panel.id, 4.0, anchor="middle"),),
        (),
        (
            ("Part", f"{panel.id}, make 1"),
            ("Material", f"{panel.metal.grade}, {panel.thickness:g} mm"),
            ("Size", f"{high_x - low_x:.1f} x {high_y - low_y:.1f} mm"),
            ("Seen from", "either side: it is its own mirror image"),
        ),
        ("The marked line is the half's bore: its wall stands outside it.",),
        PlateStock(panel.metal.name, panel.length),
    )
