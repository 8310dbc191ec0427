"""Does a formed end stretch or shrink no further than a pipe's end does in the shop?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Joint
from rootgap.layout import Layout, Straight

#: Largest change of girth, percent of that of the wall's middle.
LARGEST = 5.0


def girths(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how far each formed end's girth must change, percent."""
    for piece in layout.pieces():
        if isinstance(piece, Straight) and piece.formed:
            end = piece.formed
            yield at_most(
                "girth",
                piece.id,
                100.0 * abs(end.stretch),
                LARGEST,
                "%",
                "common practice, no source: beyond it an end splits or buckles",
                "common practice, no source",
                f"its bore measures {end.pipe_girth:.1f} mm round and must measure {end.girth:.1f} mm "
                f"({end.difference:+.1f} mm): use stock of about {end.equal_round:.1f} mm bore, or a transition",
                "warn",
            )
