"""What stands in the way of a tool: every piece, keep-out and hull, as a body with a name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from rootgap.checks.gap import Cover, contained, cover_of, covered, gap
from rootgap.geometry.distance import Bend, Block, Body, HalfSpace, Prism, Rod, Union
from rootgap.geometry.frames import unit
from rootgap.geometry.skins import rod_skin
from rootgap.joints import Cuts, Joint, cut_ends, reach
from rootgap.layout import Cap, Divider, Layout, Panel, Piece, Plate, Spike, Straight

Array = NDArray[np.float64]

#: How far, mm, chords may lie from a plate's edge.
_CHORD = 0.1
#: From farther off than this, mm, a plate is its box, and a skin a ball.
_NEAR = 20.0
#: So many points are measured at once against a skin's cells.
_AT_ONCE = 1000


@dataclass(frozen=True, eq=False)
class Cloud:
    """A skin that only its cells tell of, as balls round them."""

    cover: Cover

    def distance(self, points: Array) -> Array:
        """Return distances, (n,), mm, of `points`, (n, 3), mm, that are never too large; from farther than `_NEAR`
        those to a ball round it all."""
        middle, radius = self.cover.ball
        found = np.linalg.norm(points - middle, axis=1) - radius
        near = np.flatnonzero(found < _NEAR)
        for some in np.array_split(near, len(near) // _AT_ONCE + 1):
            lag = np.linalg.norm(points[some, None] - self.cover.middles, axis=2)
            found[some] = (lag - self.cover.spread).min(axis=1)
        return found


@dataclass(frozen=True, eq=False)
class Boxed:
    """A plate, whose edge is asked only from near by."""

    plate: Prism
    box: Block

    @classmethod
    def of(cls, plate: Prism) -> Boxed:
        """Return a plate in the least box along its drawing's axes."""
        low, high = plate.outline.min(axis=0), plate.outline.max(axis=0)
        (x, y), (width, height) = 0.5 * (low + high), high - low
        frame = plate.frame
        middle = frame.origin - x * frame.side + y * frame.ref + 0.5 * plate.thickness * frame.axis
        return cls(plate, Block(replace(frame, origin=middle), np.array((height, width, plate.thickness))))

    def distance(self, points: Array) -> Array:
        """Return distances, (n,), mm, of `points`, (n, 3), mm; from farther than `_NEAR` those to the box."""
        found = self.box.distance(points)
        near = found < _NEAR
        if near.any():
            found[near] = self.plate.distance(points[near])
        return found


@dataclass(frozen=True, eq=False)
class Obstacle:
    """Something in the way. name: as the file has it; body: all that it fills, a little more of a cut end; cover: its
    skin in cells, None of a keep-out, whose body is exact; unit: what it goes in and out with: a piece's run or
    flange, an envelope, what is clamped on that, or "" of what stays."""

    name: str
    body: Body
    cover: Cover | None = None
    unit: str = ""


def obstacles(layout: Layout, joints: Sequence[Joint]) -> tuple[Obstacle, ...]:
    """Return all that a tool may meet; what lies inside the pipes is left out."""
    cuts = cut_ends(joints)
    found = []
    for piece in layout.pieces():
        if not isinstance(piece, Divider | Spike):
            cover = covered(piece, cuts)
            found.append(Obstacle(piece.id, outer(piece, cuts, cover), cover, "manifold"))
    found += [
        Obstacle(hull.id, hull.body, cover_of(hull.skin), hull.off or envelope.id)
        for envelope in layout.envelopes
        for hull in envelope.hulls
    ]
    found += [Obstacle(f"keepout.{name}", keepout.body) for name, keepout in layout.keepouts.items()]
    return tuple(found)


def outer(piece: Piece, cuts: Cuts, cover: Cover) -> Body:
    """Return a body that holds all of a finished piece, bore and all: a cut pipe as far as its longest side goes."""
    if isinstance(piece, Plate | Panel):
        edges = piece.outlines
        plates = tuple(Boxed.of(Prism(piece.start, edge.points(_CHORD), (), piece.thickness)) for edge in edges)
        return plates[0] if len(plates) == 1 else Union(plates)
    if isinstance(piece, Straight) and not piece.formed:
        low, high = reach(cuts, piece.id, piece.length)
        return Rod(piece.start.advanced(low).origin, piece.start.advanced(high).origin, piece.stock.r_out)
    if isinstance(piece, Cap):
        return Rod(piece.start.origin, piece.start.advanced(piece.length).origin, piece.stock.r_out)
    if piece.filled is None or (isinstance(piece, Straight) and piece.formed):
        return Cloud(cover)
    return piece.filled


def over_plane(rod: Rod, plane: HalfSpace) -> float:
    """Return the least distance, mm, of a rod from a half-space: at the rim of one of its ends.

    >>> up = np.array((0.0, 0.0, 1.0))
    >>> over_plane(Rod(3.0 * up, 9.0 * up, 5.0), HalfSpace(np.zeros(3), up))
    3.0
    """
    lean = float(unit(rod.end - rod.start) @ plane.normal)
    ends = plane.distance(np.array([rod.start, rod.end]))
    return float(ends.min()) - rod.radius * float(np.sqrt(max(1.0 - lean * lean, 0.0)))


@dataclass(frozen=True, eq=False)
class Space:
    """Everything that stands, asked for room."""

    things: tuple[Obstacle, ...]

    def without(self, *names: str) -> Space:
        """Return the space without what bears one of `names`, or goes with a unit of that name."""
        gone = {name for name in names if name}
        return Space(tuple(thing for thing in self.things if not {thing.name, thing.unit} & gone))

    def standing_on(self, name: str, face: HalfSpace) -> Space:
        """Return the space with all that lies behind `face` in place of the plate of that name."""
        return Space((*self.without(name).things, Obstacle(name, face)))

    def near(self, middle: Array, radius: float) -> tuple[Obstacle, ...]:
        """Return what comes nearer than `radius` to `middle`, (3,), both mm."""
        return tuple(thing for thing in self.things if float(thing.body.distance(middle[None])[0]) < radius)

    def room(self, rod: Rod, enough: float = np.inf) -> tuple[float, str]:
        """Return the least distance, mm, from `rod` to anything, and what that is; below nought it is in the way.

        Above `enough`, mm, any figure above that may come.
        """
        middle, half = 0.5 * (rod.start + rod.end), 0.5 * float(np.linalg.norm(rod.end - rod.start))
        ball = float(np.hypot(half, rod.radius))
        least, nearest = np.inf, ""
        cover: Cover | None = None
        for thing in self.things:
            beyond = float(thing.body.distance(middle[None])[0]) - ball
            if beyond > min(enough, least):
                continue
            if isinstance(thing.body, HalfSpace):
                found = over_plane(rod, thing.body)
            elif thing.cover is not None:
                found = gap(thing.cover, rod, enough=min(enough, least))
                if beyond < -ball and isinstance(thing.body, Rod | Bend):
                    # All of it may be inside a housing, and meets no skin of that.
                    found = min(found, beyond + ball)
            else:
                cover = cover or cover_of(rod_skin(rod))
                found = min(gap(cover, thing.body, enough=min(enough, least)), contained(rod, thing.body))
            if found < least:
                least, nearest = found, thing.name
        return least, nearest
