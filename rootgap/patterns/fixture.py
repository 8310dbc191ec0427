"""Flat plates of the fixture, for the cutting table."""

from __future__ import annotations

from rootgap.layout import Fixture, FixturePlate
from rootgap.patterns.pattern import Drawn, Label, Pattern, PlateStock


def fixture_patterns(fixture: Fixture) -> tuple[Pattern, ...]:
    """Return the flat pattern of every plate of the fixture, the base first."""
    return tuple(_pattern(fixture, plate) for plate in fixture.plates)


def _pattern(fixture: Fixture, plate: FixturePlate) -> Pattern:
    low_x, low_y, high_x, high_y = plate.outline.bounds()
    drawn = [Drawn("cut.outer", plate.outline)]
    drawn += [Drawn("cut.inner", hole) for hole in plate.holes]
    drawn += [Drawn("mark", shape) for shape in plate.scribed]
    return Pattern(
        plate.id,
        "fixture",
        f"Fixture: {plate.about}",
        tuple(drawn),
        tuple(Label("text", each.at, each.text, each.height, each.angle, "middle") for each in plate.lettered),
        (),
        (
            ("Part", f"{plate.id}, make 1"),
            ("Material", f"{plate.metal.grade}, {plate.thickness:g} mm"),
            ("Size", f"{high_x - low_x:.1f} x {high_y - low_y:.1f} mm"),
            ("Fit", f"slots {fixture.fit:g} mm wider a side than tabs; seats clear their pipes by {fixture.room:g} mm"),
        ),
        tuple(_notes(fixture, plate)),
        PlateStock(plate.metal.grade, plate.thickness),
    )


def _notes(fixture: Fixture, plate: FixturePlate) -> list[str]:
    wider = 2.0 * fixture.fit
    notes = [f"Measure the sheet: slots are for {plate.thickness:g} mm and {wider:g} mm wider; thicker sheet jams."]
    if plate is fixture.plates[0]:
        notes.append("Stand it on bars, so that bolt heads clear the bench. It is for tacking: it is no heat sink.")
    elif plate.id in fixture.posts.values():
        notes.append("Unbolt it before the work is lifted out.")
    return notes
