"""A V-band pair in a run."""

from __future__ import annotations

from typing import ClassVar, Literal

from pydantic import Field

from rootgap.spec.fields import Model


class VbandSpec(Model):
    """Both rings of a V-band pair, clamped: the run comes apart there."""

    vband: str = Field(description="the pair", examples=["downpipe"])
    male: Literal["upstream", "downstream"] = Field(
        default="upstream", description="which of the two rings, along the gas, has the pilot"
    )
    #: Its size is its part's.
    measured: ClassVar[None] = None
