"""A search's trade-off as a picture, SVG, for the screen.

Terminology
    panel     one figure drawn against another; every dot is a layout that clears everything
    front     the numbered layouts, of which no other is as good in every figure; the chosen one has a star
    strip     the values of one parameter in a row, each with a bar as high as its share of what is cleared
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from math import cos, isfinite, pi, sin
from typing import Any

from rootgap.search.found import Found, Search
from rootgap.search.told import value_text
from rootgap.spec.toml import cut_short

PAPER, GROUND, GRID, INK, FAINT = "#ffffff", "#f4f1ea", "#ddd6c8", "#22252a", "#7b776d"
FRONT, CHOSEN, BAR = "#1f5c99", "#c8452f", "#b9c9d8"
#: Tones of the dots from few welds to many.
WELDS = ("#2c7a4b", "#7d9a2d", "#c99a2e", "#b3672f", "#7a4a58")
_WIDE, _PANEL_HIGH, _STRIP, _HEAD = 1200.0, 420.0, 62.0, 78.0
_LEFT, _GAP, _RIGHT = 74.0, 96.0, 30.0
_TICKS = 6
_AXES = {
    "margin": "margin over every clearance, mm",
    "pipe": "pipe to buy, mm",
    "turn": "turn of the worst port's gas, degrees",
}
_COLUMN = {"margin": 0, "welds": 1, "pipe": 2, "turn": 3}


class _Panel:
    """One figure (across) against another (up)."""

    def __init__(
        self, left: float, top: float, wide: float, words: tuple[str, str], rows: Sequence[Sequence[float]]
    ) -> None:
        self.left, self.top, self.wide, self.high = left, top, wide, _PANEL_HIGH
        self.words = words
        self.spans = tuple(_span([row[_COLUMN[word]] for row in rows]) for word in self.words)

    def at(self, figures: Sequence[float]) -> tuple[float, float]:
        """Return where a layout's figures are, px."""
        (low, high), (under, over) = self.spans
        x, y = (figures[_COLUMN[word]] for word in self.words)
        return self.left + self.wide * (x - low) / (high - low), self.top + self.high * (over - y) / (over - under)

    def frame(self) -> Iterator[str]:
        """Yield the ground, the grid and the axes."""
        yield f'<rect x="{self.left}" y="{self.top}" width="{self.wide}" height="{self.high}" fill="{GROUND}"/>'
        for value in _ticks(*self.spans[0]):
            x = self.left + self.wide * (value - self.spans[0][0]) / (self.spans[0][1] - self.spans[0][0])
            yield _line(x, self.top, x, self.top + self.high)
            yield _text(x, self.top + self.high + 20.0, 14.0, f"{value:g}", FAINT, "middle")
        for value in _ticks(*self.spans[1]):
            y = self.top + self.high * (self.spans[1][1] - value) / (self.spans[1][1] - self.spans[1][0])
            yield _line(self.left, y, self.left + self.wide, y)
            yield _text(self.left - 8.0, y + 5.0, 14.0, f"{value:g}", FAINT, "end")
        middle = self.left + 0.5 * self.wide
        yield _text(middle, self.top + self.high + 44.0, 15.0, _AXES[self.words[0]], INK, "middle")
        yield _text(self.left, self.top - 10.0, 15.0, _AXES[self.words[1]], INK)


def tradeoff_svg(result: Search, chosen: int, title: str) -> str:
    """Return the trade-off of a search as a drawing; the layout number `chosen`, from 1, has a star."""
    figures = [_figures(found) for found in result.found]
    rows = [*result.cloud, *figures]
    wide = 0.5 * (_WIDE - _LEFT - _GAP - _RIGHT)
    pairs = [("margin", "pipe"), ("margin", "turn")] if any(isfinite(row[0]) for row in rows) else [("pipe", "turn")]
    panels = [
        _Panel(_LEFT + number * (wide + _GAP), _HEAD + 30.0, wide, pair, rows) for number, pair in enumerate(pairs)
    ]
    below = _HEAD + 30.0 + _PANEL_HIGH + 88.0
    high = below + _STRIP * len(result.room) + 34.0
    counts = sorted({int(row[1]) for row in rows})
    box = f'width="{_WIDE:.0f}" height="{high:.0f}" viewBox="0 0 {_WIDE:.0f} {high:.0f}"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {box} font-family="sans-serif">',
        f'<rect width="{_WIDE:.0f}" height="{high:.0f}" fill="{PAPER}"/>',
        _text(_LEFT, 34.0, 22.0, title, INK),
        *_legend(counts, result),
    ]
    for panel in panels:
        lines += panel.frame()
        lines += [_dot(panel.at(row), 3.2, _tone(int(row[1]), counts), 0.55) for row in result.cloud]
        # The chosen one is drawn last: nothing covers its star.
        for number in sorted(range(1, len(figures) + 1), key=lambda number: number == chosen):
            lines += _numbered(panel.at(figures[number - 1]), number, chosen)
    said = "how much of what is cleared has each value; the chosen one is red"
    lines.append(_text(_LEFT, below - 22.0, 15.0, said, INK))
    for row, (name, values) in enumerate(result.room.items()):
        setting = result.found[chosen - 1].settings[name] if result.found else None
        lines += _strip(below + row * _STRIP, name, values, setting)
    return "\n".join([*lines, "</svg>"]) + "\n"


def _figures(found: Found) -> tuple[float, float, float, float]:
    return found.margin, float(found.welds), found.pipe, found.turn


def _legend(counts: Sequence[int], result: Search) -> Iterator[str]:
    """Yield what the dots' tones mean, and how many were judged."""
    x = _LEFT
    for count in counts:
        yield _dot((x + 6.0, _HEAD - 23.0), 6.0, _tone(count, counts), 1.0)
        yield _text(x + 18.0, _HEAD - 18.0, 15.0, f"{count} welds", INK)
        x += 96.0
    said = f"{result.cleared} of {result.tried} combinations clear every keep-out"
    yield _text(_WIDE - _RIGHT, _HEAD - 18.0, 15.0, said, FAINT, "end")


def _tone(count: int, counts: Sequence[int]) -> str:
    return WELDS[min(counts.index(count), len(WELDS) - 1)]


def _strip(top: float, name: str, values: Sequence[tuple[Any, int]], setting: Any) -> Iterator[str]:
    """Yield one parameter's strip."""
    left, wide = _LEFT + 150.0, _WIDE - _LEFT - 150.0 - _RIGHT
    most = max((count for _, count in values), default=0) or 1
    step = wide / len(values)
    base = top + _STRIP - 24.0
    yield _text(_LEFT, base - 4.0, 15.0, cut_short(name), INK)
    yield f'<line x1="{left:.2f}" y1="{base:.2f}" x2="{left + wide:.2f}" y2="{base:.2f}" stroke="{GRID}"/>'
    every = -(-len(values) // max(int(wide // 70.0), 1))
    for index, (value, count) in enumerate(values):
        tall = (_STRIP - 30.0) * count / most
        tone = CHOSEN if value == setting else BAR
        yield (
            f'<rect x="{left + index * step + 0.12 * step:.2f}" y="{base - tall:.2f}" '
            f'width="{0.76 * step:.2f}" height="{max(tall, 0.6):.2f}" fill="{tone}"/>'
        )
        if index % every == 0 or value == setting:
            tone = CHOSEN if value == setting else FAINT
            yield _text(left + (index + 0.5) * step, base + 17.0, 13.0, value_text(value), tone, "middle")


def _numbered(at: tuple[float, float], number: int, chosen: int) -> Iterator[str]:
    """Yield a layout of the front: a numbered disc, a star for the chosen one."""
    x, y = at
    if number == chosen:
        spikes = [(9.5 if k % 2 else 21.0, pi * k / 5.0) for k in range(10)]
        path = " ".join(f"{x + r * sin(turn):.2f},{y - r * cos(turn):.2f}" for r, turn in spikes)
        yield f'<polygon points="{path}" fill="{CHOSEN}" stroke="{PAPER}" stroke-width="1.5"/>'
    else:
        yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="11" fill="{FRONT}" stroke="{PAPER}" stroke-width="1.5"/>'
    yield _text(x, y + 4.8, 13.0, str(number), PAPER, "middle")


def _span(values: Sequence[float]) -> tuple[float, float]:
    """Return a range a little wider than `values`."""
    known = [value for value in values if isfinite(value)] or [0.0]
    low, high = min(known), max(known)
    room = 0.06 * (high - low) or 1.0
    return low - room, high + room


def _ticks(low: float, high: float) -> Iterator[float]:
    """Yield round values from `low` to `high`."""
    rough = (high - low) / _TICKS
    power = 10.0 ** len(str(int(rough))) / 10.0 if rough >= 1.0 else 0.1
    step = next(step for step in (power, 2.0 * power, 5.0 * power, 10.0 * power) if step >= rough)
    value = step * -(-low // step)
    while value <= high:
        yield round(value, 6) + 0.0
        value += step


def _line(x: float, y: float, x_end: float, y_end: float) -> str:
    return f'<line x1="{x:.2f}" y1="{y:.2f}" x2="{x_end:.2f}" y2="{y_end:.2f}" stroke="{GRID}" stroke-width="1"/>'


def _dot(at: tuple[float, float], radius: float, tone: str, opacity: float) -> str:
    return f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{radius}" fill="{tone}" fill-opacity="{opacity}"/>'


def _text(x: float, y: float, size: float, words: str, tone: str, anchor: str = "start") -> str:
    how = f'font-size="{size}" fill="{tone}" text-anchor="{anchor}"'
    return f'<text x="{x:.2f}" y="{y:.2f}" {how}>{escape(words)}</text>'
