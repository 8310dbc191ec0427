"""What was found of access, as rows of text and as records."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from rootgap.checks.access.bolting import Unsized
from rootgap.checks.access.bolts import BoltAccess
from rootgap.checks.access.clamps import ClampAccess
from rootgap.checks.access.install import ROOM, Stage, Way
from rootgap.checks.access.judge import Reached
from rootgap.checks.access.plugs import PlugAccess, ServiceAccess
from rootgap.checks.access.tools import TOLD, Try
from rootgap.checks.access.torch import WeldReach
from rootgap.checks.drain import falls
from rootgap.checks.finding import listed
from rootgap.layout import Drain, Layout

Row = tuple[str, ...]


def bolt_rows(found: Sequence[BoltAccess], others: Sequence[Unsized] = ()) -> list[Row]:
    """Return a row a bolt, the head first: its verdict, what turns it, how far that swings, what holds its other end,
    and how far it comes out. others: those of which no tool can be told."""
    head = ("bolt", "verdict", "turned by", "swing deg", "room mm", "beside", "other end", "comes out mm", "of",
            "stopped by")
    untold = [(each.id, "warn", f"not tried: {each.why}", *([""] * 7)) for each in others]
    return [head, *(_bolt(access) for access in found), *untold]


def clamp_rows(found: Sequence[ClampAccess]) -> list[Row]:
    """Return a row a clamp, the head first: what turns its screw, and at which clock that stands best."""
    head = ("clamp", "verdict", "turned by", "swing deg", "room mm", "beside", "screw at clock")
    return [head, *(_clamp(access) for access in found)]


def plug_rows(found: Sequence[PlugAccess]) -> list[Row]:
    """Return a row a spark plug, the head first."""
    head = ("plug", "turned by", "swing deg", "room mm", "beside", "boot to hot metal mm", "which")
    return [head, *(_plug(access) for access in found)]


def service_rows(found: Sequence[ServiceAccess]) -> list[Row]:
    """Return a row a service part, the head first."""
    rows = [
        (each.name, f"{each.travel:.0f}", f"{each.spec.travel:.0f}", each.blocks or "nothing") for each in found
    ]
    return [("part", "comes off mm", "of", "stopped by"), *rows]


def weld_rows(found: Sequence[WeldReach]) -> list[Row]:
    """Return a row a weld, the head first, in the order in which they are made."""
    head = ("weld", "length mm", "reached in order %", "past", "when all is in place %", "past it")
    rows = [
        (
            each.weld,
            f"{each.length:.0f}",
            f"{each.in_order:.0f}",
            each.blocks,
            f"{each.at_last:.0f}",
            each.blocks_at_last,
        )
        for each in found
    ]
    return [head, *rows]


def install_rows(ways: Sequence[Way]) -> list[Row]:
    """Return a row a unit, the head first, in the order in which they go in."""
    head = ("order", "what", "way out", "keeps mm", "stopped by")
    clear = [way for way in reversed(ways) if way.clear]
    rows = [
        (str(number), _step(way), _stages(way), _kept(way), "nothing")
        for number, way in enumerate(clear, start=1)
    ]
    rows += [
        ("-", _step(way), f"{_stages(way)}: {way.reach:.0f} mm of it", "", way.blocks or "what it lies on")
        for way in ways
        if not way.clear
    ]
    return [head, *rows]


def drain_rows(layout: Layout) -> list[Row]:
    """Return a row a stretch of an oil drain, the head first."""
    head = ("drain", "stretch", "length mm", "fall deg", "ends over the oil mm")
    return [head, *(row for drain in layout.access.drains for row in _stretches(drain, layout))]


def _bolt(access: BoltAccess) -> Row:
    best = access.best
    turned = f"{best.tool}{' on its nut' if access.nut else ''}"
    turned += f", before {access.before}" if access.before else ""
    return (
        access.bolt.id,
        access.verdict,
        turned if best.works else "nothing",
        f"{best.swing:.0f}",
        _room(best),
        best.blocks,
        _other_end(access),
        f"{access.travel:.0f}",
        f"{access.bolt.length:.0f}",
        access.blocks or "nothing",
    )


def _other_end(access: BoltAccess) -> str:
    """Return what holds a bolt's other end, in words."""
    bolt, holder = access.bolt, access.holder
    if holder is None:
        return bolt.holds
    end = f"head on {bolt.on}" if access.nut else bolt.holds
    return f"{end}, {holder.tool}" if holder.works else f"{end}, nothing past {holder.blocks}"


def _clamp(access: ClampAccess) -> Row:
    best = access.best
    turned = best.tool if best.works else "nothing"
    clock = f"{access.clock:.0f}"
    return access.band.id, access.verdict, turned, f"{best.swing:.0f}", _room(best), best.blocks, clock


def _plug(access: PlugAccess) -> Row:
    best = access.best
    boot = f"{access.room:.0f}" if access.nearest else ""
    turned = best.tool if best.works else "nothing"
    return access.plug.id, turned, f"{best.swing:.0f}", _room(best), best.blocks, boot, access.nearest


def _room(best: Try) -> str:
    return f"over {TOLD:.0f}" if best.room >= TOLD else f"{best.room:.1f}"


def _kept(way: Way) -> str:
    return f"over {ROOM:.0f}" if way.room >= ROOM else f"{way.room:.0f}"


def _step(way: Way) -> str:
    """Return what goes in, in words: with what is on it, and what else belongs to the step."""
    laden = f" with {listed(way.takes)} on it" if way.takes else ""
    return way.unit + laden + (f", {way.note}" if way.note else "")


def _stages(way: Way) -> str:
    """Return a way's moves in words, those that go on in one direction as one."""
    moves: list[Stage] = []
    for stage in way.stages:
        before = moves.pop().length if moves and moves[-1].direction == stage.direction else 0.0
        moves.append(replace(stage, length=before + stage.length))
    return ", then ".join(f"{move.length:.0f} mm {direction_words(move.direction)}" for move in moves) or "none"


def direction_words(direction: Sequence[float]) -> str:
    """Return a direction, unit vector, as words: an axis with its sign, or its three figures.

    >>> direction_words((0.0, -1.0, 0.0)), direction_words((0.0, 0.6, 0.8))
    ('along -y', 'along [0, 0.6, 0.8]')
    """
    along = np.array(direction)
    axis = int(np.argmax(np.abs(along)))
    if abs(along[axis]) > 1.0 - 1e-6:
        return f"along {'+' if along[axis] > 0 else '-'}{'xyz'[axis]}"
    return "along [" + ", ".join(f"{round(float(each), 2) + 0.0:g}" for each in along) + "]"


def _stretches(drain: Drain, layout: Layout) -> Iterator[Row]:
    lengths = np.linalg.norm(np.diff(drain.points, axis=0), axis=1)
    fall = falls(drain.points, layout.access.up)
    for number, (length, angle) in enumerate(zip(lengths, fall, strict=True), start=1):
        over = float((drain.points[number] - drain.oil) @ layout.access.up)
        yield drain.id, str(number), f"{length:.0f}", f"{angle:.1f}", f"{over:.0f}"


def reached_record(found: Reached, layout: Layout) -> dict[str, Any]:
    """Return everything as records for scripts, lengths in mm, angles in degrees."""
    return {
        "bolts": [
            {
                "bolt": access.bolt.id,
                "verdict": access.verdict,
                "other_end": _other_end(access),
                "nut_turned": access.nut,
                "held": [asdict(each) for each in access.held],
                "before": access.before,
                "tries": [asdict(each) for each in access.tries],
                "comes_out": access.travel,
                "length": access.bolt.length,
                "stopped_by": access.blocks,
            }
            for access in found.bolts
        ],
        "clamps": [
            {
                "clamp": access.band.id,
                "verdict": access.verdict,
                "clock": access.clock,
                "tries": [asdict(each) for each in access.tries],
            }
            for access in found.clamps
        ],
        "bolts_not_tried": [asdict(each) for each in found.unsized],
        "plugs": [
            {
                "plug": access.plug.id,
                "tries": [asdict(each) for each in access.tries],
                "boot_room": access.room if access.nearest else None,
                "boot_nearest": access.nearest,
            }
            for access in found.plugs
        ],
        "service": [
            {"part": each.name, "comes_off": each.travel, "of": each.spec.travel, "stopped_by": each.blocks}
            for each in found.services
        ],
        "welds": [asdict(each) for each in found.welds],
        "ways_out": [asdict(way) for way in found.ways],
        "drains": [
            {
                "drain": drain.id,
                "falls": [float(each) for each in falls(drain.points, layout.access.up)],
                "over_oil": float((drain.points[-1] - drain.oil) @ layout.access.up),
            }
            for drain in layout.access.drains
        ],
        "checks": [asdict(finding) for finding in found.findings],
    }
