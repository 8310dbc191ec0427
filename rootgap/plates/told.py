"""What was found of a flange, as rows and lines of text for a person, and as records for a script."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from rootgap.plates.match import Fit

Row = tuple[str, ...]


def match_rows(fits: Sequence[Fit]) -> list[Row]:
    """Return one row an orientation, the head first."""
    pose = ("plate lies", "verdict", "shift mm", "turn deg")
    head = (*pose, "worst bolt mm", "slots", "masked mm2", "dam mm", "ledge mm")
    return [head, *(_match(fit) for fit in fits)]


def _match(fit: Fit) -> Row:
    ports = fit.ports
    return (
        fit.orientation,
        fit.verdict,
        f"{_plain(fit.shift[0])}, {_plain(fit.shift[1])}",
        _plain(fit.turn),
        f"{fit.worst:+.2f}",
        str(len(fit.slots)) if fit.verdict == "with slots" else "-" if fit.why else "none",
        f"{sum(port.masked for port in ports):.0f}",
        f"{max(port.dam for port in ports):.2f}",
        f"{max(port.ledge for port in ports):.2f}",
    )


def port_fit_rows(fit: Fit) -> list[Row]:
    """Return one row a port of what one orientation does to it, the head first."""
    head = ("port", "under opening", "open mm2", "masked mm2", "beyond mm2", "dam mm", "ledge mm", "middles off mm")
    return [
        head,
        *(
            (
                str(port.port),
                ", ".join(map(str, port.over)) or "none",
                f"{port.open:.0f} of {port.area:.0f}",
                f"{port.masked:.0f}",
                f"{port.bare:.0f}",
                f"{port.dam:.2f}",
                f"{port.ledge:.2f}",
                f"{_plain(port.offset[0])}, {_plain(port.offset[1])}",
            )
            for port in fit.ports
        ),
    ]


def match_lines(fits: Sequence[Fit]) -> Iterator[str]:
    """Yield a line for every slot that is needed, and for whatever is in the way."""
    for fit in fits:
        for line in fit.why:
            yield f"{fit.orientation}, never: {line}"
        for pair in fit.slots if fit.verdict == "with slots" else ():
            yield (
                f"{fit.orientation}: slot hole {pair.hole} to {pair.diameter:g} x {pair.slot:.2f} mm, "
                f"{pair.excess:.2f} mm on towards {_plain(pair.direction)} deg of its own drawing, for bolt {pair.bolt}"
            )


def match_record(fits: Sequence[Fit]) -> list[dict[str, Any]]:
    """Return every figure of a match, one record an orientation."""
    return [
        {
            **asdict(fit),
            "pairs": [{**asdict(pair), "direction": pair.direction, "slot": pair.slot} for pair in fit.pairs],
        }
        for fit in fits
    ]


def _plain(value: float) -> str:
    """Return a figure to a hundredth, nought without a sign."""
    return f"{round(value, 2) + 0.0:.2f}"
