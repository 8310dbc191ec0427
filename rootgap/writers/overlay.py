"""One plate on another as a picture: a panel an orientation, SVG, for the screen.

Terminology: what lies below is B, drawn filled; what lies on it is A, drawn as lines.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rootgap.geometry.openings import placed
from rootgap.plates.match import Fit
from rootgap.spec import FlangePart

Array = NDArray[np.float64]

#: Colours by what they show.
METAL, PORT, OPEN, MASKED, BARE = "#d9d4c7", "#5b5f66", "#bfe3cf", "#c8452f", "#e8b54a"
ABOVE, BOLT, MISS, INK = "#1f5c99", "#3d4148", "#c8452f", "#22252a"
TONES = {"bolts up": "#2c7a4b", "with slots": "#9a6a00", "never": "#a8321f"}
#: Space round a panel, share of its size, and letters, share of its width.
_ROOM, _LETTER = 0.08, 0.026
_CHORD = 0.05  # mm
_PANEL = 700.0  # px across


def overlay_svg(a: FlangePart, b: FlangePart, fits: Sequence[Fit]) -> str:
    """Return a drawing of how `a` lies on `b` in each of `fits`, two panels beside each other."""
    from shapely import Polygon

    edges = [fit.placed(edge.points(_CHORD)) for fit in fits for edge in a.edges()]
    edges += [edge.points(_CHORD) for edge in b.edges()]
    low = np.min([edge.min(axis=0) for edge in edges], axis=0)
    high = np.max([edge.max(axis=0) for edge in edges], axis=0)
    room = _ROOM * float((high - low).max())
    size = high - low + 2.0 * room
    letter = _LETTER * float(size[0])
    head = 4.5 * letter
    scale = _PANEL / float(size[0])
    rows = (len(fits) + 1) // 2
    width, height = 2.0 * size[0], rows * (size[1] + head) + 3.0 * letter
    under = [Polygon(rim) for rim in _rims(b)]
    box = f'width="{width * scale:.0f}" height="{height * scale:.0f}" viewBox="0 0 {width:.3f} {height:.3f}"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {box} font-family="sans-serif">',
        f'<rect width="{width:.3f}" height="{height:.3f}" fill="#ffffff"/>',
    ]
    for number, fit in enumerate(fits):
        x, y = (number % 2) * size[0], (number // 2) * (size[1] + head)
        lines.append(f'<g transform="translate({x:.3f} {y:.3f})">')
        lines += _words(fit, a, letter, room)
        lines.append(f'<g transform="translate({room - low[0]:.3f} {head + room + high[1]:.3f}) scale(1 -1)">')
        lines += _plates(fit, a, b, under, letter)
        lines += ["</g>", "</g>"]
    lines += _legend(room, height - 1.2 * letter, letter)
    return "\n".join([*lines, "</svg>"]) + "\n"


def _legend(x: float, y: float, letter: float) -> Iterator[str]:
    """Yield what the colours mean, from (x, y) on."""
    for tone, words in (
        (OPEN, "open"),
        (MASKED, "port masked (dam)"),
        (BARE, "opening beyond the port (ledge)"),
        (BOLT, "bolt goes in"),
        (MISS, "bolt misses"),
        (ABOVE, "edge and openings of the plate on top"),
    ):
        yield f'<rect x="{x:.3f}" y="{y - 0.8 * letter:.3f}" width="{letter:.3f}" height="{letter:.3f}" fill="{tone}"/>'
        yield _text(x + 1.4 * letter, y, 0.85 * letter, words, INK)
        x += letter * (3.4 + 0.5 * len(words))


def _words(fit: Fit, a: FlangePart, letter: float, left: float) -> Iterator[str]:
    yield _text(left, 1.6 * letter, 1.25 * letter, f"{a.name} {fit.orientation}: {fit.verdict}", TONES[fit.verdict])
    masked = max(fit.ports, key=lambda port: port.masked)
    said = fit.why[0] if fit.why else f"worst bolt {fit.worst:+.2f} mm to its hole's edge"
    yield _text(left, 3.0 * letter, 0.85 * letter, said if len(said) < 90 else said[:89] + "…", INK)
    dam = f"dam {masked.dam:.2f} mm" if masked.over else "under no opening"
    ports = f"port {masked.port} masked {masked.masked:.0f} of {masked.area:.0f} mm2, {dam}"
    yield _text(left, 4.2 * letter, 0.85 * letter, ports, INK)


def _plates(fit: Fit, a: FlangePart, b: FlangePart, under: Sequence[Any], letter: float) -> Iterator[str]:
    from shapely import Polygon, union_all

    thin = 0.06 * letter
    for edge in b.edges():
        yield _shape([edge.points(_CHORD)], METAL)
    above = union_all([Polygon(fit.placed(rim)) for rim in _rims(a)])
    below = union_all(list(under))
    for region, tone in ((below.intersection(above), OPEN), (below.difference(above), MASKED),
                         (above.difference(below), BARE)):
        yield from _region(region, tone)
    for rim in under:
        yield _shape([np.array(rim.exterior.coords)], "none", PORT, thin)
    for rim in (*(edge.points(_CHORD) for edge in a.edges()), *_rims(a)):
        yield _shape([fit.placed(rim)], "none", ABOVE, 1.5 * thin)
    for hole in a.holes():
        x, y = fit.placed(np.array([hole.at]))[0]
        yield _disc((x, y), 0.5 * hole.diameter, f'fill="#ffffff" stroke="{ABOVE}" stroke-width="{thin:.3f}"')
    by_bolt = {pair.bolt: pair for pair in fit.pairs}
    for number, hole in enumerate(b.holes(), start=1):
        at = hole.at
        pair = by_bolt.get(number)
        radius = 0.5 * pair.diameter - pair.allowance if pair else 0.5 * hole.diameter
        tone = MISS if pair is None or pair.excess > 1e-3 else BOLT
        yield _disc(at, max(radius, 0.5), f'fill="{tone}" fill-opacity="0.75"')
        word = _text(0.0, 0.35 * letter, letter, str(number), "#ffffff" if radius > 0.6 * letter else INK, "middle")
        yield f'<g transform="translate({at[0]:.3f} {at[1]:.3f}) scale(0.7 -0.7)">{word}</g>'
        if pair and pair.excess > 1e-3:
            start = fit.placed(np.array([a.holes()[pair.hole - 1].at]))[0]
            yield (
                f'<line x1="{start[0]:.3f}" y1="{start[1]:.3f}" x2="{at[0]:.3f}" y2="{at[1]:.3f}" '
                f'stroke="{MISS}" stroke-width="{2.0 * thin:.3f}"/>'
            )


def _rims(part: FlangePart) -> list[Array]:
    return [placed(port.opening.opening().shape(), port.at, port.angle).points(_CHORD) for port in part.port]


def _region(region: Any, tone: str) -> Iterator[str]:
    for each in getattr(region, "geoms", [region]):
        if each.geom_type == "Polygon" and not each.is_empty:
            yield _shape([np.array(ring.coords) for ring in (each.exterior, *each.interiors)], tone)


def _shape(rings: Iterable[Array], fill: str, stroke: str = "none", width: float = 0.0) -> str:
    path = " ".join("M" + " L".join(f"{x:.3f} {y:.3f}" for x, y in ring) + " Z" for ring in rings)
    return f'<path d="{path}" fill="{fill}" fill-rule="evenodd" stroke="{stroke}" stroke-width="{width:.3f}"/>'


def _text(x: float, y: float, size: float, words: str, tone: str, anchor: str = "start") -> str:
    how = f'font-size="{size:.3f}" fill="{tone}" text-anchor="{anchor}"'
    return f'<text x="{x:.3f}" y="{y:.3f}" {how}>{escape(words)}</text>'


def _disc(at: tuple[float, float], radius: float, how: str) -> str:
    return f'<circle cx="{at[0]:.3f}" cy="{at[1]:.3f}" r="{radius:.3f}" {how}/>'
