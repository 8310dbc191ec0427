"""What the tests of whole files share: each has a `manifold` of its own."""

from __future__ import annotations

import cadquery as cq
import pytest

import rootgap
from rootgap.solids.whole import parts


@pytest.fixture(scope="module")
def bodies(manifold: rootgap.Manifold) -> dict[str, cq.Shape]:
    """The body of every part by its name."""
    return {part.name: part.body for part in parts(manifold.layout, manifold.joints)}
