"""CadQuery bodies. The only room that imports cadquery."""

from rootgap.solids.whole import fixture_assembly, solid_assembly, write_solids

__all__ = ["fixture_assembly", "solid_assembly", "write_solids"]
