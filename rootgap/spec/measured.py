"""What calipers say of a pipe."""

from __future__ import annotations

from pydantic import Field

from rootgap.spec.fields import Model, PositiveLength


class Measured(Model):
    """What calipers say of a pipe; replaces the table's figures wherever it is given."""

    od: PositiveLength | None = Field(default=None, examples=[48.4])
    wall: PositiveLength | None = Field(default=None, examples=[2.8])
