"""The command: parse, call, print. Nothing is worked out here."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import rootgap
from rootgap.errors import RootgapError, UnitError

if TYPE_CHECKING:
    from rootgap.checks import Finding
    from rootgap.manifold import Built, Progress

app = typer.Typer(
    name="rootgap",
    help="Design a welded exhaust log manifold whose joints close to their root gap.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


class Paper(str, Enum):
    """Sheets that templates are printed on."""

    letter = "letter"
    a4 = "a4"


FileArgument = Annotated[Path, typer.Argument(help="parameter file of an assembly", metavar="FILE", show_default=False)]
OutOption = Annotated[Path, typer.Option("--out", help="folder to write below")]
PaperOption = Annotated[Paper, typer.Option("--paper", help="sheet for the templates")]
ThicknessOption = Annotated[
    str, typer.Option("--paper-thickness", help="a wrap develops on the outside diameter plus this", metavar="LENGTH")
]
BarX = Annotated[
    str, typer.Option("--bar-x", help="what the 100 mm bar across the sheet measured on your print", metavar="LENGTH")
]
BarY = Annotated[
    str, typer.Option("--bar-y", help="what the 100 mm bar up the sheet measured on your print", metavar="LENGTH")
]
JsonOption = Annotated[bool, typer.Option("--json", help="print the result as JSON")]
QuietOption = Annotated[bool, typer.Option("--quiet", "-q", help="print nothing but errors")]


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder to make", show_default=False)],
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Make a workspace of your own, with starter parts and assemblies to edit."""
    from rootgap.workspace import new_workspace

    assemblies = new_workspace(folder)
    if as_json:
        _print_json({"folder": str(folder), "assemblies": [str(path) for path in assemblies]})
    elif not quiet:
        _say(f"Made {folder} with {len(assemblies)} assembly to start from.")
        _say(f"Next: cd {folder}, edit {assemblies[0].relative_to(folder)}, then")
        _say(f"      rootgap build {assemblies[0].relative_to(folder)}")


@app.command()
def check(file: FileArgument, as_json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Validate a file, lay it out, and show its runs, joints and figures."""
    from rootgap.report import joint_rows, run_rows

    manifold = rootgap.load(file)
    findings = manifold.checks()
    if as_json:
        _print_json(
            {
                "name": manifold.layout.name,
                "runs": _records(run_rows(manifold.layout)),
                "joints": _records(joint_rows(manifold.joints)),
                "checks": [asdict(finding) for finding in findings],
            }
        )
    elif not quiet:
        _say(manifold.layout.title or manifold.layout.name)
        _table("Runs", run_rows(manifold.layout))
        _table("Joints", joint_rows(manifold.joints))
        _say_findings(findings)
        _say(f"Next: rootgap templates {file}   (flat parts, a second) or rootgap build {file}   (everything)")
    _leave(findings)


@app.command()
def templates(
    file: FileArgument,
    out: OutOption = Path("out"),
    paper: PaperOption = Paper.a4,
    paper_thickness: ThicknessOption = "0.10 mm",
    bar_x: BarX = "100 mm",
    bar_y: BarY = "100 mm",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Write the wrap templates, flange DXFs and cut list; no solids, so it takes a second."""
    setup = _setup(paper, paper_thickness, bar_x, bar_y)
    manifold = rootgap.load(file)
    built = manifold.templates(out, setup)
    _finish(built, as_json, quiet, f"rootgap build {file}   for the solids")


@app.command()
def build(
    file: FileArgument,
    out: OutOption = Path("out"),
    paper: PaperOption = Paper.a4,
    paper_thickness: ThicknessOption = "0.10 mm",
    bar_x: BarX = "100 mm",
    bar_y: BarY = "100 mm",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Write everything: templates, flange DXFs, cut list, STEP, STL, GLB and the manifest."""
    setup = _setup(paper, paper_thickness, bar_x, bar_y)
    manifold = rootgap.load(file)
    with _progress(shown=not (quiet or as_json)) as progress:
        built = manifold.build(out, setup, progress)
    _finish(built, as_json, quiet, f"print {built.folder / 'templates.pdf'} at actual size and measure its bars")


@app.command()
def stock(
    words: Annotated[list[str] | None, typer.Argument(help='what to look for, such as 1-1/2 "sch 10"')] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Search the tables of pipe, tube, fittings and materials."""
    from rootgap.stock import search

    rows = search(" ".join(words or []))
    if as_json:
        _print_json(_records([("table", "size", "figures", "source"), *rows]))
    elif not rows:
        _complain("nothing in the tables has all of these words; try a size alone, such as 1-1/2")
        raise typer.Exit(2)
    elif not quiet:
        _table("Stock", [("table", "size", "figures"), *(row[:3] for row in rows)])
        for source in dict.fromkeys(row[3] for row in rows):
            _say(f"Source: {source}")


def main() -> None:
    """Run the command; every deliberate error is one clear text and its own exit code."""
    as_json = "--json" in sys.argv
    try:
        app()
    except RootgapError as fault:
        if as_json:
            _print_json({"error": type(fault).__name__, "text": str(fault)})
        else:
            _complain(str(fault))
        sys.exit(fault.exit_code)
    except KeyboardInterrupt:
        _complain("stopped; the last build stands as it was")
        sys.exit(130)
    except BrokenPipeError:
        sys.exit(1)
    except Exception as fault:  # noqa: BLE001  the last line of defence: one line, not a traceback
        _complain(f"a fault of rootgap's own ({type(fault).__name__}: {fault}); please report it with the file")
        sys.exit(3)


def _setup(paper: Paper, thickness: str, bar_x: str, bar_y: str) -> rootgap.PrintSetup:
    lengths = [
        _option(name, text)
        for name, text in (("paper-thickness", thickness), ("bar-x", bar_x), ("bar-y", bar_y))
    ]
    try:
        return rootgap.PrintSetup(paper.value, *lengths)
    except ValueError as fault:
        raise typer.BadParameter(str(fault)) from None


def _option(name: str, text: str) -> float:
    from rootgap.units import length

    try:
        return length(float(text) if _is_number(text) else text, "mm")
    except UnitError as fault:
        raise typer.BadParameter(f"--{name}: {fault}") from None


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


@contextmanager
def _progress(*, shown: bool) -> Iterator[Progress | None]:
    """Yield a progress call that draws a bar on a terminal's error stream, or None."""
    if not shown or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda what, done, of: bar.update(task, description=what, completed=done, total=of)


def _finish(built: Built, as_json: bool, quiet: bool, following: str) -> None:
    if as_json:
        _print_json(
            {
                "folder": str(built.folder),
                "files": list(built.files),
                "checks": [asdict(finding) for finding in built.checks],
            }
        )
    elif not quiet:
        _say(f"Wrote {len(built.files)} files to {built.folder}")
        _say_findings(built.checks)
        _say(f"Next: {following}")
    _leave(built.checks)


def _say_findings(findings: Sequence[Finding]) -> None:
    failed = [finding for finding in findings if finding.verdict == "fail"]
    _say(f"{len(findings) - len(failed)} of {len(findings)} checks pass.")
    for finding in failed:
        _say(
            f"FAIL {finding.check}, {finding.subject}: {finding.value:.2f} {finding.unit}, "
            f"allowed {finding.limit:.2f}; {finding.advice} [{finding.source}]"
        )


def _leave(findings: Sequence[Finding]) -> None:
    if any(finding.verdict == "fail" for finding in findings):
        raise typer.Exit(1)


def _records(rows: Iterable[Sequence[str]]) -> list[dict[str, str]]:
    head, *body = rows
    return [dict(zip(head, row, strict=True)) for row in body]


def _table(title: str, rows: Iterable[Sequence[str]]) -> None:
    """Print rows, the head first, as plain columns."""
    rows = [tuple(row) for row in rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    _say(f"\n{title}")
    for number, row in enumerate(rows):
        _say("  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())
        if number == 0:
            _say("  " + "  ".join("-" * width for width in widths))
    _say("")


def _print_json(content: Any) -> None:
    print(json.dumps(content, indent=2, ensure_ascii=False))


def _say(text: str) -> None:
    print(text)


def _complain(text: str) -> None:
    print(text, file=sys.stderr)
