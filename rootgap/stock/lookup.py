"""Every stock table as rows of text, found by words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

from rootgap.errors import StockError, UnitError
from rootgap.stock.fasteners import fasteners, source
from rootgap.stock.fittings import elbow_label, elbows, reducers
from rootgap.stock.materials import materials
from rootgap.stock.pipes import PipeStock, custom, gauges, pipe_size, pipe_sizes, tube
from rootgap.stock.tables import load
from rootgap.units import fraction, mm_text, plain, short

Row = tuple[str, str, str, str]


class _Entry(NamedTuple):
    row: Row
    words: frozenset[str]


def search(words: str) -> list[tuple[str, ...]]:
    """Return the rows of all stock tables that match all `words`, in the order of the tables.

    A row is (table, label, figures, source). A word matches a whole word of the table's name, the
    label or the aliases; one of letters also matches the beginning of such a word. Tube, which no table
    lists by diameter, is told by its own measures.

    >>> [row[1] for row in search("1 1/2 elbow")]
    ['NPS 1-1/2 LR 90', 'NPS 1-1/2 LR 45', 'NPS 1-1/2 SR 90', 'NPS 1-1/2 3D 90', 'NPS 1-1/2 3D 45']
    """
    wanted = _words(words)
    found = [entry for entry in _entries() if all(_matches(word, entry.words) for word in wanted)]
    return [entry.row for entry in found] or _tube_by_measures(words)


def _tube_by_measures(words: str) -> list[tuple[str, ...]]:
    """Return the row of the tube that `words` name by its measures, if they do."""
    try:
        found = tube(words, "carbon steel")
    except (UnitError, StockError):
        return []
    source = load("tube")["source"] if "BWG" in found.label else "its own measures; no table has them"
    return [("tube", found.label, _figures(found), source)]


def _words(text: str) -> frozenset[str]:
    mixed = re.sub(r"([0-9])\s+([0-9]+/[0-9]+)", r"\1-\2", plain(text).casefold())
    # A number that belongs to a word stays with it: NPS 40 does not exist, but DN 40 and sch 40 do.
    joined = re.sub(r"\b(sch|dn)(?:edule|ed)?\b\.?\s*(?=[0-9])", r"\1", mixed)
    return frozenset(word.strip('"().,=') for word in joined.split()) - {""}


def _matches(word: str, have: frozenset[str]) -> bool:
    return word in have or (word.isalpha() and any(other.startswith(word) for other in have))


@cache
def _entries() -> tuple[_Entry, ...]:
    return (*_pipe(), *_tube(), *_elbows(), *_reducers(), *_caps(), *_fasteners(), *_materials())


def _entry(table: str, label: str, figures: str, source: str, *aliases: str) -> _Entry:
    words = _words(" ".join((table, label, *aliases)))
    return _Entry((table, label, figures, source), words)


def _size_words(*sizes: str) -> str:
    return " ".join(f"{float(fraction(nps)):g} DN {pipe_size(nps).dn}" for nps in sizes)


def _figures(stock: PipeStock) -> str:
    return (
        f"OD {mm_text(stock.od)}, wall {mm_text(stock.wall)}, bore {mm_text(stock.bore)}, "
        f"{short(stock.mass_per_m)} kg/m in {stock.material.name}"
    )


def _pipe() -> Iterator[_Entry]:
    table = load("pipe")
    for size in pipe_sizes():
        for column, wall in size.walls:
            words = table["words"][column]
            stock = custom(size.od, wall, "carbon steel")
            yield _entry(
                "pipe",
                f"NPS {size.nps} sch {' = '.join(words)}",
                _figures(stock),
                table["source"],
                _size_words(size.nps),
                *(f"sch {word}" for word in words),
            )


def _tube() -> Iterator[_Entry]:
    for number, wall in gauges().items():
        figures = f"wall {wall:.3f} mm ({wall / 25.4:.3f} in)"
        yield _entry("tube gauge", f"BWG {number}", figures, load("tube")["source"], "ga")


def _elbows() -> Iterator[_Entry]:
    for piece in elbows():
        figures = f"radius {mm_text(piece.radius)}, centre to end {mm_text(piece.centre_to_end)}"
        if piece.stock_angle == 45 and piece.series != "3D":
            figures += f" (a slice of the 90: {mm_text(piece.slice_centre_to_end)}; measure yours)"
        series = {"LR": "long radius", "SR": "short radius", "3D": "3D radius"}[piece.series]
        source = (load("elbows")["three_d"] if piece.series == "3D" else load("elbows"))["source"]
        yield _entry("elbow", elbow_label(piece), figures, source, _size_words(piece.nps), series)


def _reducers() -> Iterator[_Entry]:
    for piece in reducers():
        label = f"NPS {piece.large} x {piece.small}"
        sizes = _size_words(piece.large, piece.small)
        figures = f"length {mm_text(piece.length)}"
        yield _entry("reducer", label, figures, load("reducers")["source"], sizes, "concentric")


def _caps() -> Iterator[_Entry]:
    for row in load("caps")["sizes"]:
        figures = f"length {mm_text(row['length'])}; {mm_text(row['thick'])} above the XS wall"
        yield _entry("cap", f"NPS {row['nps']}", figures, load("caps")["source"], _size_words(row["nps"]))


def _fasteners() -> Iterator[_Entry]:
    for size in fasteners():
        holes = ", ".join(f"{short(diameter)} {fit}" for fit, diameter in size.holes)
        yield _entry("bolt hole", size.name, f"{holes} (mm)", source(size.system, "hole"), "clearance")
        for thread in size.threads:
            figures = f"drill {mm_text(thread.tap_drill)}, pitch {mm_text(thread.pitch)}"
            told = source(size.system, "thread")
            yield _entry("tap drill", thread.label, figures, told, size.name, thread.series)
        for word, part in (("hex head", size.head), ("nut", size.nut)):
            across = f"{mm_text(part.flats)} across flats, {mm_text(part.corners)} across corners"
            figures = f"{across}, {mm_text(part.height)} high"
            yield _entry(word, size.name, figures, source(size.system, word.removeprefix("hex ")), "bolt")
        ring = size.washer
        figures = f"{mm_text(ring.inside)} inside, {mm_text(ring.outside)} outside, {mm_text(ring.thickness)} thick"
        yield _entry("washer", size.name, figures, source(size.system, "washer"), "plain")
        tool = size.tools
        spanners = f"ring spanner {mm_text(tool.ring)}, open spanner {mm_text(tool.open)}"
        figures = f"socket {mm_text(tool.socket)}, {spanners} over all"
        yield _entry("tool room", size.name, figures, load("sockets")["source"], "wrench spanner socket")


def _materials() -> Iterator[_Entry]:
    for metal in materials():
        label = f"{metal.name} ({', '.join(metal.aliases)})"
        figures = f"{short(metal.density)} kg/m3"
        yield _entry("material", label, figures, metal.source)
