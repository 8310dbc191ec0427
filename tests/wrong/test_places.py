"""Wrong inputs that no file beside this one can be: folders, links, devices, endless lists, bad places to write."""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

import pytest

import rootgap
from rootgap import cli
from rootgap.errors import InputErrors, WriteError
from rootgap.spec import load_part
from rootgap.spec.source import LARGEST_FILE

HERE = Path(__file__).parent
RIGHT = (HERE / "right" / "case.toml").read_text(encoding="utf-8")
PART = (HERE / "right" / "parts" / "head.toml").read_text(encoding="utf-8")
#: A wrong file of any size is answered within this, s.
ANSWER = 1.0


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A workspace with the right file in it, and the working folder."""
    folder = tmp_path / "shop"
    (folder / "parts").mkdir(parents=True)
    (folder / "case.toml").write_text(RIGHT, encoding="utf-8")
    (folder / "parts" / "head.toml").write_text(PART, encoding="utf-8")
    monkeypatch.chdir(folder)
    return folder


def said(path: str | Path) -> str:
    with pytest.raises(InputErrors) as caught:
        rootgap.load(path)
    return str(caught.value)


def refused(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


class TestFiles:
    def test_folder(self, shop: Path) -> None:
        assert said("parts") == "parts: found a folder; allowed: a parameter file"

    def test_missing_with_the_nearest(self, shop: Path) -> None:
        assert said("csae.toml") == "csae.toml: no such file; did you mean case.toml?"

    def test_missing_with_the_nearest_in_assemblies(self, shop: Path) -> None:
        (shop / "assemblies").mkdir()
        (shop / "assemblies" / "sand-rail.toml").write_text(RIGHT, encoding="utf-8")
        assert said("sand-rial") == "sand-rial: no such file; did you mean assemblies/sand-rail.toml?"

    def test_missing_with_nothing_near(self, shop: Path) -> None:
        assert said("parts/xyz") == "parts/xyz: no such file"

    def test_missing_outside_the_working_folder(self, shop: Path, tmp_path: Path) -> None:
        assert said(tmp_path / "none.toml") == f"{tmp_path}/none.toml: no such file"

    def test_missing_folder(self, shop: Path) -> None:
        assert said("no/such/case.toml") == "no/such/case.toml: no such file"

    def test_below_a_file(self, shop: Path) -> None:
        assert said("case.toml/x.toml") == "case.toml/x.toml: cannot be read: not a directory"

    def test_name_too_long(self, shop: Path) -> None:
        assert said("a" * 300).endswith(": cannot be read: file name too long")

    def test_name_with_a_zero_byte(self, shop: Path) -> None:
        assert said("a\0b") == "a\\u0000b: cannot be read: embedded null byte"

    def test_name_that_a_terminal_would_act_on(self, shop: Path) -> None:
        assert said("\x1b[2J.toml") == "\\u001b[2J.toml: no such file"

    def test_name_of_bytes_that_are_no_text(self, shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
        assert said(os.fsdecode(b"\xff.toml")) == "\\udcff.toml: no such file"

    def test_loop_of_links(self, shop: Path) -> None:
        (shop / "a.toml").symlink_to("b.toml")
        (shop / "b.toml").symlink_to("a.toml")
        assert said("a.toml") == "a.toml: cannot be read: too many levels of symbolic links"

    def test_link_to_nothing(self, shop: Path) -> None:
        (shop / "a.toml").symlink_to("gone.toml")
        assert said("a.toml").startswith("a.toml: no such file")

    def test_device_and_pipe(self, shop: Path) -> None:
        os.mkfifo(shop / "pipe.toml")
        assert said("/dev/zero") == "/dev/zero: found a device or a pipe; allowed: a parameter file"
        assert said("pipe.toml") == "pipe.toml: found a device or a pipe; allowed: a parameter file"

    def test_not_for_reading(self, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def denied(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", denied)
        assert said("case.toml") == "case.toml: cannot be read: permission denied"

    def test_too_large(self, shop: Path) -> None:
        (shop / "case.toml").write_bytes(b"#" * (LARGEST_FILE + 1))
        assert said("case.toml") == f"case.toml: found more than {LARGEST_FILE} bytes; allowed: a parameter file"


class TestUse:
    """A used part lies in the workspace, however its path is written."""

    def use(self, shop: Path, path: str) -> str:
        (shop / "case.toml").write_text(RIGHT.replace("parts/head.toml", path), encoding="utf-8")
        return said("case.toml")

    def test_climbs_out(self, shop: Path) -> None:
        (shop.parent / "other.toml").write_text(PART, encoding="utf-8")
        text = self.use(shop, "../other.toml")
        assert text == (
            'case.toml:13: flange.head.use: found "../other.toml"; a used file may not lie outside the workspace'
        )

    def test_link_out(self, shop: Path) -> None:
        (shop.parent / "other.toml").write_text(PART, encoding="utf-8")
        (shop / "parts" / "link.toml").symlink_to(shop.parent / "other.toml")
        assert self.use(shop, "parts/link.toml").endswith("a used file may not lie outside the workspace")

    def test_linked_folder_out(self, shop: Path) -> None:
        (shop.parent / "others").mkdir()
        (shop.parent / "others" / "head.toml").write_text(PART, encoding="utf-8")
        (shop / "parts" / "more").symlink_to(shop.parent / "others")
        assert self.use(shop, "parts/more/head.toml").endswith("a used file may not lie outside the workspace")

    def test_loop_of_links(self, shop: Path) -> None:
        (shop / "parts" / "a.toml").symlink_to("b.toml")
        (shop / "parts" / "b.toml").symlink_to("a.toml")
        assert ' found "parts/a.toml"; cannot be read: ' in self.use(shop, "parts/a.toml")

    def test_absolute_inside_is_taken(self, shop: Path) -> None:
        (shop / "case.toml").write_text(
            RIGHT.replace("parts/head.toml", str(shop / "parts" / "head.toml")), encoding="utf-8"
        )
        assert len(rootgap.load("case.toml").assembly.flange["head"].port) == 2

    def test_workspace_reached_by_a_link_is_taken(self, shop: Path, tmp_path: Path) -> None:
        (tmp_path / "link").symlink_to(shop)
        assert len(rootgap.load(tmp_path / "link" / "case.toml").assembly.flange) == 2


class TestEndless:
    """Files far over every limit are answered in a second, with few lines."""

    def answer(self, path: Path) -> str:
        # The process's own time: how busy the machine is with other work does not count.
        begun = time.process_time()
        text = said(path)
        assert time.process_time() - begun < ANSWER
        assert text.count("\n") <= 20
        return text

    def test_ports(self, shop: Path) -> None:
        port = "[[port]]\nat = [0, 0]\nopening = { round = 30 }\n"
        (shop / "parts" / "head.toml").write_text(PART + port * 10_000, encoding="utf-8")
        text = self.answer(shop / "case.toml")
        assert text == "parts/head.toml:7: port: 10002 entries; allowed: at most 64 entries"

    def test_bolts_in_many_sets(self, shop: Path) -> None:
        bolts = f"[[bolts]]\nhole = 9\nat = [{', '.join(['[0, 0]'] * 200)}]\n"
        (shop / "parts" / "head.toml").write_text(PART + bolts * 40, encoding="utf-8")
        text = self.answer(shop / "case.toml")
        assert text == "parts/head.toml:14: bolts: 8006 holes in all; allowed: at most 256"

    def test_pieces(self, shop: Path) -> None:
        many = ", ".join(["{ straight = 1 }"] * 10_000)
        (shop / "case.toml").write_text(RIGHT.replace("{ straight = 220 }", many), encoding="utf-8")
        assert (
            self.answer(shop / "case.toml")
            == "case.toml:18: run.log.pieces: 10000 entries; allowed: at most 200 entries"
        )

    def test_wrong_pieces(self, shop: Path) -> None:
        many = ", ".join(["{ straight = -1 }"] * 10_000)
        (shop / "case.toml").write_text(RIGHT.replace("{ straight = 220 }", many), encoding="utf-8")
        assert self.answer(shop / "case.toml").endswith("and 9980 more faults")

    def test_runs(self, shop: Path) -> None:
        runs = "".join(
            f'[run.r{n}]\nstock = "lig"\nstart = "log.end"\npieces = [{{ straight = -1 }}]\n' for n in range(10_000)
        )
        (shop / "case.toml").write_text(RIGHT + runs, encoding="utf-8")
        assert self.answer(shop / "case.toml") == "case.toml:15: run: 10002 entries; allowed: at most 100"

    def test_unknown_keys(self, shop: Path) -> None:
        keys = "".join(f"key{n} = 1\n" for n in range(10_000))
        (shop / "case.toml").write_text(keys + RIGHT, encoding="utf-8")
        assert self.answer(shop / "case.toml").endswith("and 9980 more faults")

    @pytest.mark.parametrize("depth", [100, 400, 100_000])
    def test_nesting(self, shop: Path, depth: int) -> None:
        (shop / "case.toml").write_text(f"title = {'[' * depth}{']' * depth}\n" + RIGHT, encoding="utf-8")
        text = self.answer(shop / "case.toml")
        assert text.startswith("case.toml:") and text.endswith("nested too deep; allowed: 20 levels")

    def test_texts(self, shop: Path) -> None:
        (shop / "case.toml").write_text(f'colour = "{"x" * 900_000}"\n' + RIGHT, encoding="utf-8")
        assert len(self.answer(shop / "case.toml")) < 300


class TestPlacesToWrite:
    """A place that cannot be written is named, and nothing is left or lost there."""

    def test_out_is_a_file(
        self, shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (shop / "out").write_text("mine", encoding="utf-8")
        assert refused(monkeypatch, "templates", "case.toml") == 2
        assert capsys.readouterr().err == (
            "out/case: cannot be written: out is a file; choose another folder with --out\n"
        )
        assert (shop / "out").read_text(encoding="utf-8") == "mine"

    def test_the_builds_own_name_is_a_file(
        self, shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (shop / "out").mkdir()
        (shop / "out" / "case").write_text("mine", encoding="utf-8")
        assert refused(monkeypatch, "templates", "case.toml") == 2
        assert capsys.readouterr().err == (
            "out/case: cannot be written: a file of that name is in the way; move it, or choose --out\n"
        )
        assert [path.name for path in (shop / "out").iterdir()] == ["case"]
        assert (shop / "out" / "case").read_text(encoding="utf-8") == "mine"

    def test_a_folder_that_is_no_build_is_not_replaced(
        self, shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """An assembly called parts, built with --out . here, would take the place of parts/."""
        (shop / "case.toml").write_text(RIGHT.replace('"case"', '"parts"', 1), encoding="utf-8")
        assert refused(monkeypatch, "templates", "case.toml", "--out", ".") == 2
        assert capsys.readouterr().err == (
            "parts: cannot be written: a folder that is no build is in the way; move it, or choose --out\n"
        )
        assert [path.name for path in (shop / "parts").iterdir()] == ["head.toml"]

    def test_through_a_file(self, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        assert refused(monkeypatch, "templates", "case.toml", "--out", "case.toml/below/it") == 2
        assert (shop / "case.toml").read_text(encoding="utf-8") == RIGHT

    @pytest.mark.skipif(not Path("/proc/self").exists(), reason="this system has no /proc")
    def test_below_proc(
        self, shop: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        assert refused(monkeypatch, "templates", "case.toml", "--out", "/proc/self/here") == 2
        assert capsys.readouterr().err.startswith("/proc/self/here/case: cannot be written: ")

    def test_no_permission(self, shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def denied(self: Path, *_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied", str(self))

        monkeypatch.setattr(Path, "mkdir", denied)
        with pytest.raises(WriteError, match=r"^out/case: cannot be written: permission denied; "):
            rootgap.load("case.toml").templates("out")
        assert not (shop / "out").exists()


def test_the_right_part_is_right() -> None:
    assert load_part(HERE / "right" / "parts" / "head.toml").name == "head"


def test_an_assembly_is_no_part() -> None:
    with pytest.raises(InputErrors, match="this is an assembly; allowed here: a part"):
        load_part(HERE / "right" / "case.toml")
