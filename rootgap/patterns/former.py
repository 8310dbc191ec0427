"""Formers: the plate that a pipe's own end is driven over to take a port's shape."""

from __future__ import annotations

from rootgap.geometry.paths import Circle
from rootgap.geometry.transition import LEAN, LEAST_WORKED, Formed
from rootgap.patterns.pattern import Drawn, Label, Pattern


def former_pattern(name: str, end: Formed, pipe: str, held: float = 0.0) -> Pattern:
    """Return the former for the inside of `end`, and the hole that its outside needs.

    pipe: what stands in the title block; held: mm at its mouth over which the end keeps the port's shape.
    The pipe's own bore is drawn round the former's middle.
    """
    former = end.former
    left, low, right, high = former.bounds()
    middle = ((left + right) / 2, (low + high) / 2)
    # Letters are about 0.6 of their height wide: the name is to stay on the plate.
    height = min(4.0, 0.8 * (right - left) / (0.6 * len(name)))
    return Pattern(
        name,
        "former",
        f"Former for the end of {pipe}",
        (
            Drawn("cut", former),
            Drawn("mark", end.outside),
            Drawn("mark", Circle(middle, end.od / 2 - end.wall)),
        ),
        (
            Label("text", (middle[0], middle[1] + 2.0), name, height, anchor="middle"),
            Label("text", (middle[0], middle[1] - 5.0), "FORMER", 4.0, anchor="middle"),
        ),
        (),
        (
            ("Part", f"{name}, make 1"),
            ("Pipe", f"{pipe}, {end.od:.2f} x {end.wall:.2f} mm"),
            ("Size", f"{right - left:.2f} x {high - low:.2f} mm"),
            ("Girth, bore to bore", f"pipe {end.pipe_girth:.1f} mm, to be {end.girth:.1f} mm"),
            ("Girth must change", f"{end.difference:+.2f} mm, {100 * end.stretch:+.2f} % of the middle of the wall"),
            ("Round of equal girth", f"{end.equal_round:.2f} mm bore, {end.equal_round_area:.0f} mm2"),
            ("Bore area", f"{end.area:.0f} mm2, {100 * end.area_change:+.1f} % against the pipe"),
            ("Work the end", f"{held + end.worked:.0f} mm in"),
            *((("Former goes in", f"{held:g} mm, full size"),) if held else ()),
        ),
        _notes(end),
    )


def _notes(end: Formed) -> tuple[str, ...]:
    if end.difference > 0:
        change = "The pipe is too small for the port by the girth told: it must stretch, or take a larger pipe."
    else:
        change = "The pipe is larger than the port by the girth told: it must shrink, or a slit be closed."
    return (
        change,
        f"Worked until no wall leans over {LEAN:g} deg, at least {LEAST_WORKED:g} x OD (common practice, no source).",
        "The outer marked line is the formed end's outside: cut a flange's hole from the formed end, not the port.",
        "Break the former's edges and taper its lead-in.",
    )
