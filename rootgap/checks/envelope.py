"""Has what stands on a flange, a turbo or a gate, room beside the pipes and others of its kind?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_least, worst
from rootgap.checks.gap import contained, cover_of, covers_of, gap, nearest_of
from rootgap.geometry.distance import Body
from rootgap.joints import Joint, cut_ends
from rootgap.layout import Envelope, Hull, Layout
from rootgap.layout.aim import at_least as rounded_up

#: Finger clearance of what the engine carries, mm. Source: a published article on engine swaps, 10 to 15 mm.
COLD_SOURCE = "a published article: finger clearance, 10 to 15 mm, beside what the engine carries"


def envelope_pieces(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for the nearest piece, mm, to each envelope's hot hulls, and to its cold ones."""
    cuts = cut_ends(joints)
    covers = covers_of(layout.pieces(), cuts) if layout.envelopes else {}
    for envelope in layout.envelopes:
        others = {mark: cover for mark, cover in covers.items() if mark != envelope.plate.id}
        found = {
            hull: nearest_of(others if hull is envelope.foot else covers, hull.body) for hull in envelope.hulls
        }
        for hot in (True, False):
            hulls = [hull for hull in envelope.hulls if hull.hot is hot]
            if hulls and covers:
                yield worst(_to_piece(envelope, hull, *found[hull]) for hull in hulls)


def _to_piece(envelope: Envelope, hull: Hull, piece: str, room: float) -> Finding:
    limit = 0.0 if hull.hot else envelope.cold
    return at_least(
        "envelope beside pipes",
        f"{hull.id} to {piece}",
        room,
        limit,
        "mm",
        "worked out: hot parts may not run into each other" if hull.hot else COLD_SOURCE,
        "worked out" if hull.hot else "published article",
        f"{rounded_up(limit - room)} mm short: turn {envelope.id}, clock its housings, or lengthen the run before it",
        "fail" if room < 0.0 else "warn",
    )


def envelopes_apart(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the least distance, mm, between the hulls of two envelopes."""
    for index, one in enumerate(layout.envelopes):
        for other in layout.envelopes[index + 1 :]:
            pairs = {
                (a.id, b.id): least_to(a, b.body) for a in one.hulls for b in other.hulls if a is not b
            }
            (first, second), room = min(pairs.items(), key=lambda pair: pair[1])
            yield at_least(
                "envelopes apart",
                f"{first} to {second}",
                room,
                0.0,
                "mm",
                "worked out from the layout, no source",
                "worked out",
                f"they run into each other by {rounded_up(-room)} mm: turn one, or move a flange",
            )


def least_to(hull: Hull, body: Body) -> float:
    """Return the least distance, mm, from a hull to `body`; below nought they meet, one inside the other too."""
    return min(gap(cover_of(hull.skin), body), contained(hull.body, body))
