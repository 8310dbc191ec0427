"""How far a surface that is not closed surrounds a point.

Terminology: the *winding number* is the solid angle that a surface takes up, seen from a point, as a share of the whole
sphere: 1 inside a closed surface that faces outwards, 0 outside, and between where it is open.

Source: A. Jacobson, L. Kavan and O. Sorkine-Hornung, "Robust inside-outside segmentation using generalized winding
numbers", ACM Transactions on Graphics 32 (2013) 33; that a far cluster of triangles acts as one dipole: G. Barill,
N. Dickson, R. Schmidt, D. Levin and A. Jacobson, "Fast winding numbers for soups and clouds", ACM Transactions on
Graphics 37 (2018) 43. A triangle's solid angle: A. van Oosterom and J. Strackee, IEEE Transactions on Biomedical
Engineering 30 (1983) 125.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import cross, lengths

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Clusters along the longest side of a mesh, how many smaller ones lie along each, and from how many of its radii on a
#: cluster acts as a dipole.
CLUSTERS, PARTS, FAR = 48, 6, 2.5


@dataclass(frozen=True, eq=False)
class Clusters:
    """What a surface is parted into. first: (k + 1,), where the members of each begin, smaller clusters or triangles;
    middles: (k, 3), mm; radii: (k,), mm, of balls round them; dipoles: (k, 3), mm2, area along the normal."""

    first: Indices
    middles: Array
    radii: Array
    dipoles: Array

    @classmethod
    def of(cls, starts: Indices, triangles: Array, members: Indices) -> Clusters:
        """Return the clusters that begin at `starts`, (k,), of triangles, (m, 3, 3), mm. members: (k + 1,), where
        theirs begin."""
        counts = np.diff(np.append(starts, len(triangles)))
        middles = np.add.reduceat(triangles.mean(axis=1), starts) / counts[:, None]
        away = lengths(triangles - np.repeat(middles, counts, axis=0)[:, None]).max(axis=1)
        sides = cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        return cls(members, middles, np.maximum.reduceat(away, starts), 0.5 * np.add.reduceat(sides, starts))

    def members(self, which: Indices) -> Indices:
        """Return the members, (n,), of the clusters `which`, (j,)."""
        return members(self.first, which)[1]


@dataclass(frozen=True, eq=False)
class Winding:
    """A surface in clusters, and these in smaller ones. triangles: (m, 3, 3), mm, cluster by cluster."""

    triangles: Array
    coarse: Clusters
    fine: Clusters

    @classmethod
    def of(cls, triangles: Array) -> Winding:
        """Return the clusters of `triangles`, (m, 3, 3), mm."""
        centres = triangles.mean(axis=1)
        low, span = centres.min(axis=0), float(np.ptp(centres, axis=0).max()) or 1.0
        along = CLUSTERS * PARTS
        cell = np.minimum(((centres - low) * (along / span)).astype(np.int64), along - 1)
        weights = np.array([CLUSTERS**2, CLUSTERS, 1]), np.array([PARTS**2, PARTS, 1])
        code = (cell // PARTS @ weights[0]) * PARTS**3 + cell % PARTS @ weights[1]
        order = np.argsort(code, kind="stable")
        triangles, code = triangles[order], code[order]
        fine = starts_of(code)
        outer = starts_of(code[fine] // PARTS**3)
        return cls(
            triangles,
            Clusters.of(fine[outer], triangles, np.append(outer, len(fine))),
            Clusters.of(fine, triangles, np.append(fine, len(code))),
        )

    def number(self, point: Array) -> float:
        """Return the winding number, no unit, at a point, (3,), mm."""
        whole, members = 0.0, np.arange(len(self.coarse.radii))
        for clusters in (self.coarse, self.fine):
            lag = clusters.middles[members] - point
            apart = lengths(lag)
            far = apart > FAR * clusters.radii[members]
            whole += float((np.einsum("ij,ij->i", lag[far], clusters.dipoles[members[far]]) / apart[far] ** 3).sum())
            members = clusters.members(members[~far])
        if members.size:
            whole += _solid_angle(self.triangles[members] - point)
        return whole / (4.0 * np.pi)


def starts_of(code: Indices) -> Indices:
    """Return where each run of one code begins in sorted codes, (n,)."""
    return np.flatnonzero(np.concatenate([[True], code[1:] != code[:-1]])[: len(code)])


def members(first: Indices, which: Indices) -> tuple[Indices, Indices]:
    """Return how many members each of the groups `which`, (j,), has, (j,), and all of these, (n,). first: where the
    members of each group begin, and those of the last end."""
    counts = first[which + 1] - first[which]
    steps = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return counts, np.repeat(first[which], counts) + steps


def _solid_angle(triangles: Array) -> float:
    """Return the solid angle that triangles, (n, 3, 3), mm, take up seen from the origin."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    one, two, three = (lengths(each) for each in (a, b, c))
    over = np.einsum("ij,ij->i", a, cross(b, c))
    under = one * two * three
    for first, second, length in ((a, b, three), (b, c, one), (c, a, two)):
        under += np.einsum("ij,ij->i", first, second) * length
    return float(2.0 * np.arctan2(over, under).sum())
