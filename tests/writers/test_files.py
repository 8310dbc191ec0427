"""A folder is swapped in whole or not at all, whatever happens on the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import rootgap
from rootgap.errors import KernelError, WriteError
from rootgap.kept import Kept
from rootgap.writers import build
from rootgap.writers.files import MANIFEST, listed, recover, swapped_in, write_bytes

ROOT = Path(__file__).parent.parent.parent


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below `folder` and every folder, hidden ones too."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"folder"
        for path in sorted(folder.rglob("*"))
    }


#: The manifests of the last good build and of a new one.
LAST = b'{"files": [{"path": "flat/a.dxf"}]}'
FRESH = b'{"files": [{"path": "b.csv"}]}'


@pytest.fixture
def last(tmp_path: Path) -> Path:
    """A last good build."""
    folder = tmp_path / "out" / "case"
    with swapped_in(folder) as partial:
        write_bytes(partial / MANIFEST, LAST)
        write_bytes(partial / "flat" / "a.dxf", b"old")
    return folder


def write_new(partial: Path) -> None:
    write_bytes(partial / MANIFEST, FRESH)
    write_bytes(partial / "b.csv", b"new")


OLD = {"case": b"folder", "case/flat": b"folder", "case/flat/a.dxf": b"old", f"case/{MANIFEST}": LAST}
NEW = {"case": b"folder", "case/b.csv": b"new", f"case/{MANIFEST}": FRESH}


class TestSwap:
    def test_new_for_old(self, last: Path) -> None:
        assert contents(last.parent) == OLD
        with swapped_in(last) as partial:
            assert partial.parent == last.parent
            assert list(partial.iterdir()) == []
            write_new(partial)
            assert {path: data for path, data in contents(last.parent).items() if path in OLD} == OLD
        assert contents(last.parent) == NEW

    def test_first_build_makes_the_folders_above(self, tmp_path: Path) -> None:
        with swapped_in(tmp_path / "a" / "b" / "case") as partial:
            write_new(partial)
        assert contents(tmp_path / "a" / "b") == NEW

    @pytest.mark.parametrize("fault", [KernelError("a", "b"), RuntimeError("x"), KeyboardInterrupt(), SystemExit(1)])
    def test_a_fault_leaves_the_old(self, last: Path, fault: BaseException) -> None:
        with pytest.raises(type(fault)), swapped_in(last) as partial:
            write_new(partial)
            raise fault
        assert contents(last.parent) == OLD

    def test_a_fault_of_the_first_build_leaves_nothing(self, tmp_path: Path) -> None:
        with pytest.raises(RuntimeError), swapped_in(tmp_path / "a" / "b" / "case") as partial:
            write_new(partial)
            raise RuntimeError
        assert list(tmp_path.iterdir()) == []

    def test_a_full_disk_is_told_by_the_place_that_a_person_knows(self, last: Path) -> None:
        with pytest.raises(WriteError) as caught, swapped_in(last) as partial:
            raise WriteError(str(partial / "b.csv"), "no space left on device")
        assert caught.value.path == str(last / "b.csv")
        assert contents(last.parent) == OLD

    def test_any_fault_of_the_disk_is_a_write_error(self, last: Path) -> None:
        with pytest.raises(WriteError, match=r"case: cannot be written: no space left"), swapped_in(last):
            raise OSError(28, "No space left on device")
        assert contents(last.parent) == OLD

    @pytest.mark.parametrize("fault", [OSError(5, "Input/output error"), KeyboardInterrupt()])
    @pytest.mark.parametrize("at", [0, 1])
    def test_a_fault_at_either_rename_leaves_the_old(
        self, last: Path, monkeypatch: pytest.MonkeyPatch, fault: BaseException, at: int
    ) -> None:
        rename, calls = Path.rename, []

        def failing(self: Path, target: Path) -> Path:
            calls.append(target)
            if len(calls) == at + 1:
                raise fault
            return rename(self, target)

        monkeypatch.setattr(Path, "rename", failing)
        with pytest.raises((WriteError, KeyboardInterrupt)), swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == OLD


class TestTheirs:
    """What a person put into a build outlives the next."""

    def test_files_of_a_person_are_carried_over(self, last: Path) -> None:
        write_bytes(last / "notes.txt", b"mine")
        write_bytes(last / "flat" / "nested.dxf", b"mine")
        with swapped_in(last) as partial:
            write_new(partial)
        theirs = {"case/notes.txt": b"mine", "case/flat": b"folder", "case/flat/nested.dxf": b"mine"}
        assert contents(last.parent) == NEW | theirs
        with swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == NEW | theirs

    def test_a_new_file_of_that_name_is_not_overwritten_and_neither_is_lost(self, last: Path) -> None:
        write_bytes(last / "b.csv", b"mine")
        with swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == NEW | {"case/b.csv.kept": b"mine"}

    def test_a_link_stays_a_link(self, last: Path, tmp_path: Path) -> None:
        write_bytes(tmp_path / "photos" / "1.jpg", b"mine")
        (last / "photos").symlink_to(tmp_path / "photos")
        (last / "gone").symlink_to(tmp_path / "gone")
        with swapped_in(last) as partial:
            write_new(partial)
        assert (last / "photos").is_symlink() and (last / "photos" / "1.jpg").read_bytes() == b"mine"
        assert (last / "gone").is_symlink()

    def test_where_the_manifest_cannot_be_read_all_is_kept(self, last: Path) -> None:
        write_bytes(last / MANIFEST, b"torn")
        assert listed(last) == ()
        with swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == NEW | {"case/flat": b"folder", "case/flat/a.dxf": b"old"}

    def test_a_fault_on_the_way_loses_nothing(self, last: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        write_bytes(last / "notes.txt", b"mine")

        def failing(*_: object, **__: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr("rootgap.writers.files.shutil.copy2", failing)
        with pytest.raises(WriteError, match="no space left"), swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == OLD | {"case/notes.txt": b"mine"}

    def test_over_a_whole_build(self, manifold: rootgap.Manifold, tmp_path: Path) -> None:
        built = manifold.templates(tmp_path)
        write_bytes(built.folder / "notes.txt", b"mine")
        before = contents(tmp_path)
        manifold.templates(tmp_path)
        assert contents(tmp_path) == before


class TestRecover:
    def test_killed_between_two_renames(self, last: Path) -> None:
        last.rename(last.with_name(".case.previous"))
        recover(last)
        assert contents(last.parent) == OLD

    def test_killed_after_both_renames(self, last: Path) -> None:
        last.rename(last.with_name(".case.previous"))
        write_new(last)
        recover(last)
        assert contents(last.parent) == NEW

    def test_what_a_dead_process_left_goes(self, last: Path) -> None:
        dead = subprocess.Popen([sys.executable, "-c", ""])
        dead.wait()
        write_bytes(last.with_name(f".case.{dead.pid}.partial") / "x", b"half")
        recover(last)
        assert contents(last.parent) == OLD

    def test_what_a_living_process_is_writing_stays(self, last: Path) -> None:
        with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as living:
            theirs = last.with_name(f".case.{living.pid}.partial")
            write_bytes(theirs / "x", b"half")
            recover(last)
            assert (theirs / "x").is_file()

    def test_other_builds_are_left_alone(self, last: Path) -> None:
        dead = subprocess.Popen([sys.executable, "-c", ""])
        dead.wait()
        others = [
            last.with_name(f".case.two.{dead.pid}.partial"),
            last.with_name(f".other.{dead.pid}.partial"),
            last.with_name(".other.previous"),
            last.with_name(".case.x.partial"),
        ]
        for other in others:
            write_bytes(other / "x", b"")
        recover(last)
        assert all(other.is_dir() for other in others)

    def test_links_are_taken_away_and_not_followed(self, last: Path, tmp_path: Path) -> None:
        write_bytes(tmp_path / "mine" / "x", b"mine")
        last.with_name(".case.previous").symlink_to(tmp_path / "mine")
        with swapped_in(last) as partial:
            write_new(partial)
        assert contents(last.parent) == NEW
        assert (tmp_path / "mine" / "x").read_bytes() == b"mine"


class TestWhatIsNoBuild:
    @pytest.mark.parametrize("kind", ["file", "link", "folder"])
    def test_is_not_replaced(self, tmp_path: Path, kind: str) -> None:
        place = tmp_path / "case"
        if kind == "file":
            place.write_bytes(b"mine")
        elif kind == "link":
            place.symlink_to(tmp_path)
        else:
            write_bytes(place / "mine.txt", b"mine")
        before = sorted(path.name for path in tmp_path.iterdir())
        match = rf"a {kind} .*is in the way; move it, or choose --out$"
        with pytest.raises(WriteError, match=match), swapped_in(place):
            pytest.fail("the block may not begin")
        assert sorted(path.name for path in tmp_path.iterdir()) == before

    def test_an_empty_folder_is(self, tmp_path: Path) -> None:
        (tmp_path / "case").mkdir()
        with swapped_in(tmp_path / "case") as partial:
            write_new(partial)
        assert contents(tmp_path) == NEW


class TestBuild:
    """The same of a whole build: the demo's flat half."""

    @pytest.mark.parametrize("writer", ["dxf_bytes", "write_templates", "cutlist_bytes", "manifest_bytes"])
    def test_a_writer_that_fails(
        self, manifold: rootgap.Manifold, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writer: str
    ) -> None:
        built = manifold.templates(tmp_path)
        before = contents(tmp_path)

        def failing(*_: object, **__: object) -> bytes:
            raise WriteError("x", "no")

        monkeypatch.setattr(build, writer, failing)
        monkeypatch.setattr(build, "DXFS", Kept(1))
        with pytest.raises(WriteError):
            manifold.templates(tmp_path)
        assert contents(tmp_path) == before
        assert sorted(built.files) == sorted(
            str(path.relative_to(built.folder)) for path in built.folder.rglob("*") if path.is_file()
        )

    def test_the_last_step_that_fails(
        self, manifold: rootgap.Manifold, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        manifold.templates(tmp_path)
        before = contents(tmp_path)

        def failing(*_: object, **__: object) -> bytes:
            raise ZeroDivisionError

        monkeypatch.setattr(build, "manifest_bytes", failing)
        with pytest.raises(ZeroDivisionError):
            manifold.templates(tmp_path)
        assert contents(tmp_path) == before

    def test_killed_in_the_middle(self, demo: Path, tmp_path: Path) -> None:
        """SIGKILL lets nothing be tidied; the last build stands, and the next one tidies."""
        manifold = rootgap.load(demo)
        manifold.templates(tmp_path)
        before = contents(tmp_path)
        script = (
            "import sys, time, rootgap\n"
            "from rootgap.writers import build\n"
            "def stuck(*_):\n"
            "    print('here', flush=True)\n"
            "    time.sleep(60)\n"
            "build.cutlist_bytes = stuck\n"
            "rootgap.load(sys.argv[1]).templates(sys.argv[2])\n"
        )
        with subprocess.Popen(
            [sys.executable, "-c", script, str(demo), str(tmp_path)],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        ) as process:
            assert process.stdout
            assert process.stdout.readline() == b"here\n"
            half = tmp_path / f".sand-rail-four.{process.pid}.partial"
            assert (half / "templates.pdf").is_file()
            process.send_signal(signal.SIGKILL)
        assert process.returncode == -signal.SIGKILL
        assert half.is_dir()
        assert {path: data for path, data in contents(tmp_path).items() if path in before} == before
        manifold.templates(tmp_path)
        assert contents(tmp_path) == before

    @pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)])
    def test_interrupted_in_the_middle(self, demo: Path, tmp_path: Path, sent: signal.Signals, code: int) -> None:
        """Ctrl-C, or a word to end, leaves the last build, no half of a new one, and the shell's exit code."""
        rootgap.load(demo).templates(tmp_path)
        before = contents(tmp_path)
        # A parent in the background ignores Ctrl-C, and what it starts would do the same.
        script = (
            "import signal, sys, time\n"
            "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
            "from rootgap import cli\n"
            "from rootgap.writers import build\n"
            "def stuck(*_):\n"
            "    print('here', flush=True)\n"
            "    time.sleep(60)\n"
            "build.cutlist_bytes = stuck\n"
            "sys.argv = ['rootgap', 'templates', sys.argv[1], '--out', sys.argv[2]]\n"
            "cli.main()\n"
        )
        with subprocess.Popen(
            [sys.executable, "-c", script, str(demo), str(tmp_path)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        ) as process:
            assert process.stdout
            assert process.stdout.readline() == b"here\n"
            process.send_signal(sent)
            out, err = process.communicate(timeout=20)
        assert (process.returncode, out, err) == (code, b"", b"stopped; what was written before stands as it was\n")
        assert contents(tmp_path) == before


def test_write_bytes_names_the_file(tmp_path: Path) -> None:
    write_bytes(tmp_path / "a", b"")
    with pytest.raises(WriteError) as caught:
        write_bytes(tmp_path / "a" / "b", b"")
    assert caught.value.path == str(tmp_path / "a" / "b")
