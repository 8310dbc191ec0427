"""A traced part as a flange file: TOML that says beside each figure how far it can be trusted."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path as FilePath

import numpy as np

from rootgap.geometry.openings import Dee, Oval, Round, RoundedRectangle
from rootgap.geometry.paths import Path
from rootgap.spec.faults import validated
from rootgap.spec.fields import SHORTEST
from rootgap.spec.part import FlangePart
from rootgap.spec.source import Source
from rootgap.spec.toml import toml_text
from rootgap.trace.gasket import Feature, Traced, bolt_sets, told
from rootgap.units import LengthUnit

CAUTION = (
    "Measure the head, not only the gasket: gaskets have oversize bolt holes and ports.",
    "Check with calipers, before cutting, the far bolt's distance, one hole and one port.",
)


def flange_name(stem: str) -> str:
    """Return a part's name made from a file's.

    >>> flange_name("Left bank (2)")
    'left-bank-2'
    """
    return re.sub(r"[^a-z0-9._-]+", "-", stem.lower()).strip("-._") or "traced"


def flange_toml(found: Traced, name: str, picture: str, thickness: float, material: str, units: LengthUnit) -> str:
    """Return the flange file of what was found.

    name: of the part; picture: the file it was traced from; thickness: of the plate to cut, mm.
    """
    pen = _Pen(units)
    lines = [
        f"# Traced from {_clean(picture)}: {found.plan.told}.",
        f"# The part is {pen.said(found.size[0])} x {pen.said(found.size[1])} over all.",
        "# +-: expanded uncertainty (k = 2) of edge scatter, pixels and scale, in the file's units.",
        *(f"# {line}" for line in CAUTION),
        *(f"# NOTE {_clean(line)}." for line in found.notices),
        "",
        f"name      = {toml_text(name)}",
        'kind      = "flange"',
        f'units     = "{units}"',
        f"material  = {toml_text(material)}",
        f"thickness = {pen.number(thickness)}   # as given, not traced",
        'note      = "traced: measure the head before cutting"',
        "",
        *_ports(found.ports, pen),
        *_bolts(found.bolts, pen),
        *_outline(found, pen),
    ]
    left = told(found.left_out)
    if left:
        lines += ["", "# Left out:", *(f"#   {_clean(line)}" for line in left)]
    return "\n".join(lines) + "\n"


def read_back(text: str, path: FilePath) -> FlangePart:
    """Return the part that a flange file says, as it will be loaded from `path`. Raises InputErrors."""
    return validated(FlangePart, Source(path, text, tomllib.loads(text)))


class _Pen:
    """Writes lengths in the file's units."""

    def __init__(self, units: LengthUnit) -> None:
        self.units, self.scale, self.digits = units, 25.4 if units == "in" else 1.0, 4 if units == "in" else 2

    def number(self, mm: float) -> str:
        text = f"{mm / self.scale:.{self.digits}f}".rstrip("0").rstrip(".")
        return "0" if text in ("-0", "") else text

    def point(self, at: Sequence[float]) -> str:
        return f"[{self.number(at[0])}, {self.number(at[1])}]"

    def doubt(self, mm: float) -> str:
        """Return an uncertainty, rounded up to one figure that matters."""
        step = 10.0 ** np.floor(np.log10(max(mm, 0.01) / self.scale))
        return f"+-{np.ceil(mm / self.scale / step - 1e-9) * step:.{self.digits}f}".rstrip("0")

    def said(self, mm: float) -> str:
        return f"{self.number(round(mm, 1))} {self.units}"


def _ports(ports: Sequence[Feature], pen: _Pen) -> Iterator[str]:
    for number, port in enumerate(ports, 1):
        fit = port.fit
        yield f"[[port]]                  # {number}: place {pen.doubt(port.of_place)}, size {pen.doubt(port.of_size)}"
        yield f"at      = {pen.point(fit.at)}"
        if port.free:
            nearest = f"{_opening(fit.opening, pen)} at {fit.angle:.1f} degrees, misfit {pen.number(fit.misfit)}"
            yield f"# Of no kind: its traced line. The nearest kind: {nearest}."
            yield f"opening = {{ path = {_path(port.free.shape(), pen)} }}"
            continue
        told_ = "" if fit.fits else f"   # NEAREST KIND: misfit {pen.number(fit.misfit)}"
        yield f"opening = {_opening(fit.opening, pen)}{told_}"
        if fit.angle:
            yield f"angle   = {fit.angle:.2f}"
    yield ""


def _path(path: Path, pen: _Pen) -> str:
    corners = (f"[{pen.number(x)}, {pen.number(y)}{f', {b:.4f}' if b else ''}]" for x, y, b in path.vertices)
    return f"[{', '.join(corners)}]"


def _opening(opening: Round | RoundedRectangle | Oval | Dee, pen: _Pen) -> str:
    if isinstance(opening, Round):
        return f"{{ round = {pen.number(opening.diameter)} }}"
    sides = f"[{pen.number(opening.width)}, {pen.number(opening.height)}]"
    if isinstance(opening, Oval):
        return f"{{ oval = {sides} }}"
    # A corner of less than can be cut is written as the least that can.
    word = "rounded" if isinstance(opening, RoundedRectangle) else "dee"
    radius = min(max(opening.radius, SHORTEST), 0.5 * min(opening.width, opening.height) - 0.01)
    return f"{{ {word} = {sides}, radius = {pen.number(radius)} }}"


def _bolts(bolts: Sequence[Feature], pen: _Pen) -> Iterator[str]:
    """Yield a set of holes for each diameter, in the order of their numbers."""
    for group in bolt_sets([bolt.fit for bolt in bolts]):
        sizes = [2.0 * bolts[k].fit.opening.reach for k in group]
        seen = f"{pen.number(min(sizes))} to {pen.number(max(sizes))} seen, " if len(group) > 1 else ""
        yield "[[bolts]]                 # a gasket's hole is larger than the bolt's: thread is not traced"
        doubt = pen.doubt(max(bolts[k].of_size for k in group))
        yield f"hole = {pen.number(float(np.median(sizes)))}   # {seen}{doubt}"
        yield "at   = ["
        for k in group:
            bolt = bolts[k]
            doubt = "the datum" if not any(map(abs, bolt.fit.at)) else pen.doubt(bolt.of_place)
            yield f"    {pen.point(bolt.fit.at)},   # {k + 1}: {doubt}"
        yield "]"
    yield ""


def _outline(found: Traced, pen: _Pen) -> Iterator[str]:
    outline = found.outline
    misfit = pen.number(outline.misfit)
    if outline.free:
        nearest = (
            f"edge {pen.number(outline.edge)}, boss {pen.number(outline.boss)}, fillet {pen.number(outline.fillet)}"
        )
        yield f"[outline]                 # of no kind: its traced line; the nearest: {nearest}, misfit {misfit}"
        yield f"path = {_path(outline.free, pen)}"
        return
    yield f"[outline]                 # 90 of 100 points of the traced edge lie within {misfit} of this"
    yield f"edge   = {pen.number(outline.edge)}"
    yield f"boss   = {pen.number(outline.boss)}"
    yield f"fillet = {pen.number(outline.fillet)}"


def _clean(text: str) -> str:
    """Return text for a comment in one line."""
    return "".join(letter if letter.isprintable() else "?" for letter in text)
