"""Placing dividers: the plane that a plate lies in, and how far it goes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Array, Frame, unit, vector
from rootgap.geometry.parting import Disc, half_width
from rootgap.layout.aim import at_least
from rootgap.layout.pieces import Divider, Straight, Tongue
from rootgap.layout.run import Run, Side
from rootgap.spec import DividerSpec
from rootgap.stock import material

#: Sine of the least angle, no unit, between a disc and the axis of the bore that it closes: 30 degrees.
LEAST_ACROSS = 0.5
_ROUND = 2.0 * np.pi * np.arange(360) / 360


def place_divider(name: str, spec: DividerSpec, runs: Mapping[str, Run]) -> Divider:
    """Return the plate of `spec`. name: of its table; runs: all of the layout.

    Raises GeometryError where it would have to bend, does not fit in its bore, or does not part it.
    """
    mark, run = f"divider.{name}", runs[spec.run]
    if spec.station is not None:
        return _across(mark, spec, run, spec.station)
    return _down(mark, spec, run, runs)


def _across(mark: str, spec: DividerSpec, run: Run, station: float) -> Divider:
    piece, along = _straight_at(mark, run, station)
    frame = piece.start.advanced(along)
    disc = _disc(mark, spec, piece, np.zeros(2))
    _within(mark, piece, along, np.array([-0.5, 0.5]) * spec.thickness)
    return Divider(
        mark, run.name, frame, spec.thickness, spec.gap, material(spec.material), (piece.id,), piece.id, disc
    )


def _down(mark: str, spec: DividerSpec, run: Run, runs: Mapping[str, Run]) -> Divider:
    _refuse_bends(mark, run)
    r_in = min(piece.stock.r_in for piece in run.pieces)
    half = half_width(r_in, spec.gap, spec.thickness)
    if np.isnan(half):
        raise GeometryError(
            mark, f"{spec.thickness:g} mm thick does not go into a bore of {2 * r_in:.1f} mm", "make it thinner"
        )
    if run.flange and spec.slot >= run.flange.part.thickness:
        most = run.flange.part.thickness
        raise GeometryError(mark, f"a slot {spec.slot:g} mm deep goes through {run.flange.id}", f"below {most:g} mm")
    frame = run.start
    towards = frame.radial(np.radians(spec.clock or 0.0))
    middle = Frame(frame.origin, unit(np.cross(towards, frame.axis)), frame.axis)
    marks = tuple(piece.id for piece in run.pieces)
    plate = (spec.thickness, spec.gap, material(spec.material))
    if not (spec.through and isinstance(run.begins, Side)):
        reach = Tongue(half, 0.0, run.length + spec.slot, 0.0, spec.slot)
        return Divider(mark, run.name, middle, *plate, marks, tongue=reach)
    host, along = _straight_at(mark, runs[run.begins.off.off], run.begins.off.station)
    base = host.stock.r_out / float(np.sin(np.radians(run.begins.off.lean)))
    middle = Frame(vector(frame.origin - base * frame.axis), middle.axis, frame.axis)
    lean = np.array([host.start.axis @ towards, host.start.axis @ frame.axis])
    _crosses(mark, host, middle)
    disc = _disc(mark, spec, host, lean)
    _within(mark, host, along, disc.points(_ROUND) @ lean + 0.5 * spec.thickness)
    _within(mark, host, along, disc.points(_ROUND) @ lean - 0.5 * spec.thickness)
    reach = Tongue(half, 0.0, base + run.length + spec.slot, base, spec.slot)
    try:
        disc.with_tongue(half, reach.end)
    except ValueError as fault:
        raise GeometryError(mark, f"in {host.id} {fault}", f"use a smaller pipe for run.{run.name}") from None
    return Divider(mark, run.name, middle, *plate, (*marks, host.id), host.id, disc, reach)


def _refuse_bends(mark: str, run: Run) -> None:
    """Raise GeometryError for a run that a flat plate cannot go down from end to end."""
    remedy = "part a run of straights: let one begin after the bend"
    for piece in run.pieces:
        if not isinstance(piece, Straight):
            raise GeometryError(mark, f"{piece.id} is of kind {piece.kind}; a flat plate goes down straights", remedy)
    if run.corners:
        raise GeometryError(mark, f"run.{run.name} turns at a mitre; a flat plate goes down straights", remedy)
    if run.cope or run.merge:
        raise GeometryError(
            mark, f"run.{run.name} ends on {run.cope.cope if run.cope else run.merge}", "part a run that ends square"
        )


def _straight_at(mark: str, run: Run, station: float) -> tuple[Straight, float]:
    """Return the straight of a run at a station, mm, and how far along it that is."""
    found = run.at(station)
    if found is None:
        raise GeometryError(
            mark,
            f"stands at {station:.1f} mm; run.{run.name} is {run.length:.1f} mm long",
            f"make the station at most {run.length:.1f} mm",
        )
    piece, along = found
    if not isinstance(piece, Straight):
        raise GeometryError(mark, f"{piece.id} is of kind {piece.kind}; a disc closes a straight", "move it along")
    return piece, along


def _disc(mark: str, spec: DividerSpec, host: Straight, lean: Array) -> Disc:
    radius = host.stock.r_in - spec.gap
    if radius <= spec.thickness:
        raise GeometryError(
            mark, f"nothing is left of it in {host.id}, whose bore is {2 * host.stock.r_in:.1f} mm", "make gap smaller"
        )
    return Disc(radius, lean, spec.thickness)


def _crosses(mark: str, host: Straight, middle: Frame) -> None:
    """Raise GeometryError where a plane runs along a pipe, and so parts it nowhere."""
    across = abs(float(host.start.axis @ middle.axis))
    if across < LEAST_ACROSS - 1e-9:
        raise GeometryError(
            mark,
            f"its plane lies {np.degrees(np.arcsin(across)):.1f} degrees to {host.id}; at least "
            f"{np.degrees(np.arcsin(LEAST_ACROSS)):.0f} needed to close its bore",
            "turn its clock to 90, square to the run that it goes through",
        )


def _within(mark: str, host: Straight, along: float, off: Array) -> None:
    """Raise GeometryError where points `off` a station, mm, (n,), lie beyond the ends of `host`."""
    past = max(-float(along + off.min()), float(along + off.max()) - host.length)
    if past > 0.0:
        raise GeometryError(
            mark, f"reaches {past:.1f} mm past an end of {host.id}", f"move it {at_least(past)} mm away from there"
        )
