"""Is every end of every run joined to something, so that no gas escapes?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rootgap.checks.finding import Finding, at_most
from rootgap.joints import Joint
from rootgap.layout import Layout


def open_ends(layout: Layout, joints: Sequence[Joint]) -> Iterator[Finding]:
    """Yield a finding for the number of open ends of each run."""
    followed = {run.begins for run in layout.runs.values() if isinstance(run.begins, str)}
    for run in layout.runs.values():
        starts_open = run.begins is None and run.first_cap is None
        ends_open = not (run.last_cap or run.cope or run.flange or run.name in followed)
        yield at_most(
            "open ends",
            run.name,
            float(starts_open + ends_open),
            0.0,
            "ends",
            "worked out from the layout, no source",
            'cap it, or start another run there (start = "' + run.name + '.end")',
        )
