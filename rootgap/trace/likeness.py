"""Does a traced part agree with a known one as it was pictured, or only turned half round or mirrored?

Terminology
    known   the flange that the picture should show: an earlier trace, a drawing, the layout's head
    off     how far a middle lies from the known one where both patterns lie best on each other, mm
    unlike  area of ports that only one of the two leaves open, mm2
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rootgap.errors import PictureError
from rootgap.plates.match import Fit, Pair, match
from rootgap.spec import FlangePart
from rootgap.trace.gasket import Axes, rightward

#: A bolt hole that is off by more than this, mm, is another (common practice, no source: a gasket's holes have
#: about as much play).
BOLT_OFF = 1.5
#: So is a port, mm (common practice, no source: a gasket's ports are larger than the head's, not always evenly).
PORT_OFF = 5.0
#: Where bolts agree either way up, ports tell by more unlike area than this share of the known ports' (common
#: practice, no source; edges traced a tenth of a millimetre off make about a hundredth).
UNLIKE = 0.05
#: Fewer middles than this agree with anything.
LEAST_MIDDLES = 3


@dataclass(frozen=True)
class Likeness:
    """How a traced part agrees with a known one. worst: its hole that is farthest off; off: how far, mm; alone:
    numbers of holes and of known bolts without a fellow; also: other orientations that agree as well."""

    known: str
    worst: Pair
    off: float
    alone: tuple[int, int]
    also: tuple[str, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """What to know, a line each."""
        holes, bolts = self.alone
        lacks = [f"{bolts} of its bolts {'has' if bolts == 1 else 'have'} no hole"] if bolts else []
        lacks += [f"{holes} {'hole is' if holes == 1 else 'holes are'} none of its own"] if holes else []
        also = f"NOTE: it would agree {', '.join(self.also)} as well: bolts and ports do not tell which way it lay"
        worst = f"hole {self.worst.hole} is farthest off, {self.off:.2f} mm from bolt {self.worst.bolt}"
        agrees = "; ".join([f"Agrees with {self.known} as pictured: {worst}", *lacks])
        return (agrees, also) if self.also else (agrees,)


def likeness(found: FlangePart, known: FlangePart, axes: Axes, picture: str, *, turn: bool) -> Likeness:
    """Return how a traced flange agrees with the one that it should be.

    axes: of the tracing; picture: its file, for messages; turn: as it was traced. Raises PictureError where it
    agrees in no orientation or in another one only, and says which.
    """
    count = min(len(found.holes()), len(known.holes()))
    if not count or count + min(len(found.port), len(known.port)) < LEAST_MIDDLES:
        what = f"{len(found.holes())} bolt holes and {len(found.port)} ports are too few to hold against {known.name}"
        raise PictureError(picture, what, "trace it without --like, and look at the drawing")
    fits = match(found, known)
    agreeing = [fit for fit in fits if _agrees(fit)]
    if not agreeing:
        best = min(fits, key=_off)
        what = f"it agrees with {known.name} in no orientation: {best.orientation}, {_told(best)}"
        remedy = "check --dpi, that this is the part, and that x of both runs along the same row of bolts"
        raise PictureError(picture, what, remedy)
    least = min(_unlike(fit) for fit in agreeing)
    margin = UNLIKE * sum(port.area for port in fits[0].ports)
    alike = [fit for fit in agreeing if _unlike(fit) <= least + margin]
    if fits[0] not in alike:
        best = min(alike, key=_off)
        plain = _told(fits[0]) if fits[0] not in agreeing else f"{_unlike(fits[0]):.0f} mm2 of ports are unlike"
        what = f"it agrees with {known.name} only {best.orientation} ({_told(best)}); as it is, {plain}"
        raise PictureError(picture, what, _remedy(best, axes, turn=turn))
    pair = _worst(fits[0])
    alone = len(found.holes()) - len(fits[0].pairs), len(known.holes()) - len(fits[0].pairs)
    return Likeness(known.name, pair, _far(pair), alone, tuple(fit.orientation for fit in alike[1:]))


def _far(pair: Pair) -> float:
    return float(np.hypot(*pair.offset))


def _worst(fit: Fit) -> Pair:
    return max(fit.pairs, key=_far)


def _port_off(fit: Fit) -> float:
    return max(float(np.hypot(*port.offset)) for port in fit.ports)


def _off(fit: Fit) -> float:
    """Return how far the farthest middle is off, of its limit; no unit."""
    return max(_far(_worst(fit)) / BOLT_OFF, _port_off(fit) / PORT_OFF)


def _agrees(fit: Fit) -> bool:
    return _off(fit) <= 1.0


def _unlike(fit: Fit) -> float:
    return sum(port.masked + port.bare for port in fit.ports)


def _told(fit: Fit) -> str:
    """Return what is farthest off."""
    pair = _worst(fit)
    if _far(pair) / BOLT_OFF >= _port_off(fit) / PORT_OFF:
        return f"hole {pair.hole} is {_far(pair):.2f} mm off bolt {pair.bolt}"
    port = max(fit.ports, key=lambda port: float(np.hypot(*port.offset)))
    return f"an opening is {_port_off(fit):.2f} mm off port {port.port}"


def _remedy(fit: Fit, axes: Axes, *, turn: bool) -> str:
    """Return which options trace the part as the known one lies."""
    flipped = fit.flip[0] * fit.flip[1] < 0.0
    # Where x would run, in this tracing's frame, if only the face were changed.
    way = 180.0 - rightward(-axes.angle, turn=turn) if flipped else axes.angle
    turned = bool(np.cos(np.radians(way - axes.angle)) > 0.0) != (fit.flip[0] > 0.0)
    changed = [("--mirror", axes.mirror)] * flipped + [("--turn", turn)] * turned
    words = (
        f"{word} {' and '.join(option for option, given in changed if given is given_already)}"
        for word, given_already in (("with", False), ("without", True))
        if any(given is given_already for _, given in changed)
    )
    again = f"trace again {' and '.join(words)}"
    return f"scan the other face, or {again}" if flipped else again
