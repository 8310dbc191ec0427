"""What was found of a flange, as rows and lines of text for a person, and as records for a script."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from rootgap.plates.calipers import Fitted
from rootgap.plates.match import Fit, PortFit
from rootgap.plates.ports import PortPipes, shown

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
        _dam(*ports),
        f"{max(port.ledge for port in ports):.2f}",
    )


def _dam(*ports: PortFit) -> str:
    """Return the worst dam, mm; of a port that lies under no opening there is no rim to measure it to."""
    return f"{max(port.dam for port in ports):.2f}" if all(port.over for port in ports) else "covered"


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
                _dam(port),
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


def reading_rows(found: Fitted) -> list[Row]:
    """Return one row a caliper reading, the head first."""
    head = ("no.", "from", "to", "taken", "middles mm", "fitted mm", "residual mm", "off mm", "checked", "")
    return [
        head,
        *(
            (
                str(reading.number),
                str(reading.start),
                str(reading.end),
                reading.said,
                _plain(reading.measured),
                _plain(reading.fitted),
                f"{reading.residual:+.2f}",
                "?" if reading.error is None else f"{reading.error:+.2f}",
                f"{100.0 * reading.redundancy:.0f} %",
                "AGAIN" if reading.aside else "",
            )
            for reading in found.readings
        ),
    ]


def place_rows(found: Fitted) -> list[Row]:
    """Return one row a bolt or port that was measured, the head first."""
    head = ("what", "x mm", "y mm", "unsure x", "unsure y", "moved x", "moved y")
    return [
        head,
        *(
            (
                str(place.feature),
                *(f"{value:.2f}" for value in (*place.at, *place.unsure)),
                *(f"{value:+.2f}" for value in place.moved),
            )
            for place in found.places
        ),
    ]


def caliper_lines(found: Fitted) -> Iterator[str]:
    """Yield what the sheet says, and which distances are to be taken again."""
    if found.scale and found.scale_unsure:
        for word, scale, unsure in zip("xy", found.scale, found.scale_unsure, strict=True):
            yield f"Scale of {word}: {scale:.5f} (standard uncertainty {unsure:.5f}): {100.0 * (scale - 1.0):+.2f} %"
    if found.scatter is None:
        yield "No distance is to spare: nothing tells a wrong one. Measure more, long diagonals first."
    else:
        yield f"{found.spare} distances to spare; one reading scatters by {found.scatter:.3f} mm (standard deviation)."
    lone = [str(reading.number) for reading in found.readings if reading.error is None]
    if lone and found.scatter is not None:
        yield f"Nothing checks distance {', '.join(lone)}: an error in it does not show."
    if found.unmeasured:
        yield f"Not measured, left as sketched: {', '.join(map(str, found.unmeasured))}."
    for reading in found.again:
        yield (
            f"Measure again: distance {reading.number}, {reading.start} to {reading.end}: it says "
            f"{reading.measured:.2f} mm between middles, the others {reading.fitted:.2f}; the fit is made without it."
        )


def caliper_record(found: Fitted) -> dict[str, Any]:
    """Return every figure of a caliper sheet's fit, the flange left out."""
    return {
        "scale": found.scale,
        "scale_unsure": found.scale_unsure,
        "spare": found.spare,
        "scatter": found.scatter,
        "places": [{**asdict(place), "feature": str(place.feature)} for place in found.places],
        "readings": [
            {
                **asdict(reading),
                "start": str(reading.start),
                "end": str(reading.end),
                "residual": reading.residual,
                "error": reading.error,
            }
            for reading in found.readings
        ],
        "unmeasured": [str(each) for each in found.unmeasured],
    }


def pipe_rows(found: PortPipes, most: int = 3) -> list[Row]:
    """Return one row a pipe worth a look, the head first. most: of those that fit, are larger, and are smaller."""
    worked = ("stock", "verdict", "bore mm", "girth mm", "girth off mm", "bore off mm")
    return [
        (*worked, "round: dam mm", "at deg", "oversize mm", "at deg "),
        *(
            (
                pipe.stock,
                pipe.verdict,
                _plain(pipe.bore),
                _plain(pipe.girth),
                f"{pipe.girth_difference:+.2f}",
                f"{pipe.difference:+.2f}",
                _plain(pipe.dam),
                _clock(pipe.dam_clock) if pipe.dam else "-",
                _plain(pipe.oversize),
                _clock(pipe.oversize_clock) if pipe.oversize else "-",
            )
            for pipe in shown(found, most)
        ),
    ]


def port_title(found: PortPipes) -> str:
    """Return what a table of pipes is for."""
    ports = ("Port " if len(found.ports) == 1 else "Ports ") + ", ".join(map(str, found.ports))
    hollow = "; its rim turns inwards: no pipe is worked to it without stretch" if found.hollow else ""
    return (
        f"{ports}: {found.shape}, {found.girth:.2f} mm round (as a circle of {found.equal_round:.2f}), "
        f"{found.area:.0f} mm2{hollow}"
    )


def _clock(degrees: float) -> str:
    """Return a clock to a whole degree, 0 to 359.

    >>> _clock(359.98)
    '0'
    """
    return f"{round(degrees) % 360}"


def _plain(value: float) -> str:
    """Return a figure to a hundredth, nought without a sign."""
    return f"{round(value, 2) + 0.0:.2f}"
