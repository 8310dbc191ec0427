"""Flat patterns as data: what a sheet, a wrap or a plate shows, before any file is written.

Terminology: a *layer* is named `purpose` or `purpose.owner`; the purpose (before the first
dot) says what is done there and how it is drawn.

    cut        the line to cut to
    inside     where a hole's edge must come out at the pipe's bore (lean the torch to it)
    edge       the paper's own edges: datum, seam
    mark       lines to transfer: clocks, match marks, bend lines
    drill      circles too small to burn: a centre mark and a drill
    tab        the seam's overlap
    text       lettering

Only in a file for a cutting table:

    etch       lettering of single strokes, to scribe
    lead       the way from where the torch pierces to the contour, and off it
"""

from __future__ import annotations

from dataclasses import dataclass

from rootgap.geometry.paths import Path, Shape

#: The word by a plate's upper edge.
UPPER = "TOP"
#: The kinds that mark a piece, in the order of the work, and what they are called in full; a piece's
#: template bears its kind after the piece's mark. Other kinds go by their own name.
TEMPLATES = {
    "holes": "hole template",
    "wrap": "wrap template",
    "comb": "comb template",
    "trim": "trim strip",
    "pie": "pie template",
    "development": "development",
    "former": "former",
}
PURPOSES = ("cut", "inside", "edge", "mark", "drill", "tab", "text")


@dataclass(frozen=True)
class Drawn:
    """A shape on a layer."""

    layer: str
    shape: Shape


@dataclass(frozen=True)
class Label:
    """A line of text. at: its anchor, mm; height: of capitals, mm; angle: degrees;
    anchor: "left", "middle" or "right" end of the baseline."""

    layer: str
    at: tuple[float, float]
    text: str
    height: float = 3.0
    angle: float = 0.0
    anchor: str = "left"


@dataclass(frozen=True)
class PlateStock:
    """What a part is cut from. material: its grade; thickness: mm."""

    material: str
    thickness: float


@dataclass(frozen=True)
class Pattern:
    """One flat thing, true size, in mm.

    name: file name without ending; kind: "wrap" (a cut end unrolled), "holes" (a pipe's
    holes, and a half pipe's split, unrolled), "plate" (a flange, or a disc on a pipe's end), "panel" (a plate
    that closes a half pipe), "divider" (a plate that parts the gas), "trim" (a strip along a square cut), "pie"
    (a segment of a pie-cut bend unrolled), "comb" (meridian marks for an elbow), "development" (sheet to roll or
    fold), "spike" (sheet folded onto a collector's crotch), "former" (a tool) or "fixture" (a plate that holds the
    work); title: one line for people; facts: rows of the title block; notes: sentences that must be read before
    cutting; waste: closed regions that fall away; plate: what it is cut from on a table, None for paper and for
    tools of any plate.
    """

    name: str
    kind: str
    title: str
    drawn: tuple[Drawn, ...]
    labels: tuple[Label, ...] = ()
    waste: tuple[Path, ...] = ()
    facts: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    plate: PlateStock | None = None

    def bounds(self) -> tuple[float, float, float, float]:
        """Return (least x, least y, largest x, largest y) of all shapes, mm."""
        boxes = [item.shape.bounds() for item in self.drawn]
        return (
            min(b[0] for b in boxes),
            min(b[1] for b in boxes),
            max(b[2] for b in boxes),
            max(b[3] for b in boxes),
        )


def template_name(piece: str, kind: str, at: str = "end") -> str:
    """Return the name of a piece's template. at: which end of the piece it is for, along the gas.

    >>> template_name("outlet-a", "wrap", "start")
    'outlet-a.wrap-start'
    """
    return f"{piece}.{kind}" if at == "end" else f"{piece}.{kind}-{at}"


def template_names(piece: str) -> tuple[str, ...]:
    """Return the names of all templates that a piece may have, in the order of the work."""
    return tuple(template_name(piece, kind, at) for kind in TEMPLATES for at in ("end", "start"))


def purpose(layer: str) -> str:
    """Return the purpose part of a layer's name."""
    return layer.partition(".")[0]


def kind_text(pattern: Pattern) -> str:
    """Return what a pattern's kind is called in full."""
    return TEMPLATES.get(pattern.kind, pattern.kind)
