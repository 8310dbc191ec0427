"""CadQuery bodies. The only room that imports cadquery."""

from rootgap.solids.whole import solid_assembly, write_solids

__all__ = ["solid_assembly", "write_solids"]
