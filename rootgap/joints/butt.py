"""Square ends: pipe to fitting, pipe to plate, and a disc on a pipe's end."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from rootgap.errors import GeometryError
from rootgap.geometry.frames import Frame
from rootgap.geometry.paths import Path
from rootgap.joints.clamp import no_pocket
from rootgap.joints.joint import CutAt, End, Which
from rootgap.layout import Cap, Disc, Layout, Member, Plate, Port, Run, Straight, Transition
from rootgap.stock import PipeStock

#: How far, mm, chords may lie from a rim that is looked at.
RIM = 1e-4


@dataclass(frozen=True, eq=False)
class Butt:
    """Two square ends of one axis. frame: where they meet, its axis along the gas; radii, mm,
    of the piece before and after it."""

    kind: ClassVar[str] = "butt"
    id: str
    before: str
    after: str
    frame: Frame
    r_out: tuple[float, float]
    r_in: tuple[float, float]
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The two pieces' marks."""
        return self.before, self.after

    @property
    def weld_length(self) -> float:
        """Circumference of the smaller outside, mm."""
        return float(2.0 * np.pi * min(self.r_out))

    @property
    def step(self) -> float:
        """Difference of the bore radii, mm; positive where the gas meets an edge."""
        return self.r_in[0] - self.r_in[1]


@dataclass(frozen=True, eq=False)
class FlangeWeld:
    """A pipe's square end on a plate round an opening. reach: of the opening from the pipe's
    axis, mm; gas_in: whether the gas comes from the plate; girth: of the end's outside, mm, where it was
    made to the opening's own shape, None where it is round; sunk: how far the end goes into the plate, mm; pocket:
    radius of the socket that it goes into, mm, None where it goes into none; open_area: of the openings, mm2;
    outline: of that shaped outside about the axis, x away from the frame's side and y along its ref, None where it
    is round or goes into the opening."""

    kind: ClassVar[str] = "flange weld"
    id: str
    pipe: str
    plate: str
    ports: tuple[int, ...]
    frame: Frame
    r_out: float
    r_in: float
    reach: float
    gas_in: bool
    girth: float | None = None
    sunk: float = 0.0
    pocket: float | None = None
    open_area: float = 0.0
    outline: Path | None = None
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The pipe's mark and the plate's."""
        return self.pipe, self.plate

    @property
    def through(self) -> bool:
        """Whether the pipe goes through the opening itself, and is welded on the joint's side."""
        return self.sunk > 0.0 and self.pocket is None

    @property
    def milled(self) -> float:
        """Volume of the socket outside the openings, mm3."""
        return 0.0 if self.pocket is None else float(np.pi * self.pocket**2 - self.open_area) * self.sunk

    @property
    def weld_length(self) -> float:
        """Girth of the pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out) if self.girth is None else self.girth

    @property
    def overlap(self) -> float:
        """How far the opening's outline reaches under the pipe's wall, mm; below 0 it stays in the bore. Nought
        for an end of the opening's own shape: its bore meets the rim, or its wall stands in it."""
        return self.reach - self.r_in if self.girth is None else 0.0


@dataclass(frozen=True, eq=False)
class DiscWeld:
    """A flat disc on a pipe's square end, welded round its edge. at: which end of the pipe, along the gas;
    frame: on that end, its axis out of the pipe; r_out, r_in: of the pipe, mm."""

    kind: ClassVar[str] = "disc weld"
    id: str
    pipe: str
    disc: str
    at: Which
    frame: Frame
    r_out: float
    r_in: float
    cuts: ClassVar[tuple[CutAt, ...]] = ()

    @property
    def joined(self) -> tuple[str, ...]:
        """The pipe's mark and the disc's."""
        return self.pipe, self.disc

    @property
    def square(self) -> tuple[End, ...]:
        """The pipe's end."""
        return ((self.pipe, self.at),)

    @property
    def weld_length(self) -> float:
        """Circumference of the pipe's outside, mm."""
        return float(2.0 * np.pi * self.r_out)


def butt(before: Member | Cap, after: Member | Cap) -> Butt:
    """Return the weld of two square ends of one axis."""
    # A cap's open end, and the piece after it, are where its frame is; its axis points at its crown.
    frame = after.start if isinstance(before, Cap) else before.end
    out = before.leaves
    radii = (out.r_out, after.stock.r_out), (out.r_in, after.stock.r_in)
    return Butt(f"{before.id}+{after.id}", before.id, after.id, frame, *radii)


def disc_weld(disc: Disc, pipe: Member, at: Which, end: PipeStock) -> DiscWeld:
    """Return the weld of a disc on an end of `pipe`, whose stock is `end` there. Raises GeometryError."""
    no_pocket(pipe, disc.id)
    return DiscWeld(f"{pipe.id}+{disc.id}", pipe.id, disc.id, at, disc.start, end.r_out, end.r_in)


def on_port(run: Run, begins: Port, layout: Layout) -> FlangeWeld:
    """Return the weld of a run's first piece on the port where it begins. Raises GeometryError."""
    plate, first = layout.plates[begins.flange], run.pieces[0]
    no_pocket(first, plate.id)
    port = plate.part.port[begins.number - 1]
    weld = FlangeWeld(
        f"{plate.id}.{begins.number}+{first.id}",
        first.id,
        plate.id,
        (begins.number,),
        run.start,
        first.stock.r_out,
        first.stock.r_in,
        port.opening.opening().reach,
        gas_in=True,
        girth=shaped_girth(first),
        outline=_shaped_outline(first),
    )
    return _sunk(weld, plate)


def on_flange(run: Run, plate: Plate, last: Member) -> FlangeWeld:
    """Return the weld of a run's last piece on its flange. Raises GeometryError."""
    no_pocket(last, plate.id)
    which = "" if run.ports == (1,) else "." + ".".join(map(str, run.ports))
    weld = FlangeWeld(
        f"{last.id}+{plate.id}{which}",
        last.id,
        plate.id,
        run.ports,
        run.end,
        last.leaves.r_out,
        last.leaves.r_in,
        _reach(plate, run),
        gas_in=False,
    )
    return _sunk(weld, plate)


def _sunk(weld: FlangeWeld, plate: Plate) -> FlangeWeld:
    """Return the weld of a pipe as far in its flange as the flange says. Raises GeometryError where it cannot be."""
    depth = plate.sunk(weld.ports)
    if not depth:
        return weld
    if weld.girth is not None:
        raise GeometryError(weld.pipe, f"has the opening's shape, and {plate.id} a round socket", "take the socket out")
    ports = [plate.part.port[number - 1] for number in weld.ports]
    sockets = {port.socket for port in ports}
    if len(sockets) > 1:
        raise GeometryError(plate.id, "one pipe goes in to two sockets", "give these ports the same socket")
    socket = sockets.pop()
    if socket is None:
        return replace(weld, sunk=depth)
    pocket = weld.r_out + socket.clearance
    if weld.reach > pocket:
        raise GeometryError(
            plate.id,
            f"an opening reaches {weld.reach - pocket:.1f} mm beyond the socket for {weld.pipe}",
            "make the opening smaller or the pipe larger",
        )
    return replace(weld, sunk=depth, pocket=pocket, open_area=sum(port.opening.opening().area for port in ports))


def shaped_girth(piece: Member) -> float | None:
    """Return the girth, mm, of a start's outside that has the shape of the opening it begins at, None where it is
    round."""
    if isinstance(piece, Transition):
        return piece.girth
    return piece.formed.outside.length if isinstance(piece, Straight) and piece.formed else None


def _shaped_outline(piece: Member) -> Path | None:
    """Return the outline, mm, of a start's outside that stands on an opening of its own shape, None of any other."""
    if isinstance(piece, Transition):
        return piece.made.start.grown(piece.made.wall).path()
    return piece.formed.outside if isinstance(piece, Straight) and piece.formed and not piece.held else None


def _reach(plate: Plate, run: Run) -> float:
    """Return how far the openings at a run's end get from its axis, mm."""
    if len(run.ports) == 1:
        return plate.part.port[run.ports[0] - 1].opening.opening().reach
    y, left, _ = plate.start.to_local(run.end.origin)
    rims = np.vstack([plate.openings[number - 1].points(RIM) for number in run.ports])
    return float(np.hypot(rims[:, 0] + left, rims[:, 1] - y).max())
