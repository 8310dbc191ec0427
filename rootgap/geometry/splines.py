"""Cubic splines through given points: slopes at the nodes, values between them, B-spline poles.

Terminology
    node    a parameter at which the spline's value is given; nodes strictly increase
    span    what lies between two neighbouring nodes; the spline is one cubic on each
    pole    a control point of the spline's B-spline form

Values may be rows of any width, so that one call carries a curve in space. Everything here is
the interpolant with two continuous derivatives.

Source: C. de Boor, "A Practical Guide to Splines", revised edition, Springer 2001, chapter IV
(slopes, not-a-knot ends) and chapter IX (B-spline form).
"""

from __future__ import annotations

from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: A neighbour's share in an equation below this no longer shows in a sum.
_NEGLIGIBLE = 1e-18


def periodic_slopes(nodes: ArrayLike, values: ArrayLike) -> Array:
    """Return the slopes, (n, d) or (n,), at the nodes of the spline that closes on itself.

    nodes: (n,), n at least 4, the last one period after the first; values: (n, d) or (n,), the
    last as the first; in any unit, the slopes in values a node.

    >>> t = np.linspace(0.0, 2.0 * np.pi, 121)
    >>> bool(np.allclose(periodic_slopes(t, np.sin(t)), np.cos(t), atol=1e-6))
    True
    """
    _, h, y = _spans(nodes, values, 4)
    chord = np.diff(y, axis=0) / h[:, None]
    before, rise = np.roll(h, 1), np.roll(chord, 1, axis=0)
    right = 3.0 * (h[:, None] * rise + before[:, None] * chord)
    m = _solved(h, 2.0 * (before + h), before, right)
    return _like(values, np.concatenate([m, m[:1]]))


def free_slopes(nodes: ArrayLike, values: ArrayLike) -> Array:
    """Return the slopes, (n, d) or (n,), at the nodes of the not-a-knot spline: the first two
    spans are one cubic, and the last two. Two nodes give a line, three a parabola.

    nodes: (n,), n at least 2; values: (n, d) or (n,); in any unit, the slopes in values a node.

    >>> t = np.array([0.0, 0.3, 1.0, 1.7, 2.0])
    >>> np.round(free_slopes(t, t**3), 9).tolist()
    [0.0, 0.27, 3.0, 8.67, 12.0]
    """
    _, h, y = _spans(nodes, values, 2)
    chord = np.diff(y, axis=0) / h[:, None]
    if h.size == 1:
        return _like(values, np.concatenate([chord, chord]))
    if h.size == 2:
        middle = (h[1] * chord[0] + h[0] * chord[1]) / (h[0] + h[1])
        return _like(values, np.stack([2.0 * chord[0] - middle, middle, 2.0 * chord[1] - middle]))
    first, last = _end_slope(h, chord), _end_slope(h[::-1], chord[::-1])
    below, on, above, right = _inner(h, chord)
    # The end slopes are taken out of the equations beside them: m0 = first - (1 + h0/h1) m1, ...
    right[0] -= below[0] * first
    on[0] -= below[0] * (1.0 + h[0] / h[1])
    right[-1] -= above[-1] * last
    on[-1] -= above[-1] * (1.0 + h[-1] / h[-2])
    below[0] = above[-1] = 0.0
    m = _solved(below, on, above, right)
    start = first - (1.0 + h[0] / h[1]) * m[0]
    end = last - (1.0 + h[-1] / h[-2]) * m[-1]
    return _like(values, np.concatenate([start[None], m, end[None]]))


def clamped_slopes(nodes: ArrayLike, values: ArrayLike, ends: ArrayLike) -> Array:
    """Return the slopes, (n, d) or (n,), at the nodes of the spline with the slopes `ends`.

    nodes: (n,), n at least 2; values: (n, d) or (n,); ends: (2, d) or (2,), at the first and
    the last node; in any unit, the slopes in values a node.
    """
    _, h, y = _spans(nodes, values, 2)
    fixed = np.asarray(ends, dtype=np.float64).reshape(2, -1)
    if h.size == 1:
        return _like(values, fixed.copy())
    below, on, above, right = _inner(h, np.diff(y, axis=0) / h[:, None])
    right[0] -= below[0] * fixed[0]
    right[-1] -= above[-1] * fixed[1]
    below[0] = above[-1] = 0.0
    return _like(values, np.concatenate([fixed[:1], _solved(below, on, above, right), fixed[1:]]))


def evaluated(nodes: ArrayLike, values: ArrayLike, slopes: ArrayLike, at: ArrayLike) -> Array:
    """Return the spline's values, (m, d) or (m,), at the parameters `at`, (m,).

    nodes: (n,); values, slopes: (n, d) or (n,). Outside the nodes the end spans go on. The unit is the values'.
    """
    t, h, y = _spans(nodes, values, 2)
    m = np.asarray(slopes, dtype=np.float64).reshape(y.shape)
    where = np.asarray(at, dtype=np.float64)
    k = np.clip(np.searchsorted(t, where, side="right") - 1, 0, h.size - 1)
    step = h[k][:, None]
    u = (where - t[k])[:, None] / step
    rise = y[k + 1] - y[k]
    bend = (1.0 - u) * (m[k] * step - rise) - u * (m[k + 1] * step - rise)
    return _like(values, y[k] + u * (rise + (1.0 - u) * bend))


def evaluated_slopes(nodes: ArrayLike, values: ArrayLike, slopes: ArrayLike, at: ArrayLike) -> Array:
    """Return the spline's slopes, (m, d) or (m,), at the parameters `at`, (m,).

    nodes: (n,); values, slopes: (n, d) or (n,). The unit is the values' a node.

    >>> t = np.array([0.0, 1.0, 2.0, 4.0])
    >>> evaluated_slopes(t, t**3, 3.0 * t**2, [0.5, 3.0]).tolist()
    [0.75, 27.0]
    """
    t, h, y = _spans(nodes, values, 2)
    m = np.asarray(slopes, dtype=np.float64).reshape(y.shape)
    where = np.asarray(at, dtype=np.float64)
    k = np.clip(np.searchsorted(t, where, side="right") - 1, 0, h.size - 1)
    u = (where - t[k])[:, None] / h[k][:, None]
    chord = (y[k + 1] - y[k]) / h[k][:, None]
    own = (1.0 - u) * (1.0 - 3.0 * u) * m[k] + u * (3.0 * u - 2.0) * m[k + 1]
    return _like(values, 6.0 * u * (1.0 - u) * chord + own)


def poles(nodes: ArrayLike, values: ArrayLike, slopes: ArrayLike) -> Array:
    """Return the poles, (n + 2, d) or (n + 2,), of the spline on its nodes as knots, each once
    but the end ones fourfold.

    nodes: (n,), n at least 2; values, slopes: (n, d) or (n,), of a spline whose second
    derivative is continuous. The pole of three knots in a row is the blossom of the cubic at
    the middle one: for a cubic with value y, slope m and second derivative q there, and knots
    a before and b after it, y + m (b - a) / 3 - q a b / 6.

    Source: L. Ramshaw, "Blossoms are polar forms", Computer Aided Geometric Design 6 (1989)
    323-358, the control points of a spline.

    >>> t = np.array([0.0, 1.0, 2.0, 4.0])
    >>> np.round(poles(t, t, np.ones(4)), 3).tolist()    # a knot's pole lies at its Greville point
    [0.0, 0.333, 1.0, 2.333, 3.333, 4.0]
    """
    _, h, y = _spans(nodes, values, 2)
    m = np.asarray(slopes, dtype=np.float64).reshape(y.shape)
    first, last = y[:1] + h[0] / 3.0 * m[:1], y[-1:] - h[-1] / 3.0 * m[-1:]
    chord = np.diff(y, axis=0) / h[:, None]
    before, after = h[:-1, None], h[1:, None]
    # The second derivatives from both sides, weighted so that a short span does no harm.
    bend = (6.0 * np.diff(chord, axis=0) - 2.0 * (m[2:] - m[:-2])) / (before + after)
    inner = y[1:-1] + m[1:-1] * (after - before) / 3.0 - bend * before * after / 6.0
    found = np.concatenate([y[:1], first, inner, last, y[-1:]])
    return found[:, 0] if np.ndim(values) == 1 else found


def _spans(nodes: ArrayLike, values: ArrayLike, least: int) -> tuple[Array, Array, Array]:
    """Return nodes (n,), spans (n - 1,) and values (n, d). Raises ValueError for bad ones."""
    t, y = np.asarray(nodes, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if t.ndim != 1 or t.size < least or y.shape[:1] != t.shape:
        raise ValueError(f"nodes must be (n,) and values (n, d) or (n,), n at least {least}")
    h = np.diff(t)
    if not (h > 0.0).all():
        raise ValueError("nodes must strictly increase")
    return t, h, y.reshape(t.size, -1)


def _like(values: ArrayLike, rows: Array) -> Array:
    """Return `rows`, (m, d), flat where `values` were."""
    return rows[:, 0] if np.ndim(values) == 1 else rows


def _end_slope(h: Array, chord: Array) -> Array:
    """Return the first slope plus (1 + h0 / h1) times the second, where the third derivative
    goes on through the second node."""
    both = h[0] + h[1]
    return (chord[0] * (3.0 * h[0] + 2.0 * h[1]) + chord[1] * h[0] ** 2 / h[1]) / both


def _inner(h: Array, chord: Array) -> tuple[Array, Array, Array, Array]:
    """Return the equations of the inner slopes, n - 2 of them: factors of the slope before, on and
    after each node, (n - 2,), and right-hand sides, (n - 2, d). The second derivative goes on."""
    before, after = h[:-1], h[1:]
    right = 3.0 * (after[:, None] * chord[:-1] + before[:, None] * chord[1:])
    return after.copy(), 2.0 * (before + after), before.copy(), right


def _solved(below: Array, on: Array, above: Array, right: Array) -> Array:
    """Return x, (n, d), of the ring of equations below x[i-1] + on x[i] + above x[i+1] = right[i].

    A chain is a ring whose below[0] and above[-1] are nought. Each pass takes both neighbours
    out of every equation, which puts the next ones twice as far away in their place; for
    equations ruled by `on` their shares shrink at least squared, so that few passes do.

    Source: R. W. Hockney and C. R. Jesshope, "Parallel Computers 2", Adam Hilger 1988, section
    5.4.3, parallel cyclic reduction.
    """
    a, c, x = below / on, above / on, right / on[:, None]
    apart = 1
    while max(float(np.abs(a).max()), float(np.abs(c).max())) > _NEGLIGIBLE:
        back, ahead = partial(np.roll, shift=apart, axis=0), partial(np.roll, shift=-apart, axis=0)
        scale = 1.0 / (1.0 - a * back(c) - c * ahead(a))
        x = scale[:, None] * (x - a[:, None] * back(x) - c[:, None] * ahead(x))
        a, c = -scale * a * back(a), -scale * c * ahead(c)
        apart *= 2
    return x
