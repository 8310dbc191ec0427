"""Bodies of triangles, as scans and other people's drawings bring them.

Terminology: a mesh is *closed* where every edge has one triangle on each side and all of them face outwards;
then it has an inside. Any other is a *shell*: its distances are measured to its surface from both sides, but for
what it surrounds nearly all round, as a body does that was scanned with holes: that is inside.

How far a vertex can mislead: let q be the point of a triangle that is nearest to p, at distance d. Where q lies
within the triangle or on an edge, p - q is square to that triangle or edge, so every vertex w of it has
|p - w|2 = d2 + |q - w|2, and the nearest of them has |q - w| <= L / sqrt(3) for edges no longer than L. So the
triangles round the vertices within sqrt(d2 + L2 / 3) of p hold the answer, and that is a handful even from afar.
Turned round, with the nearest vertex at v, d is sqrt(v2 - L2 / 3) at least: far off, the triangles round that vertex
alone tell it to `TOLERANCE`, where those that hold the answer may be all, as from the axis of a round body.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import cross, lengths
from rootgap.geometry.winding import Winding, members, starts_of

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Coordinates are told apart to this share of a mesh's size: 21 bits each, so that three fill one integer.
_STEPS = 2**21 - 1
#: Edges are cut until about so many triangles more stand there, and half as many as there were.
_MORE = 100_000
#: Points are asked about so many at a time, and at first the triangles round so many vertices are looked at.
_BATCH, _FIRST = 8192, 8
#: So many points are looked up by one thread.
_FEW = 500
#: The winding number from which a shell surrounds a point: a tub with an open side never does.
SURROUNDED = 0.9
#: Nearer to a shell than this, mm, its sides need not be told apart: both are too near.
NEARLY = 1.0
#: So many points are asked for their sides at most at a time.
ASKED = 64
#: A distance may be told by so much too far, mm.
TOLERANCE = 0.02
#: Distances nearer than this, mm, are one: the triangles of one edge or corner.
_SAME = 1e-7


@dataclass(frozen=True, eq=False)
class Mesh:
    """Triangles in space. vertices: (n, 3), mm; faces: (m, 3), indices into them, anticlockwise seen from outside;
    open_edges: edges that lack a triangle on one side, or have two that face unlike ways; turned: how many of its
    bodies were inside out; tangled: whether some of its bodies may reach into each other, or one lie in another."""

    vertices: Array
    faces: Indices
    open_edges: int = 0
    turned: int = 0
    tangled: bool = False

    @classmethod
    def welded(cls, triangles: Array) -> Mesh:
        """Return the mesh of loose `triangles`, (m, 3, 3), mm, those that are inside out turned round.

        Raises ValueError where none of them has an area.
        """
        vertices, faces = _welded(triangles)
        if not len(faces):
            raise ValueError("no triangle has an area")
        open_edges = _open_edges(faces)
        if open_edges:
            return cls(vertices, faces, open_edges)
        faces, turned, tangled = _outward(vertices, faces)
        return cls(vertices, faces, 0, turned, tangled)

    @property
    def closed(self) -> bool:
        """Whether it has an inside."""
        return self.open_edges == 0

    @property
    def span(self) -> Array:
        """Its size, (3,), mm along x, y and z."""
        return np.ptp(self.vertices, axis=0)

    def distance(self, points: Array) -> Array:
        """Return the signed distances, (n,), mm, of `points`, (n, 3), mm, to `TOLERANCE`."""
        if not len(points):
            return np.zeros(0)
        batches = [self._near.nearest(points[at : at + _BATCH]) for at in range(0, len(points), _BATCH)]
        gaps, facing = (np.concatenate(each) for each in zip(*batches, strict=True))
        inside = facing < 0.0 if self.closed else self._surrounded(points, gaps)
        if self.tangled:
            # What is nearest may be the surface of one body inside another.
            low, high = self.vertices.min(axis=0), self.vertices.max(axis=0)
            asked = np.flatnonzero(~inside & np.all((points > low) & (points < high), axis=1))
            inside[asked] = self._surrounded(points[asked], gaps[asked])
        return np.where(inside, -gaps, gaps)

    def _surrounded(self, points: Array, gaps: Array) -> NDArray[np.bool_]:
        """Return which of `points`, (n, 3), mm, `gaps`, (n,), mm, off a shell it surrounds nearly all round.

        In a ball that the surface does not reach into, all are on one side of it: one is asked for all.
        """
        found = np.zeros(len(points), dtype=bool)
        # The farthest off first: what is deep inside tells enough of what is not.
        left = np.argsort(-gaps)
        for _ in range(ASKED):
            if not left.size or gaps[left[0]] < NEARLY:
                break
            first = left[0]
            ball = np.linalg.norm(points[left] - points[first], axis=1) < gaps[first]
            if abs(self._winding.number(points[first])) > SURROUNDED:
                found[left[ball]] = True
            left = left[~ball]
        return found

    @cached_property
    def _winding(self) -> Winding:
        return Winding.of(self.vertices[self.faces])

    @cached_property
    def _near(self) -> _Near:
        return _Near.of(self.vertices, self.faces)


@dataclass(frozen=True, eq=False)
class _Near:
    """What a nearest triangle is looked up in. triangles: (m, 3, 3), mm; faces: (m, 3), their vertices; tree: of the
    vertices; first, around: the triangles round vertex v are around[first[v] : first[v + 1]]; reach: (n,), mm, of each
    vertex, see the head."""

    triangles: Array
    faces: Indices
    tree: Any
    first: Indices
    around: Indices
    reach: Array

    @classmethod
    def of(cls, vertices: Array, faces: Indices) -> _Near:
        """Return the look-up of a mesh; triangles without an area are on their neighbours' edges."""
        from scipy.spatial import cKDTree

        vertices, faces = _cut_short(vertices, faces)
        triangles = vertices[faces]
        corners = faces.ravel()
        order = np.argsort(corners, kind="stable")
        first = np.concatenate([[0], np.cumsum(np.bincount(corners, minlength=len(vertices)))])
        reach = np.zeros(len(vertices))
        np.maximum.at(reach, corners, np.repeat(_longest(triangles)[0] / np.sqrt(3.0), 3))
        # Boxes drawn tight round points on a wall are all as near from afar: each of them would be looked into.
        tree = cKDTree(vertices, balanced_tree=False, compact_nodes=False)
        return cls(triangles, faces, tree, first, order // 3, reach)

    def nearest(self, points: Array) -> tuple[Array, Array]:
        """Return the distances, (n,), mm, of points, (n, 3), mm, and, (n,), mm, how far outward of the surface."""
        to_vertex, vertex = self._closest(points, 1)
        owner, pairs = self._round(np.arange(len(points)), vertex[:, 0])
        gaps = _gaps(points[owner], self.triangles[pairs])
        best = np.minimum.reduceat(gaps, starts_of(owner))
        least = np.sqrt(np.maximum(to_vertex[:, 0] ** 2 - self.reach.max() ** 2, 0.0))
        told = best <= least + TOLERANCE
        found = np.empty((2, len(points)))
        first = np.flatnonzero(told[owner] & (gaps == best[owner]))
        first = first[starts_of(owner[first])]
        # The neighbours of what is nearest too, for what meets there tells inside from outside.
        owner, pairs = self._round(np.repeat(np.arange(len(first)), 3), self.faces[pairs[first]].ravel())
        if told.any():
            found[:, told] = self._nearest_of(points[told], owner, pairs)
        if not told.all():
            found[:, ~told] = self._nearest_of(points[~told], *self._likely(points[~told], best[~told]))
        return found[0], found[1]

    def _nearest_of(self, points: Array, owner: Indices, pairs: Indices) -> tuple[Array, Array]:
        """Return what `nearest` does, of the triangles `pairs`, (k,), each for the point `owner`, (k,), of it."""
        # Two or three vertices bring the same triangle.
        both = np.sort(owner * len(self.triangles) + pairs)
        both = both[starts_of(both)]
        owner, pairs = both // len(self.triangles), both % len(self.triangles)
        gaps = _gaps(points[owner], self.triangles[pairs])
        least = np.minimum.reduceat(gaps, starts_of(owner))
        touched = gaps <= least[owner] + _SAME
        owner, pairs = owner[touched], pairs[touched]
        return least, np.add.reduceat(_facing(points[owner], self.triangles[pairs]), starts_of(owner))

    def _likely(self, points: Array, best: Array) -> tuple[Indices, Indices]:
        """Return pairs of a point, (n, 3), mm, and a triangle that may be nearer than `best`, (n,), mm, in the order of
        the points."""
        gaps, found = self._closest(points, min(_FIRST, self.tree.n))
        owner, vertex = self._within(points, np.hypot(best, self.reach.max()) * (1.0 + 1e-12) + _SAME, gaps, found)
        to_vertex = lengths(points[owner] - self.tree.data[vertex])
        kept = to_vertex <= np.hypot(best[owner], self.reach[vertex]) * (1.0 + 1e-12) + _SAME
        return self._round(owner[kept], vertex[kept])

    def _within(self, points: Array, reach: Array, gaps: Array, found: Indices) -> tuple[Indices, Indices]:
        """Return pairs of a point and a vertex within `reach`, (n,), mm, of it, in the order of the points.

        gaps, found: the nearest few vertices of each, as the tree tells them.
        """
        owners, vertices = [], []
        left, count = np.arange(len(points)), gaps.shape[1]
        while True:
            near = gaps <= reach[left, None]
            done = ~near[:, -1] | (count == self.tree.n)
            owner, column = np.nonzero(near & done[:, None])
            owners.append(left[owner])
            vertices.append(found[owner, column])
            left, count = left[~done], min(4 * count, self.tree.n)
            if not left.size:
                break
            gaps, found = self._closest(points[left], count)
        owner = np.concatenate(owners)
        order = np.argsort(owner, kind="stable")
        return owner[order], np.concatenate(vertices)[order]

    def _closest(self, points: Array, count: int) -> tuple[Array, Indices]:
        """Return the distances, mm, of the `count` vertices nearest to each of points, (n, 3), mm, and which they are,
        (n, count)."""
        # To start threads takes longer than to look up a few.
        workers = -1 if len(points) > _FEW else 1
        gaps, found = self.tree.query(points, k=np.arange(1, count + 1), workers=workers)
        return gaps, found

    def _round(self, owner: Indices, vertex: Indices) -> tuple[Indices, Indices]:
        """Return pairs of an owner and each triangle round its vertex."""
        counts, round_it = members(self.first, vertex)
        return np.repeat(owner, counts), self.around[round_it]


def _gaps(points: Array, triangles: Array) -> Array:
    """Return the distances, (n,), mm, of points, (n, 3), each to its own triangle, (n, 3, 3), mm."""
    _, off, over, height = _beside(points, triangles)
    return np.where(over, np.abs(height), np.sqrt(np.einsum("nij,nij->ni", off, off).min(axis=1)))


def _facing(points: Array, triangles: Array) -> Array:
    """Return how far, (n,), mm, outward of its own triangle, (n, 3, 3), mm, each of points, (n, 3), lies, weighted by
    the triangle's angle at the nearest point.

    Source: J. A. Baerentzen and H. Aanaes, "Signed distance computation using the angle weighted pseudonormal", IEEE
    Transactions on Visualization and Computer Graphics 11 (2005) 243: summed over the triangles that meet at the
    nearest point, that figure's sign tells outside from inside.
    """
    share, off, over, height = _beside(points, triangles)
    sides = _sides(triangles)
    row, side = np.arange(len(points)), np.argmin(np.einsum("nij,nij->ni", off, off), axis=1)
    normal = cross(sides[:, 0], sides[:, 1])
    ahead = np.einsum("nj,nj->n", off[row, side], normal) / lengths(normal)
    share = share[row, side]
    corner = np.where(share <= 0.0, side, (side + 1) % 3)
    before, after = -sides[row, corner - 1], sides[row, corner]
    cosine = np.einsum("nj,nj->n", before, after) / (lengths(before) * lengths(after))
    angle = np.arccos(np.clip(cosine, -1.0, 1.0))
    angle = np.where((share > 0.0) & (share < 1.0), np.pi, angle)
    return np.where(over, 2.0 * np.pi * height, angle * ahead)


def _beside(points: Array, triangles: Array) -> tuple[Array, Array, NDArray[np.bool_], Array]:
    """Return where points, (n, 3), lie beside their triangles, (n, 3, 3), mm: the share, (n, 3), of each side at which
    it is nearest to the point, and how far the point is off there, (n, 3, 3), mm; whether, (n,), it is over the
    triangle, and how high, (n,), mm."""
    sides = _sides(triangles)
    normal = cross(sides[:, 0], sides[:, 1])
    lag = points[:, None] - triangles
    share = np.clip(np.einsum("nij,nij->ni", lag, sides) / np.einsum("nij,nij->ni", sides, sides), 0.0, 1.0)
    off = lag - share[..., None] * sides
    height = np.einsum("nj,nj->n", lag[:, 0], normal) / lengths(normal)
    over = np.all(np.einsum("nij,nij->ni", cross(normal[:, None], sides), lag) >= 0.0, axis=1)
    return share, off, over, height


def _sides(triangles: Array) -> Array:
    """Return the sides, (n, 3, 3), mm, of triangles, from each corner to the next."""
    return triangles[:, [1, 2, 0]] - triangles


def _welded(triangles: Array) -> tuple[Array, Indices]:
    """Return the vertices, (n, 3), mm, and faces, (m, 3), of loose triangles, (k, 3, 3), mm, without those that have
    no area."""
    points = triangles.reshape(-1, 3)
    low, span = points.min(axis=0), float(np.ptp(points, axis=0).max()) or 1.0
    steps = np.round((points - low) * (_STEPS / span)).astype(np.int64)
    keys = (steps[:, 0] << 42) | (steps[:, 1] << 21) | steps[:, 2]
    _, chosen, index = np.unique(keys, return_index=True, return_inverse=True)
    vertices, faces = points[chosen], index.reshape(-1, 3)
    one, two, three = (vertices[faces[:, corner]] for corner in range(3))
    area = np.linalg.norm(np.cross(two - one, three - one), axis=1)
    return vertices, faces[area > 0.0]


def _open_edges(faces: Indices) -> int:
    """Return how many edges lack a triangle on one side, or have two that face unlike ways."""
    starts, ends = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    count = int(faces.max()) + 1
    there, back = np.sort(starts * count + ends), np.sort(ends * count + starts)
    if np.array_equal(there, back):
        return 0
    edges, both = np.unique(np.concatenate([there, back]), return_inverse=True)
    count = len(there)
    missing = np.bincount(both[:count], minlength=len(edges)) - np.bincount(both[count:], minlength=len(edges))
    return int((missing > 0).sum())


def _outward(vertices: Array, faces: Indices) -> tuple[Indices, int, bool]:
    """Return the faces of closed bodies, those that face inwards turned round, how many bodies those were, and whether
    any two bodies may reach into each other.

    A hollow inside a body counts as filled: nothing has business there.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    links = np.concatenate([faces[:, :2], faces[:, 1:]])
    graph = coo_array((np.ones(len(links), dtype=np.int8), links.T), shape=(len(vertices), len(vertices)))
    _, body = connected_components(graph, directed=False)
    body = np.unique(body[faces[:, 0]], return_inverse=True)[1]
    local = vertices - vertices.mean(axis=0)
    one, two, three = (local[faces[:, corner]] for corner in range(3))
    volume = np.bincount(body, weights=np.einsum("ij,ij->i", one, np.cross(two, three)))
    inward = volume < 0.0
    turned = np.where(inward[body][:, None], faces[:, ::-1], faces)
    return turned, int(inward.sum()), _tangled(vertices[faces], body)


def _tangled(triangles: Array, body: Indices) -> bool:
    """Tell whether the boxes round any two bodies overlap. body: (m,), which each of triangles, (m, 3, 3), is of."""
    order = np.argsort(body, kind="stable")
    first, corners = starts_of(body[order]), triangles[order]
    low = np.minimum.reduceat(corners.min(axis=1), first)
    high = np.maximum.reduceat(corners.max(axis=1), first)
    return any(bool(np.all((low[:at] < high[at]) & (high[:at] > low[at]), axis=1).any()) for at in range(1, len(low)))


def _longest(triangles: Array) -> tuple[Array, Indices]:
    """Return the length of each triangle's longest side, (n,), mm, and which it is, (n,)."""
    sides = np.linalg.norm(np.roll(triangles, -1, axis=1) - triangles, axis=2)
    return sides.max(axis=1), sides.argmax(axis=1)


def _cut_short(vertices: Array, faces: Indices) -> tuple[Array, Indices]:
    """Return the same surface with its long edges cut in two as often as it takes."""
    triangles = vertices[faces]
    longest, _ = _longest(triangles)
    area = 0.5 * np.linalg.norm(np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1)
    room, most = _MORE + len(faces) // 2, float(longest.max())
    while True:
        long = longest > most / 1.5
        pieces = 4.0 * area[long] / (most / 1.5) ** 2 + 2.0 * longest[long] / (most / 1.5)
        if float(pieces.sum()) > room:
            break
        most /= 1.5
    whole = [faces[longest <= most]]
    faces, parts, count = faces[longest > most], [vertices], len(vertices)
    ends = vertices
    while len(faces):
        triangles = ends[faces]
        longest, side = _longest(triangles)
        whole.append(faces[longest <= most])
        faces, side = faces[longest > most], side[longest > most]
        row = np.arange(len(faces))
        start, end, far = (faces[row, (side + step) % 3] for step in range(3))
        # The two triangles of an edge name it the same way, so that its middle is one to the last digit.
        middle = 0.5 * (ends[np.minimum(start, end)] + ends[np.maximum(start, end)])
        index = count + row
        parts.append(middle)
        count += len(middle)
        ends = np.concatenate(parts)
        faces = np.concatenate([np.stack([start, index, far], axis=1), np.stack([index, end, far], axis=1)])
    return ends, np.concatenate(whole)
