"""Small assemblies at random over the grammar: each is laid out, or refused in words of its own.

Cases come from a fixed seed. Most are of sizes that a shop would use, some of none that it would. A few run by
default, hundreds with --sweep; every tenth that stands is made solid as well.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import rootgap
from rootgap.errors import GeometryError, InputErrors
from rootgap.solids.bodies import is_sound
from rootgap.solids.whole import parts

pytestmark = pytest.mark.sweep
FEW, MANY = 20, 240
PARTS = Path(__file__).parent.parent / "parts"
STOCKS = {
    "small": '{ pipe = "1 sch 40", material = "A53 B" }',
    "primary": '{ pipe = "1-1/4 sch 40", material = "A53 B" }',
    "middle": '{ pipe = "1-1/2 sch 10", material = "304L" }',
    "log": '{ pipe = "2-1/2 sch 40", material = "A53 B" }',
    "tube": '{ pipe = { od = 57.0, wall = 2.0 }, material = "304L" }',
}


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """A case for every number."""
    if "number" in metafunc.fixturenames:
        metafunc.parametrize("number", range(MANY if metafunc.config.getoption("--sweep") else FEW))


class Words:
    """A writer of random tables. wild: how often a figure is of no sensible size."""

    def __init__(self, number: int) -> None:
        self.random = np.random.default_rng([6_001, number])
        self.wild = 0.15 if number % 4 == 0 else 0.0

    def pick(self, *words: str) -> str:
        return str(self.random.choice(words))

    def size(self, low: float, high: float) -> float:
        if self.random.random() < self.wild:
            return float(self.random.choice([0.001, 1.0, 5.0, 900.0, 5000.0, low / 10.0, high * 10.0]))
        return round(float(self.random.uniform(low, high)), 3)

    def chance(self, share: float) -> bool:
        return bool(self.random.random() < share)

    def clock(self) -> float:
        return self.size(0.0, 359.0) if self.chance(0.6) else float(self.random.choice([0, 90, 180, 270]))

    def piece(self) -> str:
        """Any piece that may stand in the middle of a run."""
        kinds = ("bend", "pie", "mitre", "reducer", "cone", "vband", "slip")
        kind = self.pick("straight", "straight", "straight", "elbow", "elbow", *kinds)
        size, clock = self.size, self.clock()
        if kind == "elbow":
            more = self.pick("", f", angle = {size(5, 90)}", f', from = 45, angle = {size(5, 45)}, trim = "both"')
            return f'{{ elbow = "{self.pick("LR", "LR", "SR", "3D")}", clock = {clock}{more} }}'
        stock = self.pick(*STOCKS)
        return {
            "straight": f"{{ straight = {size(20, 150)} }}",
            "bend": f"{{ bend = {size(60, 150)}, angle = {size(5, 180)}, clock = {clock} }}",
            "pie": f"{{ pie = {size(60, 200)}, angle = {size(5, 120)}, cuts = {self.random.integers(1, 5)}, "
            f"clock = {clock} }}",
            "mitre": f'{{ mitre = {size(2, 100)}, clock = {clock}, prep = "{self.pick("flat", "square", "bevel")}" }}',
            "reducer": f'{{ reducer = "{stock}"'
            + (f', side = "eccentric", clock = {clock}' if self.chance(0.5) else "")
            + " }",
            "cone": f'{{ cone = "{stock}", length = {size(30, 120)}'
            + (f", offset = {size(0, 15)}, clock = {clock}" if self.chance(0.5) else "")
            + " }",
            "vband": f'{{ vband = "{self.pick("a", "b")}", male = "{self.pick("upstream", "downstream")}" }}',
            "slip": f"{{ slip = {size(70, 120)}, overlap = {size(20, 60)}, gap = {size(1, 5)} }}",
        }[kind]

    def chain(self, most: int) -> list[str]:
        """Pieces in an order that is mostly allowed: a straight on both sides of what needs one."""
        pieces = [f"{{ straight = {self.size(60, 200)} }}"]
        for _ in range(int(self.random.integers(0, most + 1))):
            pieces.append(self.piece())
            if self.chance(0.85):
                pieces.append(f"{{ straight = {self.size(40, 160)} }}")
        return pieces

    def ending(self) -> str:
        return self.pick('"open"', '"cap"', "{ disc = 6 }", '{ flange = "out" }')

    def cope(self, target: str) -> str:
        order = f", order = {self.random.integers(1, 3)}" if self.chance(0.4) else ""
        if self.chance(0.3):
            return f'{{ cope = "{target}", set = "in", prep = "{self.pick("square", "bevel")}"{order} }}'
        prep = self.pick('"square"', '"bevel"', '"bevel", bevel = { land = 1.2, angle = 45 }')
        return f'{{ cope = "{target}", set = "on", prep = {prep}{order} }}'

    def point(self, *near: float, by: float) -> str:
        return "[" + ", ".join(f"{self.size(x - by, x + by)}" for x in near) + "]"

    def run(self, name: str, start: str, pieces: list[str], end: str, stock: str | None = None) -> str:
        stock = stock or self.pick(*STOCKS)
        return f'[run.{name}]\nstock = "{stock}"\nstart = {start}\npieces = [{", ".join(pieces)}]\nend = {end}\n'

    def log(self) -> str:
        start = "{ at = [0, 0, 0], along = [1, 0, 0] }"
        pieces = [f"{{ straight = {self.size(160, 260)} }}", *self.chain(2)]
        return self.run("log", start, pieces, '"open"' if self.chance(0.5) else self.ending(), "log")

    def branch(self, name: str) -> str:
        """A run that ends on the log's side, by a straight or by a bend's own end."""
        off = self.point(0, 1, 0, by=0.15) if self.chance(0.9) else "[0.2, 1, -0.3]"
        start = f"{{ at = {self.point(80, -220, 0, by=25)}, along = {off} }}"
        pieces = self.chain(1) if self.chance(0.3) else []
        last = self.pick('{ straight = "fill" }', '{ straight = "fill" }', self.piece(), "{ straight = 240 }")
        return self.run(name, start, [*pieces, last], self.cope("log"), self.pick("small", "primary", "middle", "log"))

    def leaving(self, name: str) -> str:
        lean = f", lean = {self.size(30, 150)}" if self.chance(0.5) else ""
        start = f'{{ off = "log", station = {self.size(20, 180)}, clock = {self.clock()}{lean} }}'
        return self.run(name, start, self.chain(2), self.ending(), self.pick("small", "primary"))

    def following(self, name: str, before: str) -> str:
        return self.run(name, f'"{before}.end"', self.chain(2), self.ending(), "log")

    def merging(self) -> str:
        """A collector of two to four aimed runs."""
        count = int(self.random.integers(2, 5))
        legs = [f"leg{k}" for k in range(count)]
        tables = [
            "[collector.all]",
            f"at = {self.point(0, 0, 700, by=20)}\nalong = [0, 0, 1]",
            f"half_angle = {self.size(8, 25)}",
            "legs = [" + ", ".join(f'"{leg}"' for leg in legs) + "]",
            *([f"across = {self.size(62, 80)}"] if self.chance(0.5) else []),
            *([f"spike = {self.size(8, 25)}"] if self.chance(0.5 if count > 2 else 0.05) else []),
            f'prep = "{self.pick("flat", "bevel", "square")}"\n',
        ]
        aimed = self.pick('elbow = "LR"', f"bend = {self.size(60, 100)}")
        pair = f'{{ {aimed}, angle = "aim" }}'
        for k, leg in enumerate(legs):
            turn = 2.0 * np.pi * k / count
            at = self.point(130 * np.cos(turn), 130 * np.sin(turn), 0, by=15)
            last = f"{{ straight = {self.size(160, 260)} }}"
            pieces = ["{ straight = 30 }", pair, '{ straight = "fill" }', pair, last]
            start = f"{{ at = {at}, along = {self.point(0, 0, 1, by=0.1)} }}"
            tables.append(self.run(leg, start, pieces, '{ merge = "all" }', "primary"))
        if self.chance(0.5):
            tables.append(self.run("outlet", '"all.out"', ['{ cone = "log", length = 90 }'], '"open"', "primary"))
        return "\n".join(tables)

    def text(self) -> str:
        tables = ['name = "random"\nunits = "mm"\n[stock]', *(f"{name} = {what}" for name, what in STOCKS.items())]
        runs = [self.merging()] if self.chance(0.25) else [self.log()]
        if "[run.log]" in runs[0]:
            more = self.random.choice(["branch", "branch", "leaving", "following"], int(self.random.integers(1, 4)))
            runs += [
                self.following(f"on{k}", "log") if what == "following" else getattr(self, what)(f"r{k}")
                for k, what in enumerate(more)
            ]
        said = "\n".join(runs)
        for name, file in (("a", "vband-57"), ("b", "vband-76")):
            if f'vband = "{name}"' in said:
                tables.append(f'[vband.{name}]\nuse = "{PARTS.as_posix()}/{file}.toml"')
        if 'flange = "out"' in said:
            tables.append(f'[flange.out]\nuse = "{PARTS.as_posix()}/outlet-three-bolt.toml"')
        return "\n".join([*tables, said])


def outcome(number: int, folder: Path) -> tuple[str, rootgap.Manifold | None]:
    """What becomes of a case: "input" or "geometry" where it is refused, else "stands" and the manifold."""
    file = folder / "random.toml"
    file.write_text(Words(number).text(), encoding="utf-8")
    try:
        manifold = rootgap.load(file)
    except InputErrors as refusal:
        return ("input" if str(refusal).strip() else "nothing said"), None
    try:
        assert manifold.joints is not None
        findings, patterns = manifold.checks(), manifold.patterns
    except GeometryError as refusal:
        return ("geometry" if str(refusal).strip() else "nothing said"), None
    assert findings
    for pattern in patterns:
        assert np.isfinite(pattern.bounds()).all(), pattern.name
    assert all(np.isfinite(joint.weld_length) for joint in manifold.joints)
    return "stands", manifold


def test_it_stands_or_is_refused_in_words(number, tmp_path, record_property):
    what, manifold = outcome(number, tmp_path)
    record_property("outcome", what)
    assert what in {"input", "geometry", "stands"}
    if manifold is not None and number % 10 == 0:
        for part in parts(manifold.layout, manifold.joints):
            assert is_sound(part.body), part.name


def test_enough_of_them_stand(tmp_path):
    """Else the sweep would show nothing."""
    found = [outcome(number, tmp_path)[0] for number in range(40)]
    assert found.count("stands") >= 6
