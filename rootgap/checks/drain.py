"""Does a turbo's oil fall to the pan, as the vehicle stands?

Terminology: a line's *fall* is the angle, degrees, that it goes down below level; a *corner* is where its direction
changes. Up is away from the ground: the rake of the vehicle is in it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, Support, at_least, at_most
from rootgap.joints import Joint
from rootgap.layout import Drain, Layout
from rootgap.layout.aim import at_least as rounded_up

Array = NDArray[np.float64]

#: Least fall that is not called flat, degrees (common practice, no source).
FALL = 5.0
#: Sharpest corner, degrees: a fitting of 45 is to be avoided, one of 90 more so.
CORNER = 45.0
MAKER: Support = "published article"
SOURCE = "a turbocharger maker's page on oil drainage"
OWN = "the parameter file"


def oil_drains(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield findings for each drain: how it and the shaft stand, how the line falls, where it ends, how wide it is."""
    for drain in layout.access.drains:
        yield from _stands(drain, layout.access.up)
        yield from _falls(drain, layout.access.up)
        yield from _ends(drain, layout.access.up)


def falls(points: Array, up: Array) -> Array:
    """Return the fall, (n - 1,), degrees, of each stretch of a line through `points`, (n, 3), mm; below nought it
    rises. up: (3,), unit.

    >>> falls(np.array([(0, 0, 0), (1, -1, 0), (2, -1, 0.0)]), np.array((0, 1.0, 0))).round(6).tolist()
    [45.0, 0.0]
    """
    steps = np.diff(points, axis=0)
    down = -(steps @ up)
    return np.degrees(np.arctan2(down, np.linalg.norm(steps + down[:, None] * up, axis=1))) + 0.0


def corners(points: Array) -> Array:
    """Return the angle, (n - 2,), degrees, that a line through `points`, (n, 3), mm, turns at each of its corners."""
    steps = np.diff(points, axis=0)
    steps = steps / np.linalg.norm(steps, axis=1)[:, None]
    return np.degrees(np.arccos(np.clip(np.sum(steps[1:] * steps[:-1], axis=1), -1.0, 1.0)))


def _stands(drain: Drain, up: Array) -> Iterator[Finding]:
    turbo = drain.envelope
    if turbo.shaft is None or turbo.drain is None:
        return
    tells = (SOURCE, MAKER) if drain.tilt == 15.0 else (OWN, "the parameter file")
    from_vertical = float(np.degrees(np.arccos(np.clip(-turbo.drain.axis @ up, -1.0, 1.0))))
    from_level = float(np.degrees(np.arcsin(np.clip(abs(turbo.shaft.axis @ up), 0.0, 1.0))))
    for what, angle, mend in (
        ("drain from vertical", from_vertical, "turn its centre section: centre = ..."),
        ("shaft from level", from_level, "turn the turbo on its flange, or the run before it"),
    ):
        over = f"{rounded_up(angle - drain.tilt)} degrees too far: {mend}"
        yield at_most(what, turbo.id, round(angle, 9), drain.tilt, "deg", tells[0], tells[1], over)


def _falls(drain: Drain, up: Array) -> Iterator[Finding]:
    fall = falls(drain.points, up)
    worst = int(np.argmin(fall))
    least = round(float(fall[worst]), 9)
    yield at_least(
        "drain falls",
        f"{drain.id}, stretch {worst + 1} of {len(fall)}",
        least,
        FALL,
        "deg",
        f"{SOURCE}: no rise and no flat run; {FALL:g} degrees to be sure of it (common practice, no source)",
        MAKER if least <= 0.0 else "common practice, no source",
        f"oil stands in it: lower its far end, or move the turbo {rounded_up(_lift(drain, worst, up))} mm up",
        "fail" if least <= 0.0 else "warn",
    )
    turn = corners(drain.points)
    if turn.size:
        sharpest = int(np.argmax(turn))
        yield at_most(
            "drain corner",
            f"{drain.id}, corner {sharpest + 1}",
            round(float(turn[sharpest]), 9),
            CORNER,
            "deg",
            f"{SOURCE}: avoid fittings of 45 and 90 degrees",
            MAKER,
            "let the line bend over a longer way, in more than one corner",
            "warn",
        )


def _lift(drain: Drain, stretch: int, up: Array) -> float:
    """Return how far, mm, the upper end of a stretch must be raised for it to fall by `FALL` degrees."""
    step = drain.points[stretch + 1] - drain.points[stretch]
    down = -float(step @ up)
    return float(np.tan(np.radians(FALL)) * np.linalg.norm(step + down * up)) - down


def _ends(drain: Drain, up: Array) -> Iterator[Finding]:
    height = round(float((drain.points[-1] - drain.oil) @ up), 9)
    yield at_least(
        "drain over the oil",
        drain.id,
        height,
        0.0,
        "mm",
        f"{SOURCE}: it enters the pan above the oil, away from the crank's sling",
        MAKER,
        f"its fitting lies {rounded_up(-height)} mm under the oil: raise it, or use a scavenge pump",
    )
    yield at_least(
        "drain bore",
        drain.id,
        drain.bore,
        drain.envelope.bore,
        "mm",
        f"{SOURCE}: nowhere narrower than the hole in the housing",
        MAKER,
        f"the line is {rounded_up(drain.envelope.bore - drain.bore)} mm narrower than the housing's hole",
    )
