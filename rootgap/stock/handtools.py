"""The room that hand tools take: what a bolt, a plug or a weld needs round it to be come at."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from rootgap.stock.tables import load


@dataclass(frozen=True)
class Torch:
    """A torch. cup: half angle of the cone that it takes, degrees; length: of that cone, mm; lean: the most it leans
    from the middle of the groove, and along the weld, degrees."""

    cup: float
    length: float
    lean: float


@dataclass(frozen=True)
class HandTools:
    """Lengths and diameters in mm, turns in degrees. extensions: lengths, 0 for none; spanner: its length in hexagons
    across flats."""

    socket: float
    plug_socket: float
    extensions: tuple[float, ...]
    extension: float
    ratchet_head: float
    ratchet_height: float
    ratchet_reach: float
    ratchet_handle: float
    ratchet_swing: float
    hand: float
    hand_length: float
    finger: float
    spanner: float
    spanner_height: float
    spanner_shank: float
    ring_swing: float
    open_swing: float
    torch: Torch
    source: str
    note: str


@cache
def hand_tools() -> HandTools:
    """Return the table.

    >>> hand_tools().ring_swing, hand_tools().extensions
    (30.0, (0.0, 75.0, 150.0, 250.0))
    """
    table = load("handtools")
    socket, ratchet, hand, spanner = table["socket"], table["ratchet"], table["hand"], table["spanner"]
    return HandTools(
        float(socket["length"]),
        float(socket["plug"]),
        tuple(float(length) for length in table["extension"]["lengths"]),
        float(table["extension"]["diameter"]),
        float(ratchet["diameter"]),
        float(ratchet["height"]),
        float(ratchet["reach"]),
        float(ratchet["handle"]),
        float(ratchet["swing"]),
        float(hand["diameter"]),
        float(hand["length"]),
        float(hand["finger"]),
        float(spanner["reach"]),
        float(spanner["height"]),
        float(spanner["shank"]),
        float(spanner["ring_swing"]),
        float(spanner["open_swing"]),
        Torch(*(float(table["torch"][word]) for word in ("cup", "length", "lean"))),
        str(table["source"]),
        str(table["note"]),
    )
