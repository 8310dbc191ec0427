"""A whole manifold: one parameter file, laid out, joined, and written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from rootgap.checks import (
    NEAR,
    Finding,
    Gas,
    Neighbours,
    Space,
    all_checks,
    gas_of,
    neighbours,
    space_checks,
    space_round,
)
from rootgap.errors import GeometryError, InputErrors, WriteError
from rootgap.joints import Joint, find_joints
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Layout, Sought, lay_out
from rootgap.layout.route import Asked, written_pieces
from rootgap.patterns import Pattern, all_patterns
from rootgap.patterns.printing import PrintSetup
from rootgap.patterns.wrap import PAPER
from rootgap.search import SHOWN, Search
from rootgap.spec import Assembly, Source, load_assembly
from rootgap.spec.marks import place_of
from rootgap.spec.source import nearest_word
from rootgap.spec.toml import Key

if TYPE_CHECKING:
    import cadquery as cq

    from rootgap.checks.access.judge import Reached

#: Called with what is being done, how many steps are done, and how many there are.
Progress = Callable[[str, int, int], None]


#: Joints with the curves that they have worked out: enough for a few manifolds.
JOINTS: Kept[Joint] = Kept(1000)


@dataclass(frozen=True)
class Built:
    """What a build wrote. folder: where; files: paths from there; checks: their findings."""

    folder: Path
    files: tuple[str, ...]
    checks: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Manifold:
    """A manifold as its parameter file describes it. Everything is worked out when first asked for. source: that
    file as it was read, None where there is none."""

    assembly: Assembly
    source: Source | None = None

    @cached_property
    def layout(self) -> Layout:
        """Every piece, placed. Raises GeometryError."""
        with self._placed():
            return lay_out(self.assembly)

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint with its curves and figures; one that was found before comes with all it has worked out.

        Raises GeometryError.
        """
        layout = self.layout
        with self._placed():
            return tuple(JOINTS.get(fingerprint(joint), partial(_same, joint)) for joint in find_joints(layout))

    @contextmanager
    def _placed(self) -> Iterator[None]:
        """Give a GeometryError the line of the file that it is about."""
        try:
            yield
        except GeometryError as fault:
            if self.source is None:
                raise
            raise replace(fault, place=place_of(fault.where, self.source)) from None

    @cached_property
    def patterns(self) -> tuple[Pattern, ...]:
        """The flat pattern of every part that is cut, for paper of 0.10 mm."""
        return self.patterns_on(PAPER)

    def patterns_on(self, thickness: float) -> tuple[Pattern, ...]:
        """Return the flat patterns for paper of `thickness` mm."""
        return all_patterns(self.layout, self.joints, thickness)

    def checks(self) -> tuple[Finding, ...]:
        """Return what every check finds."""
        return all_checks(self.layout, self.joints)

    def access(self, progress: Progress | None = None) -> Reached:
        """Return how bolts, plugs and welds are come at, and how the finished parts go in past what is there.

        It takes seconds; `checks` leaves it out.
        """
        from rootgap.checks.access.judge import reached

        return reached(self.layout, self.joints, progress or _silent)

    @cached_property
    def space(self) -> Space:
        """What stands round it, and how near."""
        return space_round(self.layout, self.joints)

    def neighbours(self, reach: float = NEAR) -> list[Neighbours]:
        """Return the pairs of pieces nearer than `reach` mm to each other that do not join, the nearest first."""
        return neighbours(self.layout, self.joints, reach)

    def space_checks(self) -> tuple[Finding, ...]:
        """Return what the checks of room find, as `checks` does."""
        return space_checks(self.layout, self.joints)

    @cached_property
    def gas(self) -> Gas:
        """Where the gas of each port can get to."""
        return gas_of(self.layout, self.joints)

    def solid(self) -> cq.Assembly:
        """Return every part as a CadQuery assembly in the engine frame, mm, named and coloured.

        Raises KernelError where a body is not what the mathematics says.
        """
        from rootgap.solids import solid_assembly

        return solid_assembly(self.layout, self.joints)

    def fixture_solid(self) -> cq.Assembly:
        """Return the plates that hold the work while it is tacked as a CadQuery assembly in the engine frame, mm: those
        of every fixture, for the file may ask for one a head flange.

        Raises LookupError where the file asks for none, and KernelError where a body is not sound.
        """
        from rootgap.solids import fixture_assembly

        if not self.layout.fixtures:
            raise LookupError("the parameter file has no [fixture]")
        return fixture_assembly(self.layout, self.layout.fixtures)

    def solids_below(self, out: Path | str = "out") -> tuple[str, ...]:
        """Return the solids of the last build below `out`, paths from its folder: `templates` leaves them out."""
        from rootgap.writers.files import listed

        folder = Path(out) / self.layout.name
        return tuple(path for path in listed(folder) if path.startswith("solids/") and (folder / path).is_file())

    def templates(
        self, out: Path | str = "out", setup: PrintSetup | None = None, progress: Progress | None = None
    ) -> Built:
        """Write everything flat below `out`; the solid kernel is never loaded. Raises WriteError."""
        return self._write(Path(out), setup or PrintSetup(), progress, solids=False)

    def build(
        self, out: Path | str = "out", setup: PrintSetup | None = None, progress: Progress | None = None
    ) -> Built:
        """Write everything below `out`, all or nothing. Raises WriteError, KernelError."""
        return self._write(Path(out), setup or PrintSetup(), progress, solids=True)

    def search(self, progress: Progress | None = None, *, cores: int = 1, shown: int = SHOWN) -> Search:
        """Return what a search comes to over the values that the file's [search] says may change.

        cores: processes that judge, where that pays; shown: layouts of the trade-off to find. Raises InputErrors where
        the file says nothing of a search, and GeometryError where its runs wait for each other.
        """
        source = self._searched()
        from rootgap.search.seek import search

        return search(source, self.assembly, progress or _silent, cores=cores, shown=shown, step=_step_triangles)

    def ways(self, run: str, few: int = 5, progress: Progress | None = None) -> tuple[Layout, Sought]:
        """Return the layout and, of a run whose pieces are to be found, the best `few` ways that differ. progress:
        shown how many counts of pieces are looked through.

        Raises InputErrors for a run that is not, GeometryError where there is no way.
        """
        source = self.source or Source(Path(self.assembly.name), "", {})
        told = progress or _silent
        layout = lay_out(self.assembly, Asked(run, few, lambda done, of: told(f"looking for ways of {run}", done, of)))
        if run not in layout.sought:
            names = ", ".join(layout.sought) or 'none yet; give one route = "solve" in place of its pieces'
            key: Key = ("run", run) if run in self.assembly.run else ("run",)
            near = nearest_word(run, tuple(layout.sought))
            raise InputErrors((source.fault(key, run, f"allowed: a run whose way is to be found: {names}", near),))
        return layout, layout.sought[run]

    def routed(self, run: str, sought: Sought, path: Path | str, *, over: bool = False) -> Path:
        """Write the way of a run that is taken as pieces, in a parameter file beside the one that was read, its
        comments kept, and return its path. over: a file that is there already may be written over.

        Where pieces cannot say it, for it ends at something in place and its last two elbows have no straight between
        them, its route makes that choice. Raises WriteError where it may not write there.
        """
        from rootgap.writers.changed import routed_text
        from rootgap.writers.files import write_bytes

        source = self.source or Source(Path(self.assembly.name), "", {})
        path = self.beside(path, over=over)
        pieces = written_pieces(sought.routes[sought.choice - 1], sought.ends)
        write_bytes(path, routed_text(source.text, run, pieces, sought.choice, path.stem).encode())
        return path

    def changed(self, result: Search, number: int, path: Path | str, *, over: bool = False) -> Path:
        """Write the layout `number`, from 1, of a search's trade-off as a parameter file beside the one searched, its
        comments kept, and return its path. over: a file that is there already may be written over.

        Raises WriteError where it may not, InputErrors where the file has changed since it was read.
        """
        from rootgap.search.told import figures_text, settings_text
        from rootgap.writers.changed import changed_text
        from rootgap.writers.files import write_bytes

        source = self._searched()
        path = self.beside(path, over=over)
        found = result.found[number - 1]
        settings = {key: found.settings[name] for name, keys in result.keys.items() for key in keys}
        comments = [
            f"From {source.path.name} by search: {figures_text(found)};",
            f"{settings_text(found.settings)}.",
        ]
        text = changed_text(source.text, settings, path.stem, comments)
        write_bytes(path, text.encode())
        return path

    def beside(self, path: Path | str, *, over: bool = False) -> Path:
        """Return `path` where a changed copy of the file may be written there. over: over a file that is there already.

        Raises WriteError.
        """
        source, path = self.source or Source(Path(self.assembly.name), "", {}), Path(path)
        if path.resolve().parent != source.path.resolve().parent:
            reason = f"its parts are found from the folder of {source.path.name}"
            raise WriteError(str(path), reason, "name a file beside that")
        if path.exists() and not over:
            raise WriteError(str(path), "it is there already", "name another file, or add --force")
        return path

    def _searched(self) -> Source:
        """Return the file as it was read. Raises InputErrors where it says nothing of a search."""
        source = self.source or Source(Path(self.assembly.name), "", {})
        if not self.assembly.search:
            example = 'such as [search.height] with sets = "run.log.start.at.y", from = 90, to = 150, step = 5'
            raise InputErrors((source.fault(("search",), None, f"nothing to search; add a table {example}"),))
        return source

    def _write(self, out: Path, setup: PrintSetup, progress: Progress | None, *, solids: bool) -> Built:
        from rootgap.writers.build import write_build

        findings = self.checks()
        folder, files = write_build(
            out,
            self.layout,
            self.joints,
            self.patterns_on(setup.thickness),
            findings,
            setup,
            progress or _silent,
            solids=solids,
        )
        return Built(folder, files, findings)


def load(path: Path | str) -> Manifold:
    """Return the manifold in the parameter file at `path`.

    Raises InputErrors with every fault of the file. Layout and joints are worked out when
    first asked for, and raise GeometryError.
    """
    return Manifold(*load_assembly(path, _step_triangles))


def _step_triangles(path: Path, tolerance: float) -> NDArray[np.float64]:
    """Return the triangles, (m, 3, 3), mm, of a STEP file, to `tolerance` mm: only then is the kernel loaded."""
    from rootgap.solids.imported import step_triangles

    return step_triangles(path, tolerance)


def _silent(_what: str, _done: int, _of: int) -> None:
    """Show no progress."""


def _same(joint: Joint) -> Joint:
    """Return `joint` itself."""
    return joint
