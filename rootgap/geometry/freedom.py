"""The directions in which a body can still move that others push against."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.frames import unit

Array = NDArray[np.float64]

#: Directions that differ by less than this, no unit, are one; the same for a push that is none.
SAME = 1e-9


def ways_out(normals: Array) -> list[Array]:
    """Return the directions, (3,), in which a body can move that is pushed along `normals`, (n, 3): none where they
    positively span space.

    Source: a direction d is free where n.d >= 0 for every push n. Such directions form a cone; one of less than full
    rank holds a line, square to all pushes, and any other has its edges where two pushes stand square to d.

    >>> ways_out(np.array([[1.0, 0, 0], [-1.0, 0, 0], [0, 1.0, 0], [0, -1.0, 0], [0, 0, 1.0]]))[0].round(3).tolist()
    [0.0, 0.0, 1.0]
    >>> ways_out(np.vstack([np.eye(3), -np.ones((1, 3))]))
    []
    """
    _, sizes, directions = np.linalg.svd(normals)
    missing = directions[int((sizes > SAME).sum()) :]
    edges = [np.cross(one, other) for one, other in combinations(normals, 2)]
    tried = [*missing, *(unit(edge) for edge in edges if np.linalg.norm(edge) > SAME)]
    free: list[Array] = []
    for direction in (sign * each for each in tried for sign in (1.0, -1.0)):
        fresh = all(float(direction @ other) < 1.0 - SAME for other in free)
        if fresh and float((normals @ direction).min()) > -SAME:
            free.append(direction)
    return free
