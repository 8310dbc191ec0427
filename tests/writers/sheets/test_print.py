"""True-size templates: the print is rendered and measured as a shop would measure it."""

from __future__ import annotations

import ctypes
import pickle
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from pathlib import Path as FilePath

import numpy as np
import pypdfium2 as pdfium
import pypdfium2.raw as pdfium_c
import pytest
from numpy.typing import NDArray
from reportlab import rl_config

from rootgap.errors import WriteError
from rootgap.geometry.paths import Circle, Path
from rootgap.patterns.pattern import Drawn, Label, Pattern
from rootgap.patterns.printing import PrintSetup
from rootgap.writers.sheets import layout_on_paper, templates, write_templates
from rootgap.writers.sheets import paper as pages
from rootgap.writers.sheets.bars import ADVICE
from rootgap.writers.sheets.index import CAUTIONS, HOW_TO

HEADING = "Sand rail 2.2 l four, log manifold, single-scroll"
DPI = 400
A4 = PrintSetup()
LETTER = PrintSetup("letter")
FACTS = tuple((f"Fact {i}", "sixty characters that say what is to be known about this cut."[:60]) for i in range(12))


# Samples


def line(layer: str, *points: tuple[float, float], closed: bool = False) -> Drawn:
    return Drawn(layer, Path.through(points, closed=closed))


def wrap(facts: tuple[tuple[str, str], ...] = FACTS[:8]) -> Pattern:
    u = np.linspace(0.0, 152.0, 361)
    cut = np.column_stack([u, 30.0 + 14.0 * np.cos(4.0 * np.pi * u / 152.0)])
    drawn = [
        Drawn("cut", Path.through(cut)),
        line("edge", (0, 0), (0, 60), (152, 60), (152, 0), closed=True),
        line("tab", (152, 0), (162, 2), (162, 58), (152, 60), closed=True),
        *(line("mark", (x, 0), (x, 60)) for x in (38.0, 76.0, 114.0)),
    ]
    labels = [Label("text", (38.0 * i + 1.0, 1.5), f"{90 * i}") for i in range(4)]
    labels += [
        Label("text", (76.0, -4.5), "datum edge: square to the pipe", 2.5, 0.0, "middle"),
    ]
    waste = Path.through(np.vstack([cut, [(152.0, 60.0), (0.0, 60.0)]]), closed=True)
    notes = ("Turn the number 0 to the engine side.", "Cut to the line and leave the line.")
    title = "Primary 1, its end on the log"
    return Pattern("primary.1", "wrap", title, tuple(drawn), tuple(labels), (waste,), facts, notes)


def log_holes() -> Pattern:
    t = np.linspace(0.0, 2.0 * np.pi, 181)[:-1]
    drawn = [
        line("edge", (0, 0), (520, 0), (520, 229), (0, 229), closed=True),
        line("tab", (0, 229), (520, 229), (516, 239), (4, 239), closed=True),
        *(line("mark", (0, 57.25 * k), (520, 57.25 * k)) for k in (1, 2, 3)),
    ]
    waste, labels = [], []
    for i, x in enumerate((65.0, 195.0, 325.0, 455.0)):
        hole = np.column_stack([x + 21.0 * np.cos(t), 114.5 + 24.0 * np.sin(t)])
        bore = np.column_stack([x + 20.0 * np.cos(t), 114.5 + 21.0 * np.sin(t)])
        drawn += [
            Drawn("cut", Path.through(hole, closed=True)),
            Drawn("inside", Path.through(bore, closed=True)),
        ]
        waste.append(Path.through(bore, closed=True))
        labels.append(Label("text", (x + 2.0, 142.0), f"primary.{i + 1} top"))
    return Pattern("log", "holes", "Log, four holes", tuple(drawn), tuple(labels), tuple(waste), FACTS[:10], ())


def plate() -> Pattern:
    b = np.tan(np.pi / 8.0)  # a quarter circle's bulge
    rounded = (
        (5, 0, 0),
        (325, 0, b),
        (330, 5, 0),
        (330, 75, b),
        (325, 80, 0),
        (5, 80, b),
        (0, 75, 0),
        (0, 5, b),
    )
    holes = [Drawn("cut", Circle((x, 40.0), 18.0)) for x in (45.0, 125.0, 205.0, 285.0)]
    drills = [Drawn("drill", Circle((x, y), 4.5)) for x in (12.0, 85.0, 165.0, 245.0, 318.0) for y in (12.0, 68.0)]
    waste = tuple(
        Path(((x + 18.0, 40.0, 1.0), (x - 18.0, 40.0, 1.0)), closed=True) for x in (45.0, 125.0, 205.0, 285.0)
    )
    outline = Drawn("cut", Path(rounded, closed=True))
    labels = (Label("text", (165.0, 38.0), "engine side", 4.0, 0.0, "middle"),)
    notes = ("Tack it to the fixture before welding.",)
    return Pattern("flange.head", "plate", "Head flange", (outline, *holes, *drills), labels, waste, FACTS[:3], notes)


def rectangle(wide: float, high: float, facts: tuple[tuple[str, str], ...] = (), layer: str = "cut") -> Pattern:
    drawn = (line(layer, (0, 0), (wide, 0), (wide, high), (0, high), closed=True),)
    return Pattern("plate.1", "plate", "A square plate", drawn, (), (), facts)


def wordy() -> Pattern:
    long = "a sentence that goes on and on about how the part is held " * 4
    facts = tuple((f"A long name for fact number {i}", long[: 40 + 30 * i]) for i in range(8))
    name = "crossover.left.to.right.lower.branch.that.has.an.endless.name"
    return Pattern(name, "wrap", long[:170], wrap().drawn, wrap().labels, wrap().waste, facts, (long, long))


SET = (
    wrap(),
    rectangle(240.0, 60.0, FACTS),
    rectangle(60.0, 215.0, FACTS),
    log_holes(),
    plate(),
    rectangle(175.0, 130.0, FACTS),
    wordy(),
)


# Reading a print


@cache
def book(options: PrintSetup) -> pdfium.PdfDocument:
    return pdfium.PdfDocument(templates(SET, options, HEADING))


@dataclass(frozen=True)
class Print:
    """A page as dots. dark: 0 to 1, row 0 at the page's foot; dot: a dot's (width, height), mm.

    A renderer fills whole dots, so it stretches a page by up to one dot in its width; the dot's
    size takes that out."""

    dark: NDArray[np.float64]
    dot: tuple[float, float]

    def columns(self, *x: float) -> list[int]:
        """Return the columns nearest to `x`, mm."""
        return [round(v / self.dot[0]) for v in x]

    def rows(self, *y: float) -> list[int]:
        """Return the rows nearest to `y`, mm."""
        return [round(v / self.dot[1]) for v in y]


def printed(page: pdfium.PdfPage) -> Print:
    picture = page.render(scale=DPI / 72.0, grayscale=True).to_numpy()
    dark = 1.0 - picture.reshape(picture.shape[:2])[::-1].astype(np.float64) / 255.0
    wide, high = (25.4 / 72.0 * v for v in page.get_size())
    return Print(dark, (wide / dark.shape[1], high / dark.shape[0]))


def centres(profile: NDArray[np.float64], chosen: NDArray[np.bool_]) -> list[float]:
    """Return the centroids, pixels, of the groups of neighbouring `chosen` places."""
    at = np.flatnonzero(chosen)
    groups = np.split(at, np.flatnonzero(np.diff(at) > 1) + 1) if len(at) else []
    # A line's edge leaves a half-dark dot on either side of the dots that were chosen.
    wider = [np.arange(group[0] - 1, group[-1] + 2) for group in groups]
    return [float(np.average(group + 0.5, weights=profile[group])) for group in wider]


def tick_distance(strip: NDArray[np.float64], along: float, across: float) -> float:
    """Return the distance, mm, between the two end ticks of the one bar that runs along axis 1
    of `strip`, dots of `along` x `across` mm. A tick is the only thing there that is dark for
    2.7 to 3.7 mm on end."""
    dark = strip > 0.5
    run = np.zeros(strip.shape[1], dtype=int)
    longest = run.copy()
    for row in dark:
        run = (run + 1) * row
        longest = np.maximum(longest, run)
    found = centres(strip.mean(axis=0), (longest * across > 2.7) & (longest * across < 3.7))
    assert len(found) == 2, [x * along for x in found]
    return (found[1] - found[0]) * along


def bars(page: pdfium.PdfPage) -> dict[str, float]:
    """Return the four bars' lengths as printed, mm: level and upright, 100 mm and 4 in."""
    sheet = printed(page)
    wide, high = sheet.dot
    a, b, c = sheet.rows(10.0, 15.2, 20.6)
    d, e, f = sheet.columns(12.0, 18.0, 23.8)
    # Above the foot strip's rule and below the header.
    low, top = sheet.rows(23.4, 150.0)
    return {
        "level in": tick_distance(sheet.dark[a:b], wide, high),
        "level mm": tick_distance(sheet.dark[b:c], wide, high),
        "upright mm": tick_distance(sheet.dark[low:top, d:e].T, high, wide),
        "upright in": tick_distance(sheet.dark[low:top, e:f].T, high, wide),
    }


def texts(page: pdfium.PdfPage) -> list[tuple[tuple[float, float, float, float], str]]:
    """Return every run of text with its box, mm."""
    words = page.get_textpage()
    out = []
    for i in range(words.count_rects()):
        box = words.get_rect(i)
        out.append((tuple(25.4 / 72.0 * v for v in box), words.get_text_bounded(*box).strip()))
    return [(box, text) for box, text in out if text]


def said(page: pdfium.PdfPage) -> str:
    return " ".join(page.get_textpage().get_text_range().split())


def every_page() -> Iterator[tuple[PrintSetup, int]]:
    for options in (A4, LETTER):
        yield from ((options, i) for i in range(len(book(options))))


EVERY_PAGE = [pytest.param(options, i, id=f"{options.paper}-{i + 1}") for options, i in every_page()]


def drawing_pages(pattern: Pattern, options: PrintSetup) -> tuple[pages.TilePlan, list[pdfium.PdfPage]]:
    """Return the plan of the only pattern of a print and its drawing's pages."""
    plan = layout_on_paper(pattern, options, HEADING)
    document = pdfium.PdfDocument(templates([pattern], options, HEADING))
    return plan, [document[i] for i in range(len(document) - len(plan.tiles), len(document))]


# The samples show every kind of page


def test_the_set_has_every_kind_of_page() -> None:
    for options in (A4, LETTER):
        plans = [layout_on_paper(pattern, options, HEADING) for pattern in SET]
        assert {plan.sheet.landscape for plan in plans if len(plan.tiles) == 1} == {False, True}
        assert any(len(plan.tiles) > 1 for plan in plans)
        assert len(book(options)) > 1 + sum(len(plan.tiles) for plan in plans)
    assert (
        layout_on_paper(log_holes(), A4, HEADING).span,
        layout_on_paper(log_holes(), LETTER, HEADING).span,
    ) == (
        "A1..A4",
        "A1..B3",
    )


# Sizes


@pytest.mark.parametrize(("options", "number"), EVERY_PAGE)
def test_page_size_is_the_papers(options: PrintSetup, number: int) -> None:
    # Points: 210 x 297 mm and 8.5 x 11 in at 72 to the inch (ISO 32000-1, 8.3.2.3).
    points = {"a4": (595.2756, 841.8898), "letter": (612.0, 792.0)}[options.paper]
    size = book(options)[number].get_size()
    assert sorted(size) == pytest.approx(points, abs=1e-3)


@pytest.mark.parametrize(("options", "number"), EVERY_PAGE)
def test_bars_on_every_page_are_true_both_ways(options: PrintSetup, number: int) -> None:
    measured = bars(book(options)[number])
    for way in ("level", "upright"):
        assert measured[f"{way} mm"] == pytest.approx(100.0, rel=5e-4)
        assert measured[f"{way} in"] == pytest.approx(101.6, rel=5e-4)


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("x", "y"), [(97.0, 100.0), (99.2, 101.5), (90.0, 110.0), (110.0, 90.0)])
def test_a_printers_error_is_taken_out(paper: pages.Paper, x: float, y: float) -> None:
    options = PrintSetup(paper, bar_x=x, bar_y=y)
    document = pdfium.PdfDocument(templates([wrap(), rectangle(220.0, 60.0)], options, HEADING))
    for page in document:
        wide, high = page.get_size()
        # Bar X lies across the paper's short side: level on an upright page, upright on a turned one.
        level, upright = (x, y) if wide < high else (y, x)
        measured = bars(page)
        assert measured["level mm"] == pytest.approx(100.0 * 100.0 / level, rel=1e-3)
        assert measured["upright mm"] == pytest.approx(100.0 * 100.0 / upright, rel=1e-3)
        assert measured["level in"] == pytest.approx(101.6 * 100.0 / level, rel=1e-3)
        assert measured["upright in"] == pytest.approx(101.6 * 100.0 / upright, rel=1e-3)
        assert f"X {x:g} and Y {y:g} mm" in said(page)
        for name in ("bar X 100 mm", "bar Y 100 mm", "bar X 4 in", "bar Y 4 in"):
            assert name in said(page)


@pytest.mark.parametrize("options", [A4, LETTER, PrintSetup("a4", bar_x=97.0, bar_y=102.0)])
@pytest.mark.parametrize("size", [(150.0, 90.0), (230.0, 90.0)])
def test_a_rectangle_measures_what_it_says(options: PrintSetup, size: tuple[float, float]) -> None:
    plan, (page,) = drawing_pages(rectangle(*size), options)
    sheet = printed(page)
    (x, y), stretch = plan.tiles[0].origin, plan.sheet.turned(options.stretch)
    x0, x1 = sheet.columns(x - 2.0, x + stretch[0] * size[0] + 2.0)
    y0, y1 = sheet.rows(y - 2.0, y + stretch[1] * size[1] + 2.0)
    part = sheet.dark[y0:y1, x0:x1]
    for axis in (0, 1):
        # A side is a line of dots nearly as long as the rectangle.
        profile = part.mean(axis=axis)
        low, high = centres(profile, profile > 0.5)
        assert (high - low) * sheet.dot[axis] == pytest.approx(size[axis] * stretch[axis], abs=0.02)


def test_cut_lines_are_the_stated_width() -> None:
    plan, (page,) = drawing_pages(rectangle(150.0, 90.0), A4)
    sheet = printed(page)
    x, y = plan.tiles[0].origin
    across = sheet.dark[sheet.rows(y + 45.0)[0], slice(*sheet.columns(x - 2.0, x + 2.0))]
    assert across.sum() * sheet.dot[0] == pytest.approx(0.35, abs=0.02)


def drawn_points(page: pdfium.PdfPage) -> list[NDArray[np.float64]]:
    """Return the points, (n, 2), mm, of every path that is stroked in black 0.35 mm wide."""
    out = []
    for item in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH]):
        width = ctypes.c_float()
        pdfium_c.FPDFPageObj_GetStrokeWidth(item, width)
        if abs(width.value * 25.4 / 72.0 - 0.35) > 1e-3:
            continue
        points = []
        for i in range(pdfium_c.FPDFPath_CountSegments(item)):
            x, y = ctypes.c_float(), ctypes.c_float()
            pdfium_c.FPDFPathSegment_GetPoint(pdfium_c.FPDFPath_GetPathSegment(item, i), x, y)
            points.append((x.value, y.value))
        out.append(np.array(points) * 25.4 / 72.0)
    return out


@pytest.mark.parametrize("options", [A4, LETTER, PrintSetup("a4", bar_x=97.0, bar_y=102.0)])
def test_a_cut_lines_points_are_true_to_a_thousandth(options: PrintSetup) -> None:
    plan, (page,) = drawing_pages(wrap(), options)
    (found,) = drawn_points(page)
    tile = plan.tiles[0]
    back = (found - np.array(tile.origin)) / np.array(plan.stretch) + np.array(tile.window[:2])
    wanted = wrap().drawn[0].shape.points(0.005)
    assert back.shape == wanted.shape
    assert np.abs(back - wanted).max() < 1e-3


@pytest.mark.parametrize(("options", "number"), EVERY_PAGE)
def test_nothing_is_printed_beyond_the_margins(options: PrintSetup, number: int) -> None:
    sheet = printed(book(options)[number])
    edge = pages.MARGIN - 0.35
    (x,), (y,) = sheet.columns(edge), sheet.rows(edge)
    inner = sheet.dark[y:-y, x:-x].sum()
    assert sheet.dark.sum() == pytest.approx(inner)


# Tiles


def ink(plan: pages.TilePlan, sheets: Sequence[pdfium.PdfPage], bounds: pages.Box, step: float) -> NDArray[np.float64]:
    """Return darkness over `bounds`, mm, at `step` mm, the tiles laid on each other by their windows."""
    columns, rows = (round((bounds[i + 2] - bounds[i]) / step) for i in (0, 1))
    x = bounds[0] + (np.arange(columns) + 0.5) * step
    y = bounds[1] + (np.arange(rows) + 0.5) * step
    total = np.zeros((rows, columns))
    for tile, page in zip(plan.tiles, sheets, strict=True):
        sheet = printed(page)
        x0, y0, x1, y1 = tile.window
        i, j = np.flatnonzero((x >= x0) & (x <= x1)), np.flatnonzero((y >= y0) & (y <= y1))
        px = np.floor((tile.origin[0] + plan.stretch[0] * (x[i] - x0)) / sheet.dot[0]).astype(int)
        py = np.floor((tile.origin[1] + plan.stretch[1] * (y[j] - y0)) / sheet.dot[1]).astype(int)
        part = sheet.dark[np.ix_(py, px)]
        total[np.ix_(j, i)] = np.maximum(total[np.ix_(j, i)], part)
    return total


def near(mask: NDArray[np.bool_], dots: int) -> NDArray[np.bool_]:
    """Return `mask` grown by `dots` each way."""
    out = mask.copy()
    for axis in (0, 1):
        grown = out.copy()
        for shift in range(-dots, dots + 1):
            grown |= np.roll(out, shift, axis)
        out = grown
    return out


def bare(pattern: Pattern) -> Pattern:
    """Return a pattern of lines only: lettering may move from tile to tile, lines may not."""
    return Pattern(pattern.name, pattern.kind, pattern.title, pattern.drawn, (), pattern.waste, pattern.facts)


@pytest.mark.parametrize("options", [A4, LETTER, PrintSetup("a4", bar_x=96.0, bar_y=104.0)])
@pytest.mark.parametrize("pattern", [bare(log_holes()), bare(plate())], ids=["log", "plate"])
def test_tiles_laid_together_show_the_whole_drawing(
    pattern: Pattern, options: PrintSetup, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, sheets = drawing_pages(pattern, options)
    assert len(plan.tiles) > 1
    step = 0.1
    bounds = pattern.bounds()
    tiled = ink(plan, sheets, bounds, step)
    monkeypatch.setitem(pages.PAPERS, options.paper, (620.0, 640.0))
    whole_plan, whole_sheets = drawing_pages(pattern, options)
    assert len(whole_plan.tiles) == 1
    whole = ink(whole_plan, whole_sheets, bounds, step)

    # WASTE and TAB are written once on the whole and once a tile on the tiles: leave their places out.
    lines = np.ones_like(whole, dtype=bool)
    for region in (*pattern.waste, *(item.shape for item in pattern.drawn if item.layer == "tab")):
        x0, y0, x1, y1 = ((np.array(region.bounds()) - np.array(bounds[:2] * 2)) / step).astype(int)
        lines[y0 + 10 : y1 - 10, x0 + 10 : x1 - 10] = False
    assert not ((whole > 0.5) & lines & ~near(tiled > 0.3, 2)).any()
    # What the tiles show besides is only the marks of their joins.
    rows, columns = whole.shape
    x = bounds[0] + (np.arange(columns) + 0.5) * step
    y = bounds[1] + (np.arange(rows) + 0.5) * step
    at_x = [v for tile in plan.tiles for v in (tile.window[0], tile.window[2])]
    at_y = [v for tile in plan.tiles for v in (tile.window[1], tile.window[3])]
    joins = (np.abs(y[:, None] - np.array(at_y)) < 3.2).any(axis=1)[:, None] | (
        np.abs(x[:, None] - np.array(at_x)) < 3.2
    ).any(axis=1)[None, :]
    assert not ((tiled > 0.5) & lines & ~joins & ~near(whole > 0.3, 2)).any()


def test_every_point_of_a_hole_is_on_some_tile() -> None:
    # Against the ellipse's own equation, not against another print of ours.
    plan, sheets = drawing_pages(bare(log_holes()), LETTER)
    step = 0.1
    shown = near(ink(plan, sheets, (0.0, 0.0, 520.0, 229.0), step) > 0.5, 1)
    t = np.linspace(0.0, 2.0 * np.pi, 500)
    for x in (65.0, 195.0, 325.0, 455.0):
        i = ((x + 21.0 * np.cos(t)) / step).astype(int)
        j = ((114.5 + 24.0 * np.sin(t)) / step).astype(int)
        assert shown[j, i].all()


@pytest.mark.parametrize("options", [A4, LETTER, PrintSetup("letter", bar_x=103.0, bar_y=98.0)])
def test_registration_crosses_are_printed_where_neighbours_print_them(options: PrintSetup) -> None:
    plan, sheets = drawing_pages(log_holes(), options)
    for tile, page in zip(plan.tiles, sheets, strict=True):
        sheet = printed(page)
        dark = sheet.dark > 0.25
        (arm,) = sheet.rows(2.8)
        assert plan.crosses(tile)
        for point in plan.crosses(tile):
            x, y = (int(v / dot) for v, dot in zip(plan.to_page(tile, point), sheet.dot, strict=True))
            assert dark[y - 1 : y + 2, x - arm : x + arm].any(axis=0).all()
            assert dark[y - arm : y + arm, x - 1 : x + 2].any(axis=1).all()


def test_tiles_say_who_they_are_and_whom_they_join() -> None:
    plan, sheets = drawing_pages(log_holes(), LETTER)
    for tile, page in zip(plan.tiles, sheets, strict=True):
        words = said(page)
        assert f"tile {tile.name} of A1..B3" in words
        joins = {f"{tile.name}: join to {other.name}" for other in plan.neighbours(tile).values()}
        assert all(join in words for join in joins)
        assert words.count("join to") == len(joins)


def test_labels_and_waste_are_whole_on_a_tile() -> None:
    for pattern in (log_holes(), plate()):
        for options in (A4, LETTER):
            plan, sheets = drawing_pages(pattern, options)
            words = [said(page) for page in sheets]
            assert all(any(label.text in text for text in words) for label in pattern.labels)
            found = [item for page in sheets for item in texts(page)]
            assert sum(text == "WASTE" for _, text in found) >= 4
            for tile, page in zip(plan.tiles, sheets, strict=True):
                right, high = plan.to_page(tile, tile.window[2:])
                for (x0, y0, x1, y1), text in texts(page):
                    if text == "WASTE" or text in {label.text for label in pattern.labels}:
                        assert tile.origin[0] <= x0 < x1 <= right
                        assert tile.origin[1] <= y0 < y1 <= high


def test_tabs_and_waste_are_named() -> None:
    for pattern, options in ((wrap(), A4), (log_holes(), LETTER)):
        _, sheets = drawing_pages(pattern, options)
        found = [text for page in sheets for _, text in texts(page)]
        assert "WASTE" in found
        assert "TAB" in found


# Lettering


@pytest.mark.parametrize(("options", "number"), EVERY_PAGE)
def test_text_is_inside_the_margins_and_apart(options: PrintSetup, number: int) -> None:
    page = book(options)[number]
    wide, high = (25.4 / 72.0 * v for v in page.get_size())
    found = texts(page)
    hair = 0.25  # mm
    for (x0, y0, x1, y1), text in found:
        assert x0 > pages.MARGIN - hair, text
        assert y0 > pages.MARGIN - hair, text
        assert x1 < wide - pages.MARGIN + hair, text
        assert y1 < high - pages.MARGIN + hair, text
    for (a, first), (b, second) in combinations(found, 2):
        x0, y0, x1, y1 = pages.overlap(a, b)
        assert min(x1 - x0, y1 - y0) < hair, (first, second)


@pytest.mark.parametrize("options", [A4, LETTER])
def test_no_text_but_its_own_lies_on_a_drawing(options: PrintSetup) -> None:
    for pattern in SET:
        plan, sheets = drawing_pages(pattern, options)
        own = {label.text for label in pattern.labels} | {"WASTE", "TAB"}
        for tile, page in zip(plan.tiles, sheets, strict=True):
            window = (*tile.origin, *plan.to_page(tile, tile.window[2:]))
            for box, text in texts(page):
                x0, y0, x1, y1 = pages.overlap(window, box)
                assert text in own or x1 - x0 <= 0.0 or y1 - y0 <= 0.0, text


def test_waste_is_clear_of_every_line() -> None:
    pattern = wrap()
    plan, (page,) = drawing_pages(pattern, A4)
    (word,) = (box for box, text in texts(page) if text == "WASTE")
    corners = (np.array(word).reshape(2, 2) - np.array(plan.tiles[0].origin)) + np.array(plan.tiles[0].window[:2])
    (x0, y0), (x1, y1) = corners
    u = np.linspace(x0, x1, 50)
    assert (30.0 + 14.0 * np.cos(4.0 * np.pi * u / 152.0) < y0).all()
    assert y1 < 60.0
    assert not any(x0 <= mark <= x1 for mark in (0.0, 38.0, 76.0, 114.0, 152.0))


def test_all_facts_and_notes_are_printed_whole() -> None:
    for options in (A4, LETTER):
        words = " ".join(said(book(options)[i]) for i in range(len(book(options))))
        packed = "".join(words.split())
        for pattern in SET:
            wanted = [*pattern.notes, *(part for fact in pattern.facts for part in fact), pattern.name]
            for part in wanted:
                # A value runs over lines beside its neighbour column: all its words must be there.
                assert all(word in packed for word in part.split()), part


def test_facts_share_the_page_when_they_fit_and_precede_it_when_not() -> None:
    def count(pattern: Pattern) -> int:
        return len(pdfium.PdfDocument(templates([pattern], A4, HEADING))) - 1

    assert count(wrap(FACTS)) == 1
    assert count(rectangle(150.0, 225.0)) == 1
    # Beside the drawing, on an upright and on a turned page.
    assert count(rectangle(60.0, 235.0, FACTS)) == 1
    assert count(rectangle(150.0, 150.0, FACTS[:9])) == 1
    assert count(rectangle(181.0, 150.0, FACTS[:9])) == 1
    assert count(rectangle(150.0, 225.0, FACTS)) == 2
    assert count(rectangle(250.0, 140.0, FACTS)) == 2
    document = pdfium.PdfDocument(templates([rectangle(150.0, 225.0, FACTS)], A4, HEADING))
    assert "Fact 11" in said(document[1])
    assert "Fact 11" not in said(document[2])


@pytest.mark.parametrize("options", [A4, LETTER])
def test_a_wrap_lies_in_the_upper_half_with_its_facts_below(options: PrintSetup) -> None:
    plan, (page,) = drawing_pages(wrap(), options)
    foot = plan.tiles[0].origin[1]
    assert foot > 0.5 * plan.sheet.height
    # The advice at the page's foot says "actual size" too, so only names and values are looked for.
    tops = [box[3] for box, text in texts(page) if text.startswith(("Fact", "sixty"))]
    assert tops
    assert max(tops) < foot


def test_a_projects_title_stays_on_one_line_while_half_the_head_holds_it() -> None:
    for options, number in every_page():
        lines = [text for _, text in texts(book(options)[number])]
        assert HEADING in lines


def test_more_facts_than_a_page_holds_flow_on() -> None:
    many = tuple((f"Row {i}", f"value {i}") for i in range(200))
    document = pdfium.PdfDocument(templates([rectangle(100.0, 60.0, many)], A4, HEADING))
    words = " ".join(said(page) for page in document)
    assert all(f"value {i}" in words for i in range(200))


# Index


@pytest.mark.parametrize("options", [A4, LETTER])
def test_index_names_every_pattern_and_its_pages(options: PrintSetup) -> None:
    words = said(book(options)[0])
    for sentence in (*HOW_TO, *CAUTIONS, ADVICE):
        assert all(word in words for word in sentence.split())
    assert HEADING.partition(",")[0] in words
    first = 2
    for pattern in SET:
        only = pdfium.PdfDocument(templates([pattern], options, HEADING))
        last = first + len(only) - 2
        assert (f"page {first}" if first == last else f"pages {first} to {last}") in words
        for number in range(first, last + 1):
            page = said(book(options)[number - 1])
            assert f"page {number} of {len(book(options))}" in page
            # A long name is broken over lines.
            assert pattern.name in page.replace(" ", "")
        first = last + 1
    assert first == len(book(options)) + 1


def test_a_long_index_flows_on_and_counts_itself() -> None:
    patterns = [rectangle(40.0, 30.0 + i) for i in range(30)]
    document = pdfium.PdfDocument(templates(patterns, LETTER, HEADING))
    extra = len(document) - 30
    assert extra > 1
    words = " ".join(said(document[i]) for i in range(extra))
    assert f"page {extra + 1} " in words
    assert f"page {extra + 30}" in words


def test_every_page_advises_how_to_print() -> None:
    for options, number in every_page():
        assert ADVICE in said(book(options)[number])


# The file


def test_same_input_same_bytes(tmp_path: FilePath) -> None:
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    write_templates(SET, first, A4, HEADING)
    write_templates(SET, second, A4, HEADING)
    assert first.read_bytes() == second.read_bytes()
    assert first.read_bytes() != templates(SET, LETTER, HEADING)


def test_metadata_and_no_scaling_asked_of_the_viewer(tmp_path: FilePath) -> None:
    write_templates(SET[:1], tmp_path / "t.pdf", A4, HEADING)
    document = pdfium.PdfDocument(tmp_path / "t.pdf")
    data = document.get_metadata_dict()
    assert data["Title"] == HEADING
    assert data["Author"] == "rootgap"
    # ISO 32000-1, table 150.
    assert b"/PrintScaling /None" in (tmp_path / "t.pdf").read_bytes()


def test_outline_leads_to_each_pattern() -> None:
    titles = [item.get_title() for item in book(A4).get_toc()]
    assert titles == [pattern.name for pattern in SET]


def test_no_patterns_still_give_bars_to_measure() -> None:
    document = pdfium.PdfDocument(templates([], A4, HEADING))
    assert len(document) == 1
    assert bars(document[0])["level mm"] == pytest.approx(100.0, rel=1e-3)


def test_streams_are_bytes_and_the_library_is_left_as_it_was() -> None:
    before = rl_config.useA85
    assert b"ASCII85Decode" not in templates(SET[:1], A4, HEADING)
    assert rl_config.useA85 == before


# Wrong input


@pytest.mark.parametrize("name", ["bar_x", "bar_y"])
@pytest.mark.parametrize("value", [89.9, 110.1, 0.0, float("nan")])
def test_bars_out_of_range(name: str, value: float) -> None:
    told = f"{name.replace('_', '-')} .* allowed: 90 to 110, the measured length of a 100 mm bar"
    with pytest.raises(ValueError, match=told):
        PrintSetup("a4", **{name: value})


def test_unknown_paper() -> None:
    with pytest.raises(ValueError, match="paper 'a5'; allowed: a4, letter"):
        PrintSetup("a5")  # type: ignore[arg-type]


def test_nothing_drawn() -> None:
    with pytest.raises(ValueError, match=r"pattern 'empty': nothing is drawn on it"):
        templates([Pattern("empty", "plate", "Empty", ())], A4, HEADING)


def test_unknown_layer() -> None:
    with pytest.raises(ValueError, match=r"pattern 'plate\.1': layer 'score'; allowed: cut, inside"):
        templates([rectangle(10.0, 10.0, layer="score")], A4, HEADING)


def test_a_folder_that_is_not_there(tmp_path: FilePath) -> None:
    with pytest.raises(WriteError, match="cannot be written: No such file or directory") as caught:
        write_templates(SET[:1], tmp_path / "no" / "t.pdf", A4, HEADING)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
