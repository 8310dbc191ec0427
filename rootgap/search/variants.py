"""A file with other values in it: specs, runs that are placed, whole assemblies.

Terminology
    shared      parameters that may change what begins where, or anything beside the runs: all runs are placed anew
    own         parameters that change figures of one run's own table, or of what stands on a flange: only that,
                and what is placed by it, is placed anew
    column      the number of a parameter
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

from pydantic import ValidationError

from rootgap.errors import GeometryError, InputErrors
from rootgap.layout import Placer
from rootgap.search.space import Parameter
from rootgap.spec import Assembly, RunSpec, Source, StandingTurbo, StandingWastegate, assembly_of
from rootgap.spec.meshes import StepReader
from rootgap.spec.places import replaced
from rootgap.spec.toml import Key
from rootgap.spec.trials import with_values
from rootgap.spec.turbo import TurboUse, WastegateUse

Choice = tuple[int, ...]
Spec = RunSpec | StandingTurbo | StandingWastegate
#: Tables whose figures, where they are numbers, change only what they place, and what is placed by that.
OWN = ("run", "turbo", "wastegate")
#: Words of a piece whose value, though no number, leaves a run where it begins and on what it ends.
_OF_A_PIECE = ("elbow", "trim", "prep", "side", "straight", "stock", "from")


def _is_own(parameter: Parameter) -> bool:
    """Tell whether a parameter changes only figures of runs and of what stands on flanges, and not where they begin and
    what they end on."""
    numbers = all(isinstance(value, int | float) for value in parameter.values)
    return all(
        (key[0] in OWN and numbers) or (key[0] == "run" and "pieces" in key and key[-1] in _OF_A_PIECE)
        for key in parameter.keys
    )


class Variants:
    """A file and what a search may change in it. Everything is worked out once for each choice that it depends on."""

    def __init__(
        self, source: Source, assembly: Assembly, parameters: Sequence[Parameter], step: StepReader | None = None
    ) -> None:
        """Take a file as it was read, its parameters, and what reads the STEP files of keep-outs."""
        self.source, self.assembly, self.parameters, self.step = source, assembly, tuple(parameters), step
        self.shared = tuple(column for column, each in enumerate(parameters) if not _is_own(each))
        self._placers: dict[Choice, Placer | None] = {}
        self._specs: dict[tuple[str, Choice], Spec | None] = {}

    @cached_property
    def named(self) -> Mapping[str, tuple[Key, int | None]]:
        """The table, and the port's number, of every run and of all that stands on a flange, by name."""
        found: dict[str, tuple[Key, int | None]] = {
            f"{kind}.{name}": ((kind, name), None) for kind in OWN[1:] for name in getattr(self.assembly, kind)
        }
        for table, spec in self.assembly.run.items():
            if spec.each is None:
                found[table] = (("run", table), None)
            else:
                ports = len(self.assembly.flange[spec.each.partition(".")[0]].port)
                found |= {f"{table}.{number}": (("run", table), number) for number in range(1, ports + 1)}
        return found

    def own(self, name: str) -> tuple[int, ...]:
        """Return the columns of the parameters that change the table of `name` itself, the shared ones left out."""
        return tuple(
            column
            for column, each in enumerate(self.parameters)
            if column not in self.shared and any(self._touches(key, name) for key in each.keys)
        )

    def _touches(self, key: Key, name: str) -> bool:
        table, number = self.named[name]
        if key[:2] != table:
            return False
        if number is None or len(key) < 4:
            return True
        other = self.assembly.run[str(table[1])].override.get(number)
        if key[2] == "override":
            return str(key[3]) == str(number)
        return other is None or key[2] not in other.model_fields_set

    def settings(self, choice: Choice, columns: Sequence[int]) -> dict[Key, Any]:
        """Return the value at each key that the parameters of `columns` set."""
        return {
            key: self.parameters[column].values[choice[column]]
            for column in columns
            for key in self.parameters[column].keys
        }

    def whole(self, choice: Choice) -> Assembly:
        """Return the whole assembly with a choice's values. Raises InputErrors."""
        return self._changed(self.settings(choice, range(len(choice))))

    def _changed(self, settings: Mapping[Key, Any]) -> Assembly:
        """Return the whole assembly with other values at some keys; parts and scans in files of their own are read
        again only where more than runs changes. Raises InputErrors."""
        changed = with_values(self.source, settings)
        if any(key[0] != "run" for key in settings):
            return assembly_of(changed, self.step)
        runs = {key[1] for key in settings}
        try:
            made = {name: self._run(changed.values["run"][name]) for name in self.assembly.run if name in runs}
        except ValidationError:
            # The reader of files tells it better.
            return assembly_of(changed, self.step)
        return self.assembly.model_copy(update={"run": {**self.assembly.run, **made}})

    @property
    def _context(self) -> dict[str, Any]:
        """What the validator must know beside the values."""
        return {"units": self.assembly.units, "tables": []}

    def _run(self, values: Any) -> RunSpec:
        return RunSpec.model_validate(values, context=self._context)

    def _standing(self, before: StandingTurbo | StandingWastegate, values: Any) -> StandingTurbo | StandingWastegate:
        """Return what stands on a flange with other values, its part the same."""
        use = TurboUse if isinstance(before, StandingTurbo) else WastegateUse
        found = use.model_validate(values, context=self._context)
        return before.model_copy(update={word: getattr(found, word) for word in use.model_fields})

    def placer(self, choice: Choice) -> Placer | None:
        """Return what places the runs of a choice; None where its shared values make no layout."""
        key = tuple(choice[column] for column in self.shared)
        if key not in self._placers:
            try:
                self._placers[key] = Placer(self._changed(self.settings(choice, self.shared)))
            except (InputErrors, GeometryError):
                self._placers[key] = None
        return self._placers[key]

    def spec(self, name: str, choice: Choice, columns: Sequence[int]) -> Spec | None:
        """Return the spec of `name`, which the parameters of `columns` and the shared ones change; None where its
        values do not go together."""
        table, number = self.named[name]
        columns = (*self.shared, *columns)
        key = (name, tuple(choice[column] for column in columns))
        if key not in self._specs:
            kind, called = str(table[0]), str(table[1])
            values: Any = self.source.values[kind][called]
            for place, value in self.settings(choice, columns).items():
                if place[:2] == table:
                    values = replaced(values, place[2:], value)
            try:
                if kind == "run":
                    made = self._run(values)
                    self._specs[key] = made if number is None else made.member(number)
                else:
                    self._specs[key] = self._standing(getattr(self.assembly, kind)[called], values)
            except ValidationError:
                self._specs[key] = None
        return self._specs[key]
