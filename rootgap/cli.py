"""The command: parse, call, print. Nothing is worked out here.

Results go to the output stream, errors and progress to the error stream. Exit code 0: done; 1: a
check failed; 2: the input was wrong; 3: our fault.
"""

from __future__ import annotations

import json
import math
import os
import re
import shlex
import signal
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from enum import Enum
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import rootgap
from rootgap.errors import InputErrors, RootgapError, StockError, UnitError

if TYPE_CHECKING:
    from rootgap.checks import Finding
    from rootgap.manifold import Built, Progress
    from rootgap.search import Search
    from rootgap.spec import FlangePart

app = typer.Typer(
    name="rootgap",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


#: What the shell says of a process stopped from the keyboard, of one told to end, and of one whose reader went away.
STOPPED = 130
TERMINATED = 143
PIPE_CLOSED = 141
#: The option parser's base of everything that is wrong with a command line.
UsageFault: type[Exception] = typer.BadParameter.__bases__[0]


class Paper(str, Enum):  # noqa: UP042  typer shows and takes the values of such a class on every Python we run on
    """Sheets that templates are printed on."""

    letter = "letter"
    a4 = "a4"


class Units(str, Enum):  # noqa: UP042  as above
    """Units of a parameter file."""

    mm = "mm"
    inch = "in"


class Drawn(str, Enum):  # noqa: UP042
    """Units of a drawing."""

    auto = "auto"
    mm = "mm"
    inch = "in"
    cm = "cm"
    m = "m"


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


class _Terminated(BaseException):
    """The system told this process to end."""


class _StoppedAndTold(BaseException):
    """A search was stopped from the keyboard, and has told what it found."""


def _show_version(asked: bool) -> None:
    if asked:
        _say(f"rootgap {rootgap.__version__}")
        raise typer.Exit


VersionOption = Annotated[
    bool, typer.Option("--version", help="print the version", callback=_show_version, is_eager=True)
]


@app.callback(invoke_without_command=True)
def start(context: typer.Context, _version: VersionOption = False) -> None:
    """Design a welded exhaust log manifold whose joints close to their root gap.

    Start with: rootgap new my-shop
    """
    if context.invoked_subcommand is None:
        _say(context.get_help())


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="folder to make", show_default=False)],
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Make a workspace of your own to start from.

    It gets parts/ and assemblies/ with a demo to edit.

    Example: rootgap new my-shop
    """
    from rootgap.workspace import new_workspace

    assemblies = new_workspace(folder)
    if as_json:
        _print_json({"folder": str(folder), "assemblies": [str(path) for path in assemblies]})
    elif not quiet:
        first = _quoted(assemblies[0].relative_to(folder))
        _say(f"Made {folder} with {_count(len(assemblies), 'assembly', 'assemblies')} to start from.")
        _say(f"Next: cd {_quoted(folder)}, edit {first}, then")
        _say(f"      rootgap build {first}")


@app.command()
def check(file: FileArgument, as_json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Show the runs, joints and checks of a file.

    It writes nothing, and takes a second; beside a large scan it takes longer. A failure makes the exit code 1; a
    warning does not.

    Example: rootgap check assemblies/sand-rail-four.toml
    """
    from rootgap.checks.fixture import fixture_line
    from rootgap.report import check_rows, joint_rows, run_rows

    manifold = rootgap.load(file)
    findings = manifold.checks()
    if as_json:
        _print_json(
            {
                "name": manifold.layout.name,
                "runs": _records(run_rows(manifold.layout)),
                "joints": _records(joint_rows(manifold.joints)),
                "gas": manifold.gas.record(),
                "checks": [asdict(finding) for finding in findings],
            }
        )
    elif not quiet:
        _say(manifold.layout.title or manifold.layout.name)
        _table("Runs", run_rows(manifold.layout))
        _table("Joints", joint_rows(manifold.joints))
        _say(manifold.gas.line)
        if line := fixture_line(manifold.layout):
            _say(line)
        _table("Checks, each at its worst", check_rows(findings))
        name = _quoted(file)
        onwards = f"rootgap templates {name}   (flat parts, a second) or rootgap build {name}   (everything)"
        _say_findings(findings, file, onwards)
    _leave(findings, quiet=quiet and not as_json)


@app.command()
def access(
    file: FileArgument,
    picture: Annotated[Path | None, typer.Option("--picture", help="drawing of tools and ways, a PNG")] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Show what hands and tools can come at, and how the part goes in.

    Every bolt with the tool that turns it, spark plugs, service parts, a torch at every weld, the way in and its
    order, the oil drain.
    It takes some seconds. A failure makes the exit code 1; a warning does not.

    Example: rootgap access assemblies/sand-rail-four.toml
    """
    from rootgap.checks.access.told import (
        bolt_rows,
        clamp_rows,
        drain_rows,
        install_rows,
        plug_rows,
        reached_record,
        service_rows,
        weld_rows,
    )

    manifold = rootgap.load(file)
    with _progress(shown=not (quiet or as_json)) as progress:
        found = manifold.access(progress)
    if picture:
        from rootgap.writers.access import access_picture

        _write_file(picture, access_picture(manifold.layout, found), ".png", "--picture", file)
    if as_json:
        _print_json({"name": manifold.layout.name, **reached_record(found, manifold.layout)})
    elif not quiet:
        _say(manifold.layout.title or manifold.layout.name)
        for title, rows in (
            ("Bolts", bolt_rows(found.bolts, found.unsized)),
            ("Clamps, each turned round its pipe to where its screw is best come at", clamp_rows(found.clamps)),
            ("Spark plugs", plug_rows(found.plugs)),
            ("Service parts", service_rows(found.services)),
            ("Welds, in the order of the file, on the bench", weld_rows(found.welds)),
            ("Install, first to last; each way is told outwards, in the engine frame", install_rows(found.ways)),
            ("Oil drains", drain_rows(manifold.layout)),
        ):
            if len(rows) > 1:
                _table(title, rows)
        if picture:
            _say(f"Wrote {picture}")
        _say_findings(found.findings, file, f"rootgap build {_quoted(file)}   (everything)", "access")
    _leave(found.findings, quiet=quiet and not as_json)


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
    """Write the flat files: wraps, flanges, cut list.

    No solids are made, so it takes a second or two.

    Example: rootgap templates assemblies/sand-rail-four.toml --paper letter
    """
    setup = _setup(paper, paper_thickness, bar_x, bar_y)
    manifold = rootgap.load(file)
    left_out = manifold.solids_below(out)
    if left_out and not (quiet or as_json):
        _say(
            f"The solids of the last build, {_count(len(left_out), 'file', 'files')}, are left out: "
            f"they may no longer match. rootgap build {_quoted(file)} makes them again."
        )
    with _progress(shown=not (quiet or as_json)) as progress:
        built = manifold.templates(out, setup, progress)
    _finish(built, file, as_json, quiet, f"rootgap build {_quoted(file)}   for the solids", left_out)


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
    """Write everything: flat files and solids.

    Templates, flange DXFs, cut list, STEP, STL, GLB and the manifest go to out/NAME, all or nothing.

    Example: rootgap build assemblies/sand-rail-four.toml --out out
    """
    setup = _setup(paper, paper_thickness, bar_x, bar_y)
    manifold = rootgap.load(file)
    with _progress(shown=not (quiet or as_json)) as progress:
        built = manifold.build(out, setup, progress)
    pages = _quoted(built.folder / "templates.pdf")
    _finish(built, file, as_json, quiet, f"print {pages} at actual size and measure its bars")


@app.command()
def space(
    file: FileArgument,
    out: OutOption = Path("out"),
    every: Annotated[bool, typer.Option("--all", help="show every pair, however far apart")] = False,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Show how near everything is, cold and hot.

    The least distance of each piece to each keep-out, by margin: cold, and running, with the metal grown and the engine
    rolled on its mounts; and pieces that come near each other. A picture goes to out/NAME.space.png. What is too near
    makes the exit code 1.

    Example: rootgap space assemblies/sand-rail-four.toml
    """
    from rootgap.checks.clearance import FAR
    from rootgap.report import check_rows, clearance_rows, neighbour_rows, space_record
    from rootgap.writers.files import write_bytes
    from rootgap.writers.space import space_picture

    with _progress(shown=not (quiet or as_json)) as progress:
        told = _steps(progress)
        told("reading", 1)
        manifold = rootgap.load(file)
        around, keepouts = manifold.space, len(manifold.layout.keepouts)
        rows = around.rows(math.inf if every else FAR, lambda name: told(f"keepout.{name}", keepouts + 3))
        told("pieces beside each other", keepouts + 3)
        beside = manifold.neighbours()
        told("checks", keepouts + 3)
        findings = manifold.space_checks()
        told("picture", keepouts + 3)
        picture = out / f"{manifold.layout.name}.space.png"
        write_bytes(picture, space_picture(around, rows, beside))
    if as_json:
        checks = [asdict(finding) for finding in findings]
        pairs = {"pairs": space_record(rows), "pieces": [each.record() for each in beside]}
        _print_json({"name": manifold.layout.name, "picture": str(picture), **pairs, "checks": checks})
    elif not quiet:
        _say(manifold.layout.title or manifold.layout.name)
        if rows:
            _table("Keep-outs, the least margin first, mm", clearance_rows(rows))
        if beside:
            _table("Pieces beside each other that do not join", neighbour_rows(beside))
        _table("Checks, each at its worst", check_rows(findings))
        for name, keepout in manifold.layout.keepouts.items():
            for note in keepout.notes:
                _say(f"keepout.{name}: {note}")
        if rows and not every:
            _say(f"Left out: what keeps {FAR:g} mm and more beyond what is asked; --all shows it.")
        _say(f"Wrote {picture}")
        onwards = f"look at {_quoted(picture)}, then rootgap build {_quoted(file)}"
        if not manifold.layout.keepouts:
            onwards = "measure what stands round the engine and add it, a [keepout.NAME] each: see assemblies/README.md"
        _say_findings(findings, file, onwards, verb="space")
    _leave(findings, quiet=quiet and not as_json)


@app.command()
def search(
    file: FileArgument,
    choose: Annotated[
        int, typer.Option("--choose", help="which layout of the table to take; the best", min=1, metavar="NUMBER")
    ] = 1,
    write: Annotated[
        Path | None, typer.Option("--write", help="write it as a file beside FILE, comments kept", metavar="FILE")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="write over a file that is there")] = False,
    plot: Annotated[
        Path | None, typer.Option("--plot", help="SVG picture; else out/NAME.search.svg", metavar="FILE")
    ] = None,
    show: Annotated[int, typer.Option("--show", help="layouts of the trade-off to show", min=1, max=50)] = 8,
    cores: Annotated[int, typer.Option("--cores", help="processes to judge with; all there are", min=0)] = 0,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Find layouts that clear every keep-out.

    Over the values that [search] says may change: which combinations close, clear everything and pass every check, as a
    trade-off of margin, welds, pipe and the gas's turning. Where nothing fits, it says what leaves no room and the
    smallest change that would (exit code 1 then). Ctrl-C shows the best so far.

    Example: rootgap search assemblies/ice-racer-four.toml --choose 2
    """
    from rootgap.search.told import record
    from rootgap.writers.tradeoff import tradeoff_svg

    manifold = rootgap.load(file)
    plot = plot or Path("out") / f"{manifold.assembly.name}.search.svg"
    _hold_suffixes(("--plot", plot, ".svg"), ("--write", write, ".toml"))
    if write:
        manifold.beside(write, over=force)
    with _progress(shown=not (quiet or as_json)) as progress:
        result = manifold.search(progress, cores=cores or os.cpu_count() or 1, shown=max(show, choose))
    refused = _beyond(choose, len(result.found), "--choose")
    if refused and (as_json or quiet):
        raise refused
    choose = 1 if refused else choose
    if result.found:
        title = f"{manifold.assembly.title or manifold.assembly.name}: what fits"
        _write_text(plot, tradeoff_svg(result, choose, title), ".svg", file)
    written = manifold.changed(result, choose, write, over=force) if write and result.found and not refused else None
    if as_json:
        files = {"picture": str(plot) if result.found else None, "file": str(written) if written else None}
        _print_json(record(result, choose) | files)
    elif not quiet:
        _say_search(result, choose, file, plot, written)
    if result.stopped:
        raise _StoppedAndTold
    if refused:
        raise refused
    if not result.found:
        raise typer.Exit(1)


def _say_search(result: Search, chosen: int, file: Path, plot: Path, written: Path | None) -> None:
    """Tell what a search came to, and what comes next."""
    from rootgap.search.told import figures_text, found_rows, rank_line, settings_text, summary_lines, why_lines

    for line in summary_lines(result):
        _say(line)
    for line in why_lines(result):
        _say(line)
    if not result.found:
        return
    _table("Trade-off", found_rows(result, chosen))
    _say(rank_line(result))
    found = result.found[chosen - 1]
    _say(f"Chosen: {settings_text(found.settings)}: {figures_text(found)}.")
    _say(f"Wrote {plot}")
    if written:
        _say(f"Wrote {written}; {file} is as it was")
        _say(f"Next: rootgap check {_quoted(written)}")
    else:
        onwards = file.with_name(f"{file.stem}-{chosen}.toml")
        _say(f"Next: rootgap search {_quoted(file)} --choose {chosen} --write {_quoted(onwards)}")


@app.command()
def route(
    file: FileArgument,
    run: Annotated[str, typer.Argument(help='a run with route = "solve"', metavar="RUN", show_default=False)],
    few: Annotated[int, typer.Option("--few", help="ways to show at most", min=1, max=9)] = 4,
    take: Annotated[int, typer.Option("--take", help="which of them; the file's choice", min=0, metavar="NUMBER")] = 0,
    write: Annotated[
        Path | None, typer.Option("--write", help="write it as a file beside FILE, comments kept", metavar="FILE")
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="write over a file that is there")] = False,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="SVG picture; else out/NAME.RUN.svg", metavar="FILE")
    ] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Show the best few ways of a run.

    Elbows and straights from where it starts to where it ends, clear of everything: the fewest welds first, then the
    shortest, then the gentlest. An elbow counts as one piece, trimmed or whole. Where there is no way it says what is
    in it.

    Example: rootgap route assemblies/mine.toml crossover --take 2 --write assemblies/mine-2.toml
    """
    from rootgap.layout.route import written_pieces
    from rootgap.report import way_records, way_rows
    from rootgap.writers.changed import pieces_lines
    from rootgap.writers.ways import ways_svg

    manifold = rootgap.load(file)
    picture = picture or Path("out") / f"{manifold.assembly.name}.{run}.svg"
    _hold_suffixes(("--picture", picture, ".svg"), ("--write", write, ".toml"))
    if write:
        manifold.beside(write, over=force)
    with _progress(shown=not (quiet or as_json)) as progress:
        layout, sought = manifold.ways(run, max(few, take), progress)
    refused = _beyond(take, len(sought.routes), "--take")
    if refused and (as_json or quiet):
        raise refused
    taken = replace(sought, choice=sought.choice if refused else take or sought.choice)
    _write_text(picture, ways_svg(layout, run, taken), ".svg", file)
    written = manifold.routed(run, taken, write, over=force) if write and not refused else None
    if as_json:
        files = {"picture": str(picture), "file": str(written) if written else None}
        _print_json({"run": run, "ways": way_records(taken)} | files)
        return
    if quiet:
        return
    _table(f"Ways of {run}", way_rows(taken))
    pieces = written_pieces(taken.routes[taken.choice - 1], taken.ends)
    if pieces is None:
        _say(f"Way {taken.choice} ends at something in place: keep its route, with choice = {taken.choice}.")
    else:
        _say(f"Way {taken.choice} as it stands in a file, in place of its route:")
        for line in pieces_lines(pieces):
            _say(line)
    _say(f"Wrote {picture}")
    if written:
        _say(f"Wrote {written}; {file} is as it was")
        _say(f"Next: rootgap check {_quoted(written)}")
    else:
        onwards = file.with_name(f"{file.stem}-{taken.choice}.toml")
        _say(f"Next: rootgap route {_quoted(file)} {run} --take {taken.choice} --write {_quoted(onwards)}")
    if refused:
        raise refused


@app.command()
def stock(
    words: Annotated[list[str] | None, typer.Argument(help='what to look for, such as 1-1/2 "sch 10"')] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Search the tables of pipe, elbows, fasteners and metals.

    Example: rootgap stock 1-1/2 sch 10
    """
    from rootgap.stock import search

    rows = search(" ".join(words or []))
    if not rows:
        raise typer.BadParameter(_neighbours(" ".join(words or [])))
    if as_json:
        _print_json(_records([("table", "size", "figures", "source"), *rows]))
    elif not quiet:
        _table("Stock", [("table", "size", "figures"), *(row[:3] for row in rows)])
        for source in dict.fromkeys(row[3] for row in rows):
            _say(f"Source: {source}")


@app.command()
def match(
    plate: Annotated[Path, typer.Argument(metavar="A", help="flange that is to go on", show_default=False)],
    onto: Annotated[Path, typer.Argument(metavar="B", help="flange that it is to go on", show_default=False)],
    out: Annotated[Path | None, typer.Option("--out", help="SVG picture to write", metavar="FILE")] = None,
    loose: Annotated[
        bool, typer.Option("--loose", help="bolts go loose through B's holes too; else they stand fast in them")
    ] = False,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Show whether flange A bolts onto flange B.

    As it is, turned half round, mirrored (the plate flipped, the other bank) and both; and what it does to the ports.
    Where it bolts up in no way, the exit code is 1.

    Example: rootgap match parts/head-jet-boat-v6.toml parts/head-sand-rail-four.toml --out match.svg
    """
    from rootgap.plates.match import match as matched
    from rootgap.plates.told import match_lines, match_record, match_rows, port_fit_rows
    from rootgap.writers.overlay import overlay_svg

    a, b = _flange(plate), _flange(onto)
    fits = matched(a, b, loose=loose)
    if out:
        _write_text(out, overlay_svg(a, b, fits), ".svg")
    if as_json:
        _print_json({"plate": a.name, "onto": b.name, "picture": str(out) if out else None, "fits": match_record(fits)})
    elif not quiet:
        _table(f"{a.name} on {b.name}", match_rows(fits))
        for fit in fits:
            if fit.verdict != "never":
                _table(f"Ports, {fit.orientation}", port_fit_rows(fit))
        for line in match_lines(fits):
            _say(line)
        if out:
            _say(f"Wrote {out}")
    if not any(fit.verdict == "bolts up" for fit in fits):
        raise typer.Exit(1)


@app.command()
def calipers(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="caliper sheet", show_default=False)],
    out: Annotated[
        Path | None, typer.Option("--out", help="corrected flange to write; else out/NAME.toml", metavar="FILE")
    ] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Fit a flange to caliper distances.

    Says where its bolts and ports lie, how sure that is, and which distance is to be taken again (exit code 1 then).
    Writes the corrected flange.

    Example: rootgap calipers parts/head-measured.toml
    """
    from rootgap.plates.calipers import measure
    from rootgap.plates.told import caliper_lines, caliper_record, place_rows, reading_rows
    from rootgap.writers.part import part_text

    found = measure(file)
    out = out or Path("out") / f"{found.part.name}.toml"
    comments = [f"Corrected by the caliper distances of {file.name}.", *caliper_lines(found)]
    _write_text(out, part_text(found.part, comments), ".toml", file)
    if as_json:
        _print_json({"name": found.part.name, "file": str(out), **caliper_record(found)})
    elif not quiet:
        _table("Distances", reading_rows(found))
        if found.places:
            _table("Places", place_rows(found))
        for line in caliper_lines(found):
            _say(line)
        _say(f"Wrote {out}")
    if found.again:
        raise typer.Exit(1)


@app.command("import")
def import_(
    drawing: Annotated[Path, typer.Argument(metavar="OUTLINE.dxf", help="DXF outline of a flange", show_default=False)],
    out: Annotated[
        Path | None, typer.Option("--out", help="flange to write; else out/NAME.toml", metavar="FILE")
    ] = None,
    name: Annotated[str, typer.Option("--name", help="of the flange; else the drawing's")] = "",
    units: Annotated[Drawn, typer.Option("--units", help="of the drawing; by the file and its size")] = Drawn.auto,
    tolerance: Annotated[
        str, typer.Option("--tolerance", help="ends nearer than this are joined, shapes that near recognised")
    ] = "0.1 mm",
    thickness: Annotated[str, typer.Option("--thickness", help="of the plate")] = "12 mm",
    material: Annotated[str, typer.Option("--material", help="of the plate")] = "carbon steel",
    largest_bolt: Annotated[str, typer.Option("--largest-bolt", help="a larger circle is a port")] = "20 mm",
    layer: Annotated[list[str] | None, typer.Option("--layer", help="only this one; may stand more than once")] = None,
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Make a flange from a DXF outline.

    Joins what does not quite meet, finds the edge, takes circles for bolt holes and closed loops for ports, and says
    all that it did.

    Example: rootgap import outline.dxf --thickness "12 mm" --out parts/head-mine.toml
    """
    from rootgap.plates.drawing import MOST_TOLERANCE, imported
    from rootgap.writers.part import part_text

    name = name or re.sub(r"[^A-Za-z0-9._-]+", "-", drawing.stem).strip("-._") or "flange"
    lengths = [
        _option(word, text)
        for word, text in (("thickness", thickness), ("tolerance", tolerance), ("largest-bolt", largest_bolt))
    ]
    if not 0.001 <= lengths[1] <= MOST_TOLERANCE:
        raise typer.BadParameter(f"allowed: 0.001 to {MOST_TOLERANCE:g} mm", param_hint="--tolerance")
    found = imported(
        drawing,
        name=name,
        thickness=lengths[0],
        material=material,
        tolerance=lengths[1],
        units="" if units is Drawn.auto else units.value,
        layers=layer or (),
        largest_bolt=lengths[2],
    )
    out = out or Path("out") / f"{name}.toml"
    _write_text(out, part_text(found.part, [f"Imported from {drawing.name}.", *found.told]), ".toml", drawing)
    if as_json:
        _print_json({"name": name, "file": str(out), "told": list(found.told)})
    elif not quiet:
        for line in found.told:
            _say(line)
        _say(f"Thickness {found.part.thickness:g} mm and {found.part.material} are options: no drawing has them.")
        _say(f"Wrote {out}")
        _say(f"Next: measure it with calipers, or rootgap ports {_quoted(out)}")


@app.command()
def ports(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="parameter file of a flange", show_default=False)],
    also: Annotated[
        list[str] | None, typer.Option("--also", help='tube or pipe beside the table, such as "1.75 in x 16 ga"')
    ] = None,
    larger: Annotated[
        str, typer.Option("--larger", help="how much larger a bore may be", metavar="LENGTH")
    ] = "0.76 mm",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Show which pipe makes each port of a flange.

    By the girth of its bore where its end is worked to the port, and what a round end leaves as dam and oversize.
    Where no pipe fits a port, the exit code is 1.

    Example: rootgap ports parts/head-sand-rail-four.toml --also "1.75 in x 16 ga"
    """
    from rootgap.plates.ports import SOURCE, SUPPORT, pipes_for
    from rootgap.plates.told import pipe_rows, port_title

    found = pipes_for(_flange(file), also or (), _option("larger", larger))
    if as_json:
        _print_json({"source": SOURCE, "support": SUPPORT, "ports": [asdict(each) for each in found]})
    elif not quiet:
        for each in found:
            _table(port_title(each), pipe_rows(each))
            if not each.fitting:
                _say("No pipe of the table fits: roll a transition, or open the port.")
        _say("Clock 0 is the drawing's +y, clockwise along the gas (anticlockwise in the drawing).")
        _say(f"Limit: {SOURCE} [{SUPPORT}]")
    if not all(each.fitting for each in found):
        raise typer.Exit(1)


@app.command()
def trace(
    image: Annotated[Path | None, typer.Argument(help="a scan, or a photograph on the sheet", metavar="IMAGE")] = None,
    out: Annotated[Path | None, typer.Option("--out", help="flange file to write; IMAGE's name without")] = None,
    picture: Annotated[Path | None, typer.Option("--picture", help="drawing of what was found, a PNG")] = None,
    dpi: Annotated[float | None, typer.Option("--dpi", help="of a scan, where its file does not say")] = None,
    thickness: Annotated[str, typer.Option("--thickness", help="of the plate to cut", metavar="LENGTH")] = "12 mm",
    material: Annotated[str, typer.Option("--material", help="of the plate to cut")] = "carbon steel",
    units: Annotated[Units, typer.Option("--units", help="of the file's figures")] = Units.mm,
    mirror: Annotated[bool, typer.Option("--mirror", help="the face that lies on the head is seen")] = False,
    turn: Annotated[bool, typer.Option("--turn", help="x runs to the picture's left, or down")] = False,
    like: Annotated[
        Path | None, typer.Option("--like", help="flange that it should agree with: one turned over is refused")
    ] = None,
    sheet: Annotated[Path | None, typer.Option("--sheet", help="write the calibration sheet, a PDF")] = None,
    paper: Annotated[Paper, typer.Option("--paper", help="of the calibration sheet")] = Paper.a4,
    bar_x: BarX = "100 mm",
    bar_y: BarY = "100 mm",
    as_json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Make a flange file from a picture of a gasket.

    Its figures are in mm, or as --units says. A scan needs its dots an inch.
    A photograph needs the calibration sheet: print it, lay the gasket on it,
    and picture both from above.

    Example: rootgap trace --sheet sheet.pdf --paper letter
    """
    if (image is None) == (sheet is None):
        raise typer.BadParameter("give an IMAGE to trace, or --sheet FILE.pdf to write the calibration sheet")
    _hold_suffixes(("--out", out, ".toml"), ("--picture", picture, ".png"), ("--sheet", sheet, ".pdf"))
    if image is None or sheet is not None:
        _write_sheet(sheet or Path("sheet.pdf"), paper, as_json, quiet)
        return
    from rootgap.trace.job import TraceJob

    setup = _setup(paper, "0.10 mm", bar_x, bar_y)
    plate, bars = _option("thickness", thickness), (setup.bar_x, setup.bar_y)
    known = _flange(like) if like else None
    job = TraceJob(image, out, picture, dpi, plate, material, units.value, bars, known)
    done = job.run(mirror=mirror, turn=turn)
    if as_json:
        _print_json(done.record())
    elif not quiet:
        _say(f"Traced {done.summary}")
        for line in done.lines:
            _say(line)
        _say(f"Wrote {done.file} and {done.picture}")
        _say(f"Next: look at {_quoted(done.picture)}, measure the head, correct {_quoted(done.file)}")
        if not like:
            _say("      (upside down? --turn; a picture of the face that lies on the head? --mirror;")
            _say("      --like FILE, a flange of this head, refuses either)")


def _write_sheet(path: Path, paper: Paper, as_json: bool, quiet: bool) -> None:
    from rootgap.trace.printed import sheet_pdf
    from rootgap.writers.files import write_bytes

    write_bytes(path, sheet_pdf(paper.value))
    if as_json:
        _print_json({"file": str(path)})
    elif not quiet:
        _say(f"Wrote {path}: print page 1 at actual size, and page 2 too for a long part")
        _say("Next: lay the gasket on it, photograph both from above, then rootgap trace PHOTO.jpg")


def _flange(path: Path) -> FlangePart:
    """Return the flange in a file. Raises InputErrors where it holds another part."""
    from rootgap.spec import FlangePart, load_part
    from rootgap.spec.source import refused

    if path.suffix.lower() == ".dxf":
        raise refused(path, "a drawing", f"make a flange of it first: rootgap import {_quoted(path)}")
    part = load_part(path)
    if not isinstance(part, FlangePart):
        raise refused(path, f"a part of kind {part.kind}", 'allowed: a flange, kind = "flange"')
    return part


def _hold_suffixes(*files: tuple[str, Path | None, str]) -> None:
    """Refuse the first of some files to write, each with its option, that does not end as its kind does."""
    for option, path, suffix in files:
        if path and path.suffix.lower() != suffix:
            raise typer.BadParameter(f"{path}: allowed: a file that ends in {suffix}", param_hint=option)


def _write_text(path: Path, text: str, suffix: str, *others: Path) -> None:
    """Write a text file, never over one of `others`. Raises WriteError."""
    _write_file(path, text.encode(), suffix, "--out", *others)


def _write_file(path: Path, data: bytes, suffix: str, option: str, *others: Path) -> None:
    """Write a file that `option` names, never over one of `others`. Raises WriteError."""
    from rootgap.errors import WriteError
    from rootgap.writers.files import write_bytes

    _hold_suffixes((option, path, suffix))
    if any(path.resolve() == other.resolve() for other in others):
        raise WriteError(str(path), "it is what was read", f"name another file with {option}")
    write_bytes(path, data)


def _neighbours(words: str) -> str:
    """Return what to say of a size that no table has: the neighbours that exist, where it is a pipe's, a
    tube's or a thread's."""
    from rootgap.stock import fastener, pipe, tube

    for size in (lambda: pipe(words, "carbon steel"), lambda: tube(words, "carbon steel"), lambda: fastener(words)):
        try:
            size()
        except StockError as fault:
            return str(fault)
        except UnitError:
            continue
    return "nothing in the tables has all of these words; try a size alone, such as 1-1/2"


def main() -> None:
    """Run the command and exit; every deliberate error is one clear text and its own exit code."""
    for stream in (sys.stdout, sys.stderr):
        # A stream that cannot spell a character shows its number.
        getattr(stream, "reconfigure", lambda **_: None)(errors="backslashreplace")
    code = _run()
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        code = PIPE_CLOSED
    if code == PIPE_CLOSED:
        # What is still in the buffer goes nowhere, without a complaint at the end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(code)


def _run() -> int:
    before = signal.signal(signal.SIGTERM, _terminate)
    try:
        return _answered()
    finally:
        signal.signal(signal.SIGTERM, before)


def _terminate(*_: object) -> None:
    """Unwind as ctrl-C does, so that what was begun is taken away."""
    raise _Terminated


def _answered() -> int:
    """Run the command and return its exit code, with every error told."""
    try:
        code = int(app(standalone_mode=False, prog_name="rootgap") or 0)
    except RootgapError as fault:
        return _refuse(type(fault).__name__, str(fault), fault.exit_code, _faults(fault))
    except UsageFault as fault:
        return _refuse("UsageError", _usage(fault), 2)
    except (KeyboardInterrupt, typer.Abort):
        code = STOPPED
    except _Terminated:
        code = TERMINATED
    except _StoppedAndTold:
        return STOPPED
    except BrokenPipeError:
        return PIPE_CLOSED
    except Exception as fault:  # noqa: BLE001  the last line of defence: one line, not a traceback
        text = f"a fault of rootgap's own ({type(fault).__name__}: {fault}); please report it with the file"
        return _refuse(type(fault).__name__, text, 3)
    if code in (STOPPED, TERMINATED):
        _complain("stopped; what was written before stands as it was")
    return code


def _refuse(error: str, text: str, code: int, faults: Sequence[Mapping[str, Any]] = ()) -> int:
    """Tell an error, as JSON where that was asked for, and return its exit code."""
    if "--json" in sys.argv:
        _print_json({"error": error, "exit_code": code, "text": text, "faults": list(faults)})
    else:
        _complain(text)
    return code


def _faults(fault: RootgapError) -> list[dict[str, Any]]:
    """Return the fields of an error, one record a fault."""
    return [asdict(each) for each in (fault.faults if isinstance(fault, InputErrors) else (fault,))]  # type: ignore[call-overload]


def _usage(fault: Exception) -> str:
    """Return what is wrong with the command line, in one line."""
    context = getattr(fault, "ctx", None)
    command = context.command_path if context else "rootgap"
    said = fault.format_message() if hasattr(fault, "format_message") else str(fault)
    said = " ".join(said.split()).removeprefix("Invalid value: ").replace("Value error, ", "")
    return f"{command}: {said.rstrip('.')}; see {command} --help"


def _beyond(number: int, count: int, option: str) -> typer.BadParameter | None:
    """Return what is to be said of a choice among `count` that is beyond the last: what was found is told all the
    same."""
    if count and number > count:
        return typer.BadParameter(f"{number}; allowed: 1 to {count}", param_hint=option)
    return None


def _setup(paper: Paper, thickness: str, bar_x: str, bar_y: str) -> rootgap.PrintSetup:
    lengths = [
        _option(name, text) for name, text in (("paper-thickness", thickness), ("bar-x", bar_x), ("bar-y", bar_y))
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
        raise typer.BadParameter(str(fault), param_hint=f"--{name}") from None


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


def _steps(progress: Progress | None) -> Callable[[str, int], None]:
    """Return a call that shows each step as it begins, with how many there are."""
    done = count(0)

    def told(what: str, of: int) -> None:
        if progress:
            progress(what, next(done), of)

    return told


def _finish(built: Built, file: Path, as_json: bool, quiet: bool, following: str, left_out: Sequence[str] = ()) -> None:
    if as_json:
        _print_json(
            {
                "folder": str(built.folder),
                "files": list(built.files),
                "checks": [asdict(finding) for finding in built.checks],
                "left_out": list(left_out),
            }
        )
    elif not quiet:
        _say(f"Wrote {_count(len(built.files), 'file', 'files')} to {built.folder}")
        _say_findings(built.checks, file, following)
    _leave(built.checks, quiet=quiet and not as_json)


def _say_findings(findings: Sequence[Finding], file: Path, following: str, verb: str = "check") -> None:
    """Tell how many checks pass, which do not, and what comes next: `following`, or first a mend, and `verb` again."""
    from rootgap.report import count_line, finding_lines

    _say(count_line(findings))
    for verdict in ("fail", "warn"):
        for text in finding_lines(findings, verdict):
            _say(text)
    failed = [finding for finding in findings if finding.verdict == "fail"]
    if failed:
        first = failed[0]
        following = f"before you cut, mend {first.subject} ({first.advice}), then rootgap {verb} {_quoted(file)}"
    _say(f"Next: {following}")


def _leave(findings: Sequence[Finding], *, quiet: bool) -> None:
    """Leave with exit code 1 where a check failed; where nothing was said so far, say which."""
    from rootgap.report import finding_lines

    failed = finding_lines(findings, "fail")
    if failed:
        if quiet:
            _complain("\n".join(failed))
        raise typer.Exit(1)


def _count(number: int, one: str, more: str) -> str:
    return f"{number} {one if number == 1 else more}"


def _quoted(path: Path) -> str:
    """Return a path as it is typed into a shell."""
    return shlex.quote(str(path))


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
    _say(json.dumps(_finite(content), indent=2, ensure_ascii=False, allow_nan=False))


def _finite(content: Any) -> Any:
    """Return `content` with null for every number that JSON has no word for."""
    if isinstance(content, dict):
        return {key: _finite(value) for key, value in content.items()}
    if isinstance(content, list | tuple):
        return [_finite(value) for value in content]
    return None if isinstance(content, float) and not math.isfinite(content) else content


def _say(text: str) -> None:
    try:
        print(text)
    except BrokenPipeError:
        raise typer.Exit(PIPE_CLOSED) from None


def _complain(text: str) -> None:
    print(text, file=sys.stderr)
