"""Branches on bends, bends that end on logs, and crowds of both, at random: each is built sound and of the volume that
its closed forms give (`body` checks both), or refused in words of its own.

Cases come from a fixed seed, few by default, hundreds with --sweep.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError
from rootgap.geometry.frames import Array, Frame, unit
from rootgap.solids.bodies import is_sound
from rootgap.solids.whole import parts

pytestmark = pytest.mark.sweep
Random = np.random.Generator


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """As many cases of a kind as there is time for."""
    sweep = metafunc.config.getoption("--sweep")
    counts = {on_a_bend: (8, 300), by_a_bend: (8, 300), crowd: (1, 60)}
    cases = [(kind, number) for kind, (few, many) in counts.items() for number in range(many if sweep else few)]
    metafunc.parametrize(("kind", "number"), cases)


def listed(values: Array) -> str:
    return f"[{', '.join(f'{value:.7f}' for value in values)}]"


def run(name: str, frame: Frame, pieces: str, end: str = '"open"') -> str:
    start = f"{{ at = {listed(frame.origin)}, along = {listed(frame.axis)}, ref = {listed(frame.ref)} }}"
    return f'[run.{name}]\nstock = "{name}"\nstart = {start}\npieces = [{pieces}]\nend = {end}\n'


def stock(name: str, od: float, wall: float) -> str:
    return f'[stock.{name}]\npipe = {{ od = {od}, wall = {wall} }}\nmaterial = "304L"\n'


def cope(random: Random, *, sets: tuple[str, ...] = ("on", "on", "in"), order: str = "") -> str:
    return f'{{ cope = "log", set = "{random.choice(sets)}", prep = "{random.choice(["square", "bevel"])}"{order} }}'


def log(random: Random, *, bend: bool) -> tuple[str, Callable[[float], Frame]]:
    """A log from (-150, 0, 0) along x, and its frame at a share of its middle piece."""
    start = Frame.looking((-150.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    if not bend:
        return run("log", start, "{ straight = 400 }"), lambda share: start.advanced(100.0 + 200.0 * share)
    radius = float(random.choice([76.2, 95.0, 114.0, 190.0]))
    pieces = f"{{ straight = 150 }}, {{ bend = {radius}, angle = 90, clock = 0 }}, {{ straight = 150 }}"
    return run("log", start, pieces), lambda share: start.advanced(150.0).bent(radius, 90.0 * share, 0.0)


def coming(random: Random, at: Frame, *, least: float, most: float, off: float) -> Frame:
    """A frame on a target's axis, or up to `off` mm beside it, that a branch comes to from a random clock at `least`
    to `most` degrees from the axis."""
    outward = at.radial(random.uniform(0.0, 2.0 * np.pi))
    lean = np.radians(random.uniform(least, most))
    ahead = -np.sin(lean) * outward + random.choice([-1.0, 1.0]) * np.cos(lean) * at.axis
    return Frame.looking(at.origin + random.uniform(-off, off) * np.cross(at.axis, outward), ahead)


def straight(random: Random, name: str, tip: Frame, end: str) -> str:
    return run(name, tip.advanced(-220.0), '{ straight = "fill" }', end)


def bent(random: Random, name: str, tip: Frame, end: str) -> str:
    """A straight and a bend that ends at `tip` or up to 15 mm past it."""
    radius, angle = float(random.choice([57.0, 76.2, 95.0])), random.uniform(40.0, 110.0)
    tip = tip.advanced(random.uniform(0.0, 15.0)).clocked(random.uniform(0.0, 360.0))
    back = Frame(tip.origin, -tip.axis, tip.ref).bent(radius, angle, 0.0)
    start = Frame(back.origin + 60.0 * back.axis, unit(-back.axis), back.ref)
    return run(name, start, f"{{ straight = 60 }}, {{ bend = {radius}, angle = {angle}, clock = 0 }}", end)


def on_a_bend(random: Random) -> Iterator[str]:
    od = float(random.choice([48.3, 60.3, 73.0]))
    yield stock("log", od, 3.0) + stock("b", float(random.choice([33.4, 42.2, min(od, 48.3), od])), 2.5)
    text, at = log(random, bend=True)
    yield text
    yield straight(random, "b", coming(random, at(random.uniform(0.1, 0.9)), least=25, most=90, off=4.0), cope(random))


def by_a_bend(random: Random) -> Iterator[str]:
    yield stock("log", float(random.choice([48.3, 60.3, 73.0])), 3.0)
    yield stock("b", float(random.choice([33.4, 42.2, 48.3])), 2.5)
    text, at = log(random, bend=bool(random.random() < 0.3))
    yield text
    yield bent(random, "b", coming(random, at(random.uniform(0.2, 0.8)), least=30, most=90, off=3.0), cope(random))


def crowd(random: Random) -> Iterator[str]:
    yield stock("log", float(random.choice([60.3, 73.0])), 3.0)
    text, at = log(random, bend=bool(random.random() < 0.5))
    yield text
    share = random.uniform(0.2, 0.5)
    for name in ("a", "b"):
        yield stock(name, float(random.choice([33.4, 42.2])), 2.5)
        order = f", order = {'ab'.index(name) + 1}" if random.random() < 0.5 else ""
        make = bent if random.random() < 0.4 else straight
        tip = coming(random, at(share), least=50, most=90, off=4.0)
        yield make(random, name, tip, cope(random, sets=("on",), order=order))
        share += random.uniform(0.1, 0.3)


def test_it_is_sound_or_refused_in_words(kind: Callable[[Random], Iterator[str]], number: int, tmp_path: Path):
    random = np.random.default_rng([8_001, number])
    file = tmp_path / "random.toml"
    file.write_text('name = "random"\nunits = "mm"\n' + "\n".join(kind(random)), encoding="utf-8")
    made = rootgap.load(file)
    try:
        joints = made.joints
    except GeometryError:
        return
    assert joints
    for part in parts(made.layout, made.joints):
        assert is_sound(part.body), part.name
