"""Made pictures of known flanges: what is traced is what was drawn."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from rootgap.errors import PictureError
from rootgap.geometry.openings import placed
from rootgap.spec import FlangePart, load_part
from rootgap.trace import Picture, Traced, drawing, flange_toml, told, trace
from rootgap.trace.fitting import signed_distance

#: What a scan at 300 dpi and a photograph of 12 megapixels must hold, mm.
SCAN, PHOTO = 0.15, 0.5


@pytest.fixture(scope="module")
def made(request: pytest.FixtureRequest) -> Any:
    """The makers of pictures in the conftest beside this file."""
    return request.getfixturevalue("maker")


@pytest.fixture(scope="module")
def scan(made: Any, part: FlangePart) -> np.ndarray:
    """The pixels of a plain scan at 300 dpi."""
    return made.scanned(part)


@pytest.fixture(scope="module")
def found(scan: np.ndarray) -> Traced:
    """What is traced in the plain scan."""
    return trace(as_picture(scan, 300.0))


@pytest.fixture(scope="module")
def photograph(made: Any, short: FlangePart) -> np.ndarray:
    """The pixels of a plain photograph of 12 megapixels on one page of the sheet."""
    return made.photographed(short, made.Scene(turn=80.0))


def as_picture(pixels: np.ndarray, dpi: float | None = None) -> Picture:
    return Picture("made.png", pixels, (dpi, dpi) if dpi else None)


def held(found: Traced, part: FlangePart, within: float) -> None:
    """Every port and hole of the part is found once, of its kind and size, and nothing else is."""
    ports = sorted(part.port, key=lambda port: port.at)
    assert len(found.ports) == len(ports)
    for seen, port in zip(sorted(found.ports, key=lambda port: port.fit.at), ports, strict=True):
        assert type(seen.fit.opening) is type(port.opening.opening())
        assert np.hypot(*np.subtract(seen.fit.at, port.at)) < within
        assert seen.fit.opening.area == pytest.approx(port.opening.opening().area, rel=0.02)
        assert seen.fit.fits
        wide, high = (getattr(port.opening.opening(), name, None) for name in ("width", "height"))
        if wide:
            assert (seen.fit.opening.width, seen.fit.opening.height) == pytest.approx((wide, high), abs=2 * within)
            assert seen.fit.angle == pytest.approx(port.angle, abs=0.6)
    holes = part.holes()
    assert len(found.bolts) == len(holes)
    for at, diameter in ((hole.at, hole.diameter) for hole in holes):
        near = min(found.bolts, key=lambda bolt: np.hypot(*np.subtract(bolt.fit.at, at)))
        assert np.hypot(*np.subtract(near.fit.at, at)) < within
        assert 2 * near.fit.opening.reach == pytest.approx(diameter, abs=2 * within)
    # Both ways: the traced rim lies on the true outline, and the fitted one on the rim.
    off = np.abs(signed_distance(part.edges()[0], found.rim))
    assert np.quantile(off, 0.95) < within
    assert found.outline.fits
    assert (found.outline.edge, found.outline.boss) == pytest.approx((part.outline.edge, part.outline.boss), abs=within)
    assert found.outline.fillet == pytest.approx(part.outline.fillet, rel=0.1)


class TestScans:
    @pytest.mark.parametrize(
        "how",
        [
            {"turn": -9.0, "ground": 225.0, "part": 196.0, "noise": 6.0, "uneven": 0.25, "dirt": 200},
            {"turn": 0.0, "ground": 18.0, "part": 150.0},
            {"turn": 33.0, "uneven": 0.4, "blur": 2.0},
        ],
        ids=["low contrast, dirt, uneven light", "light on black", "skew"],
    )
    def test_within_a_seventh_of_a_millimetre(self, made: Any, part: FlangePart, how: dict[str, float]) -> None:
        pixels = made.scanned(part, made.Scene(**how))
        held(trace(as_picture(pixels, 300.0)), part, SCAN)

    def test_so_is_a_plain_one(self, found: Traced, part: FlangePart) -> None:
        held(found, part, SCAN)

    def test_a_shadow_beside_the_part_is_no_edge(self, made: Any, part: FlangePart) -> None:
        pixels = made.scanned(part, made.Scene(part=120.0)).astype(np.float32)
        dark = (pixels[:, :, 0] < 170).astype(np.float32)
        shadow = cv2.GaussianBlur(np.roll(dark, (6, 6), (0, 1)), (0, 0), 4.0) * (1 - dark)
        pixels *= (1 - np.float32(0.35) * shadow)[:, :, None]
        found = trace(as_picture(np.clip(pixels, 0, 255).astype(np.uint8), 300.0))
        held(found, part, SCAN)

    def test_upside_down_is_the_same_part_with_x_the_other_way(self, scan: np.ndarray, part: FlangePart) -> None:
        pixels = np.ascontiguousarray(scan[::-1, ::-1])
        held(trace(as_picture(pixels, 300.0), turn=True), part, SCAN)
        plain = trace(as_picture(pixels, 300.0))
        assert [port.fit.kind for port in plain.ports] == ["oval", "round", "rounded"]

    def test_of_the_other_face_is_mirrored_back(self, scan: np.ndarray, part: FlangePart) -> None:
        pixels = np.ascontiguousarray(scan[:, ::-1])
        held(trace(as_picture(pixels, 300.0), mirror=True), part, SCAN)

    def test_on_its_side_x_runs_up(self, scan: np.ndarray, part: FlangePart) -> None:
        pixels = np.ascontiguousarray(np.rot90(scan))
        held(trace(as_picture(pixels, 300.0)), part, SCAN)

    def test_print_notches_and_things_in_ports_are_told_and_left_out(self, made: Any, part: FlangePart) -> None:
        pixels = made.scanned(part, made.Scene(turn=0.0, dirt=0))
        edge = part.edges()[0].points(0.1)
        middle = 0.5 * (edge.min(axis=0) + edge.max(axis=0))

        def at(x: float, y: float) -> tuple[int, int]:
            off = (np.array([x, y]) - middle) * [1, -1] + [297 / 2, 210 / 2]
            return tuple(int(v) for v in off * 300 / 25.4)

        cv2.putText(pixels, "IN 4", at(64, 20), cv2.FONT_HERSHEY_SIMPLEX, 1.4, (230, 230, 230), 12)
        cv2.circle(pixels, at(100, 36.5), 24, (70, 70, 70), -1)  # a burr into the round port
        cv2.circle(pixels, at(34, 18), 30, (70, 70, 70), -1)  # a nut in the first
        cv2.circle(pixels, at(100, -2), 18, (230, 230, 230), -1)  # a rivet's hole of 3 mm
        found = trace(as_picture(pixels, 300.0))
        held(found, part, SCAN)
        text = "\n".join(told(found.left_out))
        assert "a notch or burr in port 2" in text
        assert "something in port 1, " in text
        assert "a hole, of a rivet or a pin, 3.1 mm, at (100, -2) mm" in text

    def test_edges_of_no_kind_are_told_and_written_as_lines(self, made: Any, part: FlangePart, tmp_path: Path) -> None:
        pixels = made.scanned(part, made.Scene(turn=0.0, dirt=0))
        edge = part.edges()[0].points(0.1)
        middle = 0.5 * (edge.min(axis=0) + edge.max(axis=0))
        x, y = ((np.array([166, 19]) - middle) * [1, -1] + [297 / 2, 210 / 2]) * 300 / 25.4
        wedge = np.array([[x - 240, y - 20], [x + 230, y - 190], [x + 230, y + 190], [x - 240, y + 20]])
        cv2.fillPoly(pixels, [np.round(wedge).astype(np.int32)], (235, 232, 226))
        # And a block of metal at the far end: the port is at x = 166, y = 19.
        corners = [
            round(v) for v in (x + 40 * 300 / 25.4, y - 47 * 300 / 25.4, x + 69 * 300 / 25.4, y + 49 * 300 / 25.4)
        ]
        cv2.rectangle(pixels, corners[:2], corners[2:], (70, 69, 67), -1)
        found = trace(as_picture(pixels, 300.0))
        assert any("port 3 is none of round, oval, rounded rectangle or dee" in line for line in found.notices)
        assert any("the outer edge is not of metal of one width" in line for line in found.notices)
        path = tmp_path / "free.toml"
        path.write_text(flange_toml(found, "free", "a.png", 12.0, "carbon steel", "mm"), encoding="utf-8")
        again = load_part(path)
        assert isinstance(again, FlangePart)
        # The file's lines keep to what was seen: the seen points keep to them.
        for index, seen in ((2, found.ports[2].fit.points), (None, found.rim)):
            port = again.port[2]
            rim = again.edges()[0] if index is None else placed(port.opening.opening().shape(), port.at, port.angle)
            assert np.quantile(np.abs(signed_distance(rim, seen)), 0.98) < SCAN


class TestPhotographs:
    def test_tilted_blurred_unevenly_lit(self, made: Any, short: FlangePart) -> None:
        scene = made.Scene(turn=80.0, uneven=0.3, blur=1.5, noise=5.0)
        found = trace(as_picture(made.photographed(short, scene, tilt=14.0)))
        held(found, short, PHOTO)
        assert "turned" not in found.plan.told

    def test_however_the_camera_is_held(self, made: Any, short: FlangePart) -> None:
        """A gasket has no up, but the sheet has; seen in a mirror, it is nothing."""
        pixels = made.photographed(short, made.Scene(turn=70.0), roll=9.0, size=(2400, 1800))
        for quarter, word in ((1, "on its side, turned upright"), (2, "upside down, turned upright")):
            found = trace(as_picture(np.ascontiguousarray(np.rot90(pixels, quarter))))
            held(found, short, PHOTO)
            assert f"mm, {word} by the sheet" in found.plan.told
        with pytest.raises(PictureError, match=r"the picture is mirrored: .* turn the camera's mirroring off"):
            trace(as_picture(np.ascontiguousarray(pixels[:, ::-1])))

    def test_through_a_bent_lens(self, photograph: np.ndarray, short: FlangePart) -> None:
        h, w = photograph.shape[:2]
        half = np.float32(np.hypot(w, h) / 2)
        y, x = np.mgrid[0:h, 0:w].astype(np.float32)
        u, v = (x - np.float32(w / 2)) / half, (y - np.float32(h / 2)) / half
        share = half * (1 + np.float32(0.04) * (u * u + v * v))
        seen = cv2.remap(photograph, u * share + np.float32(w / 2), v * share + np.float32(h / 2), cv2.INTER_LINEAR)
        found = trace(as_picture(seen))
        held(found, short, PHOTO)
        assert found.plan.error < 0.1

    def test_a_long_part_on_two_pages_laid_askew(self, made: Any, part: FlangePart) -> None:
        pages = ((0, 0.0, 0.0, 0.0), (1, 204.0, 4.0, 1.3))
        pixels = made.photographed(
            part, made.Scene(dirt=0), tilt=8.0, size=(3400, 2500), pages=pages, part_at=(205.0, 143.0, 2.0)
        )
        found = trace(as_picture(pixels))
        assert "page 1, 2" in found.plan.told
        held(found, part, PHOTO)

    def test_a_printers_error_is_taken_out_by_the_bars(self, photograph: np.ndarray) -> None:
        """A page printed 2 percent too small shows the part 2 percent too large."""
        found = trace(as_picture(photograph), bars=(98.0, 98.0))
        far = max(bolt.fit.at[0] for bolt in found.bolts)
        assert far == pytest.approx(0.98 * 130.0, abs=PHOTO)


class TestRoundTrip:
    @pytest.mark.parametrize("units", ["mm", "in"])
    def test_file_loads_and_is_the_part(self, found: Traced, part: FlangePart, tmp_path: Path, units: Any) -> None:
        path = tmp_path / "traced.toml"
        path.write_text(flange_toml(found, "traced", "scan.png", 12.0, "304L", units), encoding="utf-8")
        again = load_part(path)
        assert isinstance(again, FlangePart)
        assert (again.thickness, again.material) == (pytest.approx(12.0, abs=0.01), "304L")
        assert again.edges()[0].area == pytest.approx(part.edges()[0].area, rel=2e-3)
        for port, true in zip(again.port, part.port, strict=True):
            assert port.at == pytest.approx(true.at, abs=SCAN)
        there = sorted((round(x / 5), round(y / 5)) for x, y in (hole.at for hole in part.holes()))
        assert sorted((round(x / 5), round(y / 5)) for x, y in (hole.at for hole in again.holes())) == there
        assert {round(hole.diameter, 1) for hole in again.holes()} == {9.0, 11.0}
        # The numbers in the drawing are the file's: a caliper sheet counts through its sets.
        for hole, bolt in zip(again.holes(), found.bolts, strict=True):
            assert hole.at == pytest.approx(bolt.fit.at, abs=0.01)

    def test_the_drawing_shows_the_whole_plan(self, found: Traced) -> None:
        drawn = drawing(found)
        high, wide = found.plan.pixels.shape[:2]
        assert drawn.shape[1] / drawn.shape[0] == pytest.approx(wide / high, rel=1e-3)
        # The first port's green line is where the first port is.
        green = (drawn[:, :, 1] > drawn[:, :, 0] + 60.0) & (drawn[:, :, 1] > drawn[:, :, 2] + 60.0)
        rows, columns = np.nonzero(green)
        rim = found.plan.to_pixels(found.axes.to_plan(found.ports[0].fit.shape.points(0.1))) * drawn.shape[1] / wide
        assert columns.min() == pytest.approx(rim[:, 0].min(), abs=3)
        assert rows.size > 500
