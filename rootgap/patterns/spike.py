"""The spike of a collector laid flat: all its facets as one fan, from the tip."""

from __future__ import annotations

import numpy as np

from rootgap.geometry.paths import Path
from rootgap.geometry.pyramid import Pyramid
from rootgap.layout import Spike
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock
from rootgap.patterns.wrap import SIGN

#: How far arcs may lie from the true outline, mm: half of what a file promises.
TOLERANCE = 0.005


def spike_pattern(spike: Spike) -> Pattern:
    """Return the flat pattern of a spike, its outside up."""
    made = spike.made
    outline = made.outline(TOLERANCE)
    low_x, low_y, high_x, high_y = outline.bounds()
    # Below the crotches between the lobes, across the folds, which are all alike.
    clear = min(_at(fold, 1.0)[1] for fold in made.folds())
    labels = [
        Label("text", (0.0, share * clear), text, _fitting(text, height, made, share * clear), anchor="middle")
        for share, text, height in ((0.72, spike.id, 3.5), (0.5, f"fold {made.fold:.1f}", 2.5))
    ]
    return Pattern(
        spike.id,
        "spike",
        f"Spike on the crotch of collector.{spike.collector}",
        (Drawn("cut.outer", outline), *(Drawn("mark", fold) for fold in made.folds())),
        tuple(labels),
        (),
        (
            ("Part", f"{spike.id}, make 1"),
            ("Material", f"{spike.metal.grade}, {made.thickness:g} mm"),
            ("Size", f"{high_x - low_x:.1f} x {high_y - low_y:.1f} mm"),
            ("Folds", f"{made.count - 1}, each {made.fold:.2f} deg out of flat, {made.fold_length:.2f} mm long"),
            ("Seam", f"{made.fold_length:.2f} mm, edge to edge"),
            ("Tip", f"inside {made.length:.1f} mm past where the bores meet, outside {spike.length:.1f} mm"),
            ("Weld length", f"{made.rim_length:.1f} mm on the bores"),
        ),
        (
            (
                "Drawn outside up, net size of the inside: fold away from you, the inside grooved along the lines so "
                "that it keeps its size."
            ),
            "Edges square; the inside's edge touches the bores. Weld from the outlet, before anything stands on it.",
        ),
        PlateStock(spike.metal.grade, made.thickness),
    )


def _fitting(text: str, height: float, made: Pyramid, up: float) -> float:
    """Return the height, mm, at most `height`, at which a text stays on the sheet `up` mm from the tip."""
    side = min(made.count * made.half_turn, np.radians(80.0))
    return float(min(height, 1.7 * up * np.tan(side) / (SIGN * len(text))))


def _at(fold: Path, share: float) -> tuple[float, float]:
    """Return the place at a share of a fold, mm."""
    (_, _, _), (x, y, _) = fold.vertices
    return share * x, share * y
