"""Placed pieces, one module a kind.

A new kind is a module here with a frozen class that answers what `Placed` asks, a line in
`layout.place` that places it, and a line in `solids.whole` that makes its body.
"""

from rootgap.layout.pieces.base import Placed, Skin
from rootgap.layout.pieces.cap import Cap
from rootgap.layout.pieces.elbow import Elbow
from rootgap.layout.pieces.plate import Plate
from rootgap.layout.pieces.straight import Straight

Piece = Straight | Elbow | Cap | Plate

__all__ = ["Cap", "Elbow", "Piece", "Placed", "Plate", "Skin", "Straight"]
