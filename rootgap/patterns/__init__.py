"""Flat things: wraps, holes and flanges as lines and arcs. Never imports the solid kernel."""

from rootgap.patterns.all import all_patterns, table_pattern
from rootgap.patterns.pattern import Drawn, Label, Pattern, purpose

__all__ = ["Drawn", "Label", "Pattern", "all_patterns", "purpose", "table_pattern"]
