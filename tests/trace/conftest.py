"""Pictures made from flanges that are known, with what scanners and cameras do to them."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

import cv2
import numpy as np
import pytest
from PIL import Image

from rootgap.geometry.openings import placed
from rootgap.geometry.paths import Circle
from rootgap.spec import FlangePart
from rootgap.trace.sheet import SIDE, cells, markers
from rootgap.writers.sheets.paper import PAPERS

FINE = 4  # parts of a pixel that shapes are drawn to

PART = {
    "name": "made",
    "kind": "flange",
    "units": "mm",
    "material": "carbon steel",
    "thickness": 12,
    "port": [
        {"at": [34, 18], "opening": {"rounded": [36, 30], "radius": 8}},
        {"at": [100, 20], "opening": {"round": 33}},
        {"at": [166, 19], "opening": {"oval": [40, 27]}, "angle": 12},
    ],
    "bolts": [
        {"hole": 9, "at": [[0, 0], [200, 0], [0, 38], [66, 42], [134, -3], [200, 38]]},
        {"hole": 11, "at": [[67, -3]]},
    ],
    "outline": {"edge": 12, "boss": 12, "fillet": 20},
}
#: One that goes into the middle of a page, with a dee.
SHORT = {
    **PART,
    "port": [
        {"at": [35, 2], "opening": {"dee": [38, 34], "radius": 5}},
        {"at": [95, 1], "opening": {"rounded": [34, 28], "radius": 7}},
    ],
    "bolts": [{"hole": 9, "at": [[0, 0], [130, 0], [65, 25], [65, -23]]}],
}


@dataclass(frozen=True)
class Scene:
    """How a part lies and is seen. turn: degrees; ground, part: levels of 255; noise: of 255; dirt: how many specks."""

    turn: float = 4.0
    ground: float = 235.0
    part: float = 70.0
    noise: float = 4.0
    dirt: int = 60
    uneven: float = 0.0
    blur: float = 0.9


def coverage(
    part: FlangePart, to_pixels: Callable[[np.ndarray], np.ndarray], shape: tuple[int, int], fine: int = FINE
) -> np.ndarray:
    """Return how much of each pixel the part covers, 0 to 1. to_pixels: from its mm, whole at a pixel's centre."""
    high, wide = shape
    big = np.zeros((fine * high, fine * wide), np.uint8)

    def filled(points: np.ndarray, value: int) -> None:
        places = (to_pixels(points) + 0.5) * fine - 0.5
        cv2.fillPoly(big, [np.round(places * 16).astype(np.int32)], value, cv2.LINE_8, 4)

    filled(part.edges()[0].points(0.005), 255)
    for port in part.port:
        filled(placed(port.opening.opening().shape(), port.at, port.angle).points(0.005), 0)
    for at, diameter in ((hole.at, hole.diameter) for hole in part.holes()):
        filled(Circle(at, diameter / 2).points(0.005), 0)
    return cv2.resize(big, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0


def dirtied(pixels: np.ndarray, scene: Scene) -> np.ndarray:
    """Return grey levels with dirt, uneven light, blur and noise, as 8-bit colour."""
    rng = np.random.default_rng(7)
    high, wide = pixels.shape
    out = pixels.copy()
    for x, y, r, level in zip(
        rng.uniform(0, wide, scene.dirt),
        rng.uniform(0, high, scene.dirt),
        rng.uniform(1, 5, scene.dirt),
        rng.uniform(20, 250, scene.dirt),
        strict=True,
    ):
        cv2.ellipse(out, (int(x), int(y)), (int(r), int(r + 2)), float(x), 0, 360, float(level), -1)
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    out *= 1.0 - scene.uneven * (0.6 * x / wide + 0.4 * np.square(y / high))
    out = cv2.GaussianBlur(out, (0, 0), scene.blur)
    grey = out[:, :, None] * np.array([1.0, 0.985, 0.96], np.float32)
    grey += rng.normal(0, scene.noise, grey.shape).astype(np.float32)
    return np.clip(np.round(grey), 0, 255).astype(np.uint8)


def scanned(
    part: FlangePart, scene: Scene = Scene(), dpi: float = 300.0, size: tuple[float, float] = (297, 210)
) -> np.ndarray:
    """Return the pixels of a flatbed scan, `size` mm, with the part in its middle."""
    shape = round(size[1] / 25.4 * dpi), round(size[0] / 25.4 * dpi)
    edge = part.edges()[0].points(0.1)
    middle = 0.5 * (edge.min(axis=0) + edge.max(axis=0))
    c, s = np.cos(np.radians(scene.turn)), np.sin(np.radians(scene.turn))

    def to_pixels(mm: np.ndarray) -> np.ndarray:
        turned = (mm - middle) @ np.array([[c, s], [-s, c]])
        return np.column_stack([turned[:, 0] + size[0] / 2, size[1] / 2 - turned[:, 1]]) * dpi / 25.4 - 0.5

    cover = coverage(part, to_pixels, shape)
    return dirtied(scene.ground + (scene.part - scene.ground) * cover, scene)


def page(paper: str, number: int, per_mm: float) -> np.ndarray:
    """Return a page of the calibration sheet, 0 to 1, white 1."""
    wide, high = PAPERS[paper]
    out = np.ones((round(high * per_mm), round(wide * per_mm)), np.float32)
    for marker in markers(paper, number):
        side = round(SIDE * per_mm)
        black = cv2.resize(cells(marker.number).astype(np.float32), (side, side), interpolation=cv2.INTER_NEAREST)
        x, y = round(marker.at[0] * per_mm), round((high - marker.at[1] - SIDE) * per_mm)
        out[y : y + side, x : x + side] -= 0.9 * black
    return out


def photographed(
    part: FlangePart,
    scene: Scene = Scene(),
    tilt: float = 12.0,
    roll: float = 0.0,
    size: tuple[int, int] = (4000, 3000),
    pages: tuple[tuple[int, float, float, float], ...] = ((0, 0.0, 0.0, 0.0),),
    part_at: tuple[float, float, float] | None = None,
    paper: str = "a4",
    hide: tuple[int, ...] = (),
) -> np.ndarray:
    """Return the pixels of a photograph of the part on the sheet, the camera tilted by `tilt` degrees.

    pages: (number, x, y, turn) of each on the table, mm and degrees; part_at: middle and turn of the part.
    """
    wide, high = size
    per_mm = 10.0
    corners = []
    for _, x, y, turn in pages:
        w, h = PAPERS[paper]
        c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        corners.append(np.array([[0, 0], [w, 0], [w, h], [0, h]]) @ np.array([[c, s], [-s, c]]) + [x, y])
    every = np.vstack(corners)
    low, top = every.min(axis=0) - 25, every.max(axis=0) + 25
    table = np.full((round((top - low)[1] * per_mm), round((top - low)[0] * per_mm)), 95.0, np.float32)

    def on_table(mm: np.ndarray) -> np.ndarray:
        return np.column_stack([mm[:, 0] - low[0], top[1] - mm[:, 1]]) * per_mm - 0.5

    for (number, *_), four in zip(pages, corners, strict=True):
        sheet = page(paper, number, per_mm) * scene.ground
        for marker in markers(paper, number):
            if marker.number in hide:
                x, y = (round(v * per_mm) for v in (marker.at[0], PAPERS[paper][1] - marker.at[1] - SIDE))
                sheet[y : y + 140, x : x + 140] = scene.ground
        h, w = sheet.shape
        source = np.array([[-0.5, h - 0.5], [w - 0.5, h - 0.5], [w - 0.5, -0.5], [-0.5, -0.5]], np.float32)
        matrix = cv2.getPerspectiveTransform(source, on_table(four).astype(np.float32))
        laid = cv2.warpPerspective(sheet, matrix, table.shape[::-1], flags=cv2.INTER_LINEAR, borderValue=-1)
        table = np.where(laid > 0, laid, table)
    edge = part.edges()[0].points(0.1)
    middle = 0.5 * (edge.min(axis=0) + edge.max(axis=0))
    x, y, turn = part_at or (*(0.5 * (low + top)), scene.turn)
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    cover = coverage(part, lambda mm: on_table((mm - middle) @ np.array([[c, s], [-s, c]]) + [x, y]), table.shape, 2)
    table += (scene.part - table) * cover
    # A pinhole camera that looks at the table's middle from the side, and rolls.
    t, r = np.radians(tilt), np.radians(roll)
    h, w = table.shape
    focal = 1.1 * wide
    off = 1.25 * focal / min(wide / w, high / h) / 1.0
    a = np.array([[1, 0, -w / 2], [0, 1, -h / 2], [0, 0, 0], [0, 0, 1.0]])
    tilting = np.array([[1, 0, 0, 0], [0, np.cos(t), -np.sin(t), 0], [0, np.sin(t), np.cos(t), off], [0, 0, 0, 1]])
    rolling = np.array([[np.cos(r), -np.sin(r), 0], [np.sin(r), np.cos(r), 0], [0, 0, 1.0]])
    camera = np.array([[focal, 0, wide / 2], [0, focal, high / 2], [0, 0, 1.0]])
    matrix = camera @ rolling @ tilting[:3] @ a
    seen = cv2.warpPerspective(table, matrix, size, flags=cv2.INTER_AREA, borderValue=95)
    return dirtied(seen, scene)


def saved(pixels: np.ndarray, path: Path, dpi: float | None = None) -> Path:
    image = Image.fromarray(pixels)
    image.save(path, **({"dpi": (dpi, dpi)} if dpi else {}))
    return path


@pytest.fixture(scope="session")
def part() -> FlangePart:
    return FlangePart.model_validate(PART)


@pytest.fixture(scope="session")
def short() -> FlangePart:
    return FlangePart.model_validate(SHORT)


@pytest.fixture(scope="session")
def maker() -> ModuleType:
    """Return the makers of pictures: import mode importlib lets test files import none."""
    return sys.modules[__name__]
