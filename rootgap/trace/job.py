"""One tracing from end to end: a picture in, a flange file and a drawing out."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from rootgap.errors import InputErrors, PictureError, WriteError
from rootgap.spec import FlangePart
from rootgap.stock import material as metal
from rootgap.trace import CAUTION, drawing, flange_name, flange_toml, png, read_back, told, trace
from rootgap.trace.gasket import Feature, Traced
from rootgap.trace.likeness import Likeness, likeness
from rootgap.trace.picture import MOST_DPI, read_picture
from rootgap.units import LengthUnit
from rootgap.writers.files import write_bytes

#: Lower than this, dots an inch, an edge is known to no better than a quarter of a millimetre.
LEAST_GIVEN = 50.0


@dataclass(frozen=True, eq=False)
class TraceDone:
    """What a tracing found and wrote. file, picture: where; shrunk: as of the picture; like: how it agrees with the
    flange that it was held against, None without one."""

    found: Traced
    file: Path
    picture: Path
    shrunk: int
    like: Likeness | None

    @property
    def summary(self) -> str:
        """What was found, in one line."""
        wide, high = self.found.size
        ports, bolts = len(self.found.ports), len(self.found.bolts)
        counts = f"{ports} {'port' if ports == 1 else 'ports'} and {bolts} bolt {'hole' if bolts == 1 else 'holes'}"
        return f"{counts}, {wide:.1f} x {high:.1f} mm, from {self.found.plan.told}"

    @property
    def lines(self) -> tuple[str, ...]:
        """What to know, a line each."""
        shrunk = (f"NOTE: the picture is large: each {self.shrunk} x {self.shrunk} of its pixels are taken as one",)
        return (
            *(self.like.lines if self.like else ()),
            *(shrunk if self.shrunk > 1 else ()),
            *(f"NOTE: {line}" for line in self.found.notices),
            *(f"Left out: {line}" for line in told(self.found.left_out)),
            *CAUTION,
        )

    def record(self) -> dict[str, Any]:
        """Return what was found as JSON has it, mm and degrees."""
        found = self.found
        return {
            "file": str(self.file),
            "picture": str(self.picture),
            "from": found.plan.told,
            "like": asdict(self.like) if self.like else None,
            "size": list(found.size),
            "ports": [_record(port) | {"kind": port.fit.kind, "angle": port.fit.angle} for port in found.ports],
            "bolts": [_record(bolt) for bolt in found.bolts],
            "outline": {
                "edge": found.outline.edge,
                "boss": found.outline.boss,
                "fillet": found.outline.fillet,
                "misfit": found.outline.misfit,
            },
            "notices": list(found.notices),
            "left_out": [{"what": item.what, "at": list(item.at), "size": item.size} for item in found.left_out],
        }


def _record(feature: Feature) -> dict[str, Any]:
    fit = feature.fit
    sizes = {name: value for name, value in vars(fit.opening).items() if isinstance(value, float)}
    return {"at": list(fit.at), **sizes, "misfit": fit.misfit, "of_place": feature.of_place, "of_size": feature.of_size}


@dataclass(frozen=True)
class TraceJob:
    """What to trace and how. out, picture: files to write, None for names made from the image's; dpi: dots an
    inch; thickness: of the plate to cut, mm; bars: what the sheet's 100 mm bars measure, mm; like: the flange that
    the picture should agree with, None for any."""

    image: Path
    out: Path | None
    picture: Path | None
    dpi: float | None
    thickness: float
    material: str
    units: LengthUnit
    bars: tuple[float, float]
    like: FlangePart | None = None

    def run(self, *, mirror: bool, turn: bool) -> TraceDone:
        """Trace, and write the file and the drawing.

        Raises PictureError, StockError for a material that no table has, and WriteError where a file cannot be
        written or a flange file would be lost.
        """
        metal(self.material)
        if self.dpi is not None and not LEAST_GIVEN <= self.dpi <= MOST_DPI:
            what = f"--dpi {self.dpi:g} is no scanner's"
            raise PictureError(str(self.image), what, f"allowed: {LEAST_GIVEN:g} to {MOST_DPI:g} dots an inch")
        name = flange_name(self.out.stem if self.out else self.image.stem)
        out = self.out or Path(f"{name}.toml")
        drawn = self.picture or out.with_name(f"{out.stem}-traced.png")
        if out.exists():
            reason = "a file of that name is there, and may have been edited"
            raise WriteError(str(out), reason, "name another with --out")
        if drawn.exists() and self.image.exists() and drawn.samefile(self.image):
            raise WriteError(str(drawn), "it is the picture that is traced", "name another with --picture")
        seen = read_picture(self.image)
        found = trace(seen, dpi=self.dpi, bars=self.bars, mirror=mirror, turn=turn)
        text = flange_toml(found, name, self.image.name, self.thickness, self.material, self.units)
        try:
            part = read_back(text, out)
        except InputErrors as fault:
            first = fault.faults[0]
            what = f"what is found is no flange: {first.key or 'the part'}: {first.allowed}"
            remedy = "check --dpi and --thickness, and picture the part alone"
            raise PictureError(str(self.image), what, remedy) from None
        like = likeness(part, self.like, found.axes, str(self.image), turn=turn) if self.like else None
        write_bytes(drawn, png(drawing(found)))
        write_bytes(out, text.encode("utf-8"))
        return TraceDone(found, out, drawn, seen.shrunk, like)
