"""Lines of text and rows of a page that flow down it.

Terminology:

    run        a piece of text with its place in a row
    row        what is drawn across a column: its height, and a way to draw itself
    beside     two columns of rows that make one row
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from rootgap.writers.sheets.pen import BOLD, HEAD, PLAIN, QUIET, RULE, Pen, Style

SHORT = 0.3  # of the width; a shorter last line is filled up from those before it
SLACK = 1e-6  # mm; a line that is as long as its room fits in spite of round-off


def wrapped(string: str, width: float, style: Style = PLAIN) -> list[str]:
    """Return `string` in as few lines of at most `width` mm as hold it; a word that is longer is
    broken. No last line is left much shorter than the others if narrower ones before it help.

    >>> wrapped("cut to the line, leave the line", 25.0)
    ['cut to the line,', 'leave the line']
    >>> wrapped("grind it back until the bore touches", 45.0)
    ['grind it back until the', 'bore touches']
    """
    words = [part for word in string.split() for part in _broken(word, width, style)]
    lines = narrower = _filled(words, width + SLACK, style)
    for narrowing in (0.95, 0.9, 0.85, 0.8, 0.75, 0.7):
        if len(narrower) < 2 or style.width(lines[-1]) >= SHORT * width:
            break
        narrower = _filled(words, narrowing * width, style)
        if len(narrower) > len(lines):
            break
        lines = narrower
    return lines


def _broken(word: str, width: float, style: Style) -> list[str]:
    if style.width(word) <= width:
        return [word]
    parts = [""]
    for letter in word:
        if parts[-1] and style.width(parts[-1] + letter) > width:
            parts.append("")
        parts[-1] += letter
    return parts


def _filled(words: Sequence[str], width: float, style: Style) -> list[str]:
    """Return lines that are filled one after the other; a word may exceed `width` mm."""
    lines: list[list[str]] = []
    space, room = style.width(" "), 0.0
    for word in words:
        length = style.width(word)
        if lines and space + length <= room:
            lines[-1].append(word)
            room -= space + length
        else:
            lines.append([word])
            room = width - length
    return [" ".join(line) for line in lines]


@dataclass(frozen=True)
class Run:
    """A piece of a row's text. x: of its `anchor` end; drop: of its baseline below the row's top, mm."""

    x: float
    drop: float
    string: str
    style: Style = PLAIN
    anchor: str = "left"


def runs(x: float, lines: Sequence[str], style: Style = PLAIN, anchor: str = "left", top: float = 0.0) -> list[Run]:
    """Return `lines` below each other, the first with its capitals `top` mm below the row's top."""
    first = top + style.caps
    return [Run(x, first + i * style.leading, line, style, anchor) for i, line in enumerate(lines)]


def depth(lettering: Iterable[Run]) -> float:
    """Return how far below the row's top the deepest letter reaches, mm."""
    return max((run.drop + run.style.drop for run in lettering), default=0.0)


def draw_runs(pen: Pen, lettering: Iterable[Run], x: float, top: float) -> None:
    """Write the runs of a row whose upper left corner is (x, top), mm."""
    for run in lettering:
        pen.text(x + run.x, top - run.drop, run.string, run.style, run.anchor)


@dataclass(frozen=True)
class Row:
    """A row. height: mm; draw: given a pen and the row's left and top, mm."""

    height: float
    draw: Callable[[Pen, float, float], None]


def text_row(lettering: Sequence[Run], gap: float = 1.4) -> Row:
    """Return a row of runs with `gap` mm below its deepest letter."""
    return Row(depth(lettering) + gap, lambda pen, x, top: draw_runs(pen, lettering, x, top))


def paragraph(string: str, width: float, style: Style = PLAIN, gap: float = 1.4) -> Row:
    """Return a row of `string` wrapped to `width` mm."""
    return text_row(runs(0.0, wrapped(string, width, style), style), gap)


def marked(mark: str, string: str, width: float, indent: float, style: Style = PLAIN) -> Row:
    """Return a row of `string` wrapped to `width` mm and indented behind a bold mark."""
    mark_style = BOLD if style == BOLD else HEAD
    lines = wrapped(string, width - indent, style)
    return text_row([*runs(0.0, [mark], mark_style), *runs(indent, lines, style)], 1.5)


def heading(string: str, width: float) -> Row:
    """Return a row that heads a section, ruled across `width` mm."""
    words = runs(0.0, [string], HEAD)
    height = depth(words) + 3.4

    def draw(pen: Pen, x: float, top: float) -> None:
        pen.line(x, top - height + 2.0, x + width, top - height + 2.0, RULE)
        draw_runs(pen, words, x, top)

    return Row(height, draw)


def space(height: float) -> Row:
    """Return an empty row, mm."""
    return Row(height, lambda *_: None)


def beside(left: Sequence[Row], right: Sequence[Row], shift: float) -> Row:
    """Return two columns as one row, the right one `shift` mm further."""

    def draw(pen: Pen, x: float, top: float) -> None:
        draw_rows(pen, left, x, top)
        draw_rows(pen, right, x + shift, top)

    return Row(max(total(left), total(right)), draw)


def facts_rows(notes: Sequence[str], facts: Sequence[tuple[str, str]], width: float) -> list[Row]:
    """Return notes and facts as rows, the facts in two columns if `width` mm allows."""
    rows = [marked("!", note, width, 4.0, BOLD) for note in notes]
    if notes and facts:
        rows.append(space(1.2))
    columns, gutter = (2, 6.0) if width >= 120.0 else (1, 0.0)
    each = (width - (columns - 1) * gutter) / columns
    names = min(0.42 * each, max((PLAIN.width(name) for name, _ in facts), default=0.0)) + 3.0
    lines = -(-len(facts) // columns)
    for i in range(lines):
        lettering: list[Run] = []
        for column, (name, value) in enumerate(facts[i::lines]):
            x = column * (each + gutter)
            lettering += runs(x, wrapped(name, names - 3.0), QUIET)
            lettering += runs(x + names, wrapped(value, each - names))
        rows.append(text_row(lettering))
    return rows


def total(rows: Iterable[Row]) -> float:
    """Return the height of `rows` below each other, mm."""
    return sum(row.height for row in rows)


def draw_rows(pen: Pen, rows: Iterable[Row], x: float, top: float) -> None:
    """Draw `rows` below each other from (x, top), mm."""
    for row in rows:
        row.draw(pen, x, top)
        top -= row.height


def columns(rows: Sequence[Row], room: float) -> list[list[Row]]:
    """Return `rows` in columns no higher than `room` mm, at least one row in each."""
    out: list[list[Row]] = [[]]
    for row in rows:
        if out[-1] and total(out[-1]) + row.height > room:
            out.append([])
        out[-1].append(row)
    return out
