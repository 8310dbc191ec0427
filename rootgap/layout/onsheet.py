"""Whether pieces of plate lie on the sheet of the table that they are cut on."""

from __future__ import annotations

from collections.abc import Iterable

from rootgap.errors import GeometryError
from rootgap.layout.pieces import FixturePlate, Flat, Piece
from rootgap.spec import TablePart

#: mm. A part that is larger than its sheet by less is as large.
ROUNDING = 1e-6


def hold_pieces(pieces: Iterable[Piece | FixturePlate], table: TablePart) -> None:
    """Raise GeometryError where a piece of plate does not lie on the table's sheet."""
    for piece in pieces:
        if isinstance(piece, Flat):
            for outline in piece.outlines:
                low_x, low_y, high_x, high_y = outline.bounds()
                hold_on_sheet(piece.id, high_x - low_x, high_y - low_y, table)


def hold_on_sheet(part: str, width: float, height: float, table: TablePart) -> None:
    """Raise GeometryError where a part of `width` and `height` mm is larger than the table's sheet."""
    sheet = table.sheet
    if sheet and not sheet.holds(width - ROUNDING, height - ROUNDING):
        size = f"{sheet.size[0]:g} x {sheet.size[1]:g} mm"
        margin = f"{sheet.margin:g} mm"
        raise GeometryError(
            part,
            f"{width:.1f} x {height:.1f} mm is more than a sheet of {size} holds within its margins of {margin}",
            f"give the table {table.name} a larger [sheet] or a smaller margin, or make the part smaller",
        )
