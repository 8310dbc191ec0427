"""Every wrong file beside this one is refused with the text beside it, by Python and by the command.

A case is NAME.toml and NAME.txt; parts/ holds the wrong parts that some of them use. Paths in the
texts are those that a person in this folder sees.
"""

from __future__ import annotations

import json
import pickle
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import rootgap
from rootgap import cli
from rootgap.errors import InputErrors, RootgapError

HERE = Path(__file__).parent
CASES = sorted(HERE.glob("*.toml"))
#: Words of the validator's and of Python's, which mean nothing to who wrote the file.
STRANGE = re.compile(
    r"pydantic|Input should|union|discriminator|ValidationError|validat|<text>|None\b|datetime|NoneType|"
    r"\bdict\b|\blist\b|\btuple\b|Traceback|Errno|another kind of value"
)


@pytest.fixture(autouse=True)
def here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(HERE)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The last good build: what each refusal must leave as it is."""
    out = tmp_path_factory.mktemp("good")
    rootgap.load(HERE / "right" / "case.toml").templates(out)
    return out


def contents(folder: Path) -> dict[str, bytes]:
    """Every file below `folder`, hidden ones too, and every folder."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"folder"
        for path in sorted(folder.rglob("*"))
    }


def command(monkeypatch: pytest.MonkeyPatch, *words: str) -> int:
    """Run the command in this process and return its exit code."""
    monkeypatch.setattr(sys, "argv", ["rootgap", *words])
    with pytest.raises(SystemExit) as left:
        cli.main()
    assert isinstance(left.value.code, int)
    return left.value.code


def refusal(file: Path) -> RootgapError:
    """What the Python interface says of `file`."""
    with pytest.raises(RootgapError) as caught:
        _ = rootgap.load(file).joints
    return caught.value


def test_there_is_a_text_beside_every_case_and_a_case_beside_every_text() -> None:
    assert {path.stem for path in CASES} == {path.stem for path in HERE.glob("*.txt")}
    assert len(CASES) > 150


@pytest.mark.parametrize("case", CASES, ids=lambda path: path.stem)
def test_wrong_file(
    case: Path, good: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    expected = case.with_suffix(".txt").read_text(encoding="utf-8").removesuffix("\n")
    fault = refusal(Path(case.name))
    assert str(fault) == expected
    assert fault.exit_code == 2
    assert str(pickle.loads(pickle.dumps(fault))) == expected
    assert not STRANGE.search(expected)

    out = tmp_path / "out"
    shutil.copytree(good, out)
    for verb in ("check", "templates", "build"):
        where = [] if verb == "check" else ["--out", str(out)]
        assert command(monkeypatch, verb, case.name, *where) == 2
        said = capsys.readouterr()
        assert (said.out, said.err) == ("", expected + "\n")
    assert contents(out) == contents(good)

    nowhere = tmp_path / "nowhere"
    assert command(monkeypatch, "build", case.name, "--out", str(nowhere), "--json") == 2
    said = capsys.readouterr()
    answer = json.loads(said.out)
    assert (answer["text"], answer["exit_code"], said.err) == (expected, 2, "")
    if isinstance(fault, InputErrors):
        assert [each["key"] for each in answer["faults"]] == [each.key for each in fault.faults]
    assert not nowhere.exists()


@pytest.mark.parametrize("case", ["many-at-once", "key-twice", "geometry-passes"])
def test_wrong_file_in_a_process_of_its_own(case: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "rootgap", "templates", f"{case}.toml", "--out", str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=False,
        env={"PYTHONPATH": str(HERE.parent.parent), "PATH": "", "PYTHONUTF8": "1"},
    )
    expected = (HERE / f"{case}.txt").read_text(encoding="utf-8")
    assert (done.returncode, done.stdout, done.stderr) == (2, "", expected)
    assert not (tmp_path / "out").exists()


def test_every_fault_of_an_input_names_its_file_and_its_line() -> None:
    """A key that is missing at the top of a file has no line, nor has a file that cannot be read."""
    for case in CASES:
        fault = refusal(case)
        for each in fault.faults if isinstance(fault, InputErrors) else ():
            assert each.file.endswith(".toml")
            assert each.line or not re.search(r"[.\[]", each.key), each
            if each.line:
                path = Path(each.file)
                assert each.line <= path.read_bytes().count(b"\n") + 1


def test_the_right_file_beside_the_wrong_ones_is_right() -> None:
    assert all(finding.verdict == "pass" for finding in rootgap.load(HERE / "right" / "case.toml").checks())


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("", "\ufeff"),  # a byte order mark
        ("\n", "\r\n"),
        ("\n", " # of mine\n"),
    ],
)
def test_what_some_editors_do_to_a_right_file_is_taken(old: str, new: str, tmp_path: Path) -> None:
    for file in ("case.toml", "parts/head.toml"):
        text = (HERE / "right" / file).read_text(encoding="utf-8")
        changed = new + text if not old else text.replace(old, new)
        (tmp_path / file).parent.mkdir(exist_ok=True)
        (tmp_path / file).write_bytes(changed.encode())
    manifold = rootgap.load(tmp_path / "case.toml")
    assert len(manifold.joints) == len(rootgap.load(HERE / "right" / "case.toml").joints)
