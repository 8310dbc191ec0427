"""A scan held against a flange that is known: what lay turned or with its other face up is refused."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from rootgap import cli
from rootgap.errors import PictureError
from rootgap.spec import FlangePart
from rootgap.trace.job import TraceDone, TraceJob
from rootgap.trace.likeness import BOLT_OFF

Flip = tuple[int, int]

DPI = 75.0
#: How a scan comes out: steps along its rows and columns.
PLAIN, HALF, MIRROR, BOTH = (1, 1), (-1, -1), (1, -1), (-1, 1)


@pytest.fixture
def there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def scan(maker: Any, part: FlangePart, flip: Flip, turn: float = 4.0) -> None:
    """Write scan.png: the part on its ground, seen as `flip` has it."""
    size = (190.0, 110.0) if turn < 45.0 else (110.0, 190.0)
    pixels = maker.scanned(part, maker.Scene(turn=turn, dirt=0), DPI, size)
    Image.fromarray(np.ascontiguousarray(pixels[:: flip[0], :: flip[1]])).save("scan.png")


def traced(known: FlangePart, options: str = "") -> TraceDone:
    for path in ("scan.toml", "scan-traced.png"):
        Path(path).unlink(missing_ok=True)
    job = TraceJob(Path("scan.png"), None, None, DPI, 12.0, "carbon steel", "mm", (100.0, 100.0), known)
    return job.run(mirror="--mirror" in options, turn="--turn" in options)


def moved(part: FlangePart, hole: int, by: float) -> FlangePart:
    """Return the part with a hole of its first set moved along x, mm."""
    data = part.model_dump(mode="json", exclude_unset=True, by_alias=True)
    data["bolts"][0]["at"][hole - 1][0] += by
    return FlangePart.model_validate(data)


@pytest.mark.usefixtures("there")
class TestLikeness:
    @pytest.mark.parametrize(
        ("flip", "turn", "word", "options"),
        [
            (HALF, 4.0, "only turned half round", "--turn"),
            (MIRROR, 4.0, "only mirrored", "--mirror"),
            (MIRROR, 86.0, "only mirrored and turned", "--mirror"),
            (BOTH, 4.0, "only mirrored and turned", "--mirror and --turn"),
            (BOTH, 86.0, "only mirrored", "--mirror and --turn"),
        ],
    )
    def test_the_wrong_way_is_refused_with_the_options_that_mend_it(
        self, maker: Any, short: FlangePart, flip: Flip, turn: float, word: str, options: str
    ) -> None:
        scan(maker, short, flip, turn)
        with pytest.raises(PictureError, match=re.escape(word + " (")) as refused:
            traced(short)
        assert str(refused.value).endswith(f"trace again with {options}")
        assert ("scan the other face" in str(refused.value)) == ("--mirror" in options)
        assert not Path("scan.toml").exists()
        like = traced(short, options).like
        assert like is not None
        assert like.off < 0.25 * 25.4 / DPI

    def test_options_that_make_it_wrong_are_to_be_left_out(self, maker: Any, short: FlangePart) -> None:
        scan(maker, short, PLAIN)
        for options in ("--mirror", "--mirror and --turn"):
            with pytest.raises(PictureError, match=f"trace again without {options}$"):
                traced(short, options)

    def test_what_agrees_is_told_with_its_worst_bolt(self, maker: Any, short: FlangePart) -> None:
        """A bolt of the known part is 1 mm out along x: no shift leaves all of them nearer than half of it."""
        scan(maker, short, PLAIN)
        like = traced(moved(short, 2, 1.0)).like
        assert like is not None
        assert (like.alone, like.also) == ((0, 0), ())
        assert like.off == pytest.approx(0.5, abs=0.15)
        worst = f"hole {like.worst.hole} is farthest off, {like.off:.2f} mm from bolt {like.worst.bolt}"
        assert like.lines == (f"Agrees with made as pictured: {worst}",)

    def test_another_part_agrees_in_no_orientation(self, maker: Any, short: FlangePart, part: FlangePart) -> None:
        scan(maker, short, PLAIN)
        for other in (part, moved(short, 2, 4.0 * BOLT_OFF)):
            with pytest.raises(
                PictureError, match=r"agrees with made in no orientation: .* mm off (bolt|port) \d; check --dpi"
            ):
                traced(other)

    def test_a_part_alike_all_ways_is_taken_and_told(self, maker: Any, short: FlangePart) -> None:
        data = short.model_dump(mode="json", exclude_unset=True, by_alias=True)
        data["port"] = [{"at": [65, 0], "opening": {"round": 30}}]
        data["bolts"] = [{"hole": 9, "at": [[0, 0], [130, 0], [65, 28], [65, -28]]}]
        even = FlangePart.model_validate(data)
        scan(maker, even, HALF)
        like = traced(even).like
        assert like is not None
        assert like.also == ("turned half round", "mirrored", "mirrored and turned")
        assert like.lines[1].startswith("NOTE: it would agree turned half round, mirrored, mirrored and turned as well")


@pytest.mark.usefixtures("there")
def test_command(
    maker: Any, short: FlangePart, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    scan(maker, short, HALF)
    traced(short, "--turn").file.rename("known.toml")

    def command(*words: str) -> int:
        monkeypatch.setattr(
            sys, "argv", ["rootgap", "trace", "scan.png", "--dpi", f"{DPI:g}", "--out", "b.toml", *words]
        )
        with pytest.raises(SystemExit) as left:
            cli.main()
        return int(left.value.code or 0)

    assert command("--like", "known.toml") == 2
    said = capsys.readouterr()
    assert (said.out, said.err.count("\n")) == ("", 1)
    assert "it agrees with scan only turned half round" in said.err
    assert command("--like", "known.toml", "--turn") == 0
    assert "Agrees with scan as pictured: hole " in capsys.readouterr().out
    assert command("--like", "no.toml", "--turn") == 2
    assert command("--like", "drawn.dxf", "--turn") == 2
    assert "a drawing; make a flange of it first: rootgap import drawn.dxf" in capsys.readouterr().err


@pytest.mark.usefixtures("there")
def test_a_picture_that_says_which_way_up_it_is_needs_no_option(maker: Any, short: FlangePart) -> None:
    """Exif 2.32, 4.6.4: orientation 3 is a half turn, 6 a quarter: stored so, the picture is upright all the same."""
    scan(maker, short, PLAIN)
    upright = np.asarray(Image.open("scan.png"))
    for orientation, stored in ((3, upright[::-1, ::-1]), (6, np.rot90(upright))):
        exif = Image.Exif()
        exif[0x0112] = orientation
        Image.fromarray(np.ascontiguousarray(stored)).save("scan.png", exif=exif)
        assert traced(short).like is not None
