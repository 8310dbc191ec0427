"""The kinds of part that a file of its own can hold; a new one is a line here, and its key of the assembly's."""

from __future__ import annotations

from collections.abc import Mapping

from rootgap.spec.part import FlangePart
from rootgap.spec.table import TablePart
from rootgap.spec.turbo import StandingTurbo, StandingWastegate, TurboPart, WastegatePart
from rootgap.spec.vband import VbandPart

Part = FlangePart | VbandPart | TablePart | TurboPart | WastegatePart

#: What a part is validated as, by its kind, which is also the name of the table that uses it in an assembly.
PARTS: Mapping[str, type[Part]] = {"flange": FlangePart, "vband": VbandPart}
#: Those of which an assembly has one at most, its kind being its key.
SINGLE: Mapping[str, type[Part]] = {"table": TablePart}
#: Those that stand on a flange, and what each becomes once its part is at hand.
STANDING: Mapping[str, tuple[type[Part], type[StandingTurbo | StandingWastegate]]] = {
    "turbo": (TurboPart, StandingTurbo),
    "wastegate": (WastegatePart, StandingWastegate),
}
KINDS: Mapping[str, type[Part]] = {**PARTS, **SINGLE, **{kind: part for kind, (part, _) in STANDING.items()}}
