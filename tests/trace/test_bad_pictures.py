"""What no flange can be traced from: one clear line with what to do, and exit code 2."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from PIL import Image

from rootgap import cli
from rootgap.errors import PictureError, WriteError
from rootgap.spec import FlangePart
from rootgap.trace import Picture, flange_toml, read_back, trace
from rootgap.trace.picture import MOST_PIXELS, read_picture

GREY = np.full((900, 1300, 3), 235, np.uint8)


def refused(picture: Picture | Path, text: str, **how: Any) -> None:
    """Tracing is refused in one line that says what is wrong and what to do."""
    with pytest.raises(PictureError) as fault:
        trace(picture, **how)
    said = str(fault.value)
    assert re.search(text, said), said
    assert "\n" not in said
    assert fault.value.remedy
    assert fault.value.exit_code == 2


def plate(*shapes: tuple[float, float, float, float], dpi: float = 100.0) -> Picture:
    """A dark plate of 240 x 120 mm with elliptic holes (x, y, half width, half height), mm."""
    pixels = np.full((round(160 / 25.4 * dpi), round(280 / 25.4 * dpi), 3), 235, np.uint8)
    scale = dpi / 25.4
    cv2.rectangle(
        pixels, (round(20 * scale), round(20 * scale)), (round(260 * scale), round(140 * scale)), (60, 60, 60), -1
    )
    for x, y, a, b in shapes:
        where = round((x + 20) * scale), round((y + 20) * scale)
        cv2.ellipse(pixels, where, (round(a * scale), round(b * scale)), 0, 0, 360, (235, 235, 235), -1)
    return Picture("plate.png", pixels, (dpi, dpi))


class TestFiles:
    def test_none(self, tmp_path: Path) -> None:
        refused(tmp_path / "no.png", "no such file; give the path")

    def test_folder(self, tmp_path: Path) -> None:
        refused(tmp_path, "this is a folder")

    @pytest.mark.parametrize("content", [b"", b"name = 'a'\n", b"\x00" * 5000, b"%PDF-1.4\n", bytes(range(256)) * 40])
    def test_not_a_picture(self, tmp_path: Path, content: bytes) -> None:
        (tmp_path / "a.png").write_bytes(content)
        refused(tmp_path / "a.png", "this is not a picture that can be read; save it as PNG, TIFF or JPEG")

    @pytest.mark.parametrize("suffix", ["png", "jpg", "tif", "bmp"])
    @pytest.mark.parametrize("share", [0.3, 0.7, 0.98])
    def test_truncated(self, tmp_path: Path, suffix: str, share: float) -> None:
        path = tmp_path / f"a.{suffix}"
        noise = np.random.default_rng(1).integers(0, 255, (200, 300, 3), dtype=np.uint8)
        Image.fromarray(noise).save(path, dpi=(300, 300))
        whole = path.read_bytes()
        path.write_bytes(whole[: int(share * len(whole))])
        refused(path, "cannot be (decoded|read); (copy it again|save it as)|not a picture that can be read")

    @pytest.mark.parametrize("megapixels", [120, 200, 2500])
    def test_too_large_is_refused_before_it_is_decoded(self, tmp_path: Path, megapixels: int) -> None:
        """A header alone, no pixels: had they been asked for, the file would be truncated."""
        wide, high = megapixels * 100, 10_000
        stream = Path(tmp_path / "a.png")
        ihdr = b"IHDR" + wide.to_bytes(4, "big") + high.to_bytes(4, "big") + bytes([8, 2, 0, 0, 0])
        import zlib

        chunk = (13).to_bytes(4, "big") + ihdr + zlib.crc32(ihdr).to_bytes(4, "big")
        idat = b"IDAT" + zlib.compress(b"")
        more = (len(idat) - 4).to_bytes(4, "big") + idat + zlib.crc32(idat).to_bytes(4, "big")
        stream.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk + more)
        refused(stream, "million; scan at 300 dpi, or crop it")

    def test_large_is_shrunk_with_its_scale(self, tmp_path: Path) -> None:
        path = tmp_path / "a.jpg"
        Image.new("L", (9000, 6000), 200).save(path, dpi=(600, 600))
        assert MOST_PIXELS > 9000 * 6000
        seen = read_picture(path)
        assert (seen.shrunk, seen.pixels.shape) == (2, (3000, 4500, 3))
        assert seen.dpi == pytest.approx((300.0, 300.0))

    @pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "CMYK", "I;16"])
    def test_every_mode_is_read(self, tmp_path: Path, mode: str) -> None:
        path = tmp_path / ("a.tif" if mode in ("CMYK", "I;16") else "a.png")
        if mode == "I;16":
            Image.fromarray(np.full((40, 60), 51200, np.uint16)).save(path)
        else:
            Image.new("L", (60, 40), 200).convert(mode).save(path)
        assert read_picture(path).pixels.shape == (40, 60, 3)
        assert abs(float(read_picture(path).pixels.mean()) - 200) < (60 if mode == "1" else 2)


class TestScale:
    def test_neither_dpi_nor_sheet(self) -> None:
        refused(Picture("a.png", GREY), "nothing tells its scale.*give --dpi.*rootgap trace --sheet")

    def test_a_photograph_without_the_sheet(self, tmp_path: Path) -> None:
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0x829A] = 0.01  # exposure time, s
        Image.fromarray(GREY).save(tmp_path / "a.jpg", exif=exif, dpi=(300, 300))
        refused(tmp_path / "a.jpg", "this is a photograph, and no marker.*rootgap trace --sheet sheet.pdf")

    def test_a_screens_dpi_is_not_believed(self, tmp_path: Path) -> None:
        Image.fromarray(GREY).save(tmp_path / "a.png", dpi=(72, 72))
        refused(tmp_path / "a.png", "nothing tells its scale")

    def test_a_sheet_that_is_half_hidden(self, maker: Any, short: FlangePart) -> None:
        hide = tuple(range(3, 14))
        pixels = maker.photographed(short, maker.Scene(dirt=0), size=(2000, 1500), hide=hide)
        refused(Picture("a.jpg", pixels), "only 3 markers of the calibration sheet can be read; show the whole sheet")


class TestParts:
    def test_a_straight_edge_is_no_fillet_without_end(self) -> None:
        """A plain bar's sides have no fillet between the bolts: what is written is one that a file may have."""
        bolts = [(x, y, 4.0, 4.0) for x in (20, 120, 220) for y in (22, 98)]
        seen = trace(plate((70, 60, 18, 18), (170, 60, 18, 18), *bolts, dpi=200))
        assert len(seen.bolts) == 6
        read_back(flange_toml(seen, "bar", "bar.png", 8.0, "304L", "mm"), Path("bar.toml"))

    def test_nothing_on_it(self) -> None:
        rng = np.random.default_rng(3)
        noisy = np.clip(GREY + rng.normal(0, 8, GREY.shape), 0, 255).astype(np.uint8)
        shaded = np.round(GREY * np.linspace(1.0, 0.6, 1300)[None, :, None]).astype(np.uint8)
        specks = GREY.copy()
        cv2.circle(specks, (400, 300), 12, (20, 20, 20), -1)
        for pixels in (GREY, noisy, shaded, specks, np.zeros_like(GREY)):
            refused(Picture("a.png", pixels, (300, 300)), "no part is found.*; lay a dark part on white paper")

    def test_no_opening(self) -> None:
        refused(plate(), "no opening is found in the part")

    def test_only_bolt_holes(self) -> None:
        refused(plate((20, 20, 1.5, 1.5), dpi=200), "no opening is found in the part")

    def test_off_the_picture(self) -> None:
        whole = plate((60, 60, 18, 15), (180, 60, 18, 15), (20, 60, 4.5, 4.5), (220, 60, 4.5, 4.5), dpi=200)
        cut = Picture("a.png", np.ascontiguousarray(whole.pixels[:, 400:]), whole.dpi)
        refused(cut, "the part runs off the picture; lay it whole")

    def test_ports_that_overlap(self) -> None:
        refused(
            plate((60, 60, 18, 18), (90, 60, 18, 18), (180, 60, 18, 15), dpi=200),
            "two ports overlap, in the opening at",
        )

    def test_a_bolt_hole_in_a_port(self) -> None:
        refused(plate((60, 60, 18, 18), (80, 60, 4.5, 4.5), (180, 60, 18, 15), dpi=200), "a bolt hole runs into a port")

    def test_ports_whose_fits_overlap(self, maker: Any, part: FlangePart) -> None:
        """A crescent beside a port: its nearest kind reaches into the port."""
        picture = plate((60, 60, 25, 25), (180, 60, 18, 15), (20, 20, 4.5, 4.5), (220, 20, 4.5, 4.5), dpi=200)
        scale = 200 / 25.4
        where = round(80 * scale), round(80 * scale)
        cv2.ellipse(picture.pixels, where, (round(40 * scale),) * 2, 0, -60, 60, (235, 235, 235), round(14 * scale))
        refused(picture, "overlap")


class TestCommand:
    def command(self, monkeypatch: pytest.MonkeyPatch, *words: str | Path) -> int:
        monkeypatch.setattr(sys, "argv", ["rootgap", "trace", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        return int(left.value.code or 0)

    @pytest.fixture
    def scan(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.chdir(tmp_path)
        seen = plate((60, 60, 18, 18), (180, 60, 18, 18), (20, 60, 4.5, 4.5), (220, 60, 4.5, 4.5), dpi=150)
        Image.fromarray(seen.pixels).save("Head (left).png", dpi=(150, 150))
        return Path("Head (left).png")

    def test_writes_a_file_that_is_checked_and_a_drawing(
        self, scan: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert self.command(monkeypatch, scan) == 0
        said = capsys.readouterr()
        assert said.out.startswith("Traced 2 ports and 2 bolt holes, 240")
        assert "Measure the head, not only the gasket" in said.out
        assert (Path("head-left.toml").is_file(), Path("head-left-traced.png").is_file()) == (True, True)
        # A second time nothing of what may have been edited is lost.
        assert self.command(monkeypatch, scan) == 2
        assert "name another with --out" in capsys.readouterr().err
        assert self.command(monkeypatch, scan, "--out", "b.toml", "--json") == 0
        assert '"diameter"' in capsys.readouterr().out

    @pytest.mark.parametrize(
        ("words", "text"),
        [
            (["no.png"], "no.png: no such file; give the path of a scan or a photograph"),
            (["Head (left).png", "--dpi", "5"], "--dpi 5 is no scanner's; allowed: 50 to 4800 dots an inch"),
            (["Head (left).png", "--dpi", "nan"], "--dpi nan is no scanner's; allowed"),
            (["Head (left).png", "--material", "chees"], "'chees': no such material; nearest"),
            (["Head (left).png", "--thickness", "9 furlongs"], "unit 'furlongs' is none of"),
            (["Head (left).png", "--thickness", "0"], "what is found is no flange: thickness: allowed"),
            (["Head (left).png", "--units", "cm"], "--units"),
            (["Head (left).png", "--picture", "Head (left).png"], "it is the picture that is traced"),
            (["Head (left).png", "--out", "a.txt"], "--out: a.txt: allowed: a file that ends in .toml"),
            (["Head (left).png", "--picture", "a.jpg"], "--picture: a.jpg: allowed: a file that ends in .png"),
            (["--sheet", "a.doc"], "--sheet: a.doc: allowed: a file that ends in .pdf"),
            (["Head (left).png", "--sheet", "a.pdf"], "give an IMAGE to trace, or --sheet FILE.pdf"),
            ([], "give an IMAGE to trace, or --sheet FILE.pdf"),
        ],
    )
    def test_one_line_and_exit_code_two(
        self,
        scan: Path,
        monkeypatch: pytest.MonkeyPatch,
        capsys: pytest.CaptureFixture[str],
        words: list[str],
        text: str,
    ) -> None:
        assert self.command(monkeypatch, *words) == 2
        said = capsys.readouterr()
        assert (said.out, said.err.count("\n")) == ("", 1)
        assert text in said.err
        assert not list(Path.cwd().glob("*.toml"))

    def test_the_vision_library_is_loaded_where_it_is_used(self) -> None:
        script = "import sys, rootgap.cli, rootgap.trace, rootgap.trace.job; print('cv2' in sys.modules)"
        done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
        assert done.stdout == "False\n"


def test_no_file_is_left_where_the_drawing_cannot_be_written(tmp_path: Path) -> None:
    from rootgap.trace.job import TraceJob

    Image.fromarray(plate((60, 60, 18, 18), (20, 60, 4.5, 4.5), (220, 60, 4.5, 4.5)).pixels).save(tmp_path / "a.png")
    (tmp_path / "file").write_text("")
    job = TraceJob(
        tmp_path / "a.png", tmp_path / "a.toml", tmp_path / "file" / "b.png", 100.0, 12.0, "304L", "mm", (100.0, 100.0)
    )
    with pytest.raises(WriteError):
        job.run(mirror=False, turn=False)
    assert not (tmp_path / "a.toml").exists()
