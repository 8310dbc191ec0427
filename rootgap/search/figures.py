"""What counts in a layout beside its margin: pipe to buy, how far the gas turns, what is welded to what."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from hashlib import blake2b

import numpy as np

from rootgap.joints import Joint
from rootgap.layout import Bend, Elbow, Pie, Run, Side, Sleeve, Straight, Tubular
from rootgap.spec import CopeEnd, FlangeEnd, MergeEnd, RunSpec, SideStart

#: How the start of a run at a port ends.
_NUMBERS = tuple("0123456789")


def pipe_of(run: Run) -> float:
    """Return how much pipe a run takes, mm of centre line: an elbow counts as the whole fitting that it is cut from."""
    return float(sum(_pipe(piece) for piece in run.pieces))


def _pipe(piece: object) -> float:
    if isinstance(piece, Elbow):
        return float(piece.radius * np.radians(piece.stock_angle))
    return piece.length if isinstance(piece, Straight | Bend | Pie | Sleeve) else 0.0


def turn_of(run: Run, target: Run | None, half_angle: float = 0.0) -> float:
    """Return how far gas turns in a run, degrees: its bends and mitres, how it comes out of another's side, and where
    it ends on `target`'s side the turn there and what of `target` is still to come. half_angle: of the collector that
    it ends in, degrees."""
    begun = run.begins.off.lean if isinstance(run.begins, Side) else 0.0
    own = sum(_bent(piece) for piece in run.pieces) + sum(corner.mitre for corner in run.corners.values())
    return float(begun + own + half_angle + (_landing(run, target) if target else 0.0))


def _bent(piece: object) -> float:
    return piece.angle if isinstance(piece, Elbow | Bend | Pie) else 0.0


def _landing(run: Run, target: Run) -> float:
    """Return how far gas turns that comes out of the end of `run` into `target`'s side, degrees, there and after."""
    end = run.end
    bodies = [(index, piece) for index, piece in enumerate(target.pieces) if isinstance(piece, Tubular)]
    away = [float(piece.filled.distance(end.origin[None])[0]) for _, piece in bodies]
    index, piece = bodies[int(np.argmin(away))]
    station = float(np.clip(piece.tube.unrolled(end.origin)[1], 0.0, piece.length))
    at = piece.tube.at(station)
    here = float(np.degrees(np.arctan2(np.linalg.norm(np.cross(end.axis, at.axis)), end.axis @ at.axis)))
    rest = _bent(piece) * (1.0 - station / piece.length)
    return here + rest + sum(_bent(later) for later in target.pieces[index + 1 :])


def kind_of(run: Run) -> int:
    """Return a number, above nought, that is the same for runs of the same pieces in the same order: as many welds."""
    words = [type(piece).__name__ for piece in run.along()]
    told = repr((words, sorted(run.corners), run.cope and run.cope.cope, run.flange and run.flange.id, run.merge))
    return int.from_bytes(blake2b(told.encode(), digest_size=7).digest()) + 1


def ways_out(specs: Mapping[str, RunSpec]) -> tuple[tuple[str, ...], ...]:
    """Return for each run that gas comes in by the runs whose turns its gas makes, itself first. specs: of all runs, by
    name; where gas comes in nowhere, every run is a way of its own."""
    begun = [name for name, spec in specs.items() if spec.each or str(spec.start).endswith((".cut", *_NUMBERS))]
    return tuple((name, *_onwards(name, specs, {name})) for name in begun or specs)


def _onwards(name: str, specs: Mapping[str, RunSpec], seen: set[str]) -> Iterator[str]:
    """Yield the runs that gas goes on through after the run `name`, each once."""
    last = specs[name].last
    here = last.cope if isinstance(last, CopeEnd) else name
    begins = [f"{here}.end", f"{last.merge}.out" if isinstance(last, MergeEnd) else ""]
    for other, spec in specs.items():
        aside = isinstance(spec.start, SideStart) and spec.start.off == here
        if (aside or spec.start in begins) and other not in seen:
            yield other
            yield from _onwards(other, specs, seen | {other})
            return


def heads_of(specs: Mapping[str, RunSpec], heads: Sequence[str]) -> Mapping[str, tuple[str, ...]]:
    """Return for each run the names of the head flanges that it hangs on, by the fewest runs between: of its own, and
    of what it begins at and ends on. specs: of all runs, by name."""
    words = [*specs, *heads]
    ends = {name: tuple(_joined_to(spec, words)) for name, spec in specs.items()}
    beside: dict[str, list[str]] = {}
    for name, others in ends.items():
        for other in others:
            beside.setdefault(name, []).append(other)
            beside.setdefault(other, []).append(name)
    nearest = {head: head for head in heads}
    waiting = list(heads)
    for word in waiting:
        for other in beside.get(word, ()):
            if other not in nearest:
                nearest[other] = nearest[word]
                waiting.append(other)
    return {
        name: tuple(dict.fromkeys(nearest[word] for word in (name, *others) if word in nearest))
        for name, others in ends.items()
    }


def _joined_to(spec: RunSpec, words: Sequence[str]) -> Iterator[str]:
    """Yield what a run begins at and ends on. words: the names of runs and of head flanges."""
    start, last = spec.start, spec.last
    if isinstance(start, SideStart):
        yield start.off
    elif begins := spec.each or (start if isinstance(start, str) else ""):
        known = [word for word in words if begins.startswith(f"{word}.")]
        yield max(known, key=len) if known else begins.rpartition(".")[0]
    if isinstance(last, CopeEnd | MergeEnd | FlangeEnd):
        yield last.cope if isinstance(last, CopeEnd) else last.merge if isinstance(last, MergeEnd) else last.flange


def welds_of(joints: tuple[Joint, ...]) -> int:
    """Return how many joints are welded."""
    return sum(joint.weld_length > 0.0 for joint in joints)
