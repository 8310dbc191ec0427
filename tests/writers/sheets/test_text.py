"""Wrapped lines and rows that flow."""

from __future__ import annotations

import pytest

from rootgap.writers.sheets.pen import BOLD, PLAIN
from rootgap.writers.sheets.text import SHORT, columns, space, total, wrapped

SENTENCE = "Cut to the line and leave it; the hatched side is waste. Then grind the outside back until it touches."


def greedy(string: str, width: float) -> list[str]:
    lines = [""]
    for word in string.split():
        longer = f"{lines[-1]} {word}".strip()
        if PLAIN.width(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def test_widths_are_the_fonts() -> None:
    # Adobe Helvetica metrics (AFM): W 944, a 556, s 500, t 278, e 556 thousandths of the size.
    assert PLAIN.width("Waste") == pytest.approx((944 + 556 + 500 + 278 + 556) / 1000 * 8.5 * 25.4 / 72)
    # Helvetica-Bold: W 944, A 722, S 667, T 611, E 667.
    assert BOLD.width("WASTE") == pytest.approx((944 + 722 + 667 + 611 + 667) / 1000 * 8.5 * 25.4 / 72)


@pytest.mark.parametrize("width", [30.0, 41.0, 55.0, 80.0, 110.0, 125.0, 140.0, 400.0])
def test_lines_hold_all_words_fit_and_are_as_few_as_can_be(width: float) -> None:
    lines = wrapped(SENTENCE, width)
    assert " ".join(lines) == SENTENCE
    assert all(PLAIN.width(line) <= width + 1e-6 for line in lines)
    assert len(lines) == len(greedy(SENTENCE, width))


def test_a_short_last_line_is_filled_up() -> None:
    width = PLAIN.width(SENTENCE) - 1.0
    assert greedy(SENTENCE, width)[-1] == "touches."
    lines = wrapped(SENTENCE, width)
    assert len(lines) == 2
    assert PLAIN.width(lines[-1]) >= SHORT * width


def test_a_word_longer_than_a_line_is_broken() -> None:
    text = "saddle " * 20 + "x" * 300
    lines = wrapped(text, 40.0)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(PLAIN.width(line) <= 40.0 + 1e-6 for line in lines)
    assert wrapped("", 40.0) == []


def test_a_string_is_one_line_in_a_room_of_just_its_width() -> None:
    for name in ("Cut from the square end", "Largest root gap"):
        assert wrapped(name, (PLAIN.width(name) + 3.0) - 3.0) == [name]


def test_columns_keep_order_and_height() -> None:
    rows = [space(float(height)) for height in (10, 20, 30, 5, 70, 5)]
    out = columns(rows, 60.0)
    assert [row for column in out for row in column] == rows
    # A row higher than the room stands alone.
    assert [total(column) for column in out] == [60.0, 5.0, 70.0, 5.0]
