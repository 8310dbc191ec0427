"""Long names of runs stay on the templates that bear them, and out of each other's way."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import pytest

import rootgap
from rootgap.patterns.pattern import Label, Pattern
from rootgap.patterns.wrap import SIGN

LOG, BRANCH = "the-log-of-the-starboard-bank-before-the-crossover", "the-first-primary-of-the-starboard-bank"
FILE = f"""name = "long"
units = "mm"
[stock.pipe]
pipe = "1-1/4 sch 40"
material = "304L"
[stock.small]
pipe = {{ od = 30, wall = 2 }}
material = "304L"
[stock.large]
pipe = {{ od = 83, wall = 1.5 }}
material = "304L"
[run.{LOG}]
stock = "pipe"
start = {{ at = [0, 0, 0], along = [1, 0, 0] }}
pieces = [{{ straight = 120 }}, {{ cone = "large", length = 60 }}, {{ straight = 50 }}]
ends = ["cap", "open"]
[run.{BRANCH}]
stock = "small"
start = {{ at = [60, 3, 90], along = [0.3, 0, -1] }}
pieces = [{{ straight = "fill" }}]
end = {{ cope = "{LOG}" }}
"""


@pytest.fixture(scope="module")
def patterns(tmp_path_factory: pytest.TempPathFactory) -> tuple[Pattern, ...]:
    file = tmp_path_factory.mktemp("long") / "long.toml"
    file.write_text(FILE, encoding="utf-8")
    return rootgap.load(file).patterns


def box(label: Label) -> tuple[float, float, float, float]:
    """Left, low, right and high of a level label, mm."""
    wide = SIGN * label.height * len(label.text)
    left = label.at[0] - {"left": 0.0, "middle": 0.5, "right": 1.0}[label.anchor] * wide
    return left, label.at[1], left + wide, label.at[1] + label.height


def test_lettering_stays_on_its_sheet_and_apart(patterns: tuple[Pattern, ...]) -> None:
    wraps = [pattern for pattern in patterns if pattern.kind in ("wrap", "holes")]
    assert len(wraps) == 2
    for pattern in wraps:
        x0, y0, x1, y1 = pattern.bounds()
        boxes = {label.text: box(label) for label in pattern.labels if not label.angle}
        for text, (left, low, right, high) in boxes.items():
            assert x0 - 1.0 <= left <= right <= x1 + 1.0, text
            assert y0 - 1.0 <= low <= high <= y1 + 1.0, text
        marks = {text: at for text, at in boxes.items() if text.startswith("the-f")}
        assert len(marks) == 5
        for (one, a), (other, b) in combinations(marks.items(), 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (one, other)


def test_a_mark_is_the_same_on_the_end_and_on_the_hole(patterns: tuple[Pattern, ...]) -> None:
    marks = [{label.text for label in each.labels if label.text[:-1] == "the-f..-bank"} for each in patterns]
    assert [found for found in marks if found] == [{f"the-f..-bank{letter}" for letter in "ABCD"}] * 2


def test_a_development_s_name_is_no_longer_than_from_seam_to_seam(patterns: tuple[Pattern, ...]) -> None:
    (sheet,) = (pattern for pattern in patterns if pattern.kind == "development")
    (name,) = (label for label in sheet.labels if label.text == sheet.name)
    left, _, right, _ = box(name)
    x0, _, x1, _ = sheet.bounds()
    assert x0 < left < right < x1


def test_creases_are_lettered_below_what_stands_in_the_middle() -> None:
    patterns = rootgap.load(Path(__file__).parents[2] / "assemblies" / "kart-four-collector.toml").patterns
    (lobed,) = (pattern for pattern in patterns if any(label.text == "crease" for label in pattern.labels))
    reach = 0.5 * SIGN * 2.5 * len("crease")
    top = max(label.at[1] for label in lobed.labels if label.text == "crease") + reach
    assert top < min(label.at[1] for label in lobed.labels if label.text in (lobed.name, "OUTSIDE"))
