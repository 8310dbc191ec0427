"""The rules of the house, held by machine: who imports whom, what is loaded when, how code reads."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

ROOT = Path(__file__).parent.parent
CODE = ROOT / "rootgap"
#: What the flat half of a build may not load, for it takes seconds, or is not needed.
HEAVY = ("cadquery", "OCP", "vtkmodules", "scipy", "shapely", "trimesh", "rich", "jsonschema", "hypothesis")
#: A figure's docstring names one of these.
UNIT = re.compile(
    r"\bmm[234]?\b|\bdegrees?\b|\bradians?\b|\bkg\b|\bkg/m3?\b|\bno unit\b|\bshare\b|\bpoints\b|\bbase units\b|"
    r"\bunit\b|\bdirections?\b|\bcharacters\b|\bseconds?\b"
)
FLOATS = re.compile(r"\bfloat\b|\bArray\b|\bNDArray\b|\bArrayLike\b|\bPoint[23]?\b")

Function = ast.FunctionDef | ast.AsyncFunctionDef


def python(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *words],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **more},
    )


class TestImports:
    def test_rooms_are_built_on_each_other_in_one_order(
        self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        monkeypatch.chdir(ROOT)
        monkeypatch.syspath_prepend(str(ROOT))
        code = lint_imports(config_filename=str(ROOT / "pyproject.toml"), no_cache=True)
        assert code == 0, capsys.readouterr().out

    def test_templates_load_no_kernel(self, demo: Path, tmp_path: Path) -> None:
        """In a cold process, told by the interpreter itself."""
        script = (
            "import sys\n"
            "from rootgap.cli import main\n"
            f"sys.argv = ['rootgap', 'templates', {str(demo)!r}, '--out', {str(tmp_path)!r}, '--quiet']\n"
            "try:\n"
            "    main()\n"
            "except SystemExit as left:\n"
            "    import json\n"
            "    print(json.dumps([left.code, sorted(sys.modules)]))\n"
        )
        done = python("-c", script)
        code, modules = json.loads(done.stdout)
        assert code == 0, done.stderr
        assert {name.partition(".")[0] for name in modules} & set(HEAVY) == set()
        assert "reportlab" in modules, "the templates were not written"

    def test_the_interpreters_own_list_agrees(self, demo: Path, tmp_path: Path) -> None:
        done = python("-X", "importtime", "-m", "rootgap", "templates", str(demo), "--out", str(tmp_path))
        assert done.returncode == 0
        loaded = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
        assert "numpy" in loaded
        assert loaded & set(HEAVY) == set()

    @pytest.mark.parametrize("verb", [("check",), ("stock", "1-1/2"), ("--help",)])
    def test_quick_commands_write_and_load_little(self, verb: tuple[str, ...], demo: Path) -> None:
        words = [*verb, str(demo)] if verb == ("check",) else [*verb]
        done = python("-X", "importtime", "-m", "rootgap", *words)
        assert done.returncode == 0
        loaded = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
        assert loaded & {*HEAVY, "reportlab", "ezdxf"} == set()


class TestReading:
    def test_ruff(self) -> None:
        done = python("-m", "ruff", "check", "--no-cache", "--output-format", "concise", "rootgap", "tests")
        assert done.returncode == 0, done.stdout + done.stderr

    def test_mypy(self) -> None:
        done = python("-m", "mypy")
        assert done.returncode == 0, done.stdout + done.stderr

    def test_every_rule_left_out_says_why(self) -> None:
        """Each line of the list has its reason, or stands under one that gives it."""
        text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
        table = text.partition("[tool.ruff.lint]")[2].partition("\n]\n")[0]
        rules = re.findall(r'^    "[A-Z]+\d*",(.*)$', table, re.MULTILINE)
        assert len(rules) > 10
        assert rules[0].strip()
        assert sum(bool(reason.strip()) for reason in rules) > 0.5 * len(rules)


def functions() -> Iterator[tuple[str, Function, str]]:
    """Yield (where, function, the docstring of its class) of everything public, inner functions left out."""
    for path in sorted(CODE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in tree.body:
            place = path.relative_to(ROOT)
            if isinstance(node, Function) and not node.name.startswith("_"):
                yield f"{place}:{node.lineno} {node.name}", node, ""
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                about = ast.get_docstring(node) or ""
                for inner in node.body:
                    if isinstance(inner, Function) and not inner.name.startswith("_"):
                        yield f"{place}:{inner.lineno} {node.name}.{inner.name}", inner, about


def overrides_or_overloads(function: Function) -> bool:
    return any(ast.unparse(mark).endswith("overload") for mark in function.decorator_list)


class TestDocstrings:
    def test_every_module_and_class_has_one(self) -> None:
        bare = []
        for path in sorted(CODE.rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            classes = [node for node in tree.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_")]
            bare += [f"{path.relative_to(ROOT)} {node.name}" for node in classes if not ast.get_docstring(node)]
            if not ast.get_docstring(tree):
                bare.append(str(path.relative_to(ROOT)))
        assert bare == []

    def test_every_public_function_has_one(self) -> None:
        bare = [where for where, node, _ in functions() if not ast.get_docstring(node)]
        assert bare == []

    def test_every_figure_has_a_unit(self) -> None:
        """A function that takes or gives floats or arrays, or its class, says in what unit they are."""
        bare = []
        for where, node, about in functions():
            kinds = [argument.annotation for argument in (*node.args.args, *node.args.kwonlyargs)] + [node.returns]
            figures = any(kind is not None and FLOATS.search(ast.unparse(kind)) for kind in kinds)
            if figures and not UNIT.search(f"{ast.get_docstring(node)} {about}"):
                bare.append(where)
        assert bare == []

    def test_every_error_that_is_told_is_raised(self) -> None:
        """`Raises X` names a class that there is."""
        from rootgap import errors

        known = {*dir(errors), *dir(__builtins__ if not isinstance(__builtins__, dict) else object), *__builtins__}
        for where, node, _ in functions():
            for name in re.findall(r"Raises:? ([A-Z]\w+)", ast.get_docstring(node) or ""):
                assert name in known, where


class TestWords:
    def test_printing_is_the_commands(self) -> None:
        """The linter holds this too; here it holds what is behind a noqa."""
        for path in CODE.rglob("*.py"):
            if path.name != "cli.py":
                calls = [node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if _prints(node)]
                assert calls == [], path

    def test_no_python_in_the_folders_of_parameter_files(self) -> None:
        for folder in ("parts", "assemblies"):
            assert {path.suffix for path in (ROOT / folder).rglob("*") if path.is_file()} <= {".toml", ".md"}


def _prints(node: ast.AST) -> bool:
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
