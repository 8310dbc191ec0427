"""Where a flange's bolts and ports lie by more caliper distances than that needs, and which distance is wrong.

Terminology
    reading      one distance, brought to middles: what was measured over, less or plus the radii
    residual     reading less fitted distance, mm
    redundancy   of a reading: the share of an error in it that shows in its own residual, 0 (nothing checks it)
                 to 1 (the others fix it by themselves)
    error        of a reading: its residual by its redundancy: how far it is off if all others are right, mm
    set aside    a reading whose error is too large: the fit is made without it, and it is to be taken again
    free         the fit fixes shape, not place: the pattern stays where its sketch has it on the whole

Source: W. Baarda, "A testing procedure for use in geodetic networks", Delft 1968 (redundancy, data snooping: the
largest normalised residual first); inner constraints for a free network as the least-norm solution, for example
P. Meissl, 1969. Solved by Gauss and Newton's method.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from rootgap.errors import GeometryError, InputErrors
from rootgap.spec import CaliperSheet, DistanceSpec, Feature, FlangePart, load_calipers

Array = NDArray[np.float64]
#: Parameters, (k,), to fitted distances, (n,), mm, and their slopes, (n, k).
Model = Callable[[Array], tuple[Array, Array]]

#: An error above this, mm, is worth another reading (common practice, no source).
AGAIN = 0.3
#: And at least so many standard deviations of its residual (Baarda's critical value for 0.1 %, 3.29).
SURE = 3.29
#: An error above this, mm, is no reading of this flange (common practice, no source).
CONTRADICTS = 5.0
#: Nothing checks a reading of less redundancy than this share.
UNCHECKED = 0.02
#: A traced scale further from 1 than this share is a fault of another kind: wrong units, or the wrong part.
LARGEST_SCALE = 0.2
_ROUNDS = 60
_DONE = 1e-10
_RANK = 1e-7
_OUT = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "bottom": (0.0, -1.0), "top": (0.0, 1.0)}


@dataclass(frozen=True)
class Reading:
    """A distance and what became of it, counted from 1. measured: between middles, mm; fitted: mm; redundancy: share;
    normalised: its residual by that one's standard deviation, no unit; aside: whether the fit is made without it."""

    number: int
    start: Feature
    end: Feature
    said: str
    measured: float
    fitted: float
    redundancy: float
    normalised: float
    aside: bool

    @property
    def residual(self) -> float:
        """Reading less fitted distance, mm."""
        return self.measured - self.fitted

    @property
    def error(self) -> float | None:
        """How far it is off if the others are right, mm; None where nothing checks it."""
        return self.residual / self.redundancy if self.redundancy >= UNCHECKED else None


@dataclass(frozen=True)
class Place:
    """Where a bolt or a port lies: at, and unsure (standard uncertainty in x and y), mm; moved: from its sketch, mm."""

    feature: Feature
    at: tuple[float, float]
    unsure: tuple[float, float]
    moved: tuple[float, float]


@dataclass(frozen=True)
class Fitted:
    """What a caliper sheet says. places: of a fit of positions; scale, scale_unsure: of x and y, shares, of a fit of
    scale; spare: how many readings more than needed; scatter: standard deviation of one reading as the residuals have
    it, mm, None where none is to spare; part: the flange, corrected."""

    readings: tuple[Reading, ...]
    places: tuple[Place, ...]
    scale: tuple[float, float] | None
    scale_unsure: tuple[float, float] | None
    spare: int
    scatter: float | None
    unmeasured: tuple[Feature, ...]
    part: FlangePart

    @property
    def again(self) -> tuple[Reading, ...]:
        """The readings that are to be taken again."""
        return tuple(reading for reading in self.readings if reading.aside)


@dataclass(frozen=True)
class _Solution:
    x: Array
    fitted: Array
    slopes: Array
    covariance: Array  # of x, mm2 or no unit, for readings of standard deviation 1
    redundancy: Array
    rank: int
    null: Array  # (k, d): directions of x that change no fitted distance


def measure(path: Path | str) -> Fitted:
    """Return what the caliper sheet at `path` says. Raises InputErrors where it cannot be read or its distances
    contradict each other, GeometryError where they leave something loose."""
    sheet, part, source = load_calipers(path)
    found = fitted(sheet, part)
    faults = tuple(
        source.fault(
            ("distance", reading.number - 1, reading.said),
            sheet.distance[reading.number - 1].measure[1],
            f"contradicts the other distances by {abs(reading.residual):.2f} mm: they put its middles "
            f"{reading.fitted:.2f} mm apart, it says {reading.measured:.2f} mm",
        )
        for reading in found.again
        if abs(reading.residual) > CONTRADICTS
    )
    if faults:
        raise InputErrors(faults)
    return found


def fitted(sheet: CaliperSheet, part: FlangePart) -> Fitted:
    """Return the least-squares fit of `part` to the distances of `sheet`. Raises GeometryError where they leave
    something loose, or put holes into each other."""
    measured = np.array([_between_middles(distance, sheet, part) for distance in sheet.distance])
    if sheet.fit == "scale":
        return _scaled(sheet, part, measured)
    return _moved(sheet, part, measured)


def _between_middles(distance: DistanceSpec, sheet: CaliperSheet, part: FlangePart) -> float:
    """Return a reading brought to middles, mm: what lies on a side or a port's middle has no radius."""
    how, value = distance.measure
    radii = 0.0
    for feature in (distance.from_, distance.to):
        if feature.kind == "bolt":
            diameter = distance.stud or sheet.stud or part.holes()[feature.number - 1].diameter
            radii += 0.5 * diameter
    return value + {"outside": -radii, "inside": radii, "centres": 0.0}[how]


# Positions


def _moved(sheet: CaliperSheet, part: FlangePart, measured: Array) -> Fitted:
    points = sorted({_point(each) for distance in sheet.distance for each in (distance.from_, distance.to)})
    sketch = np.array([_sketched(point, part) for point in points])
    ends = [(points.index(_point(each.from_)), points.index(_point(each.to))) for each in sheet.distance]
    offsets = np.array([_offset(each.to, part) - _offset(each.from_, part) for each in sheet.distance])
    normals = [_normal(each, part) for each in sheet.distance]

    def model(x: Array) -> tuple[Array, Array]:
        at = x.reshape(-1, 2)
        values, slopes = np.empty(len(ends)), np.zeros((len(ends), x.size))
        for row, ((a, b), offset, normal) in enumerate(zip(ends, offsets, normals, strict=True)):
            values[row], way = _along(at[b] - at[a] + offset, normal)
            # Both ends may belong to one port.
            slopes[row, 2 * b : 2 * b + 2] += way
            slopes[row, 2 * a : 2 * a + 2] -= way
        return values, slopes

    def held(solution: _Solution) -> None:
        _refuse_loose(solution, points, ends)

    solution, aside = _snooped(model, sketch.ravel(), measured, sheet.unsure, held)
    at = solution.x.reshape(-1, 2)
    at = at + sketch.mean(axis=0) - at.mean(axis=0)
    if solution.null.shape[1] > 2:
        at = _turned_back(at, sketch)
    scatter, spare = _scatter(solution, measured, aside)
    unsure = max(sheet.unsure, scatter or 0.0) * np.sqrt(np.diag(solution.covariance)).reshape(-1, 2)
    places = tuple(
        Place(point, _pair(where), _pair(off), _pair(where - was))
        for point, where, off, was in zip(points, at, unsure, sketch, strict=True)
    )
    every = [Feature("bolt", k + 1) for k in range(len(part.holes()))]
    every += [Feature("port", k + 1) for k in range(len(part.port))]
    return Fitted(
        _readings(sheet, solution, measured, aside),
        places,
        None,
        None,
        spare,
        scatter,
        tuple(each for each in every if each not in points),
        _with_places(sheet, part, {place.feature: place.at for place in places}),
    )


def _point(feature: Feature) -> Feature:
    return Feature(feature.kind, feature.number)


def _sketched(point: Feature, part: FlangePart) -> tuple[float, float]:
    return part.holes()[point.number - 1].at if point.kind == "bolt" else part.port[point.number - 1].at


def _offset(feature: Feature, part: FlangePart) -> Array:
    """Return how far a side of an opening lies from its port's middle, (2,), mm, square to it; nought for a middle."""
    if not feature.side:
        return np.zeros(2)
    port = part.port[feature.number - 1]
    low_x, low_y, high_x, high_y = port.opening.opening().shape().bounds()
    out = {"left": -low_x, "right": high_x, "bottom": -low_y, "top": high_y}[feature.side]
    return out * _out(feature, part)


def _out(feature: Feature, part: FlangePart) -> Array:
    """Return the outward direction of a side, (2,), no unit."""
    turn = np.radians(part.port[feature.number - 1].angle)
    x, y = _OUT[feature.side]
    return np.array([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])


def _normal(distance: DistanceSpec, part: FlangePart) -> Array | None:
    """Return the direction that a distance is taken along, None where it is the shortest between two middles."""
    side = next((each for each in (distance.from_, distance.to) if each.side), None)
    return _out(side, part) if side else None


def _along(apart: Array, normal: Array | None) -> tuple[float, Array]:
    """Return a distance, mm, and its slope, (2,), no unit, by the vector from one end to the other."""
    if normal is not None:
        way = normal if apart @ normal >= 0.0 else -normal
        return float(apart @ way), way
    far = max(float(np.hypot(*apart)), 1e-9)
    return far, apart / far


def _refuse_loose(solution: _Solution, points: Sequence[Feature], ends: Sequence[tuple[int, int]]) -> None:
    """Raise GeometryError for the points that the distances let move against the others: first those that one
    distance alone goes to. ends: of every distance, as numbers of points."""
    at = solution.x.reshape(-1, 2)
    lag = at - at.mean(axis=0)
    rigid = np.zeros((solution.x.size, 3))
    rigid[0::2, 0] = rigid[1::2, 1] = 1.0
    rigid[:, 2] = np.column_stack([-lag[:, 1], lag[:, 0]]).ravel()
    basis, _ = np.linalg.qr(rigid)
    loose = solution.null - basis @ (basis.T @ solution.null)
    moves = np.hypot(*np.linalg.norm(loose, axis=1).reshape(-1, 2).T)
    if solution.null.shape[1] <= 3 and moves.max() < 1e-4:
        return
    others = [{a + b - k for a, b in ends if k in (a, b)} - {k} for k in range(len(points))]
    lone = [str(point) for point, met in zip(points, others, strict=True) if len(met) < 2]
    moving = [str(point) for point, move in zip(points, moves, strict=True) if move > 0.05 * max(moves.max(), 1e-9)]
    names = lone or moving
    raise GeometryError(
        ", ".join(names) if len(names) < len(points) else "the sheet",
        f"{'is' if len(names) == 1 else 'are'} not held in place by the distances"
        if len(names) < len(points)
        else "its distances do not hold the pattern together",
        "give each point distances to two others at least, not in one line with it",
    )


def _turned_back(at: Array, sketch: Array) -> Array:
    """Return points, (n, 2), mm, turned about their middle as near to their sketch as a turn brings them."""
    middle = at.mean(axis=0)
    lag, was = at - middle, sketch - middle
    turn = np.arctan2((lag[:, 0] * was[:, 1] - lag[:, 1] * was[:, 0]).sum(), (lag * was).sum())
    cos, sin = np.cos(turn), np.sin(turn)
    return lag @ np.array([[cos, sin], [-sin, cos]]) + middle


def _with_places(sheet: CaliperSheet, part: FlangePart, places: dict[Feature, tuple[float, float]]) -> FlangePart:
    values = part.model_dump(exclude_none=True)
    count = 0
    for group in values["bolts"]:
        group["at"] = [
            places.get(Feature("bolt", count + k + 1), at) for k, at in enumerate(group["at"])
        ]
        count += len(group["at"])
    for number, port in enumerate(values["port"], start=1):
        port["at"] = places.get(Feature("port", number), port["at"])
    return _checked(sheet, values)


# Scale


def _scaled(sheet: CaliperSheet, part: FlangePart, measured: Array) -> Fitted:
    apart = np.array(
        [
            np.subtract(_sketched(_point(each.to), part), _sketched(_point(each.from_), part))
            + _offset(each.to, part)
            - _offset(each.from_, part)
            for each in sheet.distance
        ]
    )
    normals = [_normal(each, part) for each in sheet.distance]

    def model(x: Array) -> tuple[Array, Array]:
        values, slopes = np.empty(len(apart)), np.empty((len(apart), 2))
        for row, (vector, normal) in enumerate(zip(apart, normals, strict=True)):
            values[row], way = _along(x * vector, normal)
            slopes[row] = way * vector
        return values, slopes

    def held(solution: _Solution) -> None:
        if solution.null.shape[1]:
            loose = "y" if abs(solution.null[1, 0]) > abs(solution.null[0, 0]) else "x"
            other = "x" if loose == "y" else "y"
            raise GeometryError(
                f"scale of {loose}", f"is not held: every distance lies along {other}", f"measure one along {loose}"
            )

    solution, aside = _snooped(model, np.ones(2), measured, sheet.unsure, held)
    if np.abs(solution.x - 1.0).max() > LARGEST_SCALE:
        x, y = solution.x
        raise GeometryError(
            part.name, f"would be stretched by {x:.3f} in x and {y:.3f} in y", "check its units, and which part it is"
        )
    scatter, spare = _scatter(solution, measured, aside)
    unsure = max(sheet.unsure, scatter or 0.0) * np.sqrt(np.diag(solution.covariance))
    return Fitted(
        _readings(sheet, solution, measured, aside),
        (),
        _pair(solution.x),
        _pair(unsure),
        spare,
        scatter,
        (),
        _checked(sheet, _stretched(part, solution.x)),
    )


def _stretched(part: FlangePart, scale: Array) -> dict[str, object]:
    """Return a flange's values, its places and openings stretched; holes, which are drilled, keep their size."""
    values = part.model_dump(exclude_none=True)
    for group in values["bolts"]:
        group["at"] = [_pair(np.array(at) * scale) for at in group["at"]]
    for port in values["port"]:
        turn = np.radians(port["angle"])
        cos, sin = np.cos(turn), np.sin(turn)
        own = np.hypot(scale[0] * np.array([cos, sin]), scale[1] * np.array([sin, cos]))
        port["at"] = _pair(np.array(port["at"]) * scale)
        port["opening"] = _stretched_opening(port["opening"], own)
    if "path" in values["outline"]:
        values["outline"]["path"] = [[x * scale[0], y * scale[1], bulge] for x, y, bulge in values["outline"]["path"]]
    return values


def _stretched_opening(opening: dict[str, object], scale: Array) -> dict[str, object]:
    """Return an opening's values stretched along its own axes; radii and a round one by the mean."""
    mean = float(np.sqrt(scale.prod()))
    out: dict[str, object] = {}
    for word, value in opening.items():
        if word == "path" and isinstance(value, list | tuple):
            out[word] = [[x * scale[0], y * scale[1], bulge] for x, y, bulge in value]
        elif isinstance(value, list | tuple):
            out[word] = [float(each) * by for each, by in zip(value, scale, strict=True)]
        elif isinstance(value, float):
            out[word] = value * mean
    return out


# What both fits share


def _snooped(
    model: Model, start: Array, measured: Array, unsure: float, held: Callable[[_Solution], None]
) -> tuple[_Solution, list[int]]:
    """Return the solution without the readings that are set aside, and those, the worst first."""
    aside: list[int] = []
    while True:
        kept = np.array([row for row in range(len(measured)) if row not in aside])
        solution = _solved(model, start, measured, kept)
        held(solution)
        residual = (measured - solution.fitted)[kept]
        share = solution.redundancy[kept]
        checked = share >= UNCHECKED
        if not checked.any():
            return solution, aside
        safe = np.where(checked, share, 1.0)
        normalised = np.where(checked, np.abs(residual) / (unsure * np.sqrt(safe)), 0.0)
        wrong = checked & (np.abs(residual) / safe > AGAIN) & (normalised > SURE)
        if not wrong.any():
            return solution, aside
        aside.append(int(kept[np.argmax(np.where(wrong, normalised, -1.0))]))


def _solved(model: Model, start: Array, measured: Array, kept: NDArray[np.intp]) -> _Solution:
    """Return the least-squares solution of the readings `kept`, by Gauss and Newton's least-norm steps."""
    x = start.copy()
    for _ in range(_ROUNDS):
        values, slopes = model(x)
        step = np.linalg.lstsq(slopes[kept], (measured - values)[kept], rcond=_RANK)[0]
        x = x + step
        if np.abs(step).max() < _DONE:
            break
    values, slopes = model(x)
    left, sizes, right = np.linalg.svd(slopes[kept])
    rank = int((sizes > _RANK * sizes.max()).sum())
    inverse = right[:rank].T / sizes[:rank]
    redundancy = np.ones(len(measured))
    redundancy[kept] = 1.0 - (left[:, :rank] ** 2).sum(axis=1)
    return _Solution(x, values, slopes, inverse @ inverse.T, redundancy, rank, right[rank:].T)


def _scatter(solution: _Solution, measured: Array, aside: Sequence[int]) -> tuple[float | None, int]:
    """Return the standard deviation of one reading, mm, and how many readings are to spare."""
    kept = [row for row in range(len(measured)) if row not in aside]
    spare = len(kept) - solution.rank
    residual = (measured - solution.fitted)[kept]
    return (float(np.sqrt(residual @ residual / spare)) if spare > 0 else None), spare


def _readings(
    sheet: CaliperSheet, solution: _Solution, measured: Array, aside: Sequence[int]
) -> tuple[Reading, ...]:
    found = []
    for row, distance in enumerate(sheet.distance):
        share = float(solution.redundancy[row])
        off = abs(measured[row] - solution.fitted[row])
        normalised = off / (sheet.unsure * np.sqrt(share)) if share >= UNCHECKED else 0.0
        found.append(
            Reading(
                row + 1,
                distance.from_,
                distance.to,
                distance.measure[0],
                float(measured[row]),
                float(solution.fitted[row]),
                share,
                float(normalised),
                row in aside,
            )
        )
    return tuple(found)


def _checked(sheet: CaliperSheet, values: dict[str, object]) -> FlangePart:
    """Return the corrected flange. Raises GeometryError where it can no longer be one."""
    try:
        return FlangePart.model_validate({**values, "name": sheet.name, "units": "mm"})
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        said = str(first.get("ctx", {}).get("error", first["msg"]))
        raise GeometryError(sheet.name, f"corrected, {said}", "check the distances to that hole") from None


def _pair(values: Array) -> tuple[float, float]:
    return float(values[0]), float(values[1])
