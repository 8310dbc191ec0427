"""A whole manifold: one parameter file, laid out, joined, and written."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from rootgap.checks import Finding, Gas, all_checks, gas_of
from rootgap.joints import Joint, find_joints
from rootgap.kept import Kept, fingerprint
from rootgap.layout import Layout, lay_out
from rootgap.patterns import Pattern, all_patterns
from rootgap.patterns.wrap import PAPER
from rootgap.spec import Assembly, load_assembly

if TYPE_CHECKING:
    import cadquery as cq

#: Called with what is being done, how many steps are done, and how many there are.
Progress = Callable[[str, int, int], None]


#: Joints with the curves that they have worked out: enough for a few manifolds.
JOINTS: Kept[Joint] = Kept(1000)


@dataclass(frozen=True)
class PrintSetup:
    """How templates are printed.

    paper: sheet; thickness: of the paper, mm; bar_x, bar_y: what the 100 mm bars of an earlier
    print measured across and up the sheet, mm.
    """

    paper: Literal["letter", "a4"] = "a4"
    thickness: float = PAPER
    bar_x: float = 100.0
    bar_y: float = 100.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.thickness <= 2.0:
            raise ValueError(f"paper thickness {self.thickness:g} mm; allowed: 0 to 2")
        for name, bar in (("bar-x", self.bar_x), ("bar-y", self.bar_y)):
            if not 90.0 <= bar <= 110.0:
                raise ValueError(f"{name} {bar:g} mm; allowed: 90 to 110, the measured length of a 100 mm bar")


@dataclass(frozen=True)
class Built:
    """What a build wrote. folder: where; files: paths from there; checks: their findings."""

    folder: Path
    files: tuple[str, ...]
    checks: tuple[Finding, ...]


@dataclass(frozen=True, eq=False)
class Manifold:
    """A manifold as its parameter file describes it. Everything is worked out when first asked for."""

    assembly: Assembly

    @cached_property
    def layout(self) -> Layout:
        """Every piece, placed. Raises GeometryError."""
        return lay_out(self.assembly)

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """Every joint with its curves and figures; one that was found before comes with all it has worked out.

        Raises GeometryError.
        """
        return tuple(JOINTS.get(fingerprint(joint), partial(_same, joint)) for joint in find_joints(self.layout))

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
        """Return the plates that hold the work while it is tacked as a CadQuery assembly in the engine frame, mm.

        Raises LookupError where the file asks for none, and KernelError where a body is not sound.
        """
        from rootgap.solids import fixture_assembly

        if self.layout.fixture is None:
            raise LookupError("the parameter file has no [fixture]")
        return fixture_assembly(self.layout)

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

    def _write(self, out: Path, setup: PrintSetup, progress: Progress | None, *, solids: bool) -> Built:
        from rootgap.writers.build import write_build

        options: Mapping[str, Any] = asdict(setup)
        findings = self.checks()
        folder, files = write_build(
            out,
            self.layout,
            self.joints,
            self.patterns_on(setup.thickness),
            findings,
            options,
            progress or _silent,
            solids=solids,
        )
        return Built(folder, files, findings)


def load(path: Path | str) -> Manifold:
    """Return the manifold in the parameter file at `path`.

    Raises InputErrors with every fault of the file. Layout and joints are worked out when
    first asked for, and raise GeometryError.
    """
    return Manifold(load_assembly(path, _step_triangles)[0])


def _step_triangles(path: Path, tolerance: float) -> NDArray[np.float64]:
    """Return the triangles, (m, 3, 3), mm, of a STEP file, to `tolerance` mm: only then is the kernel loaded."""
    from rootgap.solids.imported import step_triangles

    return step_triangles(path, tolerance)


def _silent(_what: str, _done: int, _of: int) -> None:
    """Show no progress."""


def _same(joint: Joint) -> Joint:
    """Return `joint` itself."""
    return joint
