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

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

#: Clusters along the longest side of a mesh, and from how many of its radii on a cluster acts as a dipole.
CLUSTERS, FAR = 48, 2.5


@dataclass(frozen=True, eq=False)
class Winding:
    """A surface in clusters. triangles: (m, 3, 3), mm, cluster by cluster; first: (k + 1,), where each begins; middles:
    (k, 3), mm; radii: (k,), mm, of balls round them; dipoles: (k, 3), mm2, area along the normal."""

    triangles: Array
    first: Indices
    middles: Array
    radii: Array
    dipoles: Array

    @classmethod
    def of(cls, triangles: Array) -> Winding:
        """Return the clusters of `triangles`, (m, 3, 3), mm."""
        centres = triangles.mean(axis=1)
        low, span = centres.min(axis=0), float(np.ptp(centres, axis=0).max()) or 1.0
        cell = np.minimum(((centres - low) * (CLUSTERS / span)).astype(np.int64), CLUSTERS - 1)
        code = (cell[:, 0] * CLUSTERS + cell[:, 1]) * CLUSTERS + cell[:, 2]
        order = np.argsort(code, kind="stable")
        triangles, code = triangles[order], code[order]
        starts = np.flatnonzero(np.concatenate([[True], code[1:] != code[:-1]]))
        counts = np.diff(np.append(starts, len(code)))
        sides = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        middles = np.add.reduceat(triangles.mean(axis=1), starts) / counts[:, None]
        away = np.linalg.norm(triangles - np.repeat(middles, counts, axis=0)[:, None], axis=2).max(axis=1)
        return cls(
            triangles,
            np.append(starts, len(code)),
            middles,
            np.maximum.reduceat(away, starts),
            0.5 * np.add.reduceat(sides, starts),
        )

    def number(self, point: Array) -> float:
        """Return the winding number, no unit, at a point, (3,), mm."""
        lag = self.middles - point
        apart = np.linalg.norm(lag, axis=1)
        far = apart > FAR * self.radii
        whole = float((np.einsum("ij,ij->i", lag[far], self.dipoles[far]) / apart[far] ** 3).sum())
        near = [self.triangles[self.first[each] : self.first[each + 1]] for each in np.flatnonzero(~far)]
        if near:
            whole += _solid_angle(np.concatenate(near) - point)
        return whole / (4.0 * np.pi)


def _solid_angle(triangles: Array) -> float:
    """Return the solid angle that triangles, (n, 3, 3), mm, take up seen from the origin."""
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    one, two, three = (np.linalg.norm(each, axis=1) for each in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = one * two * three
    for first, second, length in ((a, b, three), (b, c, one), (c, a, two)):
        under += np.einsum("ij,ij->i", first, second) * length
    return float(2.0 * np.arctan2(over, under).sum())
