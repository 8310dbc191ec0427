"""Does every V-band ring take the pipe that is welded to it, and do the two set each other in line?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rootgap.checks.finding import Finding, at_least, at_most
from rootgap.joints import Butt, Clamp, Joint, PocketWeld
from rootgap.layout import Layout, Member, Ring

#: A pipe's outside may differ by so much, mm, from what a hub is made for.
FITS = 0.5
#: Less play, mm on the radius, and the pilot binds as soon as one ring is hotter than the other.
LEAST_PLAY = 0.05


def rings_fit(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for how far each pipe's outside diameter is off the one that its ring takes, mm."""
    for joint in joints:
        if isinstance(joint, Butt | PocketWeld):
            yield from _fits(layout.members, joint)


def pilots(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the play of each pilot in its recess, mm on the radius."""
    for joint in joints:
        if isinstance(joint, Clamp) and joint.pilot_clearance is not None:
            yield at_least(
                "pilot clearance",
                joint.id,
                joint.pilot_clearance,
                LEAST_PLAY,
                "mm",
                "from memory: without play the pilot does not enter, or binds when one ring is hotter",
                "from memory",
                f"turn the pilot of {joint.part.name} down, or open its recess",
                "warn" if joint.pilot_clearance > 0.0 else "fail",
            )


def _fits(pieces: Mapping[str, Member], joint: Butt | PocketWeld) -> Iterator[Finding]:
    """Yield a finding for every ring at `joint`. pieces: by mark."""
    # A pipe may be another at its end than at its start: what meets here is the joint's to say.
    outsides = joint.r_out if isinstance(joint, Butt) else (joint.r_out, joint.r_out)
    first, second = joint.joined
    for mark, mate, r_out in ((first, second, outsides[1]), (second, first, outsides[0])):
        ring = pieces.get(mark)
        if not isinstance(ring, Ring) or mate not in pieces:
            continue
        part, od = ring.part, 2.0 * r_out
        play = 2.0 * part.pocket.clearance if part.pocket else FITS
        yield at_most(
            "ring for pipe",
            f"{mark} on {mate}",
            abs(od - part.pipe),
            min(FITS, play),
            "mm",
            "the part's own pipe, to half a millimetre of diameter, or to the play in its pocket",
            "common practice, no source",
            f"{part.name} takes {part.pipe:g} mm pipe, this is {od:g} mm: use a pair made for it, or a reducer between",
        )
