"""Does the fixture clear the work, does the work lift out of it, and does it hold what lies in it?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.checks.gap import Cover, covers_of, gap
from rootgap.geometry.distance import Prism
from rootgap.geometry.freedom import ways_out
from rootgap.joints import Joint, cut_ends
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Fixture, FixturePlate, Layout

Array = NDArray[np.float64]

SOURCE = "worked out from the layout, no source"
#: Metal may touch; deeper than this, mm, it overlaps.
TOUCH = -0.05
#: How close, mm, points of a plate stand where it is held against another.
SPACING = 4.0
#: The work is looked at lifted by this much more each time, mm, at first and further up.
FIRST, STEP, FINE = 1.0, 6.0, 6.0


#: What was found for the fixtures of a few manifolds.
FOUND: Kept[tuple[Finding, ...]] = Kept(100)


def fixture_clear(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the worst overlap, mm, of a plate of the fixture with the work or with another plate."""
    for fixture in layout.fixtures:
        yield from FOUND.get(f"clear {_key(fixture, joints)}", partial(_clear, fixture, joints))


def _clear(fixture: Fixture, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    covers, worst, between = _covers(fixture, joints), 0.0, "all plates"
    for plate in fixture.plates:
        for mark, cover in covers.items():
            if mark not in _touched(fixture, plate):
                depth = _deep(cover, plate.filled)
                if depth < min(worst, TOUCH):
                    worst, between = depth, f"{plate.id} and {mark}"
    samples = {plate.id: plate.samples(SPACING) for plate in fixture.plates}
    for one, other in combinations(fixture.plates, 2):
        for plate, body in ((one, other.filled), (other, one.filled)):
            depth = _into(samples[plate.id], body)
            if depth < min(worst, TOUCH):
                worst, between = depth, f"{one.id} and {other.id}"
    advice = "give fixture.stations where there is room"
    return (at_least("fixture clear", between, worst, 0.0, "mm", SOURCE, "worked out", advice),)


def fixture_lifts_out(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how deep the work runs into a plate, mm, as it is lifted off the base."""
    for fixture in layout.fixtures:
        yield from FOUND.get(f"lifts {_key(fixture, joints)}", partial(_lifts_out, fixture, joints))


def _lifts_out(fixture: Fixture, joints: Sequence[Joint]) -> tuple[Finding, ...]:
    covers, worst, between = _covers(fixture, joints), 0.0, "all plates"
    for plate in fixture.plates[1:]:
        top = float((plate.corners @ fixture.load).max())
        for mark, cover in covers.items():
            if mark in _touched(fixture, plate):
                continue
            lifts = _lifts(top - float((cover.middles @ fixture.load).min()))
            ways = fixture.load * np.array([[0.0], [lifts.max(initial=0.0)]])
            if _beside(np.vstack([cover.middles + way for way in ways]), cover, plate.filled):
                continue
            for lift in lifts:
                depth = _deep(_moved(cover, lift * fixture.load), plate.filled)
                if depth < min(worst, TOUCH):
                    worst, between = depth, f"{mark} and {plate.id}, lifted {lift:g} mm"
    advice = "move that cradle: give fixture.stations"
    return (at_least("fixture lifts out", between, worst, 0.0, "mm", SOURCE, "worked out", advice),)


def fixture_holds(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for each run of the fixture: in how many directions it can move though nothing lifts it."""
    for fixture in layout.fixtures:
        yield from _holds(fixture, joints)


def _holds(fixture: Fixture, joints: Sequence[Joint]) -> Iterator[Finding]:
    for name, held in fixture.held.items():
        normals = np.vstack([*(push.normals for push in held.pushes), -fixture.load[None]])
        free = ways_out(normals)
        way = f"nothing keeps it from moving along {_told(free[0])}" if free else ""
        cure = "no seat has room under it; clamp it, or give fixture.stations" if not held.seats else "clamp it"
        yield at_most(
            "fixture holds",
            f"run.{name}",
            float(len(free)),
            0.0,
            "ways",
            SOURCE,
            "worked out",
            f"{way}: {cure}",
            "warn",
        )


def _told(direction: Array) -> str:
    return "(" + ", ".join(f"{value + 0.0:.2f}" for value in np.round(direction, 2) + 0.0) + ")"


def fixture_line(layout: Layout) -> str:
    """Return in one line which runs lie in no cradle, and which no fixture holds; none where all do, or none is asked
    for."""
    held = {name: each for fixture in layout.fixtures for name, each in fixture.held.items()}
    bare = [f"run.{name}" for name, each in held.items() if not each.seats]
    after = [f"run.{name}" for name in layout.runs if name not in held]
    said = [
        *([f"no seat has room under {', '.join(bare)}"] if bare else []),
        *([f"{', '.join(after)} not held: fit after what is, or name in fixture.runs"] if after else []),
    ]
    return f"Fixture: {'; '.join(said)}." if layout.fixtures and said else ""


def _key(fixture: Fixture, joints: Sequence[Joint]) -> str:
    """Return a fingerprint of a fixture and of the ends of what it holds."""
    cuts = cut_ends(joints)
    return fingerprint(fixture, [cuts.get(piece.id) for piece in fixture.work.pieces()])


def _covers(fixture: Fixture, joints: Sequence[Joint]) -> Mapping[str, Cover]:
    cuts = cut_ends(joints)
    return covers_of(fixture.work.pieces(), cuts)


def _touched(fixture: Fixture, plate: FixturePlate) -> tuple[str, ...]:
    """Return the marks of the pieces that a plate touches over a face, or stands inside."""
    head = fixture.work.head.id
    if plate is fixture.plates[0]:
        return (head,)
    if plate.id in fixture.plugs:
        return (head, fixture.plugs[plate.id])
    return tuple(flange for flange, post in fixture.posts.items() if post == plate.id)


def _lifts(height: float) -> Array:
    """Return how far, mm, the work is lifted each time until it is `height` mm higher."""
    return np.concatenate([np.arange(FIRST, min(FINE, height), FIRST), np.arange(FINE, height, STEP)])


def _moved(cover: Cover, by: Array) -> Cover:
    return replace(cover, skin=lambda u, v: cover.skin(u, v) + by, middles=cover.middles + by)


def _deep(cover: Cover, body: Prism) -> float:
    """Return the least distance, mm, from a skin to a plate, where it is below nought."""
    near = body.near(cover.middles, float(cover.spread.max()))
    if not near.any():
        return 0.0
    cells = replace(cover, at=cover.at[near], middles=cover.middles[near], spread=cover.spread[near])
    return gap(cells, body, enough=TOUCH)


def _beside(points: Array, cover: Cover, body: Prism) -> bool:
    """Tell whether boxes round points, (n, 3), mm, of a skin's cells and round a plate are apart."""
    up, side, through = body.frame.to_local(points).T
    reach = float(cover.spread.max())
    (left, low), (right, high) = body.outline.min(axis=0), body.outline.max(axis=0)
    sides = ((-side, left, right), (up, low, high), (through, 0.0, body.thickness))
    return any(float(at.max()) + reach < least or float(at.min()) - reach > most for at, least, most in sides)


def _into(points: Array, body: Prism) -> float:
    """Return the least signed distance, mm, of points, (n, 3), mm, to a plate, 0 where none is near."""
    near = points[body.near(points, 0.0)]
    return float(body.distance(near).min(initial=0.0))
