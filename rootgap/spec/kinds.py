"""The kinds of part that a file of its own can hold; a new one is a line here, and a table of the assembly's."""

from __future__ import annotations

from collections.abc import Mapping

from rootgap.spec.part import FlangePart
from rootgap.spec.vband import VbandPart

Part = FlangePart | VbandPart

#: What a part is validated as, by its kind, which is also the name of the table that uses it in an assembly.
PARTS: Mapping[str, type[Part]] = {"flange": FlangePart, "vband": VbandPart}
