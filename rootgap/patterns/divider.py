"""Dividers for the cutting table: the edge, and where the pipes round it begin and end."""

from __future__ import annotations

import numpy as np

from rootgap.geometry.parting import Disc
from rootgap.geometry.paths import Path
from rootgap.layout import Divider, Layout
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock

#: How far marks keep off the edge, mm.
INSET = 2.0
_ROUND = 2.0 * np.pi * np.arange(360) / 360


def divider_pattern(divider: Divider, layout: Layout) -> Pattern:
    """Return the flat pattern of a divider, +y along its run's gas where it goes down one."""
    drawn, labels = [Drawn("cut.outer", divider.outline)], []
    sawn = _sawn(divider, layout)
    for y, text in _levels(divider, layout) + ([] if sawn is None else [(sawn, "saw here to get it in")]):
        wide = max(divider.tongue.half - INSET, 1.0) if divider.tongue else 0.0
        drawn.append(Drawn("mark", Path.through([(-wide, y), (wide, y)])))
        # The bore's text stands below its line, for the outside's is only a wall above it.
        labels.append(Label("text", (-wide + 1.0, y + (-3.5 if text.startswith("bore") else 1.0)), text, 2.5))
    if divider.disc:
        reach = 0.3 * divider.disc.radius
        drawn += [Drawn("mark", Path.through([(-x, -y), (x, y)])) for x, y in ((reach, 0.0), (0.0, reach))]
        labels.append(Label("text", (1.0, -0.5 * divider.disc.radius), f"{divider.host}, axis here", 2.5))
    low_x, low_y, high_x, high_y = divider.outline.bounds()
    widths = (("Tongue", f"{2.0 * divider.tongue.half:.2f} mm wide"),) if divider.tongue else ()
    return Pattern(
        divider.id,
        "divider",
        f"Divider in run {divider.run}",
        tuple(drawn),
        tuple(labels),
        (),
        (
            ("Part", f"{divider.id}, make 1"),
            ("Material", f"{divider.metal.grade}, {divider.thickness:g} mm"),
            ("Size", f"{high_x - low_x:.1f} x {high_y - low_y:.1f} mm"),
            *widths,
            ("Gap to the bore", f"{divider.gap:g} mm all along its edges"),
            *((("Drawn", f"gas of {divider.run} going up"),) if divider.tongue else ()),
        ),
        tuple(_notes(divider, sawn)),
        PlateStock(divider.metal.grade, divider.thickness),
    )


def _levels(divider: Divider, layout: Layout) -> list[tuple[float, str]]:
    """Return y, mm, and a text for every level down the tongue at which something begins or ends."""
    reach = divider.tongue
    if reach is None:
        return []
    levels = _crossed(divider.disc, layout, divider.host) if divider.disc and divider.host else []
    y = reach.base
    pieces = layout.runs[divider.run].pieces
    for piece in pieces[:-1]:
        y += piece.length
        levels.append((y, f"end of {piece.id}"))
    if reach.slot:
        levels.append((reach.face, f"end of {pieces[-1].id}: face of the flange"))
    return levels


def _crossed(disc: Disc, layout: Layout, host: str) -> list[tuple[float, str]]:
    """Return y, mm, and a text for the bore and the outside of the pipe that a divider goes through."""
    up = np.array([0.5 * np.pi])
    stock = layout.members[host].stock
    rows = ((stock.r_in, f"bore of {host}"), (stock.r_out, f"outside of {host}"))
    return [(float(Disc(radius, disc.lean, 0.0).points(up)[0, 1]), text) for radius, text in rows]


def _sawn(divider: Divider, layout: Layout) -> float | None:
    """Return y, mm, across which a plate must be sawn to go in, None where it goes in whole: a disc wider than the
    hole that its tongue stands in goes in from the pipe's end, the tongue through the hole."""
    if divider.disc is None or divider.tongue is None:
        return None
    widest = float(np.abs(divider.disc.points(_ROUND)[:, 0]).max())
    if widest < layout.runs[divider.run].pieces[0].stock.r_in:
        return None
    angles = np.array([divider.disc.corner(divider.tongue.half, side) for side in (1, -1)])
    return float(divider.disc.points(angles)[:, 1].max())


def _notes(divider: Divider, sawn: float | None) -> list[str]:
    notes = []
    if sawn is not None:
        notes.append(
            f"Whole, it does not go in through the hole of {divider.host}: saw it in two as marked (the disc goes in "
            f"from the end, the tongue through the hole, then weld the two), or saw {divider.host} in two there."
        )
    if divider.tongue and divider.tongue.slot:
        notes.append(f"Its end stands {divider.tongue.slot:g} mm in the flange, not welded, free to grow.")
    return notes
