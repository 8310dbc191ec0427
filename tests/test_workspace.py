"""A workspace of one's own: what is in it, that it works, and that nothing of a failed one is left."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import rootgap
from rootgap import workspace
from rootgap.errors import WriteError
from rootgap.spec.read import workspace as workspace_of
from rootgap.spec.schema import SCHEMAS, schema_text
from rootgap.workspace import new_workspace, starter


def test_what_is_in_it(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    assemblies = new_workspace(folder)
    assert sorted(path.name for path in folder.iterdir()) == [".rootgap", "assemblies", "out", "parts"]
    assert [path.name for path in assemblies] == sorted(path.name for path in (starter() / "assemblies").glob("*.toml"))
    assert [path.name for path in (folder / "out").iterdir()] == [".gitignore"]
    for name in workspace.FOLDERS:
        assert {path.name for path in (folder / name).iterdir()} == {path.name for path in (starter() / name).iterdir()}
        assert not list((folder / name).rglob("*.py"))


def test_an_editor_finds_the_schemas(tmp_path: Path) -> None:
    new_workspace(tmp_path)
    for path in tmp_path.glob("*/*.toml"):
        first = path.read_text(encoding="utf-8").partition("\n")[0]
        schema = (path.parent / first.removeprefix("#:schema ")).resolve()
        assert schema.name in SCHEMAS
        assert schema.read_text(encoding="utf-8") == schema_text(schema.name)


def test_every_assembly_in_it_has_its_patterns(tmp_path: Path) -> None:
    """Whole builds of the same files are tests of their own."""
    for path in new_workspace(tmp_path / "shop"):
        assert rootgap.load(path).patterns


def test_its_parts_are_its_own(tmp_path: Path) -> None:
    """A used file may not lie outside the workspace, and this folder is one."""
    (path, *_) = new_workspace(tmp_path / "shop")
    assert workspace_of(path) == tmp_path / "shop"


def test_an_empty_folder_and_the_working_folder_are_taken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    new_workspace(Path())
    assert (tmp_path / "assemblies").is_dir()


def test_folders_above_are_made(tmp_path: Path) -> None:
    assert new_workspace(tmp_path / "a" / "b")


@pytest.mark.parametrize("kind", ["folder", "hidden", "file", "link"])
def test_what_is_there_is_left_alone(tmp_path: Path, kind: str) -> None:
    place = tmp_path / "shop"
    if kind in ("folder", "hidden"):
        place.mkdir()
        (place / ("mine" if kind == "folder" else ".mine")).write_text("mine", encoding="utf-8")
        reason = "it is there already and not empty"
    else:
        if kind == "file":
            place.write_text("mine", encoding="utf-8")
        else:
            place.symlink_to(tmp_path / "nowhere")
        reason = "a file or a link of that name is there"
    before = sorted(path.name for path in tmp_path.rglob("*"))
    with pytest.raises(WriteError) as caught:
        new_workspace(place)
    assert str(caught.value) == f"{place}: cannot be written: {reason}; name a new folder"
    assert sorted(path.name for path in tmp_path.rglob("*")) == before


@pytest.mark.parametrize("there", [True, False])
def test_a_fault_on_the_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, there: bool) -> None:
    if there:
        (tmp_path / "a" / "shop").mkdir(parents=True)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(shutil, "copy", full)
    with pytest.raises(WriteError, match="cannot be written: no space left on device; name another folder"):
        new_workspace(tmp_path / "a" / "shop")
    assert [path.name for path in tmp_path.rglob("*")] == (["a", "shop"] if there else [])


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(WriteError, match="cannot be written: not a directory; name another folder"):
        new_workspace(tmp_path / "file" / "shop")
