"""How far a piece may end up from where it is drawn: the tolerances of what stands between it and the head.

Terminology: a piece's *chain* is the shortest way to it from a head flange, over the joints.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.joints import Butt, Joint, Merge, Mitre, OutletWeld
from rootgap.layout import Elbow, Layout

Array = NDArray[np.float64]

#: An elbow's centre to end, either way, mm. Source: ASME B16.9, tolerances of NPS 1/2 to 2-1/2, by a reprint.
ELBOW = 2.0
#: What a weld draws, mm: a V butt 1.5 to 3, a fillet 0.8. Source: a welding institute's published answer on shrinkage.
BUTT, FILLET = 1.5, 0.8
_BUTTS = (Butt, Mitre, Merge, OutletWeld)


@dataclass(frozen=True, eq=False)
class Chain:
    """The way to a piece. datum: (3,), mm, of the head flange it comes from, or the origin where it hangs on none;
    elbows: how many it passes, its own end among them; butts, fillets: welds."""

    datum: Array
    elbows: int = 0
    butts: int = 0
    fillets: int = 0

    @property
    def stack(self) -> float:
        """The most that they add up to, mm."""
        return ELBOW * self.elbows + BUTT * self.butts + FILLET * self.fillets

    @property
    def likely(self) -> float:
        """What they come to where they are independent, mm: the root of the sum of squares."""
        return float(np.sqrt(ELBOW**2 * self.elbows + BUTT**2 * self.butts + FILLET**2 * self.fillets))

    @property
    def told(self) -> str:
        """What it is made of."""
        welds = self.butts + self.fillets
        return f"{self.elbows} elbow{'' if self.elbows == 1 else 's'}, {welds} weld{'' if welds == 1 else 's'}"


def chains(layout: Layout, joints: Sequence[Joint]) -> Mapping[str, Chain]:
    """Return the chain of every piece by its mark."""
    pieces = {piece.id: piece for piece in layout.pieces()}
    beside: dict[str, list[tuple[str, Joint]]] = {mark: [] for mark in pieces}
    for joint in joints:
        for mark in joint.joined:
            beside.setdefault(mark, []).extend((other, joint) for other in joint.joined if other != mark)
    found = {layout.plates[name].id: Chain(layout.plates[name].start.origin) for name in layout.begun}
    waiting = list(found)
    for mark in waiting:
        for other, joint in beside[mark]:
            if other in pieces and other not in found:
                found[other] = _further(found[mark], joint, elbow=isinstance(pieces[other], Elbow))
                waiting.append(other)
    return {mark: found.get(mark, Chain(np.zeros(3))) for mark in pieces}


def _further(chain: Chain, joint: Joint, *, elbow: bool) -> Chain:
    """Return a chain with one more joint and piece."""
    butt = isinstance(joint, _BUTTS) and joint.weld_length > 0.0
    fillet = not butt and joint.weld_length > 0.0
    return Chain(chain.datum, chain.elbows + elbow, chain.butts + butt, chain.fillets + fillet)
